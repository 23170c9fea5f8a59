"""Rooms of small sites against figures worked by hand, and what must hold for all of them."""

import numpy as np
import pytest

from pipeline.checks.room.find import _whole, find_rooms, room_key
from pipeline.checks.room.found import Room
from pipeline.checks.scene import Scene
from pipeline.spread import serial
from pipeline.terms import Basis, Driver, Part
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.room.worlds import chosen, hairpin, network, scene_of, straight_scene
from tests.checks.worlds import LIMITS, envelope
from tests.kernels.line_worlds import straight
from tests.worlds import plane

COARSE_M = 0.03
"""What a line may fall short of the best, m."""


def room_of(scene: Scene, vehicle: Envelope | None = None) -> Room:
    """Find the room of one set-up."""
    one = vehicle or envelope()
    return find_rooms(scene, [chosen(scene, one)], [one], LIMITS)[0]


def tree(offset: float, at: float = 30.0, **more: object) -> dict[str, object]:
    """Make a tree 0.3 m thick."""
    return {"kind": "tree", "chainage_m": at, "offset_m": offset, "width_m": 0.3, **more}


def test_between_two_trees_the_clear_width_is_told() -> None:
    """Trees 2.7 m apart, off the middle: half of what the mirrors leave is found on the best line, both ways."""
    room = room_of(straight_scene([tree(-1.2), tree(1.8)], width_m=6.0))
    assert room.gap_m[0] == pytest.approx([0.3, 0.3], abs=COARSE_M)
    assert room.width_m[0] + 2.0 * room.gap_m[0] == pytest.approx([2.7, 2.7], abs=2.0 * COARSE_M)
    assert (room.part[0] == Part.MIRROR).all()
    assert (room.basis == Basis.SURVEYED).all()
    assert room.at_m[0] == pytest.approx([30.0, 30.0], abs=0.6)
    places = room.places
    assert places.direction.tolist() == [0, 1]
    assert places.offset_m == pytest.approx([0.3, -0.3], abs=0.1)
    assert (places.missing_m == 0.0).all()
    assert (places.shunt == -1).all()
    assert (places.middle_m < 0.05).all()


def test_a_gap_too_narrow_is_missing_width() -> None:
    """A gap of 2.0 m in the way of 2.1 m over the mirrors: 0.4 m are missing, margin included, and no reverse helps."""
    room = room_of(straight_scene([{"kind": "gap", "chainage_m": 30.0, "clear_width_m": 2.0}]))
    assert room.gap_m[0] == pytest.approx([-0.05, -0.05], abs=COARSE_M)
    assert room.places.missing_m == pytest.approx([0.4, 0.4], abs=2.0 * COARSE_M)
    assert (room.places.shunt == 0).all()
    assert room.turns.all()


def test_a_tagged_width_nobody_surveyed_bounds_the_whole_body() -> None:
    """On a straight 2.7 m wide and not surveyed the mirrors leave 0.3 m on either side: the limit is the tag."""
    room = room_of(straight_scene(width_m=2.7, surveyed_on=None))
    assert room.gap_m[0] == pytest.approx([0.3, 0.3], abs=1e-6)
    assert room.width_m[0] == pytest.approx([2.1, 2.1], abs=1e-6)
    assert (room.basis == Basis.TAG).all()
    assert (room.thing == -1).all()


def test_nothing_bounds_an_open_field() -> None:
    """Without trees and without a tagged width no gap is told, and no line is needed."""
    room = room_of(straight_scene(width_m=np.nan))
    assert np.isnan(room.gap_m).all()
    assert (room.part == -1).all()
    assert (room.basis == Basis.ASSUMED).all()
    assert room.places.row.size == 0
    assert (room.needed < 1e-6).all()


def branch(**more: object) -> dict[str, object]:
    """Make a low branch over the left half of the trail."""
    return {"kind": "branch", "chainage_m": 30.0, "clear_height_m": 1.5, "width_m": 2.0, "length_m": 0.3, **more}


def test_a_branch_that_can_be_passed_beside_is_led_round() -> None:
    """A low branch from 2.0 m left to the middle is led round on a trail of 5 m, and asks for no height."""
    room = room_of(straight_scene([branch(offset_m=-1.0)], width_m=5.0))
    assert room.beside[0].tolist() == [1, 1]
    assert room.under[0].tolist() == [-1, -1]
    assert (room.places.offset_m * [1.0, -1.0] > 0.9).all()
    assert (room.gap_m > 0.14).all()


def test_a_branch_that_can_be_passed_neither_way_is_led_under_and_width_is_judged_without_it() -> None:
    """Right across a trail of 3 m there is no way round: the branch bars the height, and the edges the width."""
    room = room_of(straight_scene([branch(offset_m=0.0, width_m=4.0)], width_m=3.4))
    assert (room.under[0] >= 0).all()
    assert room.clear_m[0].tolist() == [1.5, 1.5]
    assert room.under_at_m[0].tolist() == [30.0, 30.0]
    assert room.beside[0].tolist() == [0, 0]
    assert (room.thing == -1).all()
    assert room.gap_m[0] == pytest.approx([1.7 - 0.925, 1.7 - 0.925], abs=0.01)


