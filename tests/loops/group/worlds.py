"""Worlds for mixed groups: grounds some of which only a part of the group may drive."""

from dataclasses import replace

import numpy as np
import pandas as pd

from pipeline.loops.request import LoopInputs
from pipeline.loops.settings import LoopSettings
from pipeline.technique.practice import Practice
from pipeline.terms import Driver, Verdict
from tests.loops.worlds import DRIVERS, PLAIN, World, ground, tiny

__all__ = ["THREE", "mixed", "three", "tiny_mixed"]

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
