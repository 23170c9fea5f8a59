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

pytestmark = pytest.mark.kernel
ROOT = Path(__file__).parents[2]
FAR = 1e299


def make(seed: int, *, nodes: int = 12, techniques: int = 3, must: int = 1, earlier: int = 1) -> kernel.Net:
    """Make a random net; two techniques or more maximise a gain, none minimises a cost."""
    rng = np.random.default_rng(seed)
    graph = nx.connected_watts_strogatz_graph(nodes, 4, 0.3, seed=seed)
    ends = [pair for edge in sorted(graph.edges) for pair in (edge, edge[::-1])]
    tail, head = (np.array(side) for side in zip(*ends, strict=True))
    arcs = len(ends)
    opposite = np.arange(arcs) ^ 1
    room = rng.random(nodes) < 0.2
    follow = [
        [b for b in range(arcs) if tail[b] == head[a] and (b != opposite[a] or room[head[a]])] for a in range(arcs)
    ]
    follow.append(np.flatnonzero(tail == 0).tolist())
    length = np.repeat(rng.integers(100, 900, arcs // 2), 2)
    cost = np.repeat(rng.integers(0, 300, arcs // 2), 2)
    table = np.concatenate(
        (
            np.zeros((techniques, 1), int),
            np.cumsum(np.repeat([[3, 2, 1]], 5, axis=1), axis=1).repeat(techniques, axis=0),
        ),
        axis=1,
    )
    flags = np.zeros((must + earlier, arcs), dtype=np.int64)
    flags[:must, rng.integers(arcs, size=must)] = 1
    flags[must:] = rng.random((earlier, arcs)) < 0.3
    limits = [2000, 5000, 0, 1e9, 5000, must, 0.4, 0.7, 45 * techniques if techniques else 2000]
    return kernel.Net(
        offsets=np.concatenate(([0], np.cumsum([len(f) for f in follow]))).astype(np.int64),
        follow=np.array([b for f in follow for b in f], dtype=np.int64),
        arc=np.stack([length, length // 3, length, cost, opposite, np.ones(arcs, int), (head == 0).astype(int)]).astype(
            np.int64
        ),
        gains=rng.integers(0, 4, (arcs, techniques)).astype(np.int64),
        curve=table.astype(np.int64),
        flags=flags,
        limits=np.array(limits, dtype=np.float64),
    )


def run(seed: int, moves: int, techniques: int) -> list[int]:
    """Run one search and give its walk."""
    net = make(seed, techniques=techniques)
    best = np.zeros(2 * net.arc.shape[1] + 2, dtype=np.int64)
    return best[: kernel.search(net, seed, moves, best)].tolist()


def test_generator_gives_the_published_numbers() -> None:
    """From 2463534242 xorshift 13, 17, 5 gives 723471715, 2497366906, 2064144800 (Marsaglia 2003; from memory)."""
    state = np.array([2463534242], dtype=np.int64)
    drawn = []
    for _ in range(3):
        assert 0.0 <= kernel._draw(state) < 1.0
        drawn.append(int(state[0]))
    assert drawn == [723471715, 2497366906, 2064144800]


def test_draws_are_spread_evenly() -> None:
    """The mean and variance of many draws must be those of the uniform distribution, 1/2 and 1/12."""
    state = np.array([12345], dtype=np.int64)
    draws = np.array([kernel._draw(state) for _ in range(4000)])
    assert abs(draws.mean() - 0.5) < 0.02
    assert abs(draws.var() - 1 / 12) < 0.005


def test_worth_is_the_step_of_the_curve() -> None:
    """The gain of an arc must be the difference of the curve before and after it, capped at its end."""
    net = make(1)
    rng = np.random.default_rng(0)
    for _ in range(50):
        have, arc = rng.integers(0, 20, 3), int(rng.integers(net.arc.shape[1]))
        more = have + net.gains[arc]
        plain = sum(net.curve[t, min(15, more[t])] - net.curve[t, min(15, have[t])] for t in range(3))
        assert kernel._worth(net, have, arc) == plain


@pytest.mark.parametrize("seed", range(4))
def test_labels_equal_networkx(seed: int) -> None:
    """Labels within a generous budget must be the shortest ways on the graph of turns."""
    net = make(seed)
    arcs = net.arc.shape[1]
    rng = np.random.default_rng(seed)
    weight, label = rng.uniform(0.1, 5.0, arcs), np.zeros(arcs)
    used = (rng.random(arcs) < 0.2).astype(np.int64)
    source = int(rng.integers(arcs))
    scratch = np.zeros((5, arcs + 4), dtype=np.int64)
    scratch[4, :3] = source, -1, 10**9
    kernel._spread(net, used, weight, label, scratch)
    graph = nx.DiGraph()
    graph.add_node("out")
    for a in [*range(arcs), source]:
        for b in net.follow[net.offsets[a] : net.offsets[a + 1]].tolist():
            if not used[b]:
                graph.add_edge(a, b, weight=weight[b])
                if a == source:
                    graph.add_edge("out", b, weight=weight[b])
    plain = nx.single_source_dijkstra_path_length(graph, "out")
    for arc in range(arcs):
        assert label[arc] == pytest.approx(plain[arc]) if arc in plain else label[arc] > FAR


def test_labels_stay_within_the_budget() -> None:
    """No arc may be reached by more way than the budget."""
    net = make(2)
    arcs = net.arc.shape[1]
    label, scratch = np.zeros(arcs), np.zeros((5, arcs + 4), dtype=np.int64)
    scratch[4, :3] = arcs, -1, 1200
    kernel._spread(net, np.zeros(arcs, dtype=np.int64), np.ones(arcs), label, scratch)
    reached = np.flatnonzero(label < FAR)
    assert 0 < len(reached) < arcs
    assert (scratch[0, reached] <= 1200).all()


def test_judge_equals_a_plain_sum() -> None:
    """Energy, breach, goal and length of random walks must be what a plain sum gives."""
    for seed, techniques in ((1, 3), (2, 0)):
        net = make(seed, techniques=techniques)
        arcs = net.arc.shape[1]
        rng = np.random.default_rng(seed)
        out, used, have = np.zeros(4), np.zeros(arcs, dtype=np.int64), np.zeros(techniques, dtype=np.int64)
        for _ in range(30):
            walk = rng.permutation(arcs)[: rng.integers(1, 14)].astype(np.int64)
            kernel._judge(net, walk, used, have, out)
            length = int(net.arc[0, walk].sum())
            both = [a for a in walk if (a ^ 1) in walk]
            breach = 4.0 * max(0, 2000 - length, length - 5000) / 5000
            breach += 3.0 * max(0.0, net.arc[0, both].sum() - 0.4 * length) / length
            breach += 0.5 * (net.flags[0, walk].sum() == 0)
            breach += 3.0 * max(0.0, (net.flags[1, walk] * net.arc[0, walk]).sum() - 0.7 * length) / length
            got = net.gains[walk].sum(axis=0)
            goal = -sum(net.curve[t, min(15, got[t])] for t in range(techniques))
            goal = goal if techniques else int(net.arc[3, walk].sum())
            scale = net.limits[8]
            assert out == pytest.approx([goal / scale + breach + 1e-6 * length / 5000, breach, goal, length])
            assert np.flatnonzero(used).tolist() == sorted(walk.tolist())


@pytest.mark.parametrize("techniques", [3, 0])
@pytest.mark.parametrize("seed", range(1, 4))
def test_result_is_a_loop_that_keeps_the_rules(seed: int, techniques: int) -> None:
    """What is handed over must be a closed walk with allowed turns inside the windows and shares."""
    net = make(seed, techniques=techniques)
    walk = run(seed, 400, techniques)
    assert walk
    assert len(set(walk)) == len(walk)
    arcs = net.arc.shape[1]
    for a, b in zip([arcs, *walk[:-1]], walk, strict=True):
        assert b in net.follow[net.offsets[a] : net.offsets[a + 1]]
    assert net.arc[6, walk[-1]] == 1
    length = net.arc[0, walk].sum()
    assert 2000 <= length <= 5000
    assert net.arc[0, [a for a in walk if a ^ 1 in walk]].sum() <= 0.4 * length + 1e-9
    assert net.flags[0, walk].any()
    assert (net.flags[1, walk] * net.arc[0, walk]).sum() <= 0.7 * length + 1e-9


def test_no_turns_no_loop() -> None:
    """A net whose trailhead has no arcs must give 0."""
    net = make(1)
    cut = net._replace(offsets=np.zeros_like(net.offsets))
    assert kernel.search(cut, 1, 50, np.zeros(500, dtype=np.int64)) == 0


def test_compiled_and_plain_runs_give_the_same_walks() -> None:
    """The same seeds must give the same walks with the JIT on and off, move for move."""
    here = [run(seed, 120, techniques) for seed in (1, 2) for techniques in (3, 0)]
    switched = "0" if os.environ.get("NUMBA_DISABLE_JIT", "0") == "1" else "1"
    code = (
        "import json, runpy;"
        f"run = runpy.run_path({str(Path(__file__))!r})['run'];"
        "print(json.dumps([run(seed, 120, techniques) for seed in (1, 2) for techniques in (3, 0)]))"
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
    state, used = np.array([77], dtype=np.int64), np.zeros(net.arc.shape[1], dtype=np.int64)
    drawn = [kernel._draw_missing(net, used, state) for _ in range(400)]
    counts = {arc: drawn.count(arc) for arc in set(drawn)}
    assert set(counts) == {3, 5, 8, 11}
    assert min(counts.values()) > 60
    used[8] = 1
    assert {kernel._draw_missing(net, used, state) for _ in range(60)} == {5, 11}
    used[5] = 1
    assert kernel._draw_missing(net, used, state) == -1
