"""The local search kernel: its parts against plain twins, and compiled against plain runs of the whole."""

import json
import os
import subprocess
import sys
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from pipeline.kernels import loop_search as kernel
from pipeline.kernels.loop_books import ENOUGH, HOME, THERE, Books, Net
from tests.kernels import loop_called as called

pytestmark = pytest.mark.kernel
ROOT = Path(__file__).parents[2]


def make(seed: int, *, nodes: int = 12, techniques: int = 3, must: int = 1, earlier: int = 1) -> Net:
    """Make a random net; two techniques or more maximise a gain, none minimises a cost."""
    rng = np.random.default_rng(seed)
    graph = nx.connected_watts_strogatz_graph(nodes, 4, 0.3, seed=seed)
    ends = [pair for edge in sorted(graph.edges) for pair in (edge, edge[::-1])]
    tail, head = (np.array(side) for side in zip(*ends, strict=True))
    arcs = len(ends)
    room = rng.random(nodes) < 0.2
    follow = [[b for b in range(arcs) if tail[b] == head[a] and (b != a ^ 1 or room[head[a]])] for a in range(arcs)]
    follow.append(np.flatnonzero(tail == 0).tolist())
    length = np.repeat(rng.integers(100, 900, arcs // 2), 2)
    cost = np.repeat(rng.integers(0, 300, arcs // 2), 2)
    rises = np.zeros((techniques, 16), dtype=np.int64)
    rises[:, 1:] = np.repeat([3, 2, 1], 5)
    flags = np.zeros((must + earlier, arcs), dtype=np.int64)
    flags[:must, rng.integers(arcs, size=must)] = 1
    flags[must:] = (rng.random((earlier, arcs)) < 0.3) * length
    limits = [2000, 5000, 0, 1e9, 5000, must, 0.4, 0.7, 45 * techniques if techniques else 2000, -np.inf]
    gains = rng.integers(0, 4, (arcs, techniques))
    there, home = ways(follow, length, np.flatnonzero(head == 0))
    offsets, kin = relations(rng, arcs, length)
    lost = np.minimum(gains[np.repeat(np.arange(arcs), np.diff(offsets))], gains[kin[0]]) // 2
    return Net(
        offsets=np.concatenate(([0], np.cumsum([len(f) for f in follow]))).astype(np.int64),
        follow=np.array([b for f in follow for b in f], dtype=np.int64),
        arc=np.stack([length, length // 3, length, cost, there, home, head == 0]).astype(np.int64),
        gains=gains.astype(np.int64),
        curve=np.cumsum(rises, axis=1),
        kin_offsets=offsets,
        kin=kin,
        lost=np.where(kin[2][:, None] == 1, 0, lost).astype(np.int64),
        flags=flags,
        limits=np.array(limits, dtype=np.float64),
    )


def turns_of(follow: list[list[int]], length: np.ndarray) -> nx.DiGraph:
    """Make the graph of turns, the trailhead as arc number ``len(length)``."""
    graph = nx.DiGraph()
    graph.add_nodes_from(range(len(length) + 1))
    graph.add_edges_from((a, b, {"way": int(length[b])}) for a, after in enumerate(follow) for b in after)
    return graph


def ways(follow: list[list[int]], length: np.ndarray, ends: np.ndarray) -> tuple[list[int], list[int]]:
    """Give the shortest ways there, the arc included, and home, it left out, found by networkx."""
    graph, arcs = turns_of(follow, length), range(len(length))
    there = nx.single_source_dijkstra_path_length(graph, len(length), weight="way")
    home = nx.multi_source_dijkstra_path_length(graph.reverse(), set(ends.tolist()), weight=lambda b, _a, _: length[b])
    return [int(there.get(a, 10**9)) for a in arcs], [int(home.get(a, 10**9)) for a in arcs]


def relations(rng: np.random.Generator, arcs: int, length: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pair every arc with its way back, and let two couples of other arcs clash."""
    rows = [(a, a ^ 1, 2 * int(length[a]), 0) for a in range(arcs)]
    for a, b in rng.permutation(arcs // 2)[:4].reshape(2, 2).tolist():
        rows += [(2 * a, 2 * b, 0, 1), (2 * b, 2 * a, 0, 1)]
    table = np.array(sorted(rows), dtype=np.int64)
    return np.searchsorted(table[:, 0], np.arange(arcs + 1)), np.ascontiguousarray(table[:, 1:].T)


def no_books(net: Net) -> Books:
    """Make the books of a walk without arcs."""
    sizes = (net.arc.shape[1], net.arc.shape[1], net.curve.shape[0], net.flags.shape[0], 5)
    return Books(*(np.zeros(size, dtype=np.int64) for size in sizes))


def booked(net: Net, walk: list[int]) -> Books:
    """Make the books of a walk."""
    books = no_books(net)
    for arc in walk:
        called.book(net, books, arc)
    return books


def desk(arcs: int) -> kernel.Desk:
    """Make a desk without any taste: an arc weighs its way."""
    ask, middle = np.zeros(9, dtype=np.int64), np.zeros(arcs + 1, dtype=np.int64)
    ask[4] = 1
    marks = np.zeros((6, arcs + 1), dtype=np.int64)
    return kernel.Desk(middle[:1] + 1, ask, np.zeros(3), np.zeros(arcs), np.zeros(arcs), marks, middle, np.zeros(4))


def credits_on(net: Net, walk: list[int]) -> np.ndarray:
    """Sum the credits of a walk, less what is lost by going back, plainly."""
    total = net.gains[walk].sum(axis=0)
    for a in walk:
        for place in range(net.kin_offsets[a], net.kin_offsets[a + 1]):
            if a < net.kin[0, place] and net.kin[0, place] in walk:
                total = total - net.lost[place]
    return total


def units(net: Net, credits_of: np.ndarray) -> int:
    """Read the curve."""
    return int(sum(net.curve[t, min(15, have)] for t, have in enumerate(credits_of.tolist())))


def clashing(net: Net, walk: list[int]) -> bool:
    """Tell whether two arcs of a walk clash."""
    entries = [p for a in walk for p in range(net.kin_offsets[a], net.kin_offsets[a + 1])]
    return any(net.kin[2, p] == 1 and net.kin[0, p] in walk for p in entries)


def run(seed: int, moves: int, techniques: int, begin: tuple[int, ...] = ()) -> list[int]:
    """Run one search and give its walk."""
    net = make(seed, techniques=techniques)
    best = np.zeros(net.arc.shape[1] + 1, dtype=np.int64)
    best[: len(begin)] = begin
    return best[: kernel.search(net, seed, moves, 0.03, best, len(begin))].tolist()


def test_generator_gives_the_published_numbers() -> None:
    """From 2463534242 xorshift 13, 17, 5 gives 723471715, 2497366906, 2064144800 (Marsaglia 2003; from memory)."""
    state = np.array([2463534242], dtype=np.int64)
    drawn = []
    for _ in range(3):
        assert 0.0 <= called.draw(state) < 1.0
        drawn.append(int(state[0]))
    assert drawn == [723471715, 2497366906, 2064144800]


def test_draws_are_spread_evenly() -> None:
    """The mean and variance of many draws must be those of the uniform distribution, 1/2 and 1/12."""
    state = np.array([12345], dtype=np.int64)
    draws = np.array([called.draw(state) for _ in range(4000)])
    assert abs(draws.mean() - 0.5) < 0.02
    assert abs(draws.var() - 1 / 12) < 0.005


def test_worth_is_the_step_of_the_curve() -> None:
    """The gain of an arc must be what the whole walk is worth with it less what it is worth without."""
    net = make(1)
    rng = np.random.default_rng(0)
    steps = set()
    for _ in range(60):
        *walk, arc = rng.permutation(net.arc.shape[1])[: rng.integers(1, 16)].tolist()
        plain = units(net, credits_on(net, [*walk, arc])) - units(net, credits_on(net, walk))
        assert called.worth(net, booked(net, walk), arc) == plain
        steps.add(plain)
    assert len(steps) > 5


def test_arcs_are_barred_by_what_they_clash_with() -> None:
    """An arc is barred once for itself and once for each arc of the walk that it clashes with."""
    net = make(3)
    arcs = net.arc.shape[1]
    clashes = [(a, net.kin[0, p]) for a in range(arcs) for p in range(*net.kin_offsets[a : a + 2]) if net.kin[2, p]]
    assert clashes
    walk = sorted({a for a, _ in clashes[:3]} | {0, 1})
    plain = [(arc in walk) + sum(a == arc and b in walk for a, b in clashes) for arc in range(arcs)]
    assert booked(net, walk).barred.tolist() == plain


def test_taking_off_undoes_adding() -> None:
    """Books after arcs were added and taken off in any order must be those of the arcs that are left."""
    net = make(3)
    rng = np.random.default_rng(1)
    for _ in range(20):
        walk = rng.permutation(net.arc.shape[1])[:14].tolist()
        books = booked(net, walk)
        for arc in rng.permutation(walk[5:]).tolist():
            called.book(net, books, arc)
        for mine, plain in zip(books, booked(net, walk[:5]), strict=True):
            assert np.array_equal(mine, plain)
        for arc in walk[:5]:
            called.book(net, books, arc)
        assert not any(part.any() for part in books)


@pytest.mark.parametrize("seed", range(4))
def test_paths_equal_networkx(seed: int) -> None:
    """The lightest path past a walk, to an arc and home, must be the shortest on the graph of turns; else none."""
    net = make(seed)
    arcs = net.arc.shape[1]
    rng = np.random.default_rng(seed)
    walk = rng.permutation(arcs)[:8].tolist()
    books, at = booked(net, walk), desk(arcs)
    source, budget = walk[0], 1800
    graph = turns_of([net.follow[net.offsets[a] : net.offsets[a + 1]].tolist() for a in range(arcs + 1)], net.arc[0])
    for target in [*range(arcs), -1]:
        if target == source:
            continue
        goals = [target] if target >= 0 else [a for a in np.flatnonzero(net.arc[6]) if not books.barred[a]]
        free = {a for a in range(arcs) if not books.barred[a]} | {source} | set(goals)
        plain = nx.single_source_dijkstra_path_length(graph.subgraph(free), source, weight="way")
        way = min((plain[a] for a in goals if a in plain), default=10**9)
        at.ask[:3] = source, target, budget
        last = called.spread(net, books, at)
        assert (last >= 0) == (way <= budget)
        if last >= 0:
            assert at.label[last] == at.marks[0, last] == way


def test_ways_there_and_home_are_bounds() -> None:
    """With the ways to the trailhead left out, the same paths must be found: they only spare work."""
    for seed in range(3):
        net = make(seed)
        arc = net.arc.copy()
        arc[[THERE, HOME]] = 0
        arcs = arc.shape[1]
        for target in range(1, arcs):
            given = []
            for each in (net, net._replace(arc=arc)):
                at = desk(arcs)
                at.ask[:3] = 0, target, 1500
                last = called.spread(each, no_books(net), at)
                given.append((last, at.label[target] if last >= 0 else None))
            assert given[0] == given[1]


def test_judge_equals_a_plain_sum() -> None:
    """Energy, breach, goal and length of random walks must be what a plain sum gives."""
    for seed, techniques in ((1, 3), (2, 0)):
        net = make(seed, techniques=techniques)
        arcs = net.arc.shape[1]
        rng = np.random.default_rng(seed)
        out = np.zeros(4)
        for _ in range(30):
            walk = rng.permutation(arcs)[: rng.integers(1, 14)].tolist()
            called.judge(net, booked(net, walk), out)
            length = int(net.arc[0, walk].sum())
            both = [a for a in walk if (a ^ 1) in walk]
            breach = 4.0 * max(0, 2000 - length, length - 5000) / 5000
            breach += 3.0 * max(0.0, net.arc[0, both].sum() - 0.4 * length) / length
            breach += 0.5 * (net.flags[0, walk].sum() == 0)
            breach += 3.0 * max(0.0, net.flags[1, walk].sum() - 0.7 * length) / length
            goal = -units(net, credits_on(net, walk)) if techniques else int(net.arc[3, walk].sum())
            assert out == pytest.approx([goal / net.limits[8] + breach + 1e-6 * length / 5000, breach, goal, length])


def assert_loop(net: Net, walk: list[int]) -> None:
    """Check every rule of *make* plainly."""
    assert walk
    assert len(set(walk)) == len(walk)
    assert not clashing(net, walk)
    for a, b in zip([net.arc.shape[1], *walk[:-1]], walk, strict=True):
        assert b in net.follow[net.offsets[a] : net.offsets[a + 1]]
    assert net.arc[6, walk[-1]] == 1
    length = net.arc[0, walk].sum()
    assert 2000 <= length <= 5000
    assert net.arc[0, [a for a in walk if a ^ 1 in walk]].sum() <= 0.4 * length + 1e-9
    assert net.flags[0, walk].any()
    assert net.flags[1, walk].sum() <= 0.7 * length + 1e-9


@pytest.mark.parametrize("techniques", [3, 0])
@pytest.mark.parametrize("seed", range(1, 6))
def test_result_is_a_loop_that_keeps_the_rules(seed: int, techniques: int) -> None:
    """What is handed over must be a closed walk with allowed turns inside the windows and shares, nothing clashing."""
    assert_loop(make(seed, techniques=techniques), run(seed, 400, techniques))


@pytest.mark.parametrize("techniques", [3, 0])
def test_going_on_from_a_loop_never_makes_it_worse(techniques: int) -> None:
    """A loop to begin with must come back as it is without moves, and as good or better with them."""
    net = make(1, techniques=techniques)

    def goal(walk: list[int]) -> int:
        return -units(net, credits_on(net, walk)) if techniques else int(net.arc[3, walk].sum())

    first = run(1, 60, techniques)
    assert run(1, 0, techniques, tuple(first)) == first
    assert goal(run(1, 600, techniques, tuple(first))) <= goal(first)


def test_stops_when_the_goal_is_good_enough() -> None:
    """With any goal good enough, the first loop must be handed over."""
    net = make(2)
    limits = net.limits.copy()
    limits[ENOUGH] = np.inf
    best = np.zeros(net.arc.shape[1] + 1, dtype=np.int64)
    walk = best[: kernel.search(net._replace(limits=limits), 2, 10_000, 0.03, best, 0)].tolist()
    assert_loop(net, walk)
    assert units(net, credits_on(net, walk)) < units(net, credits_on(net, run(2, 400, 3)))


def test_a_dead_end_without_room_leads_nowhere() -> None:
    """Where most arcs are followed by nothing, drawing arcs to go by must end, and no loop be made up."""
    net = make(1, must=0)
    arcs = net.arc.shape[1]
    begins = net.follow[net.offsets[arcs] :]
    offsets = np.append(np.zeros(arcs + 1, dtype=np.int64), len(begins))
    cut = net._replace(offsets=offsets, follow=begins)
    finishing = cut.arc.copy()
    finishing[6, begins] = 1
    finishing[HOME] = 0
    best = np.zeros(arcs + 1, dtype=np.int64)
    assert kernel.search(cut._replace(arc=finishing), 1, 200, 0.03, best, 0) in (0, 1)


def test_no_turns_no_loop() -> None:
    """A net whose trailhead has no arcs must give 0."""
    net = make(1)
    cut = net._replace(offsets=np.zeros_like(net.offsets))
    assert kernel.search(cut, 1, 50, 0.03, np.zeros(500, dtype=np.int64), 0) == 0


def test_compiled_and_plain_runs_give_the_same_walks() -> None:
    """The same seeds must give the same walks with the JIT on and off, move for move."""
    here = [run(seed, 150, techniques) for seed in (1, 2) for techniques in (3, 0)]
    switched = "0" if os.environ.get("NUMBA_DISABLE_JIT", "0") == "1" else "1"
    code = (
        "import json, runpy;"
        f"run = runpy.run_path({str(Path(__file__))!r})['run'];"
        "print(json.dumps([run(seed, 150, techniques) for seed in (1, 2) for techniques in (3, 0)]))"
    )
    environment = os.environ | {"NUMBA_DISABLE_JIT": switched, "PYTHONPATH": str(ROOT)}
    there = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    assert json.loads(there.stdout) == here


def test_missing_things_are_drawn_evenly_and_no_others() -> None:
    """With two things missing, each flagged by two arcs, all four arcs are drawn; with one taken, only the other's."""
    net = make(4, must=2)
    net.flags[:2] = 0
    net.flags[0, [3, 8]] = 1
    net.flags[1, [5, 11]] = 1
    state = np.array([77], dtype=np.int64)
    drawn = [called.draw_missing(net, no_books(net), state) for _ in range(400)]
    counts = {arc: drawn.count(arc) for arc in set(drawn)}
    assert set(counts) == {3, 5, 8, 11}
    assert min(counts.values()) > 60
    books = booked(net, [8])
    assert {called.draw_missing(net, books, state) for _ in range(60)} == {5, 11}
    assert called.draw_missing(net, booked(net, [8, 5]), state) == -1
