"""Chooses the working CRS and brings every layer into it.

Source of the zone rule: Universal Transverse Mercator as pyproj's CRS
database knows it (EPSG areas of use).
"""

import math
import warnings
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from pipeline.errors import Fault
from pipeline.survey.findings import SITE_SETTINGS, Findings, Repair
from pipeline.survey.layer import Layer, Shapes

__all__ = ["bounds_of", "is_metric", "to_working", "working_crs"]

_WGS84 = CRS.from_epsg(4326)
_METRIC = "a projected CRS with metres, as EPSG:25832"
_FARTHEST = 1e8
"""No map has coordinates beyond this, whether in metres or in feet: half-way round the equator is 6.6e7 feet."""
_ALWAYS_DEGREES = frozenset({".gpx", ".osm", ".pbf"})
"""Endings of files that know no other CRS than WGS 84."""
_TRUE_SCALE = 0.01
"""Lengths in the working CRS may be off by this share; grades are then off by as much. Judgement: below what a survey
can tell. A UTM zone is right to 0.1 % (0.4 % at its middle meridian's scale), the web's Mercator is 48 % off at 47°."""


def is_metric(crs: CRS) -> bool:
    """Tell whether *crs* is projected with both plane axes in metres."""
    return bool(crs.is_projected) and all(axis.unit_conversion_factor == 1.0 for axis in crs.axis_info[:2])


def _plane(crs: CRS) -> CRS:
    """Take the horizontal part of a compound CRS."""
    return CRS(crs.sub_crs_list[0]) if crs.is_compound else crs


def bounds_of(shapes: Shapes) -> NDArray[np.float64] | None:
    """Find the bounds of *shapes* (west, south, east, north); ``None`` when none has any."""
    if not len(shapes):
        return None
    bounds = np.asarray(shapely.total_bounds(shapes), dtype=np.float64)
    return bounds if bool(np.isfinite(bounds).all()) else None


def check_coordinates(layer: Layer, findings: Findings) -> bool:
    """Report coordinates that are no numbers, or are out of range for degrees.

    A GeoJSON file with projected coordinates and no ``crs`` member reads as degrees (RFC 7946); so does a Shapefile
    with the wrong ``.prj``.

    Returns
    -------
    bool
        Whether all coordinates can be used.
    """
    coordinates, owner = shapely.get_coordinates(layer.shapes, return_index=True)
    odd = ~np.isfinite(coordinates).all(axis=1)
    for row in np.unique(owner[odd]):
        findings.faults.append(
            Fault(
                layer.source,
                layer.features[row],
                "a coordinate that is no number",
                "finite numbers",
                "redraw the feature or delete it",
            )
        )
    if odd.any() or not len(coordinates):
        return not odd.any()
    limits = (180.0, 90.0) if layer.crs.is_geographic else (_FARTHEST, _FARTHEST)
    wild = (np.abs(coordinates) > limits).any(axis=1)
    if wild.any():
        first = int(np.argmax(wild))
        findings.faults.append(_wild(layer, layer.features[owner[first]], *coordinates[first]))
    return not wild.any()


def _wild(layer: Layer, feature: str, x: float, y: float) -> Fault:
    """Make the fault of a point that is nowhere on a map."""
    if not layer.crs.is_geographic:
        found = f"coordinates ({x:.6g}, {y:.6g}) lie beyond every map in {layer.crs.name}"
        return Fault(layer.source, feature, found, f"at most {_FARTHEST:.0e}", "redraw the feature or delete it")
    if layer.path.suffix.lower() in _ALWAYS_DEGREES:
        found = f"longitude {x:.6g}, latitude {y:.6g}"
        return Fault(layer.source, feature, found, "−180 to 180, −90 to 90", "take the point out, or export it again")
    return Fault(
        layer.source,
        feature,
        f"coordinates ({x:.0f}, {y:.0f}) are not degrees, yet the file says or implies {layer.crs.name}",
        "longitude −180 to 180, latitude −90 to 90",
        f"say which CRS they are in: ogr2ogr -a_srs EPSG:25832 copy.gpkg {layer.path.name}",
    )


def working_crs(wanted: str | None, layers: Sequence[Layer], findings: Findings) -> CRS | None:
    """Choose the working CRS: the one wanted, else the first metric one of the network, else its UTM zone.

    A CRS that is metric by name but not true to scale where the network lies (the web's Mercator, a zone of another
    country) is refused where it is wanted, and passed over where it is only what a file came in.

    Parameters
    ----------
    wanted
        CRS from the settings.
    layers
        The network's layers, with checked coordinates.
    findings
        Collects the fault when no CRS can be chosen.
    """
    middle = _middle(layers)
    if wanted is not None:
        return _wanted(wanted, middle, findings)
    planes = (_plane(layer.crs) for layer in layers)
    metric = next((plane for plane in planes if is_metric(plane) and _is_true(plane, middle)), None)
    if metric is not None:
        return metric
    if middle is None:
        return None
    longitude, latitude = middle
    zones = query_utm_crs_info(
        datum_name="WGS 84", area_of_interest=AreaOfInterest(longitude, latitude, longitude, latitude)
    )
    if not zones:
        found = f"no UTM zone covers latitude {latitude:.1f}"
        findings.faults.append(Fault(SITE_SETTINGS, "[site] crs", found, _METRIC, "name a CRS"))
        return None
    return CRS.from_epsg(int(zones[0].code))


