"""Approach, breakover, departure and belly: the underbody against the profile (kernels.pose)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.obstacles import IN_PROFILE, on_body
from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER, DEPARTURE
from pipeline.terms import CheckName
from pipeline.vehicle.envelope_model import Envelope

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
    coarsest = case.limits.max_cell_of_wheelbase * case.envelope.wheelbase_m
    coarse = scene.cell_m > coarsest
    sparse = scene.apart_m > coarsest
    blind = sweep.blind_m > 0.0
    failed = sweep.failed.sum(axis=1)
    share = failed / np.maximum(failed + sweep.poses.sum(axis=1), 1)
    start = np.fmin(sweep.failed_at_m[:, 0], sweep.failed_at_m[:, 1])
    return unknown_where(
        (sweep.blind_m >= scene.length_m, "no heights along it"),
        (coarse, _each(coarse, lambda k: _too_coarse(scene.cell_m[k], case.envelope, coarsest))),
        (
            sparse,
            _each(
                sparse,
                lambda k: (
                    f"surveyed heights {scene.apart_m[k]:.1f} m apart hide what a wheelbase of "
                    f"{case.envelope.wheelbase_m:.2f} m feels; at most {coarsest:.2f} m would show it"
                ),
            ),
        ),
        (blind, _each(blind, lambda k: f"{sweep.blind_m[k]:.1f} m without heights, from {sweep.blind_at_m[k]:.1f} m")),
        (
            failed > 0,
            _each(
                failed > 0, lambda k: f"{share[k]:.0%} of the poses lack ground under a wheel, from {start[k]:.1f} m"
            ),
        ),
        (sweep.poses.sum(axis=1) == 0, f"shorter than the wheelbase of {case.envelope.wheelbase_m:.2f} m"),
        _no_height(case),
    )


def _each(flags: NDArray[np.bool_], text: Callable[[int], str]) -> Texts:
    """Write the text of each segment that a flag marks."""
    texts = np.full(flags.size, "", dtype=object)
    for k in np.flatnonzero(flags):
        texts[k] = text(int(k))
    return texts


def _too_coarse(cell: float, envelope: Envelope, coarsest: float) -> str:
    """Say why the elevation model does not show what the vehicle would touch."""
    what = "an elevation cell of unknown size" if np.isinf(cell) else f"an elevation cell of {cell:.1f} m"
    return (
        f"{what} hides what a wheelbase of {envelope.wheelbase_m:.2f} m feels; at most {coarsest:.2f} m would show it"
    )


def _no_height(case: Case) -> tuple[NDArray[np.bool_], Texts]:
    """Find the first thing in the way of each segment that has no height."""
    open_things = case.scene.things.of(*IN_PROFILE)
    in_way = on_body(open_things, case.envelope, case.limits.side_margin_m / 2.0)
    open_things = open_things.where(np.isnan(open_things.height_m) & in_way)
    texts = np.full(case.scene.length_m.size, "", dtype=object)
    for row, label, at in zip(open_things.row[::-1], open_things.label[::-1], open_things.at_m[::-1], strict=True):
        texts[row] = f"{label} at {at:.1f} m has no height"
    return texts != "", texts
