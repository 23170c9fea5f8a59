"""How sure a check is: standard deviation of its demand, probability of being over the limit, verdicts worsened by it.

Each demand has its standard deviation at its worst place, by what it rests on there: the elevation model (error and
correlation length of its heights, position of the line), heights or things surveyed on the ground, or a tag or an
assumption, of which no error is known. The worst place is the one that looks worst with these errors in it, so its
demand rather leans to the high side; that others might be over in truth is not counted. The limit is taken as it
stands, at the low value of grip. The errors are taken as normal.

``slide``, ``climb`` and ``descent`` have the error of the slope also where the grip was assumed: it is their limit that
rests on the assumption. ``turn`` has that of the line whatever the width beside it rests on. ``width`` has those of
what stands on both sides, as a line keeps its distance from both; a gap is measured across at once.
"""

import math
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome
from pipeline.checks.doubt.heights import station_near
from pipeline.checks.doubt.side import VIEW, side_view_sd
from pipeline.checks.doubt.wheels import MEASURE, four_wheel_sd
from pipeline.checks.limits import Limits
from pipeline.terms import Basis, CheckName, Drive, ObstacleKind, Verdict
from pipeline.terrain.error_line import bend_sd
from pipeline.terrain.error_slopes import slope_errors, vertices_apart

__all__ = ["demand_sd", "p_over", "worsened"]

Float64 = NDArray[np.float64]
Int8 = NDArray[np.int8]
Int64 = NDArray[np.int64]

SAME = 1e-5
"""Slopes this close are one: stations are kept in single precision."""


def demand_sd(name: CheckName, case: Case, outcome: Outcome) -> Float64:
    """Give the standard deviation of a demand at its worst place.

    Parameters
    ----------
    name
        The check.
    case
        The set-up on its site.
    outcome
        What the check found.

    Returns
    -------
    ndarray
        Shape (segments, 2), in the unit of the demand; NaN where it is not estimated: no error was given, the demand
        rests on a tag or an assumption, or the ground asks nothing.
    """
    if name in VIEW:
        return _unless_a_thing(side_view_sd(name, case), case.sweep.at_m[:, :, VIEW[name]], case, outcome)
    if name in MEASURE:
        return _unless_a_thing(four_wheel_sd(name, case), case.four.at_m[:, :, MEASURE[name]], case, outcome)
    estimate = _OTHERS.get(name)
    return np.full(outcome.demand.shape, np.nan) if estimate is None else estimate(name, case, outcome)


def p_over(outcome: Outcome, sd: Float64) -> Float64:
    """Give the probability that the demand in truth is over the limit: Φ((demand − limit) ÷ sd), one-sided.

    Parameters
    ----------
    outcome
        Demand and limit.
    sd
        Standard deviation of the demand, the same shape; 0 gives 0 or 1.

    Returns
    -------
    ndarray
        NaN where demand, limit or standard deviation is missing.
    """
    over = np.asarray(outcome.demand - outcome.limit, dtype=np.float64)
    certain = np.where(over > 0.0, np.inf, -np.inf)
    with np.errstate(over="ignore"):  # next to no error at all is certainty
        score = np.divide(over, sd, out=np.where(np.isnan(over + sd), np.nan, certain), where=sd > 0.0)
    normal = np.array([0.5 * math.erfc(-one / math.sqrt(2.0)) for one in score.ravel().tolist()])
    return normal.reshape(score.shape)


def worsened(codes: Int8, p: Float64, limits: Limits) -> Int8:
    """Worsen verdicts by the probability of being over the limit; none is ever improved.

    Parameters
    ----------
    codes
        Ranks of the verdicts.
    p
        Probabilities, the same shape; NaN worsens nothing.
    limits
        Thresholds.

    Returns
    -------
    ndarray
        Ranks; ``unsurveyed`` stays, as it says that the demand is not known.
    """
    doubt = limits.doubt
    least = np.select(
        [p >= doubt.barred, p >= doubt.spot, p >= doubt.watch],
        [Verdict.BARRED.rank, Verdict.SPOT.rank, Verdict.WATCH.rank],
        default=Verdict.AMPLE.rank,
    )
    return np.where(codes == Verdict.UNSURVEYED.rank, codes, np.maximum(codes, least)).astype(np.int8)


def _unless_a_thing(sd: Float64, at_m: Float64, case: Case, outcome: Outcome) -> Float64:
    """Keep the error of a pose where the outcome is of that pose; of a thing in the way it is that of its size."""
    same = (outcome.at_m == at_m) | (np.isnan(outcome.at_m) & np.isnan(at_m))
    return np.where(same, sd, _tape(outcome, case))


