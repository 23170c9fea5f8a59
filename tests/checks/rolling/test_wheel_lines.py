"""Ground under the left and right tyres of a set-up: weights across, planes, obstacles under the wheels they meet."""

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.near_nodes import with_neighbours
from pipeline.checks.obstacles import Things, by_tyre, things_of
from pipeline.checks.passing.choice import Choice, codes_of
from pipeline.checks.passing.laid import tyre_bumps
from pipeline.checks.rolling.wheel_lines import WheelLines, bends_of, lines_of, paths_of, tyre_weights, wheel_lines
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis, Passing
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, choice_of, envelope, ground_of, site_on, straight, with_profiles, with_stations
from tests.worlds import Measured, at, network_of, plane

Floats = NDArray[np.float64]

ACROSS = np.array(TerrainParameters().strip_across_m)


def lines_on(site: CheckSite, vehicle: Envelope | None = None) -> WheelLines:
    """Work out the wheel lines of the box wagon: track 1.60 m, tyres 0.25 m wide."""
    vehicle = vehicle or envelope()
    choice = choice_of(with_neighbours(things_of(site.network), site.network), vehicle)
    return wheel_lines(site.terrain.profiles, site.terrain.stations, choice, vehicle, LIMITS)


def middle_on(site: CheckSite) -> WheelLines:
    """Work them out of a driver who keeps to the middle and drives over everything in a tyre's path."""
    choice = in_the_middle(with_neighbours(things_of(site.network), site.network))
    return wheel_lines(site.terrain.profiles, site.terrain.stations, choice, envelope(), LIMITS)


def in_the_middle(things: Things) -> Choice:
    """Have everything in a tyre's path driven over."""
    choice = choice_of(things)
    left, right = by_tyre(choice.things, envelope(), 0.0)
    met = dataclasses.replace(choice.lines, left=left, right=right, tread=left | right)
    return dataclasses.replace(choice, passing=np.full_like(choice.passing, codes_of(Passing.TREAD)[0]), lines=met)


def over(*things: dict[str, object]) -> tuple[Floats, Floats]:
    """Lay things on level ground at 30 m; give what stands over it under the left and right tyres in the middle."""
    rows = [{"segment_id": "s", "chainage_m": 30.0, "offset_m": 0.0, **thing} for thing in things]
    found = middle_on(site_on(straight(obstacles=rows), plane()))
    return found.left - 100.0, found.right - 100.0


@pytest.mark.parametrize(
    ("middle", "width"), [(0.8, 0.25), (-0.8, 0.25), (0.0, 0.9), (0.31, 0.02), (1.45, 0.3), (-1.6, 0.1)]
)
def test_weights_across_are_the_mean_over_the_tyre(middle: float, width: float) -> None:
    """Sum 1, centre of weight at the tyre, and for any heights the mean of 20,001 places between its edges."""
    weights = tyre_weights(ACROSS, middle, width)
    assert weights.sum() == pytest.approx(1.0)
    assert weights @ ACROSS == pytest.approx(middle)
    z = np.random.default_rng(5).normal(size=ACROSS.size)
    inside = middle - width / 2.0 > ACROSS[0] and middle + width / 2.0 < ACROSS[-1]
    if inside:
        places = np.linspace(middle - width / 2.0, middle + width / 2.0, 20_001)
        assert weights @ z == pytest.approx(np.trapezoid(np.interp(places, ACROSS, z), places) / width, abs=1e-7)
    assert np.count_nonzero(weights) <= width / 0.3 + 3.0


