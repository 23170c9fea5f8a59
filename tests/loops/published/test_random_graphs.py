"""The search on hundreds of random graphs, against a plain listing of every walk and against networkx.

The listing knows nothing of traversals' tables or of the solver: it drives on, one arc after another, until nothing
may follow. The graphs have parallel segments, one-ways, dead ends, segments from a place to itself, corners too
sharp to drive and few places to turn round.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs
from pipeline.loops.solve.hunt import Answer, Quest, pruned, safest, training_rich
from pipeline.loops.solve.rules import Rules
from pipeline.loops.value.objective import GainCurve
from pipeline.terms import Technique
from tests.loops.published.nets import Edge, effort, make_arcs

Ints = NDArray[np.int64]
GRAPHS = 200
WEIGHTS = np.array([2, 1, 3], dtype=np.int64)
CURVE = GainCurve((Technique.CLIMB, Technique.CREST, Technique.ROCK), WEIGHTS, np.ones(3))


@dataclass(frozen=True)
class Case:
    """One graph and what is asked of its loops."""

    arcs: Arcs
    rules: Rules


def case(seed: int) -> Case:
    """Make a random graph of 5–6 places and 8–9 segments, and rules of every kind, each in some of the cases."""
    rng = np.random.default_rng(7000 + seed)
    places, segments = int(rng.integers(5, 7)), int(rng.integers(8, 10))
    ends = [(int(rng.integers(number)), number) for number in range(1, places)]
    ends += [(int(a), int(b)) for a, b in rng.integers(0, places, (segments - len(ends), 2))]
    edges = []
    for segment, (a, b) in enumerate(ends):
        length, oneway = int(rng.integers(10, 100)), rng.random() < 0.15
        edges.append(Edge(2 * segment, a, b, length))
        if not oneway:
            edges.append(Edge(2 * segment + 1, b, a, length))
    arcs = make_arcs(edges, 0)
    count = len(arcs)
    angle = rng.uniform(0.0, 2.0 * math.pi, (segments, 2))
    # Driven the other way, what was arriving is leaving, turned round.
    side, of = arcs.number & 1, arcs.number >> 1
    leaving = angle[of, side] + math.pi * side
    arriving = angle[of, 1 - side] + math.pi * side
    arcs = replace(
        arcs,
        leaving=np.stack([np.cos(leaving), np.sin(leaving)], axis=1),
        arriving=np.stack([np.cos(arriving), np.sin(arriving)], axis=1),
        time_s=rng.integers(5, 60, count),
        exposure_dm=rng.integers(0, 40, count),
        level=rng.integers(50, 60, count),
        credits=rng.integers(0, 35, (count, 3)) * rng.integers(0, 2, (count, 3)),
        turn_round=rng.random(len(arcs.nodes)) < 0.35,
        sharpest=float(rng.choice([-1.0, math.cos(math.radians(135.0)), math.cos(math.radians(100.0))])),
    )
    least = np.minimum(*(arcs.credits[arcs.pairs.arcs[:, k]] for k in (0, 1)))
    arcs = replace(arcs, pairs=replace(arcs.pairs, lost=np.floor(least * 0.6).astype(np.int64)))
    return Case(arcs, _rules(rng, arcs))


def _rules(rng: np.random.Generator, arcs: Arcs) -> Rules:
    """Draw rules."""

    def some(chance: float) -> bool:
        return bool(rng.random() < chance)

    def both(segment: int) -> frozenset[int]:
        return frozenset((2 * segment, 2 * segment + 1))

    used = np.unique(arcs.number >> 1).tolist()
    low = int(rng.integers(0, 250))
    window = (low, low + int(rng.integers(60, 300)))
    time = (int(rng.integers(0, 80)), int(rng.integers(120, 300)))
    by_time = some(0.25)
    return Rules(
        length_dm=None if by_time else window,
        time_s=time if by_time or some(0.3) else None,
        redriven=float(rng.choice([0.0, 0.3, 0.6, 1.0])),
        must=tuple((f"m{n}", both(n)) for n in rng.choice(used, int(rng.integers(1, 3)), replace=False))
        if some(0.3)
        else (),
        earlier=(frozenset.union(*(both(n) for n in rng.choice(used, 3, replace=False))),) if some(0.25) else (),
        overlap=0.5,
        starts=frozenset(rng.choice(arcs.number, len(arcs) // 2, replace=False).tolist()) if some(0.2) else None,
    )


def walks(arcs: Arcs) -> Iterator[tuple[int, ...]]:
    """Yield every closed walk from the trailhead that drives no arc twice and turns as it may, one a set of arcs."""
    count = len(arcs)
    back = [[(arcs.number[a] ^ arcs.number[b]) == 1 for b in range(count)] for a in range(count)]
    sharp = arcs.arriving @ arcs.leaving.T < arcs.sharpest - 1e-9
    told: set[frozenset[int]] = set()
    seen: set[tuple[int, frozenset[int]]] = set()
    stack = [((arc,), frozenset((arc,))) for arc in range(count) if arcs.tail[arc] == arcs.trailhead]
    while stack:
        walk, used = stack.pop()
        last = walk[-1]
        # A walk's first arc matters where the rules name it.
        if (last, used | {-1 - walk[0]}) in seen:
            continue
        seen.add((last, used | {-1 - walk[0]}))
        at = int(arcs.head[last])
        if at == arcs.trailhead and (key := used | {-1 - walk[0]}) not in told:
            told.add(key)
            yield walk
        free = bool(arcs.turn_round[at])
        stack.extend(
            ((*walk, arc), used | {arc})
            for arc in range(count)
            if arc not in used and arcs.tail[arc] == at and (free or not (back[last][arc] or sharp[last, arc]))
        )


def kept(arcs: Arcs, walk: tuple[int, ...], rules: Rules) -> bool:
    """Tell whether a walk keeps the rules, by plain sums."""
    numbers = {int(arcs.number[arc]) for arc in walk}
    length = sum(int(arcs.length_dm[arc]) for arc in walk)
    time = sum(int(arcs.time_s[arc]) for arc in walk)
    own = {int(arcs.number[arc]): int(arcs.length_dm[arc]) for arc in walk}
    twice = sum(way for n, way in own.items() if n ^ 1 in numbers)
    windows = ((length, rules.length_dm), (time, rules.time_s))
    return (
        all(window is None or window[0] <= value <= window[1] for value, window in windows)
        and twice <= rules.redriven * length + 1e-9
        and all(group & numbers for _, group in rules.must)
        and all(sum(w for n, w in own.items() if n in old) <= rules.overlap * length + 1e-9 for old in rules.earlier)
        and (rules.starts is None or int(arcs.number[walk[0]]) in rules.starts)
    )


def gain(arcs: Arcs, walk: tuple[int, ...]) -> int:
    """Count the units: 20 credits at 5 units each, 20 at 4 … 1, times the weight; a segment's other way gives less."""
    got = [sum(int(arcs.credits[arc, t]) for arc in walk) for t in range(3)]
    for (a, b), lost in zip(arcs.pairs.arcs.tolist(), arcs.pairs.lost.tolist(), strict=True):
        if a in walk and b in walk:
            got = [g - less for g, less in zip(got, lost, strict=True)]
    return sum(
        int(w) * sum(max(0, min(20, g - 20 * k)) * (5 - k) for k in range(5)) for g, w in zip(got, WEIGHTS, strict=True)
    )


