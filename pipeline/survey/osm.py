"""Reads ways from OpenStreetMap XML and PBF extracts.

GDAL's OSM driver reads them, steered by a configuration of our own: all tags
of a way as JSON (the driver's usual configuration hides some and joins others
in one text). Only ways with a ``highway`` tag are trail.

Ways whose nodes are missing from the extract (cut at its edge) are shortened
by the driver without a word; :mod:`pipeline.survey.osm_scan` finds them and
each becomes a repair.
"""

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pyogrio.raw
import shapely
from pyproj import CRS

from pipeline.errors import Fault
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.layer import Layer, Shapes, plain_key
from pipeline.survey.model import Source
from pipeline.survey.ogr import READ_ERRORS, unreadable
from pipeline.survey.osm_scan import OsmDamagedError, missing_nodes

__all__ = ["read_osm"]

_CONFIGURATION = """\
[general]
closed_ways_are_polygons=
attribute_name_laundering=no
tags_format=json
[points]
osm_id=yes
[lines]
osm_id=yes
attributes=
ignore=
all_tags=yes
[multipolygons]
osm_id=yes
[multilinestrings]
osm_id=yes
[other_relations]
osm_id=yes
"""
_WGS84 = CRS.from_epsg(4326)


def read_osm(source: Source, findings: Findings) -> Layer | None:
    """Read the ways with a ``highway`` tag of one extract.

    Parameters
    ----------
    source
        An ``.osm`` or ``.osm.pbf`` file; a layer name is a fault.
    findings
        Collects faults and repairs; the layer is ``None`` when the file cannot be read.
    """
    if source.layer is not None:
        findings.faults.append(Fault(source.name, "", "an OpenStreetMap extract has no layers", "the file name alone"))
        return None
    try:
        ids, tags, shapes = _read_ways(source.path)
        gaps = missing_nodes(source.path)
    except (*READ_ERRORS, OsmDamagedError) as fault:
        findings.faults.append(unreadable(source, fault))
        return None
    trail = np.array([_is_trail(row) for row in tags], dtype=bool)
    kept = np.flatnonzero(trail)
    layer = Layer(
        source=source.name,
        path=source.path,
        shapes=shapes[kept],
        crs=_WGS84,
        features=[f"way {ids[row]}" for row in kept],
        tags=[{"osm_id": str(ids[row]), **{plain_key(k): v for k, v in tags[row].items()}} for row in kept],
    )
    _record_gaps(layer, gaps, findings)
    return layer


def _read_ways(path: Path) -> tuple[np.ndarray, list[Mapping[str, str]], Shapes]:
    """Read ids, tags and shapes of all tagged ways."""
    with tempfile.TemporaryDirectory(prefix="loopwright-osm-") as folder:
        configuration = Path(folder) / "osmconf.ini"
        configuration.write_text(_CONFIGURATION, encoding="utf-8")
        _, _, blobs, (ids, tags) = pyogrio.raw.read(
            path, layer="lines", columns=["osm_id", "all_tags"], CONFIG_FILE=str(configuration)
        )
    shapes = np.asarray(shapely.from_wkb(blobs, on_invalid="ignore"), dtype=object)
    return ids, [json.loads(text) if text else {} for text in tags], shapes


def _is_trail(tags: Mapping[str, str]) -> bool:
    """Tell whether a way is a line to travel along, not the outline of an area."""
    return "highway" in tags and tags.get("area", "no") != "yes"


def _record_gaps(layer: Layer, gaps: Mapping[int, int], findings: Findings) -> None:
    """Record each way that lost nodes at the edge of the extract."""
    for feature, tags in zip(layer.features, layer.tags, strict=True):
        count = gaps.get(int(str(tags["osm_id"])), 0)
        if count:
            detail = f"{feature}: {count} of its nodes are not in the extract; drawn without them"
            findings.repairs.append(Repair("shortened", layer.source, feature, detail))
