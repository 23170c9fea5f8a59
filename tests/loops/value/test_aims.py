"""Aims that a loop asks for and nobody wrote down."""

from pipeline.loops.request import LoopRequest
from pipeline.loops.value.aims import aim_faults
from pipeline.terms import Objective
from tests.loops.worlds import SHIPPED


def ask(name: str, aim: str) -> LoopRequest:
    """Make a request with an aim."""
    return LoopRequest(name, Objective.TRAINING_RICH, (1.0, 2.0), None, ("wagon",), aim=aim)


def test_every_unknown_aim_is_named_with_the_nearest() -> None:
    """Each unknown aim is a fault with its place, what is allowed and what may have been meant; known ones are not."""
    requests = [ask("a", "wet day"), ask("b", "wet days"), ask("c", "zzz")]
    faults = aim_faults(requests, SHIPPED.aims, "site.toml")
    assert [(f.file, f.place) for f in faults] == [("site.toml", f'[[loops]] "{n}" aim') for n in ("b", "c")]
    assert "wet days" in faults[0].found
    assert 'did you mean "wet day"?' in str(faults[0])
    assert "did you mean" not in str(faults[1])
    for aim in SHIPPED.aims:
        assert aim in faults[1].allowed
