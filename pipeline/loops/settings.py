"""Settings of the loop search: pace, technique value, work limits (``configs/loops.toml``)."""

from typing import Annotated

from pydantic import Field

from pipeline.settings import Strict
from pipeline.terms import Driver, Technique, Verdict

__all__ = ["DriverPace", "LoopSettings", "SearchEffort", "TechniqueValue"]


class DriverPace(Strict):
    """How fast one kind of driver goes, and how much coaching they take."""

    ample_kmh: float = Field(gt=0.5, le=60.0)
    """Pace where the verdict is ``ample``, km/h."""
    watch_kmh: float = Field(gt=0.5, le=60.0)
    """Pace where the verdict is ``watch``, km/h."""
    spot_kmh: float = Field(gt=0.2, le=60.0)
    """Pace where the verdict is ``spot``, km/h: a spotter walks."""
    coaching_share: float = Field(ge=0.0, le=1.0)
    """Share of the coaching minutes of a technique that this driver takes."""

    def kmh(self, verdict: Verdict) -> float:
        """Give the pace for a verdict that may be driven."""
        return {Verdict.AMPLE: self.ample_kmh, Verdict.WATCH: self.watch_kmh}.get(verdict, self.spot_kmh)


class TechniqueValue(Strict):
    """How much practice one technique takes."""

    saturation: float = Field(gt=0.0, le=100_000.0)
    """Amount (metres or number, as in the techniques table) after which more teaches nothing, on the reference loop."""
    coaching_min: float = Field(ge=0.0, le=60.0)
    """Minutes of standing and talking for each run of it, for a driver who takes all the coaching."""


class SearchEffort(Strict):
    """How much work the search may do; counted in work, never in seconds, so that every machine gives one answer."""

    starts: int = Field(ge=1, le=1000)
    """Independent starts of the local search."""
    moves: int = Field(ge=1, le=100_000_000)
    """Moves of each start."""
    exact_arcs: int = Field(ge=1, le=1_000_000)
    """Traversals above which the model is not solved to whole numbers; its relaxation still gives a bound."""
    nodes: int = Field(ge=1, le=100_000_000)
    """Branch-and-bound nodes of one solve."""
    interrupts: int = Field(ge=1, le=100_000_000)
    """Interrupt checks of one solve, which also bite inside a long root."""


class LoopSettings(Strict):
    """Everything about loops that is a judgement rather than a formula."""

    reference_length_m: float = Field(gt=100.0, le=1_000_000.0)
    """Length of the loop that the saturation amounts are meant for; longer windows saturate later in proportion."""
    reference_time_min: float = Field(gt=5.0, le=10_000.0)
    """The same for requests that have a time window only."""
    sharpest_turn_deg: float = Field(ge=45.0, le=180.0)
    """Change of heading up to which a vehicle turns from one segment into another without shunting, degrees."""
    pace: dict[Annotated[Driver, Field(strict=False)], DriverPace]
    """Pace of each kind of driver."""
    technique: dict[Annotated[Technique, Field(strict=False)], TechniqueValue]
    """Value of each technique; one that is not listed is worth nothing and takes no coaching."""
    search: SearchEffort
    """Work limits."""
