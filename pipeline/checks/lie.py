"""How the segments of a network lie to running water, as the terrain tells it."""

from pipeline.ground.model import Lie
from pipeline.ground.state import open_lie
from pipeline.terrain.model import Terrain

__all__ = ["lie_of"]


def lie_of(terrain: Terrain) -> Lie:
    """Say for every segment how wet it lies.

    Parameters
    ----------
    terrain
        The terrain along the network.
    """
    return open_lie(terrain.stations.offsets.size - 1)
