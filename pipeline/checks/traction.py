"""Slide, climb and descent: grip, torque and engine braking against the slope of the ground."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome
from pipeline.checks.slopes import both_ways, slopes_unknown
from pipeline.terms import Basis, CheckName, Drive
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Climb", "Descent", "Slide", "gradeability"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]


def gradeability(envelope: Envelope, mu: Float64, rolling: Float64) -> Float64:
    """Steepest grade that grip lets a set-up drive up, rise over run.

    Parameters
    ----------
    envelope
        Driven axles, wheelbase and loaded centre of gravity.
    mu
        Adhesion coefficient.
    rolling
        Rolling resistance coefficient.

    Notes
    -----
    Four-wheel drive μ − f; rear drive (μ·l_f/L − f) ÷ (1 − μ·H/L); front drive (μ·l_r/L − f) ÷ (1 + μ·H/L), with l_f
    and l_r from the centre of gravity to the front and rear axle and H its height. From the tractive force formulas
    of Fundamentals of Transportation, section 7.2 (Levinson et al.), solved for the grade.
    """
    length, height = envelope.wheelbase_m, envelope.cg_m[2]
    to_front = -envelope.cg_m[0]
    if envelope.drive is Drive.REAR:
        return (mu * to_front / length - rolling) / np.maximum(1.0 - mu * height / length, 0.1)
    if envelope.drive is Drive.FRONT:
        return (mu * (length - to_front) / length - rolling) / (1.0 + mu * height / length)
    return mu - rolling


@dataclass(frozen=True, slots=True)
class Slide:
    """Adhesion that the slope of the ground asks of wheels that neither drive nor brake against it: its tangent.

    It is the same for every heading (friction circle on a plane, derived). The limit is the low adhesion of the
    surface.
    """

    name: CheckName = CheckName.SLIDE

    def evaluate(self, case: Case) -> Outcome:
        """Hold the steepest ground of every segment against its grip."""
        demand, at_m, basis = both_ways(case.scene.slope, case.scene.slope)
        limit = case.scene.site.ground.mu_low[:, None]
        basis = _with_ground(basis, case)
        return Outcome.of(demand, limit, "μ", at_m=at_m, basis=basis, unknown=slopes_unknown(case))


@dataclass(frozen=True, slots=True)
class Climb:
    """Uphill grade, degrees, against what grip and the lowest gear can drive up; both less rolling resistance."""

    name: CheckName = CheckName.CLIMB

    def evaluate(self, case: Case) -> Outcome:
        """Hold the steepest climb of every segment against the smaller of the two limits."""
        ground = case.scene.site.ground
        demand, at_m, basis = both_ways(case.scene.uphill, case.scene.downhill)
        grip = gradeability(case.envelope, ground.mu_low, ground.rolling)
        torque = case.envelope.crawl_grade - ground.rolling
        limit = np.broadcast_to(np.minimum(grip, torque)[:, None], demand.shape)
        note = np.where(limit > 0.0, "", "grip or torque cannot overcome the rolling resistance even on the level")
        return _grades(demand, limit, case, (at_m, basis), note)


@dataclass(frozen=True, slots=True)
class Descent:
    """Downhill grade, degrees, against what the brakes and engine braking can hold.

    The brakes hold up to the low adhesion of the surface. Engine braking in low range holds the grade that the lowest
    gear climbs; without low range a stated share of it (``engine_braking_share_high_range``). Rolling resistance
    helps and is left out.
    """

    name: CheckName = CheckName.DESCENT

    def evaluate(self, case: Case) -> Outcome:
        """Hold the steepest descent of every segment against the smaller of the two limits."""
        demand, at_m, basis = both_ways(case.scene.downhill, case.scene.uphill)
        share = 1.0 if case.envelope.low_range else case.limits.engine_braking_share_high_range
        limit = np.minimum(case.scene.site.ground.mu_low, case.envelope.crawl_grade * share)
        wide = np.broadcast_to(limit[:, None], demand.shape)
        return _grades(demand, wide, case, (at_m, basis), np.full(demand.shape, "", dtype=object))


def _grades(
    demand: Float64, limit: Float64, case: Case, where: tuple[Float64, UInt8], note: NDArray[np.object_]
) -> Outcome:
    """Make the outcome of a grade held against a grade, both told in degrees."""
    at_m, basis = where
    return Outcome.of(
        np.degrees(np.arctan(demand)),
        np.degrees(np.arctan(np.maximum(limit, 0.0))),
        "°",
        at_m=np.where(demand > 0.0, at_m, np.nan),
        basis=_with_ground(basis, case),
        unknown=slopes_unknown(case),
        note=note,
    )


def _with_ground(basis: UInt8, case: Case) -> UInt8:
    """Lower the basis where the surface, and so the grip, was assumed."""
    assumed = case.scene.site.ground.assumed[:, None]
    return np.where(assumed, np.minimum(basis, np.uint8(Basis.ASSUMED)), basis)
