"""Requests and networks at the edge of sense: each gets a loop or a reason, never an error."""

from dataclasses import replace
from typing import Any

import pytest

from pipeline.errors import SettingsError
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.tables import LEGS, LOOPS, validate
from pipeline.terms import Objective, Status, Verdict
from tests.loops.worlds import PLAIN, SETUPS, WEIGHTS, Trail, World

BARRED = (Verdict.BARRED, Verdict.BARRED)
UNKNOWN = (Verdict.UNSURVEYED, Verdict.UNSURVEYED)
RING = ((0, 1), (1, 2), (2, 0))


def ring(**options: Any) -> World:  # noqa: ANN401  # options of any kind, passed on
    """Make a triangle of 300 m sides at the trailhead."""
    return World([Trail(a, b, 300.0, **options) for a, b in RING])


def lollipop(room: set[int]) -> World:
    """Make a lane of 100 m to a triangle; the trailhead is the lane's dead end."""
    return World([Trail(0, 1, 100.0), *(Trail(a + 1, b + 1, 300.0) for a, b in RING)], room)


WORLDS: dict[str, tuple[World, float | None]] = {
    "all barred": (ring(verdict=BARRED), None),
    "all unsurveyed": (ring(verdict=UNKNOWN), None),
    "all closed": (ring(status=Status.CLOSED), None),
    "one segment": (World([Trail(0, 1, 300.0)]), None),
    "one segment, room at its end": (World([Trail(0, 1, 300.0)], {1}), 600.0),
    "one segment, room at the trailhead": (World([Trail(0, 1, 300.0)], {0}), None),
    "one ring": (World([Trail(0, 0, 300.0)]), 300.0),
    "trailhead at a dead end": (lollipop(set()), 1100.0),
    "trailhead at a dead end with room": (lollipop({0}), 1100.0),
    "dead ends only": (World([Trail(0, 1, 100.0), Trail(1, 2, 300.0)]), None),
    "trailhead on nothing": (World([Trail(a + 1, b + 1, 300.0) for a, b in RING]), None),
    "two rings at the trailhead": (World([Trail(a, b, 300.0) for a, b in (*RING, (0, 3), (3, 4), (4, 0))]), 900.0),
    "not known how hard": (ring(utilisation=(float("nan"), float("nan"))), 900.0),
    "shorter than can be counted": (World([Trail(a, b, 0.01) for a, b in RING]), 0.03),
}
"""Each world with the length of its shortest loop, or ``None`` where no loop can be."""
REQUESTS: dict[str, dict[str, Any]] = {
    "any length": {"length_m": (0.0, 3000.0)},
    "time only": {"length_m": None, "time_min": (0.0, 600.0)},
    "everything is comfortable": {"length_m": (0.0, 3000.0), "comfort_floor": 1.0},
    "nothing is comfortable": {"length_m": (0.0, 3000.0), "comfort_floor": 0.0},
    "more than there are": {"length_m": (0.0, 3000.0), "alternatives": 5, "max_overlap": 0.0},
    "longer than any world": {"length_m": (0.0, 1e9)},
}
NEVER: dict[str, dict[str, Any]] = {
    "no length at all": {"length_m": (0.0, 0.0)},
    "beyond every loop": {"length_m": (1e6, 1e7)},
    "a window of no width between loops": {"length_m": (750.0, 750.0)},
    "no time": {"length_m": None, "time_min": (0.0, 0.0)},
}


def ask(objective: Objective, **options: Any) -> LoopRequest:  # noqa: ANN401  # options of any kind, passed on
    """Make a request that does not mind driving back."""
    return LoopRequest("loop", objective, setups=SETUPS, **{"time_min": None, "max_redriven": 1.0, **options})


def all_of(requests: dict[str, dict[str, Any]]) -> list[LoopRequest]:
    """Ask for all of *requests* with both objectives, each under a name of its own."""
    return [
        replace(ask(objective, **options), name=f"{name}, {objective.value}")
        for name, options in requests.items()
        for objective in Objective
    ]


