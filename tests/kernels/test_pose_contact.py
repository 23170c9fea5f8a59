"""Angles seen from the loaded tyre arc, and the worst of them kept."""

import math

import numpy as np
import pytest

from pipeline.kernels.pose_contact import half_tangent
from pipeline.kernels.pose_records import (
    APPROACH,
    BELLY,
    BREAKOVER,
    CHECKS,
    DEMAND,
    DEPARTURE,
    FIELDS,
    HARMLESS,
    ROWS,
    UTILISATION,
    Body,
)
from tests.kernels.called import line_over, pass_over

pytestmark = pytest.mark.kernel

R = 0.38
BODY = Body.of(np.array([[-3.9, 0.35], [-1.4, 0.25], [0.9, 0.45]]), 2.8, R, 0.05, (0.21, 0.20))


@pytest.mark.parametrize(
    ("height", "away", "degrees"), [(0.450, 0.90, 29.342), (0.500, 0.85, 34.310), (0.350, 1.10, 18.640)]
)
def test_tangent_angles_of_the_regulation(height: float, away: float, degrees: float) -> None:
    """Approach and departure by 49 CFR 523.2 are tangent to the loaded arc, not to the contact point.

    Closed form derived from the definition, tolerance 0.01°; the contact point would give 26.565° for the first.
    """
    assert 2.0 * math.degrees(math.atan(half_tangent(away, height, R))) == pytest.approx(degrees, abs=0.01)


@pytest.mark.parametrize(
    ("height", "wheelbase", "radius", "degrees"),
    [(0.250, 2.80, 0.38, 20.750), (0.200, 2.40, 0.35, 19.396), (0.300, 2.40, 0.40, 29.275)],
)
def test_breakover_angles_of_the_regulation(height: float, wheelbase: float, radius: float, degrees: float) -> None:
    """Breakover of a point midway is twice its tangent angle (derived from 49 CFR 523.2), tolerance 0.01°."""
    assert 4.0 * math.degrees(math.atan(half_tangent(wheelbase / 2.0, height, radius))) == pytest.approx(
        degrees, abs=0.01
    )


def test_tangent_limits() -> None:
    """Nothing above the line asks nothing; 2r = h is no singularity; a point inside the tyre is hidden."""
    assert half_tangent(1.0, 0.0, R) == 0.0
    assert half_tangent(1.0, -0.1, R) == 0.0
    assert half_tangent(1.0, 2.0 * R, R) == pytest.approx(R)
    assert half_tangent(0.5, 0.3, 0.0) == pytest.approx(math.tan(math.atan(0.6) / 2.0))
    assert math.isnan(half_tangent(0.1, 0.2, R))


@pytest.mark.parametrize("off", [-1e-14, 0.0, 1e-14])
@pytest.mark.parametrize("degrees", [10.0, 40.0, 75.0])
def test_a_point_that_the_tyre_touches_is_seen(degrees: float, off: float) -> None:
    """A point on the tyre is seen under the tangent there, whatever the last digit says; half a millimetre in is not.

    The tangent at a point of the circle so many degrees ahead of its lowest one rises at as many degrees.
    """
    angle = math.radians(degrees)
    away, height = R * math.sin(angle) + off, R * (1.0 - math.cos(angle))
    assert 2.0 * math.degrees(math.atan(half_tangent(away, height, R))) == pytest.approx(degrees, abs=1e-4)
    assert math.isnan(half_tangent(away - 5e-4, height, R))


@pytest.mark.parametrize(("height", "away"), [(0.45, 0.9), (0.1, 0.5), (0.7, 0.4), (0.9, 0.2)])
def test_tangent_meets_its_definition(height: float, away: float) -> None:
    """The angle b solves a·sin b + (r − h)·cos b = r, the distance of the tangent line from the wheel centre."""
    angle = 2.0 * math.atan(half_tangent(away, height, R))
    assert away * math.sin(angle) + (R - height) * math.cos(angle) == pytest.approx(R, abs=1e-12)


