"""A network of segments that differ only in what their surface is tagged as."""

from functools import cache
from pathlib import Path

import geopandas as gpd
import pandas as pd
from pyproj import CRS
from shapely import LineString

from pipeline.ground.surface import Surfaces
from pipeline.settings import read_settings
from pipeline.survey.model import Network
from pipeline.tables import NETWORK, NODES, OBSTACLES, REPAIRS, empty, validate

UTM = CRS.from_epsg(32632)
SURFACES_FILE = Path(__file__).parents[2] / "configs" / "surfaces.toml"
Tags = tuple[str | None, str | None, str | None]


@cache
def surfaces() -> Surfaces:
    """Read the surfaces file that is shipped, once: it cannot be changed."""
    return read_settings(SURFACES_FILE, Surfaces)


def tagged(*tags: Tags) -> Network:
    """Make a network of parallel segments, one for each (surface, tracktype, smoothness)."""
    count = len(tags)
    text = pd.Series([None] * count, dtype="str")
    columns = {
        "segment_id": pd.Series([f"s{row}" for row in range(count)], dtype="str"),
        "name": text,
        "source": pd.Series(["worlds"] * count, dtype="str"),
        "surveyed_on": text,
        "status": pd.Series(["open"] * count, dtype="str"),
        "surface": pd.Series([surface for surface, _, _ in tags], dtype="str"),
        "tracktype": pd.Series([tracktype for _, tracktype, _ in tags], dtype="str"),
        "smoothness": pd.Series([smoothness for _, _, smoothness in tags], dtype="str"),
        **{
            name: pd.Series([float("nan")] * count, dtype="float64")
            for name in ("width_m", "max_width_m", "max_height_m", "incline_pct")
        },
        "oneway": pd.Series([0] * count, dtype="int64"),
        "ford": pd.Series([False] * count, dtype="bool"),
        "depth_m": pd.Series([float("nan")] * count, dtype="float64"),
        "bridge": pd.Series([False] * count, dtype="bool"),
        "tunnel": pd.Series([False] * count, dtype="bool"),
        "profile": text,
        "node_a": pd.Series(range(count), dtype="int64"),
        "node_b": pd.Series(range(count), dtype="int64"),
        "length_m": pd.Series([100.0] * count, dtype="float64"),
    }
    lines = [LineString([(0, 10 * row), (100, 10 * row)]) for row in range(count)]
    frame = gpd.GeoDataFrame(columns, geometry=lines, crs=UTM)
    return Network(
        segments=validate(frame, NETWORK),
        nodes=empty(NODES, crs=UTM),
        obstacles=empty(OBSTACLES, crs=UTM),
        repairs=empty(REPAIRS, crs=UTM),
        crs=UTM,
        trailhead_node=0,
        obstacles_surveyed=False,
    )
