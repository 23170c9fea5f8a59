"""Techniques that the shape of the ground and of the trail exercise: slopes, brows, dips, twists and turns."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.technique.runs import Course, Floats, Runs, course_of, find_runs, peak, window
from pipeline.technique.settings import Bend, Slope, Techniques, Turn
from pipeline.terms import Direction, Technique
from pipeline.terrain.model import Stations, Terrain

__all__ = ["DETAILS", "grade_change", "intensity", "stretches", "twist"]

DETAILS = (
    "row",
    "direction",
    "technique",
    "from_m",
    "to_m",
    "intensity",
    "amount",
    "size",
    "side",
    "key",
    "name",
    "thing",
)
"""Columns of what is found: row of the segment, the columns of TECHNIQUES, then what a call needs to know: size
(degrees or metres; missing when not known), side (+1 right, −1 left of the direction of travel, 0 neither; the side
that the ground rises on or the trail turns to; of a step +1 up, −1 down), key of the advice, name and ``obstacle_id``
of the thing."""

_BOTH = (Direction.WITH, Direction.AGAINST)
_TRACK_M = 1.6
"""Track of a mid-size vehicle."""


class _Found(NamedTuple):
    """Stretches of one technique in one direction."""

    technique: Technique
    direction: Direction
    runs: Runs
    size: Floats
    intensity: Floats
    single: bool
    """One thing, whatever its length."""
    side: int


def intensity(size: Floats, from_size: float | Floats, full_size: float | Floats) -> Floats:
    """Give how demanding a size is: 0 at *from_size*, 1 at *full_size* and beyond; either may be the larger."""
    share: Floats = np.clip((size - from_size) / (full_size - from_size), 0.0, 1.0)
    return share


def grade_change(stations: Stations, course: Course, window_m: float) -> Floats:
    """Give the change of the grade's angle across a window round every station, degrees.

    Parameters
    ----------
    stations
        Grades of the with direction.
    course
        Where the stations lie.
    window_m
        Length of the window.

    Returns
    -------
    Floats
        Positive in a dip, negative on a brow, the same in both directions of travel; NaN without height.
    """
    behind, ahead = window(course, window_m)
    angle = np.degrees(np.arctan(stations.grade.astype(np.float64)))
    return np.asarray(angle[ahead] - angle[behind], dtype=np.float64)


def twist(stations: Stations, course: Course, window_m: float) -> Floats:
    """Give how much the ground twists between two axles round every station, degrees, unsigned.

    The cross slope at the front axle less that at the rear one, less what turning alone makes of it: on a plane the
    cross slope changes with the heading, yet no wheel lifts.

    Parameters
    ----------
    stations
        Grades, cross slopes and bearings.
    course
        Where the stations lie.
    window_m
        Distance of the axles.

    Notes
    -----
    With the gradient g·t + c·n at the station and the heading turned left by δ, the cross slope of the tangent plane
    is c·cos δ + g·sin δ (derived); the remainder times the track is the height that one wheel must give. The slope at
    a point is rougher than that from wheel to wheel, so the remainder is averaged over about a track of trail.
    """
    behind, ahead = window(course, window_m)
    grade, cross = stations.grade.astype(np.float64), stations.cross.astype(np.float64)
    bearing = stations.bearing_rad.astype(np.float64)

    def beyond_plane(other: NDArray[np.int64]) -> Floats:
        left = bearing - bearing[other]
        return np.asarray(cross[other] - cross * np.cos(left) - grade * np.sin(left), dtype=np.float64)

    signed = _averaged(beyond_plane(ahead) - beyond_plane(behind), course, _TRACK_M)
    return np.asarray(np.degrees(np.arctan(np.abs(signed))), dtype=np.float64)


def _averaged(values: Floats, course: Course, length_m: float) -> Floats:
    """Average *values* over *length_m* of trail round every station; NaN where one of them is missing."""
    first, last = window(course, length_m)
    total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(values))])
    missing = np.concatenate([[0], np.cumsum(np.isnan(values))])
    mean = (total[last + 1] - total[first]) / (last + 1 - first)
    return np.asarray(np.where(missing[last + 1] > missing[first], np.nan, mean), dtype=np.float64)


def stretches(terrain: Terrain, settings: Techniques) -> pd.DataFrame:
    """Find the stretches of every segment and direction that exercise a technique.

    Parameters
    ----------
    terrain
        Stations of the network.
    settings
        Thresholds.

    Returns
    -------
    pd.DataFrame
        Columns :data:`DETAILS`. Stretches without heights are not found: nothing is known there.
    """
    course = course_of(terrain.stations)
    frames = [_frame(found, course) for found in _everything(terrain.stations, course, settings)]
    return pd.concat(frames, ignore_index=True)


def _everything(stations: Stations, course: Course, settings: Techniques) -> Iterator[_Found]:
    """Yield the stretches of each technique and direction."""
    grade = np.degrees(np.arctan(stations.grade.astype(np.float64)))
    cross = np.degrees(np.arctan(stations.cross.astype(np.float64)))
    for direction in _BOTH:
        up = direction.sign * grade
        yield _sloping(Technique.CLIMB, direction, up, course, settings.climb)
        yield _sloping(Technique.DESCENT, direction, -up, course, settings.descent)
    for rising in (1, -1):
        found = _sloping(Technique.SIDE_SLOPE, Direction.WITH, rising * cross, course, settings.side_slope)
        yield from (found._replace(direction=way, side=way.sign * rising) for way in _BOTH)
        turn = _turning(-rising * stations.curvature.astype(np.float64), course, settings.tight_turn)
        yield from (turn._replace(direction=way, side=way.sign * rising) for way in _BOTH)
    change = grade_change(stations, course, settings.crest.window_m)
    yield from _bending(Technique.CREST, -change, course, settings.crest)
    change = grade_change(stations, course, settings.dip.window_m)
    yield from _bending(Technique.DIP, change, course, settings.dip)
    yield from _bending(
        Technique.CROSS_AXLE, twist(stations, course, settings.cross_axle.window_m), course, settings.cross_axle
    )


def _sloping(technique: Technique, direction: Direction, angle: Floats, course: Course, rule: Slope) -> _Found:
    """Find where an angle, degrees, reaches the rule's threshold."""
    runs = find_runs(angle >= rule.from_deg, course, rule.join_m, rule.min_length_m)
    size = peak(angle, runs)
    return _Found(technique, direction, runs, size, intensity(size, rule.from_deg, rule.full_deg), single=False, side=0)


