"""The site file as it is written: its tables, their keys, their bounds."""

import datetime as dt
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from pipeline.rebuild.gates import Gates
from pipeline.settings import Strict
from pipeline.technique.practice import ALL_ROUND
from pipeline.terms import Direction, Driver, Objective, Wetness

__all__ = [
    "Comparison",
    "Conditions",
    "Configs",
    "Inputs",
    "Loop",
    "Outlook",
    "Publish",
    "SetUp",
    "Site",
    "SiteFile",
    "Terrain",
]

_LONGEST_NAME = 60


def _printable(name: str) -> str:
    """Refuse names that no product could show: they stand in tables, headings, waypoints and file names of layers."""
    if not name or len(name) > _LONGEST_NAME or name != name.strip() or not name.isprintable():
        message = f"allowed: 1 to {_LONGEST_NAME} printable characters, no spaces at the ends"
        raise ValueError(message)
    return name


def _window(window: tuple[float, float]) -> tuple[float, float]:
    """Refuse a window whose least is above its most, and one that nothing fits into."""
    if not 0.0 <= window[0] <= window[1] or window[1] == 0.0:
        message = "allowed: [min, max] with 0 ≤ min ≤ max and max above 0"
        raise ValueError(message)
    return window


def _different(entries: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse a list that names something twice."""
    if len(set(entries)) < len(entries):
        message = "allowed: each entry once"
        raise ValueError(message)
    return entries


Name = Annotated[str, AfterValidator(_printable)]
File = Annotated[str, Field(min_length=1)]
Files = Annotated[tuple[File, ...], Field(min_length=1), AfterValidator(_different)]
Names = Annotated[tuple[Name, ...], AfterValidator(_different)]
LengthWindow = Annotated[
    tuple[Annotated[float, Field(le=1_000_000.0)], Annotated[float, Field(le=1_000_000.0)]], AfterValidator(_window)
]
TimeWindow = Annotated[
    tuple[Annotated[float, Field(le=10_000.0)], Annotated[float, Field(le=10_000.0)]], AfterValidator(_window)
]


class Site(Strict):
    """``[site]``."""

    name: Name
    """Name of the training ground"""
    trailhead: Name | tuple[float, float]
    """Where every loop begins and ends: name of a surveyed place, or [x, y] in the working CRS, m."""
    crs: str | None = None
    """Working CRS, projected, in metres; the network's own if that is metric, else its UTM zone."""


class Inputs(Strict):
    """``[inputs]``; paths are relative to the site file."""

    network: Files
    """Trail files, each ``file`` or ``file:layer``."""
    elevation: Files = ()
    """Elevation models, finest first; without any, only survey-grade lines have heights."""
    obstacles: Files = ()
    """Obstacle files, each ``file`` or ``file:layer``."""


class Terrain(Strict):
    """``[terrain]``."""

    station_spacing_m: float = Field(default=0.5, ge=0.1, le=10.0)
    """Largest distance between stations."""
    dem_rmse_m: float | None = Field(default=None, ge=0.0, le=30.0)
    """Vertical RMSE of the elevation models; without it, no probabilities are given."""
    dem_correlation_m: float | None = Field(default=None, gt=0.0, le=1000.0)
    """Correlation length of that error."""
    line_rmse_m: float | None = Field(default=None, ge=0.0, le=30.0)
    """Horizontal error of the trail lines, one axis; a hand-held receiver under trees is good to about 3 m."""
    survey_rmse_m: float = Field(default=0.01, ge=0.0, le=1.0)
    """Error of heights measured on the ground, one against the next: survey-grade lines and obstacles."""
    drainage_cell_m: float = Field(default=3.0, ge=1.0, le=50.0)
    """Side of the cells that water is led over; the elevation model's own cell where that is larger."""
    drainage_reach_m: float = Field(default=500.0, ge=0.0, le=5000.0)
    """How far beyond the trails land is looked at for the water that comes from there."""
    stream_catchment_m2: float = Field(default=20_000.0, ge=100.0, le=10_000_000.0)
    """Least catchment of a flow path that crosses a trail."""
    hollow_m: float = Field(default=0.2, ge=0.02, le=5.0)
    """Least depth of a hollow on a trail below its rim; at least twice `dem_rmse_m`."""
    runoff_mm: float = Field(default=50.0, ge=1.0, le=1000.0)
    """Water that may run off the land at once; a hollow that it cannot fill keeps its water."""
    snap_m: float = Field(default=2.0, gt=0.0, le=20.0)
    """Line ends closer than this are one junction."""
    attach_m: float = Field(default=15.0, gt=0.0, le=100.0)
    """Obstacles farther from every segment than this are attached to none."""


class Conditions(Strict):
    """``[conditions]``: the day that the verdicts hold for."""

    date: dt.date | None = None
    """The day."""
    rain_mm: tuple[Annotated[float, Field(ge=0.0, le=500.0)], ...] | None = Field(
        default=None, min_length=1, max_length=366
    )
    """Daily rain totals, oldest first; the last one is the day's own."""
    wetness: Wetness | None = None
    """How wet the ground is, instead of what the rain says."""


class SetUp(Strict):
    """``[[setups]]``: one vehicle as it will be driven."""

    name: Name
    """Name of the set-up."""
    vehicle: File
    """Vehicle file."""
    suspension: Name = "normal"
    """A ``[suspension.NAME]`` of the vehicle file."""
    loads: Names = ()
    """``[loads.NAME]`` of the vehicle file that are on board; its overhangs are always fitted."""
    driver: Driver
    """How used the driver is to this kind of ground."""


class Loop(Strict):
    """``[[loops]]``: one loop that is asked for."""

    name: Name
    """Name of the loop."""
    objective: Objective
    """What it is chosen for."""
    length_m: LengthWindow | None = None
    """Shortest and longest plan length."""
    time_min: TimeWindow | None = None
    """Shortest and longest expected time."""
    setups: Names = Field(min_length=1)
    """Set-ups that drive it together."""
    must: Names = ()
    """Segments, trails or places that it must take in."""
    avoid: Names = ()
    """Segments, trails or places that it must leave out."""
    alternatives: int = Field(default=0, ge=0, le=9)
    """How many further loops are wanted."""
    max_overlap: float = Field(default=0.6, ge=0.0, le=1.0)
    """Largest share of an alternative's length on segments of an earlier one."""
    max_redriven: float = Field(default=0.3, ge=0.0, le=1.0)
    """Largest share of the length on segments driven in both directions."""
    comfort_floor: float = Field(default=0.5, ge=0.0, le=1.0)
    """Utilisations up to this count as equal."""
    seed: int = Field(default=0, ge=0, le=1_000_000)
    """Seed of the search."""
    aim: Name = ALL_ROUND
    """Aim of the course, a `[practice.aims.NAME]` of the techniques file."""
    laps: int = Field(default=1, ge=1, le=20)
    """Times that it is driven; the windows hold for all of them together."""
    bypass: Names = ()
    """Set-ups among them that may leave the loop for a way round what they may not drive."""
    start: Name | None = None
    """Segment or trail that it begins on."""
    start_direction: Direction | None = None
    """Direction in which its first segment is driven."""
    outlook: Name | None = None
    """An `[[outlooks]]` under whose weather it is searched; without it, that of the day."""


class Comparison(Strict):
    """``[[comparisons]]``: a set-up judged once more with something changed, to see what the change does."""

    name: Name
    """Name of the comparison."""
    setup: Name
    """The set-up it begins from, by its name."""
    suspension: Name | None = None
    """Another suspension setting of its vehicle."""
    loads: Names | None = None
    """All loads on board after the change."""
    driver: Driver | None = None
    """Another driver."""
    wetness: Wetness | None = None
    """Other ground."""
    rain_mm: tuple[Annotated[float, Field(ge=0.0, le=500.0)], ...] | None = Field(
        default=None, min_length=1, max_length=366
    )
    """Other daily rain totals, oldest first; the last one is the day's own."""


class Outlook(Strict):
    """``[[outlooks]]``: another weather that the whole site is judged under as well."""

    name: Name
    """Name of the outlook."""
    rain_mm: tuple[Annotated[float, Field(ge=0.0, le=500.0)], ...] | None = Field(
        default=None, min_length=1, max_length=366
    )
    """Daily rain totals, oldest first; the last one is the day's own."""
    wetness: Wetness | None = None
    """How wet the ground is, instead of rain."""
    date: dt.date | None = None
    """The day; without it, the day of ``[conditions]``."""


class Publish(Strict):
    """``[publish]``."""

    dir: File = "site-build"
    """Build folder, relative to the site file."""
    keep: int = Field(default=3, ge=0, le=1000)
    """Number of earlier builds kept."""
    hold_if: Gates = Gates()
    """Quality gates."""


class Configs(Strict):
    """``[configs]``: files used instead of those beside the site file."""

    surfaces: File | None = None
    """Grip, rolling resistance and drying of surface classes."""
    techniques: File | None = None
    """When a stretch exercises a technique."""
    limits: File | None = None
    """Shares of the limits per driver, verdict thresholds."""
    loops: File | None = None
    """Pace, technique value and effort of the loop search."""


class SiteFile(Strict):
    """The whole site file."""

    site: Site
    """The training ground"""
    inputs: Inputs
    """The files from the field"""
    terrain: Terrain = Terrain()
    conditions: Conditions = Conditions()
    setups: tuple[SetUp, ...] = Field(min_length=1)
    """Vehicles as they will be driven"""
    loops: tuple[Loop, ...] = ()
    limits: dict[str, Any] = Field(default_factory=dict)
    """Overrides of single keys of the limits file."""
    comparisons: tuple[Comparison, ...] = ()
    """Changes of load, suspension, driver or rain whose effect on the verdicts is wanted"""
    outlooks: tuple[Outlook, ...] = ()
    """Other weather under which all set-ups are judged as well, and which loops they can still drive then"""
    publish: Publish = Publish()
    configs: Configs = Configs()
