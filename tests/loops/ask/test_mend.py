"""What would give a loop: every change told is made in turn and must give one; a smaller one must not."""

import re
from dataclasses import replace
from typing import Any

import pytest

from pipeline.loops.ask.change import Change, Effort
from pipeline.loops.ask.mend import changes_of, possible
from pipeline.loops.plan import make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Driver, Objective, Status, Verdict
from tests.loops.worlds import SETUPS, Trail, World, tiny

SQUARE = [Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 0)]
SHUT = (Verdict.BARRED, Verdict.BARRED)


def request_of(
    length_m: tuple[float, float] = (300.0, 500.0),
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> LoopRequest:
    """Ask for a calm loop with both set-ups."""
    return LoopRequest("loop", Objective.SAFEST, length_m, options.pop("time_min", None), SETUPS, **options)


def told(inputs: LoopInputs, request: LoopRequest) -> list[Change]:
    """List the changes, smallest first."""
    return sorted(changes_of(inputs, make_plan(inputs, request)))


def test_the_fewest_segments_are_opened(settings: LoopSettings) -> None:
    """One closed segment rather than two barred ones, with what shuts it."""
    world = World([
        Trail(0, 1),
        Trail(1, 0, 150.0, status=Status.CLOSED),
        Trail(1, 2, 30.0, verdict=SHUT),
        Trail(2, 0, 30.0, verdict=SHUT),
    ])  # fmt: skip
    inputs = world.inputs(settings)
    (opened,) = [c for c in told(inputs, request_of((50.0, 400.0))) if "if this were not so" in c.words]
    assert opened.size == 1.0
    assert re.fullmatch(r"if this were not so: s001 (with|against) \(closed\)", opened.words)


def test_what_bars_an_opened_segment_is_told_by_set_up(settings: LoopSettings) -> None:
    """Nobody is told to open what is barred without being told for whom and why."""
    world = World([*SQUARE[:3], Trail(3, 0, verdict=SHUT)])
    words = [change.words for change in told(world.inputs(settings), request_of(max_redriven=0.0))]
    assert any(
        "s003 with (barred for wagon: made up)" in one or "s003 against (barred for wagon" in one for one in words
    )


def test_who_stops_the_group_may_go_round_or_stay_behind(settings: LoopSettings) -> None:
    """The wagon alone is barred; it has a way round. Going round is the smaller change."""
    world = World([*SQUARE[:3], Trail(3, 0, 200.0, verdict=SHUT), Trail(3, 0, 260.0, oneway=1)], {0, 3})
    inputs = world.inputs(settings)
    request = request_of((500.0, 500.0), max_redriven=0.0)
    assert not possible(inputs, request)
    changes = [change for change in told(inputs, request) if change.effort is Effort.GROUP]
    assert [change.words for change in changes] == [
        '"wagon" in bypass: it goes round what it may not drive',
        'without the set-up "wagon"',
    ]
    assert possible(inputs, replace(request, bypass=("wagon",)))
    assert possible(inputs, replace(request, setups=("truck",)))


def test_the_share_driven_twice_is_the_least(settings: LoopSettings) -> None:
    """A hundredth less gives no loop; the one told does."""
    world = World([*SQUARE, Trail(2, 4), Trail(1, 5, 160.0)], {4, 5})
    request = request_of((590.0, 800.0), max_redriven=0.1)
    inputs = world.inputs(settings)
    (change,) = [one for one in told(inputs, request) if one.words.startswith("max_redriven")]
    share = float(change.words.split()[2])
    assert possible(inputs, replace(request, max_redriven=share))
    assert not possible(inputs, replace(request, max_redriven=share - 0.01))


@pytest.mark.parametrize("seed", [0, 2, 3])
def test_windows_told_are_enough_and_no_more_than_needed(settings: LoopSettings, seed: int) -> None:
    """On small nets with every trap: the window told holds a loop, one a decimetre short of it does not."""
    inputs = tiny(seed).inputs(settings)
    request = request_of((3000.0, 3010.0))
    assert not possible(inputs, request)
    changes = told(inputs, request)
    assert any(change.words.startswith("length_m") for change in changes)
    for change in changes:
        found = re.match(r"length_m (up to|from) (\d+) m", change.words)
        if found is None:
            continue
        metres = float(found[2])
        low, high = request.length_m or (0.0, 0.0)
        window, less = (low, metres), (low, metres - 1.0)
        if found[1] == "from":
            window, less = (metres, high), (metres + 1.0, high)
        assert possible(inputs, replace(request, length_m=window))
        assert not possible(inputs, replace(request, length_m=less))


def test_of_two_loops_that_are_driven_partly_twice_the_one_with_less_counts(settings: LoopSettings) -> None:
    """The shorter loop has a spur of 60 m to the place, the longer one a spur of 50 m: 0.13 is enough, not 0.24."""
    far = [Trail(0, 5, 350.0), Trail(5, 0, 350.0), Trail(5, 6, 50.0)]
    world = World([*SQUARE, Trail(2, 4, 60.0), *far], {4, 6}, {4: "Viewpoint", 6: "Viewpoint"})
    request = request_of((500.0, 900.0), max_redriven=0.0, must=("Viewpoint",))
    words = [one.words for one in told(world.inputs(settings), request)]
    assert "max_redriven = 0.13 instead of 0.00" in words


def test_a_window_in_a_gap_may_move_either_way(settings: LoopSettings) -> None:
    """The nearest loop on either side counts, not the farthest."""
    rings = [Trail(0, 4, 250.0), Trail(4, 0, 250.0), Trail(0, 5, 500.0), Trail(5, 0, 500.0), Trail(0, 6), Trail(6, 0)]
    request = request_of((550.0, 590.0), max_redriven=0.0)
    words = [one.words for one in told(World([*SQUARE, *rings]).inputs(settings), request)]
    assert "length_m up to 600 m instead of 590 m (10 m longer)" in words
    assert "length_m from 500 m instead of 550 m (50 m shorter)" in words


def test_fewest_means_shut_segments_not_segments(settings: LoopSettings) -> None:
    """A way of many open segments and a shut one comes before a short way of two shut ones."""
    shut = [Trail(0, 1, 30.0, status=Status.CLOSED), Trail(1, 0, 40.0, status=Status.CLOSED)]
    ring = [*SQUARE[:3], Trail(3, 0, 50.0, status=Status.CLOSED)]
    world = World([shut[1], shut[0], *(replace_ends(trail, 10) for trail in ring)])
    (opened,) = [c for c in told(world.inputs(settings), request_of((50.0, 400.0))) if "not so" in c.words]
    assert opened.size == 1.0
    assert "s005" in opened.words


def replace_ends(trail: Trail, by: int) -> Trail:
    """Lay a trail between nodes of its own, but for the trailhead."""
    return replace(trail, a=trail.a and trail.a + by, b=trail.b and trail.b + by)


def test_each_thing_to_take_in_that_stands_in_the_way(settings: LoopSettings) -> None:
    """Of two things the one that no such loop takes in is told, and not the other."""
    world = World([*SQUARE, Trail(2, 4, 900.0), Trail(4, 3, 900.0)], places={4: "Viewpoint", 1: "Yard"})
    words = [one.words for one in told(world.inputs(settings), request_of(must=("Viewpoint", "Yard")))]
    assert "without Viewpoint" in words
    assert "without Yard" not in words


def test_a_more_practised_driver_is_asked_for_only_where_nothing_was_found(settings: LoopSettings) -> None:
    """The least step up that gives a loop is told; where there is one, nobody is judged again."""
    world = World([*SQUARE[:3], Trail(3, 0, verdict=SHUT)])
    shut, clear = world.inputs(settings), World(SQUARE).inputs(settings)
    asked: list[tuple[str, Driver]] = []

    def again(changes: Any) -> LoopInputs:  # noqa: ANN401  # as the search hands them over
        asked.extend(changes)
        return clear if changes == [("wagon", Driver.EXPERT)] else shut

    request = request_of(max_redriven=0.0)
    (note,) = find_loops(shut, [request], again=again).notes
    assert "a driver who is an expert in wagon" in note.text
    assert "practised in" not in note.text
    assert asked == [("wagon", Driver.PRACTISED), ("wagon", Driver.EXPERT), ("truck", Driver.EXPERT)]
    asked.clear()
    assert find_loops(clear, [request], again=again).notes[0].found
    assert asked == []


def test_room_at_one_place_is_named(settings: LoopSettings) -> None:
    """A place by its name, a junction by what meets there; room where it helps, not where it does not."""
    world = World([*SQUARE, Trail(2, 4, 60.0)], places={4: "Viewpoint"})
    request = request_of((500.0, 540.0), max_redriven=1.0, must=("s004",))
    words = [one.words for one in told(world.inputs(settings), request)]
    assert "room to turn round at Viewpoint" in words


def test_a_trail_of_several_segments_is_left_out_as_it_is_named(settings: LoopSettings) -> None:
    """What must be taken in is told by the name in the site file; two that only together do, together."""
    lane = [replace(trail, name="Lane") for trail in (Trail(2, 4, 900.0), Trail(4, 3, 900.0))]
    world = World([*SQUARE, *lane, Trail(1, 5, 900.0), Trail(5, 2, 900.0)], places={5: "Viewpoint"})
    inputs = world.inputs(settings)
    words = [one.words for one in told(inputs, request_of(must=("Lane",), max_redriven=0.0))]
    assert "without Lane" in words
    words = [one.words for one in told(inputs, request_of(must=("Lane", "s001", "Viewpoint"), max_redriven=0.0))]
    assert "without Lane and s001 and Viewpoint" in words
    assert "without Lane" not in words


def test_where_it_begins_may_be_left_to_the_search(settings: LoopSettings) -> None:
    """The loop that is there does not begin as asked; the keys that stand in the way are named."""
    inputs = World([*SQUARE, Trail(0, 5)]).inputs(settings)
    for keys, words in (
        ({"start": "s004"}, "without start"),
        ({"start": "s004", "start_direction": Direction.WITH}, "without start and start_direction"),
    ):
        assert words in [one.words for one in told(inputs, request_of(max_redriven=0.0, **keys))]
    assert not [one for one in told(inputs, request_of((10.0, 20.0))) if "start" in one.words]


@pytest.mark.parametrize(
    ("laps", "window", "words"),
    [
        (5, (900.0, 1000.0), "laps = 2 instead of 5"),
        (1, (790.0, 810.0), "laps = 2 instead of 1"),
        (1, (1190.0, 1210.0), "laps = 3 instead of 1"),
        (3, (2450.0, 2550.0), "laps = 5 instead of 3"),
    ],
)
def test_the_nearest_number_of_laps(settings: LoopSettings, laps: int, window: tuple[float, float], words: str) -> None:
    """Rounds of 400 m and 500 m: as many of one of them as the window holds."""
    inputs = World([*SQUARE, Trail(0, 4, 250.0), Trail(4, 0, 250.0)]).inputs(settings)
    changes = [one.words for one in told(inputs, request_of(window, laps=laps, max_redriven=0.0))]
    assert [one for one in changes if one.startswith("laps")] == [words]


def test_halves_of_a_unit_are_told(settings: LoopSettings) -> None:
    """A window in halves of a metre is written as it was asked for, and the change adds up."""
    words = [one.words for one in told(World(SQUARE).inputs(settings), request_of((300.5, 399.5)))]
    assert "length_m up to 400 m instead of 399.5 m (0.5 m longer)" in words