def _bending(technique: Technique, change: Floats, course: Course, rule: Bend) -> Iterator[_Found]:
    """Find where a change of angle, degrees, reaches the rule's threshold; the same in both directions."""
    found = _sloping(technique, Direction.WITH, change, course, rule)
    yield from (found._replace(direction=way, single=True) for way in _BOTH)


def _turning(curvature: Floats, course: Course, rule: Turn) -> _Found:
    """Find where a curvature, 1/m, is at least that of the rule's radius."""
    runs = find_runs(curvature >= 1.0 / rule.from_m, course, rule.join_m, rule.min_length_m)
    radius = 1.0 / peak(curvature, runs)
    hard = intensity(radius, rule.from_m, rule.full_m)
    return _Found(Technique.TIGHT_TURN, Direction.WITH, runs, radius, hard, single=True, side=0)


def _frame(found: _Found, course: Course) -> pd.DataFrame:
    """Lay out what was found as rows."""
    from_m, to_m = course.chainage_m[found.runs.start], course.chainage_m[found.runs.stop]
    count = len(from_m)
    values = {
        "row": course.row[found.runs.start],
        "direction": pd.Series([found.direction.value] * count, dtype="str"),
        "technique": pd.Series([found.technique.value] * count, dtype="str"),
        "from_m": from_m,
        "to_m": to_m,
        "intensity": found.intensity,
        "amount": np.ones(count) if found.single else to_m - from_m,
        "size": found.size,
        "side": np.full(count, found.side, dtype=np.int64),
        "key": pd.Series([found.technique.value] * count, dtype="str"),
        "name": pd.Series([None] * count, dtype="str"),
        "thing": pd.Series([None] * count, dtype="str"),
    }
    return pd.DataFrame(values, columns=list(DETAILS))
