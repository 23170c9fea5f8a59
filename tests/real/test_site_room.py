"""What the trees, branches and water of the sample site are there for: lines that differ, and weather that matters.

The site is invented; these tests hold it and the code to what its README promises of it.
"""

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pytest
import shapely

from pipeline.terms import CheckName, Verdict
from tests.real.built import Built

LONG = ("wagon bare, first-timer", "wagon raised, roof load")
SHORT = "short 4x4, expert"
FIT = (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)
PAST_MIDDLE = "the middle of the trail leaves too little room"
"""Words of a line that a driver has no choice about."""
PLACES: Mapping[str, tuple[str, frozenset[str]]] = {
    "bend round an apple": ("T104", frozenset({"O91"})),
    "bend round an alder": ("T81", frozenset({"O100"})),
    "leaning ash on a side slope": ("T16-2", frozenset({"O90"})),
    "staggered trunks": ("T116-2", frozenset({"O94", "O95"})),
}
"""Segment, and what stands there."""


@pytest.fixture(scope="module")
def lines(site_built: Built) -> gpd.GeoDataFrame:
    """Lines past tight places."""
    table = site_built.tables["lines"]
    assert isinstance(table, gpd.GeoDataFrame)
    return table


def at_place(lines: gpd.GeoDataFrame, place: str) -> gpd.GeoDataFrame:
    """Take the lines past one place."""
    segment, things = PLACES[place]
    near = lines["left_thing"].isin(things) | lines["right_thing"].isin(things)
    return lines[(lines["segment_id"] == segment) & near]


def aside(line: shapely.LineString, trail: shapely.LineString) -> float:
    """Say how far at most the front axle leaves the middle of the trail, m; beyond the trail's ends nothing counts."""
    points = shapely.points(shapely.get_coordinates(line))
    at = shapely.line_locate_point(trail, points)
    return float(shapely.distance(trail, points)[(at > 0.5) & (at < trail.length - 0.5)].max())


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("direction", ["with", "against"])
def test_the_long_wagon_needs_another_line(
    site_built: Built, lines: gpd.GeoDataFrame, place: str, direction: str
) -> None:
    """Both wagons pass, but not in the middle; the short 4x4 may keep the middle, and leaves it by less if at all."""
    here = at_place(lines, place)
    here = here[here["direction"] == direction].set_index("setup")
    trail = site_built.tables["segments"].set_index("segment_id").loc[PLACES[place][0], "geometry"]
    wick = here[here.index == SHORT]
    assert not wick["advice"].str.contains(PAST_MIDDLE).any()
    swing = max((aside(line, trail) for line in wick.geometry), default=0.0)
    for setup in LONG:
        row = here.loc[setup]
        assert row["missing_m"] == 0.0
        assert row["advice"].endswith(PAST_MIDDLE)
        assert np.fmin(row["left_m"], row["right_m"]) > 0.2
        assert aside(row["geometry"], trail) > swing + 0.06


def test_staggered_trunks_are_an_s(site_built: Built, lines: gpd.GeoDataFrame) -> None:
    """Past the two trunks of the dyke every wagon swings a good 0.3 m to one side, then to the other."""
    here = at_place(lines, "staggered trunks")
    trail = site_built.tables["segments"].set_index("segment_id").loc["T116-2", "geometry"]
    for row in here[here["setup"].isin(LONG)].itertuples():
        points = shapely.get_coordinates(row.geometry)
        at = shapely.line_locate_point(trail, shapely.points(points))
        ahead = shapely.get_coordinates(shapely.line_interpolate_point(trail, at + 0.5))
        behind = shapely.get_coordinates(shapely.line_interpolate_point(trail, at - 0.5))
        along, off = ahead - behind, points - (ahead + behind) / 2.0
        right = (along[:, 1] * off[:, 0] - along[:, 0] * off[:, 1]) / np.hypot(*along.T)
        assert right.max() > 0.3
        assert right.min() < -0.3


