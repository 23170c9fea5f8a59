"""``loops.gpx``: every loop and every way round as a GPX 1.1 track for a handheld, the calls as waypoints.

One ``trk`` a loop and one ``trkseg`` a leg, in driving order, with heights
where they are known. No ``rte``: handhelds route those anew over roads they
know, which is not where the loop goes.

Source of the element order and of what may stand in a file: the GPX 1.1
schema, namespace http://www.topografix.com/GPX/1/1.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import gpxpy.gpx
import numpy as np
import shapely

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, Profiles, legs_along, legs_of, lon_lat, rows
from pipeline.products.loop_facts import legs_round, own_rows, proof, weather_of
from pipeline.products.plain import CAUTION, clean, metres, minutes, utilised

__all__ = ["gpx_text", "loop_title"]

STEP_M = 10.0
"""Track points are never farther apart than this, so that the height profile of a handheld follows the ground."""


def loop_title(loop: str, rank: int) -> str:
    """Name a loop for people: its own name, and which alternative it is."""
    return clean(loop) if rank == 1 else f"{clean(loop)}, alternative {rank - 1}"


def gpx_text(facts: Facts) -> str:
    """Write the loops and their calls as GPX 1.1."""
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "loopwright"
    gpx.name = clean(facts.site)
    gpx.description = CAUTION
    gpx.time = datetime.fromisoformat(facts.built_at)
    gpx.waypoints = _waypoints(facts)
    profiles = Profiles(facts.stations)
    for row in rows(facts.loops):
        track = gpxpy.gpx.GPXTrack(name=loop_title(row.loop, row.rank))
        track.comment = CAUTION
        track.description = (
            f"{row.objective}; {_laps(row.laps)}{metres(row.length_m)}, about {minutes(row.time_min)}; "
            f"worst utilisation {utilised(row.worst_utilisation)}; {proof(row).line}{_under(facts, row)}"
            + "".join(f"; {told}" for told in setup_warnings(facts, facts.loop_setups.get(row.loop, ())))
        )
        track.segments = [_segment(leg, facts) for leg in legs_of(facts, row.loop, row.rank, profiles)]
        gpx.tracks.append(track)
        gpx.tracks.extend(_bypasses(facts, row.loop, row.rank, profiles))
    return str(gpx.to_xml(version="1.1", prettyprint=True)) + "\n"


def _laps(laps: int) -> str:
    """Say how often a track is driven, where that is more than once."""
    return f"the track {laps} times over, together " if laps > 1 else ""


def _under(facts: Facts, row: Any) -> str:  # noqa: ANN401 — a row of LOOPS
    """Say which other weather a loop was searched under, where it was."""
    weather = weather_of(facts, row)
    return f"; searched under {weather}" if weather else ""


def _bypasses(facts: Facts, loop: str, rank: int, profiles: Profiles) -> Iterator[gpxpy.gpx.GPXTrack]:
    """Give every way round a track of its own, named after who drives it; none to those who wait."""
    for row in rows(own_rows(facts.bypasses, loop, rank)):
        if not row.way:
            continue
        track = gpxpy.gpx.GPXTrack(name=f"{loop_title(loop, rank)}, bypass {row.bypass}, {clean(row.setup)}")
        track.comment = CAUTION
        track.description = (
            f"{clean(row.setup)} only: leaves the loop at {metres(row.split_m)}, comes back at {metres(row.meet_m)}; "
            f"{metres(row.length_m)}, about {minutes(row.time_min)}; worst utilisation "
            f"{utilised(row.worst_utilisation)}; {clean(row.reason)}"
            + "".join(f"; {told}" for told in setup_warnings(facts, (row.setup,)))
        )
        track.segments = [_segment(leg, facts) for leg in legs_along(facts, legs_round(row.way), profiles)]
        yield track


def _segment(leg: Leg, facts: Facts) -> gpxpy.gpx.GPXTrackSegment:
    """One leg as a track segment; a point without a height has no ``ele``."""
    points = leg.points(STEP_M)
    degrees = np.round(lon_lat(points[:, :2], facts.crs), 7)
    heights = [None if np.isnan(z) else round(float(z), 2) for z in points[:, 2]]
    return gpxpy.gpx.GPXTrackSegment(
        [
            gpxpy.gpx.GPXTrackPoint(latitude=float(lat), longitude=float(lon), elevation=z)
            for (lon, lat), z in zip(degrees, heights, strict=True)
        ]
    )


def _waypoints(facts: Facts) -> list[gpxpy.gpx.GPXWaypoint]:
    """Every call as a waypoint, in the order of the table."""
    calls = facts.calls
    degrees = np.round(lon_lat(shapely.get_coordinates(calls.geometry.to_numpy()), facts.crs), 7)
    waypoints = []
    for row, (lon, lat) in zip(rows(calls), degrees, strict=True):
        spotter = " Spotter outside." if row.spotter else ""
        waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                latitude=float(lat),
                longitude=float(lon),
                name=f"{loop_title(row.loop, row.rank)} {row.call}",
                description=f"At {metres(row.at_m)}: {clean(row.coming)}. {_upper(clean(row.before))}.{spotter}",
            )
        )
    return waypoints


def _upper(words: str) -> str:
    """Begin a sentence with a capital letter."""
    return words[:1].upper() + words[1:]