@pytest.mark.parametrize("world_name", WORLDS)
def test_a_loop_or_a_reason(settings: LoopSettings, world_name: str) -> None:
    """Where a loop is, the shortest must be found and proven; elsewhere every note must give a reason."""
    world, length_m = WORLDS[world_name]
    asked = all_of(REQUESTS)
    found = find_loops(world.inputs(settings), asked)
    validate(found.loops, LOOPS)
    validate(found.legs, LEGS)
    assert [note.loop for note in found.notes] == [request.name for request in asked]
    assert {note.found for note in found.notes} == {length_m is not None}
    assert all(len(note.text) > 20 for note in found.notes)
    first = found.loops[found.loops["rank"] == 1]
    assert first["length_m"].tolist() == ([] if length_m is None else pytest.approx([length_m] * len(asked)))
    assert found.loops["proven"].all()


@pytest.mark.parametrize("world_name", WORLDS)
def test_a_window_that_nothing_fits(settings: LoopSettings, world_name: str) -> None:
    """A window that no loop fits gives none, and the window is named where a loop is to be had outside it."""
    world, length_m = WORLDS[world_name]
    found = find_loops(world.inputs(settings), all_of(NEVER))
    assert not any(note.found for note in found.notes)
    assert found.loops.empty
    assert found.legs.empty
    said = [note.text for note in found.notes if length_m is not None]
    assert all("length_m" in text or "time_min" in text for text in said)


def test_a_window_of_no_width_is_met_exactly(settings: LoopSettings) -> None:
    """A window from 900 to 900 m takes the loop of 900 m."""
    found = find_loops(ring().inputs(settings), [ask(Objective.SAFEST, length_m=(900.0, 900.0))])
    assert found.loops["length_m"].tolist() == [900.0]


def test_fewer_alternatives_than_asked_are_told(settings: LoopSettings) -> None:
    """Two loops that share nothing, five alternatives asked: two loops, and the note says four are missing."""
    world, _ = WORLDS["two rings at the trailhead"]
    request = ask(Objective.SAFEST, length_m=(0.0, 1000.0), alternatives=5, max_overlap=0.0)
    found = find_loops(world.inputs(settings), [request])
    assert found.loops["rank"].tolist() == [1, 2]
    assert set(found.legs.loc[found.legs["rank"] == 1, "segment_id"]).isdisjoint(
        found.legs.loc[found.legs["rank"] == 2, "segment_id"]
    )
    assert "4 of 5 alternatives not found" in found.notes[0].text


def test_two_loops_that_meet_at_the_trailhead_are_one_day(settings: LoopSettings) -> None:
    """A loop may come past the trailhead on its way where the window asks for more than either ring."""
    world, _ = WORLDS["two rings at the trailhead"]
    found = find_loops(world.inputs(settings), [ask(Objective.SAFEST, length_m=(1700.0, 1900.0), max_redriven=0.0)])
    assert found.loops["length_m"].tolist() == [1800.0]
    assert found.legs["segment_id"].nunique() == 6


@pytest.mark.parametrize("weights", ["none is worth anything", "none is listed"])
def test_techniques_that_count_for_nothing(settings: LoopSettings, weights: str) -> None:
    """Without any worth a training-rich loop is still a loop, the shortest, of 0 points."""
    nothing = "none is worth anything"
    practice = PLAIN.model_copy(update={"aims": {"all-round": {} if weights == nothing else WEIGHTS}})
    changed = settings if weights == nothing else settings.model_copy(update={"technique": {}})
    found = find_loops(ring().inputs(changed, practice), [ask(Objective.TRAINING_RICH, length_m=(0.0, 3000.0))])
    assert found.loops[["length_m", "value", "bound"]].to_numpy().tolist() == [[900.0, 0.0, 0.0]]


def test_what_must_be_driven_cannot_be_avoided(settings: LoopSettings) -> None:
    """A segment in both lists is refused before anything is searched."""
    request = ask(Objective.SAFEST, length_m=(0.0, 3000.0), must=("s001",), avoid=("s001",))
    with pytest.raises(SettingsError, match="is in avoid too"):
        find_loops(ring().inputs(settings), [request])
