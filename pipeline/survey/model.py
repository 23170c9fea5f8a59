"""What the survey stage takes and hands over."""

from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
from pyproj import CRS

__all__ = ["Network", "Source", "SurveyInputs", "SurveyParameters"]


@dataclass(frozen=True, slots=True)
class Source:
    """One survey file, and the layer in it where that matters."""

    path: Path
    """Absolute path."""
    layer: str | None = None
    """Layer named in the settings as ``file:layer``; ``None`` for the rules of the format."""

    @property
    def name(self) -> str:
        """The name that stands in tables and messages: file name, and layer if one was named."""
        return self.path.name if self.layer is None else f"{self.path.name}:{self.layer}"


@dataclass(frozen=True, slots=True)
class SurveyInputs:
    """The files of a survey and the trailhead."""

    network: tuple[Source, ...]
    obstacles: tuple[Source, ...]
    trailhead: str | tuple[float, float]
    """Name of a surveyed place, or coordinates in the working CRS."""


@dataclass(frozen=True, slots=True)
class SurveyParameters:
    """How the survey is read."""

    snap_m: float = 2.0
    """Line ends closer than this are one node; must be > 0."""
    crs: str | None = None
    """Working CRS (projected, metres); ``None`` takes the network's if metric, else its UTM zone."""
    attach_m: float = 15.0
    """Obstacles farther from every segment than this are attached to none."""


@dataclass(frozen=True, slots=True)
class Network:
    """The trail network as it will be worked with; contracts in ``pipeline.tables``."""

    segments: gpd.GeoDataFrame
    """Contract NETWORK; row order is the order of every per-segment array downstream."""
    nodes: gpd.GeoDataFrame
    """Contract NODES."""
    obstacles: gpd.GeoDataFrame
    """Contract OBSTACLES."""
    repairs: gpd.GeoDataFrame
    """Contract REPAIRS."""
    crs: CRS
    """The working CRS."""
    trailhead_node: int
    """``node_id`` of the trailhead."""
    obstacles_surveyed: bool
    """Whether any obstacle file was given at all."""
