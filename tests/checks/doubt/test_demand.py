"""How sure the checks are, and what that makes of verdicts."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.checks.check import Outcome
from pipeline.checks.doubt.demand import demand_sd, p_over, worsened
from pipeline.checks.passage import kerb_curvature
from pipeline.checks.run import ALL_CHECKS, run_checks
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis, CheckName, Drive, Driver, Verdict
from pipeline.terrain.error_line import bend_sd
from pipeline.terrain.error_model import gradient_sd
from pipeline.terrain.error_slopes import vertices_apart
from pipeline.terrain.model import TerrainParameters
from tests.checks.doubt.worlds import CHECK, GOOD, doubts, measured, sd
from tests.checks.room.hand_made import room_of
from tests.checks.worlds import LIMITS, case_of, envelope, site_on, straight, with_stations
from tests.worlds import ORIGIN, at, crest, network_of, plane, sine_hills

Float64 = NDArray[np.float64]

SLOPE = float(gradient_sd(np.ones(1), 0.05, 5.0)[0])


def chance(demand: float, limit: float, deviation: float) -> float:
    """Take the chance of one row."""
    outcome = Outcome.of(np.array([[demand]]), np.array([[limit]]), "m")
    return float(p_over(outcome, np.array([[deviation]]))[0, 0])


@pytest.mark.parametrize(
    ("score", "probability"), [(-3.0, 0.00135), (-1.96, 0.0250), (-1.0, 0.1587), (0.0, 0.5), (1.645, 0.9500)]
)
def test_normal_table(score: float, probability: float) -> None:
    """One-sided values of the standard normal table, as printed in any handbook of statistics."""
    assert chance(10.0 + score * 0.4, 10.0, 0.4) == pytest.approx(probability, abs=5e-5)


def test_no_error_is_certainty_and_no_figure_is_none() -> None:
    """Without a deviation over is over and at the limit is not; what is missing stays missing."""
    assert [chance(one, 1.0, 0.0) for one in (0.9, 1.0, 1.1)] == [0.0, 0.0, 1.0]
    assert np.isnan([chance(np.nan, 1.0, 0.1), chance(1.0, np.nan, 0.1), chance(1.0, 1.0, np.nan)]).all()
    assert np.isnan([chance(np.nan, 1.0, 0.0), chance(1.0, np.nan, 0.0)]).all()


finite = st.floats(0.0, 50.0)


@given(finite, st.floats(1e-6, 50.0), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_more_error_never_makes_a_demand_below_its_limit_more_certain(
    demand: float, above: float, first: float, second: float
) -> None:
    """Below the limit the chance of being over it grows with the error, up to a half; above, it falls to a half."""
    low, high = sorted((first, second))
    limit = demand + above
    assert chance(demand, limit, low) <= chance(demand, limit, high) <= 0.5
    assert 0.5 <= chance(limit + 1.0, limit, high) <= chance(limit + 1.0, limit, low)


@given(st.sampled_from(list(Verdict)), st.one_of(st.just(float("nan")), st.floats(0.0, 1.0)))
def test_a_worsened_verdict_is_never_better(verdict: Verdict, p: float) -> None:
    """Whatever the chance: at least as bad as before, and ``unsurveyed`` stays."""
    after = int(worsened(np.array([verdict.rank], dtype=np.int8), np.array([p]), LIMITS)[0])
    assert after >= verdict.rank
    assert verdict is not Verdict.UNSURVEYED or after == verdict.rank
    assert after != Verdict.UNSURVEYED.rank or verdict is Verdict.UNSURVEYED


@pytest.mark.parametrize(
    ("p", "expected"),
    [
        (0.0, "ample"),
        (0.0199, "ample"),
        (0.02, "watch"),
        (0.099, "watch"),
        (0.1, "spot"),
        (0.5, "barred"),
        (1.0, "barred"),
    ],
)
def test_thresholds_of_doubt(p: float, expected: str) -> None:
    """At a threshold the worse verdict holds already."""
    codes = worsened(np.array([Verdict.AMPLE.rank], dtype=np.int8), np.array([p]), LIMITS)
    assert codes.tolist() == [Verdict(expected).rank]


def test_slopes_have_the_error_of_the_gradient() -> None:
    """On a plane: σ of the slope for slide; in degrees, less on a steep face (÷ 1 + g²), for climb and descent."""
    site = measured(site_on(straight(), plane(east=0.3)))
    assert sd(site, CheckName.SLIDE) == pytest.approx(SLOPE, rel=1e-3)
    assert sd(site, CheckName.CLIMB) == pytest.approx(np.degrees(SLOPE) / 1.09, rel=1e-3)
    found = doubts(site, CheckName.DESCENT)[2]
    assert found[0, 1] == pytest.approx(np.degrees(SLOPE) / 1.09, rel=1e-3)
    assert np.isnan(found[0, 0]), "going up, nothing is asked of the brakes"


def test_one_driven_axle_asks_for_more_of_it() -> None:
    """Where driving asks more than standing, a rear axle under half of the load has twice the error."""
    site = measured(site_on(straight(), plane(east=0.3), rolling=0.1))
    assert sd(site, CheckName.SLIDE, envelope(drive=Drive.REAR)) == pytest.approx(2.0 * SLOPE, rel=1e-3)


def test_slopes_keep_their_error_where_the_grip_is_assumed() -> None:
    """The surface is guessed; how steep it is, is not."""
    site = measured(site_on(straight(), plane(east=0.3)))
    guessed = dataclasses.replace(site, ground=dataclasses.replace(site.ground, assumed=np.ones(1, dtype=bool)))
    _, outcome, found = doubts(guessed, CheckName.CLIMB)
    assert outcome.basis[0, 0] == Basis.ASSUMED
    assert found[0, 0] == pytest.approx(sd(site, CheckName.CLIMB))


def bent() -> CheckSite:
    """Make a straight line that is said to bend by 1/8 m at 30 m; vertices 60 m apart, 4 m of width."""
    site = site_on(straight(width_m=4.0), plane())
    curvature = np.zeros_like(site.terrain.stations.curvature)
    curvature[60] = 0.125
    return with_stations(site, curvature=curvature)


def turning(site: CheckSite, needed: float, at_m: float = 30.0) -> float:
    """Give the deviation of the turn of a line that needs a curvature of the rear axle's way at a place."""
    case = dataclasses.replace(case_of(site), room=room_of(needed=needed, needed_at_m=at_m))
    return float(demand_sd(CheckName.TURN, case, CHECK[CheckName.TURN].evaluate(case))[0, 0])