@pytest.mark.parametrize(("grade", "cross"), [(0.3, 0.0), (0.0, 0.25), (-0.2, -0.4)])
def test_a_plane_lies_half_a_track_times_its_slope_beside_the_line(grade: float, cross: float) -> None:
    """Left − right = −cross · track at every sample, and their mean is the line; rear and front track are averaged."""
    site = site_on(straight(), plane(grade, -cross))
    found = lines_on(site, envelope(track_front_m=1.7, track_rear_m=1.5))
    z = site.terrain.profiles.z.astype(np.float64)
    assert found.right - found.left == pytest.approx(np.full(601, 1.6 * cross), abs=1e-5)
    assert (found.left + found.right) / 2.0 == pytest.approx(z, abs=1e-5)
    assert (found.bend == 0.0).all()
    assert (found.own_from.tolist(), found.own_to.tolist(), found.step) == ([0.0], [60.0], 0.1)


def test_missing_ground_counts_where_a_tyre_stands() -> None:
    """A void 1.5 m right of the line touches nobody; one at 0.9 m takes the right tyre's ground, not the left one's."""
    site = site_on(straight(), plane())
    strip = site.terrain.profiles.strip
    for place, lost in ((1.5, 0), (0.9, 9 + 2)):
        rise = strip.rise_m.copy()
        rise[40, np.isclose(ACROSS, place)] = np.nan
        found = lines_on(with_profiles(site, strip=dataclasses.replace(strip, rise_m=rise)))
        assert np.count_nonzero(np.isnan(found.right)) == lost
        assert not np.isnan(found.left).any()


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_thing_is_under_the_wheel_whose_path_meets_it(sign: float) -> None:
    """A rock of 0.30 m 0.80 m right of the line (or left): under that tyre at full height, flat under the other."""
    rock = {"kind": "rock", "height_m": 0.3, "length_m": 1.0, "width_m": 0.3, "offset_m": 0.8 * sign}
    left, right = over(rock)
    hit, missed = (right, left) if sign > 0 else (left, right)
    assert hit.max() == pytest.approx(0.3, abs=1e-5)
    assert hit.argmax() == 300
    assert np.abs(missed).max() < 1e-5


@pytest.mark.parametrize(
    ("thing", "sides"),
    [
        ({"kind": "log", "height_m": 0.2, "length_m": 0.4}, "both"),
        ({"kind": "rock", "height_m": 0.2, "length_m": 0.4, "width_m": 0.5}, "none"),
        ({"kind": "rock", "height_m": 0.2, "length_m": 0.4, "width_m": 0.3, "offset_m": 1.3}, "none"),
        ({"kind": "hole", "height_m": -0.2, "length_m": 0.4, "width_m": 0.4, "offset_m": -0.8}, "left"),
        ({"kind": "ditch", "height_m": -0.2, "length_m": 0.8}, "both"),
        ({"kind": "rut", "height_m": -0.2, "length_m": 8.0}, "both"),
        ({"kind": "rut", "height_m": -0.2, "length_m": 8.0, "width_m": 0.3, "offset_m": 0.8}, "right"),
    ],
)
def test_only_the_wheels_that_meet_it_rise_or_sink(thing: dict[str, object], sides: str) -> None:
    """Across the trail both; between the wheels or beside them none; where a driver keeps to the middle."""
    left, right = over(thing)
    for side, z in (("left", left), ("right", right)):
        expected = float(str(thing["height_m"])) if sides in (side, "both") else 0.0
        assert z[np.abs(z).argmax()] == pytest.approx(expected, abs=1e-5)


def test_a_thing_changes_sides_with_the_direction_of_a_run() -> None:
    """A rock right of a trail that was digitised towards the node is left of a run that comes out of that node."""
    network = network_of(
        {"a": at((0, 30), (20, 30)), "b": at((40, 30), (20, 30))},
        obstacles=[
            {
                "kind": "rock",
                "segment_id": "b",
                "chainage_m": 14.0,
                "offset_m": 0.8,
                "height_m": 0.3,
                "length_m": 1.0,
                "width_m": 0.3,
            }
        ],
    )
    site = CheckSite(network, measure_terrain(network, TerrainParameters(elevation=())), ground_of(2))
    site = with_profiles(site, z=np.zeros_like(site.terrain.profiles.z))
    strip = site.terrain.profiles.strip
    site = with_profiles(site, strip=dataclasses.replace(strip, rise_m=np.zeros_like(strip.rise_m)))
    found = middle_on(site)
    own = slice(found.offsets[1], found.offsets[2])
    assert (found.right[own].max(), found.left[own].max()) == pytest.approx((0.3, 0.0))
    assert found.start_m[1] + found.step * found.right[own].argmax() == pytest.approx(14.0)
    onward = slice(found.offsets[0], found.offsets[1])
    assert (found.left[onward].max(), found.right[onward].max()) == pytest.approx((0.3, 0.0))
    assert found.start_m[0] + found.step * found.left[onward].argmax() == pytest.approx(26.0)


