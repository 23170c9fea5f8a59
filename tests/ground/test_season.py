"""The sun over the year, against the worked example and the table of FAO Irrigation and Drainage Paper 56."""

import datetime as dt

import pytest

from pipeline.ground.season import drying_share, sun_mj_m2


def test_worked_example_of_the_paper() -> None:
    """Example 8: 3 September (day 246) at 20° south has 32.2 MJ/m² (from memory, not verified)."""
    assert float(sun_mj_m2(246, -20.0)) == pytest.approx(32.2, abs=0.1)


@pytest.mark.parametrize(
    ("day", "latitude", "table"),
    [
        (15, 50.0, 8.9),
        (166, 50.0, 41.6),
        (166, -50.0, 7.6),
        (75, 0.0, 37.9),
    ],
)
def test_table_of_the_paper(day: int, latitude: float, table: float) -> None:
    """Annex 2, table 2.6, middle of January, March and June (from memory, not verified): within 0.7 MJ/m²."""
    assert float(sun_mj_m2(day, latitude)) == pytest.approx(table, abs=0.7)


def test_polar_night_and_day() -> None:
    """Beyond the polar circle there is no sun in midwinter and it never sets in midsummer: no error, no negative."""
    assert float(sun_mj_m2(355, 80.0)) == 0.0
    assert float(sun_mj_m2(172, 80.0)) > 40.0


def test_seasons_are_opposite_north_and_south() -> None:
    """June dries fast north of the equator and slowly south of it."""
    june, december = dt.date(2026, 6, 21), dt.date(2026, 12, 21)
    for summer, winter, latitude in ((june, december, 50.0), (december, june, -50.0)):
        assert drying_share(summer, latitude) > 0.9
        assert drying_share(winter, latitude) < 0.3
    assert drying_share(june, 5.0) == pytest.approx(drying_share(december, -5.0), abs=0.1)


def test_a_day_that_nobody_named_is_the_slowest_of_the_year() -> None:
    """Unknown is never quietly drier."""
    days = [dt.date(2026, month, 21) for month in range(1, 13)]
    for latitude in (52.0, -33.0, 0.0):
        assert drying_share(None, latitude) <= min(drying_share(day, latitude) for day in days)
