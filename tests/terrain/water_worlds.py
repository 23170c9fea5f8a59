"""Land with water on it, in closed form: a valley with a stream, a bank across it, a bowl in a mound.

All worlds are 120 m wide and high; the trail runs from west to east at half the height, from 10 m to 110 m.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.survey.model import Network
from pipeline.terrain.drainage import measure_drainage
from pipeline.terrain.drainage_model import Drainage
from pipeline.terrain.model import TerrainParameters
from tests.worlds import ORIGIN, Grid, Surface, at, network_of, plane, surface_terrain, write_elevation

Floats = NDArray[np.float64]

SIDE_M = 120
GRID = Grid(width=SIDE_M, height=SIDE_M)
MIDDLE = 60.0
TRAIL = at((10.0, MIDDLE), (110.0, MIDDLE))
PARAMETERS = TerrainParameters(drainage_reach_m=100.0, stream_catchment_m2=2000.0)


def surface_of(height: object) -> Surface:
    """Make a surface of a height in metres from :data:`ORIGIN`; nobody asks for its slope."""
    return Surface(height=lambda x, y: height(x - ORIGIN[0], y - ORIGIN[1]), gradient=plane().gradient)  # type: ignore[operator]


def valley_height(x: Floats, y: Floats) -> Floats:
    """Fall by 0.1 to a stream in the middle, and along it by 0.02 to the south: 60 m of land drain across the trail."""
    return 100.0 + 0.1 * np.abs(x - MIDDLE) + 0.02 * y


def banked_height(x: Floats, y: Floats) -> Floats:
    """Lay a bank 8 m wide across the valley, under the trail; its lowest place is 3 m east of the stream."""
    bank = np.where(np.abs(y - MIDDLE) < 4.0, 102.0 + 0.05 * np.abs(x - MIDDLE - 3.0), -np.inf)
    return np.maximum(valley_height(x, y), bank)


BOWL_M, BOWL_DEEP_M = 20.0, 1.5
"""Radius and depth of the bowl."""


def bowl_height(x: Floats, y: Floats) -> Floats:
    """Sink a paraboloid into the top of a mound in the middle: nothing but its own rain comes into it."""
    away = np.hypot(x - MIDDLE, y - MIDDLE)
    return (
        100.0 - BOWL_DEEP_M * np.clip(1.0 - (away / BOWL_M) ** 2, 0.0, None) - 0.02 * np.clip(away - BOWL_M, 0.0, None)
    )


VALLEY, BANKED, BOWL = (surface_of(height) for height in (valley_height, banked_height, bowl_height))


def crossing_network(**columns: object) -> Network:
    """Lay the one trail over the middle of the world."""
    return network_of({"a": TRAIL}, **columns)  # type: ignore[arg-type]


def drained_on(paths: Path | Sequence[Path], network: Network | None = None, **changes: object) -> Drainage:
    """Lead water over elevation files."""
    network = network or crossing_network()
    files = (paths,) if isinstance(paths, Path) else tuple(paths)
    parameters = replace(PARAMETERS, elevation=files, **changes)  # type: ignore[arg-type]
    drainage = measure_drainage(network, surface_terrain(network, plane()), parameters).drainage
    assert drainage is not None
    return drainage


def drained(folder: Path, surface: Surface | Floats, network: Network | None = None, **changes: object) -> Drainage:
    """Write a surface to a file and lead water over it."""
    return drained_on(write_elevation(folder / "land.tif", surface, replace(GRID, nodata=-9999.0)), network, **changes)
