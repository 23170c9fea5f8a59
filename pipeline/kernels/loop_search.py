"""Iterated local search for loops, on flat arrays.

State is the walk as a list of arcs. A move cuts out a random stretch and
reconnects its ends by shortest paths whose labels sit on arcs, so that the turn
rules hold on every path, sometimes by way of a promising arc. Worse walks are
accepted as in simulated annealing with geometric cooling.

The random numbers are Marsaglia's 32-bit xorshift with shifts 13, 17, 5
(Journal of Statistical Software 8(14), 2003), in int64 arithmetic, so the
compiled and the plain run draw the same.

All lengths are whole decimetres, times whole seconds, gains and costs whole
units. Nothing here raises; a search without a result returns length 0.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["Net", "search"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

_LEAST = 0.03  # least weight of an arc on a reconnecting path, as a share of its way: keeps weights positive
_TOURNAMENT = 6  # arcs compared when one is drawn to go by
_HOT = 0.03  # temperature at the start, in energy (1 = the scale of the goal)
_COLD = 0.0004  # temperature at the end
_WINDOW_PRICE = 4.0  # energy for missing a window by its whole upper end
_SHARE_PRICE = 3.0  # energy for a share that is 1 too large
_MUST_PRICE = 0.5  # energy for each thing left out


class Net(NamedTuple):
    """The arcs, the turns, the rules and the goal; arrays are parallel to the arcs unless said otherwise."""

    offsets: Ints
    """Arc *a* may be followed by ``follow[offsets[a]:offsets[a + 1]]``; length arcs + 1."""
    follow: Ints
    starts: Ints
    """Arcs that leave the trailhead."""
    finishes: Bytes
    """1 where the arc ends at the trailhead."""
    opposite: Ints
    """The same segment in the other direction, or −1."""
    length: Ints
    time: Ints
    way: Ints
    """What the longest loop is measured in: ``length`` or ``time``."""
    cost: Ints
    """What is minimised when there are no slopes."""
    gains: Ints
    """Credits of each technique, shape (arcs, techniques)."""
    slopes: Ints
    """Gain of a credit in each piece, shape (techniques, pieces); no rows: ``cost`` is minimised."""
    must: Bytes
    """Shape (things, arcs): 1 where the arc takes the thing in."""
    earlier: Bytes
    """Shape (loops, arcs): 1 where the arc lies on a segment of an earlier loop."""
    counted: Bytes
    """1 where the arc counts as re-driven when its opposite is driven too."""
    window: Ints
    """Least and largest length, least and largest time."""
    shares: Floats
    """Largest re-driven share, largest overlap, scale of the goal (energy 1)."""
    longest: int
    """Largest sum of ``way``."""
    piece: int
    """Credits in a piece of the curve."""


class _Work(NamedTuple):
    """Scratch arrays of one search."""

    used: Bytes
    weight: Floats
    label: Floats
    gone: Ints
    before: Ints
    queue: Ints
    queued: Bytes
    credits: Ints
    path: Ints
    state: Ints


@njit(cache=True, nogil=True)
def _draw(state: Ints) -> float:
    """Draw a number in [0, 1) and advance the generator."""
    x = state[0]
    x ^= (x << 13) & 0xFFFFFFFF
    x ^= x >> 17
    x ^= (x << 5) & 0xFFFFFFFF
    state[0] = x
    return (x - 1) / 4294967295.0


@njit(cache=True, nogil=True)
def _pick(state: Ints, count: int) -> int:
    """Draw a whole number in [0, count)."""
    return min(count - 1, int(_draw(state) * count))


@njit(cache=True, nogil=True)
def _curve(net: Net, technique: int, got: int) -> int:
    """Give the gain of *got* credits of one technique."""
    total = 0
    for piece in range(net.slopes.shape[1]):
        total += net.slopes[technique, piece] * max(0, min(net.piece, got - piece * net.piece))
    return total


@njit(cache=True, nogil=True)
def _marginal(net: Net, have: Ints, arc: int) -> int:
    """Give the gain that *arc* adds to a walk that has the credits *have*."""
    total = 0
    for technique in range(net.slopes.shape[0]):
        more = net.gains[arc, technique]
        if more > 0:
            total += _curve(net, technique, have[technique] + more) - _curve(net, technique, have[technique])
    return total


@njit(cache=True, nogil=True)
def _weigh(net: Net, work: _Work, taste: Floats, arc: int) -> float:
    """Give (and keep) the weight of *arc* on a reconnecting path; *taste* holds noise, greed, dislike of going back."""
    if work.weight[arc] < 0.0:
        way = float(net.way[arc])
        noisy = way * (1.0 + taste[0] * _draw(work.state))
        if net.slopes.shape[0] > 0:
            weight = noisy - taste[1] * _marginal(net, work.credits, arc)
        else:
            weight = net.cost[arc] + taste[1] * noisy
        back = net.opposite[arc]
        if back >= 0 and work.used[back]:
            weight += taste[2] * way
        work.weight[arc] = max(_LEAST * way, weight)
    return work.weight[arc]


@njit(cache=True, nogil=True)
def _relax(net: Net, work: _Work, taste: Floats, step: tuple[int, int, int, int]) -> int:
    """Try to reach arc ``step[1]`` after arc ``step[0]`` within ``step[2]``; give the new tail of the queue, step[3]."""
    origin, arc, budget, tail = step
    if work.used[arc]:
        return tail
    gone = net.way[arc]
    label = _weigh(net, work, taste, arc)
    if origin >= 0:
        gone += work.gone[origin]
        label += work.label[origin]
    if gone > budget or label >= work.label[arc]:
        return tail
    work.label[arc], work.gone[arc], work.before[arc] = label, gone, origin
    if not work.queued[arc]:
        work.queued[arc] = 1
        work.queue[tail] = arc
        tail = (tail + 1) % len(work.queue)
    return tail


@njit(cache=True, nogil=True)
def _spread(net: Net, work: _Work, taste: Floats, span: tuple[int, int, int]) -> None:
    """Label the arcs that can be reached after arc ``span[0]`` (−1: from the trailhead) within ``span[2]``.

    Arc ``span[1]`` (−1: none) is where the path ends; nothing is reached by way of it.
    """
    source, target, budget = span
    work.label[:] = np.inf
    work.queued[:] = 0
    head, tail = 0, 0
    if source < 0:
        for arc in net.starts:
            tail = _relax(net, work, taste, (-1, arc, budget, tail))
    else:
        for arc in net.follow[net.offsets[source] : net.offsets[source + 1]]:
            tail = _relax(net, work, taste, (-1, arc, budget, tail))
    while head != tail:
        arc = work.queue[head]
        head = (head + 1) % len(work.queue)
        work.queued[arc] = 0
        if arc != target:
            for after in net.follow[net.offsets[arc] : net.offsets[arc + 1]]:
                tail = _relax(net, work, taste, (arc, after, budget, tail))


@njit(cache=True, nogil=True)
def _last(net: Net, work: _Work, source: int, target: int) -> int:
    """Give the last arc of the path found, −1 when the path is empty, −2 when there is none."""
    if target >= 0:
        return work.before[target] if np.isfinite(work.label[target]) else -2
    if source >= 0 and net.finishes[source]:
        return -1
    best = -2
    for arc in range(len(net.way)):
        if net.finishes[arc] and np.isfinite(work.label[arc]) and (best < 0 or work.label[arc] < work.label[best]):
            best = arc
    return best


@njit(cache=True, nogil=True)
def _connect(net: Net, work: _Work, taste: Floats, span: tuple[int, int, int]) -> int:
    """Write the best path between two arcs, both left out, to ``work.path``; its arcs count as used. −1: none."""
    source, target, budget = span
    held = 0
    if target >= 0:
        held = work.used[target]
        work.used[target] = 0
        budget += net.way[target]
    _spread(net, work, taste, (source, target, budget))
    if target >= 0:
        work.used[target] = held
    arc = _last(net, work, source, target)
    if arc == -2:
        return -1
    count = 0
    while arc >= 0:
        work.path[count] = arc
        work.used[arc] = 1
        arc = work.before[arc]
        count += 1
    for k in range(count // 2):
        work.path[k], work.path[count - 1 - k] = work.path[count - 1 - k], work.path[k]
    return count


@njit(cache=True, nogil=True)
def _promise(net: Net, work: _Work, missing: Bytes, arc: int) -> float:
    """Say how good it would be to go by *arc*: gain or saved cost per way, things left out first."""
    wanted = 0.0
    for thing in range(len(missing)):
        if missing[thing] and net.must[thing, arc]:
            wanted += 1e9
    if net.slopes.shape[0] > 0:
        return wanted + _marginal(net, work.credits, arc) / net.way[arc]
    return wanted - net.cost[arc] / net.way[arc]


@njit(cache=True, nogil=True)
def _draw_via(net: Net, work: _Work, missing: Bytes, budget: int) -> int:
    """Draw an unused arc to go by, by tournament; −1 when none was drawn."""
    best, score = -1, -np.inf
    for _ in range(_TOURNAMENT):
        arc = _pick(work.state, len(net.way))
        if not work.used[arc] and net.way[arc] <= budget:
            promise = _promise(net, work, missing, arc)
            if promise > score:
                best, score = arc, promise
    for thing in range(len(missing)):
        if missing[thing]:
            for arc in range(len(net.way)):
                if net.must[thing, arc] and not work.used[arc] and _draw(work.state) < 0.5:
                    best = arc
    return best


@njit(cache=True, nogil=True)
def _outside(value: int, low: int, high: int) -> float:
    """Say how far outside a window a value is, as a share of its upper end."""
    return max(0, low - value, value - high) / max(1, high)


@njit(cache=True, nogil=True)
def _judge(net: Net, work: _Work, walk: Ints, count: int, out: Floats) -> None:
    """Write energy, breach, goal value and length of a walk to *out*; goal: larger gain is smaller."""
    work.credits[:] = 0
    work.used[:] = 0
    length, time, cost, twice = 0, 0, 0, 0
    for arc in walk[:count]:
        work.used[arc] = 1
        length += net.length[arc]
        time += net.time[arc]
        cost += net.cost[arc]
        for technique in range(net.slopes.shape[0]):
            work.credits[technique] += net.gains[arc, technique]
        back = net.opposite[arc]
        if back >= 0 and work.used[back] and net.counted[arc]:
            twice += net.length[arc] + net.length[back]
    breach = _WINDOW_PRICE * _outside(length, net.window[0], net.window[1])
    breach += _WINDOW_PRICE * _outside(time, net.window[2], net.window[3])
    breach += _SHARE_PRICE * max(0.0, twice - net.shares[0] * length) / max(1, length)
    breach += _rule_breach(net, walk, count, length)
    goal = float(cost)
    if net.slopes.shape[0] > 0:
        goal = 0.0
        for technique in range(net.slopes.shape[0]):
            goal -= _curve(net, technique, work.credits[technique])
    out[0], out[1], out[2], out[3] = (
        goal / net.shares[2] + breach + 1e-6 * length / max(1, net.window[1]),
        breach,
        goal,
        length,
    )


@njit(cache=True, nogil=True)
def _rule_breach(net: Net, walk: Ints, count: int, length: int) -> float:
    """Give the energy for things left out and for too much overlap."""
    breach = 0.0
    for thing in range(net.must.shape[0]):
        taken = False
        for arc in walk[:count]:
            taken = taken or net.must[thing, arc] == 1
        if not taken:
            breach += _MUST_PRICE
    for loop in range(net.earlier.shape[0]):
        shared = 0
        for arc in walk[:count]:
            if net.earlier[loop, arc]:
                shared += net.length[arc]
        breach += _SHARE_PRICE * max(0.0, shared - net.shares[1] * length) / max(1, length)
    return breach


@njit(cache=True, nogil=True)
def _cut(net: Net, work: _Work, walk: Ints, count: int) -> tuple[int, int]:
    """Choose the stretch that is cut out, and take it out of the bookkeeping."""
    reach = int(-np.log(1.0 - _draw(work.state)) * 0.15 * count + _draw(work.state))
    first = _pick(work.state, count + 1)
    last = min(count, first + reach)
    for arc in walk[first:last]:
        work.used[arc] = 0
        for technique in range(net.slopes.shape[0]):
            work.credits[technique] -= net.gains[arc, technique]
    return first, last


@njit(cache=True, nogil=True)
def _missing(net: Net, walk: Ints, count: int, out: Bytes) -> None:
    """Flag the things that a walk leaves out."""
    out[:] = 1
    for thing in range(net.must.shape[0]):
        for arc in walk[:count]:
            if net.must[thing, arc]:
                out[thing] = 0


@njit(cache=True, nogil=True)
def _propose(net: Net, work: _Work, walk: Ints, count: int, trial: Ints) -> int:
    """Write a neighbour of *walk* to *trial* and give its number of arcs; 0 when the ends cannot be joined."""
    first, last = _cut(net, work, walk, count)
    kept = 0
    for k in range(count):
        if k < first or k >= last:
            kept += net.way[walk[k]]
    highest = net.longest
    budget = highest - kept
    missing = np.zeros(net.must.shape[0], dtype=np.uint8)
    _missing(net, walk, count, missing)
    taste = np.empty(3)
    taste[0] = 1.5 * _draw(work.state)
    taste[1] = _draw(work.state) ** 2 * (4.0 * highest / net.shares[2] if net.slopes.shape[0] > 0 else 0.5)
    taste[2] = 2.0 * _draw(work.state)
    trial[:first] = walk[:first]
    size = first
    after = walk[last] if last < count else -1
    if _draw(work.state) < 0.7:
        via = _draw_via(net, work, missing, budget)
        if via >= 0:
            size = _extend(net, work, taste, (size, via, budget), trial)
            if size < 0:
                return 0
            budget = highest - kept
            for arc in trial[first:size]:
                budget -= net.way[arc]
    size = _extend(net, work, taste, (size, -2 if after < 0 else -3 - after, budget), trial)
    if size < 0:
        return 0
    trial[size : size + count - last] = walk[last:count]
    return size + count - last


@njit(cache=True, nogil=True)
def _extend(net: Net, work: _Work, taste: Floats, span: tuple[int, int, int], trial: Ints) -> int:
    """Lengthen ``trial[:span[0]]`` by a path; give its new size, −1 when there is no path.

    ``span[1]`` ≥ 0: to that arc, the arc included; −2: back to the trailhead; −3 − b: up to arc b, b left out.
    """
    size, target, budget = span
    work.weight[:] = -1.0
    source = trial[size - 1] if size > 0 else -1
    end = target
    if target == -2:
        end = -1
    elif target < -2:
        end = -3 - target
    count = _connect(net, work, taste, (source, end, budget if target < 0 else budget - net.way[target]))
    if count < 0:
        return -1
    trial[size : size + count] = work.path[:count]
    size += count
    if target >= 0:
        trial[size] = target
        work.used[target] = 1
        size += 1
    return size


@njit(cache=True, nogil=True)
def search(net: Net, seed: int, moves: int, best: Ints) -> int:
    """Search for a loop and write the best one that keeps every rule to *best*.

    Parameters
    ----------
    net
        Arcs, turns, rules and goal.
    seed
        Positive seed below 2³¹ − 1.
    moves
        Number of moves.
    best
        Receives the arcs in driving order; at least as long as the arcs are many, plus one.

    Returns
    -------
    int
        Number of arcs of the best loop; 0 when none was found.
    """
    arcs = len(net.way)
    techniques = net.gains.shape[1]
    work = _Work(
        used=np.zeros(arcs, dtype=np.uint8),
        weight=np.full(arcs, -1.0),
        label=np.full(arcs, np.inf),
        gone=np.zeros(arcs, dtype=np.int64),
        before=np.zeros(arcs, dtype=np.int64),
        queue=np.zeros(arcs + 1, dtype=np.int64),
        queued=np.zeros(arcs, dtype=np.uint8),
        credits=np.zeros(techniques, dtype=np.int64),
        path=np.zeros(arcs + 1, dtype=np.int64),
        state=np.full(1, (seed * 2654435761 + 12345) % 4294967291 + 1, dtype=np.int64),
    )
    walk, trial = np.zeros(2 * arcs + 2, dtype=np.int64), np.zeros(2 * arcs + 2, dtype=np.int64)
    now, then, top = np.full(4, np.inf), np.zeros(4), np.full(4, np.inf)
    count, found = 0, 0
    heat, cooling = _HOT, (_COLD / _HOT) ** (1.0 / max(1, moves))
    for _ in range(moves):
        heat *= cooling
        _judge(net, work, walk, count, then)  # restores the bookkeeping of the current walk
        size = _propose(net, work, walk, count, trial)
        if size == 0:
            continue
        _judge(net, work, trial, size, then)
        if then[0] <= now[0] or _draw(work.state) < np.exp((now[0] - then[0]) / heat):
            walk[:size] = trial[:size]
            count = size
            now[:] = then
        if then[1] == 0.0 and (then[2] < top[2] or (then[2] == top[2] and then[3] < top[3])):
            best[:size] = trial[:size]
            found = size
            top[:] = then
    return found
