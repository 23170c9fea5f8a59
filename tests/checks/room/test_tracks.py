"""Tracks of a site in both directions, and what a set-up adds: where its rear axle may run, what holds its line."""

import numpy as np
import pytest

from pipeline.checks.room.tracks import for_set_up, ways_past
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.kernels.plan_records import LEFT, RIGHT
from pipeline.terms import Passing
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Terrain, TerrainParameters
from tests.checks.room.worlds import (
    chosen,
    hairpin,
    network,
    own_points,
    points_of,
    scene_of,
    straight_scene,
    tracks_of,
)
from tests.checks.worlds import LIMITS, envelope, ground_of
from tests.worlds import ORIGIN, plane, surface_terrain

ROCK = {"kind": "rock", "chainage_m": 30.0, "height_m": 0.12, "length_m": 0.6, "width_m": 0.4}


def test_against_is_with_reversed() -> None:
    """The same points in the other order: heading turned, lean and edges on the other side, own part mirrored."""
    scene = scene_of(network({"a": hairpin(8.0), "b": [(-5.0, 0.0), (0.0, 0.0)]}), plane(0.05, 0.3))
    site = tracks_of(scene)
    for segment in range(2):
        ahead, back = points_of(site, 2 * segment), points_of(site, 2 * segment + 1)
        t = site.tracks
        for one, other in (
            (t.x[ahead], t.x[back]),
            (t.y[ahead], t.y[back]),
            (t.heading[ahead] + np.pi, t.heading[back]),
            (t.roll[ahead], -t.roll[back]),
            (t.wheel[ahead], t.wheel[back][:, ::-1]),
            (t.body[ahead], t.body[back][:, ::-1]),
            (site.curvature[ahead], -site.curvature[back]),
            (site.chainage[ahead], site.chainage[back]),
            (site.row[ahead], site.row[back]),
        ):
            np.testing.assert_array_equal(one, other[::-1])
        whole = (ahead.stop - ahead.start - 1) * t.step
        assert t.own_from[2 * segment + 1] == pytest.approx(whole - t.own_to[2 * segment])
        assert t.own_to[2 * segment + 1] == pytest.approx(whole - t.own_from[2 * segment])


def test_lean_is_that_of_the_ground() -> None:
    """Going east on ground that falls by 0.2 to the south the right side is down by atan 0.2, going back the left."""
    site = tracks_of(straight_scene(surface=plane(0.0, 0.2)))
    for track, sign in ((0, 1.0), (1, -1.0)):
        own = own_points(site, track, 0.5)
        assert site.tracks.roll[own] == pytest.approx(sign * np.arctan(0.2), abs=1e-6)


def test_lean_goes_on_into_a_neighbour_that_lies_the_other_way_round() -> None:
    """The same hillside beyond the node, digitised towards us: the same side is down."""
    trails = network({"a": [(0.0, 0.0), (40.0, 0.0)], "b": [(80.0, 0.0), (40.0, 0.0)]})
    ground, joined = surface_terrain(trails, plane(0.0, 0.2)), measure_terrain(trails, TerrainParameters())
    terrain = Terrain(ground.stations, joined.profiles)
    site = tracks_of(make_scene(CheckSite(trails, terrain, ground_of(2))))
    where = points_of(site, 0)
    beyond = site.row[where] == 1
    assert beyond.sum() > 10
    assert site.tracks.roll[where][beyond][1:-1] == pytest.approx(np.arctan(0.2), abs=1e-6)


def test_heading_has_no_jumps() -> None:
    """Round a whole turn and more the heading goes on, and begins within half a turn of east."""
    line = [(15.0 * np.sin(t) + 0.8 * t, 15.0 * (1.0 - np.cos(t)) + 0.8 * t) for t in np.linspace(0.0, 9.0, 300)]
    site = tracks_of(scene_of(network({"a": line}), plane()))
    heading = site.tracks.heading[points_of(site, 0)]
    assert np.abs(np.diff(heading)).max() < 0.2
    assert abs(heading[0]) <= np.pi + 0.2
    assert heading[-1] - heading[0] > 8.0


