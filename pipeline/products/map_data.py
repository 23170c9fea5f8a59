"""The data of the map page, as one JSON document that the page's script reads.

Lines are integer steps of 1e-6 degree, profiles integer steps of 1 cm and
0.1 degree, verdicts one digit a segment: a site of 75 segments stays well
under 2 MB, and 20,000 segments still open. Keys are written out once, values
stand in columns parallel to the segments.
"""

from typing import Any

import numpy as np
import shapely

from pipeline.products.facts import Facts
from pipeline.products.lines import Profiles, lon_lat, rows
from pipeline.products.map_codes import (
    BASES,
    BASIS_WORDS,
    CHECKS,
    LARGE,
    WAYS,
    by_check,
    details,
    judged,
    steps,
    whole,
)
from pipeline.products.map_lines import outline, plans
from pipeline.products.map_loops import loops
from pipeline.products.map_notes import passings, stopping
from pipeline.products.map_outlooks import outlooks
from pipeline.products.map_poses import body, poses
from pipeline.products.map_water import crossings
from pipeline.products.palette import PATTERNS, RAMP, WORDS
from pipeline.products.plain import FORMAT, clean, stamp, text
from pipeline.products.sheet_facts import conditions_text
from pipeline.terms import Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["map_data"]

PROFILE_STEP_M = 2.0
PROFILE_SAMPLES = 400_000
"""About this many profile samples go into a page; longer networks get a coarser profile."""
LINE_TOLERANCE_M = 0.2
"""Vertices that move a line on the page by less than this are left out."""


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
        "verdicts": [_verdict_entry(verdict) for verdict in Verdict],
        "checks": [check.replace("_", " ") for check in CHECKS],
        "ways": WAYS,
        "bases": [BASIS_WORDS.get(word, word) for word in BASES],
        "setups": [_setup(envelope) for envelope in facts.envelopes],
        "segments": _segments(facts),
        "judged": judged(facts.verdicts, index, setups),
        "by_check": by_check(facts.checks, index, setups),
        "details": details(facts, index, setups),
        "poses": poses(facts, index),
        "plans": plans(facts, index),
        "crossings": crossings(facts, index),
        "passings": passings(facts, index, setups),
        "stopping": stopping(facts, index, setups),
        "loops": loops(facts, index),
        "missing": [{"loop": clean(loop), "why": clean(why)} for loop, found, why in facts.loop_notes if not found],
        "outlooks": {"day": f"ground {clean(facts.conditions.wetness)}", **outlooks(facts, index, setups)},
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


def _setup(envelope: Envelope) -> dict[str, Any]:
    return {
        "name": clean(envelope.setup),
        "vehicle": clean(envelope.vehicle),
        "driver": envelope.driver.value,
        "body": body(envelope),
        "plan": outline(envelope),
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
        "length": whole(10 * segments["length_m"]),
        "rise": whole(10 * segments["rise_m"]),
        "fall": whole(10 * segments["fall_m"]),
        "steepest": whole(10 * segments["grade_max_deg"]),
        "lowest": whole(10 * segments["grade_min_deg"]),
        "side": whole(10 * segments["side_slope_max_deg"]),
        "width": whole(10 * segments["width_m"]),
        "coverage": [round(100 * share) for share in segments["height_coverage"]],
        "line": _lines(facts),
        "profile": [_profile(profiles, segment_id, step) for segment_id in segments["segment_id"]],
    }


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
    return {"d": round(step * 1000), **{key: steps(values) for key, values in columns.items()}}


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
        for row, place in zip(rows(obstacles), degrees, strict=True)
    ]
