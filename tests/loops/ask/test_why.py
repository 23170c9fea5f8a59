"""Why a segment is not driven: every standing on a world made for it, and figures that a search of its own confirms."""

from dataclasses import replace
from typing import Any

import pytest

from pipeline.loops.ask.why import Standing, Why, why
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Objective, Status, Technique, Verdict
from tests.loops.worlds import SETUPS, Trail, World, ground

RICH, CALM = Objective.TRAINING_RICH, Objective.SAFEST
SQUARE = [Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 0)]


def asked(
    settings: LoopSettings,
    world: World,
    segment: str,
    length_m: tuple[float, float] = (300.0, 600.0),
    objective: Objective = CALM,
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> Why:
    """Ask why a segment is not driven by the one loop asked for."""
    return why(world.inputs(settings), LoopRequest("loop", objective, length_m, None, SETUPS, **options), segment)


def test_a_driven_segment_is_told_with_direction_and_rank(settings: LoopSettings) -> None:
    """The only loop drives it in one direction; an alternative is told by its number."""
    world = World([*SQUARE, Trail(0, 4, 120.0), Trail(4, 5, 120.0), Trail(5, 0, 120.0)])
    told = asked(settings, world, "s001", max_redriven=0.0, alternatives=1, length_m=(300.0, 500.0))
    other = asked(settings, world, "s005", max_redriven=0.0, alternatives=1, length_m=(300.0, 500.0))
    assert {told.standing, other.standing} == {Standing.USED}
    assert {told.text.split(" by ")[1], other.text.split(" by ")[1]} == {"the best loop", "loop 2"}


@pytest.mark.parametrize(
    ("trail", "options", "said"),
    [
        (Trail(0, 2, status=Status.CLOSED), {}, ("closed", "closed")),
        (Trail(0, 2), {"avoid": ("s004",)}, ("avoided", "avoided")),
        (
            Trail(0, 2, oneway=1, verdict=(Verdict.BARRED, Verdict.AMPLE)),
            {},
            ("barred for wagon: made up", "one-way"),
        ),
        (
            Trail(0, 2, verdict=(Verdict.UNSURVEYED, Verdict.BARRED)),
            {},
            ("unsurveyed for wagon: made up", "barred for wagon: made up"),
        ),
    ],
)
def test_what_refuses_it_is_told_for_each_direction(
    settings: LoopSettings, trail: Trail, options: dict[str, Any], said: tuple[str, str]
) -> None:
    """Closed, avoided, one-way, barred and unsurveyed, with the sentence of the check that decides."""
    told = asked(settings, World([*SQUARE, trail]), "s004", **options)
    assert told.standing is Standing.REFUSED
    assert tuple(way.refusals[0] for way in told.ways) == said
    assert [way.direction for way in told.ways] == ["with", "against"]


def test_no_way_there(settings: LoopSettings) -> None:
    """Beyond a closed segment nothing can be reached."""
    world = World([*SQUARE, Trail(2, 4, status=Status.CLOSED), Trail(4, 5)])
    assert asked(settings, world, "s005").standing is Standing.CUT_OFF


def test_a_dead_end_without_room(settings: LoopSettings) -> None:
    """A spur without room to turn is told as that; with room it is not."""
    assert asked(settings, World([*SQUARE, Trail(2, 4)]), "s004").standing is Standing.NO_ROOM
    roomy = asked(settings, World([*SQUARE, Trail(2, 4)], {4}), "s004", max_redriven=1.0)
    assert roomy.standing is not Standing.NO_ROOM


def test_too_far_is_told_with_the_shortest_way(settings: LoopSettings) -> None:
    """The way there and back is that of the ring it lies on."""
    world = World([*SQUARE, Trail(2, 4, 400.0), Trail(4, 3, 400.0)])
    told = asked(settings, world, "s004", max_redriven=0.0)
    assert told.standing is Standing.OUT_OF_REACH
    assert told.text == "the shortest way there and back takes 1100 m, length_m ends at 600 m"


def test_rules_that_leave_it_out_are_told_with_the_smallest_change(settings: LoopSettings) -> None:
    """A spur with room to turn is driven twice: the share needed is told."""
    told = asked(settings, World([*SQUARE, Trail(2, 4)], {4}), "s004", (550.0, 650.0), max_redriven=0.0)
    assert told.standing is Standing.RULED_OUT
    assert "max_redriven = 0.34 instead of 0.00" in told.text


@pytest.mark.parametrize("objective", [RICH, CALM])
def test_what_a_loop_with_it_is_worth(settings: LoopSettings, objective: Objective) -> None:
    """Value and bound are those of a search with the segment as one more thing to take in, and never better."""
    world = ground(30, 3)
    request = LoopRequest("loop", objective, (1500.0, 3500.0), None, SETUPS)
    inputs = world.inputs(settings)
    best = find_loops(inputs, [request])
    driven = set(best.legs["segment_id"])
    found = 0
    for segment in sorted(set(inputs.network.segments["segment_id"]) - driven)[:12]:
        told = why(inputs, request, segment)
        anew = find_loops(inputs, [replace(request, must=(segment,))])
        assert (told.standing is Standing.ALLOWED) == anew.notes[0].found, told
        if told.with_it is None or told.best is None:
            continue
        found += 1
        assert told.with_it.value == pytest.approx(anew.loops["value"].iloc[0])
        assert told.with_it.bound == pytest.approx(anew.loops["bound"].iloc[0])
        mine = set(anew.legs["segment_id"])
        assert (set(told.left_out), set(told.taken_in)) == (driven - mine, mine - driven)
        if objective is RICH:
            assert told.with_it.value <= told.best.value
        else:
            assert told.with_it.worst_utilisation >= told.best.worst_utilisation
    assert found > 2


def test_a_number_is_never_told_without_its_bound(settings: LoopSettings) -> None:
    """Both loops carry value, bound, its name and whether it is proven."""
    run = ((Technique.ROCK, Direction.WITH, 1.0),)
    world = World([Trail(0, 1, runs=run), *SQUARE[1:], Trail(0, 4, 150.0), Trail(4, 0, 160.0)])
    told = asked(settings, world, "s004", (300.0, 450.0), RICH, max_redriven=0.0)
    assert told.standing is Standing.ALLOWED
    assert told.text.count("none has more than") == 2
    assert told.text.count("proven best") == 2
    assert "it would leave out s000, s001, s002, s003" in told.text
    assert "it would take in s004, s005" in told.text


def test_where_no_loop_is_found_at_all_nothing_is_compared(settings: LoopSettings) -> None:
    """Without a best loop the answer still says how the segment stands."""
    told = asked(settings, World(SQUARE), "s000", (450.0, 500.0), max_redriven=0.0)
    assert told.standing is Standing.RULED_OUT
    assert told.best is None
    assert "length_m from 400 m instead of 450 m (50 m shorter)" in told.text
