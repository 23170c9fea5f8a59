"""Quality gates: hold a new build back when it differs from the one in use more than is likely."""

from collections.abc import Iterator

from pydantic import Field

from pipeline.errors import Fault, GateHeldError
from pipeline.rebuild.changes import Changes
from pipeline.settings import Strict

__all__ = ["Gates", "check_gates"]


class Gates(Strict):
    """How much may change from one build to the next before somebody has to look; missing gates do not act."""

    network_lost_share: float | None = Field(default=0.25, ge=0.0, le=1.0)
    """Largest share of the network's length that may be gone. A quarter: a survey file that is half empty is caught,
    a trail closed for good is not. Judgement, no source."""
    coverage_drop: float | None = Field(default=0.1, ge=0.0, le=1.0)
    """Largest drop of the share of the length that has heights. A tenth: one tile of an elevation model that is gone.
    Judgement, no source."""
    verdicts_changed_share: float | None = Field(default=None, ge=0.0, le=1.0)
    """Largest share of the verdicts that may change; off unless set, because rain changes many at once."""


def check_gates(changes: Changes, gates: Gates, file: str) -> None:
    """Hold the new build back when a gate is passed.

    Parameters
    ----------
    changes
        What changed against the build in use.
    gates
        The gates.
    file
        The site file, for messages.

    Raises
    ------
    GateHeldError
        With every gate that holds the build back.
    """
    faults = [
        Fault(
            file,
            "publish",
            f"{what} ({value:.0%})",
            f"hold_if.{key} = {limit:g}",
            f"the previous products stay; if this is meant, raise hold_if.{key} for one build",
        )
        for key, what, value, limit in _measured(changes, gates)
        if limit is not None and value > limit
    ]
    if faults:
        raise GateHeldError(faults)


def _measured(changes: Changes, gates: Gates) -> Iterator[tuple[str, str, float, float | None]]:
    """Yield key, meaning, value and limit of every gate that can be measured."""
    old, new = changes.old, changes.new
    if old is None:
        return
    if old.length_m > 0.0:
        what = f"segments of the network are gone: {len(changes.segments_removed)}"
        # Ids may all change while the trails stay, so the loss is what the network as a whole got shorter by, at most.
        lost = min(changes.lost_length_m, max(0.0, old.length_m - new.length_m)) / old.length_m
        yield "network_lost_share", what, lost, gates.network_lost_share
    drop = f"heights cover {new.coverage:.0%} of the network, covered {old.coverage:.0%}"
    yield "coverage_drop", drop, old.coverage - new.coverage, gates.coverage_drop
    if changes.compared:
        share = len(changes.verdicts) / changes.compared
        yield "verdicts_changed_share", f"{len(changes.verdicts)} verdicts changed", share, gates.verdicts_changed_share