def test_bends_are_those_of_the_own_part() -> None:
    """Straight between stations (0.5 m apart), nothing beyond the segment's own part."""
    site = site_on(straight(), plane())
    stations = site.terrain.stations
    curvature = (0.01 * stations.chainage_m - 0.2).astype(np.float32)
    profiles = dataclasses.replace(
        site.terrain.profiles, start_m=np.array([-3.0]), own_from_m=np.array([0.0]), own_to_m=np.array([50.0])
    )
    along = profiles.start_m[0] + 0.1 * np.arange(601)
    bend = bends_of(profiles, with_stations(site, curvature=curvature).terrain.stations)
    own = (along > -1e-6) & (along < 50.0 + 1e-6)
    assert bend == pytest.approx(np.where(own, 0.01 * along - 0.2, 0.0), abs=1e-6)


def test_worth_of_the_ground_is_the_worst_of_both_sides() -> None:
    """A side slope is the model's, whatever the line is; a rock of assumed length is assumed; elsewhere surveyed."""
    level = site_on(straight(), plane(), Measured(basis=Basis.SURVEYED))
    assert (lines_on(level).basis == Basis.SURVEYED).all()
    tilted = site_on(straight(), plane(0.0, 0.1), Measured(basis=Basis.SURVEYED))
    assert (lines_on(tilted).basis == Basis.DEM).all()
    rock = {"kind": "rock", "height_m": 0.3, "width_m": 0.3, "offset_m": 0.8, "segment_id": "s", "chainage_m": 30.0}
    found = middle_on(site_on(straight(obstacles=[rock]), plane(), Measured(basis=Basis.SURVEYED)))
    assert found.basis[300] == Basis.ASSUMED
    assert (found.basis[:290] == Basis.SURVEYED).all()


def test_a_stretch_of_runs_is_what_it_is_in_the_whole() -> None:
    """Cut out and worked out alone, every run has the same lines."""
    network = network_of(
        {"a": at((0, 30), (20, 30)), "b": at((20, 30), (41, 33)), "c": at((41, 33), (47, 20))},
        obstacles=[
            {"kind": "log", "segment_id": "b", "chainage_m": 14.0, "height_m": 0.3},
            {"kind": "hole", "segment_id": "c", "chainage_m": 5.0, "height_m": -0.3, "offset_m": -0.8, "width_m": 0.4},
        ],
    )
    site = site_on(network, plane(0.1, 0.2))
    profiles = site.terrain.profiles
    things = tyre_bumps(in_the_middle(things_of(network)), profiles, LIMITS)
    paths = paths_of(profiles, bends_of(profiles, site.terrain.stations), things, envelope(), LIMITS)
    whole, part = lines_of(paths), lines_of(paths.cut(1, 3))
    first = whole.offsets[1]
    assert part.offsets.tolist() == (whole.offsets[1:] - first).tolist()
    for name in ("left", "right", "basis", "bend"):
        np.testing.assert_array_equal(getattr(part, name), getattr(whole, name)[first:])
    for name in ("start_m", "own_from", "own_to"):
        np.testing.assert_array_equal(getattr(part, name), getattr(whole, name)[1:])
    assert min(np.ptp(np.diff(side)) for side in (part.left, part.right)) > 0.1, "things are cut out with their runs"
