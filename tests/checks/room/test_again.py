"""Room found once more where things are passed another way: as if all had been searched anew."""

from dataclasses import fields, replace

import numpy as np
import pytest

from pipeline.checks.room.again import only_on, passed_otherwise
from pipeline.checks.room.find import find_rooms
from pipeline.checks.room.found import Room
from pipeline.checks.room.tracks import make_tracks
from pipeline.checks.scene import make_scene
from pipeline.terms import Passing
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, choice_of, envelope, site_on
from tests.worlds import at, network_of, plane

LINES = {
    "a": at((0.0, 0.0), (30.0, 2.0)),
    "b": at((30.0, 2.0), (62.0, 0.0)),
    "c": at((0.0, 60.0), (40.0, 62.0)),
}
THINGS = [
    {**thing(height_m=0.15, width_m=0.5, offset_m=0.6, chainage_m=20.0), "segment_id": "a"},
    {**thing(height_m=0.15, width_m=0.5, offset_m=-0.5, chainage_m=20.0), "segment_id": "c"},
    {**thing("tree", width_m=0.3, offset_m=1.5, chainage_m=12.0), "segment_id": "b"},
    {
        **thing("branch", width_m=1.0, length_m=0.2, offset_m=0.8, clear_height_m=1.7, chainage_m=18.0),
        "segment_id": "c",
    },
]
SCENE = make_scene(
    site_on(
        network_of(LINES, obstacles=THINGS, obstacles_surveyed=True, surveyed_on="2026-03-01", width_m=3.2), plane(0.02)
    )
)
DAY = choice_of(SCENE.things)


def other(row: int, passing: Passing) -> object:
    """Pass the first thing of a segment another way, both ways."""
    number = int(np.flatnonzero(DAY.things.row == row)[0])
    changed = DAY.passing.copy()
    changed[number] = list(Passing).index(passing)
    return replace(DAY, passing=changed)


def assert_equal(one: Room, other: Room) -> None:
    """Hold two rooms against each other to the last digit, place by place."""
    for ours, theirs in ((one, other), (one.places, other.places)):
        for column in fields(ours):
            if column.name != "places":
                np.testing.assert_array_equal(getattr(ours, column.name), getattr(theirs, column.name), column.name)


@pytest.mark.parametrize("row", [0, 2])
@pytest.mark.parametrize("passing", [Passing.STRADDLE, Passing.ROUND, Passing.BARRED])
def test_it_is_as_if_all_were_searched_anew(row: int, passing: Passing) -> None:
    """A rock passed another way, on a trail that others go on into and on one that stands alone."""
    changed = other(row, passing)
    (before,) = find_rooms(SCENE, [DAY], [envelope()], LIMITS)
    (again,) = find_rooms(SCENE, [changed], [envelope()], LIMITS, before=[(DAY, envelope(), before)])
    assert_equal(again, find_rooms(SCENE, [changed], [envelope()], LIMITS)[0])


def test_only_ways_past_the_thing_are_searched() -> None:
    """Those of its own trail, which stands by itself; of the others two points are left, where nothing is known."""
    site = make_tracks(SCENE, LIMITS)
    way = int(DAY.passing[np.flatnonzero(DAY.things.row == 2)[0], 0])
    passing = next(one for k, one in enumerate(Passing) if k != way)
    changed = passed_otherwise(site, SCENE.things, DAY, other(2, passing))
    assert changed.tolist() == [False, False, True]
    cut = only_on(site, changed)
    assert np.diff(cut.tracks.offsets).tolist() == [2, 2, 2, 2, *np.diff(site.tracks.offsets)[4:]]
    assert np.isnan(cut.tracks.x[:8]).all()
    np.testing.assert_array_equal(cut.tracks.x[8:], site.tracks.x[site.tracks.offsets[4] :])
    assert set(cut.placed.segment) == {2}
    assert not passed_otherwise(site, SCENE.things, DAY, DAY).any()


def test_the_same_choice_is_the_same_room() -> None:
    """Nothing is searched; the very object comes back."""
    (before,) = find_rooms(SCENE, [DAY], [envelope()], LIMITS)
    (again,) = find_rooms(SCENE, [DAY], [envelope(setup="b")], LIMITS, before=[(DAY, envelope(), before)])
    assert again is before


def test_another_shape_is_searched_anew() -> None:
    """A wider vehicle takes nothing over."""
    (before,) = find_rooms(SCENE, [DAY], [envelope()], LIMITS)
    wide = envelope(width_m=2.1, width_mirrors_m=2.3)
    choice = choice_of(SCENE.things, wide)
    (again,) = find_rooms(SCENE, [choice], [wide], LIMITS, before=[(DAY, envelope(), before)])
    assert_equal(again, find_rooms(SCENE, [choice], [wide], LIMITS)[0])
