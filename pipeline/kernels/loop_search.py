"""Iterated local search for loops, on flat arrays.

State is the walk as a list of arcs. A move cuts out a random stretch and
reconnects its ends by shortest paths whose labels sit on arcs, so that the turn
rules hold on every path, sometimes by way of a promising arc. Worse walks are
accepted as in simulated annealing with geometric cooling (Kirkpatrick, Gelatt
and Vecchi, Science 220, 1983).

The random numbers are Marsaglia's 32-bit xorshift with shifts 13, 17, 5
(Journal of Statistical Software 8(14), 2003), in int64 arithmetic, so the
compiled and the plain run draw the same.

All lengths are whole decimetres, times whole seconds, gains and costs whole
units. Nothing here raises; a search without a result returns length 0.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = [
    "COST",
    "COUNTED",
    "FINISHES",
    "HIGHEST",
    "LENGTH",
    "LONGEST",
    "LOWEST",
    "MUST",
    "OPPOSITE",
    "OVERLAP",
    "QUICKEST",
    "REDRIVEN",
    "SCALE",
    "SLOWEST",
    "TIME",
    "WAY",
    "Net",
    "search",
]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

# Rows of ``Net.arc``.
LENGTH, TIME, WAY, COST, OPPOSITE, COUNTED, FINISHES = range(7)
# Places in ``Net.limits``.
LOWEST, HIGHEST, QUICKEST, SLOWEST, LONGEST, MUST, REDRIVEN, OVERLAP, SCALE = range(9)

_LEAST = 0.03  # least weight of an arc on a reconnecting path, as a share of its way: keeps weights positive
_TOURNAMENT = 6  # arcs compared when one is drawn to go by
_HOT = 0.03  # temperature at the start, in energy (1 = the scale of the goal)
_COLD = 0.0004  # temperature at the end
_WINDOW_PRICE = 4.0  # energy for missing a window by its whole upper end
_SHARE_PRICE = 3.0  # energy for a share that is 1 too large
_MUST_PRICE = 0.5  # energy for each thing left out
_FAR = 1e300  # label of an arc that was not reached


class Net(NamedTuple):
    """The arcs, the turns, the rules and the goal."""

    offsets: Ints
    """Arc *a* may be followed by ``follow[offsets[a]:offsets[a + 1]]``; the last group, after all arcs, holds the
    arcs that leave the trailhead; length arcs + 2."""
    follow: Ints
    arc: Ints
    """Shape (7, arcs): length, time, way (what the longest loop is measured in), cost (minimised when there is no
    curve), opposite (or −1), counted (1: re-driven when its opposite is driven too), finishes (1: at the
    trailhead)."""
    gains: Ints
    """Credits of each technique, shape (arcs, techniques)."""
    curve: Ints
    """Gain of 0, 1, … credits, constant beyond the last; shape (techniques, credits); no rows: cost is minimised."""
    flags: Ints
    """Shape (things + loops, arcs): 1 where the arc takes the thing in; 1 where it lies on a segment of the loop."""
    limits: Floats
    """Shape (9,): least and largest length, least and largest time, longest way, number of things to take in,
    largest re-driven share, largest overlap, scale of the goal (its energy is 1)."""


@kernel
def _draw(state: Ints) -> float:
    """Draw a number in [0, 1) and advance the generator."""
    x = state[0]
    x ^= (x << 13) & 0xFFFFFFFF
    x ^= x >> 17
    x ^= (x << 5) & 0xFFFFFFFF
    state[0] = x
    return float(x - 1) / 4294967295.0


@inner
def _copy(source: Ints, first: int, last: int, target: Ints, at: int) -> None:
    """Copy ``source[first:last]`` to ``target[at:]``; a loop, because slices compile to far more code."""
    for place in range(first, last):
        target[at + place - first] = source[place]


@kernel
def _worth(net: Net, have: Ints, arc: int) -> int:
    """Give the gain that *arc* adds to a walk that has the credits *have*."""
    total, most = 0, net.curve.shape[1] - 1
    for technique in range(net.curve.shape[0]):
        more = net.gains[arc, technique]
        if more > 0:
            got = have[technique]
            total += net.curve[technique, min(most, got + more)] - net.curve[technique, min(most, got)]
    return total


@inner
def _weigh(net: Net, used: Ints, have: Ints, state: Ints, weight: Floats) -> None:
    """Draw the weights of a move: longer is worse, gain is better, going back is worse, all to a random taste."""
    noise, dislike, greed = 1.5 * _draw(state), 2.0 * _draw(state), _draw(state) ** 2
    greed *= 4.0 * net.limits[LONGEST] / net.limits[SCALE] if net.curve.shape[0] > 0 else 0.5
    for arc in range(len(weight)):
        way = float(net.arc[WAY, arc])
        heavy = way * (1.0 + noise * _draw(state))
        if net.curve.shape[0] > 0:
            heavy -= greed * _worth(net, have, arc)
        else:
            heavy = net.arc[COST, arc] + greed * heavy
        back = net.arc[OPPOSITE, arc]
        if back >= 0 and used[back] == 1:
            heavy += dislike * way
        weight[arc] = max(_LEAST * way, heavy)


@kernel
def _spread(net: Net, used: Ints, weight: Floats, label: Floats, scratch: Ints) -> None:
    """Label the unused arcs that can be reached after an arc, within a way; labels are corrected from a queue.

    ``scratch`` has rows: way gone, arc before, queue, flag "in the queue", and the question: arc to begin after
    (arcs: the trailhead), arc to end at (−1: none), largest way. Nothing is reached by way of the arc to end at.
    """
    gone, before, queue, queued = scratch[0], scratch[1], scratch[2], scratch[3]
    source, target, budget = scratch[4, 0], scratch[4, 1], scratch[4, 2]
    for arc in range(len(label)):
        label[arc], queued[arc] = _FAR, 0
    head, tail, origin, room = 0, 0, source, len(queue)
    reached, passed = 0.0, 0
    while True:
        for place in range(net.offsets[origin], net.offsets[origin + 1]):
            arc = net.follow[place]
            further, way = reached + weight[arc], passed + net.arc[WAY, arc]
            if (used[arc] == 1 and arc != target) or way > budget or further >= label[arc]:
                continue
            label[arc], gone[arc] = further, way
            before[arc] = -1 if origin == source else origin
            if queued[arc] == 0 and arc != target:
                queued[arc] = 1
                queue[tail] = arc
                tail = (tail + 1) % room
        if head == tail:
            return
        origin = queue[head]
        head = (head + 1) % room
        queued[origin] = 0
        reached, passed = label[origin], gone[origin]


@inner
def _last(net: Net, label: Floats, scratch: Ints) -> int:
    """Give the last arc of the path found, −1 when the path is empty, −2 when there is none."""
    source, target = scratch[4, 0], scratch[4, 1]
    if target >= 0:
        return int(scratch[1, target]) if label[target] < _FAR else -2
    if source < len(label) and net.arc[FINISHES, source] == 1:
        return -1
    best = -2
    for arc in range(len(label)):
        if net.arc[FINISHES, arc] == 1 and label[arc] < _FAR and (best < 0 or label[arc] < label[best]):
            best = arc
    return best


@inner
def _write(used: Ints, before: Ints, last: int, trial: Ints, size: int) -> int:
    """Append the path that ends in *last* to ``trial[:size]``, its arcs used from now on; give the new size."""
    count, arc = 0, last
    while arc >= 0:
        count += 1
        arc = before[arc]
    arc = last
    for place in range(size + count - 1, size - 1, -1):
        trial[place] = arc
        used[arc] = 1
        arc = before[arc]
    return size + count


@inner
def _draw_via(net: Net, used: Ints, have: Ints, state: Ints, budget: int) -> int:
    """Draw an unused arc to go by, by tournament on gain (or little cost) a way; −1 when none was drawn."""
    best, score, arcs = -1, -1e300, net.arc.shape[1]
    for _ in range(_TOURNAMENT):
        arc = int(_draw(state) * arcs)
        if used[arc] == 0 and net.arc[WAY, arc] <= budget:
            promise = _worth(net, have, arc) if net.curve.shape[0] > 0 else -net.arc[COST, arc]
            if promise / net.arc[WAY, arc] > score:
                best, score = arc, promise / net.arc[WAY, arc]
    return best


@kernel
def _draw_missing(net: Net, used: Ints, state: Ints) -> int:
    """Draw an arc that takes in a thing that the used arcs leave out; −1 when nothing is left out."""
    best = -1
    for thing in range(int(net.limits[MUST])):
        taken, choices = False, 0
        for arc in range(len(used)):
            if net.flags[thing, arc] == 1:
                taken = taken or used[arc] == 1
                choices += 1
        if taken or choices == 0:
            continue
        wanted = int(_draw(state) * choices)
        for arc in range(len(used)):
            if net.flags[thing, arc] == 1:
                if wanted == 0 and (best < 0 or _draw(state) < 0.5):
                    best = arc
                wanted -= 1
    return best


@inner
def _outside(value: int, low: float, high: float) -> float:
    """Say how far outside a window a value is, as a share of its upper end."""
    return float(max(0.0, low - value, value - high) / max(1.0, high))


@kernel
def _judge(net: Net, walk: Ints, used: Ints, have: Ints, out: Floats) -> None:
    """Book a walk in *used* and *have*, and write its energy, breach, goal (less is better) and length to *out*."""
    for technique in range(len(have)):
        have[technique] = 0
    for arc in range(len(used)):
        used[arc] = 0
    length, time, cost, twice = 0, 0, 0, 0
    for arc in walk:
        used[arc] = 1
        length += net.arc[LENGTH, arc]
        time += net.arc[TIME, arc]
        cost += net.arc[COST, arc]
        for technique in range(len(have)):
            have[technique] += net.gains[arc, technique]
        back = net.arc[OPPOSITE, arc]
        if back >= 0 and used[back] == 1 and net.arc[COUNTED, arc] == 1:
            twice += net.arc[LENGTH, arc] + net.arc[LENGTH, back]
    limits = net.limits
    breach = _outside(length, limits[LOWEST], limits[HIGHEST]) + _outside(time, limits[QUICKEST], limits[SLOWEST])
    breach *= _WINDOW_PRICE
    over = max(0.0, twice - limits[REDRIVEN] * length)
    breach += _SHARE_PRICE * over / max(1, length) + _flag_breach(net, walk, length)
    goal = float(cost)
    if net.curve.shape[0] > 0:
        goal = 0.0
        for technique in range(len(have)):
            goal -= net.curve[technique, min(net.curve.shape[1] - 1, have[technique])]
    out[0] = goal / limits[SCALE] + breach + 1e-6 * length / limits[LONGEST]
    out[1], out[2], out[3] = breach, goal, length


@inner
def _flag_breach(net: Net, walk: Ints, length: int) -> float:
    """Give the energy for things left out and for too much overlap."""
    breach = 0.0
    for group in range(net.flags.shape[0]):
        met = 0
        for arc in walk:
            met += net.flags[group, arc] * net.arc[LENGTH, arc]
        if group >= net.limits[MUST]:
            breach += _SHARE_PRICE * max(0.0, met - net.limits[OVERLAP] * length) / max(1, length)
        elif met == 0:
            breach += _MUST_PRICE
    return breach


@inner
def _cut(net: Net, walk: Ints, used: Ints, have: Ints, state: Ints) -> tuple[int, int, int]:
    """Choose the stretch to cut out (exponential length, mean 15 % of the walk) and take it out of the books.

    Gives its first place, the place after its last, and the way that the rest leaves to spend.
    """
    count = len(walk)
    reach = int(-np.log(1.0 - _draw(state)) * 0.15 * count + _draw(state))
    first = int(_draw(state) * (count + 1))
    last = min(count, first + reach)
    budget = int(net.limits[LONGEST])
    for place in range(count):
        arc = walk[place]
        if place < first or place >= last:
            budget -= net.arc[WAY, arc]
            continue
        used[arc] = 0
        for technique in range(len(have)):
            have[technique] -= net.gains[arc, technique]
    return first, last, budget


@inner
def _reach(net: Net, books: Ints, floats: Floats, scratch: Ints, trial: Ints) -> int:
    """Lengthen a walk, as ``scratch[4]`` asks: after arc, up to arc (left out) or home (−1), way, size so far."""
    weight, label, used = floats[0], floats[1], books
    target, size = scratch[4, 1], scratch[4, 3]
    scratch[4, 0] = trial[size - 1] if size > 0 else len(label)
    if target >= 0:
        scratch[4, 2] += net.arc[WAY, target]
    _spread(net, used, weight, label, scratch)
    last = _last(net, label, scratch)
    return -1 if last == -2 else _write(used, scratch[1], last, trial, size)


@inner
def _propose(net: Net, walk: Ints, books: tuple[Ints, Ints, Ints], floats: Floats, scratch: Ints, trial: Ints) -> int:
    """Write a neighbour of *walk* to *trial* and give its number of arcs; 0 when the ends cannot be joined."""
    used, have, state = books
    first, last, budget = _cut(net, walk, used, have, state)
    count = len(walk)
    _weigh(net, used, have, state, floats[0])
    _copy(walk, 0, first, trial, 0)
    size, via = first, -1
    if _draw(state) < 0.7:
        via = _draw_missing(net, used, state)
        if via < 0:
            via = _draw_via(net, used, have, state, budget)
    if via >= 0:
        scratch[4, 1], scratch[4, 2], scratch[4, 3] = via, budget - net.arc[WAY, via], size
        size = _reach(net, used, floats, scratch, trial)
        if size < 0:
            return 0
        trial[size] = via
        used[via] = 1
        size += 1
        for place in range(first, size):
            budget -= net.arc[WAY, trial[place]]
    scratch[4, 1], scratch[4, 2], scratch[4, 3] = walk[last] if last < count else -1, budget, size
    size = _reach(net, used, floats, scratch, trial)
    if size < 0:
        return 0
    _copy(walk, last, count, trial, size)
    return size + count - last


@kernel
def search(net: Net, seed: int, moves: int, best: Ints) -> int:
    """Search for a loop and write the best one that keeps every rule to *best*.

    Parameters
    ----------
    net
        Arcs, turns, rules and goal.
    seed
        Not negative.
    moves
        Number of moves.
    best
        Receives the arcs in driving order; length at least twice the number of arcs.

    Returns
    -------
    int
        Number of arcs of the best loop; 0 when none was found.
    """
    arcs = net.arc.shape[1]
    used, have = np.zeros(arcs, dtype=np.int64), np.zeros(net.curve.shape[0], dtype=np.int64)
    state = np.full(1, (seed * 40503 + 12345) % 4294967291 + 1, dtype=np.int64)
    floats = np.zeros((2, arcs))
    scratch = np.zeros((5, arcs + 4), dtype=np.int64)
    walk, trial = np.zeros(2 * arcs + 2, dtype=np.int64), np.zeros(2 * arcs + 2, dtype=np.int64)
    then, top = np.zeros(4), np.full(4, _FAR)
    count, found, energy = 0, 0, _FAR
    heat, cooling = _HOT, (_COLD / _HOT) ** (1.0 / max(1, moves))
    for _ in range(moves):
        heat *= cooling
        _judge(net, walk[:count], used, have, then)  # the books of the current walk
        size = _propose(net, walk[:count], (used, have, state), floats, scratch, trial)
        if size == 0:
            continue
        _judge(net, trial[:size], used, have, then)
        if then[1] == 0.0 and (then[2] < top[2] or (then[2] == top[2] and then[3] < top[3])):
            _copy(trial, 0, size, best, 0)
            found = size
            top[2], top[3] = then[2], then[3]
        if then[0] <= energy or _draw(state) < np.exp((energy - then[0]) / heat):
            _copy(trial, 0, size, walk, 0)
            count, energy = size, then[0]
    return found
