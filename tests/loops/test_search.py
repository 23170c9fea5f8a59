"""The whole search against a listing of every loop, against published graphs, and against itself."""

from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops, together
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Objective, Status, Technique, Verdict
from tests.loops.oracle import loops
from tests.loops.worlds import SETUPS, Trail, World, ground, tiny

RICH, CALM = Objective.TRAINING_RICH, Objective.SAFEST


def ask(
    objective: Objective = RICH,
    length_m: tuple[float, float] | None = (300.0, 1600.0),
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> LoopRequest:
    """Make a request with both set-ups."""
    return LoopRequest("loop", objective, length_m, options.pop("time_min", None), SETUPS, **options)


VARIANTS = {
    "plain": {},
    "must a segment": {"must": ("s003",)},
    "must a place": {"must": ("Muster",)},
    "avoid": {"avoid": ("s004",)},
    "once only": {"max_redriven": 0.0},
    "out and back": {"max_redriven": 1.0},
    "time only": {"length_m": None, "time_min": (20.0, 45.0)},
    "time and length": {"time_min": (10.0, 35.0)},
}


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("objective", [RICH, CALM])
def test_equals_a_listing_of_every_loop(settings: LoopSettings, objective: Objective, seed: int, variant: str) -> None:
    """Value, bound and proof must equal what a listing of all loops gives, on nets with every trap."""
    world = tiny(seed)
    request = ask(objective, **VARIANTS[variant])
    found = find_loops(world.inputs(settings), [request])
    every = list(loops(world, request, settings))
    assert found.notes[0].found == bool(every), found.notes[0].text
    if not every:
        return
    row = found.loops.iloc[0]
    assert row["proven"]
    assert row["gap"] == 0.0
    if objective is RICH:
        best = max(loop.units for loop in every)
        ties = [loop for loop in every if loop.units == best]
        assert row["value"] * 3 == pytest.approx(best, abs=1e-9)
    else:
        level = min(loop.level for loop in every)
        best = min(loop.exposure for loop in every if loop.level == level)
        ties = [loop for loop in every if loop.level == level and loop.exposure == best]
        assert row["value"] * 10 == pytest.approx(best, abs=1e-9)
        assert np.ceil(max(row["worst_utilisation"], 0.5) * 100 - 1e-7) == level
    driven = frozenset(
        (int(leg.segment_id[1:]), list(Direction).index(leg.direction)) for leg in found.legs.itertuples()
    )
    assert driven in {loop.ways for loop in ties}
    if request.length_m:
        # Ties go to the shorter, settled to a thousandth of the longest loop allowed.
        mine = next(loop.dm for loop in ties if loop.ways == driven)
        assert mine <= min(loop.dm for loop in ties) + 0.002 * request.length_m[1] * 10
    assert row["length_m"] == pytest.approx(sum(world.trails[t].length_m for t, _ in driven))


def cubic(graph: nx.Graph) -> World:
    """Make a world of a published graph, every edge 100 m, no room to turn round."""
    return World([Trail(a, b, 100.0) for a, b in sorted(graph.edges)])


@pytest.mark.parametrize(
    ("graph", "edges", "none"),
    [
        (nx.petersen_graph(), 9, 10),
        (nx.heawood_graph(), 14, 13),
        (nx.petersen_graph(), 5, 4),
        (nx.heawood_graph(), 6, 5),
    ],
    ids=["Petersen longest", "Heawood Hamiltonian", "Petersen girth", "Heawood girth"],
)
def test_cycle_lengths_of_published_graphs(settings: LoopSettings, graph: nx.Graph, edges: int, none: int) -> None:
    """In a cubic graph driven once only, loops are simple cycles, whose possible lengths are published.

    The Petersen graph has girth 5, no Hamiltonian cycle (10) and a cycle through any 9 of its nodes; the Heawood
    graph is bipartite (no odd cycle), Hamiltonian (14), of girth 6. Source: Bondy and Murty, Graph Theory with
    Applications (1976), ch. 4 and appendix III; figures from memory, the girths also computed by networkx below.
    """
    assert nx.girth(graph) in {5, 6}
    inputs = cubic(graph).inputs(settings)
    there = ask(CALM, (edges * 100.0, edges * 100.0), max_redriven=0.0)
    assert find_loops(inputs, [there]).loops["length_m"].tolist() == [edges * 100.0]
    gone = ask(CALM, (none * 100.0, none * 100.0), max_redriven=0.0)
    assert not find_loops(inputs, [gone]).notes[0].found


@pytest.mark.parametrize("seed", range(3))
def test_every_segment_both_ways_is_a_loop_where_turning_is_free(settings: LoopSettings, seed: int) -> None:
    """A connected graph with both directions of every edge is Eulerian (Euler 1736): the longest loop is all of it."""
    world = tiny(seed)
    world.trails = [Trail(t.a, t.b, t.length_m) for t in world.trails]
    world.turn_round = {n for t in world.trails for n in (t.a, t.b)}
    total = 2 * sum(round(t.length_m * 10) for t in world.trails) / 10
    found = find_loops(world.inputs(settings), [ask(CALM, (total, total), max_redriven=1.0)])
    assert len(found.legs) == 2 * len(world.trails)


def test_same_answer_twice_and_for_mixed_rows(settings: LoopSettings) -> None:
    """The same input, and the same rows in any order, must give the same tables to the last bit."""
    world = ground(40, 3)
    requests = [ask(RICH, (2500.0, 5000.0)), LoopRequest("calm", CALM, (2500.0, 5000.0), None, SETUPS)]
    first = find_loops(world.inputs(settings), requests)
    for inputs in (world.inputs(settings), world.inputs(settings, shuffle=11)):
        again = find_loops(inputs, requests)
        pd.testing.assert_frame_equal(first.legs, again.legs, check_exact=True)
        pd.testing.assert_frame_equal(pd.DataFrame(first.loops), pd.DataFrame(again.loops), check_exact=True)
        assert first.notes == again.notes


def test_inputs_stay_as_they_were(settings: LoopSettings) -> None:
    """The search must change none of its tables."""
    inputs = tiny(1).inputs(settings)
    before = [frame.copy() for frame in (inputs.network.segments, inputs.checks, inputs.verdicts, inputs.techniques)]
    find_loops(inputs, [ask()])
    after = (inputs.network.segments, inputs.checks, inputs.verdicts, inputs.techniques)
    for old, new in zip(before, after, strict=True):
        pd.testing.assert_frame_equal(pd.DataFrame(old), pd.DataFrame(new))


@pytest.mark.parametrize("objective", [RICH, CALM])
def test_alternatives_keep_the_overlap(settings: LoopSettings, objective: Objective) -> None:
    """Each alternative must share no more than its allowed share with every earlier loop, and be no better."""
    world = ground(40, 6)
    request = ask(objective, (1000.0, 4000.0), alternatives=2, max_overlap=0.6)
    found = find_loops(world.inputs(settings), [request])
    assert found.loops["rank"].tolist() == [1, 2, 3]
    lengths = {f"s{n:03d}": t.length_m for n, t in enumerate(world.trails)}
    legs = {rank: list(group["segment_id"]) for rank, group in found.legs.groupby("rank")}
    for late in (2, 3):
        for early in range(1, late):
            shared = sum(lengths[s] for s in legs[late] if s in legs[early])
            assert shared <= 0.6 * sum(lengths[s] for s in legs[late]) + 0.05 * len(legs[late])
    if objective is RICH:
        assert found.loops["value"].is_monotonic_decreasing
    else:
        assert found.loops["worst_utilisation"].max() >= found.loops["worst_utilisation"].iloc[0]


@pytest.mark.parametrize("effort", [{"nodes": 1, "interrupts": 1}, {"exact_arcs": 1}])
def test_work_limits_leave_an_honest_gap(settings: LoopSettings, effort: dict[str, int]) -> None:
    """A loop found under a tight work limit must carry a bound on the right side and no claim of proof."""
    short = settings.model_copy(update={"search": settings.search.model_copy(update=effort)})
    world = ground(40, 3)
    full = find_loops(world.inputs(settings), [ask(RICH, (2500.0, 5000.0))]).loops.iloc[0]
    row = find_loops(world.inputs(short), [ask(RICH, (2500.0, 5000.0))]).loops.iloc[0]
    assert row["value"] <= full["value"] <= row["bound"]
    assert row["gap"] == pytest.approx((row["bound"] - row["value"]) / row["value"])
    assert row["proven"] == (row["gap"] == 0.0)
    assert not row["proven"]


def test_unknown_names_are_all_named_at_once(settings: LoopSettings) -> None:
    """Names that nothing answers to must be refused together, with the nearest known one."""
    request = ask(must=("Mustr", "s001"), avoid=("nowhere at all",))
    with pytest.raises(SettingsError) as caught:
        find_loops(tiny(0).inputs(settings), [request])
    assert len(caught.value.faults) == 2
    assert 'did you mean "Muster"?' in str(caught.value)


def test_no_requests_give_empty_tables(settings: LoopSettings) -> None:
    """Without requests the tables must be empty and still keep their contracts."""
    found = find_loops(tiny(0).inputs(settings), [])
    assert len(found.loops) == 0
    assert len(found.legs) == 0
    assert found.notes == ()


def test_a_closed_segment_and_a_pair_of_parallels_are_loops(settings: LoopSettings) -> None:
    """A segment that begins and ends at one node is a loop, and so are two segments side by side."""
    ring = World([Trail(0, 0, 400.0, runs=((Technique.ROCK, Direction.WITH, 1.0),))])
    found = find_loops(ring.inputs(settings), [ask(length_m=(300.0, 500.0))])
    assert found.legs["direction"].tolist() == ["with"]
    pair = World([Trail(0, 1, 200.0), Trail(0, 1, 250.0, oneway=-1)])
    found = find_loops(pair.inputs(settings), [ask(length_m=(300.0, 500.0))])
    assert found.legs[["segment_id", "direction"]].to_numpy().tolist() == [["s000", "with"], ["s001", "against"]]


def test_a_dead_end_needs_room_to_turn(settings: LoopSettings) -> None:
    """A spur end counts as a turning place only when it is marked as one."""
    ring = [Trail(0, 1, 100.0), Trail(1, 2, 100.0), Trail(2, 0, 100.0), Trail(1, 3, 100.0)]
    request = ask(length_m=(400.0, 600.0), max_redriven=1.0, must=("s003",))
    assert not find_loops(World(ring).inputs(settings), [request]).notes[0].found
    assert find_loops(World(ring, {3}).inputs(settings), [request]).notes[0].found


def test_the_only_way_in_is_not_counted_as_redriven(settings: LoopSettings) -> None:
    """A lane that every loop must drive both ways must not make the re-driven share impossible."""
    world = World([Trail(0, 1, 300.0), Trail(1, 2, 100.0), Trail(2, 3, 100.0), Trail(3, 1, 100.0)])
    found = find_loops(world.inputs(settings), [ask(length_m=(800.0, 1000.0), max_redriven=0.0)])
    assert found.loops["length_m"].tolist() == [900.0]
    assert found.legs["start_m"].tolist() == [0.0, 300.0, 400.0, 500.0, 600.0]


def test_verdict_of_any_setup_closes_a_traversal(settings: LoopSettings) -> None:
    """A traversal barred or unsurveyed for one set-up must not be driven, in that direction only."""
    for word in (Verdict.BARRED, Verdict.UNSURVEYED):
        trails = [Trail(0, 1, 100.0), Trail(1, 2, 100.0, verdict=(word, Verdict.SPOT)), Trail(2, 0, 100.0)]
        found = find_loops(World(trails).inputs(settings), [ask(CALM)])
        assert found.legs["segment_id"].tolist() == ["s002", "s001", "s000"]
        assert set(found.legs["direction"]) == {"against"}
        assert found.legs["verdicts"].iloc[1] == "wagon: spot; truck: ample"
        alone = LoopRequest("truck", CALM, (300.0, 300.0), None, ("truck",))
        assert find_loops(World(trails).inputs(settings), [alone]).legs["direction"].tolist() == ["with"] * 3


def test_closed_proposed_and_oneway_are_kept(settings: LoopSettings) -> None:
    """Closed and proposed segments stay out, and one-way is kept."""
    for status in (Status.CLOSED, Status.PROPOSED):
        trails = [Trail(0, 1), Trail(1, 2, status=status), Trail(2, 0)]
        assert not find_loops(World(trails).inputs(settings), [ask(CALM)]).notes[0].found
    for oneway, word in ((1, "with"), (-1, "against")):
        trails = [Trail(0, 1), Trail(1, 2, oneway=oneway), Trail(2, 0)]
        assert set(find_loops(World(trails).inputs(settings), [ask(CALM)]).legs["direction"]) == {word}


def test_every_table_comes_with_a_loop_and_searches_can_be_put_together(settings: LoopSettings) -> None:
    """What it teaches sums to its value, the session ends when the loop does; two searches put together are the one."""
    inputs = ground(40, 3).inputs(settings)
    calm = LoopRequest("calm", CALM, (2500.0, 5000.0), None, SETUPS)
    rich = LoopRequest("rich", RICH, (2500.0, 5000.0), None, SETUPS, alternatives=1, laps=1)
    whole = find_loops(inputs, [rich, calm])
    for name, rank, value, minutes, kind in whole.loops[["loop", "rank", "value", "time_min", "objective"]].itertuples(
        index=False
    ):
        practice, session = (
            table[(table["loop"] == name) & (table["rank"] == rank)] for table in (whole.practice, whole.session)
        )
        assert len(practice)
        if kind == RICH:
            assert practice["points"].sum() == pytest.approx(value)
        assert session["start_min"].iloc[-1] == pytest.approx(minutes)
    assert set(whole.convoy["loop"]) == {"rich", "calm"}
    apart = together([find_loops(inputs, [calm]), find_loops(inputs, [rich])], ["rich", "calm"])
    for name in ("loops", "legs", "practice", "session", "bypasses", "convoy"):
        one, other = (pd.DataFrame(getattr(found, name)) for found in (whole, apart))
        pd.testing.assert_frame_equal(one, other)
    assert whole.notes == apart.notes


def test_the_note_tells_what_alternatives_share(settings: LoopSettings) -> None:
    """The share told is that of the legs, rounded to a whole percent, and no more than is allowed."""
    world = ground(40, 6)
    found = find_loops(world.inputs(settings), [ask(RICH, (1000.0, 4000.0), alternatives=1, max_overlap=0.5)])
    lengths = {f"s{n:03d}": t.length_m for n, t in enumerate(world.trails)}
    first, second = (list(group["segment_id"]) for _, group in found.legs.groupby("rank"))
    share = sum(lengths[s] for s in second if s in first) / sum(lengths[s] for s in second)
    assert f"loop 2 shares {share * 100:.0f} % of its length with an earlier one" in found.notes[0].text
    assert share <= 0.5 + 1e-3


def test_an_unknown_aim_is_refused(settings: LoopSettings) -> None:
    """It is told beside the other names that nothing answers to."""
    with pytest.raises(SettingsError) as caught:
        find_loops(tiny(0).inputs(settings), [ask(aim="all-rond", must=("Mustr",))])
    assert len(caught.value.faults) == 2
    assert 'did you mean "all-round"?' in str(caught.value)
