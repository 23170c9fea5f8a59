"""Slide, climb and descent: grip, torque, engine braking and brakes against the slope of the ground."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, ratio
from pipeline.checks.grip.formulas import (
    Balance,
    across,
    along,
    crawl_limit,
    gradeability,
    held_by_driven,
    left_lengthwise,
    needed_driving,
)
from pipeline.checks.grip.speed import sideways
from pipeline.checks.grip.station_slopes import Worst, ways
from pipeline.checks.grip.words import Bend, climb_words, descent_words, slide_words
from pipeline.checks.slopes import slopes_unknown
from pipeline.ground.model import Ground
from pipeline.terms import Basis, CheckName
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Climb", "Descent", "Slide", "balance_of"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Texts = NDArray[np.object_]

SOFT = "grip or torque cannot overcome the rolling resistance even on the level"
ASIDE = "the side slope takes all the grip there is"


def balance_of(envelope: Envelope) -> Balance:
    """Take the balance between the axles out of an envelope."""
    return Balance(envelope.wheelbase_m, -envelope.cg_m[0], envelope.cg_m[2])


@dataclass(frozen=True, slots=True)
class Climb:
    """Uphill grade, degrees, against what grip and the lowest gear can drive up, at the station where it is closest.

    Grip: that of the driven wheels with load transfer, less what the side slope of the station takes of it (friction
    circle). Torque: the crawl grade. Both with the high value of rolling resistance deducted; the typical limit has
    the typical grip and the middle of the range of rolling resistance.
    """

    name: CheckName = CheckName.CLIMB

    def evaluate(self, case: Case) -> Outcome:
        """Hold the climb at every station against the smaller of the two limits, and keep the closest."""
        slopes, ground = case.scene.slopes, case.scene.site.ground
        rolling = ground.rolling[slopes.row]
        grip = _climbed(case.envelope, slopes.across, ground.mu_low[slopes.row], rolling)
        torque = crawl_limit(case.envelope.crawl_grade, ground.rolling)
        limit = _degrees(np.minimum(grip, torque[slopes.row]))
        share = ratio(np.abs(slopes.degrees), limit)
        # Nothing is used where it falls and rolls on by itself, or has something left to drive with.
        idle = [(push <= 0.0) & ((limit > 0.0) | (push + rolling <= 0.0)) for push in ways(slopes.along)]
        used = [np.where(rests, 0.0, share) for rests in idle]
        worst = slopes.worst(used)
        demand, most = np.maximum(worst.take(*ways(slopes.degrees)), 0.0), worst.take(limit)
        mu, middle = _typical(ground)
        typical = _degrees(
            np.minimum(
                _climbed(case.envelope, worst.take(slopes.across), mu, middle),
                crawl_limit(case.envelope.crawl_grade, middle),
            )
        )
        level = np.minimum(_climbed(case.envelope, np.zeros(1), ground.mu_low, ground.rolling), torque)
        stuck = (worst.take(*used) > 0.0) & (most <= 0.0)
        return _grades(
            (demand, most, worst.take(*used)),
            case,
            worst,
            note=np.where(stuck, np.where(level <= 0.0, SOFT, ASIDE)[:, None], ""),
            limit_typical=typical,
            more=climb_words(demand, most, typical, torque[:, None] < worst.take(grip)),
        )


@dataclass(frozen=True, slots=True)
class Descent:
    """Downhill grade, degrees, against what the brakes of all wheels hold at the station where it is closest.

    The brakes hold what the side slope there leaves of the adhesion (friction circle); on a steeper grade the vehicle
    cannot stop at all. Engine braking cannot add to that, as it acts through the same tyres: whether it holds the
    grade by itself, in the lowest gear and on the driven wheels alone, with the load gone to the front axle, is told
    besides. In low range it holds the grade that the lowest gear climbs; without low range a stated share of it
    (``engine_braking_share_high_range``). Rolling resistance helps and is left out: its low value is small, and a
    wheel about to slide hardly rolls.
    """

    name: CheckName = CheckName.DESCENT

    def evaluate(self, case: Case) -> Outcome:
        """Hold the descent at every station against the brakes, and keep the closest."""
        slopes, ground = case.scene.slopes, case.scene.site.ground
        limit = _degrees(_lengthwise(left_lengthwise(ground.mu_low[slopes.row], slopes.across), slopes.across))
        share = ratio(np.abs(slopes.degrees), limit)
        used = [np.where(rise >= 0.0, 0.0, share) for rise in ways(slopes.degrees)]
        worst = slopes.worst(used)
        demand = np.maximum(worst.take(*ways(-slopes.degrees)), 0.0)
        most, aside = worst.take(limit), worst.take(slopes.across)
        typical = _degrees(_lengthwise(left_lengthwise(ground.mu_typical[:, None], aside), aside))
        engine = _degrees(_engine(case, ground.mu_low[:, None], aside))
        return _grades(
            (demand, most, worst.take(*used)),
            case,
            worst,
            note=np.where((demand > 0.0) & (most <= 0.0), ASIDE, ""),
            limit_typical=typical,
            more=descent_words(demand, most, typical, engine, case.envelope.min_controlled_speed_m_s),
        )


@dataclass(frozen=True, slots=True)
class Slide:
    """Adhesion that the ground asks of the tyres, the worst of standing, braking and driving on it (friction circle).

    Standing it is the tangent of the slope, whatever the heading. On the move the sideways force of the bend comes to
    it, at the speed of the driver and no more than a quarter of g; driving, also the rolling resistance (high value),
    and with one driven axle all of it falls on that one. The limit is the low adhesion of the surface.
    """

    name: CheckName = CheckName.SLIDE

    def evaluate(self, case: Case) -> Outcome:
        """Hold what every station asks against its grip, and keep the closest."""
        slopes, ground = case.scene.slopes, case.scene.site.ground
        speed = case.limits.motion[case.envelope.driver].speed_kmh * KMH
        turning = sideways(speed, slopes.bend)
        asked = _asked(case.envelope, (slopes.grade, slopes.cross), ground.rolling[slopes.row], turning)
        worst = slopes.worst(asked)
        demand, place = worst.take(*asked), (worst.take(slopes.grade), worst.take(slopes.cross))
        still = np.where([True, False], *_asked(case.envelope, place, ground.rolling[:, None], 0.0))
        bend = Bend(
            adds=demand - still,
            curvature=worst.take(slopes.bend),
            cross=place[1],
            along=worst.take(slopes.along),
            speed=speed,
        )
        return Outcome.of(
            demand,
            ground.mu_low[:, None],
            "μ",
            at_m=slopes.at_m(worst),
            basis=_with_ground(slopes.basis(worst), case),
            unknown=slopes_unknown(case),
            limit_typical=ground.mu_typical[:, None],
            more=slide_words(demand - np.hypot(*place), bend, ground, case.envelope),
        )


def _asked(
    envelope: Envelope, place: tuple[Float64, Float64], rolling: Float64, turning: Float64 | float
) -> tuple[Float64, Float64]:
    """Adhesion asked at places of some grade and side slope with and against: standing, by the brakes, by driving."""
    push, aside = along(*place, turning), across(*place, turning)
    held, balance = np.maximum(np.hypot(*place), np.hypot(push, aside)), balance_of(envelope)
    driven = [needed_driving(envelope.drive, balance, one, rolling, aside) for one in ways(push)]
    return np.maximum(held, driven[0]), np.maximum(held, driven[1])


def _climbed(envelope: Envelope, aside: Float64, mu: Float64, rolling: Float64) -> Float64:
    """Grade that grip drives up, rise over run, where the side slope asks *aside*."""
    return _lengthwise(gradeability(envelope.drive, balance_of(envelope), mu, rolling, aside), aside)


def _engine(case: Case, mu: Float64, aside: Float64) -> Float64:
    """Grade that engine braking alone holds, rise over run."""
    envelope = case.envelope
    share = 1.0 if envelope.low_range else case.limits.engine_braking_share_high_range
    grip = held_by_driven(envelope.drive, balance_of(envelope), mu, 0.0, aside)
    return np.minimum(_lengthwise(grip, aside), envelope.crawl_grade * share)


def _lengthwise(force: Float64, aside: Float64) -> Float64:
    """Turn a lengthwise force ÷ load into the grade that asks it, beside the side slope that asks *aside*.

    As along = grade·√(1 + across²).
    """
    return np.asarray(force / np.sqrt(1.0 + aside**2), dtype=np.float64)


def _typical(ground: Ground) -> tuple[Float64, Float64]:
    """Typical grip and the middle of the rolling resistance of every segment, shape (segments, 1)."""
    return ground.mu_typical[:, None], (ground.rolling + ground.rolling_low)[:, None] / 2.0


def _degrees(grade: Float64) -> Float64:
    """Turn a grade into degrees; 0 for one below 0."""
    return np.degrees(np.arctan(np.maximum(grade, 0.0)))


def _grades(found: tuple[Float64, Float64, Float64], case: Case, worst: Worst, **parts: Float64 | Texts) -> Outcome:
    """Make the outcome of a grade held against a grade, both told in degrees: demand, limit, and how much is used."""
    demand, limit, used = found
    slopes = case.scene.slopes
    return Outcome.of(
        demand,
        limit,
        "°",
        utilisation=used,
        at_m=np.where(used > 0.0, slopes.at_m(worst), np.nan),
        basis=_with_ground(slopes.basis(worst), case),
        unknown=slopes_unknown(case),
        **parts,
    )


def _with_ground(basis: UInt8, case: Case) -> UInt8:
    """Lower the basis where the surface, and so the grip, was assumed."""
    assumed = case.scene.site.ground.assumed[:, None]
    return np.where(assumed, np.minimum(basis, np.uint8(Basis.ASSUMED)), basis)