@pytest.mark.parametrize(("needed", "eased"), [(0.05, 0.16), (0.1, 0.64), (0.125, 1.0), (0.2, 1.0)])
def test_turn_has_the_error_of_the_bend_as_far_as_the_line_follows_it(needed: float, eased: float) -> None:
    """(k ÷ κ)² of that of the curvature, no more than all of it, carried over to the way of the outer front tyre."""
    errors = dataclasses.replace(GOOD, line_rmse_m=0.1)
    site = measured(bent(), errors)
    stations, pick = site.terrain.stations, np.array([60])
    of_bend = bend_sd(stations, errors, pick, vertices_apart(site.network, stations, pick))[0]
    tyre = np.diff(kerb_curvature(np.array([needed - 1e-6, needed + 1e-6]), 2.8, 1.6))[0] / 2e-6
    assert turning(site, needed) == pytest.approx(of_bend * eased * tyre, rel=1e-4)


def test_turn_on_a_straight_has_all_of_the_error_and_none_without_one() -> None:
    """A line that swerves on a straight bends as surely as the straight is one; no error is known of an unknown one."""
    site = measured(bent(), dataclasses.replace(GOOD, line_rmse_m=0.1))
    assert turning(site, 0.125, 10.0) > 0.0
    assert np.isnan(turning(measured(bent()), 0.125))
    assert np.isnan(turning(site, 0.0)), "a straight asks nothing"


def test_width_has_the_error_of_both_sides() -> None:
    """A tree has another or an edge across, each measured by itself; a gap is measured at once; a tag has no error."""
    things = [
        {"kind": "gap", "segment_id": "s", "chainage_m": 30.0, "offset_m": 0.0, "clear_width_m": 2.6},
        {"kind": "tree", "segment_id": "s", "chainage_m": 40.0, "offset_m": -1.4},
    ]
    case = case_of(measured(site_on(straight(obstacles=things), plane())))
    found = []
    for thing, basis in ((0, Basis.SURVEYED), (1, Basis.SURVEYED), (-1, Basis.TAG)):
        one = dataclasses.replace(case, room=room_of(gap_m=0.2, thing=thing, basis=basis))
        found.append(demand_sd(CheckName.WIDTH, one, CHECK[CheckName.WIDTH].evaluate(one))[0, 0])
    by_tape = TerrainParameters().survey_rmse_m
    assert found == pytest.approx([by_tape, math.sqrt(2.0) * by_tape, np.nan], nan_ok=True)


