"""Verdicts of checks and of segments."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.check import Outcome
from pipeline.checks.run import run_checks
from pipeline.checks.verdict import effective_utilisation, verdict_codes, verdicts_table
from pipeline.terms import CheckName, Driver, Verdict
from pipeline.terrain.model import TerrainParameters
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import ORIGIN, Measured, crest, plane


@pytest.mark.parametrize(
    ("utilisation", "unknown", "verdict"),
    [
        (0.0, "", Verdict.AMPLE),
        (0.6, "", Verdict.AMPLE),
        (0.61, "", Verdict.WATCH),
        (0.85, "", Verdict.WATCH),
        (0.86, "", Verdict.SPOT),
        (1.0, "", Verdict.SPOT),
        (1.0 + 1e-12, "", Verdict.SPOT),
        (1.001, "", Verdict.BARRED),
        (0.2, "dark", Verdict.UNSURVEYED),
        (1.2, "dark", Verdict.BARRED),
        (np.nan, "", Verdict.UNSURVEYED),
        (np.nan, "dark", Verdict.UNSURVEYED),
    ],
)
def test_thresholds(utilisation: float, unknown: str, verdict: Verdict) -> None:
    """A value at a threshold is inside; unknown is unsurveyed unless an overrun is known."""
    used = np.array([[utilisation]])
    outcome = Outcome.of(used, np.array(1.0), "m", unknown=np.array([[unknown]], dtype=object))
    assert verdict_codes(outcome, used, LIMITS).tolist() == [[verdict.rank]]


def test_share_scales_utilisation() -> None:
    """Half of the limit used of a share of half is all of it."""
    assert effective_utilisation(np.array([0.25]), 0.5).tolist() == [0.5]


def checks_on(degrees: float, driver: Driver = Driver.EXPERT, measured: Measured | None = None) -> pd.DataFrame:
    """Check a brow of two planes."""
    slope = float(np.tan(np.radians(degrees / 2.0)))
    site = site_on(straight(), crest(ORIGIN[0] + 30.0, slope, slope), measured)
    return run_checks(site, [envelope(driver=driver)], LIMITS)


def test_the_worst_check_decides() -> None:
    """The segment takes the verdict, utilisation and place of its worst check."""
    verdicts = verdicts_table(checks_on(18.0), straight(), LIMITS)
    assert verdicts["verdict"].tolist() == ["barred", "barred"]
    assert verdicts["check"].tolist() == ["belly", "belly"]
    assert verdicts["at_m"].tolist() == pytest.approx([30.0, 30.0], abs=0.05)
    assert verdicts["direction"].tolist() == ["with", "against"]


def test_unsurveyed_is_worse_than_spot_and_better_than_barred() -> None:
    """A coarse model beside fine other checks makes the segment unsurveyed, with no utilisation."""
    verdicts = verdicts_table(checks_on(4.0, measured=Measured(cell_m=4.0)), straight(), LIMITS)
    assert verdicts["verdict"].tolist() == ["unsurveyed", "unsurveyed"]
    assert verdicts["utilisation"].isna().all()
    assert verdicts["check"].tolist() == ["approach", "approach"]


def test_accepted_unsurveyed_does_not_decide() -> None:
    """Checks that a site accepts unsurveyed stay out of the decision; where nothing else is known they decide."""
    network = straight(obstacles_surveyed=False)
    table = run_checks(site_on(network, plane(east=0.1)), [envelope()], LIMITS)
    assert verdicts_table(table, network, LIMITS)["check"].tolist() == ["height", "height"]
    accepting = LIMITS.merged({"accept_unsurveyed": ["height"]})
    assert (verdicts_table(table, network, accepting)["verdict"] != "unsurveyed").all()
    only = table[table["check"] == "height"].reset_index(drop=True)
    assert verdicts_table(only, network, accepting)["verdict"].tolist() == ["unsurveyed", "unsurveyed"]


def test_equal_verdicts_are_ranked_by_what_the_driver_may_use() -> None:
    """Of two checks of one verdict the one that uses more of the driver's share decides, not the larger ratio."""
    table = checks_on(1.0)
    table["verdict"] = "watch"
    table["utilisation"] = 0.1
    table.loc[table["check"] == "roll", "utilisation"] = 0.6
    table.loc[table["check"] == "width", "utilisation"] = 0.7
    network = straight()
    assert set(verdicts_table(table, network, LIMITS, {"box": Driver.EXPERT})["check"]) == {"roll"}
    assert set(verdicts_table(table, network, LIMITS)["check"]) == {"roll"}
    plain = LIMITS.merged({"share": {"expert": {"roll": 1.0}}})
    assert set(verdicts_table(table, network, plain, {"box": Driver.EXPERT})["check"]) == {"width"}


def test_a_worsened_check_decides_by_its_verdict() -> None:
    """Doubt made breakover ``spot`` at 82 % of the limit: it decides over a surer check at 84 % of its own."""
    slope = float(np.tan(np.radians(8.5)))
    site = site_on(straight(), crest(ORIGIN[0] + 30.0, slope, slope))
    errors = TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0)
    table = run_checks(dataclasses.replace(site, measured=errors), [envelope()], LIMITS)
    doubted = table["reason"].str.endswith("chance of being over the limit")
    assert set(table.loc[doubted, "check"]) == {"breakover"}
    sure = ~doubted & (table["check"] == "width")
    table.loc[sure, ["verdict", "utilisation"]] = ["watch", 0.84]
    table.loc[~doubted & ~sure, ["verdict", "utilisation"]] = ["ample", 0.1]
    verdicts = verdicts_table(table, straight(), LIMITS, {"box": Driver.EXPERT})
    assert verdicts["check"].tolist() == ["breakover", "breakover"]
    assert verdicts["verdict"].tolist() == ["spot", "spot"]
    assert (verdicts["utilisation"] < 0.84).all()


def test_less_practised_drivers_never_get_a_better_verdict() -> None:
    """On one trail no verdict is better for a less practised driver; the utilisation is the same."""
    tables = [checks_on(12.0, driver) for driver in Driver]
    ranks = np.array([[Verdict(word).rank for word in table["verdict"]] for table in tables])
    assert (np.diff(ranks, axis=0) <= 0).all()
    for table in tables[1:]:
        pd.testing.assert_series_equal(table["utilisation"], tables[0]["utilisation"])
    assert CheckName.BREAKOVER.value in set(tables[0]["check"])
