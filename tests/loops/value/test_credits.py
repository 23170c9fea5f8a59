"""Credits: how a run fits a driver, what is lost by meeting it again; worked by hand and for any runs."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.loops.graph import Ground, allowed_graph, make_arcs
from pipeline.loops.moves import Move, Round, Terms, single_moves, sum_up
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.runs import Run
from pipeline.loops.settings import LoopSettings
from pipeline.loops.traversals import Traversal
from pipeline.loops.value.credits import credits_of, practised_on, repeated
from pipeline.loops.value.objective import GainCurve
from pipeline.technique.practice import Band, Practice
from pipeline.terms import Direction, Driver, Objective, Technique
from tests.loops.parts import plan_of
from tests.loops.worlds import PLAIN, SETUPS, Trail, World, taught

CLIMB, DESCENT, ROCK, SIDE = Technique.CLIMB, Technique.DESCENT, Technique.ROCK, Technique.SIDE_SLOPE
WITH, AGAINST = Direction.WITH, Direction.AGAINST
PEAKED = Band(easy_share=0.4, best_from=0.5, best_to=0.5, hard_share=0.2)
RISING = Band(easy_share=0.0, best_from=1.0, best_to=1.0, hard_share=1.0)
FITTED = PLAIN.model_copy(
    update={
        "band": {Driver.FIRST_TIMER: PEAKED, Driver.PRACTISED: RISING, Driver.EXPERT: RISING},
        "aims": {"all-round": {CLIMB: 3, ROCK: 2, SIDE: 1}},
        "repeat_share": 0.25,
    }
)
CURVE = GainCurve((CLIMB, ROCK), np.array([3, 2]), np.array([400.0, 5.0]))


def plan(world: World, settings: LoopSettings, practice: Practice = FITTED, laps: int = 1) -> Plan:
    """Make the plan of a request with both set-ups."""
    request = LoopRequest("x", Objective.TRAINING_RICH, (1.0, 6000.0), None, SETUPS, laps=laps)
    return make_plan(world.inputs(settings, practice), request)


class Segment:
    """One segment, one set-up; what both directions exercise is put in, every intensity fitting."""

    def __init__(self, settings: LoopSettings) -> None:
        """Make it bare."""
        self.inputs = World([Trail(0, 1)]).inputs(settings, PLAIN)
        self.bare = plan_of(World([Trail(0, 1)]), settings).traversals[0]

    def __call__(self, first: list[Run], second: list[Run]) -> tuple[Traversal, Traversal]:
        """Give its two directions."""
        return self.direction(first), self.direction(second)

    def direction(self, runs: list[Run]) -> Traversal:
        """Give a direction with some runs."""
        by_run = credits_of(runs, self.inputs, "wagon", CURVE)[None]
        return replace(self.bare, runs=tuple(runs), by_run=by_run, practised=by_run.sum(axis=2))


@pytest.fixture(scope="module")
def both(settings: LoopSettings) -> Segment:
    """Give a segment to put runs in."""
    return Segment(settings)


def test_each_run_is_weighed_by_how_it_fits(settings: LoopSettings) -> None:
    """Credits of a run are amount × share ÷ saturation × 100, each in the row of its technique; others give none."""
    runs = [Run(CLIMB, 0, 40, 40, 0.25), Run(ROCK, 5, 5, 1, 1.0), Run(SIDE, 0, 9, 9, 0.5), Run(CLIMB, 50, 70, 20, 1.0)]
    inputs = World([Trail(0, 1)]).inputs(settings, FITTED)
    wagon, truck = (credits_of(runs, inputs, setup, CURVE) for setup in SETUPS)
    # The first-timer: 0.4 + 0.6 × ½ = 0.7 at 0.25, 0.2 at 1; the practised driver: as the intensity.
    assert wagon == pytest.approx(np.array([[10 * 0.7, 0, 0, 5 * 0.2], [0, 20 * 0.2, 0, 0]]))
    assert truck == pytest.approx(np.array([[10 * 0.25, 0, 0, 5], [0, 20, 0, 0]]))


def test_credits_are_the_mean_over_the_setups(settings: LoopSettings) -> None:
    """A move gives the mean of what its set-ups practise, rounded; what only one direction has is not lost."""
    world = World([Trail(0, 1, 200.0, features=((ROCK, WITH, 1.0, 0.5, 0.5, 1.0), (CLIMB, WITH, 80.0, 0, 0.4, 0.5)))])
    arcs = plan(world, settings).quest.arcs
    # Rock: 100 ÷ 6 × (0.2 + 1) ÷ 2 = 10; climb: 20 × (1 + 0.5) ÷ 2 = 15; side slope: none.
    assert arcs.credits.tolist() == [[15, 0, 10], [0, 0, 0]]
    assert arcs.pairs.lost.tolist() == [[0, 0, 0]]


@pytest.mark.parametrize(
    ("first", "second", "lost"),
    [
        ([Run(CLIMB, 0, 80, 80, 1.0)], [Run(CLIMB, 0, 80, 80, 1.0)], 20.0),
        ([Run(CLIMB, 0, 80, 80, 1.0)], [Run(CLIMB, 60, 100, 40, 1.0)], 10.0),
        ([Run(CLIMB, 0, 80, 80, 1.0)], [Run(CLIMB, 80, 120, 40, 1.0)], 0.0),
        ([Run(CLIMB, 0, 80, 80, 1.0)], [Run(DESCENT, 0, 80, 80, 1.0)], 0.0),
        ([Run(CLIMB, 0, 80, 80, 1.0)], [], 0.0),
        ([Run(CLIMB, 0, 100, 40, 1), Run(CLIMB, 90, 140, 20, 1)], [Run(CLIMB, 120, 150, 100, 1)], 15.0),
        ([Run(CLIMB, 0, 10, 40, 1), Run(CLIMB, 90, 140, 20, 1)], [Run(CLIMB, 120, 150, 100, 1)], 5.0),
        ([Run(CLIMB, 0, 10, 40, 1), Run(CLIMB, 2, 3, 4, 1)], [Run(CLIMB, 8, 9, 100, 1)], 11.0),
    ],
    ids=["same", "overlapping", "touching", "other way", "one way only", "chained", "apart", "inside"],
)
def test_what_is_met_again_gives_a_share(both: Segment, first: list[Run], second: list[Run], lost: float) -> None:
    """Of runs of one technique that overlap, the direction that gives less counts again only in part; climb: 400 m."""
    there, back = both(first, second)
    assert repeated(there, back, 0.0)[0].tolist() == pytest.approx([lost, 0.0])
    assert repeated(back, there, 0.0)[0].tolist() == pytest.approx([lost, 0.0])
    assert repeated(there, back, 0.4)[0].tolist() == pytest.approx([lost * 0.6, 0.0])
    assert repeated(there, back, 1.0)[0].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(("at", "lost"), [(0.0, 20.0), (20.0, 20.0), (35.0, 20.0), (35.1, 0.0)])
def test_a_single_place_is_met_where_it_touches(both: Segment, at: float, lost: float) -> None:
    """A thing without length is the same feature where it lies on the other's stretch, ends included."""
    there, back = both([Run(ROCK, 0.0, 35.0, 1.0, 0.5)], [Run(ROCK, at, at, 1.0, 0.5)])
    assert repeated(there, back, 0.0)[0, 1] == pytest.approx(lost)


