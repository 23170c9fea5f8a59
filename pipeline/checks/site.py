"""What the checks look at: the network, its terrain and its ground."""

from dataclasses import dataclass, field

from pipeline.ground.model import Ground
from pipeline.survey.model import Network
from pipeline.terrain.model import Terrain, TerrainParameters

__all__ = ["CheckSite"]


@dataclass(frozen=True, slots=True)
class CheckSite:
    """A site as the stages before have described it; per-segment arrays are parallel to ``network.segments``."""

    network: Network
    terrain: Terrain
    ground: Ground
    measured: TerrainParameters = field(default_factory=TerrainParameters)
    """How the terrain was measured, and how well: the errors of heights and lines."""