def quest(one: Case) -> Quest:
    """Ask for a loop with a short local search: the proof is the exact model's."""
    work = effort().model_copy(update={"starts": 1, "moves": 300})
    return Quest(arcs=one.arcs, rules=one.rules, curve=CURVE, effort=work, seed=1)


def _driven(one: Case, answer: Answer) -> tuple[int, ...]:
    """Give the rows of the arcs of an answer, a closed Eulerian walk of them as networkx sees it."""
    walk = tuple(np.searchsorted(one.arcs.number, answer.numbers).tolist())
    graph = nx.MultiDiGraph((int(one.arcs.tail[a]), int(one.arcs.head[a])) for a in walk)
    assert nx.is_eulerian(graph)
    assert one.arcs.trailhead in graph
    assert graph.number_of_edges() == len(set(walk)) == len(walk)
    return walk


@pytest.fixture(scope="module")
def listed() -> list[tuple[Case, list[tuple[int, ...]]]]:
    """List the loops of all cases once."""
    cases = [case(seed) for seed in range(GRAPHS)]
    return [(one, [walk for walk in walks(one.arcs) if kept(one.arcs, walk, one.rules)]) for one in cases]


Listed = list[tuple[Case, list[tuple[int, ...]]]]


def test_cases_are_of_every_kind(listed: Listed) -> None:
    """Some cases must have no loop, most must have one, and every rule must refuse loops somewhere."""
    none = sum(not loops for _, loops in listed)
    assert 0.1 * GRAPHS <= none <= 0.6 * GRAPHS
    for key in ("length_dm", "time_s", "must", "earlier", "starts"):
        assert sum(bool(getattr(one.rules, key)) for one, loops in listed if loops) >= GRAPHS / 30, key
    assert sum(bool(one.arcs.sharpest > -1.0) for one, loops in listed if loops) >= GRAPHS / 5


