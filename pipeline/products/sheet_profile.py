"""The height profile of a drive sheet: height over the distance driven, calls above, legs below."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np

from pipeline.products.plain import number
from pipeline.products.svg import CallMark, Floats, Type, call_mark, nice_step, path, picture, text, written

__all__ = ["ProfilePicture", "profile"]


ROWS = 4
"""Rows of call marks above the profile."""
MARK_MM = 1.7
"""Half the size of a call mark."""
PITCH_MM = 2 * MARK_MM + 0.2
"""From one row of marks to the next."""
LEFT_MM, RIGHT_MM = 10.0, 3.0
"""Margins beside the axes."""


@dataclass(frozen=True, slots=True)
class ProfilePicture:
    """What the profile shows."""

    at_m: Floats
    """Distance along the loop, ascending."""
    z_m: Floats
    """Height there; NaN where it is not known."""
    legs: Sequence[tuple[float, str]]
    """Where each leg starts along the loop, and its short name."""
    calls: Sequence[CallMark]
    title: str
    width_mm: float = 182.0
    height_mm: float = 42.0
    """Without the rows of call marks, which add to it."""


def profile(view: ProfilePicture) -> str:
    """Draw height over distance; the line breaks where no height is known."""
    rows = _rows(view)
    height = view.height_mm + PITCH_MM * (max(rows, default=0) + 1)
    root = picture(view.width_mm, height, view.title)
    known = view.z_m[np.isfinite(view.z_m)]
    if not len(known):
        text(root, (view.width_mm / 2, height / 2), "no heights known", Type(anchor="middle"))
        return written(root)
    axes = _Axes.of(view, height, (float(known.min()), float(known.max())))
    axes.grid(root)
    for run in _runs(view.z_m):
        points = axes.to_mm(view.at_m[run], view.z_m[run])
        base = np.array([[points[-1, 0], axes.bottom], [points[0, 0], axes.bottom]])
        path(root, np.vstack([points, base]), stroke="none", width=0, fill="#e4e4e4")
        path(root, points, width=0.5)
    axes.legs(root, view.legs)
    for call, row in zip(view.calls, rows, strict=True):
        axes.call(root, call, view, row)
    return written(root)


def _rows(view: ProfilePicture) -> list[int]:
    """Give each call a row, so that marks in the same row do not touch; the last row takes what is left."""
    free = [-np.inf] * ROWS
    rows = []
    for call in view.calls:
        x = (view.width_mm - LEFT_MM - RIGHT_MM) * call.at_m / max(float(view.at_m[-1]), 1.0)
        row = next((row for row in range(ROWS) if x - free[row] >= PITCH_MM + 0.2), int(np.argmin(free)))
        free[row] = x
        rows.append(row)
    return rows


@dataclass(frozen=True, slots=True)
class _Axes:
    """Axes of the profile."""

    left: float
    right: float
    top: float
    bottom: float
    length_m: float
    low_m: float
    high_m: float

    @classmethod
    def of(cls, view: ProfilePicture, height: float, span: tuple[float, float]) -> "_Axes":
        step = nice_step(max(span[1] - span[0], 5.0), 4)
        low, high = np.floor(span[0] / step) * step, np.ceil(span[1] / step) * step
        length = max(float(view.at_m[-1]), 1.0)
        top = height - view.height_mm + 5.4
        return cls(LEFT_MM, view.width_mm - RIGHT_MM, top, height - 9.0, length, low, max(high, low + step))

    def to_mm(self, at_m: Floats, z_m: Floats) -> Floats:
        x = self.left + (self.right - self.left) * at_m / self.length_m
        y = self.bottom - (self.bottom - self.top) * (z_m - self.low_m) / (self.high_m - self.low_m)
        return np.column_stack([x, y])

    def grid(self, root: ET.Element) -> None:
        """Rules and figures of height and distance."""
        for height in np.arange(self.low_m, self.high_m + 1e-6, nice_step(self.high_m - self.low_m, 4)):
            y = float(self.to_mm(np.array([0.0]), np.array([height]))[0, 1])
            path(root, np.array([[self.left, y], [self.right, y]]), stroke="#aaaaaa", width=0.15)
            text(root, (self.left - 1.0, y + 0.9), number(float(height), 0), Type(anchor="end"))
        text(root, (self.left - 1.0, self.top - 3.4), "m", Type(anchor="end"))
        for distance in np.arange(0.0, self.length_m, nice_step(self.length_m, 9)):
            x = float(self.to_mm(np.array([distance]), np.array([self.low_m]))[0, 0])
            path(root, np.array([[x, self.bottom], [x, self.bottom + 1.0]]), width=0.2)
            text(root, (x, self.bottom + 3.6), number(float(distance), 0), Type(anchor="middle"))
        text(root, (self.right, self.bottom + 3.6), "m", Type(anchor="end"))

    def legs(self, root: ET.Element, legs: Sequence[tuple[float, str]]) -> None:
        """Draw a fine rule where each leg starts, with its short name at the foot where there is room for it."""
        free = self.left
        for start, name in legs:
            x = float(self.to_mm(np.array([start]), np.array([self.low_m]))[0, 0])
            path(root, np.array([[x, self.top], [x, self.bottom]]), width=0.12, dash="0.4 0.8")
            long = 1.25 * len(name)
            if x >= free and x + long < self.right:
                text(root, (x + 0.5, self.bottom + 7.0), name, Type(size=2.0))
                free = x + long + 1.0

    def call(self, root: ET.Element, call: CallMark, view: ProfilePicture, row: int) -> None:
        """Put the call's number above, in its row, and a leader down to the ground."""
        z = float(np.interp(call.at_m, view.at_m, np.nan_to_num(view.z_m, nan=self.low_m)))
        x, y = self.to_mm(np.array([call.at_m]), np.array([z]))[0]
        mark = self.top - 3.2 - row * PITCH_MM
        path(root, np.array([[x, mark], [x, y]]), width=0.15)
        call_mark(root, np.array([x, mark]), call, MARK_MM)


def _runs(z: Floats) -> list[slice]:
    """Find the stretches of known heights."""
    known = np.concatenate([[False], np.isfinite(z), [False]]).astype(np.int8)
    change = np.diff(known)
    return [
        slice(int(a), int(b)) for a, b in zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1), strict=True)
    ]
