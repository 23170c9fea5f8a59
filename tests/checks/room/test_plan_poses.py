"""Plans of tight places: as they are driven, with what stands there; held against the room that was found."""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import cast

import numpy as np
import pytest
import shapely

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.prepared import Prepared
from pipeline.checks.room.find import find_rooms
from pipeline.checks.room.found import Room
from pipeline.checks.room.plan_poses import SAME_M, make_plans
from pipeline.checks.room.plans import Plans
from pipeline.checks.scene import Scene
from pipeline.kernels.line_refine import FINE
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.room.worlds import chosen, hairpin, network, scene_of, straight_scene
from tests.checks.worlds import LIMITS, envelope
from tests.worlds import ORIGIN, plane

LONG = envelope(setup="long", wheelbase_m=3.3, length_rear_m=1.4)


@dataclass(frozen=True, slots=True)
class Searched:
    """What of a prepared site the plans are made from."""

    scene: Scene
    envelopes: tuple[Envelope, ...]
    limits: Limits
    choices: tuple[Choice, ...]
    rooms: tuple[Room, ...]


def _searched(scene: Scene, *vehicles: Envelope) -> Searched:
    choices = tuple(chosen(scene, vehicle) for vehicle in vehicles)
    return Searched(scene, vehicles, LIMITS, choices, tuple(find_rooms(scene, choices, vehicles, LIMITS)))


def _plans(searched: Searched) -> Plans:
    plans = make_plans(cast("Prepared", searched))
    assert plans is not None
    return plans


@cache
def gate() -> Searched:
    """Two trees across 60 m of straight trail: 1.3 m to the left at 30 m, 1.5 m to the right at 31 m."""
    trees = [
        {"kind": "tree", "chainage_m": 30.0, "offset_m": -1.3, "width_m": 0.3},
        {"kind": "tree", "chainage_m": 31.0, "offset_m": 1.5, "width_m": 0.4},
    ]
    return _searched(straight_scene(trees), envelope(), LONG)


@cache
def bend() -> Searched:
    """Lay a hairpin of 8 m with a tree inside its top."""
    middle = 30.0 + 8.0 * np.pi / 2.0
    tree = {"segment_id": "a", "kind": "tree", "chainage_m": middle, "offset_m": -1.4, "width_m": 0.3}
    return _searched(scene_of(network({"a": hairpin(8.0)}, obstacles=[tree]), plane()), envelope(), LONG)


WORLDS = [pytest.param(gate, id="gate"), pytest.param(bend, id="bend")]


@pytest.mark.parametrize("world", WORLDS)
def test_the_gaps_are_those_that_were_found(world: object) -> None:
    """Between their ends on every side of every place; none where nothing was found."""
    searched = world()  # type: ignore[operator]
    plans = _plans(searched)
    told = np.concatenate([room.places.gap_m for room in searched.rooms])
    found = np.hypot(*(plans.beside - plans.body).transpose(2, 0, 1))
    assert len(told) >= 4
    assert np.array_equal(np.isfinite(found), np.isfinite(told))
    assert np.array_equal(plans.nearest >= 0, np.isfinite(told))
    assert found == pytest.approx(np.abs(told), abs=SAME_M, nan_ok=True)


@pytest.mark.parametrize("world", WORLDS)
def test_the_front_axle_runs_along_the_line_that_was_found(world: object) -> None:
    """One wheelbase ahead of the rear axle in every pose; steering as found; the lean of the ground under it."""
    searched = world()  # type: ignore[operator]
    plans, place = _plans(searched), 0
    for room, vehicle in zip(searched.rooms, searched.envelopes, strict=True):
        for begin, end in pairwise(room.places.points.tolist()):
            own = slice(plans.ways.offsets[place], plans.ways.offsets[place + 1], FINE)
            ways, told = plans.ways, slice(begin, end)
            front = np.column_stack([ways.x, ways.y])[own]
            front += vehicle.wheelbase_m * np.column_stack([np.cos(ways.heading), np.sin(ways.heading)])[own]
            assert front == pytest.approx(np.column_stack([room.places.x, room.places.y])[told], abs=1e-6)
            assert ways.steer[own] == pytest.approx(room.places.steer[told])
            place += 1
    assert plans.ways.roll == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("world", WORLDS)
