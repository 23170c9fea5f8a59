"""All checks as one table."""

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.run import ALL_CHECKS, run_checks
from pipeline.checks.site import CheckSite
from pipeline.tables import CHECKS
from pipeline.terms import CheckName, Driver
from tests.checks.worlds import LIMITS, envelope, ground_of, pickling, site_on, straight
from tests.worlds import ORIGIN, network_of, sine_hills, step, surface_terrain

NETWORK = network_of(
    {
        "b": [(ORIGIN[0], ORIGIN[1]), (ORIGIN[0] + 40.0, ORIGIN[1])],
        "a": [(ORIGIN[0] + 40.0, ORIGIN[1]), (ORIGIN[0] + 40.0, ORIGIN[1] + 30.0)],
        "shut": [(ORIGIN[0] + 40.0, ORIGIN[1]), (ORIGIN[0] + 60.0, ORIGIN[1] - 20.0)],
    },
    status={"b": "open", "a": "open", "shut": "closed"},
    oneway={"b": 1, "a": 0, "shut": 0},
    surveyed_on="2026-04-18",
    obstacles_surveyed=True,
    width_m=3.5,
)
SITE = CheckSite(NETWORK, surface_terrain(NETWORK, sine_hills(25.0, 1.5)), ground_of(3))
SETUPS = [envelope(setup="second", driver=Driver.FIRST_TIMER), envelope(setup="first", wheelbase_m=2.4)]


def test_every_row_is_there_in_order() -> None:
    """Segments in the network's order, set-ups as given, both directions, fifteen checks; closed and one-way too."""
    table = run_checks(SITE, SETUPS, LIMITS)
    keys = [
        (segment, setup, direction, check.name.value)
        for segment in ("b", "a", "shut")
        for setup in ("second", "first")
        for direction in ("with", "against")
        for check in ALL_CHECKS
    ]
    assert list(table[list(CHECKS.key)].itertuples(index=False, name=None)) == keys
    assert len(ALL_CHECKS) == 15
    assert {check.name for check in ALL_CHECKS} == set(CheckName)


def test_mapper_changes_nothing() -> None:
    """The table is the same when blocks are pickled and worked in another order."""
    pd.testing.assert_frame_equal(run_checks(SITE, SETUPS, LIMITS), run_checks(SITE, SETUPS, LIMITS, pickling))


def test_inputs_are_left_as_they_were() -> None:
    """No array of the site is written to."""
    before = [array.copy() for array in (SITE.terrain.profiles.z, SITE.terrain.stations.grade, SITE.ground.mu_low)]
    run_checks(SITE, SETUPS, LIMITS)
    after = [SITE.terrain.profiles.z, SITE.terrain.stations.grade, SITE.ground.mu_low]
    assert all(np.array_equal(old, new) for old, new in zip(before, after, strict=True))


def test_unsurveyed_rows_have_no_numbers_but_a_reason() -> None:
    """Nobody can take a part for the whole: unsurveyed rows carry no demand, limit, utilisation or place."""
    table = run_checks(
        site_on(straight(width_m=None, obstacles_surveyed=False), step(ORIGIN[0] + 30.0, 0.05)), [envelope()], LIMITS
    )
    open_rows = table[table["verdict"] == "unsurveyed"]
    assert set(open_rows["check"]) == {"width", "height"}
    assert open_rows[["demand", "limit", "utilisation", "at_m"]].isna().all(axis=None)
    assert (open_rows["basis"] == "none").all()
    assert open_rows["reason"].str.contains("not known").all()


def test_known_rows_are_demand_over_limit() -> None:
    """Wherever both are told, utilisation is demand ÷ limit; barred rows are over the driver's share, others not."""
    table = run_checks(SITE, SETUPS, LIMITS)
    both = table[table["limit"].notna() & (table["limit"] > 0.0)]
    assert both["utilisation"].to_numpy() == pytest.approx((both["demand"] / both["limit"]).to_numpy(), abs=1e-12)
    assert (table["utilisation"].dropna() >= 0.0).all()
    for setup, driver in (("second", Driver.FIRST_TIMER), ("first", Driver.EXPERT)):
        mine = table[table["setup"] == setup]
        over = mine["utilisation"].to_numpy() > LIMITS.shares(driver, mine["check"]) + 1e-9
        assert ((mine["verdict"] == "barred").to_numpy() == over).all()


def test_no_setups_give_an_empty_table() -> None:
    """Without a set-up there is nothing to check, and the empty table still keeps its contract."""
    assert run_checks(SITE, [], LIMITS).empty
