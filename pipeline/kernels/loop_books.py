"""The books of a walk of the loop search: what it is worth and what it breaks, kept arc by arc.

All lengths are whole decimetres, times whole seconds, gains and costs whole
units, so that taking an arc off undoes exactly what adding it did. The random
numbers are Marsaglia's 32-bit xorshift with shifts 13, 17, 5 (Journal of
Statistical Software 8(14), 2003), in int64 arithmetic, so the compiled and the
plain run draw the same.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare

__all__ = [
    "BOTH",
    "CLASH",
    "COST",
    "ENOUGH",
    "FAR",
    "FINISHES",
    "HIGHEST",
    "HOME",
    "LENGTH",
    "LONGEST",
    "LOWEST",
    "MUST",
    "OTHER",
    "OVERLAP",
    "QUICKEST",
    "REDRIVEN",
    "SCALE",
    "SLOWEST",
    "THERE",
    "TIME",
    "TWICE",
    "WAY",
    "Books",
    "Net",
    "book",
    "copy",
    "draw",
    "draw_missing",
    "flip",
    "judge",
    "worth",
]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Rows of ``Net.arc``; the first four are also places in ``Books.sums``, followed by what is driven twice.
LENGTH, TIME, WAY, COST, THERE, HOME, FINISHES = range(7)
TWICE = 4
# Rows of ``Net.kin``.
OTHER, BOTH, CLASH = range(3)
# Places in ``Net.limits``.
LOWEST, HIGHEST, QUICKEST, SLOWEST, LONGEST, MUST, REDRIVEN, OVERLAP, SCALE, ENOUGH = range(10)

FAR = 1e300
"""Energy of no walk, label of an arc that was not reached."""
_WINDOW_PRICE = 4.0  # energy for missing a window by its whole upper end
_SHARE_PRICE = 3.0  # energy for a share that is 1 too large
_MUST_PRICE = 0.5  # energy for each thing left out


class Net(NamedTuple):
    """The arcs, the turns, the rules and the goal."""

    offsets: Ints
    """Arc *a* may be followed by ``follow[offsets[a]:offsets[a + 1]]``; the last group, after all arcs, holds the
    arcs that leave the trailhead; length arcs + 2."""
    follow: Ints
    arc: Ints
    """Shape (7, arcs): length, time, way (what the longest loop is measured in), cost (minimised when there is no
    curve), shortest way from the trailhead with the arc itself, shortest way home after it, finishes (1: at the
    trailhead)."""
    gains: Ints
    """Credits of each technique, shape (arcs, techniques)."""
    curve: Ints
    """Gain of 0, 1, … credits, constant beyond the last; shape (techniques, credits); no rows: cost is minimised."""
    kin_offsets: Ints
    """What arc *a* shares with others stands in ``kin[:, kin_offsets[a]:kin_offsets[a + 1]]``; length arcs + 1."""
    kin: Ints
    """Shape (3, entries), each pair of arcs twice: other arc, length driven twice when both are driven, clash (1: no
    walk has both)."""
    lost: Ints
    """Credits of each technique lost when both are driven, shape (entries, techniques)."""
    flags: Ints
    """Shape (things + loops, arcs): 1 where the arc takes the thing in; length on the segments of the loop."""
    limits: Floats
    """Shape (10,): least and largest length, least and largest time, longest way, number of things to take in,
    largest re-driven share, largest overlap, scale of the goal (its energy is 1), goal (less is better) with which
    the search may stop."""


class Books(NamedTuple):
    """What is known of the walk at hand, in whole numbers: taking an arc off undoes exactly what adding it did."""

    used: Ints
    """1 where the arc is on the walk."""
    barred: Ints
    """Number of arcs on the walk because of which the arc cannot be added: itself, those it clashes with."""
    have: Ints
    """Credits of each technique."""
    met: Ints
    """Sum of each row of ``Net.flags``."""
    sums: Ints
    """Shape (5,): length, time, way, cost, length driven twice."""


@bare
def draw(state: Ints) -> float:
    """Draw a number in [0, 1) and advance the generator."""
    x = state[0]
    x ^= (x << 13) & 0xFFFFFFFF
    x ^= x >> 17
    x ^= (x << 5) & 0xFFFFFFFF
    state[0] = x
    return float(x - 1) / 4294967295.0


@bare
def copy(source: Ints, count: int, target: Ints) -> None:
    """Copy the first *count*; a loop, because slices compile to far more code."""
    for place in range(count):
        target[place] = source[place]


@bare
def book(net: Net, books: Books, arc: int) -> None:
    """Add an arc to the walk, or take it off when it is there."""
    sign = 1 - 2 * books.used[arc]
    for row in range(TWICE):
        books.sums[row] += sign * net.arc[row, arc]
    for technique in range(len(books.have)):
        books.have[technique] += sign * net.gains[arc, technique]
    for group in range(len(books.met)):
        books.met[group] += sign * net.flags[group, arc]
    books.barred[arc] += sign
    _share(net, books, arc, sign)
    books.used[arc] += sign


@bare
def _share(net: Net, books: Books, arc: int, sign: int) -> None:
    """Book what an arc shares with those on the walk, and whom it bars."""
    for place in range(net.kin_offsets[arc], net.kin_offsets[arc + 1]):
        other = net.kin[OTHER, place]
        if net.kin[CLASH, place] == 1:
            books.barred[other] += sign
        elif books.used[other] == 1:
            books.sums[TWICE] += sign * net.kin[BOTH, place]
            for technique in range(len(books.have)):
                books.have[technique] -= sign * net.lost[place, technique]


@bare
def worth(net: Net, books: Books, arc: int) -> int:
    """Give the gain that *arc* adds to the walk."""
    total, most = 0, net.curve.shape[1] - 1
    for technique in range(net.curve.shape[0]):
        more = net.gains[arc, technique]
        if more > 0:
            for place in range(net.kin_offsets[arc], net.kin_offsets[arc + 1]):
                more -= net.lost[place, technique] * books.used[net.kin[OTHER, place]]
            got = books.have[technique]
            total += net.curve[technique, min(most, got + more)] - net.curve[technique, min(most, got)]
    return total


@bare
def flip(net: Net, books: Books, walk: Ints, first: int, last: int) -> None:
    """Add ``walk[first:last]`` to the walk, or take it off when it is there."""
    for place in range(first, last):
        book(net, books, walk[place])


@bare
def _outside(value: int, low: float, high: float) -> float:
    """Say how far outside a window a value is, as a share of its upper end."""
    return float(max(0.0, low - value, value - high) / max(1.0, high))


@bare
def judge(net: Net, books: Books, out: Floats) -> None:
    """Write the energy, breach, goal and length of the walk in the books to *out*."""
    limits, length = net.limits, books.sums[LENGTH]
    breach = _outside(length, limits[LOWEST], limits[HIGHEST])
    breach = _WINDOW_PRICE * (breach + _outside(books.sums[TIME], limits[QUICKEST], limits[SLOWEST]))
    over = max(0.0, books.sums[TWICE] - limits[REDRIVEN] * length)
    for group in range(len(books.met)):
        if group >= limits[MUST]:
            over += max(0.0, books.met[group] - limits[OVERLAP] * length)
        elif books.met[group] == 0:
            breach += _MUST_PRICE
    breach += _SHARE_PRICE * over / max(1, length)
    goal = float(books.sums[COST])
    if net.curve.shape[0] > 0:
        goal = 0.0
        for technique in range(len(books.have)):
            goal -= net.curve[technique, min(net.curve.shape[1] - 1, books.have[technique])]
    out[0] = goal / limits[SCALE] + breach + 1e-6 * length / limits[LONGEST]
    out[1], out[2], out[3] = breach, goal, length


@bare
def draw_missing(net: Net, books: Books, state: Ints) -> int:
    """Draw an arc that takes in a thing that the walk leaves out; −1 when nothing is left out."""
    best = -1
    for thing in range(int(net.limits[MUST])):
        choices = 0
        for arc in range(len(books.used)):
            if books.met[thing] == 0 and net.flags[thing, arc] > 0 and books.barred[arc] == 0:
                choices += 1
        wanted = int(draw(state) * choices) if choices > 0 else -1
        for arc in range(len(books.used) if choices > 0 else 0):
            if net.flags[thing, arc] > 0 and books.barred[arc] == 0:
                if wanted == 0 and (best < 0 or draw(state) < 0.5):
                    best = arc
                wanted -= 1
    return best
