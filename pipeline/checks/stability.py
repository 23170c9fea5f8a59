"""Roll and pitch-over: how much of the angle to tipping over an edge of its support a vehicle uses up."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.obstacles import IN_PROFILE, by_tyre
from pipeline.checks.rolling.four_wheels import PITCH, ROLL, chassis_of
from pipeline.checks.slopes import slopes_unknown
from pipeline.checks.unknowns import Reason, each, poses_failed, without_height
from pipeline.kernels.four_records import FRONT_EDGE, LEFT_EDGE
from pipeline.terms import CheckName, Wheel

__all__ = ["PitchOver", "Roll", "standing", "standing_unknown", "wheel_words"]

Texts = NDArray[np.object_]

DEGREES = 180.0 / np.pi


@dataclass(frozen=True, slots=True)
class Roll:
    """Angle that ground and bends take off what is left to tipping sideways, degrees.

    Force-angle measure (Papadopoulos & Rey, Vehicle System Dynamics 33(1), 2000) about the left and right edge of the
    support and, on three wheels, its diagonal; gravity and the sideways force of a bend act on the loaded centre of
    gravity. On a plane straight across it is the slope. The limit is the static angle towards that side, less what
    springs and tyres take (``compliance_share``).
    """

    name: CheckName = CheckName.ROLL

    def evaluate(self, case: Case) -> Outcome:
        """Hold the worst pose of every segment against the working static angle."""
        track = 0.5 * (case.envelope.track_front_m + case.envelope.track_rear_m)
        return _tipping(case, ROLL, LEFT_EDGE, _hidden(case, track, "a lean over a track"))


@dataclass(frozen=True, slots=True)
class PitchOver:
    """The same about the front and rear edge: tipping over lengthwise. On a plane straight up or down, the slope."""

    name: CheckName = CheckName.PITCH_OVER

    def evaluate(self, case: Case) -> Outcome:
        """Hold the worst pose of every segment against the working static angle."""
        return _tipping(case, PITCH, FRONT_EDGE, _hidden(case, case.envelope.wheelbase_m, "a pitch over a wheelbase"))


def _hidden(case: Case, size_m: float, what: str) -> Reason:
    """Find the segments whose elevation cells are larger than what leans; those of unknown size are told elsewhere."""
    cell_m = case.scene.cell_m
    return each(
        cell_m > np.float32(size_m),  # as cells are stored
        lambda k: (
            f"an elevation cell of {cell_m[k]:.1f} m hides {what} of {size_m:.2f} m; at most {size_m:.2f} m shows it"
        ),
    )


def _tipping(case: Case, measure: int, edge: int, hidden: Reason) -> Outcome:
    """Read one measure of tipping out of the sweep; *edge* is the first of its two edges."""
    own = float(chassis_of(case.envelope, case.limits).limits[edge : edge + 2].min())
    words = wheel_words("on three wheels, ", " in the air")
    lifted = case.four.lifted[:, :, measure]
    more = np.where(lifted, words[case.four.wheel[:, :, measure]], "")
    return standing(case, measure, (own, DEGREES, "°"), more, _unknown(case, hidden))


def standing(case: Case, measure: int, own: tuple[float, float, str], more: Texts, unknown: Texts) -> Outcome:
    """Make an outcome of one measure of the sweep on four wheels.

    Parameters
    ----------
    case
        Set-up and site.
    measure
        Which one, see ``checks.four_wheels``.
    own
        Limit where the ground asks nothing, factor that turns the numbers into the unit of the check, that unit.
    more
        What else to say, shape (segments, 2).
    unknown
        Why it is not known, shape (segments, 1).
    """
    four, (level, scale, unit) = case.four, own
    limit = four.limit[:, :, measure]
    asked = ~np.isnan(limit)
    return Outcome.of(
        four.demand[:, :, measure] * scale,
        np.where(asked, limit, level) * scale,
        unit,
        utilisation=four.utilisation[:, :, measure],
        at_m=four.at_m[:, :, measure],
        basis=np.where(asked, four.basis[:, :, measure], case.scene.stations_basis[:, None]),
        unknown=unknown,
        more=more,
    )


def wheel_words(before: str, after: str) -> Texts:
    """Give the words of every wheel with text round them; the last, at −1, is for no wheel and empty."""
    return np.array([*(f"{before}{wheel.word}{after}" for wheel in Wheel), ""], dtype=object)


def _unknown(case: Case, hidden: Reason) -> Texts:
    """Say on which segments nobody knows how the vehicle leans, or not all along."""
    slopes, cells = slopes_unknown(case), unknown_where(hidden)
    stands = np.where(cells == "", standing_unknown(case), cells)
    return np.asarray(np.where(slopes == "", stands, slopes), dtype=object)


def standing_unknown(case: Case) -> Texts:
    """Say on which segments a vehicle cannot be stood on its four wheels, or not all along, shape (segments, 1)."""
    four, in_profile = case.four, case.scene.things.of(*IN_PROFILE)
    left, right = by_tyre(in_profile, case.envelope, case.limits.side_margin_m / 2.0)
    return unknown_where(
        poses_failed(four.poses, four.failed, four.failed_at_m),
        (four.poses.sum(axis=1) == 0, f"shorter than the wheelbase of {case.envelope.wheelbase_m:.2f} m"),
        without_height(case, in_profile.where(left | right)),
    )
