"""Quality gates hold a build back only when more changed than they allow."""

from dataclasses import replace

import pytest

from pipeline.errors import GateHeldError
from pipeline.rebuild.changes import Changes, Totals, VerdictChange
from pipeline.rebuild.gates import Gates, check_gates

ONE = VerdictChange("a", None, "long", "with", "ample", "watch", 0.4, 0.6, "roll", 1.0)
BEFORE = Totals(segments=10, length_m=1000.0, coverage=1.0, verdicts=20)
SAME = Changes(
    old=BEFORE,
    new=BEFORE,
    segments_added=(),
    segments_removed=(),
    lost_length_m=0.0,
    setups_added=(),
    setups_removed=(),
    compared=20,
    verdicts=(),
    loops=(),
)


def held(changes: Changes, gates: Gates) -> list[str]:
    """List what holds a build back."""
    try:
        check_gates(changes, gates, "site.toml")
    except GateHeldError as error:
        return [str(fault) for fault in error.faults]
    return []


def test_nothing_changed_passes_every_gate() -> None:
    """Gates of zero let an unchanged build through."""
    assert held(SAME, Gates(network_lost_share=0.0, coverage_drop=0.0, verdicts_changed_share=0.0)) == []


@pytest.mark.parametrize(("lost", "holds"), [(250.0, False), (251.0, True)])
def test_a_network_that_is_a_quarter_gone(lost: float, holds: bool) -> None:  # noqa: FBT001 - a table of cases
    """The share itself still passes; above it, the message names the gate and how to pass it."""
    new = replace(BEFORE, length_m=1000.0 - lost)
    found = held(replace(SAME, new=new, segments_removed=("x",), lost_length_m=lost), Gates())
    assert bool(found) is holds
    if holds:
        (message,) = found
        assert message.startswith("site.toml:publish: segments of the network are gone: 1 (25%); allowed: hold_if.netw")
        assert message.endswith("; if this is meant, raise hold_if.network_lost_share for one build")


def test_new_ids_alone_lose_nothing() -> None:
    """When every id changed but the trails are as long as before, the network is not lost."""
    assert held(replace(SAME, segments_removed=("x",), lost_length_m=1000.0), Gates()) == []


def test_heights_that_went_missing() -> None:
    """A drop of coverage above a tenth holds the build back; a rise never does."""
    assert held(replace(SAME, new=replace(BEFORE, coverage=0.91)), Gates()) == []
    (message,) = held(replace(SAME, new=replace(BEFORE, coverage=0.6)), Gates())
    assert "heights cover 60% of the network, covered 100% (40%)" in message
    assert held(replace(SAME, old=replace(BEFORE, coverage=0.1)), Gates(coverage_drop=0.0)) == []


def test_verdicts_act_only_when_asked_for() -> None:
    """Rain changes many verdicts at once: that gate is off unless the settings have it."""
    changes = replace(SAME, verdicts=(ONE,) * 15)
    assert held(changes, Gates()) == []
    assert len(held(changes, Gates(verdicts_changed_share=0.5))) == 1
    assert held(replace(changes, compared=0), Gates(verdicts_changed_share=0.0)) == []


def test_a_first_build_is_never_held_back() -> None:
    """There is nothing to protect yet."""
    assert held(replace(SAME, old=None), Gates(network_lost_share=0.0)) == []


def test_all_gates_are_told_at_once() -> None:
    """Two gates passed, two faults."""
    new = replace(BEFORE, length_m=100.0, coverage=0.0)
    assert len(held(replace(SAME, new=new, lost_length_m=900.0), Gates())) == 2
