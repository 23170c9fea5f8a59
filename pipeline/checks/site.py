"""What the checks look at: the network, its terrain and its ground."""

from dataclasses import dataclass

from pipeline.ground.model import Ground
from pipeline.survey.model import Network
from pipeline.terrain.model import Terrain

__all__ = ["CheckSite"]


@dataclass(frozen=True, slots=True)
class CheckSite:
    """A site as the stages before have described it; per-segment arrays are parallel to ``network.segments``."""

    network: Network
    terrain: Terrain
    ground: Ground
