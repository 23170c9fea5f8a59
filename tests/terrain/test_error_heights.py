"""Standard deviations of combinations of heights: simulation with the kernel, plain sums, published constants."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.terrain.error_heights import REACH_CELLS, HeightErrors, combination_sd, effective_correlation
from pipeline.terrain.error_model import gradient_sd
from tests.terrain.error_fields import Field

Float64 = NDArray[np.float64]

DRAWS = 4_000
SAMPLING = 1.0 / np.sqrt(2.0 * DRAWS)
"""Standard error of a standard deviation from so many normal draws, relative: 1.1 %."""

LENGTH, TRACK = 2.7, 1.5
WHEELS = np.array([[1.35, -0.75], [1.35, 0.75], [-1.35, -0.75], [-1.35, 0.75]])
"""Front left, front right, rear left, rear right: along and to the right of the direction of travel, m."""
POINTS = np.concatenate([WHEELS, [[0.0, 0.0], [1.35, 0.0], [-1.35, 0.0]]])
"""And below the belly, the front and the rear axle."""
MADE = {
    "roll": np.array([1, -1, 1, -1, 0, 0, 0]) / (2.0 * TRACK),
    "pitch": np.array([1, 1, -1, -1, 0, 0, 0]) / (2.0 * LENGTH),
    "twist": np.array([1, -1, -1, 1, 0, 0, 0]),
    "belly": np.array([0, 0, 0, 0, 1, -0.5, -0.5]),
    "one axle": np.array([1, -1, 0, 0, 0, 0, 0]) / TRACK,
}
FIELDS = {
    "independent": Field(1.0, None, 10),
    "two cells": Field(1.0, 2.0, 10),
    "five metres": Field(1.0, 5.0, 10),
    "fine": Field(0.5, 5.0, 14),
    "coarse": Field(2.0, 4.0, 8),
}


def expected(weights: Float64, field: Field, points: Float64 = POINTS) -> float:
    """Take the closed form of one combination; errors of 1 m."""
    errors = HeightErrors(np.ones(1), np.array([field.cell_m]), field.correlation_m, np.zeros(1))
    return float(combination_sd(weights[None].astype(float), points[None, :, 0], points[None, :, 1], errors)[0])


@pytest.mark.kernel
@pytest.mark.parametrize("field", FIELDS.values(), ids=FIELDS)
def test_the_closed_form_is_what_simulation_gives(field: Field) -> None:
    """4,000 seeded error surfaces, any place in a cell, any bearing: all demands within 4 sampling errors."""
    heights = field.heights(POINTS, DRAWS)
    for name, weights in MADE.items():
        ratio = float(np.sqrt(np.mean((heights @ weights) ** 2))) / expected(weights, field)
        assert abs(ratio - 1.0) < 4.0 * SAMPLING, name


@pytest.mark.kernel
@pytest.mark.parametrize("bearing_deg", [0.0, 23.0, 45.0, 126.0])
@pytest.mark.parametrize("name", ["independent", "five metres"])
def test_one_bearing_is_close_to_their_mean(name: str, bearing_deg: float) -> None:
    """The mean over bearings holds at each of them within 5 %, and the sampling error."""
    field = FIELDS[name]
    heights = field.heights(POINTS, DRAWS, bearing=float(np.radians(bearing_deg)))
    for weights in MADE.values():
        ratio = float(np.sqrt(np.mean((heights @ weights) ** 2))) / expected(weights, field)
        assert abs(ratio - 1.0) < 0.05 + 4.0 * SAMPLING


@pytest.mark.kernel
@pytest.mark.parametrize("within", [(0.0, 0.0), (0.5, 0.5), (0.5, 0.0), (0.25, 0.75)])
def test_one_place_in_a_cell_is_within_the_stated_tenths(within: tuple[float, float]) -> None:
    """At one place of the vehicle in its cell the deviation is within three tenths of the mean over all places."""
    field = FIELDS["five metres"]
    fields = field.draws(DRAWS, 23)
    at = POINTS + 4.0 + np.array(within)
    heights = np.stack([field.read(one, at[:, 0], at[:, 1]).height for one in fields])
    for weights in MADE.values():
        ratio = float(np.sqrt(np.mean((heights @ weights) ** 2))) / expected(weights, field)
        assert abs(ratio - 1.0) < 0.3


def catmull_rom(t: float) -> Float64:
    """Weights as ½ · (t³, t², t, 1) · M, the matrix of the textbooks."""
    matrix = np.array([[-1, 3, -3, 1], [2, -5, 4, -1], [-1, 0, 1, 0], [0, 2, 0, 0]])
    return np.asarray(0.5 * np.array([t**3, t**2, t, 1.0]) @ matrix)


def cell_weights(x: float, y: float) -> dict[tuple[int, int], float]:
    """Weights of the 16 cells round a point, cells of 1 m."""
    i, j = int(np.floor(x)), int(np.floor(y))
    across, along = catmull_rom(x - i), catmull_rom(y - j)
    return {(i - 1 + a, j - 1 + b): across[a] * along[b] for a in range(4) for b in range(4)}


def plain_correlation(distance: float, correlation: float | None) -> float:
    """Average wᵀ C w' over places in the cell and bearings, plainly."""
    total, count = 0.0, 0
    for u in (np.arange(6) + 0.5) / 6:
        for v in (np.arange(6) + 0.5) / 6:
            for turn in (np.arange(12) + 0.5) * np.pi / 6:
                first = cell_weights(u, v)
                second = cell_weights(u + distance * np.cos(turn), v + distance * np.sin(turn))
                places, others = np.array(list(first)), np.array(list(second))
                apart = np.hypot(*(places[:, None] - others[None]).transpose(2, 0, 1))
                shared = (apart == 0.0).astype(float) if correlation is None else np.exp(-apart / correlation)
                total += np.array(list(first.values())) @ shared @ np.array(list(second.values()))
                count += 1
    return total / count


