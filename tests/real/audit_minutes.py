"""The minutes of a leg worked out again from stations, verdicts, techniques and the settings as TOML says them."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

__all__ = ["Ground", "coaching_min", "driving_min"]

STRETCH_M = 10.0
GROUND = {"climb", "descent", "side slope", "crest", "dip", "cross-axle", "tight turn"}
"""What is called from the intensity of ground on; the rest from that of things."""


@dataclass(frozen=True)
class Ground:
    """One segment, driven in one direction."""

    length_m: float
    backwards: bool
    surface: str
    wetness: str
    stations: pd.DataFrame
    """Chainage and grade along the digitised direction."""

    def grades(self) -> list[float]:
        """Give the mean grade of equal stretches of about ten metres, + uphill as driven, degrees; NaN if unknown."""
        pieces = max(1, min(round(self.length_m / STRETCH_M), len(self.stations) - 1))
        found: list[list[float]] = [[] for _ in range(pieces)]
        for chainage, grade in zip(self.stations["chainage_m"], self.stations["grade_deg"], strict=True):
            if not math.isnan(grade):
                found[min(int(chainage / self.length_m * pieces), pieces - 1)].append(math.tan(math.radians(grade)))
        sign = -1.0 if self.backwards else 1.0
        return [sign * math.degrees(math.atan(sum(one) / len(one))) if one else math.nan for one in found]


def driving_min(ground: Ground, verdict: str, pace: Mapping[str, float], judgement: Mapping[str, Any]) -> float:
    """Drive a leg with one driver: verdict and surface, capped by the grade."""
    classes = judgement["surface"]
    shares = classes.get(ground.surface, classes["other"])
    share = shares["wet" if ground.wetness in ("wet", "soaked") else "dry"]
    grades = ground.grades()
    total = 0.0
    for grade in grades:
        if math.isnan(grade):
            cap = pace["watch_kmh"] * share
        else:
            side = "down" if grade < 0.0 else "up"
            rule = judgement["grade"]
            cap = pace["grade_share"] * float(np.interp(abs(grade), rule[f"{side}_deg"], rule[f"{side}_kmh"]))
        total += ground.length_m / len(grades) * 0.06 / min(pace[f"{verdict}_kmh"] * share, cap)
    return total


def coaching_min(
    runs: Sequence[tuple[str, float, float]], taught: Mapping[str, Mapping[str, float]], calls: Mapping[str, float]
) -> float:
    """Stop once for each call: technique, distance where it begins, intensity of each run of a leg."""
    called = sorted(
        (at, taught[technique]["coaching_min"])
        for technique, at, intensity in runs
        if technique in taught
        and intensity >= calls["from_intensity" if technique in GROUND else "thing_from_intensity"]
    )
    total, begun, longest = 0.0, -math.inf, 0.0
    for at, minutes in called:
        if at - begun > calls["spacing_m"]:
            total, begun, longest = total + longest, at, 0.0
        longest = max(longest, minutes)
    return total + longest
