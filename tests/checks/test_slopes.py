"""When slopes are known."""

import numpy as np

from pipeline.checks.slopes import slopes_unknown
from tests.checks.worlds import case_of, site_on, straight, with_stations
from tests.worlds import Measured, plane


def test_known_slopes_have_no_reason() -> None:
    """Fine cells and heights everywhere leave nothing open."""
    assert slopes_unknown(case_of(site_on(straight(), plane()))).tolist() == [[""]]


def test_missing_heights_are_told_in_metres() -> None:
    """Some missing stations are told as metres, all of them as none at all."""
    site = site_on(straight(60.0), plane())
    cross = site.terrain.stations.cross.copy()
    cross[-22:] = np.nan
    assert slopes_unknown(case_of(with_stations(site, cross=cross))).tolist() == [["10.9 m without heights"]]
    none = np.full_like(cross, np.nan)
    assert slopes_unknown(case_of(with_stations(site, cross=none))).tolist() == [["no heights beside it"]]
    assert slopes_unknown(case_of(with_stations(site, cross=none, grade=none))).tolist() == [["no heights along it"]]


def test_unknown_cell_is_told() -> None:
    """A cell of unknown size is as bad as a coarse one."""
    site = site_on(straight(), plane(), Measured(cell_m=np.nan))
    assert "of unknown size" in slopes_unknown(case_of(site))[0, 0]


def test_far_stations_are_told() -> None:
    """Stations 6 m apart miss a bank as a cell of 6 m does; stations 5 m apart are the limit."""
    for spacing, reason in ((6.0, "stations 6.0 m apart miss slopes; at most 5.0 m"), (5.0, "")):
        site = site_on(straight(60.0), plane(), Measured(spacing_m=spacing))
        assert slopes_unknown(case_of(site)).tolist() == [[reason]]