def test_what_is_measured_by_tape_has_the_survey_error() -> None:
    """A gap and a branch measured on the ground: 3 cm. A tag, a note, a depth in water of unknown flow: none."""
    things = [
        {"kind": "gap", "segment_id": "s", "chainage_m": 30.0, "offset_m": 0.0, "clear_width_m": 2.6},
        {"kind": "branch", "segment_id": "s", "chainage_m": 40.0, "offset_m": 0.0, "clear_height_m": 2.2},
        {"kind": "water", "segment_id": "s", "chainage_m": 50.0, "offset_m": 0.0, "depth_m": 0.2, "flow_m_s": 0.1},
    ]
    site = measured(site_on(straight(obstacles=things), plane()))
    assert [sd(site, name) for name in (CheckName.WIDTH, CheckName.HEIGHT, CheckName.FORD)] == [
        TerrainParameters().survey_rmse_m
    ] * 3
    plain = measured(site_on(straight(), plane()))
    assert np.isnan([sd(plain, name) for name in (CheckName.WIDTH, CheckName.HEIGHT, CheckName.FORD)]).all()
    still = [{**things[2], "flow_m_s": None}]
    assert np.isnan(sd(measured(site_on(straight(obstacles=still), plane())), CheckName.FORD))


def test_things_in_the_way_have_the_error_of_their_size() -> None:
    """An outcome that is not of the worst pose is that of a thing: 3 cm in metres, no figure for its angles."""
    case = case_of(measured(HILLS))
    for name, unit in (
        (CheckName.BELLY, "m"),
        (CheckName.ARTICULATION, "m"),
        (CheckName.CLIMB, "m"),
        (CheckName.APPROACH, "°"),
    ):
        found = CHECK[name].evaluate(case)
        thing = dataclasses.replace(
            found,
            at_m=found.at_m + 1.0,
            basis=np.full(found.basis.shape, Basis.SURVEYED, dtype=np.uint8),
            unit=np.full(found.unit.shape, unit, dtype=object),
        )
        of_thing, of_ground = demand_sd(name, case, thing), demand_sd(name, case, found)
        assert (of_thing == TerrainParameters().survey_rmse_m).all() if unit == "m" else np.isnan(of_thing).all()
        assert (of_ground != TerrainParameters().survey_rmse_m).all()
        assert np.isfinite(of_ground).all()
        guessed = dataclasses.replace(thing, basis=np.full(found.basis.shape, Basis.ASSUMED, dtype=np.uint8))
        assert np.isnan(demand_sd(name, case, guessed)).all()


def test_soft_ground_is_not_estimated() -> None:
    """A check that nothing is known of has no figure."""
    case = case_of(measured(site_on(straight(), plane())))
    outcome = Outcome.of(np.ones((1, 2)), np.ones(1), "m")
    assert np.isnan(demand_sd(CheckName.SOFT, case, outcome)).all()


TRAIL = network_of({"s": at(*((k, 3.0 + 0.1 * k) for k in range(41)))}, width_m=3.5, surveyed_on="2026-04-18")
HILLS = site_on(TRAIL, sine_hills(14.0, 0.9))
"""A trail over hills, not along any line of theirs, with a vertex every metre."""


def all_doubts(errors: TerrainParameters, basis: Basis | None = None) -> dict[CheckName, tuple[Outcome, Float64]]:
    """Make all checks on hills."""
    case = case_of(measured(HILLS, errors, basis))
    outcomes = {check.name: check.evaluate(case) for check in ALL_CHECKS}
    return {name: (outcome, demand_sd(name, case, outcome)) for name, outcome in outcomes.items()}


