"""Everything the products show, gathered once: a product reads these facts and nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from pipeline.checks.comparison.changes import Compared
from pipeline.checks.limits import Limits
from pipeline.checks.rolling.poses import Poses
from pipeline.checks.room.plans import Plans
from pipeline.tables import (
    BYPASSES,
    COMPARISONS,
    CONVOY,
    CROSSINGS,
    FITNESS,
    LINES,
    OUTLOOKS,
    PASSINGS,
    PRACTICE,
    SESSION,
    STOPPING,
    empty,
)
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Conditions", "Facts", "Outlooked", "Relief"]


@dataclass(frozen=True, slots=True)
class Conditions:
    """The conditions that the verdicts hold for."""

    date: str | None
    """ISO date of the conditions; ``None`` when the settings give none."""
    wetness: str
    """Word of ``terms.Wetness``."""
    rain_mm: tuple[float, ...] = ()
    """Daily rain totals, oldest first, mm; empty when none were given."""


@dataclass(frozen=True, slots=True)
class Outlooked:
    """One other weather that the site was judged under as well."""

    name: str
    """Name, from the settings."""
    words: str
    """How wet the ground is then, and after which rain, in words."""


class Relief(Protocol):
    """A shaded relief picture, warped to EPSG:3857 so that a web map can lay it down by its corners."""

    @property
    def image(self) -> bytes:
        """The picture file."""
        ...

    @property
    def media_type(self) -> str:
        """Its media type, such as ``image/webp``."""
        ...

    @property
    def west(self) -> float:
        """Western edge, degrees WGS 84."""
        ...

    @property
    def south(self) -> float:
        """Southern edge, degrees WGS 84."""
        ...

    @property
    def east(self) -> float:
        """Eastern edge, degrees WGS 84."""
        ...

    @property
    def north(self) -> float:
        """Northern edge, degrees WGS 84."""
        ...


@dataclass(frozen=True, slots=True)
class Facts:
    """What one build found out, ready to be shown. Frames keep the contracts of ``pipeline.tables``."""

    site: str
    """Name of the site."""
    built_at: str
    """ISO 8601 time of the build, handed in: no product reads a clock."""
    conditions: Conditions
    crs: CRS
    """The working CRS of every frame with a geometry."""
    segments: gpd.GeoDataFrame
    """Contract SEGMENTS."""
    nodes: gpd.GeoDataFrame
    """Contract NODES."""
    obstacles: gpd.GeoDataFrame
    """Contract OBSTACLES."""
    repairs: gpd.GeoDataFrame
    """Contract REPAIRS."""
    stations: pd.DataFrame
    """Contract STATIONS; the stations of a segment stand together, chainage ascending."""
    checks: pd.DataFrame
    """Contract CHECKS."""
    verdicts: gpd.GeoDataFrame
    """Contract VERDICTS."""
    techniques: pd.DataFrame
    """Contract TECHNIQUES."""
    loops: gpd.GeoDataFrame
    """Contract LOOPS."""
    legs: pd.DataFrame
    """Contract LEGS."""
    calls: gpd.GeoDataFrame
    """Contract CALLS."""
    envelopes: tuple[Envelope, ...]
    """One per set-up, in the order of the settings."""
    loop_setups: Mapping[str, tuple[str, ...]]
    """Loop name → the set-ups it was searched for."""
    loop_notes: tuple[tuple[str, bool, str], ...]
    """(loop, found, text): what the search has to say, above all why a loop was not found."""
    warnings: tuple[str, ...]
    """Warnings of the whole build."""
    hillshade: Relief | None
    """Shaded relief for the map; ``None`` without elevation."""
    trailhead_node: int
    """``node_id`` of the trailhead."""
    poses: Poses | None = None
    """How the set-ups stand at their worst places; ``None`` when no pose could be made."""
    passings: pd.DataFrame = field(default_factory=lambda: empty(PASSINGS))
    """Contract PASSINGS."""
    stopping: pd.DataFrame = field(default_factory=lambda: empty(STOPPING))
    """Contract STOPPING."""
    fitness: pd.DataFrame = field(default_factory=lambda: empty(FITNESS))
    """Contract FITNESS."""
    comparisons: pd.DataFrame = field(default_factory=lambda: empty(COMPARISONS))
    """Contract COMPARISONS."""
    compared: tuple[Compared, ...] = ()
    """The comparisons that were asked for, in the order of the settings."""
    lines: pd.DataFrame = field(default_factory=lambda: empty(LINES))
    """Contract LINES."""
    plans: Plans | None = None
    """Plans of the tight places, parallel to ``lines``; ``None`` when none were made."""
    crossings: pd.DataFrame = field(default_factory=lambda: empty(CROSSINGS))
    """Contract CROSSINGS."""
    outlooks: pd.DataFrame = field(default_factory=lambda: empty(OUTLOOKS))
    """Contract OUTLOOKS."""
    outlooked: tuple[Outlooked, ...] = ()
    """The other weathers that were asked for, in the order of the settings."""
    practice: pd.DataFrame = field(default_factory=lambda: empty(PRACTICE))
    """Contract PRACTICE."""
    session: pd.DataFrame = field(default_factory=lambda: empty(SESSION))
    """Contract SESSION."""
    bypasses: pd.DataFrame = field(default_factory=lambda: empty(BYPASSES))
    """Contract BYPASSES."""
    convoy: pd.DataFrame = field(default_factory=lambda: empty(CONVOY))
    """Contract CONVOY."""
    limits: Limits | None = None
    """What the drivers may use of the limits, and where doubt worsens a verdict; ``None`` where that is not told."""
    worked_out: dict[tuple[str, str], Any] = field(init=False, default_factory=dict, repr=False, compare=False)
    """What several products show and one of them has worked out from these facts: nothing that is handed in."""