_RUNS = st.lists(
    st.builds(
        lambda t, begin, long, amount: Run(t, begin, begin + long, amount, 0.5),
        st.sampled_from([CLIMB, ROCK, SIDE]),
        st.floats(0, 100),
        st.sampled_from([0.0, 1.0, 30.0]),
        st.floats(0, 50),
    ),
    max_size=6,
)


@given(_RUNS, _RUNS, st.floats(0, 1))
def test_never_more_is_lost_than_either_direction_gives(
    both: Segment, first: list[Run], second: list[Run], again: float
) -> None:
    """The loss lies between nothing and the smaller of the two, whatever the runs, and is the same either way round."""
    there, back = both(first, second)
    lost = repeated(there, back, again)
    assert (lost >= 0.0).all()
    assert (lost <= np.minimum(there.practised, back.practised) * (1.0 - again) + 1e-9).all()
    assert repeated(back, there, again) == pytest.approx(lost)


def test_further_laps_and_ways_back_count_in_part(settings: LoopSettings) -> None:
    """Every meeting after the first gives the share of a repeat: laps, and both directions inside one way."""
    world = World([Trail(0, 1, 200.0, features=((SIDE, WITH, 60, 0, 0.3, 0.5), (SIDE, AGAINST, 30, 0, 0.3, 0.5)))])
    made = plan(world, settings)
    side, share = made.quest.curve.techniques.index(SIDE), FITTED.repeat_share

    def on(path: tuple[int, ...], laps: int) -> float:
        return float(practised_on(path, made.traversals, 0, Terms(0.5, laps, share))[side])

    # The first-timer's best is 0.5: 60 m and 30 m of 300 m.
    assert on((0,), 1) == pytest.approx(20.0)
    assert on((0,), 3) == pytest.approx(20.0 * 1.5)
    assert on((0, 1), 1) == on((1, 0), 1) == pytest.approx(20.0 + 10.0 * share)
    assert on((0, 1), 2) == pytest.approx(20.0 + 10.0 * share + 30.0 * share)
    assert on((), 2) == 0.0


