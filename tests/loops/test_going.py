"""What the ground is like along segments on surfaces in closed form."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.ground.state import ground_state
from pipeline.ground.weather import Weather
from pipeline.loops.going import going_of
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces
from tests.worlds import Measured, at, network_of, plane, sine_hills, surface_terrain

LINES = {
    "long": at((0.0, 0.0), (97.0, 0.0)),
    "short": at((97.0, 0.0), (97.0, 3.0)),
    "back": at((60.0, 0.0), (0.0, 0.0)),
}


def test_stretches_add_up_and_have_the_grade_of_the_plane() -> None:
    """On a plane every stretch has its one grade, + uphill along the line, and lengths add up to the segment's."""
    network = network_of(LINES, surface={"long": "grass", "short": "sand", "back": "grass"})
    terrain = surface_terrain(network, plane(0.2, 0.1))
    going = going_of(network, terrain, ground_state(network, surfaces(), Weather(wetness=Wetness.WET)))
    expected = {"long": (10, 0.2), "short": (1, 0.1), "back": (6, -0.2)}
    assert set(going.segments) == set(expected)
    for name, (count, grade) in expected.items():
        found = going.segments[name]
        length = float(network.segments.set_index("segment_id").loc[name, "length_m"])
        assert len(found.length_m) == len(found.grade_deg) == count
        assert found.length_m.sum() == pytest.approx(length, rel=1e-12)
        assert found.grade_deg == pytest.approx(np.degrees(np.arctan(grade)), abs=1e-4)
    assert (going.segments["short"].surface, going.segments["long"].wetness) == ("sand", Wetness.WET)


def test_hills_keep_their_ups_and_downs() -> None:
    """Mean grades over stretches of a sine must follow the rise over each, and sum to the difference of its ends."""
    network = network_of({"a": at((0.0, 20.0), (200.0, 20.0))})
    terrain = surface_terrain(network, sine_hills(80.0, 3.0))
    found = going_of(network, terrain, ground_state(network, surfaces(), Weather())).segments["a"]
    edges = np.linspace(0.0, 200.0, len(found.length_m) + 1)
    height = np.interp(edges, terrain.stations.chainage_m, terrain.stations.z)
    rise = np.diff(height)
    assert np.tan(np.radians(found.grade_deg)) * found.length_m == pytest.approx(rise, abs=0.12)
    assert (found.grade_deg > 2.0).any()
    assert (found.grade_deg < -2.0).any()


def test_unknown_heights_stay_unknown() -> None:
    """A stretch with some heights has the mean of those; one without any has no grade."""
    network = network_of({"a": at((0.0, 0.0), (40.0, 0.0))})
    terrain = surface_terrain(network, plane(0.1))
    grade = terrain.stations.grade.copy()
    chainage = terrain.stations.chainage_m
    grade[(chainage > 13.0) & (chainage < 31.0)] = np.nan
    terrain = replace(terrain, stations=replace(terrain.stations, grade=grade))
    found = going_of(network, terrain, ground_state(network, surfaces(), Weather())).segments["a"]
    assert np.isnan(found.grade_deg).tolist() == [False, False, True, False]
    assert found.grade_deg[[0, 1, 3]] == pytest.approx(np.degrees(np.arctan(0.1)), abs=1e-4)


def test_wide_station_spacing_gives_fewer_stretches() -> None:
    """Where stations stand farther apart than a stretch is long, every stretch must still have one."""
    network = network_of({"a": at((0.0, 0.0), (100.0, 0.0))})
    terrain = surface_terrain(network, plane(0.1), Measured(spacing_m=25.0))
    found = going_of(network, terrain, ground_state(network, surfaces(), Weather())).segments["a"]
    assert len(found.length_m) == 4
    assert np.isfinite(found.grade_deg).all()
