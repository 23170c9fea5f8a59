"""Elevation files joined into grids, and the reading of windows of them.

Files with the same CRS, the same cells and cells that fall on one another (to a hundredth of a cell) are one grid: a
window takes its cells from every file it touches, so that a bicubic patch runs over a tile border as if it were not
there. Where files overlap, the one named first wins, and the next fills its voids.
"""

from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.errors import RasterioError
from rasterio.io import DatasetReader
from rasterio.transform import Affine
from rasterio.windows import Window

from pipeline.errors import Fault, InputMissingError
from pipeline.terrain.dem_file import ElevationFile, raster_environment, read_heights

__all__ = ["Box", "Grid", "GridReader", "Tile", "join_tiles"]

Numbers = tuple[float, float, float, float, float, float]

ALIGNED = 0.01
"""Cells of two files fall on one another when they are off by less than this share of a cell."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of cells of a grid."""

    column: int
    row: int
    """First column and row; may be negative, counted from the grid's first file."""
    columns: int
    rows: int

    def overlap(self, other: "Box") -> "Box | None":
        """Give the cells that both boxes hold; ``None`` where there are none."""
        left, top = max(self.column, other.column), max(self.row, other.row)
        right = min(self.column + self.columns, other.column + other.columns)
        bottom = min(self.row + self.rows, other.row + other.rows)
        return Box(left, top, right - left, bottom - top) if right > left and bottom > top else None


@dataclass(frozen=True, slots=True)
class Tile:
    """One file of a grid and the cells that it holds."""

    file: ElevationFile
    box: Box


@dataclass(frozen=True, slots=True)
class Grid:
    """Elevation files that share one grid of cells; can be sent to another process."""

    crs: str
    """Horizontal CRS as WKT."""
    transform: Numbers
    """Affine numbers from cell corners (column, row) to map coordinates."""
    tiles: tuple[Tile, ...]

    @property
    def to_cell(self) -> NDArray[np.float64]:
        """Six numbers from map coordinates to cell **centres**, as ``kernels.surface`` takes them."""
        a, b, c, d, e, f = _inverse(self.transform)
        return np.array([a, b, c - 0.5, d, e, f - 0.5])

    def transform_of(self, box: "Box", shape: tuple[int, int]) -> Affine:
        """Give the transform of an array of *shape* (rows, columns) that stands for a box of cells."""
        a, b, c, d, e, f = self.transform
        along, down = box.columns / shape[1], box.rows / shape[0]
        return Affine(
            a * along, b * down, a * box.column + b * box.row + c, d * along, e * down, d * box.column + e * box.row + f
        )

    @property
    def box(self) -> Box:
        """The smallest rectangle of cells that holds all tiles."""
        left = min(tile.box.column for tile in self.tiles)
        top = min(tile.box.row for tile in self.tiles)
        right = max(tile.box.column + tile.box.columns for tile in self.tiles)
        bottom = max(tile.box.row + tile.box.rows for tile in self.tiles)
        return Box(left, top, right - left, bottom - top)


def join_tiles(files: Iterable[ElevationFile]) -> tuple[Grid, ...]:
    """Join files into grids, in the order in which each grid's first file is named."""
    grids: list[tuple[ElevationFile, list[Tile]]] = []
    for file in files:
        for first, tiles in grids:
            offset = _offset(first, file)
            if offset is not None:
                tiles.append(Tile(file, Box(*offset, file.width, file.height)))
                break
        else:
            grids.append((file, [Tile(file, Box(0, 0, file.width, file.height))]))
    return tuple(Grid(first.crs, first.transform, tuple(tiles)) for first, tiles in grids)