def test_richest_equals_the_listing(listed: Listed) -> None:
    """The richest loop must be worth as much as the best of all walks, and none be found where there is none."""
    for number, (one, loops) in enumerate(listed):
        answer = training_rich(quest(one))
        assert (answer is not None) == bool(loops), number
        if answer is not None:
            best = max(gain(one.arcs, walk) for walk in loops)
            walk = _driven(one, answer)
            assert (answer.value, answer.bound, answer.proven) == (best, best, True), number
            assert gain(one.arcs, walk) == best, number
            assert kept(one.arcs, walk, one.rules), number


def test_calmest_equals_the_listing(listed: Listed) -> None:
    """The smallest worst level, then the least exposure, must be those of all walks."""
    for number, (one, loops) in enumerate(listed):
        answer = safest(quest(one))
        assert (answer is not None) == bool(loops), number
        if answer is not None:
            best = min((max(one.arcs.level[list(w)]), sum(one.arcs.exposure_dm[list(w)])) for w in loops)
            walk = _driven(one, answer)
            assert (answer.level, answer.value, answer.bound, answer.proven) == (*best, best[1], True), number
            assert kept(one.arcs, walk, one.rules), number


def test_what_is_out_of_reach_is_dropped(listed: Listed) -> None:
    """Arcs that networkx cannot reach and leave again must not be on any loop, nor among those that are searched."""
    for one, loops in listed:
        turn = nx.DiGraph()
        turn.add_nodes_from(range(len(one.arcs)))
        for a in range(len(one.arcs)):
            after = np.flatnonzero(one.arcs.tail == one.arcs.head[a])
            may = one.arcs.may_follow(np.full(len(after), a), after)
            turn.add_edges_from((a, int(b)) for b in after[may])
        starts = one.rules.begins(one.arcs).tolist()
        ends = np.flatnonzero(one.arcs.head == one.arcs.trailhead).tolist()
        ahead = set(starts).union(*(nx.descendants(turn, arc) for arc in starts))
        home = set(ends).union(*(nx.ancestors(turn, arc) for arc in ends))
        searched, turns = pruned(one.arcs, one.rules)
        kept_arcs = set(np.searchsorted(one.arcs.number, searched.number).tolist())
        assert kept_arcs <= ahead & home
        on_loops = {arc for walk in loops for arc in walk}
        assert on_loops <= kept_arcs
        pairs = {
            (int(searched.number[a]), int(searched.number[b])) for a, b in zip(turns.first, turns.second, strict=True)
        }
        assert pairs <= {(int(one.arcs.number[a]), int(one.arcs.number[b])) for a, b in turn.edges}


