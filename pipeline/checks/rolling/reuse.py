"""Roll only what has not been rolled: what is alike in all that rolling asks for gives the same numbers.

Grip and drivers change nothing about a vehicle and the ground it rolls over, but they may change its way past a thing,
and so what is laid on a few runs. Every run is rolled by itself: where the vehicle is the same, only runs with other
things on them are rolled again.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.rolling.run_blocks import run_spans
from pipeline.kernels.four_records import FourSwept
from pipeline.kernels.obstacle_bumps import Bumps
from pipeline.kernels.pose_records import Swept
from pipeline.spread import Mapper

__all__ = ["Job", "Laid", "Rolled", "laid_on", "roll"]

Int64 = NDArray[np.int64]
Block = TypeVar("Block")
Found = TypeVar("Found", Swept, FourSwept)
Laid = Mapping[int, Sequence[Hashable]]
"""Run → all that is laid on it, in order; runs with nothing on them are left out."""


@dataclass(frozen=True, slots=True)
class Rolled(Generic[Found]):
    """A vehicle rolled over all runs."""

    vehicle: Hashable
    """All that rolling asks of it: equal for vehicles that give the same numbers on the same ground."""
    laid: Laid
    """What was laid on the runs."""
    found: Found
    """What was found, run by run."""


@dataclass(frozen=True, slots=True)
class Job(Generic[Block]):
    """A vehicle that is to be rolled over all runs."""

    vehicle: Hashable
    laid: Laid
    cut: Callable[[int, int], Block]
    """Makes the block of work of the runs from the first up to the second number."""


def laid_on(*layers: Bumps) -> Laid:
    """Tell by run what is laid on it.

    Parameters
    ----------
    layers
        Things under the wheels, under the body and so on: the same thing in another layer is another one.
    """
    found = defaultdict(list)
    for layer, things in enumerate(layers):
        columns = (things.at, things.height, things.length, things.shape, things.basis)
        for run, *thing in zip(things.run.tolist(), *(column.tolist() for column in columns), strict=True):
            found[run].append((layer, things.fade, *thing))
    return found


def roll(
    jobs: Sequence[Job[Block]],
    offsets: Int64,
    work: Callable[[Block], Found],
    known: Sequence[Rolled[Found]],
    mapper: Mapper,
) -> list[Rolled[Found]]:
    """Do all jobs, each run of each vehicle once.

    Parameters
    ----------
    jobs
        What is to be rolled.
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    work
        Does one block: a function of a module, for it may be called in another process.
    known
        What was rolled before, over the same runs.
    mapper
        Spreads the blocks.

    Returns
    -------
    list of Rolled
        One a job; the very one of *known* where that is all there is to know.
    """
    rolled: list[Rolled[Found] | Job[Block]] = list(known)
    plans = []
    whole = run_spans(offsets)
    for job in jobs:
        base, runs = _nearest(job, rolled)
        plans.append((job, base, whole if base is None else _stretches(runs, whole)))
        rolled.append(job)
    blocks = [job.cut(low, high) for job, _, spans in plans for low, high in spans]
    parts = iter(mapper(work, blocks))
    done = list(known)
    for job, base, spans in plans:
        own = [(span, next(parts)) for span in spans]
        if base is None:
            done.append(Rolled(job.vehicle, job.laid, _joined([part for _, part in own])))
        elif own:
            done.append(Rolled(job.vehicle, job.laid, _over(done[base].found, own)))
        else:
            done.append(done[base])
    return done[len(known) :]


def _nearest(job: Job[Block], rolled: Sequence[Rolled[Found] | Job[Block]]) -> tuple[int | None, list[int]]:
    """Find what is rolled, or will be by then, of the same vehicle with the fewest runs to roll again, and these."""
    alike = [k for k, one in enumerate(rolled) if one.vehicle == job.vehicle]
    changed = [_changed(job.laid, rolled[k].laid) for k in alike]
    best = min(range(len(alike)), key=lambda k: len(changed[k]), default=None)
    return (None, []) if best is None else (alike[best], changed[best])


def _changed(one: Laid, other: Laid) -> list[int]:
    """List the runs on which something else is laid."""
    return sorted(run for run in one.keys() | other.keys() if one.get(run, ()) != other.get(run, ()))


def _stretches(runs: Sequence[int], spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Cut ascending *runs* into stretches without gaps, none of them longer than its span."""
    marks = np.asarray(runs, dtype=np.int64)
    ends = np.array([high for _, high in spans])
    breaks = np.flatnonzero((np.diff(marks) > 1) | (np.diff(np.searchsorted(ends, marks, side="right")) > 0)) + 1
    cuts = [0, *breaks.tolist(), marks.size] if marks.size else []
    return [(int(marks[low]), int(marks[high - 1]) + 1) for low, high in pairwise(cuts)]


def _joined(parts: Sequence[Found]) -> Found:
    """Put the runs of blocks one after another."""
    return type(parts[0])._make(np.concatenate(column) for column in zip(*parts, strict=True))


def _over(base: Found, parts: Sequence[tuple[tuple[int, int], Found]]) -> Found:
    """Lay runs that were rolled again over those of *base*."""
    columns = [column.copy() for column in base]
    for (low, high), part in parts:
        for column, new in zip(columns, part, strict=True):
            column[low:high] = np.asarray(new)
    return type(base)._make(columns)