def test_more_error_of_the_model_never_lowers_a_chance_below_the_limit() -> None:
    """All checks, on hills, four sizes of error: where the demand is inside its limit the chance only grows."""
    chances = []
    for rmse in (0.0, 0.03, 0.1, 0.4):
        found = all_doubts(TerrainParameters(dem_rmse_m=rmse, dem_correlation_m=5.0, line_rmse_m=0.2))
        chances.append([np.where(o.demand < o.limit, p_over(o, deviation), np.nan) for o, deviation in found.values()])
    rising = np.diff(np.array(chances), axis=0)
    assert (rising[~np.isnan(rising)] >= 0.0).all()
    assert np.nanmax(rising) > 0.1, "nothing was near its limit"


def test_longer_correlation_steadies_every_demand() -> None:
    """From 5 m on, every demand is a difference over less than the errors reach: ever surer."""
    found = [all_doubts(TerrainParameters(dem_rmse_m=0.05, dem_correlation_m=one)) for one in (5.0, 15.0, 60.0, 500.0)]
    for name in found[0]:
        deviation = np.array([one[name][1] for one in found])
        known = ~np.isnan(deviation[0])
        assert (np.diff(deviation, axis=0)[:, known] <= 1e-12).all(), name


def test_a_survey_narrows_what_rests_on_heights() -> None:
    """The same hills surveyed to 1 cm every metre: less doubt of all that lies along the line, none of it missing."""
    errors = TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0, survey_rmse_m=0.01, line_rmse_m=0.3)
    model, survey = all_doubts(errors), all_doubts(errors, Basis.SURVEYED)
    for name in (CheckName.APPROACH, CheckName.DEPARTURE, CheckName.BREAKOVER, CheckName.BELLY, CheckName.PITCH_OVER):
        before, after = model[name][1], survey[name][1]
        assert (np.isnan(before) == np.isnan(after)).all()
        assert (after[~np.isnan(after)] < before[~np.isnan(before)]).all(), name


def test_position_error_is_left_out_when_it_is_not_stated() -> None:
    """``None`` is the same as an exact line, and any error is more."""
    none, exact, some = (all_doubts(dataclasses.replace(GOOD, line_rmse_m=one)) for one in (None, 0.0, 0.5))
    for name in (CheckName.ROLL, CheckName.CLIMB, CheckName.SLIDE, CheckName.BREAKOVER):
        assert np.array_equal(none[name][1], exact[name][1], equal_nan=True)
        assert np.nansum(some[name][1]) > 1.005 * np.nansum(none[name][1]), name


def test_the_table_tells_doubt_and_says_what_it_changed() -> None:
    """A brow near the limit, for an expert: worsened rows say their chance, others do not, and none is better."""
    slope = float(np.tan(np.radians(8.5)))
    site = site_on(straight(), crest(ORIGIN[0] + 30.0, slope, slope))
    sure = run_checks(site, [envelope(driver=Driver.EXPERT)], LIMITS)
    told = run_checks(
        measured(site, dataclasses.replace(GOOD, dem_rmse_m=0.1)), [envelope(driver=Driver.EXPERT)], LIMITS
    )
    assert sure[["demand_sd", "p_over"]].isna().all(axis=None)
    assert told.loc[told["check"].isin(["breakover", "belly", "roll", "slide"]), "demand_sd"].notna().any()
    rank = [np.array([Verdict(word).rank for word in table["verdict"]]) for table in (sure, told)]
    worse = rank[1] > rank[0]
    assert worse.any()
    assert (rank[1] >= rank[0]).all()
    assert (told["reason"].str.endswith("chance of being over the limit") == worse).all()
    assert (told.loc[worse, "p_over"] >= LIMITS.doubt.watch).all()
    same = [name for name in told if name not in {"verdict", "reason", "demand_sd", "p_over"}]
    assert told[same].equals(sure[same])


def test_unsurveyed_rows_have_no_doubt_either() -> None:
    """A coarse model: no numbers, so no deviation and no chance."""
    site = site_on(straight(), sine_hills(14.0, 0.2))
    coarse = with_stations(site, cell_m=np.full_like(site.terrain.stations.cell_m, 9.0))
    table = run_checks(measured(coarse), [envelope()], LIMITS)
    open_rows = table[table["verdict"] == "unsurveyed"]
    assert {"roll", "climb", "slide", "articulation"} <= set(open_rows["check"])
    assert open_rows[["demand_sd", "p_over"]].isna().all(axis=None)