def _slope(name: CheckName, case: Case, outcome: Outcome) -> Float64:
    """Error of the grade, degrees, or of the tangent of the slope, at the worst station."""
    site = case.scene.site
    pick = _worst_station(case, outcome)
    errors = slope_errors(site.network, site.terrain, site.measured, pick)
    if name is CheckName.SLIDE:
        sd = errors.whole * _one_axle(case, outcome, pick)
    else:
        sd = np.degrees(errors.grade * np.cos(np.radians(outcome.demand.ravel())) ** 2)
    by_slope = np.where(np.isnan(outcome.at_m), np.nan, sd.reshape(outcome.at_m.shape))
    return np.where(outcome.unit == "m", _tape(outcome, case), by_slope)  # an edge that a wheel climbs on to


def _one_axle(case: Case, outcome: Outcome, pick: Int64) -> Float64:
    """Give how much more adhesion a steeper slope asks where one axle drives: the load ÷ what stands on that axle.

    So where more is asked than the slope itself, which all wheels share; level load, as its transfer is second order.
    """
    envelope, stations = case.envelope, case.scene.site.terrain.stations
    rear = -envelope.cg_m[0] / envelope.wheelbase_m
    share = {Drive.FOUR_WHEEL: 1.0, Drive.REAR: rear, Drive.FRONT: 1.0 - rear}[envelope.drive]
    whole = np.hypot(stations.grade[pick], stations.cross[pick])
    return np.where(outcome.demand.ravel() > whole + SAME, 1.0 / share, 1.0)


def _bend(_name: CheckName, case: Case, outcome: Outcome) -> Float64:
    """Error of the curvature of the outer front tyre's way, 1/m: that of the trail's bend, as far as it goes over.

    A line that is wider by some room w than a bend κ of the trail has the curvature k = κ ÷ (1 + κw), which changes
    with κ by (k ÷ κ)²; one that bends more than the trail changes as the trail does. With 1 ÷ D = √((1 ÷ k + t ÷ 2)² +
    L²) the demand changes with k by D³ (1 ÷ k + t ÷ 2) ÷ k². Left out: how a line swerves round trees that stand a
    little elsewhere.
    """
    site, track = case.scene.site, case.envelope.track_front_m
    stations, pick = site.terrain.stations, _worst_station(case, outcome)
    by_line = bend_sd(stations, site.measured, pick, vertices_apart(site.network, stations, pick))
    bend = np.abs(stations.curvature[pick].astype(np.float64)).reshape(outcome.demand.shape)
    driven = np.where(outcome.demand > 0.0, case.room.needed, np.nan)
    eased = np.divide(driven, bend, out=np.ones(bend.shape), where=bend > driven) ** 2
    tyre = outcome.demand**3 * (1.0 / driven + track / 2.0) / driven**2
    return np.where(np.isnan(outcome.at_m), np.nan, by_line.reshape(bend.shape) * eased * tyre)


def _beside(_name: CheckName, case: Case, outcome: Outcome) -> Float64:
    """Error of the width between what stands on either side of the line; a gap is measured across at once."""
    kind = np.append(case.scene.things.kind, "")[np.maximum(case.room.thing, -1)]
    return _tape(outcome, case) * np.where(kind == ObstacleKind.GAP.value, 1.0, math.sqrt(2.0))


def _by_tape(_name: CheckName, case: Case, outcome: Outcome) -> Float64:
    """Error of a clear height or a depth."""
    return _tape(outcome, case)


def _tape(outcome: Outcome, case: Case) -> Float64:
    """Error of what was measured on the ground in metres; NaN for the rest."""
    measured = (outcome.basis == Basis.SURVEYED) & (outcome.unit == "m") & (outcome.note == "")
    return np.where(measured & ~np.isnan(outcome.limit), case.scene.site.measured.survey_rmse_m, np.nan)


def _worst_station(case: Case, outcome: Outcome) -> Int64:
    """Station nearest to the worst place, both directions of one segment after the other, shape (rows,)."""
    return station_near(case, np.repeat(np.arange(outcome.at_m.shape[0]), 2), outcome.at_m.ravel())


_Estimate = Callable[[CheckName, Case, Outcome], Float64]

_OTHERS: Mapping[CheckName, _Estimate] = {
    CheckName.SLIDE: _slope,
    CheckName.CLIMB: _slope,
    CheckName.DESCENT: _slope,
    CheckName.TURN: _bend,
    CheckName.WIDTH: _beside,
    CheckName.HEIGHT: _by_tape,
    CheckName.FORD: _by_tape,
}
