"""The hill before anyone built a trail on it: ridges, gullies, a stream valley, an old quarry."""

import numpy as np

from maker.grid import Floats, cell_centres, noise, polyline_distance, smoothstep

__all__ = ["STREAM", "hill"]

RIDGES = (
    # vertices (x, y, height m), mean slope of the flanks as rise over run, rounding of the crest m
    (
        ((-80, 560, 548), (220, 610, 566), (420, 668, 590), (560, 650, 603), (720, 690, 582), (1180, 640, 560)),
        0.36,
        45.0,
    ),
    (((540, 640, 600), (500, 500, 566), (455, 385, 522), (430, 300, 482)), 0.42, 28.0),
    (((720, 680, 580), (790, 540, 556), (830, 420, 520), (850, 330, 484)), 0.42, 30.0),
    (((220, 600, 560), (190, 470, 530), (150, 350, 492)), 0.40, 30.0),
    (((1010, 650, 565), (1060, 520, 540), (1090, 400, 505)), 0.40, 30.0),
    (((-60, -130, 490), (400, -110, 505), (760, -60, 512), (1160, 40, 520)), 0.30, 40.0),
)
"""What stands up."""

STREAM = (
    (1140, 262, 461.5), (1040, 236, 459.6), (960, 250, 458.0), (880, 222, 456.2), (800, 196, 454.4), (720, 208, 452.8),
    (640, 178, 451.2), (560, 186, 449.6), (480, 158, 448.0), (400, 150, 446.4), (320, 122, 444.9), (240, 118, 443.4),
    (160, 88, 441.8), (80, 92, 440.2), (-40, 70, 438.5),
)  # fmt: skip
"""Bed of the stream, vertices (x, y, height m), downstream; it falls about 2 %."""

GULLIES = (
    # vertices (x, y, depth m), half-width m
    (((318, 560, 0), (322, 480, 4), (305, 380, 8), (318, 280, 8), (300, 190, 4), (296, 130, 1)), 17.0),
    (((650, 600, 0), (640, 520, 5), (655, 420, 9), (632, 310, 9), (652, 230, 4), (640, 180, 1)), 18.0),
    (((930, 590, 0), (942, 500, 4), (930, 400, 7), (950, 310, 6), (958, 252, 1)), 16.0),
    (((560, 470, 0), (572, 400, 3), (560, 320, 5), (540, 240, 3), (540, 186, 1)), 11.0),
    (((80, 520, 0), (72, 420, 4), (60, 320, 6), (70, 200, 4), (76, 96, 1)), 15.0),
    (((420, 760, 0), (400, 830, 5), (360, 930, 7)), 18.0),
    (((800, 760, 0), (820, 830, 5), (850, 930, 7)), 18.0),
    (((520, 20, 0), (540, 90, 4), (556, 180, 1)), 14.0),
)
"""What is cut into the flanks."""

BENCHES = ((461.0, 34.0, 40.0), (471.0, 44.0, 62.0), (481.5, 55.0, 84.0), (492.0, 66.0, 106.0))
"""Floors of the quarry: height m, half-length along the face m, distance of the back wall from the mouth m."""
QUARRY = (836.0, 258.0)
"""Mouth of the quarry; it opens to the south and was worked northwards into the spur."""


def hill() -> Floats:
    """Draw the hill, heights in m, shape (ROWS, COLUMNS), row 0 in the south."""
    x, y = cell_centres()
    bend_x = x + 14.0 * noise(x, y, 120.0, 1) + 4.0 * noise(x, y, 37.0, 2)
    bend_y = y + 14.0 * noise(x, y, 120.0, 3) + 4.0 * noise(x, y, 37.0, 4)
    height = _uplands(bend_x, bend_y)
    height = height + 2.6 * np.sin(height / 11.0 + 1.5 * noise(x, y, 160.0, 5))  # benches in the rock
    for line, half_width_m in GULLIES:
        away, depth = polyline_distance(bend_x, bend_y, line)
        height = height - depth * np.exp(-np.square(away / half_width_m))
    height = height + 1.6 * noise(x, y, 52.0, 6) + 0.55 * noise(x, y, 21.0, 7) + 0.16 * noise(x, y, 8.0, 8)
    height = _quarry(x, y, height)
    return _stream(x, y, height)


def _uplands(x: Floats, y: Floats) -> Floats:
    """Join the ridges and the valley floor by a smooth maximum (softness 6 m)."""
    away, floor = polyline_distance(x, y + 9.0 * noise(x, y, 70.0, 13), STREAM)
    layers = [floor + 1.2 + 0.05 * away]
    for line, fall, rounding_m in RIDGES:
        away, crest = polyline_distance(x, y, line)
        layers.append(crest - fall * (np.hypot(away, rounding_m) - rounding_m))
    top = np.maximum.reduce(layers)
    softness_m = 6.0
    total = sum(np.exp((layer - top) / softness_m) for layer in layers)
    return np.asarray(top + softness_m * np.log(total), dtype=np.float64)


def _quarry(x: Floats, y: Floats, height: Floats) -> Floats:
    """Cut the benches, each a floor with a wall of about 60° behind it."""
    along = x - QUARRY[0] + 5.0 * noise(x, y, 26.0, 9) + 1.5 * noise(x, y, 7.0, 10)
    into = y - QUARRY[1] + 4.0 * noise(x, y, 30.0, 11) + 1.2 * noise(x, y, 7.0, 12)
    for level, half_length_m, back_m in BENCHES:
        rim = np.maximum(np.abs(along) - half_length_m, into - back_m)
        cut = level + 1.7 * np.maximum(rim, 0.0) + 0.01 * into
        inside = (into > -20.0) & (rim < 16.0)
        height = np.where(inside, np.minimum(height, cut), height)
    return height


def _stream(x: Floats, y: Floats, height: Floats) -> Floats:
    """Cut the bed of the stream, 1.1 m deep and about 5 m wide, into the valley floor."""
    wander = 9.0 * noise(x, y, 70.0, 13)
    away, bed = polyline_distance(x, y + wander, STREAM)
    bank = smoothstep((away - 1.6) / 3.0)
    return np.where(away < 6.0, bed * (1.0 - bank) + height * bank, height)
