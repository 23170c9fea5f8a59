"""The sample site under other weather: a dry spell opens it, rain closes what rain should, and loops are told of."""

import json

import pandas as pd
import pytest

from pipeline.terms import CheckName, Verdict
from tests.real.built import Built

DRY, RAIN, SOAKED = "dry spell", "after 20 mm of rain", "soaked"
CROSSOVER = "crossover, first-timer"
FIT = (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)


@pytest.fixture(scope="module")
def open_ways(site_built: Built) -> pd.DataFrame:
    """Tell for every segment, set-up and direction under which weather it may be driven, the day's among them."""
    day = site_built.tables["verdicts"].assign(outlook="day")
    every = pd.concat([day, site_built.tables["outlooks"]])
    every["fit"] = every["verdict"].isin(FIT)
    return every.pivot_table(index=["segment_id", "setup", "direction"], columns="outlook", values="fit", aggfunc="all")


@pytest.fixture(scope="module")
def surface(site_built: Built) -> pd.Series:
    """Class of the surface of every segment."""
    classes: pd.Series = site_built.tables["segments"].set_index("segment_id")["surface"]
    return classes


def test_the_wetter_the_less_may_be_driven(open_ways: pd.DataFrame) -> None:
    """For every set-up dry opens more than the day, rain closes more, soaked most; nothing opens by rain."""
    share = open_ways.groupby("setup").mean()
    assert (share[DRY] > share["day"]).any()
    assert (share[DRY] >= share["day"]).all()
    assert (share["day"] > share[RAIN] + 0.1).all()
    assert (share[RAIN] > share[SOAKED]).all()
    assert not (open_ways[SOAKED] & ~open_ways[RAIN]).any()
    assert not (open_ways["day"] & ~open_ways[DRY]).any()


def test_soaked_closes_soft_surfaces_and_leaves_gravel(open_ways: pd.DataFrame, surface: pd.Series) -> None:
    """Of what the crossover may drive when it is dry, soaked ground leaves no earth or grass, and most gravel."""
    crossover = open_ways.xs(CROSSOVER, level="setup").copy()
    crossover = crossover[crossover[DRY]]
    left = crossover[SOAKED].groupby(surface.reindex(crossover.index.get_level_values("segment_id")).to_numpy()).mean()
    assert left["earth"] == 0.0
    assert left["grass"] == 0.0
    assert left["gravel"] > 0.7
    assert left["compacted"] < left["gravel"] - 0.2


def test_soft_spots_turn_from_open_to_barred(site_built: Built, open_ways: pd.DataFrame) -> None:
    """The peat of the meadow and of the sheepfold bears every set-up after a dry spell, and none when it is soaked."""
    outlooks = site_built.tables["outlooks"]
    for segment in ("T84", "T74"):
        assert open_ways.xs(segment, level="segment_id")[DRY].all()
        soaked = outlooks[(outlooks["segment_id"] == segment) & (outlooks["outlook"] == SOAKED)]
        assert (soaked["verdict"] == Verdict.BARRED).all()
        assert (soaked["check"] == CheckName.SOFT).all()


def test_soft_ground_is_no_bar_on_a_damp_day_but_in_soft_spots(site_built: Built) -> None:
    """Nothing but a surveyed soft spot is barred for soft ground on the day, and that is less than a twentieth."""
    checks = site_built.tables["checks"]
    barred = checks[(checks["check"] == CheckName.SOFT) & (checks["verdict"] == Verdict.BARRED)]
    assert barred["reason"].str.contains("in soft O2[345]", regex=True).all()
    assert len(barred) < 0.05 * (checks["check"] == CheckName.SOFT).sum()


def test_fords_rise_and_stop_the_gentle_round(site_built: Built) -> None:
    """After 20 mm the gentle round can still be driven; when all is soaked the ford and the splash bar it."""
    legs, outlooks = site_built.tables["legs"], site_built.tables["outlooks"]
    gentle = legs.loc[legs["loop"] == "Gentle round", ["segment_id", "direction"]]
    then = gentle.merge(outlooks[outlooks["setup"] == CROSSOVER])
    assert then.loc[then["outlook"].isin([DRY, RAIN]), "verdict"].isin(FIT).all()
    barred = then[(then["outlook"] == SOAKED) & ~then["verdict"].isin(FIT)]
    assert set(barred["segment_id"]) == {"T01", "T87"}
    assert (barred["check"] == CheckName.FORD).all()


def test_the_report_says_which_loops_are_left(site_built: Built) -> None:
    """Every loop in a dry spell; after 20 mm the gentle one and that for wet days, which stays when soaked."""
    report = json.loads((site_built.folder / "report.json").read_text(encoding="utf-8"))
    left = {
        one["outlook"]: {loop["loop"] for loop in one["loops"]}
        - {loop["loop"] for loop in one["loops"] if not loop["can_drive"]}
        for one in report["outlooks"]
    }
    every = {"Gentle round", "Practice round", "Guests' convoy", "First day", "Wet day", "Mixed group"}
    assert left == {DRY: every, RAIN: {"Gentle round", "Wet day"}, SOAKED: {"Wet day"}}