def test_the_ends_lie_on_the_trunks_and_the_body(world: object) -> None:
    """The far end on the bark of a tree that stands there, or on the edge; the near end within the body's reach."""
    searched = world()  # type: ignore[operator]
    plans = _plans(searched)
    things = np.concatenate([room.places.thing for room in searched.rooms])
    for place, side in np.argwhere(plans.nearest >= 0):
        beside = plans.beside[place, side]
        own = slice(plans.shapes.offsets[place], plans.shapes.offsets[place + 1])
        bark = np.hypot(plans.shapes.ax[own] - beside[0], plans.shapes.ay[own] - beside[1]) - plans.shapes.radius[own]
        edges = np.column_stack([plans.edges.x[:, side], plans.edges.y[:, side]])
        edge = shapely.LineString(edges[plans.ways.offsets[place] : plans.ways.offsets[place + 1]])
        if things[place, side] >= 0:
            assert np.abs(bark).min() < SAME_M
        else:
            assert edge.distance(shapely.Point(beside)) < 0.02
        pose = plans.nearest[place, side]
        reach = np.hypot(
            plans.body[place, side, 0] - plans.ways.x[pose], plans.body[place, side, 1] - plans.ways.y[pose]
        )
        assert reach < 5.0


def test_places_keep_to_themselves() -> None:
    """Poses, shapes and nearest poses of each set-up's places follow those of the one before, in the rows' order."""
    searched = gate()
    plans = _plans(searched)
    places = sum(room.places.row.size for room in searched.rooms)
    assert plans.tightest.size == places == plans.ways.offsets.size - 1 == plans.shapes.offsets.size - 1
    assert plans.ways.offsets[-1] == plans.ways.x.size == len(plans.edges.x)
    for place in range(places):
        low, high = plans.ways.offsets[place : place + 2]
        for pose in (plans.tightest[place], *plans.nearest[place]):
            assert pose == -1 or low <= pose < high
        own = slice(plans.shapes.offsets[place], plans.shapes.offsets[place + 1])
        assert set(plans.shapes.thing[own]) == set(searched.scene.things.id)


def test_the_tightest_pose_is_that_of_the_side_with_less_room() -> None:
    """It stands where what is nearest there is passed."""
    searched, first = gate(), 0
    plans = _plans(searched)
    for room in searched.rooms:
        for k, pose in enumerate(plans.tightest[first : first + room.places.row.size]):
            assert pose == plans.nearest[first + k, np.argmin(room.places.gap_m[k])]
            assert plans.ways.x[pose] - ORIGIN[0] == pytest.approx(room.places.at_m[k], abs=4.0)
        first += room.places.row.size


def test_against_the_line_left_is_right() -> None:
    """The trees change sides, the edges too; what stands stays where it is."""
    plans = _plans(gate())
    assert gate().rooms[0].places.direction.tolist() == [0, 1]
    with_, against = (slice(plans.ways.offsets[k], plans.ways.offsets[k + 1]) for k in (0, 1))
    assert plans.edges.y[with_, 0] - ORIGIN[1] == pytest.approx(1.75)
    assert plans.edges.y[against, 1] - ORIGIN[1] == pytest.approx(1.75)
    assert plans.beside[0, 0] == pytest.approx(plans.beside[1, 1], abs=0.1)
    assert plans.beside[0, 0] - ORIGIN == pytest.approx([30.0, 1.15], abs=0.1)
    assert not plans.edges.whole.any()


def test_without_a_known_edge_none_is_drawn() -> None:
    """No width is tagged: NaN on both sides."""
    trees = [{"kind": "tree", "chainage_m": 30.0, "offset_m": -1.3, "width_m": 0.3}]
    plans = _plans(_searched(straight_scene(trees, width_m=np.nan), envelope()))
    assert np.isnan(plans.edges.x).all()
    assert (plans.nearest[0] >= 0).tolist() == [True, False]
    assert np.isnan(plans.body[0, 1]).all()


def test_where_nothing_is_tight_there_are_no_plans() -> None:
    """A wide trail without a thing."""
    searched = _searched(straight_scene(width_m=6.0), envelope())
    assert make_plans(cast("Prepared", searched)) is None
