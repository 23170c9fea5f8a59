"""``site.gpkg``: one GeoPackage 1.3 with every layer, and styles a desktop GIS applies by itself.

The same facts give the same bytes: the driver's clock is set to the time of
the build. Version 1.3 is asked for because readers of older systems refuse
the triggers of 1.4. Geometries are written flat: survey-grade lines carry
heights and others do not, and a layer has one kind; heights are in the stations.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, WATER_CAUTION, clean
from pipeline.products.styles import STYLES, style

__all__ = ["LAYERS", "write_geopackage"]

_CLOCK = "OGR_CURRENT_DATE"


@dataclass(frozen=True, slots=True)
class _Layer:
    """One layer: its geometry for the driver, and what it holds."""

    geometry: str
    about: str


LAYERS: Mapping[str, _Layer] = {
    "segments": _Layer("LineString", "Trail segments between junctions."),
    "obstacles": _Layer("Point", "Surveyed things on or beside the trail, and named places."),
    "verdicts": _Layer("LineString", "One row a segment, set-up and direction."),
    "loops": _Layer("Unknown", "Loops found, rank 1 the best."),
    "bypasses": _Layer("Unknown", "Ways of those who leave a loop and come back to it, one row a set-up."),
    "calls": _Layer("Point", "Lines of the drive sheet, in driving order."),
    "passings": _Layer("Point", "What to do about each thing in the way: one row a thing, set-up and direction."),
    "lines": _Layer("LineString", "Way of the middle of the front axle past tight places, in travel."),
    "crossings": _Layer("Point", f"Where water crosses the trail or gathers on it. {WATER_CAUTION}"),
    "repairs": _Layer("Unknown", "Every change made to what the survey files said."),
}
"""Layers in the order of the contract; each is the frame of the facts with that name."""

_SHOWS_SETUPS = ("verdicts", "loops", "bypasses", "calls", "passings", "lines")
"""Layers that hold for set-ups: their descriptions carry the warnings of these."""


def write_geopackage(facts: Facts, path: Path) -> Path:
    """Write every layer and the styles into a new file at *path*."""
    path.unlink(missing_ok=True)
    moment = datetime.fromisoformat(facts.built_at).astimezone(UTC)
    with _clock_at(moment.strftime("%Y-%m-%dT%H:%M:%S.000Z")):
        for name, layer in LAYERS.items():
            frame = _passings(facts) if name == "passings" else _placed(getattr(facts, name), facts)
            _write_layer(frame, name, _Layer(layer.geometry, " ".join(_description(facts, name))), path)
        _write_styles(facts, moment, path)
    return path


@contextmanager
def _clock_at(moment: str) -> Iterator[None]:
    """Hold the driver's clock at *moment*, and put back what was set before."""
    before = pyogrio.get_gdal_config_option(_CLOCK)
    pyogrio.set_gdal_config_options({_CLOCK: moment})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({_CLOCK: before})


def _passings(facts: Facts) -> gpd.GeoDataFrame:
    """Give every passing its place on the line of its segment."""
    lines = facts.segments.set_index("segment_id").geometry.force_2d()
    own = lines.reindex(facts.passings["segment_id"]).to_numpy()
    places = shapely.line_interpolate_point(own, facts.passings["at_m"].to_numpy(dtype=float))
    return gpd.GeoDataFrame(facts.passings.reset_index(drop=True), geometry=places, crs=facts.crs)


def _placed(frame: gpd.GeoDataFrame, facts: Facts) -> gpd.GeoDataFrame:
    """Give a frame without rows the working CRS that one with rows has."""
    return frame.set_crs(facts.crs) if frame.crs is None else frame


def _description(facts: Facts, name: str) -> Iterator[str]:
    """Say what a layer holds, what must be said about the set-ups it shows, and the caution."""
    yield LAYERS[name].about
    if name in _SHOWS_SETUPS:
        yield from (f"{warning.rstrip('.')}." for warning in setup_warnings(facts))
    yield CAUTION


def _write_layer(frame: gpd.GeoDataFrame, name: str, layer: _Layer, path: Path) -> None:
    """Add one layer, flat; a frame without rows still makes a layer with its columns."""
    flat = frame.set_geometry(frame.geometry.force_2d())
    pyogrio.write_dataframe(
        flat.assign(**_storable(frame)).reset_index(drop=True),
        path,
        layer=name,
        driver="GPKG",
        geometry_type=layer.geometry,
        promote_to_multi=False,
        append=path.exists(),
        dataset_options={} if path.exists() else {"VERSION": "1.3"},
        layer_options={"GEOMETRY_NAME": "geometry", "IDENTIFIER": name, "DESCRIPTION": layer.about},
    )


def _storable(frame: pd.DataFrame) -> dict[str, pd.Series]:
    """Give the text columns as the driver can hold them: it ends a text at its first NUL."""
    texts = [name for name in frame.columns if name != "geometry" and not pd.api.types.is_numeric_dtype(frame[name])]
    return {
        name: frame[name].map(lambda value: value.replace("\x00", "\ufffd"), na_action="ignore").astype("str")
        for name in texts
    }


def _write_styles(facts: Facts, moment: datetime, path: Path) -> None:
    """Add the ``layer_styles`` table, registered as attributes, with one default style a layer."""
    rows = pd.DataFrame(
        {
            "f_table_catalog": "",
            "f_table_schema": "",
            "f_table_name": list(STYLES),
            "f_geometry_column": "geometry",
            "styleName": [f"loopwright {name}" for name in STYLES],
            "styleQML": [style(name) for name in STYLES],
            "styleSLD": "",
            "useAsDefault": True,
            "description": f"{clean(facts.site)}. {CAUTION}",
            "owner": "",
            "ui": "",
            "update_time": moment.strftime("%Y-%m-%dT%H:%M:%S.000Z"),
        }
    )
    pyogrio.write_dataframe(
        rows,
        path,
        layer="layer_styles",
        driver="GPKG",
        append=True,
        layer_options={"FID": "id", "IDENTIFIER": "layer_styles", "DESCRIPTION": CAUTION},
    )
