"""The best way through a lattice of places, by dynamic programming over offset, heading and curvature.

Across the trail stand *places*, one row of them a *stage*. A *step* leads from a place to one at the next stage; it has
a heading, a length and a gap, that of the vehicle on it. Two steps in a row make a *turn*, and turns are the states of
the search: so the curvature at every stage and its change from one to the next are known exactly, and what is found is
the best of all ways on the lattice (Bellman, Dynamic Programming, 1957), not a greedy one.

Two things are asked, one after the other: the largest smallest gap of any way, and, of the ways that keep a gap, the
one of least cost. Ties go to the lower index, so the answer is the same every time.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare

__all__ = ["CLOSED", "FAR", "GAP", "HEADING", "LENGTH", "Rules", "Space", "bend_of", "follow_back", "search"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Int8 = NDArray[np.int8]
Flags = NDArray[np.bool_]

HEADING, LENGTH, GAP = range(3)
"""Columns of a step: heading, rad + left, without jumps from one stage to the next; length, m; smallest gap, m."""
COST, BEND = range(2)
"""Columns of a turn."""
CLOSED = -1e9
"""Gap of a step that cannot be driven at all."""
FAR = 1e300
"""Cost of what cannot be reached."""
ROOM, SHARP, CHANGE, ASIDE = 0.15, 8.0, 8.0, 0.04
"""Prices, a metre driven: room missing to comfort, squared (1/m²); curvature, squared (m²); change of it a metre,
squared (m⁴); distance from the wanted line, squared (1/m²). Room comes first by far, the middle last. No source."""


class Rules(NamedTuple):
    """What a way may be."""

    bend: float
    """Largest curvature, 1/m."""
    change: float
    """Largest change of curvature a metre, 1/m²."""
    comfort: float
    """Gaps beyond count alike, m."""
    floor: float
    """Smallest gap that is driven, m."""
    spacing: float
    """Distance of the stages, m."""


class Space(NamedTuple):
    """Room for a lattice and its search, made once; stages and places beyond those of the lattice are not looked at."""

    steps: Float64
    """Shape (stages − 1, places, slopes, 3): ``[k, i, s]`` leads from place ``i`` of stage ``k`` to place
    ``i + s − slopes // 2`` of the next."""
    aside: Float64
    """Distance of each place from the wanted line, m, shape (stages, places)."""
    reached: Flags
    """Whether a step leads to each place, (stages, places)."""
    turns: Float64
    """Shape (2, places, slopes, slopes, 2): the turns at a stage and at the one before, ``[place, out, in]``."""
    back: Int8
    """Slope by which the best way comes to the step into each turn, shape (stages − 1, places, slopes, slopes)."""


@bare
def bend_of(steps: Float64, k: int, came: tuple[int, int], goes: tuple[int, int]) -> float:
    """Curvature at stage *k* between two steps (place, slope), 1/m, + left.

    That of the cubic B-spline whose control points are the places: ``2 tan(φ/2) / (l cos(φ/2))`` for the angle φ
    between steps of length l, to the third order of φ.
    """
    angle = steps[k, goes[0], goes[1], HEADING] - steps[k - 1, came[0], came[1], HEADING]
    length = steps[k, goes[0], goes[1], LENGTH] + steps[k - 1, came[0], came[1], LENGTH]
    return float(2.0 * angle * (1.0 + angle * angle * 5.0 / 24.0) / length)


@bare
def search(space: Space, size: tuple[int, int], rules: Rules, widest: bool) -> tuple[float, int]:  # noqa: FBT001 - compiled code takes no keywords
    """Search a lattice.

    Parameters
    ----------
    space
        The lattice.
    size
        Stages, at least three, and places of it.
    rules
        What a way may be.
    widest
        Ask for the way with the largest smallest gap; else for the cheapest one.

    Returns
    -------
    tuple
        Minus the gap, m, or the cost; :data:`FAR` where no way leads through. Number of the last turn, from which
        :func:`follow_back` finds the way.
    """
    slopes = space.steps.shape[2]
    for k in range(1, size[0] - 1):
        _advance(space, k, size[1], rules, widest)
    best, last, now = FAR, -1, space.turns[size[0] % 2]
    for j in range(size[1]):
        for t in range(slopes):
            for s in range(slopes):
                if now[j, t, s, COST] < best:
                    best, last = now[j, t, s, COST], (j * slopes + t) * slopes + s
    return best, last


@bare
def _advance(space: Space, k: int, places: int, rules: Rules, widest: bool) -> None:  # noqa: FBT001 - compiled code takes no keywords here
    """Find the best way to every turn at stage *k*."""
    steps, slopes = space.steps, space.steps.shape[2]
    now, reach = space.turns[k % 2], slopes // 2
    for j in range(places):
        for s in range(slopes):
            i = j - s + reach
            comes = 0 <= i < places and steps[k - 1, i, s, GAP] >= rules.floor
            for t in range(slopes):
                now[j, t, s, COST] = FAR
                if comes and steps[k, j, t, GAP] >= rules.floor:
                    bend = bend_of(steps, k, (i, s), (j, t))
                    if abs(bend) <= rules.bend:
                        now[j, t, s, BEND] = bend
                        now[j, t, s, COST] = _reach(space, k, (j, t, s), rules, widest)


@bare
def _reach(space: Space, k: int, turn: tuple[int, int, int], rules: Rules, widest: bool) -> float:  # noqa: FBT001
    """Cost of the best way to a turn, the turn itself included."""
    j, t, s = turn
    slopes = space.steps.shape[2]
    i, bend = j - s + slopes // 2, space.turns[k % 2, j, t, s, BEND]
    gap = space.steps[k, j, t, GAP]
    if widest:
        own, price = -min(gap, space.steps[k - 1, i, s, GAP], rules.comfort), 0.0
    else:
        short, aside = max(0.0, rules.comfort - gap), space.aside[k + 1, j + t - slopes // 2]
        own = ROOM * short * short + ASIDE * aside * aside + SHARP * bend * bend
        price = CHANGE / (rules.spacing * rules.spacing)
    if k == 1:
        return float(own)
    before, best, most = space.turns[(k - 1) % 2, i, s], FAR, rules.change * rules.spacing
    for h in range(slopes):
        if before[h, COST] < best:
            turned = before[h, BEND] - bend
            total = before[h, COST] + price * turned * turned
            if abs(turned) <= most and total < best:
                best, space.back[k, j, t, s] = total, h
    if best >= FAR:
        return FAR
    return float(max(own, best) if widest else own + best)


@bare
def follow_back(space: Space, stages: int, last: int, way: Int64) -> None:
    """Follow the best way back from its last turn, and write its place at every stage."""
    slopes = space.steps.shape[2]
    reach = slopes // 2
    s, t, j = last % slopes, last // slopes % slopes, last // (slopes * slopes)
    way[stages - 1], way[stages - 2], way[stages - 3] = j + t - reach, j, j - s + reach
    for k in range(stages - 2, 1, -1):
        h = int(space.back[k, j, t, s])
        j, t, s = j - s + reach, s, h
        way[k - 2] = j - s + reach
