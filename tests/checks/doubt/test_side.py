"""Doubt of approach, breakover, departure and belly."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.doubt.side import VIEW
from pipeline.kernels.pose_contact import half_tangent
from pipeline.terms import Basis, CheckName
from pipeline.terrain.error_heights import HeightErrors, combination_sd
from pipeline.terrain.model import TerrainParameters
from tests.checks.doubt.worlds import GOOD, doubts, measured, sd
from tests.checks.worlds import envelope, mirrored, site_on, straight
from tests.worlds import ORIGIN, Surface, bowl, crest

Float64 = NDArray[np.float64]

LENGTH, RADIUS = 2.8, 0.38


def brow(bend: float = -0.08, grade: float = 0.0) -> Surface:
    """Make a brow (bend < 0) or dip that is round for 6 m to either side and then goes on straight; level across."""
    x0, edge = ORIGIN[0] + 30.0, 6.0

    def height(x: Float64, _y: Float64) -> Float64:
        away = np.abs(x - x0)
        return 100.0 + grade * (x - x0) + bend * np.where(away < edge, 0.5 * away**2, edge * away - 0.5 * edge**2)

    return Surface(height, lambda x, y: (grade + bend * np.clip(x - x0, -edge, edge), np.zeros_like(y)))


def height_sd(weights: list[float], places: list[float], errors: TerrainParameters = GOOD) -> float:
    """Deviation of a height over a chord, by the closed form alone; 1 m cells."""
    model = HeightErrors(np.array([errors.dem_rmse_m]), np.ones(1), errors.dem_correlation_m, np.zeros(1))
    return float(combination_sd(np.array([weights]), np.array([places]), np.zeros((1, len(places))), model)[0])


def test_a_belly_over_a_brow_is_the_middle_less_both_ends() -> None:
    """On the crown midway between the axles: z − ½ (z_front + z_rear)."""
    high = envelope(front_axle_clearance_m=0.5, rear_axle_clearance_m=0.5)
    case, outcome, found = doubts(measured(site_on(straight(), brow())), CheckName.BELLY, high)
    rear, front = case.sweep.rear_m[0, 0, 3], case.sweep.front_m[0, 0, 3]
    along = (outcome.at_m[0, 0] - rear) / (front - rear)
    expected = height_sd([1.0, along - 1.0, -along], [outcome.at_m[0, 0], rear, front])
    assert found[0, 0] == pytest.approx(expected, rel=0.02)
    assert found[0, 0] == pytest.approx(height_sd([1.0, -0.5, -0.5], [0.0, -1.4, 1.4]), rel=0.1)


@pytest.mark.parametrize("grade", [0.0, 0.6])
@pytest.mark.parametrize("name", [CheckName.APPROACH, CheckName.BREAKOVER, CheckName.DEPARTURE])
def test_an_angle_grows_by_what_higher_ground_asks(name: CheckName, grade: float) -> None:
    """Plainly: the height that asks the demand, found by stepping; then once more with one deviation on top."""
    surface = brow(-0.08 if name is CheckName.BREAKOVER else 0.14, grade)
    case, outcome, found = doubts(measured(site_on(straight(), surface)), name)
    column = VIEW[name]
    rear, front, at_m = (getattr(case.sweep, part)[0, 0, column] for part in ("rear_m", "front_m", "at_m"))
    along = (at_m - rear) / (front - rear)
    sizes = {
        CheckName.APPROACH: [(along - 1.0) * LENGTH],
        CheckName.DEPARTURE: [-along * LENGTH],
        CheckName.BREAKOVER: [(1.0 - along) * LENGTH, along * LENGTH],
    }[name]

    def asked(height: float) -> float:
        return math.degrees(sum(2.0 * math.atan(half_tangent(away, height, RADIUS)) for away in sizes))

    level = abs(front - rear) / LENGTH
    step = height_sd([level, level * (along - 1.0), -level * along], [at_m, rear, front])
    heights = np.linspace(0.0, 0.3, 30_001)
    height = float(heights[np.abs([asked(one) - outcome.demand[0, 0] for one in heights]).argmin()])
    assert found[0, 0] == pytest.approx(asked(height + step) - asked(height), rel=0.01)


def test_what_is_not_asked_has_no_doubt() -> None:
    """A dome asks nothing of the bumpers, a bowl nothing between the axles: no figure, neither 0 nor a guess."""
    dome, hollow = (measured(site_on(straight(), bowl(ORIGIN[0] + 30.0, ORIGIN[1], bend))) for bend in (-0.02, 0.02))
    for site, name in ((dome, CheckName.APPROACH), (dome, CheckName.DEPARTURE), (hollow, CheckName.BREAKOVER)):
        assert np.isnan(doubts(site, name)[2]).all()


def test_front_and_rear_are_alike() -> None:
    """A vehicle turned round meets with its tail, going back, what it met with its nose."""
    site = measured(site_on(straight(), bowl(ORIGIN[0] + 30.0, ORIGIN[1], 0.14)))
    ahead = doubts(site, CheckName.APPROACH)[2]
    behind = doubts(site, CheckName.DEPARTURE, mirrored(envelope()))[2]
    assert ahead[0, 0] == pytest.approx(behind[0, 1], rel=0.02)


def test_more_error_more_doubt_and_survey_less() -> None:
    """Every angle and the belly: the deviation grows with the error; 1 cm of survey is narrower than 5 cm of model."""
    for name, surface in ((CheckName.BREAKOVER, brow()), (CheckName.BELLY, brow())):
        site = site_on(straight(), surface)
        found = [sd(measured(site, dataclasses.replace(GOOD, dem_rmse_m=one)), name) for one in (0.0, 0.02, 0.05, 0.3)]
        assert found[0] == 0.0
        assert found == sorted(found)
        fine = TerrainParameters(dem_rmse_m=0.05, dem_correlation_m=5.0, survey_rmse_m=0.01)
        surveyed = sd(measured(site, fine, Basis.SURVEYED), name)
        assert 0.0 < surveyed < found[2]


def test_ground_that_touches_the_tyre_still_has_a_figure() -> None:
    """At the foot of a steep rise the angle grows without bound as ground nears the tyre: the figure stays finite."""
    site = measured(site_on(straight(), crest(ORIGIN[0] + 30.0, -0.7, -0.7)), dataclasses.replace(GOOD, dem_rmse_m=0.3))
    for name in (CheckName.APPROACH, CheckName.DEPARTURE):
        found = doubts(site, name)[2]
        assert np.isfinite(found).all()
        assert (found > 0.0).all()
        assert (found < 120.0).all()
