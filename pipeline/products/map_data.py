"""The data of the map page, as one JSON document that the page's script reads.

Lines are integer steps of 1e-6 degree, profiles integer steps of 1 cm and
0.1 degree, verdicts one digit a segment: a site of 75 segments stays well
under 2 MB, and 20,000 segments still open. Keys are written out once, values
stand in columns parallel to the segments.
"""

import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.products.facts import Facts
from pipeline.products.lines import Profiles, lon_lat
from pipeline.products.palette import PATTERNS, RAMP, WORDS
from pipeline.products.plain import FORMAT, clean, stamp, text
from pipeline.products.sheet_facts import conditions_text
from pipeline.terms import Basis, CheckName, Direction, Verdict

__all__ = ["LARGE", "map_data"]

LARGE = 2000
"""Above this many segments the page draws on a canvas, and carries no details of checks that are ample."""

PROFILE_STEP_M = 2.0
PROFILE_SAMPLES = 400_000
"""About this many profile samples go into a page; longer networks get a coarser profile."""
LINE_TOLERANCE_M = 0.2
"""Vertices that move a line on the page by less than this are left out."""

_WAYS = list(Direction)
_CHECKS = list(CheckName)
_VERDICTS = list(Verdict)
_BASES = [basis.word for basis in Basis]
_FIGURE = re.compile(r"(\d+(?:\.\d+)?)")

Matrix = NDArray[np.int64]


def map_data(facts: Facts) -> dict[str, Any]:
    """Gather everything the page shows; plain Python values only."""
    index = {segment_id: row for row, segment_id in enumerate(facts.segments["segment_id"])}
    setups = [envelope.setup for envelope in facts.envelopes]
    return {
        "format": FORMAT,
        "site": clean(facts.site),
        "built": stamp(facts.built_at),
        "conditions": conditions_text(facts),
        "large": len(facts.segments) > LARGE,
        "ramp": list(RAMP),
        "verdicts": [_verdict_entry(verdict) for verdict in _VERDICTS],
        "checks": [check.value.replace("_", " ") for check in _CHECKS],
        "ways": [way.value for way in _WAYS],
        "bases": _BASES,
        "setups": [_setup(envelope) for envelope in facts.envelopes],
        "segments": _segments(facts),
        "judged": _judged(facts.verdicts, index, setups),
        "by_check": _by_check(facts.checks, index, setups),
        "details": _details(facts, index, setups),
        "loops": list(_loops(facts, index)),
        "missing": [{"loop": clean(loop), "why": clean(why)} for loop, found, why in facts.loop_notes if not found],
        "places": _places(facts),
    }


def _verdict_entry(verdict: Verdict) -> dict[str, Any]:
    pattern = PATTERNS[verdict]
    return {
        "word": verdict.value,
        "means": WORDS[verdict],
        "pattern": pattern.words,
        "width": pattern.width,
        "dash": list(pattern.dash),
    }


def _setup(envelope: Any) -> dict[str, Any]:  # noqa: ANN401 — an Envelope; named so to keep numpy's arrays out of the page
    return {
        "name": clean(envelope.setup),
        "vehicle": clean(envelope.vehicle),
        "driver": envelope.driver.value,
        "warnings": [clean(warning) for warning in envelope.warnings],
    }


def _segments(facts: Facts) -> dict[str, Any]:
    """Columns parallel to the segments: texts, figures in tenths, lines and profiles in steps."""
    segments = facts.segments
    step = max(PROFILE_STEP_M, float(segments["length_m"].sum()) / PROFILE_SAMPLES)
    profiles = Profiles(facts.stations)
    return {
        "id": [clean(value) for value in segments["segment_id"]],
        "name": [text(value) for value in segments["name"]],
        "surface": [text(value) for value in segments["surface"]],
        "status": list(segments["status"]),
        "surveyed": [text(value) for value in segments["surveyed_on"]],
        "length": _tenths(segments["length_m"]),
        "rise": _tenths(segments["rise_m"]),
        "fall": _tenths(segments["fall_m"]),
        "steepest": _tenths(segments["grade_max_deg"]),
        "lowest": _tenths(segments["grade_min_deg"]),
        "side": _tenths(segments["side_slope_max_deg"]),
        "width": _tenths(segments["width_m"]),
        "coverage": [round(100 * share) for share in segments["height_coverage"]],
        "line": _lines(facts),
        "profile": [_profile(profiles, segment_id, step) for segment_id in segments["segment_id"]],
    }


def _tenths(values: pd.Series) -> list[int | None]:
    """Whole tenths; ``None`` where there is no finite value."""
    return _whole(values.to_numpy(dtype=np.float64) * 10)


