"""Reads the tracks of GPX files.

Each track segment with at least two points becomes one line in WGS 84. The
heights of a handheld are not survey grade and are left out. The file is
looked through by the bare XML parser first: size, long texts and document
type declarations (which can blow up in memory) are refused before gpxpy
builds anything from it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from xml.parsers import expat

import gpxpy
import gpxpy.gpx
import numpy as np
import shapely
from pyproj import CRS

from pipeline.errors import Fault
from pipeline.survey.findings import Findings
from pipeline.survey.layer import Layer
from pipeline.survey.model import Source

__all__ = ["FILE_CAP_BYTES", "TEXT_CAP", "read_gpx"]

FILE_CAP_BYTES = 64 * 1024 * 1024
"""Largest GPX file that is read; about 500,000 track points."""
TEXT_CAP = 10_000
"""Longest text of one element, characters."""
_WGS84 = CRS.from_epsg(4326)


class _RefusedError(ValueError):
    """Something in the file that is not read on purpose."""


@dataclass(slots=True)
class _Watch:
    """Looks over the texts of a file as they are parsed."""

    length: int = 0

    def start(self, *_: object) -> None:
        self.length = 0

    def characters(self, text: str) -> None:
        self.length += len(text)
        if self.length > TEXT_CAP:
            raise _RefusedError(f"a text longer than {TEXT_CAP} characters")

    def doctype(self, *_: object) -> None:
        raise _RefusedError("a document type declaration, which a track needs none of")


def read_gpx(source: Source, findings: Findings) -> Layer | None:
    """Read all track segments of a GPX file.

    Parameters
    ----------
    source
        The file; a layer name is a fault.
    findings
        Collects the faults; the layer is ``None`` when there is one.
    """
    fault = _look_over(source)
    if fault is not None:
        findings.faults.append(fault)
        return None
    try:
        gpx = gpxpy.parse(source.path.read_bytes())
    except (gpxpy.gpx.GPXException, ValueError) as error:
        findings.faults.append(Fault(source.name, "", f"cannot be read as GPX: {error}", "GPX 1.0 or 1.1"))
        return None
    rows = list(_segments(gpx))
    if not rows:
        findings.faults.append(
            Fault(
                source.name,
                "",
                f"no tracks ({len(gpx.waypoints)} waypoints, {len(gpx.routes)} routes)",
                "a track as it was driven or walked",
                "export the track, not the route",
            )
        )
        return None
    shapes = np.empty(len(rows), dtype=object)
    shapes[:] = [shape for _, _, shape in rows]
    return Layer(
        source=source.name,
        path=source.path,
        shapes=shapes,
        crs=_WGS84,
        features=[feature for feature, _, _ in rows],
        tags=[{"name": name} for _, name, _ in rows],
    )


def _look_over(source: Source) -> Fault | None:
    """Refuse what is too large, damaged or dangerous, before anything is built from it."""
    if source.layer is not None:
        return Fault(source.name, "", "a GPX file is read by its tracks", "the file name alone")
    size = source.path.stat().st_size
    if size > FILE_CAP_BYTES:
        found = f"{size / 2**20:.0f} MiB"
        return Fault(source.name, "", found, f"at most {FILE_CAP_BYTES // 2**20} MiB", "split the file")
    watch = _Watch()
    parser = expat.ParserCreate()
    parser.StartElementHandler = watch.start
    parser.CharacterDataHandler = watch.characters
    parser.StartDoctypeDeclHandler = watch.doctype
    try:
        parser.Parse(source.path.read_bytes(), True)
    except expat.ExpatError as error:
        found = f"damaged: {expat.ErrorString(error.code)}"
        return Fault(
            source.name, f"line {error.lineno}, column {error.offset + 1}", found, "well-formed XML", "export it again"
        )
    except _RefusedError as error:
        place = f"line {parser.CurrentLineNumber}, column {parser.CurrentColumnNumber + 1}"
        return Fault(source.name, place, f"refused: {error}")
    return None


def _segments(gpx: gpxpy.gpx.GPX) -> Iterator[tuple[str, str | None, shapely.Geometry]]:
    """Yield each track segment: feature, name of its track, and its shape (a point when it has only one)."""
    for number, track in enumerate(gpx.tracks, start=1):
        for part, segment in enumerate(track.segments, start=1):
            points = [(point.longitude, point.latitude) for point in segment.points]
            if len(points) > 1:
                with np.errstate(invalid="ignore"):  # positions that are no numbers are reported with their feature
                    shape: shapely.Geometry = shapely.LineString(points)
            else:
                shape = shapely.Point(points[0]) if points else shapely.LineString()
            yield f"track {number} segment {part}", track.name, shape