def test_rear_axle_may_run_to_where_its_tyre_meets_the_edge() -> None:
    """Half of 3.5 m less half of track and tyre (0.925 m); a drop-off takes its margin."""
    flat = straight_scene()
    site = tracks_of(flat)
    own = own_points(site, 0)
    aside = for_set_up(site, flat, chosen(flat), envelope(), LIMITS).aside[own]
    assert aside == pytest.approx(1.75 - 0.925)
    steep = straight_scene(surface=plane(0.0, 0.4))
    site = tracks_of(steep)
    aside = for_set_up(site, steep, chosen(steep), envelope(), LIMITS).aside[own_points(site, 0, 0.5)]
    assert aside[:, RIGHT] == pytest.approx(1.75 - 0.925 - LIMITS.edge_margin_m)
    assert aside[:, LEFT] == pytest.approx(1.75 - 0.95), "the body keeps off the bank"


def test_roam_where_no_width_is_tagged_and_on_narrow_trails() -> None:
    """Without a width half a metre; on a trail hardly wider than the tyres as much, for the rear axle cuts in."""
    for width in (None, 2.0):
        scene = straight_scene(width_m=width)
        site = tracks_of(scene)
        aside = for_set_up(site, scene, chosen(scene), envelope(), LIMITS).aside
        assert (aside == LIMITS.roam_m).all()


def test_nothing_runs_past_the_centre_of_a_bend() -> None:
    """On a trail 14 m wide round a bend of 5 m: at most 0.8 of the radius to the inside, as far as it goes outside."""
    scene = scene_of(network({"a": hairpin(5.0)}, width_m=14.0), plane())
    site = tracks_of(scene)
    tracks = for_set_up(site, scene, chosen(scene), envelope(), LIMITS)
    bend = np.flatnonzero(site.curvature > 0.15)
    assert bend.size > 10
    assert (tracks.aside[bend, LEFT] * site.curvature[bend] <= 0.8 + 1e-9).all()
    assert tracks.aside[bend, RIGHT] == pytest.approx(7.0 - 0.925)
    other = np.flatnonzero(site.curvature < -0.15)
    assert other.size == bend.size
    assert (tracks.aside[other, RIGHT] * -site.curvature[other] <= 0.8 + 1e-9).all()


def test_a_straddled_rock_holds_the_line_over_its_length() -> None:
    """A rock 0.45 m right of the middle, taken between the wheels: its shift, to the other side going back."""
    scene = straight_scene([{**ROCK, "offset_m": 0.45}])
    choice = chosen(scene)
    assert (choice.passing == list(Passing).index(Passing.STRADDLE)).all()
    shift = float(choice.shift_m[0, 0])
    assert shift == pytest.approx(0.65 - (0.8 - 0.125 - 0.15))
    site = tracks_of(scene)
    hold = for_set_up(site, scene, choice, envelope(), LIMITS).hold
    for track, sign in ((0, 1.0), (1, -1.0)):
        where = points_of(site, track)
        at = np.flatnonzero(~np.isnan(hold[where]))
        assert at.size in {1, 2}
        assert np.abs(site.chainage[where][at] - 30.0).max() <= 0.3 + 0.25
        assert hold[where][at] == pytest.approx(sign * shift)


def test_a_trodden_rock_holds_the_line() -> None:
    """One too high to straddle and low enough to climb: the middle of the left tyres goes over its near edge."""
    scene = straight_scene([{**ROCK, "height_m": 0.18, "length_m": 1.6, "offset_m": -0.5}])
    choice = chosen(scene)
    assert (choice.passing == list(Passing).index(Passing.TREAD)).all()
    site = tracks_of(scene)
    hold = for_set_up(site, scene, choice, envelope(), LIMITS).hold[points_of(site, 0)]
    held = np.flatnonzero(~np.isnan(hold))
    assert held.size in {3, 4}
    assert hold[held] == pytest.approx(0.8 - 0.7)