def test_the_leaning_ash_is_passed_by_roofs(site_built: Built, lines: gpd.GeoDataFrame) -> None:
    """On a side slope of some 10° the tall set-ups hold off with their roofs; the low ones drive under it."""
    here = at_place(lines, "leaning ash on a side slope")
    assert set(here["setup"]) == {*LONG, "4x4, practised"}
    right = here["right_thing"] == "O90"
    assert (here.loc[right, "right_part"] == "roof").all()
    assert (here.loc[~right, "left_part"] == "roof").all()
    stations = site_built.tables["stations"]
    beside = stations[(stations["segment_id"] == "T16-2") & (np.abs(stations["chainage_m"] - 27.0) < 3.0)]
    assert beside["side_slope_deg"].abs().min() > 8.0
    checks = site_built.tables["checks"]
    under = checks[(checks["segment_id"] == "T16-2") & (checks["check"] == CheckName.HEIGHT)]
    under = under[under["setup"].isin(["crossover, first-timer", SHORT])]
    assert under["limit"].to_numpy() == pytest.approx(1.95)
    assert under["verdict"].isin(FIT).all()


def test_the_pines_stop_only_the_wagon(site_built: Built, lines: gpd.GeoDataFrame) -> None:
    """Both wagons are barred there both ways, for width or turn and nothing else; all others pass."""
    verdicts, checks = (site_built.tables[name] for name in ("verdicts", "checks"))
    here = verdicts[verdicts["segment_id"] == "T28"]
    long = here["setup"].isin(LONG)
    assert long.sum() == 4
    assert (here.loc[long, "verdict"] == Verdict.BARRED).all()
    assert here.loc[~long, "verdict"].isin(FIT).all()
    barred = checks[(checks["segment_id"] == "T28") & (checks["verdict"] == Verdict.BARRED)]
    assert set(barred["check"]) <= {CheckName.WIDTH, CheckName.TURN}
    stopped = lines[(lines["segment_id"] == "T28") & (lines["missing_m"] > 0.0)]
    ways = {(setup, way) for setup in LONG for way in ("with", "against")}
    assert set(zip(stopped["setup"], stopped["direction"], strict=True)) == ways
    assert stopped.groupby(["setup", "direction"])["missing_m"].max().min() > 0.02


def test_some_branches_stop_only_the_load_on_the_roof(site_built: Built) -> None:
    """Somewhere the raised wagon with its rack is barred by height, and the bare one passes under."""
    checks = site_built.tables["checks"]
    height = checks[checks["check"] == CheckName.HEIGHT].set_index(["setup", "segment_id", "direction"])["verdict"]
    bare, raised = height[LONG[0]], height[LONG[1]]
    assert ((raised == Verdict.BARRED) & bare.isin(FIT)).sum() >= 10


def test_fords_lie_where_the_water_crosses(site_built: Built) -> None:
    """Both fords and the splash are on flow paths of the model, within a metre, as deep as surveyed on the damp day."""
    crossings = site_built.tables["crossings"].set_index("obstacle_id")
    for water, depth in (("O19", 0.15), ("O20", 0.55), ("O99", 0.08)):
        row = crossings.loc[water]
        assert row["kind"] == "flow path"
        assert row["apart_m"] < 1.0
        assert row["catchment_m2"] > 200_000.0
        assert row["depth_m"] == depth
        assert row["depth_now_m"] == pytest.approx(depth, abs=0.01)
        assert row["entry_deg"] > 0.0
        assert row["exit_deg"] > 0.0


def test_the_model_shows_water_that_nobody_surveyed(site_built: Built) -> None:
    """Flow paths cross without a ford, one hollow lies on the meadow's trail, and two pools are in no model."""
    crossings = site_built.tables["crossings"]
    unmatched = crossings[crossings["obstacle_id"].isna()]
    assert (unmatched["kind"] == "flow path").sum() >= 5
    assert unmatched.loc[unmatched["kind"] == "hollow", "segment_id"].tolist() == ["T84"]
    assert (crossings["kind"] == "surveyed only").sum() == 2


def test_the_valley_bottom_is_wet_on_a_damp_day(site_built: Built) -> None:
    """The earth track in the bottom is wetter than every other one, where the ground collects most water."""
    segments = site_built.tables["segments"].set_index("segment_id")
    earth = segments[segments["surface"] == "earth"]
    assert earth["wetness_mm"].idxmax() == "T92"
    assert segments.loc["T92", "wetness"] == "wet"
    assert segments["twi"].rank(pct=True)["T92"] > 0.95
    assert (segments.loc[segments["surface"] == "gravel", "wetness"] == "dry").all()