def _whole(values: NDArray[np.float64]) -> list[int | None]:
    return [round(value) if np.isfinite(value) else None for value in values.tolist()]


def _lines(facts: Facts) -> list[list[int]]:
    """Longitude and latitude in 1e-6 degree: the first point, then the steps, in turn."""
    lines = shapely.simplify(shapely.force_2d(facts.segments.geometry.to_numpy()), LINE_TOLERANCE_M)
    degrees = lon_lat(shapely.get_coordinates(lines), facts.crs)
    whole = np.round(degrees * 1e6).astype(np.int64)
    cuts = np.cumsum(shapely.get_num_coordinates(lines))[:-1]
    return [
        np.diff(part, axis=0, prepend=np.zeros((1, 2), np.int64)).ravel().tolist() for part in np.split(whole, cuts)
    ]


def _profile(profiles: Profiles, segment_id: str, step_m: float) -> dict[str, Any]:
    """Station step in mm, then height (cm), grade and side slope (0.1°) as first value and steps."""
    thin = profiles[segment_id].thinned(step_m)
    step = float(thin.chainage_m[1] - thin.chainage_m[0]) if len(thin.chainage_m) > 1 else 0.0
    columns = {"z": thin.z_m * 100, "g": thin.grade_deg * 10, "s": thin.side_slope_deg * 10}
    return {"d": round(step * 1000), **{key: _steps(values) for key, values in columns.items()}}


def _steps(values: NDArray[np.float64]) -> list[int | None]:
    """First known value, then the step from the last known one; ``None`` where a value is not known."""
    known = np.isfinite(values)
    steps = np.diff(np.round(values[known]).astype(np.int64), prepend=0).tolist()
    if known.all():
        return list(steps)
    rest = iter(steps)
    return [next(rest) if there else None for there in known.tolist()]


def _judged(verdicts: pd.DataFrame, index: dict[str, int], setups: Sequence[str]) -> list[dict[str, Any]]:
    """For every set-up and direction: verdict digits, utilisation in per cent, deciding check and its chainage."""
    key = _key(verdicts, setups)
    row = verdicts["segment_id"].map(index).to_numpy()
    shape = (len(setups) * len(_WAYS), len(index))
    verdict, share = _tables(verdicts, key, row, shape)
    check, at = np.full(shape, -1), np.full(shape, -1)
    check[key, row] = _codes(verdicts["check"], [name.value for name in _CHECKS])
    at[key, row] = _percent(verdicts["at_m"] / 10)
    return [
        {"v": _digits(verdict[way]), "u": share[way].tolist(), "c": check[way].tolist(), "at": at[way].tolist()}
        for way in range(shape[0])
    ]


def _by_check(checks: pd.DataFrame, index: dict[str, int], setups: Sequence[str]) -> list[dict[str, Any]]:
    """For every set-up, direction and check: verdict digits and utilisation in per cent."""
    key = _key(checks, setups) * len(_CHECKS) + _codes(checks["check"], [name.value for name in _CHECKS])
    shape = (len(setups) * len(_WAYS) * len(_CHECKS), len(index))
    verdict, share = _tables(checks, key, checks["segment_id"].map(index).to_numpy(), shape)
    return [{"v": _digits(verdict[way]), "u": share[way].tolist()} for way in range(shape[0])]


def _key(frame: pd.DataFrame, setups: Sequence[str]) -> Matrix:
    """Number of a set-up and direction: 2 × set-up + (0 with, 1 against)."""
    return len(_WAYS) * _codes(frame["setup"], setups) + _codes(frame["direction"], [way.value for way in _WAYS])


def _codes(values: pd.Series, vocabulary: Sequence[str]) -> Matrix:
    return values.map({word: code for code, word in enumerate(vocabulary)}).to_numpy(dtype=np.int64)


def _tables(frame: pd.DataFrame, key: Matrix, row: Matrix, shape: tuple[int, int]) -> tuple[Matrix, Matrix]:
    """Verdict codes (9 where there is none) and utilisation in per cent (−1 where unknown), by key and segment."""
    verdict, share = np.full(shape, 9), np.full(shape, -1)
    verdict[key, row] = _codes(frame["verdict"], [word.value for word in _VERDICTS])
    share[key, row] = _percent(frame["utilisation"])
    return verdict, share


def _percent(values: pd.Series) -> Matrix:
    """Whole hundredths, rounded up so that an overrun never reads as 1.00; −1 where unknown, 9999 at most."""
    return np.nan_to_num(np.clip(np.ceil(values.to_numpy(dtype=np.float64) * 100 - 1e-6), 0, 9999), nan=-1).astype(
        np.int64
    )


