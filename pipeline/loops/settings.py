"""Settings of the loop search: pace, technique value, work limits (``configs/loops.toml``)."""

from typing import Annotated

from pydantic import Field, field_validator

from pipeline.loops.pace_settings import OTHER_SURFACE, GradePace, SurfacePace
from pipeline.settings import Strict
from pipeline.terms import Driver, Technique, Verdict

__all__ = ["DriverPace", "GroupSettings", "LoopSettings", "SearchEffort", "TechniqueValue"]


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
    grade_share: float = Field(default=1.0, gt=0.0, le=1.0)
    """Share of the fastest pace on a grade that this driver goes."""

    def kmh(self, verdict: Verdict) -> float:
        """Give the pace for a verdict that may be driven."""
        return {Verdict.AMPLE: self.ample_kmh, Verdict.WATCH: self.watch_kmh}.get(verdict, self.spot_kmh)


class TechniqueValue(Strict):
    """How much practice one technique takes."""

    saturation: float = Field(gt=0.0, le=100_000.0)
    """Amount (metres or number, as in the techniques table) after which more teaches nothing, on the reference loop."""
    coaching_min: float = Field(ge=0.0, le=60.0)
    """Minutes of standing and talking at a call for it, for a driver who takes all the coaching."""


class SearchEffort(Strict):
    """How much work the search may do; counted in work, never in seconds, so that every machine gives one answer."""

    starts: int = Field(ge=1, le=1000)
    """Independent starts of the local search."""
    moves: int = Field(ge=1, le=100_000_000)
    """Moves of each start."""
    exact_arcs: int = Field(ge=1, le=1_000_000)
    """Traversals above which the model is not solved to whole numbers; its relaxation still gives a bound."""
    core_arcs: int = Field(ge=1, le=1_000_000)
    """Traversals above which a better start is looked for among those that relaxed loops use."""
    core_nodes: int = Field(ge=1, le=100_000_000)
    """Branch-and-bound nodes of that."""
    cut_rounds: int = Field(ge=0, le=10_000)
    """Rounds of connectivity cuts in the relaxed model."""
    relaxed_iterations: int = Field(ge=1, le=100_000_000)
    """Simplex iterations of one relaxed model; beyond that a weaker bound is reported."""
    nodes: int = Field(ge=1, le=100_000_000)
    """Branch-and-bound nodes of one solve."""
    interrupts: int = Field(ge=1, le=100_000_000)
    """Interrupt checks of one solve, which also bite inside a long root; fewer where more than 400 traversals are."""


class GroupSettings(Strict):
    """How a group drives together: what somebody may go round, and how descents are driven."""

    chain_segments: int = Field(ge=1, le=8)
    """Most segments of one stretch that somebody goes round."""
    wait_min: float = Field(gt=0.0, le=120.0)
    """Longest that either part of the group waits for the other, minutes."""
    spacing_m: float = Field(gt=0.0, le=200.0)
    """Least distance from vehicle to vehicle on a descent, m, whatever the stopping distance."""
    one_at_a_time_deg: float = Field(gt=0.0, le=45.0)
    """Descents from this grade on are driven one at a time, degrees."""
    spotter_m: float = Field(gt=0.0, le=100.0)
    """Before and after a place with a spotter the group keeps off by this much, m; places nearer together share one."""


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
    grade: GradePace
    """Fastest pace by grade."""
    surface: dict[str, SurfacePace]
    """Share of the pace by surface class; ``other`` for those that are not listed."""
    technique: dict[Annotated[Technique, Field(strict=False)], TechniqueValue]
    """Value of each technique; one that is not listed is worth nothing and takes no coaching."""
    group: GroupSettings
    """How a group drives together."""
    search: SearchEffort
    """Work limits."""

    @field_validator("surface")
    @classmethod
    def _others(cls, value: dict[str, SurfacePace]) -> dict[str, SurfacePace]:
        """Refuse shares without that of the classes that are not listed."""
        if OTHER_SURFACE not in value:
            msg = f'"{OTHER_SURFACE}" is missing: it holds for the classes that are not listed'
            raise ValueError(msg)
        return value