def _offset(first: ElevationFile, other: ElevationFile) -> tuple[int, int] | None:
    """Give the column and row of *other*'s first cell in the grid of *first*; ``None`` where it is another grid."""
    size = max(first.width, first.height, other.width, other.height)
    a, b, _, d, e, _ = first.transform
    cell = max(np.hypot(a, d), np.hypot(b, e))
    linear = [abs(first.transform[k] - other.transform[k]) * size for k in (0, 1, 3, 4)]
    if max(linear) > ALIGNED * cell or not _same_crs(first.crs, other.crs):
        return None
    p, q, r, s, t, u = _inverse(first.transform)
    x, y = other.transform[2], other.transform[5]
    column, row = p * x + q * y + r, s * x + t * y + u
    if max(abs(column - round(column)), abs(row - round(row))) > ALIGNED:
        return None
    return round(column), round(row)


def _inverse(transform: Numbers) -> Numbers:
    """Give the affine numbers from map coordinates to cell corners."""
    inverse = ~Affine(*transform)
    return inverse.a, inverse.b, inverse.c, inverse.d, inverse.e, inverse.f


def _same_crs(one: str, other: str) -> bool:
    """Tell whether two WKT texts name the same CRS."""
    return one == other or CRS.from_wkt(one).equals(CRS.from_wkt(other))


@dataclass(slots=True)
class GridReader:
    """Reads windows of grids; keeps each file open while the ``with`` block lasts, so that no cell is decoded twice.

    Every process (and thread) has its own.
    """

    _stack: ExitStack = field(default_factory=ExitStack)
    _open: dict[ElevationFile, DatasetReader] = field(default_factory=dict)

    def __enter__(self) -> Self:
        """Begin reading."""
        self._stack.enter_context(raster_environment())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close all files."""
        self._open.clear()
        self._stack.close()

    def read(self, grid: Grid, box: Box, shape: tuple[int, int] | None = None) -> NDArray[np.float32] | None:
        """Read the heights of a box of cells.

        Parameters
        ----------
        grid, box
            What to read; the box may reach beyond all tiles.
        shape
            Rows and columns of the answer, for pictures; cells are then skipped, not averaged.

        Returns
        -------
        ndarray or None
            Heights of shape (rows, columns), m, NaN where there are none; ``None`` where no tile is touched.

        Raises
        ------
        InputMissingError
            When a file has gone or cannot be read.
        """
        rows, columns = shape or (box.rows, box.columns)
        heights: NDArray[np.float32] | None = None
        for tile in grid.tiles:
            part = tile.box.overlap(box)
            if part is None:
                continue
            if heights is None:
                if part == box:  # one tile holds it all, unless it has voids that another fills
                    heights = self._read_tile(tile, part, (rows, columns))
                    continue
                heights = np.full((rows, columns), np.nan, dtype=np.float32)
            into = _place(part, box, (rows, columns))
            known = self._read_tile(tile, part, (into[0].stop - into[0].start, into[1].stop - into[1].start))
            target = heights[into]
            np.copyto(target, known, where=np.isnan(target))
        return heights

    def _read_tile(self, tile: Tile, part: Box, shape: tuple[int, int]) -> NDArray[np.float32]:
        """Read the part of a tile that lies in a box."""
        window = Window(part.column - tile.box.column, part.row - tile.box.row, part.columns, part.rows)
        return read_heights(tile.file, self._source(tile.file), window, shape)

    def _source(self, file: ElevationFile) -> DatasetReader:
        """Give the open file, opening it the first time."""
        if file not in self._open:
            try:
                self._open[file] = self._stack.enter_context(rasterio.open(file.path))
            except RasterioError as error:
                raise InputMissingError(Fault(file.path, "", f"cannot be opened ({error})")) from error
        return self._open[file]


def _place(part: Box, box: Box, shape: Sequence[int]) -> tuple[slice, slice]:
    """Give where a part of a box goes in an array of *shape* that stands for the whole box (at least one cell)."""
    down, along = shape[0] / box.rows, shape[1] / box.columns
    top, left = round((part.row - box.row) * down), round((part.column - box.column) * along)
    bottom = max(round((part.row + part.rows - box.row) * down), top + 1)
    right = max(round((part.column + part.columns - box.column) * along), left + 1)
    bottom, right = min(bottom, shape[0]), min(right, shape[1])
    return slice(min(top, bottom - 1), bottom), slice(min(left, right - 1), right)
