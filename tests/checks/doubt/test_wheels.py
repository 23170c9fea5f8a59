"""Doubt of roll, tipping lengthwise and twist."""

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.doubt.wheels import tip_weights
from pipeline.kernels.four_records import Chassis, TyreLines
from pipeline.kernels.four_stand import stand
from pipeline.terms import Basis, CheckName, Wheel
from pipeline.terrain.error_heights import HeightErrors, combination_sd
from pipeline.terrain.model import TerrainParameters
from tests.checks.doubt.worlds import GOOD, doubts, measured, sd
from tests.checks.worlds import envelope, site_on, straight, with_stations
from tests.worlds import ORIGIN, Surface, network_of, plane

Float64 = NDArray[np.float64]

LENGTH, TRACK = 2.8, 1.6
REAR = 4.0
"""Place of the rear axle on a run of 12 m."""
NUDGE = 1e-4
"""Heights under the wheels are raised by this, m."""


def lines(grade: float, cross: float, twist: float, raised: int) -> TyreLines:
    """Lay lines of tyres on z = grade · s + cross · n + twist · s · n (n + left), one wheel raised on a plateau."""
    s = np.arange(121) * 0.1
    sides = [grade * s + (cross + twist * (s - 5.4)) * n for n in (TRACK / 2.0, -TRACK / 2.0)]
    if raised >= 0:
        at = REAR + (LENGTH if raised in {Wheel.FRONT_LEFT, Wheel.FRONT_RIGHT} else 0.0)
        sides[raised % 2] = sides[raised % 2] + NUDGE * (np.abs(s - at) < 0.9)
    whole = np.array([0, s.size])
    basis = np.full(s.size, Basis.DEM, dtype=np.uint8)
    return TyreLines(whole, sides[0], sides[1], basis, np.zeros(s.size), np.zeros(1), np.full(1, 12.0), 0.1)


def by_standing(ground: tuple[float, float, float], travel: float, edge: int) -> tuple[Float64, int]:
    """Raise the ground under each wheel and see how the angle left over an edge falls, rad/m; and the wheel in the air.

    The kernel's own poses: force-angle measure on the feet as they stand.
    """
    chassis = Chassis(LENGTH, TRACK, TRACK, 0.38, travel, -1.3, 0.0, 0.72, np.ones(4))
    poses = [stand(lines(*ground, wheel), chassis, (0, 0), REAR, 0.0) for wheel in (-1, 0, 1, 2, 3)]
    angles = np.array([pose.edges[edge] for pose in poses])
    return (angles[0] - angles[1:]) / NUDGE, int(poses[0].lifted)


LEFT, RIGHT, FRONT, BACK, DIAGONAL = range(5)


WHEELS = (np.array([[LENGTH, LENGTH, 0.0, 0.0]]), np.array([[-0.5, 0.5, -0.5, 0.5]]) * TRACK)
FIELDS = {
    "independent": HeightErrors(np.ones(1), np.full(1, np.nan), None, np.zeros(1)),
    "a model": HeightErrors(np.ones(1), np.ones(1), 5.0, np.zeros(1)),
}


def compare(found: Float64, expected: Float64, within: float) -> None:
    """Hold weights against each other: each *within* a part of the largest, what they make of errors within 5 %."""
    assert found == pytest.approx(expected, abs=np.abs(expected).max() * within)
    for errors in FIELDS.values():
        both = [combination_sd(one[None], *WHEELS, errors)[0] for one in (found, expected)]
        assert both[0] == pytest.approx(both[1], rel=0.05)


@pytest.mark.kernel
@pytest.mark.parametrize(("grade", "cross"), [(0.0, 0.0), (0.1, 0.25), (-0.2, 0.3), (0.3, 0.1)])
def test_on_four_wheels_they_are_the_derivatives_of_the_force_angle(grade: float, cross: float) -> None:
    """Raise the ground under each wheel of a standing vehicle by a tenth of a millimetre."""
    pitch = np.arctan([grade])
    for name, edge in ((CheckName.ROLL, RIGHT), (CheckName.PITCH_OVER, BACK)):
        found, lifted = by_standing((grade, cross, 0.0), 9.0, edge)
        assert lifted == -1
        compare(found, weights_of(name, lifted, (pitch, np.arctan(cross * np.cos(pitch)))), 0.1)


