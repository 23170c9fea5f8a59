"""Credits: how much of the practice of a technique a traversal gives one set-up, and what is lost by repeating it."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.request import LoopInputs
from pipeline.loops.runs import Run
from pipeline.loops.value.objective import FULL_CREDITS, GainCurve

if TYPE_CHECKING:
    from pipeline.loops.moves import Terms
    from pipeline.loops.traversals import Traversal

__all__ = ["credits_of", "practised_on", "repeated"]

Floats = NDArray[np.float64]


def credits_of(runs: Sequence[Run], inputs: LoopInputs, setup: str, curve: GainCurve) -> Floats:
    """Give the credits of each run for the driver of one set-up, not rounded.

    A run gives its amount times the share by which its intensity fits the driver; saturation is 100 credits.

    Returns
    -------
    numpy.ndarray
        Shape (techniques, runs): each run stands in the row of its technique, and is 0 in the others. A technique
        that is not in *curve* gives nothing.
    """
    band = inputs.practice.band[inputs.drivers[setup]]
    row = {technique: number for number, technique in enumerate(curve.techniques)}
    found = np.zeros((len(row), len(runs)))
    for column, run in enumerate(runs):
        if run.technique in row:
            number = row[run.technique]
            fitting = run.amount * float(band.share(run.intensity))
            found[number, column] = fitting / curve.saturation[number] * FULL_CREDITS
    return found


def repeated(first: "Traversal", second: "Traversal", again: float) -> Floats:
    """Give the credits that are lost where both directions of a segment are driven, not rounded.

    Runs of one technique that overlap along the segment are one feature, met a second time on the way back. It then
    gives the share *again* of what that direction gives; of the two directions the one that gives less counts as
    the second. What is a climb one way and a descent the other is no repeat.

    Parameters
    ----------
    first, second
        The two directions of a segment, in either order.
    again
        Share of the credits that a feature gives once more, 0–1.

    Returns
    -------
    numpy.ndarray
        Shape (set-ups, techniques); each at most what either direction gives.
    """
    lost = np.zeros(first.practised.shape)
    if again < 1.0:
        for here, there in _features(first.runs, second.runs):
            once, twice = (t.by_run[:, :, of].sum(axis=2) for t, of in ((first, here), (second, there)))
            lost += np.minimum(once, twice)
    return lost * (1.0 - again)


def _features(first: Sequence[Run], second: Sequence[Run]) -> Iterator[tuple[list[int], list[int]]]:
    """Yield the places in both lists of the runs that are one feature, where both have some."""
    every = [(run, 0, place) for place, run in enumerate(first)] + [(run, 1, place) for place, run in enumerate(second)]
    every.sort(key=lambda entry: (entry[0].technique, entry[0].from_m, entry[0].to_m, *entry[1:]))
    sides: tuple[list[int], list[int]] = ([], [])
    last: Run | None = None
    for run, side, place in every:
        if last is None or not _one_feature(last, run):
            if all(sides):
                yield sides
            sides, last = ([], []), run
        sides[side].append(place)
        last = run if run.to_m > last.to_m else last
    if all(sides):
        yield sides


def _one_feature(before: Run, run: Run) -> bool:
    """Tell whether a run belongs to the feature whose farthest run so far is *before*; *run* begins no earlier."""
    if run.technique is not before.technique:
        return False
    point = run.from_m == run.to_m or before.from_m == before.to_m
    return run.from_m < before.to_m or (point and run.from_m == before.to_m)


def practised_on(path: Sequence[int], traversals: Sequence["Traversal"], setup: int, terms: "Terms") -> Floats:
    """Give the credits of one set-up on a way, every lap counted, shape (techniques,), not rounded.

    What the way itself meets twice, and what a further lap meets again, gives only the share of a repeat.
    """
    further = 1.0 + (terms.laps - 1) * terms.again
    given = np.zeros(traversals[0].practised.shape[1])
    for number in path:
        given += further * traversals[number].practised[setup]
        if not number & 1 and number ^ 1 in path:
            given -= repeated(traversals[number], traversals[number ^ 1], terms.again)[setup]
    return given
