"""Iterated local search for loops, on flat arrays.

State is the walk as a list of arcs. A move cuts out a random stretch and
reconnects its ends by shortest paths whose labels sit on arcs, so that the turn
rules hold on every path, sometimes by way of a promising arc nearby. Where the
way is spent, some moves first shorten the walk elsewhere. Worse walks are
accepted as in simulated annealing with geometric cooling (Kirkpatrick, Gelatt
and Vecchi, Science 220, 1983).

A move costs what it touches, not what the net holds: the books of the walk are
kept by adding and taking off whole numbers, labels and weights are made when an
arc is first met, and a label is dropped where the rest of its path could not
fit: by the triangle inequality from the shortest ways from and to the
trailhead (Goldberg and Harrelson, Proc. SODA 2005, with one landmark).

All lengths are whole decimetres, times whole seconds, gains and costs whole
units. Nothing here raises; a search without a result returns length 0.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, kernel
from pipeline.kernels.loop_books import (
    COST,
    ENOUGH,
    FAR,
    FINISHES,
    HOME,
    LONGEST,
    OTHER,
    SCALE,
    THERE,
    WAY,
    Books,
    Net,
    book,
    copy,
    draw,
    draw_missing,
    flip,
    judge,
    worth,
)

__all__ = ["search"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Places in ``Desk.ask``: arc to begin after (arcs: the trailhead), arc to end at (−1: home), largest way, number of the
# search and of the weights, ends of the stretch cut out, arcs of the new one, whether it may be longer (0: as short
# as can be).
_SOURCE, _TARGET, _BUDGET, _SEARCH, _WEIGHTS, _FIRST, _LAST, _SIZE, _RICHER = range(9)
# Rows of ``Desk.marks``.
_GONE, _BEFORE, _QUEUE, _QUEUED, _LABELLED, _WEIGHED = range(6)
# Places in ``Desk.taste``.
_NOISE, _DISLIKE, _GREED = range(3)

_LEAST = 0.03  # least weight of an arc on a reconnecting path, as a share of its way: keeps weights positive
_STRETCH = 0.15  # mean share of the walk that a move cuts out
_BY_WAY = 0.7  # share of the moves that go by way of a drawn arc
_TOURNAMENT = 6  # arcs compared when one is drawn to go by
_STROLL = 8  # most steps from the stretch to an arc that is compared
_SHORTEN = 0.3  # share of the moves that first shorten the walk elsewhere
_COLD = 0.0004  # temperature at the end, in energy (1 = the scale of the goal)


class Desk(NamedTuple):
    """What a move is worked out on."""

    state: Ints
    """Shape (1,): of the random numbers."""
    ask: Ints
    """Shape (9,): the question to a search for a path, and the stretch."""
    taste: Floats
    """Shape (3,): noise of the weights, dislike of going back, greed for gain."""
    weight: Floats
    label: Floats
    marks: Ints
    """Shape (6, arcs + 1): way gone, arc before, queue, in the queue, search that labelled, weights that weighed."""
    middle: Ints
    """The new stretch."""
    judged: Floats
    """Shape (4,): energy, breach, goal (less is better) and length of the walk in the books."""


@bare
def _weigh(net: Net, books: Books, desk: Desk, arc: int) -> float:
    """Give the weight of an arc in this move: longer is worse, gain better, going back worse, to a random taste."""
    if desk.marks[_WEIGHED, arc] == desk.ask[_WEIGHTS]:
        return float(desk.weight[arc])
    way = float(net.arc[WAY, arc])
    heavy = way * (1.0 + desk.taste[_NOISE] * draw(desk.state))
    if net.curve.shape[0] > 0:
        heavy -= desk.taste[_GREED] * worth(net, books, arc)
    else:
        heavy = net.arc[COST, arc] + desk.taste[_GREED] * heavy
    for place in range(net.kin_offsets[arc], net.kin_offsets[arc + 1]):
        heavy += desk.taste[_DISLIKE] * way * books.used[net.kin[OTHER, place]]
    heavy = max(_LEAST * way, heavy)
    desk.weight[arc] = heavy
    desk.marks[_WEIGHED, arc] = desk.ask[_WEIGHTS]
    return float(heavy)


@bare
def _ahead(net: Net, arc: int, target: int) -> int:
    """Give a way that a path from the end of *arc* to the end of *target* (−1: home) cannot be shorter than."""
    if target < 0:
        return int(net.arc[HOME, arc])
    home = net.arc[HOME, arc] - net.arc[HOME, target]
    return int(max(0, home, net.arc[THERE, target] - net.arc[THERE, arc]))


@bare
def _spread(net: Net, books: Books, desk: Desk) -> int:
    """Find the lightest path that ``desk.ask`` asks for, of arcs not barred and within the way; −1: none.

    Labels are corrected from a queue. Gives the last arc of the path: the target itself or, home, one that finishes.
    """
    ask, marks, label = desk.ask, desk.marks, desk.label
    target, search, room = ask[_TARGET], ask[_SEARCH] + 1, marks.shape[1]
    ask[_SEARCH] = search
    head, tail, origin, found = 0, 0, ask[_SOURCE], -1
    reached, passed, best = 0.0, 0, FAR
    while True:
        for place in range(net.offsets[origin], net.offsets[origin + 1]):
            arc = net.follow[place]
            way = passed + net.arc[WAY, arc]
            if books.barred[arc] > (arc == target) or way + _ahead(net, arc, target) > ask[_BUDGET]:
                continue
            further = reached + _weigh(net, books, desk, arc)
            fresh = marks[_LABELLED, arc] != search
            if further >= (best if fresh else min(best, label[arc])):
                continue
            marks[_LABELLED, arc], marks[_QUEUED, arc] = search, 0 if fresh else marks[_QUEUED, arc]
            label[arc], marks[_GONE, arc] = further, way
            marks[_BEFORE, arc] = -1 if origin == ask[_SOURCE] else origin
            if arc == target or (target < 0 and net.arc[FINISHES, arc] == 1):
                best, found = further, arc
            elif marks[_QUEUED, arc] == 0:
                marks[_QUEUED, arc] = 1
                marks[_QUEUE, tail] = arc
                tail = (tail + 1) % room
        if head == tail:
            return int(found)
        origin = marks[_QUEUE, head]
        head = (head + 1) % room
        marks[_QUEUED, origin] = 0
        reached, passed = label[origin], marks[_GONE, origin]


@bare
def _write(net: Net, books: Books, desk: Desk, last: int) -> bool:
    """Append the path that ends in *last* (−1: empty) to the new stretch and book it, unless arcs of it clash."""
    size, count, arc = desk.ask[_SIZE], 0, last
    while arc >= 0:
        count += 1
        arc = desk.marks[_BEFORE, arc]
    arc = last
    for place in range(size + count - 1, size - 1, -1):
        desk.middle[place] = arc
        arc = desk.marks[_BEFORE, arc]
    for place in range(size, size + count):
        if books.barred[desk.middle[place]] > 0:
            flip(net, books, desk.middle, size, place)
            return False
        book(net, books, desk.middle[place])
    desk.ask[_SIZE] = size + count
    return True


@bare
def _join(net: Net, books: Books, desk: Desk) -> bool:
    """Lengthen the new stretch up to the arc asked for, that one too if it is not on the walk; tell whether it can be.

    Where it cannot, what was there before stays as it is.
    """
    source, target = desk.ask[_SOURCE], desk.ask[_TARGET]
    if target < 0 and source < len(books.used) and net.arc[FINISHES, source] == 1:
        return True
    last = _spread(net, books, desk)
    if last < 0:
        return False
    if last == target and books.used[target] == 1:
        last = desk.marks[_BEFORE, target]
    return _write(net, books, desk, last)


@bare
def _stroll(net: Net, desk: Desk, arc: int) -> int:
    """Go some steps along turns drawn at random, beginning after *arc*; −1 where nothing follows."""
    steps = 1 + int(_STROLL * draw(desk.state) ** 2)
    for _ in range(steps):
        fan = net.offsets[arc + 1] - net.offsets[arc]
        if fan == 0:
            return -1
        arc = net.follow[net.offsets[arc] + int(draw(desk.state) * fan)]
    return arc


@bare
def _draw_via(net: Net, books: Books, desk: Desk, trial: Ints, budget: int) -> int:
    """Draw an arc near the stretch to go by, by tournament on gain (or little cost) a way; −1 when none was drawn."""
    best, score = -1, -FAR
    first, last = desk.ask[_FIRST], desk.ask[_LAST]
    for _ in range(_TOURNAMENT):
        place = first - 1 + int(draw(desk.state) * (last - first + 1))
        arc = _stroll(net, desk, trial[place] if place >= 0 else len(books.used))
        if arc >= 0 and books.barred[arc] == 0 and net.arc[WAY, arc] <= budget:
            promise = float(worth(net, books, arc) if net.curve.shape[0] > 0 else -net.arc[COST, arc])
            promise /= net.arc[WAY, arc]
            if promise > score:
                best, score = arc, promise
    return best


@bare
def _cut(desk: Desk, count: int) -> None:
    """Choose the stretch to cut out of a walk of *count* arcs: of exponential length, sometimes none or all."""
    reach = int(-np.log(1.0 - draw(desk.state)) * _STRETCH * count + draw(desk.state))
    first = int(draw(desk.state) * (count + 1))
    desk.ask[_FIRST], desk.ask[_LAST] = first, min(count, first + reach)


@bare
def _prefer(net: Net, desk: Desk) -> None:
    """Draw the taste of a move, or set it to a short way alone; arcs are weighed anew."""
    desk.ask[_WEIGHTS] += 1
    richer = desk.ask[_RICHER] == 1
    desk.taste[_NOISE], desk.taste[_DISLIKE] = 1.5 * draw(desk.state), 2.0 * draw(desk.state)
    greed = draw(desk.state) ** 2 if richer else 0.0
    if net.curve.shape[0] > 0:
        greed *= 4.0 * net.limits[LONGEST] / net.limits[SCALE]
    else:
        greed = 0.5 * greed if richer else 8.0
    desk.taste[_GREED] = greed


@bare
def _refill(net: Net, books: Books, desk: Desk, trial: Ints, target: int, via: int) -> bool:
    """Write a new stretch from the arc before the cut to *target* by way of *via* (−1: none), if that can be."""
    ask = desk.ask
    ask[_SOURCE] = trial[ask[_FIRST] - 1] if ask[_FIRST] > 0 else len(books.used)
    ask[_SIZE] = 0
    start = ask[_SIZE]
    if via >= 0:
        ask[_TARGET], ask[_BUDGET] = via, int(net.limits[LONGEST]) - books.sums[WAY]
        if not _join(net, books, desk):
            return False
        ask[_SOURCE] = via
    ask[_TARGET], ask[_BUDGET] = target, int(net.limits[LONGEST]) - books.sums[WAY]
    if target >= 0:
        ask[_BUDGET] += net.arc[WAY, target]
    done = _join(net, books, desk)
    if not done:
        flip(net, books, desk.middle, start, ask[_SIZE])
    return done


@bare
def _replace(net: Net, books: Books, desk: Desk, trial: Ints, count: int) -> int:
    """Replace a random stretch of *trial* and give its new number of arcs; −1 when the ends cannot be joined."""
    _cut(desk, count)
    first, last = desk.ask[_FIRST], desk.ask[_LAST]
    flip(net, books, trial, first, last)
    _prefer(net, desk)
    via = -1
    if desk.ask[_RICHER] == 1 and draw(desk.state) < _BY_WAY:
        via = draw_missing(net, books, desk.state)
        if via < 0:
            via = _draw_via(net, books, desk, trial, int(net.limits[LONGEST]) - books.sums[WAY])
    if not _refill(net, books, desk, trial, trial[last] if last < count else -1, via):
        flip(net, books, trial, first, last)
        return -1
    size = desk.ask[_SIZE]
    grown = size - (last - first)
    for step in range(count - last):  # from the far end where the walk grows, from the near end where it shrinks
        place = count - 1 - step if grown > 0 else last + step
        trial[place + grown] = trial[place]
    for place in range(size):
        trial[first + place] = desk.middle[place]
    return int(count + grown)


@bare
def _take_back(net: Net, books: Books, trial: Ints, size: int, walk: Ints, count: int) -> None:
    """Make *trial* of *size* arcs the same as *walk* of *count* again, and the books with it."""
    first, last = 0, 0
    while first < min(size, count) and trial[first] == walk[first]:
        first += 1
    while last < min(size, count) - first and trial[size - 1 - last] == walk[count - 1 - last]:
        last += 1
    flip(net, books, trial, first, size - last)
    flip(net, books, walk, first, count - last)
    copy(walk, count, trial)


@bare
def _vary(net: Net, books: Books, desk: Desk, trial: Ints, count: int) -> int:
    """Make *trial* a neighbour of itself and give its number of arcs; −1 when nothing came of it."""
    size, desk.ask[_RICHER] = count, 0
    changed = count > 0 and draw(desk.state) < _SHORTEN
    if changed:
        size = _replace(net, books, desk, trial, count)
        changed = size >= 0
        size = size if changed else count
    desk.ask[_RICHER] = 1
    other = _replace(net, books, desk, trial, size)
    if other >= 0:
        return other
    return size if changed else -1


@bare
def _anneal(net: Net, books: Books, desk: Desk, walks: tuple[Ints, Ints, Ints], work: tuple[int, float]) -> int:
    """Make so many moves from so hot on; *walks* are the walk, the one tried and the best. Gives the arcs of the best.

    The books hold the one tried, at first as many arcs as ``desk.ask`` says.
    """
    walk, trial, best = walks
    moves, hot = work
    heat, cooling = hot, (_COLD / hot) ** (1.0 / max(1, moves))
    energy, count, found, top, shortest = FAR, desk.ask[_SIZE], 0, FAR, FAR
    for move in range(moves + 1):
        size = _vary(net, books, desk, trial, count) if move > 0 else count
        heat *= cooling
        if size <= 0:
            continue
        judge(net, books, desk.judged)
        now, breach, goal, length = desk.judged[0], desk.judged[1], desk.judged[2], desk.judged[3]
        if breach == 0.0 and (goal < top or (goal == top and length < shortest)):
            copy(trial, size, best)
            found, top, shortest = size, goal, length
            if top <= net.limits[ENOUGH]:
                break
        if now <= energy or draw(desk.state) < np.exp((energy - now) / heat):
            copy(trial, size, walk)
            count, energy = size, now
        else:
            _take_back(net, books, trial, size, walk, count)
    return found


@kernel
def search(net: Net, seed: int, moves: int, hot: float, best: Ints, begin: int) -> int:
    """Search for a loop and write the best one that keeps every rule to *best*.

    Parameters
    ----------
    net
        Arcs, turns, rules and goal.
    seed
        Not negative.
    moves
        Number of moves.
    hot
        Temperature at the start, as a share of the scale of the goal.
    best
        Receives the arcs in driving order; length at least the number of arcs and one.
    begin
        Number of arcs of the walk in *best* to begin with, a closed walk with allowed turns; 0: none.

    Returns
    -------
    int
        Number of arcs of the best loop; 0 when none was found.
    """
    arcs = net.arc.shape[1]
    techniques, groups = net.curve.shape[0], net.flags.shape[0]
    books = Books(
        np.zeros(arcs, dtype=np.int64),
        np.zeros(arcs, dtype=np.int64),
        np.zeros(techniques, dtype=np.int64),
        np.zeros(groups, dtype=np.int64),
        np.zeros(5, dtype=np.int64),
    )
    state = np.full(1, (seed * 40503 + 12345) % 4294967291 + 1, dtype=np.int64)
    marks, middle = np.zeros((6, arcs + 1), dtype=np.int64), np.zeros(arcs + 1, dtype=np.int64)
    ask = np.zeros(9, dtype=np.int64)
    desk = Desk(state, ask, np.zeros(3), np.zeros(arcs), np.zeros(arcs), marks, middle, np.zeros(4))
    walk, trial = np.zeros(arcs + 1, dtype=np.int64), np.zeros(arcs + 1, dtype=np.int64)
    copy(best, begin, trial)
    ask[_SIZE] = begin
    flip(net, books, trial, ask[_FIRST], begin)
    return _anneal(net, books, desk, (walk, trial, best), (moves, hot))
