"""Ground for four wheels: seeded random terrains, planes and named shapes."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.four_records import Chassis, TyreLines

Floats = NDArray[np.float64]
Shape = Callable[[Floats, float], Floats]
"""Height over x along and y across, + left."""

STEP = 0.1
L, T = 2.8, 1.6
FREE = 100.0
"""Wheel travel that nothing uses up."""
LIMITS = np.radians([44.0, 43.0, 59.0, 60.0])
CAR = Chassis(L, 1.62, 1.55, 0.38, 0.35, -1.3, 0.03, 0.72, LIMITS)
EVEN = Chassis(L, T, T, 0.38, FREE, -L / 2.0, 0.0, 0.72, np.radians([44.0, 44.0, 60.0, 60.0]))
"""Front and rear, left and right alike."""


def one_run(left: Floats, right: Floats, step: float = STEP, **parts: object) -> TyreLines:
    """Make one run; parts: bend, basis, own."""
    n = left.size
    low, high = parts.get("own", (0.0, (n - 1) * step))
    bend = np.asarray(parts.get("bend", 0.0)) * np.ones(n)
    basis = np.asarray(parts.get("basis", 3)) * np.ones(n, dtype=np.uint8)
    return TyreLines(
        np.array([0, n]), left, right, basis.astype(np.uint8), bend, np.array([low]), np.array([high]), step
    )


def shaped(shape: Shape, samples: int = 121, step: float = STEP, **parts: object) -> TyreLines:
    """Lay both lines of tyres over a shape."""
    x = np.arange(samples) * step
    return one_run(shape(x, T / 2.0), shape(x, -T / 2.0), step, **parts)


def block(x: Floats, y: float) -> Floats:
    """Make a block of 0.30 m, a metre long, on the right."""
    return np.where((x > 5.95) & (x < 7.05) & (y < 0.0), 0.3, 0.0)


def random_lines(seed: int, runs: int = 2, samples: int = 60, step: float = 0.2, noise: float = 0.02) -> TyreLines:
    """Make rough ground in several runs: sums of sines, noise, winding ways."""
    rng = np.random.default_rng(seed)
    n = runs * samples
    x = np.arange(n) * step

    def line() -> Floats:
        waves = zip(rng.uniform(0.02, 0.3, 4), rng.uniform(0.6, 6.0, 4), rng.uniform(0.0, 6.0, 4), strict=True)
        return way + sum(a * np.sin(x / w + p) for a, w, p in waves) + rng.normal(0.0, noise, n)

    way = 1.5 * np.sin(x / rng.uniform(2.0, 4.0))

    own = rng.uniform(0.0, 2.0, (2, runs))
    basis = rng.integers(1, 5, n).astype(np.uint8)
    bend = 0.15 * np.sin(x / rng.uniform(2.0, 5.0))
    offsets = np.arange(runs + 1) * samples
    return TyreLines(offsets, line(), line(), basis, bend, own[0], (samples - 1) * step - own[1], step)


def mirrored(lines: TyreLines) -> TyreLines:
    """Swap left and right."""
    return lines._replace(left=lines.right, right=lines.left, bend=-lines.bend)


def turned_round(lines: TyreLines) -> TyreLines:
    """Write one run down in the other direction."""
    end = (lines.left.size - 1) * lines.step
    return lines._replace(
        left=lines.right[::-1].copy(),
        right=lines.left[::-1].copy(),
        basis=lines.basis[::-1].copy(),
        bend=-lines.bend[::-1],
        own_from=end - lines.own_to,
        own_to=end - lines.own_from,
    )
