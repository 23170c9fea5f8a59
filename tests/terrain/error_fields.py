"""Seeded fields of height errors on a small grid, read by the kernel itself: what the closed forms are held against."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.surface import Patches, sample_surface

Float64 = NDArray[np.float64]


@dataclass(frozen=True)
class Field:
    """A square of cells with height errors of standard deviation 1 m."""

    cell_m: float
    correlation_m: float | None
    side: int
    """Cells each way."""

    def draws(self, count: int, seed: int) -> Float64:
        """Draw fields, shape (count, side, side): Cholesky factor of the covariance times independent normal errors."""
        place = np.stack(np.meshgrid(np.arange(self.side), np.arange(self.side)), axis=-1).reshape(-1, 2) * self.cell_m
        apart = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))
        independent = np.eye(self.side**2)
        covariance = independent if self.correlation_m is None else np.exp(-apart / self.correlation_m)
        noise = np.random.default_rng(seed).standard_normal((count, self.side**2))
        return (noise @ np.linalg.cholesky(covariance).T).reshape(count, self.side, self.side)

    def place(self, points: Float64, count: int, seed: int, bearing: float | None) -> tuple[Float64, Float64]:
        """Lay points into the square *count* times: any place in the middle cell, one bearing or any."""
        rng = np.random.default_rng(seed)
        turn = np.full(count, bearing) if bearing is not None else rng.uniform(0.0, 2.0 * np.pi, count)
        shift = rng.uniform(0.0, 1.0, (2, count)) * self.cell_m + 0.5 * (self.side - 2) * self.cell_m
        middle = points - points.mean(axis=0)
        along, right = middle[:, 0], middle[:, 1]
        sine, cosine = np.sin(turn)[:, None], np.cos(turn)[:, None]
        return shift[0][:, None] + along * sine + right * cosine, shift[1][:, None] + along * cosine - right * sine

    def read(self, errors: Float64, x: Float64, y: Float64) -> Patches:
        """Read one field at points with the kernel; row 0 is the northernmost."""
        to_cell = np.array([1.0 / self.cell_m, 0.0, 0.0, 0.0, -1.0 / self.cell_m, self.side - 1.0])
        out = Patches(*(np.full(x.size, np.nan) for _ in range(3)))
        sample_surface(errors.astype(np.float32), to_cell, (x, y), np.arange(x.size), out)
        return out

    def heights(self, points: Float64, count: int, *, seed: int = 5, bearing: float | None = None) -> Float64:
        """Read height errors of the points (along, right) on *count* fields, shape (count, points)."""
        x, y = self.place(points, count, seed + 1, bearing)
        fields = self.draws(count, seed)
        return np.stack([self.read(fields[k], x[k], y[k]).height for k in range(count)])