@pytest.mark.parametrize("distance", [0.0, 0.7, 1.5, 3.1])
@pytest.mark.parametrize("correlation", [None, 2.0])
def test_effective_correlation_is_the_plain_mean(distance: float, correlation: float | None) -> None:
    """Over 36 places in the cell and 12 bearings, with the matrix of the textbooks: within 0.01."""
    found = float(effective_correlation(np.array(distance), 1.0, correlation))
    assert found == pytest.approx(plain_correlation(distance, correlation), abs=0.01)


def test_a_point_on_its_own_is_better_than_a_cell() -> None:
    """Interpolation between cells averages: (57/70)² of σ² by hand, as ∫K² = 57/70 for the Catmull-Rom kernel."""
    assert float(effective_correlation(np.zeros(1), 1.0, None)[0]) == pytest.approx((57 / 70) ** 2, abs=1e-9)
    assert float(effective_correlation(np.zeros(1), 1.0, 1e4)[0]) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("correlation", [None, 1.0, 5.0])
def test_two_points_close_together_give_the_gradient(correlation: float | None) -> None:
    """Difference quotient over a tenth of a cell: the closed form of the gradient within 1 %."""
    points = np.array([[0.1, 0.0], [0.0, 0.0]])
    found = expected(np.array([10.0, -10.0]), Field(1.0, correlation, 8), points)
    assert found == pytest.approx(gradient_sd(np.ones(1), 1.0, correlation)[0], rel=0.01)


def test_far_apart_only_the_correlation_itself_is_left() -> None:
    """Beyond ten cells exp(−d ÷ L), without a seam; nothing where errors are independent."""
    far = np.array([REACH_CELLS - 0.01, REACH_CELLS + 0.01, 14.0])
    assert effective_correlation(far, 1.0, 6.0) == pytest.approx(np.exp(-far / 6.0), rel=3e-3)
    assert effective_correlation(far, 1.0, None).tolist() == [0.0, 0.0, 0.0]


def test_only_the_ratios_count() -> None:
    """Cell, distance and correlation length ten times as large: the same."""
    distance = np.linspace(0.0, 12.0, 50)
    once, tenfold = effective_correlation(distance, 1.0, 5.0), effective_correlation(10.0 * distance, 10.0, 50.0)
    assert once == pytest.approx(tenfold, abs=1e-12)


@pytest.mark.parametrize("name", ["roll", "pitch", "twist", "belly"])
def test_longer_correlation_never_worsens_a_difference(name: str) -> None:
    """Errors that go together cancel in differences over less than their reach: ever smaller, to nothing."""
    reach = [3.0, 5.0, 10.0, 30.0, 100.0, 1000.0]
    sd = [expected(MADE[name], Field(1.0, length, 8)) for length in reach]
    assert sd == sorted(sd, reverse=True)
    assert sd[-1] < 0.1 * sd[0]


