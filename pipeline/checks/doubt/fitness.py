"""What an elevation model can carry: which checks of which set-up its cell and its error support.

A check *cannot* be carried by a cell coarser than what it looks at, nor without a stated error. It is *doubtful* where
one standard deviation of its demand is more than the step from ``watch`` to ``barred`` (in the shipped limits 0.15 of
the limit): then chance alone moves a verdict by a whole step. Otherwise the model *supports* it. Turn, width, height
and ford do not rest on the elevation model.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.prepared import Prepared
from pipeline.checks.scene import Scene
from pipeline.tables import FITNESS, validate
from pipeline.terms import Basis, CheckName, Support, Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["fitness_table"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]

_VIEW = (CheckName.APPROACH, CheckName.BREAKOVER, CheckName.DEPARTURE, CheckName.BELLY, CheckName.ARTICULATION)
_SLOPES = (CheckName.SLIDE, CheckName.CLIMB, CheckName.DESCENT)
_CHECKS = (*_VIEW, CheckName.ROLL, CheckName.PITCH_OVER, *_SLOPES)
_UNITS = {CheckName.BELLY: "m", CheckName.ARTICULATION: "m", CheckName.SLIDE: "μ"}
"""Unit of the demand; of all others degrees."""
_TAKEN = ("demand_sd", "limit", "unit", "verdict", "reason")
_DIGITS = 2
"""Cells are told apart by so many figures: those of a model in degrees vary a little from place to place."""


@dataclass(frozen=True, slots=True)
class _Needed:
    """The coarsest cell that shows what a check looks at, m, and what that is, in words."""

    cell_m: float
    what: str


@dataclass(frozen=True, slots=True)
class _Found:
    """What a check of a set-up came to on the trails of one cell."""

    cell_m: float
    length_m: float
    sd: float
    limit: float
    unit: str
    unknown: str
    """Why the check is not known where it is not; empty where it is known everywhere."""
    unknown_m: float
    """Length on which it is not known, the mean of both directions."""
    carried: bool
    """Whether the model tells the check anywhere: a known overrun of which only a part was measured does not count."""


def fitness_table(prepared: Prepared, checks: pd.DataFrame) -> pd.DataFrame:
    """Say which checks the elevation model supports, for every set-up and cell size in use.

    Parameters
    ----------
    prepared
        Site and set-ups.
    checks
        Contract CHECKS of them.

    Returns
    -------
    DataFrame
        Contract FITNESS, by set-up in order, check, cell. ``demand_sd`` and ``limit`` are the medians over the
        segments of that (coarsest) cell and both directions, weighted by length; missing where no segment has one.
    """
    cells, table = _cells(prepared.scene), {name: checks[name].to_numpy() for name in _TAKEN}
    where = checks.groupby(["setup", "check"], sort=False).indices
    rows = []
    for envelope in prepared.envelopes:
        for name in _CHECKS:
            needed, mine = _needed(name, envelope, prepared.limits), where[envelope.setup, name.value]
            one = {column: values[mine].reshape(-1, 2) for column, values in table.items()}
            rows += [
                (envelope.setup, name.value, *_row(found, needed, prepared))
                for found in _by_cell(one, _UNITS.get(name, "°"), cells, prepared.scene.length_m)
            ]
    columns = zip(*rows, strict=True) if rows else ((),) * len(FITNESS.names)
    kinds = {column.name: column.kind.dtype for column in FITNESS.columns}
    data = {name: pd.Series(values, dtype=kind) for (name, kind), values in zip(kinds.items(), columns, strict=True)}
    return validate(pd.DataFrame(data), FITNESS)


def _row(found: _Found, needed: _Needed, prepared: Prepared) -> tuple[object, ...]:
    """Lay out what stands after set-up and check, in the order of the table."""
    support, why = _judge(found, needed, prepared)
    figures = (found.cell_m, found.length_m, needed.cell_m, found.sd, found.limit)
    return (*figures, found.unit, support.value, why)


def _cells(scene: Scene) -> Float64:
    """Give the coarsest cell of every segment; 0 for survey grade only, NaN without heights."""
    cells = np.array([float(f"{cell:.{_DIGITS}g}") for cell in scene.cell_m.tolist()])
    return np.where((scene.stations_basis < Basis.DEM) & (scene.apart_m == 0.0), np.nan, cells)


def _needed(name: CheckName, envelope: Envelope, limits: Limits) -> _Needed:
    """Give the coarsest cell that shows what a check looks at."""
    if name in _VIEW:
        share, length = limits.max_cell_of_wheelbase, envelope.wheelbase_m
        return _Needed(share * length, f"a wheelbase of {length:.2f} m")
    if name is CheckName.ROLL:
        track = 0.5 * (envelope.track_front_m + envelope.track_rear_m)
        return _Needed(track, f"a lean over a track of {track:.2f} m")
    if name is CheckName.PITCH_OVER:
        return _Needed(envelope.wheelbase_m, f"a pitch over a wheelbase of {envelope.wheelbase_m:.2f} m")
    return _Needed(limits.max_cell_slope_m, f"slopes over {limits.max_cell_slope_m:.1f} m")


def _by_cell(one: dict[str, Any], unit: str, cells: Float64, length_m: Float64) -> list[_Found]:
    """Put the rows of one check of one set-up together by cell; columns of shape (segments, 2)."""
    # What a wheel climbs on to stands in metres among the grades; the model has no part in it.
    alike = one["unit"] == unit
    sd, limit = (np.where(alike, one[name], np.nan) for name in ("demand_sd", "limit"))
    unknown = one["verdict"] == Verdict.UNSURVEYED.value
    carried = alike & ~unknown & ~(np.isnan(sd) & (one["verdict"] == Verdict.BARRED.value))
    found = []
    for cell in np.unique(cells[~np.isnan(cells)]):
        here = cells == cell
        weight = np.repeat(length_m[here], 2)
        typical, most = (_median(values[here].ravel(), weight) for values in (sd, limit))
        why = next(iter(one["reason"][here][unknown[here]].tolist()), "")
        lost = float((length_m[here] * unknown[here].mean(axis=1)).sum())
        known = bool(carried[here].any())
        found.append(_Found(float(cell), float(length_m[here].sum()), typical, most, unit, why, lost, known))
    return found


def _median(values: Float64, weight: Float64) -> float:
    """Give the weighted median of the known values; NaN when none is."""
    known = ~np.isnan(values)
    if not known.any():
        return float("nan")
    order = np.argsort(values[known], kind="stable")
    heap = np.cumsum(weight[known][order])
    return float(values[known][order][int(np.searchsorted(heap, 0.5 * heap[-1]))])


def _judge(found: _Found, needed: _Needed, prepared: Prepared) -> tuple[Support, str]:
    """Say whether the model carries a check, and why."""
    measured, steps = prepared.scene.site.measured, prepared.limits.thresholds
    if found.cell_m > needed.cell_m:
        return Support.CANNOT, f"{_cell_words(found.cell_m)} hides {needed.what}: at most {needed.cell_m:.2f} m"
    if found.cell_m > 0.0 and measured.dem_rmse_m is None:
        return Support.CANNOT, "the error of the elevation model was not given"
    if found.unknown and not found.carried:
        return Support.CANNOT, found.unknown
    shows = f"{_cell_words(found.cell_m)} show{'' if found.cell_m == 0.0 else 's'} {needed.what}"
    if found.unknown:
        shows += f", but not along {found.unknown_m:.0f} of {found.length_m:.0f} m"
    if np.isnan(found.sd) or np.isnan(found.limit):
        return Support.SUPPORTS, f"{shows}; nothing is asked of it here"
    figures = f"{shows}; {_spread(found)}"
    if measured.line_rmse_m is None and found.cell_m > 0.0:
        figures += ", the line's position taken as exact"
    share = steps.spot - steps.watch
    if found.sd > share * found.limit:
        return Support.DOUBTFUL, f"{figures}; more than {share * 100.0:.0f} % blurs the verdicts"
    return Support.SUPPORTS, figures


def _spread(found: _Found) -> str:
    """Write one standard deviation beside the limit; what is larger than the limit has no figure worth reading."""
    whole = _figure(found.limit, found.unit)
    if found.sd > found.limit:
        return f"one standard deviation is more than all of {whole}"
    return f"±{_figure(found.sd, found.unit)} of {whole}"


def _cell_words(cell: float) -> str:
    """Name a cell."""
    if np.isinf(cell):
        return "a cell of unknown size"
    return f"a {cell:.1f} m cell" if cell > 0.0 else "heights of survey grade"


def _figure(value: float, unit: str) -> str:
    """Write a value with its unit, as finely as the unit asks."""
    return f"{value:.1f}°" if unit == "°" else f"{value:.2f} {unit}"
