"""Two rules given up together."""

from pipeline.loops.ask.pairs import pairs_of
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Objective, Status
from tests.loops.worlds import SETUPS, Trail, World

SQUARE = [Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 0)]


def test_the_pairs_that_give_a_loop_are_told_and_no_others(settings: LoopSettings) -> None:
    """A window beside the only loop, and a thing behind a closed segment: both must go, or the way be opened."""
    world = World([*SQUARE, Trail(2, 4, 900.0, status=Status.CLOSED), Trail(4, 3, 900.0)], places={4: "Viewpoint"})
    request = LoopRequest("loop", Objective.SAFEST, (500.0, 600.0), None, SETUPS, must=("Viewpoint",), max_redriven=0.0)
    opened = "with everything open that is closed, one-way, avoided, barred or not surveyed"
    assert pairs_of(world.inputs(settings), request) == (
        "any length_m, and without what must be taken in",
        f"any length_m, and {opened}",
    )
    (note,) = find_loops(world.inputs(settings), [request]).notes
    assert note.text.endswith(
        "No single change of the request, the group or the ground gives one; two together do: any length_m, and "
        f"without what must be taken in; or any length_m, and {opened}."
    )


def test_a_group_of_one_is_not_left_out(settings: LoopSettings) -> None:
    """Nobody is told to drive without anybody; where two do not help either, that is said."""
    request = LoopRequest("loop", Objective.SAFEST, (500.0, 600.0), None, ("truck",), must=("s001",))
    inputs = World([Trail(0, 1), Trail(1, 2)]).inputs(settings)
    assert pairs_of(inputs, request) == ()
    assert find_loops(inputs, [request]).notes[0].text.endswith("the ground gives one, nor do two.")


def test_windows_of_length_and_time_are_two_rules(settings: LoopSettings) -> None:
    """The only loop takes 400 m: too far from either window, so both must go, and nothing else has to."""
    request = LoopRequest("loop", Objective.SAFEST, (5000.0, 6000.0), (90.0, 95.0), ("truck",), max_redriven=0.0)
    inputs = World(SQUARE).inputs(settings)
    assert pairs_of(inputs, request) == ("any length_m, and any time_min",)


def test_a_start_and_room_to_turn_are_rules_too(settings: LoopSettings) -> None:
    """The loop that begins as asked ends in a dead end without room."""
    world = World([*SQUARE, Trail(0, 4, status=Status.CLOSED), Trail(0, 5)])
    request = LoopRequest("loop", Objective.SAFEST, (100.0, 900.0), None, ("truck",), max_redriven=1.0, start="s004")
    assert "room to turn round everywhere, and with everything open" in " ".join(
        pairs_of(world.inputs(settings), request)
    )
    far = LoopRequest("loop", Objective.SAFEST, (600.0, 700.0), None, ("truck",), max_redriven=0.0, start="s004")
    assert pairs_of(world.inputs(settings), far) == ("any length_m, and any start",)
