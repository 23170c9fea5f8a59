"""Two changes that together give a loop, where no single one does."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from pipeline.loops.ask.mend import possible
from pipeline.loops.ask.opened import all_open
from pipeline.loops.request import LoopInputs, LoopRequest

__all__ = ["pairs_of"]

Asked = tuple[LoopInputs, LoopRequest]


@dataclass(frozen=True, slots=True)
class _Relaxed:
    """One rule given up altogether."""

    words: str
    made: Callable[[Asked], Asked]


def pairs_of(inputs: LoopInputs, request: LoopRequest) -> tuple[str, ...]:
    """Name the pairs of rules both of which, given up, let a loop be found.

    Parameters
    ----------
    inputs
        What was searched in.
    request
        A request that no single change gives a loop for.

    Returns
    -------
    tuple of str
        ``any length_m, and without what must be taken in``, in the order in which rules are listed: those of
        the request, the group, the ground.
    """
    pairs = combinations(_relaxed(inputs, request), 2)
    return tuple(f"{a.words}, and {b.words}" for a, b in pairs if possible(*b.made(a.made((inputs, request)))))


def _relaxed(inputs: LoopInputs, request: LoopRequest) -> Iterator[_Relaxed]:
    """Yield the rules that can be given up."""
    whole = 2.0 * request.laps * float(inputs.network.segments["length_m"].sum())
    if request.length_m is not None:
        yield _Relaxed("any length_m", lambda asked: (asked[0], _with(asked, length_m=(0.0, whole))))
    if request.time_min is not None:
        yield _Relaxed(
            "any time_min",
            lambda asked: (asked[0], _with(asked, time_min=None, length_m=asked[1].length_m or (0.0, whole))),
        )
    if request.start is not None or request.start_direction is not None:
        yield _Relaxed("any start", lambda asked: (asked[0], _with(asked, start=None, start_direction=None)))
    if request.max_redriven < 1.0:
        yield _Relaxed("any max_redriven", lambda asked: (asked[0], _with(asked, max_redriven=1.0)))
    if request.must:
        yield _Relaxed("without what must be taken in", lambda asked: (asked[0], _with(asked, must=())))
    for setup in request.setups:
        if set(request.setups) - set(request.bypass) - {setup}:
            yield _Relaxed(f'without the set-up "{setup}"', _Left(setup))
    yield _Relaxed("room to turn round everywhere", lambda asked: (_roomy(asked[0]), asked[1]))
    yield _Relaxed(
        "with everything open that is closed, one-way, avoided, barred or not surveyed",
        lambda asked: (all_open(*asked), _with(asked, avoid=())),
    )


@dataclass(frozen=True, slots=True)
class _Left:
    """Leaves one set-up out."""

    setup: str

    def __call__(self, asked: Asked) -> Asked:
        """Give the request without it, where others stay on the loop."""
        inputs, request = asked
        setups, bypass = (tuple(n for n in names if n != self.setup) for names in (request.setups, request.bypass))
        return (inputs, replace(request, setups=setups, bypass=bypass)) if set(setups) - set(bypass) else asked


def _roomy(inputs: LoopInputs) -> LoopInputs:
    """Give the site with room to turn round wherever segments meet or end."""
    network = inputs.network
    return replace(inputs, network=replace(network, nodes=network.nodes.assign(turn_round=True)))


def _with(asked: Asked, **changed: object) -> LoopRequest:
    return replace(asked[1], **changed)  # type: ignore[arg-type]  # keys and kinds as written above
