"""Why there is no loop: each rule that can bite is named, with what would help."""

from typing import Any

import pytest

from pipeline.loops.request import LoopNote, LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Objective, Status, Verdict
from tests.loops.worlds import SETUPS, Trail, World, ground

SQUARE = [Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 0)]


def note(
    settings: LoopSettings,
    world: World,
    length_m: tuple[float, float] | None = (300.0, 500.0),
    objective: Objective = Objective.SAFEST,
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> LoopNote:
    """Search and give the note of the one request."""
    request = LoopRequest("loop", objective, length_m, options.pop("time_min", None), SETUPS, **options)
    (only,) = find_loops(world.inputs(settings), [request]).notes
    return only


def test_nothing_leads_away_from_the_trailhead(settings: LoopSettings) -> None:
    """The segments around the trailhead must be named, with set-up and direction."""
    trails = [Trail(0, 1, verdict=(Verdict.BARRED, Verdict.AMPLE)), Trail(1, 2), Trail(2, 0, status=Status.CLOSED)]
    found = note(settings, World(trails))
    assert not found.found
    assert found.text.startswith("No allowed segment leads away from the trailhead: s000 with (barred for wagon)")
    assert "s002 against (closed)" in found.text


def test_nothing_leads_back_to_the_trailhead(settings: LoopSettings) -> None:
    """One-ways that all lead out must be named."""
    text = note(settings, World([Trail(0, 1, oneway=1), Trail(1, 2), Trail(2, 0, oneway=-1)])).text
    assert text.startswith("No allowed segment leads back to the trailhead: s000 against (one-way)")


def test_trailhead_off_the_network(settings: LoopSettings) -> None:
    """A trailhead on no segment must be told."""
    assert note(settings, World([Trail(1, 2)], trailhead=0)).text.startswith("The trailhead lies on no segment.")


def test_no_way_comes_back(settings: LoopSettings) -> None:
    """A chain that is cut further out must name what cuts it."""
    trails = [Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 1, verdict=(Verdict.UNSURVEYED, Verdict.UNSURVEYED))]
    text = note(settings, World(trails)).text
    assert "leads back to it without turning back or round a sharp corner where there is no room" in text
    assert "s003 with (unsurveyed for wagon)" in text


@pytest.mark.parametrize(
    ("window", "said"),
    [
        ((100.0, 399.0), "length_m up to 400 m instead of 399 m (1 m longer)"),
        ((401.0, 900.0), "length_m from 400 m instead of 401 m (1 m shorter)"),
    ],
)
def test_nearest_length(settings: LoopSettings, window: tuple[float, float], said: str) -> None:
    """A window beside the only loop must be told its length."""
    assert said in note(settings, World(SQUARE), window, max_redriven=0.0).text


def test_nearest_time(settings: LoopSettings) -> None:
    """A time window beside the only loop must be told its time: 400 m at 8 km/h take 3 minutes."""
    text = note(settings, World(SQUARE), None, time_min=(10.0, 20.0), max_redriven=0.0).text
    assert "time_min from 3 min instead of 10 min (7 min shorter)" in text


def test_both_sides_of_a_gap_are_told(settings: LoopSettings) -> None:
    """Between a short and a long loop both must be told."""
    world = World([*SQUARE, Trail(0, 4, 500.0), Trail(4, 0, 500.0)])
    text = note(settings, world, (700.0, 900.0), max_redriven=0.0).text
    assert "length_m up to 1000 m" in text
    assert "length_m from 400 m" in text


def test_must_that_cannot_be_reached(settings: LoopSettings) -> None:
    """A thing behind a closed segment must be named with the reason."""
    world = World([*SQUARE, Trail(2, 4, status=Status.CLOSED)], places={4: "Viewpoint"})
    text = note(settings, world, must=("Viewpoint",)).text
    assert text.startswith("No allowed way takes in Viewpoint (closed) and comes back to the trailhead.")


def test_must_too_far_for_the_window(settings: LoopSettings) -> None:
    """A thing that only a longer loop takes in must be told, and the length that does."""
    world = World([*SQUARE, Trail(2, 4, 300.0), Trail(4, 3, 300.0)], places={4: "Viewpoint"})
    text = note(settings, world, must=("Viewpoint",), max_redriven=0.0).text
    assert "without Viewpoint" in text
    assert "length_m up to 900 m" in text


def test_redriven_share(settings: LoopSettings) -> None:
    """The share that a loop would need must be told, rounded up to a hundredth."""
    world = World([*SQUARE, Trail(2, 4)], {4})
    text = note(settings, world, (550.0, 650.0), must=("s004",), max_redriven=0.2).text
    assert "max_redriven = 0.34 instead of 0.20" in text
    assert note(settings, world, (550.0, 650.0), must=("s004",), max_redriven=0.34).found


def test_room_to_turn(settings: LoopSettings) -> None:
    """Where only room to turn is missing, that must be told."""
    world = World([*SQUARE, Trail(2, 4)])
    text = note(settings, world, (550.0, 650.0), max_redriven=1.0, must=("s004",)).text
    assert "room to turn round at the end of s004" in text


def test_two_rules_at_once(settings: LoopSettings) -> None:
    """Where no single rule relaxed would do, that must be told."""
    world = World([*SQUARE, Trail(2, 4)], {4})
    text = note(settings, world, (700.0, 800.0), must=("s004",), max_redriven=0.0).text
    assert text.startswith(
        "No loop keeps all the rules. No single change of the request, the group or the ground gives one"
    )
    assert "; two together do: any length_m, and any max_redriven; or " in text


@pytest.mark.parametrize(("objective", "said"), [(Objective.SAFEST, "exposure"), (Objective.TRAINING_RICH, "points")])
def test_found_loops_tell_what_is_proven(settings: LoopSettings, objective: Objective, said: str) -> None:
    """A note of a loop must tell value and bound and that it is proven, and never call anything safe."""
    found = note(settings, World(SQUARE), objective=objective, alternatives=2)
    assert found.found
    assert said in found.text
    assert "proven best" in found.text
    assert "2 of 2 alternatives not found within the overlap allowed" in found.text
    assert "safe" not in found.text


def test_a_loop_that_practises_nothing_is_told(settings: LoopSettings) -> None:
    """Where no technique lies on any loop the points are 0, and the note must say why."""
    text = note(settings, World(SQUARE), objective=Objective.TRAINING_RICH).text
    assert text.startswith("0.0 points, no loop has more than 0.0: no technique that counts lies on any loop; proven")


def test_comfort_floor_is_named(settings: LoopSettings) -> None:
    """A level at the floor must be told as such."""
    assert "0.50, the comfort floor" in note(settings, World(SQUARE)).text


def test_work_limit_is_not_told_as_impossible(settings: LoopSettings) -> None:
    """When nothing was found and nothing proven, the note must say that it is not known."""
    effort = settings.search.model_copy(update={"starts": 1, "moves": 1, "nodes": 1, "interrupts": 1, "exact_arcs": 1})
    short = settings.model_copy(update={"search": effort})
    text = note(short, ground(40, 3), (2500.0, 5000.0), Objective.TRAINING_RICH).text
    assert text.startswith("No loop was found within the work limit; whether one exists is not known.")
