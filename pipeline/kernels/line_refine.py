"""The best line of a lattice, and of finer ones laid round it.

What is measured on a lattice is the truer the less its lines differ from the one that it lies round: so each finer one
is laid again and again, round the best line of the one before, while that leaves more room. The outer front corner
turns out towards what stands there, past it and away again within a hand's width, so poses stand close: two of them a
metre apart can both leave half a metre where the body touches in between.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare
from pipeline.kernels.line_lattice import CX, CY, OFFSET, Body, Mesh, Stretch, control, lay, place_of, room_at
from pipeline.kernels.line_search import CLOSED, FAR, Rules, Space, follow_back, search

__all__ = [
    "COARSE",
    "EASY",
    "FINE",
    "FINEST",
    "SAMPLES",
    "SHARPER",
    "TUBE",
    "Work",
    "bent",
    "line_along",
    "refine",
    "room_along",
    "share_of",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

FINE = 4
"""Poses a point of the way: mirrors and front corners are seen wherever they pass a post."""
SAMPLES = 2
"""Poses a step of the first lattice; twice as many of the next one."""
FINEST = 5
"""Most poses a step."""
LEVELS = 4
"""Lattices, the first one among them."""
FINER = 2.0
"""How much finer each lattice is than the one before."""
TUBE = 5
"""Places across a finer lattice."""
TURNS = 6
"""Most times that a finer lattice is laid round the line found in it."""
LEAST_GAIN_M = 0.0005
"""Room that is worth laying it again."""
EASY = 0.8
"""Share of the lock that a driver likes to use at most."""
SHARPER = 1.08
"""By how much each try is sharper than the one before."""
GENTLER = 1.02
"""The same on finer lattices, which bend in smaller steps."""
COARSE = 0.5
"""How much less room a lattice may show than there is, in distances of its places."""
GIVE = 0.03
"""Room that is not worth a sharper line, in distances of places: a lattice knows no better."""


class Work(NamedTuple):
    """Room for one stretch."""

    space: Space
    line: Float64
    """Control points, (stages, 5)."""
    finer: Float64
    way: Int64


@bare
def share_of(space: Space, mesh: Mesh, rules: Rules, enough: float, most: float) -> float:
    """Choose the share of the lock to use, at most *most*; 0 where no line leads through at all.

    More of it than is easy is used only where an easy line leaves less than *enough*, m, and more would gain room: full
    lock that only makes a line more comfortable would bar drivers who may not use all of it.
    """
    size, give = (mesh.stages, mesh.places), GIVE * mesh.apart
    easy, _ = search(space, size, bent(rules, EASY, rules.floor), True)
    if -easy >= rules.comfort - give:
        return EASY
    share = 1.0
    room, _ = search(space, size, rules, True)
    while room >= FAR and share < most:
        share *= SHARPER
        room, _ = search(space, size, bent(rules, share, rules.floor), True)
    if room >= FAR:
        return 0.0
    return EASY if -easy >= min(-room - give, enough) else share


@bare
def refine(stretch: Stretch, body: Body, mesh: Mesh, work: Work, rules: Rules, share: float) -> float:
    """Take the best line of a lattice that is laid, then of finer ones round it.

    Parameters
    ----------
    stretch, body
        Where, and what drives there.
    mesh, work
        The first lattice, laid; the line of the work is that which it lies round, and becomes the one found.
    rules
        What a line may be.
    share
        Of the lock.

    Returns
    -------
    float
        Share of the lock that the line uses at most.
    """
    best, share = _better(stretch, body, mesh, work, rules, (CLOSED, share))
    apart = mesh.apart
    for level in range(1, LEVELS):
        apart /= FINER
        samples = min(SAMPLES << level, FINEST)
        finer = Mesh(mesh.stages, mesh.stride, TUBE, apart, samples, mesh.tied_start, mesh.tied_end)
        turn, before = 0, -np.inf
        while turn < TURNS and before + LEAST_GAIN_M <= best and (turn == 0 or best < rules.comfort):
            turn, before = turn + 1, best
            closer = bent(rules, 1.0, max(rules.floor, best - COARSE * apart))
            lay(stretch, body, work.line[: mesh.stages], finer, closer, work.space)
            best, share = _better(stretch, body, finer, work, closer, (best, share))
    return share


@bare
def _better(
    stretch: Stretch, body: Body, mesh: Mesh, work: Work, rules: Rules, known: tuple[float, float]
) -> tuple[float, float]:
    """Take the best line of a lattice where it leaves as much as the one known.

    *known* and given: smallest gap of the line, m, and share of the lock.
    """
    line, finer, (best, share) = work.line[: mesh.stages], work.finer[: mesh.stages], known
    share = _gentler(work, mesh, rules, share)
    if _best(work, mesh, bent(rules, share, rules.floor), line, finer):
        control(stretch.rows, mesh.stride, finer)
        room = room_along(stretch, body, finer, mesh.stride, rules.comfort)
        if room >= best - GIVE * mesh.apart:
            best = room
            for k in range(mesh.stages):
                line[k, OFFSET] = finer[k, OFFSET]
            control(stretch.rows, mesh.stride, line)
    return best, share


@bare
def _gentler(work: Work, mesh: Mesh, rules: Rules, share: float) -> float:
    """Give the least share of the lock, above all of it, that leads through a lattice; *share* where it is within."""
    tried = min(share, 1.0)
    while (
        tried < share and search(work.space, (mesh.stages, mesh.places), bent(rules, tried, rules.floor), True)[1] < 0
    ):
        tried *= GENTLER
    return min(share, tried)


@bare
def _best(work: Work, mesh: Mesh, rules: Rules, line: Float64, finer: Float64) -> bool:
    """Put the best line of a lattice into *finer*, its offsets only; tell whether there is one."""
    size = (mesh.stages, mesh.places)
    room, last = search(work.space, size, rules, True)
    if room < FAR:
        kept = bent(rules, 1.0, -room - GIVE * mesh.apart)
        room, last = search(work.space, size, kept, False)
    if last < 0:
        return False
    follow_back(work.space, mesh.stages, last, work.way)
    for k in range(mesh.stages):
        finer[k, OFFSET] = line[k, OFFSET] + (work.way[k] - mesh.places // 2) * mesh.apart
    return True


@bare
def bent(rules: Rules, share: float, floor: float) -> Rules:
    """Allow a share of the lock; beyond all of it the wheel is turned as much faster."""
    return Rules(share * rules.bend, max(share, 1.0) * rules.change, rules.comfort, floor, rules.spacing)


@bare
def line_along(line: Float64, stride: int, at: float) -> tuple[float, float, float, float]:
    """Give x, y, heading and curvature of a line abreast of a place, counted in points of the way."""
    k = min(math.floor(at / stride), line.shape[0] - 2)
    return place_of(line, k, (line[k, CX], line[k, CY], line[k + 1, CX], line[k + 1, CY]), at / stride - k)


@bare
def room_along(stretch: Stretch, body: Body, line: Float64, stride: int, comfort: float) -> float:
    """Smallest gap along a line, at all poses that are told of it."""
    least = comfort
    for pose in range(FINE * (stretch.rows.shape[0] - 1) + 1):
        at = pose / FINE
        point = math.floor(at + 0.5)
        least = room_at(stretch, body, line_along(line, stride, at), point, (CLOSED, least, FINEST))
    return least
