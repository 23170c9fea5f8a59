"""Smoothed lines: the survey's noise is no steering, bends stay where they are, points are equally far apart."""

import numpy as np
import pytest

from pipeline.checks.room.way import STEP_M
from tests.checks.room.worlds import arc, hairpin, network, own_points, points_of, scene_of, tracks_of, wavy
from tests.worlds import ORIGIN, plane


def test_points_are_equally_far_apart() -> None:
    """Half a metre from point to point on a hairpin, to less than a millimetre, and the heading is that of the way."""
    site = tracks_of(scene_of(network({"a": hairpin(7.0)}), plane()))
    where = points_of(site, 0)
    x, y, heading = (values[where] for values in (site.tracks.x, site.tracks.y, site.tracks.heading))
    assert np.hypot(np.diff(x), np.diff(y)) == pytest.approx(STEP_M, abs=1e-3)
    chord = np.unwrap(np.arctan2(np.diff(y), np.diff(x)))
    assert (heading[1:] + heading[:-1]) / 2.0 == pytest.approx(chord, abs=2e-3)


def test_a_straight_stays_a_straight() -> None:
    """No point of it leaves the line, and the chainage is the distance from its start."""
    site = tracks_of(scene_of(network({"a": [(0.0, 0.0), (31.3, 0.0)]}), plane()))
    where = points_of(site, 0)
    assert site.tracks.y[where] == pytest.approx(ORIGIN[1], abs=1e-6)
    assert site.tracks.x[where] - ORIGIN[0] == pytest.approx(site.chainage[where], abs=1e-6)
    assert site.tracks.own_to[0] - site.tracks.own_from[0] == pytest.approx(31.3, abs=1e-6)


@pytest.mark.parametrize("radius", [6.0, 10.0, 30.0])
def test_an_arc_keeps_its_radius(radius: float) -> None:
    """Within 5 cm of the circle and 4 % of its curvature, away from where the bend begins and ends."""
    site = tracks_of(scene_of(network({"a": hairpin(radius)}), plane()))
    k = points_of(site, 0)
    along = site.chainage[k]
    inside = (along > 30.0 + 8.0) & (along < 30.0 + np.pi * radius - 8.0)
    x, y = site.tracks.x[k][inside] - ORIGIN[0] - 30.0, site.tracks.y[k][inside] - ORIGIN[1] - radius
    assert np.hypot(x, y) == pytest.approx(radius, abs=0.05)
    assert site.curvature[k][inside] * radius == pytest.approx(1.0, abs=0.04)


@pytest.mark.parametrize("every", [2.0, 5.0])
def test_vertices_far_apart_make_no_corners(every: float) -> None:
    """A bend of 12 m drawn with few vertices is driven as a bend: nowhere half as tight again as its circle."""
    site = tracks_of(scene_of(network({"a": hairpin(12.0, step=every)}), plane()))
    own = own_points(site, 0)
    assert np.abs(site.curvature[own]).max() < 1.5 / 12.0


def test_noise_of_the_survey_is_no_steering() -> None:
    """A straight whose vertices are off by 0.1 m every 2 m bends by less than 30 m; its raw corners would be 1 m."""
    for seed in range(5):
        site = tracks_of(scene_of(network({"a": wavy(120.0, 0.1, seed)}), plane()))
        own = own_points(site, 0, 2.0)
        assert np.abs(site.curvature[own]).max() < 1.0 / 30.0


def test_what_is_no_noise_is_kept() -> None:
    """A chicane half a metre to the side within 12 m is not smoothed away: the way keeps within 0.2 m of it."""
    s = np.linspace(0.0, 60.0, 121)
    y = 0.5 * np.exp(-(((s - 30.0) / 4.0) ** 2))
    site = tracks_of(scene_of(network({"a": list(zip(s, y, strict=True))}), plane()))
    where = points_of(site, 0)
    found = site.tracks.y[where].max() - ORIGIN[1]
    assert found == pytest.approx(0.5, abs=0.2)


def test_corner_is_rounded_no_further_than_needed() -> None:
    """A right angle of two straights: the way cuts the corner by less than a metre."""
    site = tracks_of(scene_of(network({"a": [(0.0, 0.0), (30.0, 0.0), (30.0, 30.0)]}), plane()))
    where = points_of(site, 0)
    away = np.hypot(site.tracks.x[where] - ORIGIN[0] - 30.0, site.tracks.y[where] - ORIGIN[1]).min()
    assert 0.05 < away < 1.0


def test_digitised_the_other_way_round() -> None:
    """The line reversed gives the same points in the other order, to the rounding of sums."""
    line = [*arc(9.0, 2.0), (12.0, 30.0), (14.0, 47.3)]
    one, other = (tracks_of(scene_of(network({"a": points}), plane())) for points in (line, line[::-1]))
    here, there = points_of(one, 0), points_of(other, 1)
    assert here == slice(0, there.stop - there.start)
    for name in ("x", "y"):
        assert getattr(one.tracks, name)[here] == pytest.approx(getattr(other.tracks, name)[there], abs=1e-6)
    assert one.curvature[here] == pytest.approx(other.curvature[there], abs=1e-6)


def test_mirrored() -> None:
    """A mirrored line bends as much the other way."""
    line = wavy(80.0, 0.3, 3)
    one = tracks_of(scene_of(network({"a": line}), plane()))
    other = tracks_of(scene_of(network({"a": [(x, -y) for x, y in line]}), plane()))
    assert one.curvature == pytest.approx(-other.curvature, abs=1e-8)