def _digits(codes: Matrix) -> str:
    return (codes + ord("0")).astype(np.uint8).tobytes().decode("ascii")


def _details(facts: Facts, index: dict[str, int], setups: Sequence[str]) -> dict[str, Any]:
    """Rows of the checks, by segment; in large networks only those that are not ample.

    A row is: set-up and direction, check, demand, limit, unit, basis, chainage in 0.1 m, reason, its figures.
    """
    checks = facts.checks
    if len(facts.segments) > LARGE:
        checks = checks[checks["verdict"] != Verdict.AMPLE.value]
    units, reasons = _Words(), _Words()
    rows: list[list[list[Any]]] = [[] for _ in index]
    columns = (
        checks["segment_id"].map(index).tolist(),
        _key(checks, setups).tolist(),
        _codes(checks["check"], [name.value for name in _CHECKS]).tolist(),
        _short(checks["demand"]),
        _short(checks["limit"]),
        checks["unit"].tolist(),
        _codes(checks["basis"], _BASES).tolist(),
        _tenths(checks["at_m"]),
        checks["reason"].tolist(),
    )
    for segment, key, check, demand, limit, unit, basis, at, reason in zip(*columns, strict=True):
        pieces = _FIGURE.split(clean(reason))
        saying = reasons.number(tuple(pieces[::2]))
        rows[segment].append([key, check, demand, limit, units.number(unit), basis, at, saying, " ".join(pieces[1::2])])
    return {"rows": rows, "units": units.words, "reasons": reasons.words, "complete": len(checks) == len(facts.checks)}


class _Words:
    """Numbers words in the order they are first met."""

    def __init__(self) -> None:
        self._numbers: dict[Any, int] = {}

    def number(self, word: Any) -> int:  # noqa: ANN401 — any hashable
        """Give the number of *word*."""
        return self._numbers.setdefault(word, len(self._numbers))

    @property
    def words(self) -> list[Any]:
        """The words, by number."""
        return list(self._numbers)


def _short(values: pd.Series) -> list[float | None]:
    """Four significant figures; ``None`` where there is no finite value."""
    return [float(f"{value:.4g}") if np.isfinite(value) else None for value in values.tolist()]


def _loops(facts: Facts, index: dict[str, int]) -> Iterable[dict[str, Any]]:
    """Every loop with its figures, its legs (segment, 0 with | 1 against) and its calls."""
    for row in facts.loops.itertuples():
        own = (facts.legs["loop"] == row.loop) & (facts.legs["rank"] == row.rank)
        legs = facts.legs[own].sort_values("seq")
        yield {
            "loop": clean(row.loop),
            "rank": int(row.rank),
            "objective": row.objective,
            "length": round(row.length_m),
            "time": round(row.time_min),
            "worst": round(row.worst_utilisation, 3),
            "gap": round(row.gap, 4) if np.isfinite(row.gap) else None,
            "proven": bool(row.proven),
            "setups": [clean(setup) for setup in facts.loop_setups.get(row.loop, ())],
            "legs": [[index[leg.segment_id], _WAYS.index(Direction(leg.direction))] for leg in legs.itertuples()],
            "calls": _calls(facts, row.loop, row.rank),
        }


def _calls(facts: Facts, loop: str, rank: int) -> list[dict[str, Any]]:
    calls = facts.calls[(facts.calls["loop"] == loop) & (facts.calls["rank"] == rank)]
    degrees = np.round(lon_lat(shapely.get_coordinates(calls.geometry.to_numpy()), facts.crs), 6).tolist()
    return [
        {
            "n": int(row.call),
            "at": round(row.at_m),
            "coming": clean(row.coming),
            "before": clean(row.before),
            "spotter": bool(row.spotter),
            "lonlat": place,
        }
        for row, place in zip(calls.itertuples(), degrees, strict=True)
    ]


def _places(facts: Facts) -> list[dict[str, Any]]:
    """Obstacles and named places, with what is known of their size."""
    obstacles = facts.obstacles
    degrees = np.round(lon_lat(shapely.get_coordinates(obstacles.geometry.to_numpy()), facts.crs), 6).tolist()
    sizes = ("height_m", "length_m", "width_m", "clear_width_m", "clear_height_m", "depth_m", "flow_m_s")
    return [
        {
            "kind": row.kind,
            "name": text(row.name),
            "note": text(row.note),
            "segment": text(row.segment_id),
            "size": {name: round(value, 2) for name in sizes if np.isfinite(value := getattr(row, name))},
            "lonlat": place,
        }
        for row, place in zip(obstacles.itertuples(), degrees, strict=True)
    ]