def passed(
    spot: int, height: float, worst: float | np.ndarray = 0.0, body: Body = BODY, front: float = 10.0
) -> np.ndarray:
    """Hold flat ground with one vertex raised against the body; both wheels stand on the flat."""
    z = np.zeros(200)
    under = z.copy()
    under[spot] = height
    best = np.zeros((ROWS, FIELDS))
    best[:CHECKS, UTILISATION] = worst
    best[HARMLESS, 0] = -1.0
    pass_over(best, line_over(z, under, 0.1, R), body, (55, 115), (front - 2.8, front, R, 1.0, 0.0))
    return best[:CHECKS]


@pytest.mark.parametrize(("spot", "check"), [(109, APPROACH), (86, BREAKOVER), (61, DEPARTURE)])
def test_ground_counts_where_it_lies(spot: int, check: int) -> None:
    """Ground ahead of, between and behind the axles counts for approach, breakover and departure, at its own angle."""
    best = passed(spot, 0.15)
    away = [abs(spot * 0.1 - axle) for axle in (10.0, 7.2)]
    seen = [2.0 * math.atan(half_tangent(one, 0.15, R)) for one in away]
    expected = {APPROACH: seen[0], BREAKOVER: sum(seen), DEPARTURE: seen[1]}[check]
    assert best[check, DEMAND] == pytest.approx(expected)
    others = {APPROACH, BREAKOVER, DEPARTURE} - {check}
    assert all(best[other, UTILISATION] == 0.0 for other in others)


@pytest.mark.parametrize(("spot", "at"), [(86, -1.4), (85, -1.5)])
def test_angle_of_a_hard_point_is_met_exactly(spot: int, at: float) -> None:
    """Ground that touches the belly at its hard point is utilisation 1 of breakover, and over the limit of the gap.

    8.5 − 10 is −1.5 to the last digit; 8.6 − 10 is not −1.4.
    """
    body = Body.of(np.array([[-3.9, 0.35], [at, 0.25], [0.9, 0.45]]), 2.8, R, 0.05, (0.21, 0.20))
    best = passed(spot, 0.25, body=body)
    assert best[BREAKOVER, UTILISATION] == pytest.approx(1.0)
    assert best[BELLY, UTILISATION] == pytest.approx(0.25 / 0.20)


def shaped(heights: list[float], gap: float = 0.05) -> Body:
    """Make a body with hard points ahead of, at, between, at and behind the axles; housings out of the way."""
    return Body.of(np.column_stack([[-3.9, -2.8, -1.4, 0.0, 0.9], heights]), 2.8, R, gap, (9.0, 9.0))


@pytest.mark.parametrize(
    "body",
    [
        BODY,
        shaped([0.35, 0.25, 0.20, 0.25, 0.45]),
        shaped([0.12, 0.06, 0.10, 0.05, 0.15], gap=0.0),
        shaped([0.60, 0.85, 0.50, 0.90, 0.70], gap=0.3),
        shaped([0.30, 0.40, 0.04, 0.40, 0.30], gap=0.0),
    ],
)
def test_what_is_skipped_could_not_have_counted(body: Body) -> None:
    """With a worst already known, the result is the larger of it and what a fresh look finds.

    Bodies low and high at the axles, ground from a pebble to a boulder under every part of them.
    """
    rng = np.random.default_rng(7)
    near_axles = [*range(68, 77), *range(96, 105)]
    for k in range(800):
        spot = int(rng.integers(58, 113) if k % 8 == 0 else rng.choice(near_axles))
        height, worst = 0.3 * rng.uniform(0.1, 1.0) ** 2, rng.uniform(0.02, 1.4, CHECKS)
        stands = (body, 10.0 + rng.uniform(0.0, 0.1))
        fresh, again = (passed(spot, height, one, *stands)[:, UTILISATION] for one in (0.0, worst))
        assert again == pytest.approx(np.maximum(fresh, worst), abs=1e-12)
