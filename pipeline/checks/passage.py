"""Turn, width and height: whether the vehicle fits through."""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.narrows import Narrows, narrows_of, stems_in_the_way
from pipeline.terms import Basis, CheckName, ObstacleKind
from pipeline.vehicle.turning import offtracking

__all__ = ["Height", "Turn", "Width", "off_tracking"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Texts = NDArray[np.object_]
Column = TypeVar("Column", Float64, UInt8)


IN_BEND_M = 5.0
"""A narrow place this close to the tightest point of a bend stands in it: the length of a vehicle. No source."""


def off_tracking(radius_m: Float64, wheelbase_m: float) -> Float64:
    """How far the rear axle cuts inside the front one in a steady bend, m: R − √(R² − L²).

    The relation of the AASHTO Green Book for one unit; R is the radius of the front axle's middle. A radius smaller
    than the wheelbase gives the wheelbase, the largest value that the relation has.
    """
    steady = radius_m > wheelbase_m
    return np.where(steady, offtracking(np.where(steady, radius_m, np.inf), wheelbase_m), wheelbase_m)


def _both(column: Column) -> Column:
    """Give both directions the same values."""
    return np.column_stack([column, column])


def _geometry_basis(case: Case) -> UInt8:
    """Say what the line of the trail rests on: a walked survey, or the map it came with."""
    return np.where(case.scene.tags.surveyed, np.uint8(Basis.SURVEYED), np.uint8(Basis.TAG))


@dataclass(frozen=True, slots=True)
class Turn:
    """Curvature of the line the outer front tyre can take, 1/m, against that of the turning circle.

    The vehicle may use half of the width that the trail has beyond what it needs: its line has the radius of the
    trail's plus that. Where a narrow place stands in the bend, its width counts. Rule of this project, no source.
    """

    name: CheckName = CheckName.TURN

    def evaluate(self, case: Case) -> Outcome:
        """Hold the tightest bend of every segment against the turning circle."""
        bend = case.scene.bend
        needed = case.envelope.width_mirrors_m + case.limits.side_margin_m
        spare = np.maximum(np.nan_to_num(_room(case) - needed, nan=0.0), 0.0)
        demand = bend.value / (1.0 + bend.value * spare / 2.0)
        basis = np.where(spare > 0.0, np.minimum(_geometry_basis(case), np.uint8(Basis.TAG)), _geometry_basis(case))
        return Outcome.of(
            _both(demand),
            np.full((demand.size, 2), 1.0 / case.envelope.turning_radius_m),
            "1/m",
            at_m=np.where(_both(demand) > 0.0, _both(bend.at_m), np.nan),
            basis=_both(basis),
            unknown=unknown_where((np.isnan(demand), "the line has no stations")),
        )


def _room(case: Case) -> Float64:
    """Width at the tightest bend of every segment: the tagged one, or that of a narrow place there, m."""
    scene = case.scene
    room = scene.tags.width_m.copy()
    narrows = narrows_of(scene, case.limits.pair_within_m)
    here = np.abs(narrows.at_m - scene.bend.at_m[narrows.row]) <= IN_BEND_M
    np.fmin.at(room, narrows.row[here], narrows.width_m[here])
    return np.where(np.isnan(scene.tags.width_m), np.nan, room)


@dataclass(frozen=True, slots=True)
class Width:
    """Width the vehicle sweeps, mirrors and margin included, m, against the width there is.

    In a bend the rear axle cuts inside. The width there is: the tagged one, at the tightest bend; a surveyed gap; two
    trees or posts on either side of the line close to each other along the trail; beside one that stands in the tagged
    width the wider side.
    """

    name: CheckName = CheckName.WIDTH

    def evaluate(self, case: Case) -> Outcome:
        """Hold the swept width against the tagged width and every narrow place."""
        tags, bend = case.scene.tags, case.scene.bend
        narrows = narrows_of(case.scene, case.limits.pair_within_m)
        tagged = _along(case, tags.width_m, bend.value, bend.at_m)
        tagged = replace(tagged, basis=np.full(tagged.basis.shape, Basis.TAG, dtype=np.uint8))
        worst = _narrowest(case, narrows, tags.width_m.size)
        untagged = np.isnan(tags.width_m)
        blocked = stems_in_the_way(case.scene, (case.envelope.width_mirrors_m + case.limits.side_margin_m) / 2.0)
        known_gap = ~np.isnan(worst.utilisation[:, 0])
        unknown = unknown_where(
            (narrows.unknown != "", narrows.unknown),
            (untagged & (blocked != ""), blocked),
            (untagged & ~tags.surveyed, "no width is tagged and the segment was not surveyed for obstacles"),
            (untagged & ~known_gap, "no width is tagged and no narrow place was measured"),
        )
        return replace(tagged.worse_of(worst), unknown=np.broadcast_to(unknown, tagged.demand.shape))


def _along(case: Case, width_m: Float64, curvature: Float64, at_m: Float64) -> Outcome:
    """Hold the swept width at given places, one a row, against the width there."""
    bent = np.nan_to_num(curvature, nan=0.0)
    radius = np.divide(1.0, bent, out=np.full(bent.shape, np.inf), where=bent > 0.0)
    margin = case.envelope.width_mirrors_m + case.limits.side_margin_m
    demand = margin + off_tracking(radius, case.envelope.wheelbase_m)
    place = np.where(bent > 0.0, at_m, np.nan)
    return Outcome.of(_both(demand), _both(width_m), "m", at_m=_both(place))


def _narrowest(case: Case, narrows: Narrows, segments: int) -> Outcome:
    """Find the worst narrow place of every segment."""
    here = _along(case, narrows.width_m, narrows.curvature, narrows.at_m)
    order = np.lexsort((narrows.at_m, -np.nan_to_num(here.utilisation[:, 0], nan=-1.0), narrows.row))
    rows, first = np.unique(narrows.row[order], return_index=True)
    pick = order[first]
    demand, limit, at_m = (np.full((segments, 2), np.nan) for _ in range(3))
    demand[rows], limit[rows] = here.demand[pick], here.limit[pick]
    at_m[rows] = narrows.at_m[pick][:, None]
    return Outcome.of(demand, limit, "m", at_m=at_m, basis=Basis.SURVEYED)


@dataclass(frozen=True, slots=True)
class Height:
    """Height of the vehicle with its margin, m, against the lowest branch or sign."""

    name: CheckName = CheckName.HEIGHT

    def evaluate(self, case: Case) -> Outcome:
        """Hold the roof against the lowest clearance of every segment."""
        tags = case.scene.tags
        segments = tags.surveyed.size
        needed = np.full((segments, 2), case.envelope.height_m + case.limits.roof_margin_m)
        low, at_m, nameless = _lowest_branch(case, segments)
        tagged = Outcome.of(needed, tags.max_height_m[:, None], "m", basis=Basis.TAG)
        branch = Outcome.of(needed, low[:, None], "m", at_m=at_m[:, None], basis=Basis.SURVEYED)
        worst = tagged.worse_of(branch)
        free = np.isnan(worst.utilisation) & tags.surveyed[:, None]
        untold = ~tags.surveyed & np.isnan(tags.max_height_m)
        return replace(
            worst,
            utilisation=np.where(free, 0.0, worst.utilisation),
            basis=np.where(free, np.uint8(Basis.SURVEYED), worst.basis),
            note=np.where(free, "no branch found", ""),
            unknown=np.broadcast_to(
                unknown_where(
                    (nameless != "", nameless),
                    (untold, "not surveyed for branches, and no height is tagged"),
                ),
                (segments, 2),
            ),
        )


def _lowest_branch(case: Case, segments: int) -> tuple[Float64, Float64, Texts]:
    """Find the lowest branch over the vehicle: clear height, chainage, and what has no clear height."""
    branches = case.scene.things.of(ObstacleKind.BRANCH)
    half = np.where(np.isnan(branches.width_m), np.inf, branches.width_m / 2.0)
    reach = case.envelope.width_mirrors_m / 2.0 + case.limits.side_margin_m / 2.0
    branches = branches.where(np.abs(np.nan_to_num(branches.offset_m, nan=0.0)) - half < reach)
    low, at_m = np.full(segments, np.nan), np.full(segments, np.nan)
    nameless = np.full(segments, "", dtype=object)
    order = np.argsort(-np.nan_to_num(branches.clear_height_m, nan=np.inf), kind="stable")
    for k in order:
        row = branches.row[k]
        if np.isnan(branches.clear_height_m[k]):
            nameless[row] = f"{branches.label[k]} at {branches.at_m[k]:.1f} m has no clear height"
        else:
            low[row], at_m[row] = branches.clear_height_m[k], branches.at_m[k]
    return low, at_m, nameless