def test_an_arc_there_and_one_back_lose_once(settings: LoopSettings) -> None:
    """A walk both ways has what its arcs have less the pair's loss, in whole credits."""
    world = World(
        [Trail(0, 1, 200.0, features=((SIDE, WITH, 60, 0, 0.3, 0.5), (SIDE, AGAINST, 60, 0, 0.3, 0.5)))], {1, 0}
    )
    arcs = plan(world, settings).quest.arcs
    # 20 credits for the first-timer, 10 for the other, each way: 15; three quarters of it lost: 11.25, rounded down.
    assert arcs.credits[:, 1].tolist() == [15, 15]
    assert arcs.credits_on(np.array([0, 1])).tolist() == [0, 30 - 11, 0]
    assert arcs.credits_on(np.array([0])).tolist() == [0, 15, 0]


def test_who_goes_round_loses_nothing(settings: LoopSettings) -> None:
    """Where one set-up goes round an arc, only the other meets its features again on the way back."""
    features = ((SIDE, WITH, 60, 0, 0.3, 0.5), (SIDE, AGAINST, 60, 0, 0.3, 0.5))
    world = World([Trail(0, 1, 200.0, features=features), Trail(1, 0, 250.0)], {0, 1})
    made = plan(world, settings)
    network = world.inputs(settings).network
    moves = [*single_moves(made.traversals), Move((0,), (Round(0, (3,)),))]

    def lost(again: float) -> list[list[int]]:
        terms = Terms(0.5, 1, again)
        graph = allowed_graph(moves, made.traversals, network)
        arcs = make_arcs(Ground(graph, moves, made.traversals, network.trailhead_node, terms, 180.0))
        return [[*pair, int(row[1])] for pair, row in zip(arcs.pairs.arcs.tolist(), arcs.pairs.lost, strict=True)]

    # Both: (20 + 10) ÷ 2; only the practised driver of the truck: 10 ÷ 2.
    assert lost(0.0) == [[0, 1, 15], [1, 4, 5], [2, 3, 0]]
    assert lost(1.0) == [[0, 1, 0], [1, 4, 0], [2, 3, 0]]
    alone = sum_up(moves[4], made.traversals, Terms(0.5, 1, 0.0)).credits
    assert alone.tolist() == pytest.approx([0.0, 5.0, 0.0])


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("share", [0.0, 0.5])
def test_no_walk_has_less_than_nothing(settings: LoopSettings, seed: int, share: float) -> None:
    """All arcs together, and any part of them, keep credits of at least 0, and more arcs never have fewer."""
    practice = FITTED.model_copy(update={"repeat_share": share})
    arcs = plan(taught(seed), settings, practice, laps=2).quest.arcs
    order = np.random.default_rng(seed).permutation(len(arcs))
    before = np.zeros(arcs.credits.shape[1], dtype=np.int64)
    for count in range(1, len(order) + 1):
        got = arcs.credits_on(order[:count])
        assert (got >= before).all()
        before = got
    assert before.sum() > 0


def test_plain_practice_is_what_the_runs_add_up_to(settings: LoopSettings) -> None:
    """Where everything fits and nothing is lost, credits are amounts over saturation."""
    arcs = plan_of(World([Trail(0, 1, 100.0, runs=((CLIMB, WITH, 36.0),))]), settings).quest.arcs
    assert arcs.credits[:, 0].tolist() == [9, 0]
    assert not arcs.pairs.lost.any()
