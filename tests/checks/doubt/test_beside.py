"""Ground on and beside the runs of segments."""

import numpy as np
import pytest

from pipeline.checks.doubt.beside import ground_at, slopes_at
from tests.checks.worlds import profiles_of, site_on, straight, with_profiles
from tests.worlds import ORIGIN, Surface, at, bowl, network_of, plane, surface_terrain


def wavy() -> Surface:
    """Make ground that bends both ways, slowly."""
    return Surface(
        height=lambda x, y: 100.0 + 2.0 * np.sin((x - ORIGIN[0]) / 9.0) + 0.5 * np.cos((y - ORIGIN[1]) / 7.0),
        gradient=lambda x, y: (
            2.0 / 9.0 * np.cos((x - ORIGIN[0]) / 9.0),
            -0.5 / 7.0 * np.sin((y - ORIGIN[1]) / 7.0),
        ),
    )


def test_heights_and_slopes_are_those_of_the_surface() -> None:
    """Seeded places along and beside a line to the east: right of it is south; within what straight pieces miss."""
    terrain = surface_terrain(straight(), wavy())
    rng = np.random.default_rng(5)
    s, n = rng.uniform(1.0, 59.0, 200), rng.uniform(-1.4, 1.4, 200)
    segment = np.zeros(200, dtype=np.int64)
    x, y = ORIGIN[0] + s, ORIGIN[1] - n
    assert ground_at(terrain.profiles, segment, s, n) == pytest.approx(wavy().height(x, y), abs=2e-3)
    along, across = slopes_at(terrain.profiles, segment, s, n)
    east, north = wavy().gradient(x, y)
    assert along == pytest.approx(east, abs=3e-3)
    assert across == pytest.approx(-north, abs=3e-3)


def test_each_segment_has_its_own_run() -> None:
    """Places of two segments in one call, in any shape."""
    network = network_of({"a": at((0, 0), (20, 0)), "b": at((0, 40), (0, 60))})
    profiles = surface_terrain(network, plane(east=0.1, north=0.3)).profiles
    segment, s, n = np.array([[1], [0], [1]]), np.array([[4.0, 5.0]] * 3), np.array([[1.0, -1.0]] * 3)
    found = ground_at(profiles, segment, s, n)
    north = 100.0 + 0.3 * (40.0 + s) + 0.1 * n  # to the north, right is east
    east = 100.0 + 0.1 * s - 0.3 * n
    assert found == pytest.approx(np.where(segment == 1, north, east), abs=1e-4)


def test_places_beyond_the_ends_are_those_at_the_ends() -> None:
    """No height is made up beyond run and strip; slopes there are those just inside."""
    profiles = surface_terrain(straight(30.0), bowl(ORIGIN[0] + 10.0, ORIGIN[1], 0.02)).profiles
    segment = np.zeros(2, dtype=np.int64)
    inside = ground_at(profiles, segment, np.array([0.0, 30.0]), np.array([1.5, -1.5]))
    assert ground_at(profiles, segment, np.array([-5.0, 40.0]), np.array([9.0, -9.0])) == pytest.approx(inside)
    along, across = slopes_at(profiles, segment, np.array([-5.0, 40.0]), np.array([9.0, -9.0]))
    assert along == pytest.approx([0.02 * (0.5 - 10.0), 0.02 * 19.5], abs=1e-3)
    assert across == pytest.approx([0.02 * 1.2, -0.02 * 1.2], abs=1e-3)


def test_missing_heights_stay_missing() -> None:
    """A gap gives NaN where it is asked for, and only there; so does a place that is not known."""
    site = site_on(straight(30.0), plane(east=0.1))
    z = site.terrain.profiles.z.copy()
    z[100:110] = np.nan
    profiles = with_profiles(site, z=z).terrain.profiles
    found = ground_at(profiles, np.zeros(5, dtype=np.int64), np.array([9.85, 9.9, 10.0, 11.0, np.nan]), np.zeros(5))
    assert np.isnan(found).tolist() == [False, False, True, False, True]


def test_a_run_of_one_sample_is_level() -> None:
    """The shortest run that can be."""
    found = ground_at(profiles_of(np.array([7.0])), np.zeros(2, dtype=np.int64), np.array([0.0, 3.0]), np.zeros(2))
    assert found.tolist() == [7.0, 7.0]
