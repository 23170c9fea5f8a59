"""Approach, breakover, departure and belly: the underbody against the profile (kernels.pose)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.obstacles import IN_PROFILE, on_body
from pipeline.checks.unknowns import cells_too_coarse, each, poses_failed, survey_too_sparse, without_height
from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER, DEPARTURE
from pipeline.terms import CheckName

__all__ = ["CLEARANCE_CHECKS", "Clearance"]

Texts = NDArray[np.object_]

_COLUMN = {
    CheckName.APPROACH: APPROACH,
    CheckName.BREAKOVER: BREAKOVER,
    CheckName.DEPARTURE: DEPARTURE,
    CheckName.BELLY: BELLY,
}


@dataclass(frozen=True, slots=True)
class Clearance:
    """One of the four checks of the side view.

    Demand and limit of the angles are degrees, defined as in 49 CFR 523.2; of the belly m: the height of the ground
    over the set-up's ground line, and the height of the body there less the required gap. Where the ground asks
    nothing the limit is the set-up's own figure.
    """

    name: CheckName

    def evaluate(self, case: Case) -> Outcome:
        """Read one check out of the sweep."""
        column = _COLUMN[self.name]
        sweep = case.sweep
        belly = self.name is CheckName.BELLY
        scale = 1.0 if belly else 180.0 / np.pi
        limit = sweep.limit[:, :, column] * scale
        own = self._own_limit(case)
        asked = ~np.isnan(limit)
        basis = np.where(asked, sweep.basis[:, :, column], case.scene.stations_basis[:, None])
        return Outcome.of(
            sweep.demand[:, :, column] * scale,
            np.where(asked, limit, own),
            "m" if belly else "°",
            utilisation=sweep.utilisation[:, :, column],
            at_m=sweep.at_m[:, :, column],
            basis=basis,
            unknown=_unknown(case),
        )

    def _own_limit(self, case: Case) -> float:
        """Figure of the set-up itself."""
        envelope = case.envelope
        own = {
            CheckName.APPROACH: envelope.approach_deg,
            CheckName.BREAKOVER: envelope.breakover_deg,
            CheckName.DEPARTURE: envelope.departure_deg,
            CheckName.BELLY: envelope.clearance_m - case.limits.required_gap_m,
        }[self.name]
        return own if np.isfinite(own) else np.nan


CLEARANCE_CHECKS = tuple(Clearance(name) for name in _COLUMN)
"""The four, in the order of ``terms.CheckName``."""


def _unknown(case: Case) -> Texts:
    """Say on which segments the side view is not known, or not all along."""
    sweep, scene = case.sweep, case.scene
    in_profile = scene.things.of(*IN_PROFILE)
    in_way = in_profile.where(on_body(in_profile, case.envelope, case.limits.side_margin_m / 2.0))
    return unknown_where(
        (sweep.blind_m >= scene.length_m, "no heights along it"),
        cells_too_coarse(case),
        survey_too_sparse(case),
        each(
            sweep.blind_m > 0.0,
            lambda k: f"{sweep.blind_m[k]:.1f} m without heights, from {sweep.blind_at_m[k]:.1f} m",
        ),
        poses_failed(sweep.poses, sweep.failed, sweep.failed_at_m),
        (sweep.poses.sum(axis=1) == 0, f"shorter than the wheelbase of {case.envelope.wheelbase_m:.2f} m"),
        without_height(case, in_way),
    )