@pytest.mark.parametrize(
    "thing",
    [
        {"kind": "rut", "chainage_m": 30.0, "height_m": -0.1, "length_m": 8.0, "width_m": 0.3, "offset_m": 0.8},
        {"kind": "log", "chainage_m": 30.0, "height_m": 0.15},
        {"kind": "step", "chainage_m": 30.0, "height_m": 0.15},
        {"kind": "log", "chainage_m": 30.0, "height_m": 0.15, "width_m": 4.0},
    ],
)
def test_ruts_and_what_reaches_right_across_hold_nothing(thing: dict[str, object]) -> None:
    """Every line meets them, or wheels wore them: no offset is asked for."""
    scene = straight_scene([thing])
    choice = chosen(scene)
    assert choice.things.row.size == 1
    site = tracks_of(scene)
    assert np.isnan(for_set_up(site, scene, choice, envelope(), LIMITS).hold).all()


def test_the_higher_of_two_things_has_its_way() -> None:
    """Two rocks at one place that ask for different lines: the higher one's, whichever was surveyed first."""
    rocks = [{**ROCK, "offset_m": 0.45}, {**ROCK, "offset_m": -0.45, "height_m": 0.14}]
    for order in (rocks, rocks[::-1]):
        scene = straight_scene(order)
        choice = chosen(scene)
        shift = choice.shift_m[np.argmax(choice.things.height_m), 0]
        assert shift < 0.0
        site = tracks_of(scene)
        hold = for_set_up(site, scene, choice, envelope(), LIMITS).hold[points_of(site, 0)]
        assert np.nanmin(hold) == np.nanmax(hold) == shift


def test_things_of_a_neighbour_that_lies_the_other_way_round() -> None:
    """A rock 3 m beyond the node on a segment digitised towards us: offset and directions are seen from here."""
    lines = {"a": [(0.0, 0.0), (40.0, 0.0)], "b": [(80.0, 0.0), (40.0, 0.0)]}
    rock = {**ROCK, "segment_id": "b", "chainage_m": 37.0, "offset_m": 0.45}
    scene = scene_of(network(lines, obstacles=[rock]))
    choice = chosen(scene)
    choice.passing[0] = [list(Passing).index(Passing.STRADDLE), list(Passing).index(Passing.ROUND)]
    site = tracks_of(scene)
    slot, passing, shift = ways_past(site, scene.things, choice)
    order = np.argsort(site.placed.segment)
    assert site.placed.segment[order].tolist() == [0, 1]
    assert site.placed.sign[order].tolist() == [-1, 1]
    assert (slot == 0).all()
    assert passing[order[0]].tolist() == choice.passing[0, ::-1].tolist()
    assert shift[order[0], 1] == pytest.approx(choice.shift_m[0, 0])
    assert shift[order[1], 0] == pytest.approx(choice.shift_m[0, 0])
    hold = for_set_up(site, scene, choice, envelope(), LIMITS).hold
    assert np.isnan(hold[points_of(site, 0)]).all(), "it is gone round this way"
    back = points_of(site, 1)
    at = np.flatnonzero(~np.isnan(hold[back]))
    assert hold[back][at] == pytest.approx(choice.shift_m[0, 0])
    assert site.chainage[back][at] == pytest.approx(43.0, abs=0.6)
    assert site.tracks.x[back][at] - ORIGIN[0] == pytest.approx(43.0, abs=0.6)


def test_nothing_is_changed() -> None:
    """Asking for one set-up leaves the tracks of the site as they were."""
    scene = straight_scene([{**ROCK, "offset_m": 0.45}])
    site = tracks_of(scene)
    before = [np.array(column) for column in site.tracks]
    for_set_up(site, scene, chosen(scene), envelope(), LIMITS)
    for column, other in zip(site.tracks, before, strict=True):
        np.testing.assert_array_equal(np.array(column), other)
