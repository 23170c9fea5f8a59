"""Tiny survey files for the tests, written where each test says."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from pipeline.survey.findings import Findings
from pipeline.survey.layer import Layer
from pipeline.survey.lines import Line
from pipeline.survey.model import Network, Source, SurveyInputs, SurveyParameters
from pipeline.survey.network import read_survey

UTM = "EPSG:32632"
X, Y = 500_000.0, 5_400_000.0
"""South-west corner of the tiny networks."""
CORNER = np.array([X, Y])

ROW: dict[str, Any] = {
    "name": None, "surveyed_on": None, "surface": None, "tracktype": None, "smoothness": None, "width_m": None,
    "max_width_m": None, "max_height_m": None, "incline_pct": None, "oneway": 0, "ford": False, "depth_m": None,
    "bridge": False, "tunnel": False, "profile": None, "layer": 0, "status": "open",
}  # fmt: skip
"""What a trail without any attribute reads as."""


def at(*points: Sequence[float]) -> shapely.LineString:
    """Draw a line through points counted from the south-west corner."""
    return shapely.LineString([(X + point[0], Y + point[1], *point[2:]) for point in points])


def spot(x: float, y: float) -> shapely.Point:
    """Give the point (x, y) counted from the south-west corner."""
    return shapely.Point(X + x, Y + y)


def line(shape: shapely.LineString, own_id: str | None = None, source: str = "trails.gpkg", **row: object) -> Line:
    """Make a clean survey line."""
    return Line(shape, {**ROW, **row}, source, f"feature {own_id}", own_id)


def objects(shapes: Sequence[Any]) -> np.ndarray:
    """Put geometries into an object array."""
    array = np.empty(len(shapes), dtype=object)
    array[:] = shapes
    return array


def layer(
    shapes: Sequence[Any], tags: Sequence[Mapping[str, object]] | None = None, crs: str = UTM, source: str = "t.gpkg"
) -> Layer:
    """Make a layer as it would have been read."""
    return Layer(
        source=source,
        path=Path(source),
        shapes=objects(shapes),
        crs=gpd.GeoSeries([], crs=crs).crs,
        features=[f"feature {number + 1}" for number in range(len(shapes))],
        tags=tags or [{} for _ in shapes],
    )


def write(
    path: Path, shapes: Sequence[Any], crs: str | None = UTM, layer: str | None = None, **columns: Sequence[object]
) -> Source:
    """Write a survey file with one column a keyword, and give it as a source."""
    frame = gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs)
    frame.to_file(path, **({"layer": layer} if layer else {}))
    return Source(path)


def survey(
    network: Sequence[Source],
    obstacles: Sequence[Source] = (),
    trailhead: str | tuple[float, float] = (X, Y),
    **parameters: float | str | None,
) -> Network:
    """Read a survey with the usual parameters."""
    return read_survey(SurveyInputs(tuple(network), tuple(obstacles), trailhead), SurveyParameters(**parameters))


def found(findings: Findings) -> str:
    """Give all faults as one text."""
    return "\n".join(str(fault) for fault in (*findings.missing, *findings.faults))


def repaired(findings: Findings) -> list[str]:
    """List what was done, in order."""
    return [repair.repair for repair in findings.repairs]