@pytest.mark.kernel
@pytest.mark.parametrize(("cross", "twist"), [(0.06, 0.1), (0.06, -0.1), (-0.06, 0.1), (-0.06, -0.1)])
def test_on_three_wheels_the_diagonal_decides(cross: float, twist: float) -> None:
    """Each of the wheels in the air, with a travel that the twist overruns, next to nothing hangs on that wheel."""
    found, lifted = by_standing((0.02, cross, twist), 0.1, DIAGONAL)
    expected = weights_of(CheckName.ROLL, lifted, (np.zeros(1), np.zeros(1)))
    assert lifted >= 0
    assert expected[lifted] == 0.0
    compare(found * np.sign(found[3 - lifted]), expected, 0.12)


def weights_of(name: CheckName, lifted: int, tilts: tuple[Float64, Float64]) -> Float64:
    """Give the weights of one pose."""
    return tip_weights(name, (LENGTH, TRACK), tilts, np.array([lifted], dtype=np.int8))[0]


@pytest.mark.parametrize("name", [CheckName.ROLL, CheckName.PITCH_OVER])
@pytest.mark.parametrize("lifted", [-1, *Wheel])
def test_raising_the_whole_ground_changes_nothing(name: CheckName, lifted: int) -> None:
    """Weights sum to none: a constant error of the model is no error of a slope."""
    weights = weights_of(name, lifted, (np.zeros(1), np.zeros(1)))
    assert weights.sum() == pytest.approx(0.0, abs=1e-12)
    assert np.abs(weights).sum() > 0.5


def wound(twist: float = 0.04, cross: float = 0.1) -> Surface:
    """Make ground that leans and winds: z = cross · n + twist · s · n, n to the north."""
    x0, y0 = ORIGIN[0] + 30.0, ORIGIN[1]
    return Surface(
        height=lambda x, y: 100.0 + (cross + twist * (x - x0)) * (y - y0),
        gradient=lambda x, y: (twist * (y - y0), cross + twist * (x - x0)),
    )


def test_twist_of_independent_heights() -> None:
    """Heights surveyed every half a metre, no model beside them: √4 · σ for the twist and σ ÷ T for the roll.

    Of errors σ = √(2/3) · 3 cm: between two vertices they cancel in part.
    """
    x = ORIGIN[0] + np.arange(121) * 0.5
    network = network_of({"s": [(one, ORIGIN[1]) for one in x]}, surveyed_on="2026-04-18")
    site = measured(site_on(network, wound(0.0005)), TerrainParameters(survey_rmse_m=0.03), Basis.SURVEYED)
    site = with_stations(site, cell_m=np.full_like(site.terrain.stations.cell_m, np.nan))
    vehicle, sigma = envelope(wheel_travel_m=9.0), np.sqrt(2.0 / 3.0) * 0.03
    assert sd(site, CheckName.ARTICULATION, vehicle) == pytest.approx(2.0 * sigma, rel=1e-6)
    assert sd(site, CheckName.ROLL, vehicle) == pytest.approx(np.degrees(sigma / TRACK), rel=0.03)


def test_directions_have_the_same_doubt() -> None:
    """The ground under a vehicle is the same whichever way it looks."""
    site = measured(site_on(straight(), wound()), dataclasses.replace(GOOD, line_rmse_m=0.3))
    for name in (CheckName.ROLL, CheckName.ARTICULATION):
        found = doubts(site, name)[2]
        assert found[0, 0] == pytest.approx(found[0, 1], rel=0.05)


def test_a_survey_grade_line_leans_by_the_model_beside_it() -> None:
    """Across, the ground is the model's still; lengthwise it is surveyed."""
    ground = site_on(straight(), plane(east=0.2, north=0.2))
    errors = TerrainParameters(dem_rmse_m=0.5, dem_correlation_m=5.0, survey_rmse_m=0.01)
    model, survey = measured(ground, errors), measured(ground, errors, Basis.SURVEYED)
    assert sd(survey, CheckName.ROLL) == pytest.approx(sd(model, CheckName.ROLL))
    assert sd(survey, CheckName.PITCH_OVER) < 0.2 * sd(model, CheckName.PITCH_OVER)


def test_a_wider_track_steadies_the_lean() -> None:
    """The same errors over a longer base."""
    site = measured(site_on(straight(), plane(north=0.2)))
    narrow, wide = (envelope(track_front_m=track, track_rear_m=track) for track in (1.3, 1.7))
    assert sd(site, CheckName.ROLL, wide) < sd(site, CheckName.ROLL, narrow)