def measured_by_tape(apart_m: float) -> HeightErrors:
    """State errors of 1 m of heights measured on the ground, so far apart."""
    return HeightErrors(np.ones(1), np.full(1, np.nan), 5.0, np.full(1, apart_m))


WINDOW = np.stack(np.meshgrid([-1.0, 0.0, 1.0], [-1.0, 0.0, 1.0]), axis=-1).reshape(-1, 2)
OPERATORS = {
    "horn": (np.array([-1, 0, 1, -2, 0, 2, -1, 0, 1]) / 8.0, 0.4330127),
    "zevenbergen-thorne": (np.array([0, 0, 0, -1, 0, 1, 0, 0, 0]) / 2.0, 0.7071068),
    "plane through 3×3": (np.array([-1, 0, 1, -1, 0, 1, -1, 0, 1]) / 6.0, 0.4082483),
}


@pytest.mark.parametrize(("weights", "constant"), OPERATORS.values(), ids=OPERATORS)
def test_slope_operators_of_the_textbooks(weights: Float64, constant: float) -> None:
    """Independent errors of the heights of a 3×3 window: √3⁄4 (Horn), 1⁄√2 (Zevenbergen-Thorne), 1⁄√6 (plane fit).

    Derived, and the same by a simulation of 2,000,000 draws; Florinsky (1998) gives them, from memory, not verified.
    """
    errors = measured_by_tape(0.0)
    found = combination_sd(weights[None], WINDOW[None, :, 0], WINDOW[None, :, 1], errors)[0]
    assert found == pytest.approx(constant, abs=1e-7)


@pytest.mark.parametrize(("sigma", "apart", "per_cent"), [(0.1, 10.0, 1.41), (0.1, 2.0, 7.07)])
def test_two_point_grade(sigma: float, apart: float, per_cent: float) -> None:
    """Independent errors of both ends: √2 · σ ÷ D (derived)."""
    errors = measured_by_tape(0.0)
    found = sigma * combination_sd(np.array([[1.0, -1.0]]) / apart, np.array([[apart, 0.0]]), np.zeros((1, 2)), errors)
    assert 100.0 * found[0] == pytest.approx(per_cent, abs=0.005)


def test_one_measured_point_twice_is_one_error() -> None:
    """The same point of a survey taken off itself leaves no error."""
    errors = measured_by_tape(0.0)
    assert combination_sd(np.array([[1.0, -1.0]]), np.ones((1, 2)), np.ones((1, 2)), errors)[0] == 0.0


@pytest.mark.parametrize("apart_m", [0.5, 1.0, 4.0])
def test_a_line_straight_between_vertices_is_what_simulation_gives(apart_m: float) -> None:
    """16,000 lines with an independent error at every vertex, read by numpy anywhere: within 4 %."""
    rng = np.random.default_rng(31)
    places, weights = np.array([0.0, -1.35, 1.35]), np.array([1.0, -0.5, -0.5])
    vertices = np.arange(-16, 17) * apart_m
    lines, starts = rng.standard_normal((4 * DRAWS, vertices.size)), rng.uniform(0.0, apart_m, 4 * DRAWS)
    heights = [np.interp(places + start, vertices, line) for start, line in zip(starts, lines, strict=True)]
    scatter = np.sqrt(np.mean((np.array(heights) @ weights) ** 2))
    found = combination_sd(weights[None], places[None], np.zeros((1, 3)), measured_by_tape(apart_m))[0]
    assert abs(scatter / found - 1.0) < 0.04


def test_rows_have_their_own_errors_and_gaps() -> None:
    """Rows of different cells and errors; NaN where the error, a place or a weight is missing, and only there."""
    weights = np.tile([1.0, -1.0], (6, 1))
    x = np.tile([2.0, 0.0], (6, 1))
    weights[4, 0], x[5, 1] = np.nan, np.nan
    sigma, cell = np.array([0.1, 0.2, np.nan, 0.1, 0.1, 0.1]), np.array([1.0, 1.0, 1.0, np.nan, 1.0, 1.0])
    errors = HeightErrors(sigma, cell, 5.0, np.zeros(6))
    found = combination_sd(weights, x, np.zeros(x.shape), errors)
    assert np.isnan(found).tolist() == [False, False, True, False, True, True]
    assert found[1] == pytest.approx(2.0 * found[0])
    assert found[3] == pytest.approx(0.1 * np.sqrt(2.0))
    assert combination_sd(weights[:0], x[:0], x[:0], HeightErrors(x[:0, 0], x[:0, 0], None, x[:0, 0])).size == 0
