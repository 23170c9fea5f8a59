"""Articulation: the twist of the ground under the four wheels against the wheel travel."""

from dataclasses import dataclass

import numpy as np

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.rolling.four_wheels import TWIST
from pipeline.checks.slopes import without_heights
from pipeline.checks.stability import standing, standing_unknown, wheel_words
from pipeline.checks.unknowns import cells_too_coarse, survey_too_sparse
from pipeline.terms import CheckName

__all__ = ["Articulation"]


@dataclass(frozen=True, slots=True)
class Articulation:
    """Twist of the ground, m: (front left − front right) − (rear left − rear right), without its sign.

    The limit is the twist at which the first wheel lifts (``wheel_travel_m``), measured on a ramp as for the ramp
    travel index. Heights must stand as close as for the side view: a coarse model planes the twist away.
    """

    name: CheckName = CheckName.ARTICULATION

    def evaluate(self, case: Case) -> Outcome:
        """Hold the largest twist of every segment against the wheel travel, and name the wheel."""
        four = case.four
        wheel = four.wheel[:, :, TWIST]
        more = np.where(
            four.lifted[:, :, TWIST],
            wheel_words("", " lifts")[wheel],
            wheel_words("", " would lift first")[wheel],
        )
        coarse = unknown_where(without_heights(case), cells_too_coarse(case), survey_too_sparse(case))
        unknown = np.where(coarse == "", standing_unknown(case), coarse)
        return standing(case, TWIST, (case.envelope.wheel_travel_m, 1.0, "m"), more, unknown)