def _middle(layers: Sequence[Layer]) -> tuple[float, float] | None:
    """Find the middle of all layers, longitude and latitude; ``None`` when nothing has a place."""
    corners = [_degrees(layer, bounds) for layer in layers if (bounds := bounds_of(layer.shapes)) is not None]
    corners = [corner for corner in corners if np.isfinite(corner).all()]
    if not corners:
        return None
    box = np.array(corners)
    return float(box[:, 0].min() + box[:, 2].max()) / 2.0, float(box[:, 1].min() + box[:, 3].max()) / 2.0


def _scales(crs: CRS, middle: tuple[float, float]) -> tuple[float, float]:
    """Give how much longer lengths along the parallel and the meridian are on the map; NaN where it does not reach."""
    try:
        factors = Proj(crs).get_factors(*middle)
    except ProjError:
        return math.nan, math.nan
    return float(factors.parallel_scale), float(factors.meridional_scale)


def _is_true(crs: CRS, middle: tuple[float, float] | None) -> bool:
    """Tell whether lengths are right on the map where the network lies."""
    return middle is None or all(abs(scale - 1.0) <= _TRUE_SCALE for scale in _scales(crs, middle))


def _wanted(wanted: str, middle: tuple[float, float] | None, findings: Findings) -> CRS | None:
    """Understand the CRS of the settings."""
    try:
        crs = CRS.from_user_input(wanted)
    except CRSError:
        findings.faults.append(Fault(SITE_SETTINGS, "[site] crs", f"{wanted!r} is no CRS that is known", _METRIC))
        return None
    if not is_metric(crs):
        findings.faults.append(Fault(SITE_SETTINGS, "[site] crs", f"{crs.name} is not projected in metres", _METRIC))
        return None
    if middle is not None and not _is_true(_plane(crs), middle):
        off = max(abs(scale - 1.0) for scale in _scales(_plane(crs), middle))
        wrong = f"lengths are {100.0 * off:.1f} % wrong" if math.isfinite(off) else "it does not reach"
        found = f"{crs.name} at longitude {middle[0]:.2f}, latitude {middle[1]:.2f}, where the network lies: {wrong}"
        mend = "leave it out to take the network's own, or its UTM zone"
        findings.faults.append(Fault(SITE_SETTINGS, "[site] crs", found, "a CRS made for that place", mend))
        return None
    return _plane(crs)


def _degrees(layer: Layer, bounds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Bring bounds to longitude and latitude."""
    transformer = Transformer.from_crs(_plane(layer.crs), _WGS84, always_xy=True)
    return np.array(transformer.transform_bounds(*bounds))


def to_working(layer: Layer, crs: CRS, findings: Findings) -> Layer | None:
    """Bring a layer into the working CRS; heights stay as they are.

    A shift between datums that can only be guessed, or for which a better grid is not installed, is recorded.

    Returns
    -------
    Layer or None
        ``None`` when its coordinates lie where the CRS does not reach, which is a fault.
    """
    plane = _plane(layer.crs)
    if plane == crs:
        return replace(layer, crs=crs)
    transformer = Transformer.from_crs(plane, crs, always_xy=True)

    def move(coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        moved = coordinates.copy()
        moved[:, 0], moved[:, 1] = transformer.transform(coordinates[:, 0], coordinates[:, 1])
        return moved

    is_3d = shapely.has_z(layer.shapes)
    shapes = layer.shapes.copy()
    shapes[~is_3d] = shapely.transform(layer.shapes[~is_3d], move)
    shapes[is_3d] = shapely.transform(layer.shapes[is_3d], move, include_z=True)
    if not np.isfinite(shapely.get_coordinates(shapes)).all():
        found = f"coordinates outside the area of {crs.name}"
        mend = "check the CRS of the file, or set [site] crs"
        findings.faults.append(Fault(layer.source, "", found, "one area for all files", mend))
        return None
    moved_layer = replace(layer, shapes=shapes, crs=crs)
    _record_rough_shift(layer, moved_layer, plane, findings)
    return moved_layer


def _record_rough_shift(layer: Layer, moved: Layer, plane: CRS, findings: Findings) -> None:
    """Record a datum shift that is less accurate than it could be."""
    bounds = bounds_of(layer.shapes)
    if bounds is None or plane.geodetic_crs == moved.crs.geodetic_crs:
        return
    try:
        west, south, east, north = _degrees(layer, bounds)
        area = AreaOfInterest(west, south, east, north)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a missing grid is what the record is about
            group = TransformerGroup(plane, moved.crs, always_xy=True, area_of_interest=area)  # type: ignore[arg-type] # pyproj documents its public class, its stub wants the inner one
    except ProjError:
        return
    best = group.transformers[0].accuracy if group.transformers else -1.0
    if group.best_available and best >= 0.0:
        return
    known = f"to about {best:g} m" if best >= 0.0 else "without any known accuracy"
    better = "" if group.best_available else "; a more accurate grid of shifts is not installed"
    detail = f"brought from {plane.name} to {moved.crs.name} {known}{better}"
    corner = bounds_of(moved.shapes)
    where = None if corner is None else shapely.box(*corner)
    findings.repairs.append(Repair("rough datum shift", layer.source, "all", detail, where, best if best > 0 else None))