def _relabelled(one: Case, rng: np.random.Generator) -> Case:
    """Give every segment another number and direction, and every place another row."""
    arcs, rules = one.arcs, one.rules
    segments = int(arcs.number.max() // 2) + 1
    new, flip = rng.permutation(segments), rng.integers(0, 2, segments)
    rename = (2 * np.repeat(new, 2)) + (np.tile((0, 1), segments) ^ np.repeat(flip, 2))
    number = rename[arcs.number]
    order = np.argsort(number)
    place = np.argsort(order)  # new row of each arc
    nodes = rng.permutation(len(arcs.nodes))  # new row of each place
    room = np.empty_like(arcs.turn_round)
    room[nodes] = arcs.turn_round
    rows = {
        name: getattr(arcs, name)[order]
        for name in ("leaving", "arriving", "length_dm", "time_s", "exposure_dm", "level", "credits")
    }
    far = arcs.opposite[order]
    pairs = np.sort(place[arcs.pairs.arcs], axis=1)
    by = np.lexsort((pairs[:, 1], pairs[:, 0]))
    moved = replace(
        arcs,
        **rows,
        number=number[order],
        parts=replace(arcs.parts, number=number[order], length_dm=arcs.length_dm[order]),
        tail=nodes[arcs.tail[order]],
        head=nodes[arcs.head[order]],
        opposite=np.where(far >= 0, place[far], -1),
        pairs=replace(arcs.pairs, arcs=pairs[by], length_dm=arcs.pairs.length_dm[by], lost=arcs.pairs.lost[by]),
        turn_round=room,
        trailhead=int(nodes[arcs.trailhead]),
    )

    def named(group: frozenset[int]) -> frozenset[int]:
        return frozenset(rename[sorted(group)].tolist())

    asked = replace(
        rules,
        must=tuple((name, named(group)) for name, group in rules.must),
        earlier=tuple(named(group) for group in rules.earlier),
        starts=None if rules.starts is None else named(rules.starts),
    )
    return Case(moved, asked)


def _mirrored(one: Case) -> Case:
    """Turn left into right."""
    arcs = one.arcs
    return Case(replace(arcs, leaving=arcs.leaving * (1.0, -1.0), arriving=arcs.arriving * (1.0, -1.0)), one.rules)


def _scaled(one: Case, times: int) -> Case:
    """Make everything several times as long, and take as many times longer."""

    def window(pair: tuple[int, int] | None) -> tuple[int, int] | None:
        return None if pair is None else (pair[0] * times, pair[1] * times)

    arcs, rules = one.arcs, one.rules
    larger = replace(
        arcs,
        length_dm=arcs.length_dm * times,
        time_s=arcs.time_s * times,
        parts=replace(arcs.parts, length_dm=arcs.parts.length_dm * times),
        pairs=replace(arcs.pairs, length_dm=arcs.pairs.length_dm * times),
    )
    return Case(larger, replace(rules, length_dm=window(rules.length_dm), time_s=window(rules.time_s)))


def test_mirrored_relabelled_and_scaled_graphs_are_worth_the_same() -> None:
    """Other names, left for right and another unit of length must not change what the best loop is worth."""
    rng = np.random.default_rng(5)
    compared = 0
    for seed in range(25):
        one = case(seed)
        others = (_relabelled(one, rng), _mirrored(one), _scaled(one, 7))
        for search in (training_rich, safest):
            answer = search(quest(one))
            told = None if answer is None else (answer.value, answer.bound, answer.level if search is safest else 0)
            for other in others:
                again = search(quest(other))
                assert told == (
                    None if again is None else (again.value, again.bound, again.level if search is safest else 0)
                ), seed
            compared += answer is not None
    assert compared > 20
