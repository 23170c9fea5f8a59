"""The shared way to draw a verdict: readable with every common colour vision, and without colour."""

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.products.palette import LOOP, PATTERNS, RAMP, SIGNS, UNKNOWN, WORDS, colour
from pipeline.terms import ObstacleKind, Verdict

# Severe deficiency (severity 1.0) in linear RGB: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A
# physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15(6), 2009, table of matrices.
# The values stand here from memory, not verified against the print.
VISIONS = {
    "common": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
}


def _linear(hex_colour: str) -> NDArray[np.float64]:
    """Undo the transfer function of sRGB (IEC 61966-2-1)."""
    value = np.array([int(hex_colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _lab(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn linear sRGB into CIE L*a*b* (1976), white D65."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ np.clip(
        linear, 0, 1
    )
    ratio = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_ramp_darkens_evenly() -> None:
    """Perceptually uniform: lightness falls at every step, no step more than 1.6 times the mean."""
    lightness = np.array([_lab(_linear(step))[0] for step in RAMP])
    falls = -np.diff(lightness)
    assert (falls > 0).all()
    assert falls.max() < 1.6 * falls.mean()
    assert lightness[0] - lightness[-1] > 70


@pytest.mark.parametrize("vision", VISIONS)
def test_neighbouring_steps_are_told_apart(vision: str) -> None:
    """The difference between neighbours stays above 5 (CIE 1976) in every vision: twice what is just noticeable."""
    seen = [_lab(VISIONS[vision] @ _linear(step)) for step in RAMP]
    assert min(math.dist(a, b) for a, b in pairwise(seen)) > 5


@pytest.mark.parametrize("vision", VISIONS)
def test_the_loop_stands_out_from_the_ramp(vision: str) -> None:
    """The band of a loop is no step of the ramp."""
    loop = _lab(VISIONS[vision] @ _linear(LOOP))
    assert min(math.dist(loop, _lab(VISIONS[vision] @ _linear(step))) for step in RAMP) > 15


def test_patterns_tell_verdicts_apart_without_colour() -> None:
    """Width, dash or the words of what is laid on top differ for any two verdicts."""
    assert set(PATTERNS) == set(WORDS) == set(Verdict)
    assert len({pattern.words for pattern in PATTERNS.values()}) == len(Verdict)
    drawn = {(PATTERNS[v].width, PATTERNS[v].dash) for v in (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)}
    assert len(drawn) == 3


def test_colour_follows_utilisation_and_stops_at_the_limit() -> None:
    """0 is the pale end, 1 and everything over it the dark end, unknown is grey."""
    assert colour(0.0) == colour(-0.2) == RAMP[0]
    assert colour(1.0) == colour(7.5) == RAMP[-1]
    assert colour(0.55) == RAMP[5]
    assert colour(None) == colour(math.nan) == UNKNOWN


def test_every_kind_has_a_sign() -> None:
    """No obstacle is left without a mark, and no two share one."""
    assert set(SIGNS) == set(ObstacleKind)
    assert len(set(SIGNS.values())) == len(SIGNS)
