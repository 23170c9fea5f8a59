"""Worlds for mixed groups: grounds some of which only a part of the group may drive."""

from dataclasses import replace

import numpy as np
import pandas as pd

from pipeline.loops.request import LoopInputs
from pipeline.loops.settings import LoopSettings
from pipeline.technique.practice import Practice
from pipeline.terms import Direction, Driver, Technique, Verdict
from tests.loops.worlds import DRIVERS, PLAIN, Trail, World, ground, tiny

__all__ = ["THREE", "mixed", "small", "three", "tiny_mixed"]

THREE = ("wagon", "truck", "van")
"""Set-ups of :func:`three`."""


def mixed(segments: int, seed: int, share: float = 0.2) -> World:
    """Make a ground with a *share* of its segments barred for the wagon; ask with ``bypass=("wagon",)``."""
    return _barred(ground(segments, seed), seed, share)


def tiny_mixed(seed: int, share: float = 0.35) -> World:
    """Make a tiny net with a *share* of its segments barred for the wagon, some of them one way only."""
    return _barred(tiny(seed), seed, share)


def _barred(world: World, seed: int, share: float) -> World:
    rng = np.random.default_rng(1000 + seed)
    for trail in world.trails:
        draw = rng.random(2)
        if draw[0] < share:
            word = Verdict.UNSURVEYED if draw[1] < 0.2 else Verdict.BARRED
            one_way = draw[1] > 0.8
            trail.verdict = (word, trail.verdict[1] if one_way else word)
    return world


def three(
    world: World, settings: LoopSettings, seed: int, share: float = 0.25, practice: Practice = PLAIN
) -> LoopInputs:
    """Make the tables with a van besides, for which another *share* of the segments is barred, both ways."""
    inputs = world.inputs(settings, practice)
    rng = np.random.default_rng(2000 + seed)
    barred = {f"s{n:03d}" for n in range(len(world.trails)) if rng.random() < share}

    def with_van(frame: pd.DataFrame) -> pd.DataFrame:
        van = frame.loc[frame["setup"] == "truck"].copy()
        van["setup"] = "van"
        van.loc[van["segment_id"].isin(barred), "verdict"] = Verdict.BARRED.value
        return pd.concat([frame, van], ignore_index=True)

    return replace(
        inputs,
        checks=with_van(inputs.checks),
        verdicts=with_van(inputs.verdicts),
        drivers={**DRIVERS, "van": Driver.EXPERT},
    )


def small(seed: int) -> World:
    """Make a net on nine places of a square grid, with corners of every kind, some of it barred for the wagon."""
    rng = np.random.default_rng(3000 + seed)
    places = [0, 1, 2, 7, 8, 9, 14, 15, 16]
    near = [(a, b) for a in places for b in places if a < b and abs(a % 7 - b % 7) <= 1 and abs(a // 7 - b // 7) <= 1]
    order = rng.permutation(len(near))
    ends = [near[n] for n in order[:11]]
    if not any(8 in pair for pair in ends):
        ends[0] = (7, 8)
    trails = []
    for a, b in ends:
        used = tuple(float(u) for u in rng.uniform(0.3, 0.9, 2))
        words = tuple(Verdict.SPOT if u > 0.8 else Verdict.WATCH if u > 0.6 else Verdict.AMPLE for u in used)
        kind = (Technique.CREST, Technique.CLIMB, Technique.ROCK, Technique.SIDE_SLOPE)[int(rng.integers(4))]
        amount = 1.0 if kind in (Technique.CREST, Technique.ROCK) else 60.0
        runs = tuple((kind, way, amount) for way in Direction if rng.random() < 0.6)
        trails.append(
            Trail(a, b, float(np.round(rng.uniform(60.0, 180.0), 1)), 0, utilisation=used, verdict=words, runs=runs)
        )
    turning = {n for n in places if rng.random() < 0.25}
    return _barred(World(trails, turning, trailhead=8), seed, 0.35)