def test_a_branch_high_enough_is_led_under() -> None:
    """A branch over the way at 2.6 m is the one with the least height over the line; one beside it is none."""
    things = [branch(offset_m=0.0, clear_height_m=2.6), branch(offset_m=4.0, width_m=1.0, clear_height_m=2.3)]
    room = room_of(straight_scene(things, width_m=4.0))
    assert room.clear_m[0].tolist() == [2.6, 2.6]
    assert room.beside[0].tolist() == [0, 0]


def test_a_rock_between_the_wheels_holds_the_line() -> None:
    """A rock that is straddled off the middle is told as the place to steer for, and nothing is missing."""
    things = [{"kind": "rock", "chainage_m": 30.0, "offset_m": 0.3, "height_m": 0.15, "width_m": 0.3, "length_m": 0.3}]
    scene = straight_scene(things, width_m=4.5)
    shift = float(chosen(scene).shift_m[0, 0])
    room = room_of(scene)
    assert (room.gap_m > 0.3).all()
    if abs(shift) > 0.15:
        assert room.places.row.size == 2
        assert (room.places.missing_m == 0.0).all()


def test_a_hairpin_within_and_beyond_the_lock() -> None:
    """A hairpin of 7 m is turned by a vehicle of 5.8 m and not by one of 9 m, whatever stands there."""
    scene = scene_of(network({"h": hairpin(7.0)}, width_m=3.2), plane())
    small, large = room_of(scene), room_of(scene, envelope(turning_radius_m=10.5))
    assert small.turns.all()
    assert not large.turns.any()
    assert (small.needed < 1.0 / 5.5).all()
    lock = np.sqrt(10.5**2 - 2.8**2) - 0.8
    assert (large.needed > 1.0 / lock).all()
    assert (large.needed < 2.0 / lock).all()


def test_set_ups_of_one_shape_share_one_room() -> None:
    """Another name, ground or mass is no other room; another width or driver is, and known rooms are handed back."""
    scene = straight_scene([tree(-1.2), tree(1.8)], width_m=6.0)
    one, twin = envelope(), envelope(setup="twin", mass_kg=2600.0)
    wide, slow = envelope(width_m=2.0, width_mirrors_m=2.2), envelope(driver=Driver.FIRST_TIMER)
    every = [one, twin, wide, slow]
    choices = [chosen(scene, each) for each in every]
    rooms = find_rooms(scene, choices, every, LIMITS)
    assert rooms[0] is rooms[1]
    assert rooms[2] is not rooms[0]
    keys = [room_key(choice, each, LIMITS) for choice, each in zip(choices, every, strict=True)]
    assert len(set(keys)) >= 3
    before = list(zip(choices, every, rooms, strict=True))
    again = find_rooms(scene, choices[::-1], every[::-1], LIMITS, serial, before)
    assert all(a is b for a, b in zip(again, rooms[::-1], strict=True))


def test_the_other_way_round_is_the_same_place() -> None:
    """A site digitised the other way round gives the same rooms, directions swapped."""
    things = [tree(-1.2), tree(1.8, at=31.0), tree(0.9, at=44.0)]
    back = [{**one, "chainage_m": 60.0 - one["chainage_m"], "offset_m": -one["offset_m"]} for one in things]
    here, there = room_of(straight_scene(things, width_m=6.0)), room_of(straight_scene(back, width_m=6.0))
    assert there.gap_m[0, ::-1] == pytest.approx(here.gap_m[0], abs=COARSE_M)


def test_longer_and_wider_vehicles_leave_less() -> None:
    """What a larger vehicle leaves beside trees is no more than what a smaller one does."""
    scene = straight_scene([tree(-1.2), tree(1.8, at=33.0), tree(-1.4, at=37.0)], width_m=6.0)
    small, large = room_of(scene), room_of(scene, envelope(width_m=2.1, width_mirrors_m=2.3, length_rear_m=1.6))
    assert (large.gap_m <= small.gap_m + COARSE_M).all()


def test_segments_of_any_length_have_a_room() -> None:
    """Segments shorter than a step, a wheelbase and a vehicle get a room; edges count where they are known."""
    for length, bounded in ((0.4, False), (1.5, False), (5.0, True)):
        trails = network({"s": [(0.0, 0.0), (length, 0.0)]}, width_m=2.6)
        room = room_of(scene_of(trails, plane()))
        assert room.gap_m.shape == (1, 2)
        assert np.isfinite(room.gap_m).all() or not bounded
        assert np.isfinite(room.needed).all()


def test_missing_heights_change_no_room_on_level_ground() -> None:
    """Where no elevation model reaches the lean is not known and counts as none: the room is that of level ground."""
    rows = [{"segment_id": "s", **tree(offset)} for offset in (-1.2, 1.8)]
    trails = network({"s": [(0.0, 0.0), (60.0, 0.0)]}, obstacles=rows, width_m=6.0)
    blind, level = room_of(scene_of(trails)), room_of(scene_of(trails, plane()))
    assert blind.gap_m == pytest.approx(level.gap_m, abs=1e-9)


def test_tracks_with_unknown_places_are_left_out() -> None:
    """One missing place takes the whole of its track out of the search, and no other."""
    one = straight(10.0)
    tracks = one._replace(offsets=np.array([0, 10, 21]), x=np.where(np.arange(21) == 4, np.nan, one.x))
    assert _whole(tracks).tolist() == [False] * 10 + [True] * 11
