"""How the segments of a network lie to running water, as the drainage of the terrain tells it."""

import numpy as np

from pipeline.ground.model import Lie
from pipeline.ground.state import open_lie
from pipeline.terrain.model import Terrain

__all__ = ["lie_of"]

TENTH = 0.1
"""A segment lies in hollows where as much of it does, as its wetness index is that which a tenth of it is above: what
a driver meets on a tenth of the way decides. Rule of this project, no source."""


def lie_of(terrain: Terrain) -> Lie:
    """Say for every segment how wet it lies.

    Parameters
    ----------
    terrain
        The terrain along the network; without drainage every segment counts as open.
    """
    segments, drainage = terrain.stations.offsets.size - 1, terrain.drainage
    if drainage is None:
        return open_lie(segments)
    hollows = drainage.crossings.of(drainage.crossings.hollow)
    deepest = np.full(segments, np.nan)
    order = np.argsort(hollows.hollow_m, kind="stable")
    deepest[hollows.row[order]] = hollows.at_m[order]
    return Lie(
        twi=drainage.twi_high,
        over_land=drainage.twi_high - drainage.twi_land,
        hollow=np.nan_to_num(drainage.hollow_share, nan=0.0) >= TENTH,
        hollow_m=deepest,
    )
