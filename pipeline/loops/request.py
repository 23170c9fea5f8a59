"""What the loop search takes and hands over."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import geopandas as gpd
import pandas as pd

from pipeline.errors import Fault, SettingsError
from pipeline.loops.going import Going
from pipeline.loops.settings import LoopSettings
from pipeline.survey.model import Network
from pipeline.tables import BYPASSES, CONVOY, PRACTICE, SESSION, empty
from pipeline.technique.practice import ALL_ROUND, Practice
from pipeline.technique.settings import Calls
from pipeline.terms import Direction, Driver, Objective

__all__ = ["MOST_LAPS", "FoundLoops", "LoopInputs", "LoopNote", "LoopRequest"]

Window = tuple[float, float]
MOST_LAPS = 20
"""Largest number of laps."""
_BOUNDS = (
    ("max_overlap", 1.0),
    ("max_redriven", 1.0),
    ("comfort_floor", 1.0),
    ("alternatives", 99),
    ("seed", 1_000_000),
    ("laps", MOST_LAPS),
)
"""Options and the largest value of each; the smallest is 0."""


@dataclass(frozen=True, slots=True)
class LoopRequest:
    """One loop that the user asks for.

    Raises
    ------
    SettingsError
        With every fault of the request: no window, a window that is empty or
        starts below zero, no set-up, a share outside 0–1, a negative number
        of alternatives.
    """

    name: str
    """Name of the loop, from the settings."""
    objective: Objective
    """What it is chosen for."""
    length_m: Window | None
    """Shortest and longest plan length, m; ``None`` when only the time counts."""
    time_min: Window | None
    """Shortest and longest expected time, min; ``None`` when only the length counts."""
    setups: tuple[str, ...]
    """Set-ups that drive it together; a traversal must be allowed for every one of them."""
    must: tuple[str, ...] = ()
    """Segments (ids or trail names) and places that the loop must take in."""
    avoid: tuple[str, ...] = ()
    """Segments (ids or trail names) and places that it must leave out."""
    alternatives: int = 0
    """How many further loops are wanted, 0–99."""
    max_overlap: float = 0.6
    """Largest share of an alternative's length on segments of an earlier loop, 0–1."""
    max_redriven: float = 0.3
    """Largest share of the length on segments driven in both directions, 0–1; the only way in is not counted."""
    comfort_floor: float = 0.5
    """Utilisations up to this count as equal, and as no exposure."""
    seed: int = 0
    """Seed of the local search, 0–1 000 000."""
    aim: str = ALL_ROUND
    """Name of the course's aim, by which techniques are weighed."""
    laps: int = 1
    """Times that the loop is driven, 1–20; the windows hold for all of them together."""
    bypass: tuple[str, ...] = ()
    """Set-ups that may leave the loop for a way round what they may not drive."""
    start: str | None = None
    """Segment or trail on which the loop begins."""
    start_direction: Direction | None = None
    """Direction in which its first segment is driven."""
    outlook: str | None = None
    """Other weather that it is searched under; ``None`` for that of the day."""

    def __post_init__(self) -> None:
        """Refuse a request that no loop could ever meet."""
        faults = list(self._faults())
        if faults:
            raise SettingsError(faults)

    def _faults(self) -> Iterator[Fault]:
        """Yield what is wrong with this request."""
        place = f'loop "{self.name}"'
        if self.length_m is None and self.time_min is None:
            yield Fault("loops", place, "neither length_m nor time_min", "at least one of them")
        if not self.setups:
            yield Fault("loops", place, "setups is empty", "the name of at least one set-up")
        for key, window in (("length_m", self.length_m), ("time_min", self.time_min)):
            if window is not None and not 0.0 <= window[0] <= window[1] < float("inf"):
                yield Fault("loops", place, f"{key} = {list(window)}", "[min, max] with 0 ≤ min ≤ max")
        for key, most in _BOUNDS:
            number, least = getattr(self, key), 1 if key == "laps" else 0
            if not least <= number <= most:
                yield Fault("loops", place, f"{key} = {number}", f"{least}–{most}")
        yield from self._bypass_faults(place)

    def _bypass_faults(self, place: str) -> Iterator[Fault]:
        """Yield what is wrong with who may go round."""
        strange = [name for name in self.bypass if name not in self.setups]
        if strange:
            yield Fault("loops", place, f'bypass: "{strange[0]}" is none of its setups', ", ".join(self.setups))
        if self.bypass and not set(self.setups) - set(self.bypass):
            yield Fault("loops", place, "bypass names every set-up", "at least one set-up that stays on the loop")


@dataclass(frozen=True, slots=True)
class LoopInputs:
    """Everything the search reads; nothing of it is changed."""

    network: Network
    checks: pd.DataFrame
    """Contract CHECKS."""
    verdicts: gpd.GeoDataFrame
    """Contract VERDICTS."""
    techniques: pd.DataFrame
    """Contract TECHNIQUES."""
    drivers: Mapping[str, Driver]
    """Driver of each set-up."""
    settings: LoopSettings
    practice: Practice
    """What practice is worth: aims, and which intensity fits whom."""
    going: Going | None = None
    """Grades and surfaces along the segments; without them all ground is taken for level and firm."""
    calls: Calls | None = None
    """How the drive sheet puts calls together, each of which is one stop; without it each run is one."""
    stopping: pd.DataFrame | None = None
    """Contract STOPPING, under the same weather; without it spacing on descents is that of the settings."""
    vehicle_m: Mapping[str, float] = field(default_factory=dict)
    """Overall length of each set-up, m; one that is not listed adds nothing to the spacing."""


@dataclass(frozen=True, slots=True)
class LoopNote:
    """What is to be said about one requested loop."""

    loop: str
    """Name of the loop."""
    found: bool
    """Whether any loop was found."""
    text: str
    """What was proven about it, or why there is none and what would give one."""


@dataclass(frozen=True, slots=True)
class FoundLoops:
    """The loops that were found."""

    loops: gpd.GeoDataFrame
    """Contract LOOPS."""
    legs: pd.DataFrame
    """Contract LEGS."""
    notes: tuple[LoopNote, ...]
    """One note a request, in the order of the requests."""
    practice: pd.DataFrame = field(default_factory=lambda: empty(PRACTICE))
    """Contract PRACTICE."""
    session: pd.DataFrame = field(default_factory=lambda: empty(SESSION))
    """Contract SESSION."""
    bypasses: pd.DataFrame = field(default_factory=lambda: empty(BYPASSES))
    """Contract BYPASSES."""
    convoy: pd.DataFrame = field(default_factory=lambda: empty(CONVOY))
    """Contract CONVOY."""
