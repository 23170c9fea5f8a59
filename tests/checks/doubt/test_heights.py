"""Errors of combinations of heights on a site."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.check import Case
from pipeline.checks.doubt.heights import Stance, height_sd, station_cell, station_near
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis
from pipeline.terrain.error_heights import effective_correlation
from pipeline.terrain.model import TerrainParameters
from tests.checks.doubt.worlds import GOOD, measured
from tests.checks.worlds import case_of, site_on, straight, with_stations
from tests.worlds import at, bowl, network_of, plane


def pair(basis: Basis = Basis.DEM, at_m: float = 20.0) -> Stance:
    """Take the height at a place less that 2 m on, to the right of the line by 1 m both."""
    return Stance(
        segment=np.zeros(1, dtype=np.int64),
        at_m=np.array([[at_m, at_m + 2.0]]),
        offset_m=np.array([[1.0, 1.0]]),
        weights=np.array([[1.0, -1.0]]),
        basis=np.array([basis], dtype=np.uint8),
    )


def flat(errors: TerrainParameters = GOOD, *things: dict[str, object]) -> Case:
    """Make a level trail with stated errors."""
    return case_of(measured(site_on(straight(obstacles=things), plane()), errors))


def test_the_models_error() -> None:
    """σ √(2 (ρ(0) − ρ(2 m))) for a difference over 2 m on a 1 m cell, correlation length 5 m."""
    near, far = effective_correlation(np.array([0.0, 2.0]), 1.0, 5.0)
    assert height_sd(flat(), pair())[0] == pytest.approx(0.05 * np.sqrt(2.0 * (near - far)), rel=1e-6)


def test_heights_measured_on_the_ground_have_their_own() -> None:
    """Vertices every half a metre: √(2 · ⅔) · 3 cm, whatever is said of the model and of the line's position.

    Vertices at the ends of the trail, 60 m away: hardly any of it.
    """
    errors = dataclasses.replace(GOOD, line_rmse_m=1.0, survey_rmse_m=0.03)
    close = network_of({"s": at(*((0.5 * k, 0.0) for k in range(121)))})
    sites = [measured(site_on(one, bowl(*at((20.0, 0.0))[0], 0.1)), errors) for one in (close, straight())]
    found = [height_sd(case_of(site), pair(Basis.SURVEYED))[0] for site in sites]
    assert found[0] == pytest.approx(0.03 * np.sqrt(4.0 / 3.0))
    assert 0.0 < found[1] < 0.1 * found[0]


@pytest.mark.parametrize("basis", [Basis.NONE, Basis.ASSUMED, Basis.TAG])
def test_nothing_is_known_of_tags_and_assumptions(basis: Basis) -> None:
    """NaN: nobody knows how far these are off."""
    assert np.isnan(height_sd(flat(), pair(basis))).all()


def test_without_an_error_or_a_cell_there_is_no_figure() -> None:
    """No RMSE stated: NaN from the model, the survey's all the same. A cell of unknown size: NaN."""
    case = flat(TerrainParameters())
    assert np.isnan(height_sd(case, pair()))[0]
    assert height_sd(case, pair(Basis.SURVEYED))[0] > 0.0
    site = site_on(straight(), plane())
    blank = with_stations(site, cell_m=np.full_like(site.terrain.stations.cell_m, np.nan))
    assert np.isnan(height_sd(case_of(measured(blank)), pair()))[0]


def test_a_shift_of_the_line_counts_by_the_slopes_there() -> None:
    """In a bowl of bend k two points 2 m apart along differ by 2k more for each metre along, and by nothing across."""
    only = TerrainParameters(dem_rmse_m=0.0, line_rmse_m=0.5)
    case = case_of(measured(site_on(straight(), bowl(*at((20.0, 5.0))[0], 0.04)), only))
    assert height_sd(case, pair())[0] == pytest.approx(0.5 * 2.0 * 0.04, rel=0.01)


def test_surveyed_things_add_their_own_error() -> None:
    """A rock of 1 m under one of the points adds 3 cm, under both twice as squares; beside them nothing."""
    rock = {"kind": "rock", "segment_id": "s", "offset_m": 0.0, "height_m": 0.2, "length_m": 1.0}
    bare = height_sd(flat(), pair())[0]

    def added(*chainages: float) -> float:
        things = [{**rock, "chainage_m": place} for place in chainages]
        return float(np.sqrt(height_sd(flat(GOOD, *things), pair())[0] ** 2 - bare**2))

    assert added(20.4) == pytest.approx(GOOD.survey_rmse_m)
    assert added(20.4, 21.8) == pytest.approx(GOOD.survey_rmse_m * np.sqrt(2.0))
    assert added(20.6) == pytest.approx(0.0, abs=1e-6)
    for last_digit in (-1e-9, 0.0, 1e-9):  # at its very edge it is as high as the ground
        assert added(20.5 + last_digit) == pytest.approx(0.0, abs=1e-6)


def test_only_things_of_the_segment_count() -> None:
    """A rock at the same chainage of another segment changes nothing there."""
    rock = {"kind": "rock", "segment_id": "b", "chainage_m": 20.0, "height_m": 0.2, "length_m": 1.0, "offset_m": 0.0}
    ways = {"a": at((0, 0), (40, 0)), "b": at((0, 90), (40, 90)), "c": at((0, 180), (40, 180))}
    case = case_of(measured(site_on(network_of(ways, obstacles=[rock]), plane())))
    row = pair()
    many = Stance(
        segment=np.repeat(np.arange(3), 2),
        **{name: np.repeat(getattr(row, name), 6, axis=0) for name in ("at_m", "offset_m", "weights", "basis")},
    )
    found = height_sd(case, many)
    assert (found[2:4] > found[0]).all()
    assert found[[1, 4, 5]] == pytest.approx(found[0])


@pytest.fixture
def patchwork() -> CheckSite:
    """Two segments; the second has a coarse cell in its middle."""
    site = site_on(network_of({"a": at((0, 0), (20, 0)), "b": at((0, 40), (9.9, 40))}), plane())
    cell = site.terrain.stations.cell_m.copy()
    cell[41 + 10] = 5.0
    return measured(with_stations(site, cell_m=cell))


def test_the_nearest_station_tells_the_cell(patchwork: CheckSite) -> None:
    """Stations of b are 0.495 m apart: that of 4.95 m has the coarse cell; beyond the ends those of the ends count."""
    case = case_of(patchwork)
    segment = np.array([1, 1, 1, 0, 1, 1])
    place = np.array([4.8, 5.1, 5.3, 4.95, -3.0, 99.0])
    assert station_near(case, segment, place).tolist() == [51, 51, 52, 10, 41, 61]
    assert station_cell(case, segment, place).tolist() == [5.0, 5.0, 1.0, 1.0, 1.0, 1.0]
    assert np.isnan(station_cell(case, segment[:1], np.array([np.nan]))).all()
