"""Where ways go on beyond the ends of their segments."""

import numpy as np
import pytest

from tests.checks.room.worlds import arc, network, points_of, scene_of, tracks_of
from tests.worlds import ORIGIN


def last(site: object, track: int) -> tuple[float, float]:
    """Give the last point of a track, from the origin."""
    where = points_of(site, track)  # type: ignore[arg-type]
    return site.tracks.x[where][-1] - ORIGIN[0], site.tracks.y[where][-1] - ORIGIN[1]  # type: ignore[attr-defined]


def test_through_a_node_the_line_goes_on() -> None:
    """Two ends meet at a corner of 60°: the way goes round it, and says on whose ground it is."""
    corner = (40.0 + 30.0 * np.cos(np.pi / 3), 30.0 * np.sin(np.pi / 3))
    scene = scene_of(network({"a": [(0.0, 0.0), (40.0, 0.0)], "b": [(40.0, 0.0), corner]}))
    site = tracks_of(scene)
    x, y = last(site, 0)
    assert np.degrees(np.arctan2(y, x - 40.0)) == pytest.approx(60.0, abs=3.0)
    rows = site.row[points_of(site, 0)]
    assert set(rows.tolist()) == {-1, 0, 1}
    assert (rows[-1], rows[0]) == (1, -1)


def test_a_junction_that_turns_off_is_left_straight_on() -> None:
    """Three ends meet, the straightest neighbour turns by 60°: nobody knows which way; straight on, no edges."""
    lines = {
        "a": [(0.0, 0.0), (40.0, 0.0)],
        "b": [(40.0, 0.0), (55.0, 26.0)],
        "c": [(40.0, 0.0), (55.0, -26.0)],
    }
    site = tracks_of(scene_of(network(lines)))
    where = points_of(site, 0)
    assert site.tracks.y[where] == pytest.approx(ORIGIN[1], abs=1e-6)
    beyond = site.chainage[where] > 40.5
    assert (site.row[where][beyond] == -1).all()
    assert np.isinf(site.tracks.wheel[where][beyond]).all()


def test_a_junction_that_goes_on_is_followed() -> None:
    """The straightest of three bends off by 5°: the way follows it, whatever branches off."""
    lines = {
        "a": [(0.0, 0.0), (40.0, 0.0)],
        "b": [(40.0, 0.0), (40.0 + 30.0 * np.cos(0.087), 30.0 * np.sin(0.087))],
        "c": [(40.0, 0.0), (40.0, -30.0)],
    }
    site = tracks_of(scene_of(network(lines)))
    x, y = last(site, 0)
    assert np.arctan2(y, x - 40.0) == pytest.approx(0.087, abs=0.01)
    assert site.row[points_of(site, 0)][-1] == 1


def test_beyond_a_dead_end_the_way_goes_straight_on() -> None:
    """A bend that ends dead: ten metres along its last chord, slope across not known, so level there."""
    line = arc(15.0, 1.2)
    site = tracks_of(scene_of(network({"a": line})))
    where = points_of(site, 0)
    assert site.chainage[where][-1] == pytest.approx(15.0 * 1.2 + 10.0, abs=1.0)
    assert np.abs(site.curvature[where][-8:]).max() < 0.01
    assert (site.tracks.roll[where] == 0.0).all()


def test_a_ring_goes_on_into_itself() -> None:
    """A loop from a node back to it: the way goes on at its own other end, which is another place of the run."""
    ring = [(20.0 * np.sin(t), 20.0 * (1.0 - np.cos(t))) for t in np.linspace(0.0, 2.0 * np.pi, 80)]
    ring[-1] = ring[0]
    site = tracks_of(scene_of(network({"a": ring})))
    where = points_of(site, 0)
    assert (site.row[where] == 0).all()
    away = np.hypot(site.tracks.x[where] - ORIGIN[0], site.tracks.y[where] - ORIGIN[1] - 20.0)
    assert away == pytest.approx(20.0, abs=0.12)


def test_a_neighbour_that_is_short_is_passed() -> None:
    """Ten metres beyond the end lie on a third segment where the second is 4 m long."""
    lines = {
        "a": [(0.0, 0.0), (40.0, 0.0)],
        "b": [(44.0, 0.0), (40.0, 0.0)],
        "c": [(44.0, 0.0), (80.0, 0.0)],
    }
    site = tracks_of(scene_of(network(lines)))
    where = points_of(site, 0)
    rows = site.row[where]
    assert [int(rows[np.argmin(np.abs(site.chainage[where] - at))]) for at in (30.0, 42.0, 47.0)] == [0, 1, 2]


def test_two_ends_that_turn_back_are_not_followed() -> None:
    """A node where the other segment goes back beside this one: a shunt, not a way; straight on."""
    lines = {"a": [(0.0, 0.0), (40.0, 0.0)], "b": [(40.0, 0.0), (0.0, 3.0)]}
    site = tracks_of(scene_of(network(lines)))
    where = points_of(site, 0)
    assert site.tracks.y[where] == pytest.approx(ORIGIN[1], abs=1e-6)
    assert (site.row[where][site.chainage[where] > 40.5] == -1).all()


def test_twice_the_same_line_makes_tracks_all_the_same() -> None:
    """Two tiny segments between the same nodes: a run goes to and fro on them; the tracks are finite."""
    tiny = [(0.0, 0.0), (0.2, 0.0)]
    site = tracks_of(scene_of(network({"a": tiny, "b": tiny})))
    assert (np.diff(site.tracks.offsets) >= 2).all()
    assert np.isfinite(site.tracks.x).all()
    assert np.isfinite(site.tracks.heading).all()
