"""Techniques that surveyed things exercise: gaps, branches, water, soft ground, ruts, rocks, logs, steps, ditches."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.survey.model import Network
from pipeline.technique.settings import Techniques, thing_key
from pipeline.technique.stretches import DETAILS, intensity
from pipeline.terms import Direction, ObstacleKind

__all__ = ["things"]

_SIZE_OF: Mapping[str, str] = {
    ObstacleKind.GAP: "clear_width_m",
    ObstacleKind.BRANCH: "clear_height_m",
    ObstacleKind.WATER: "depth_m",
    ObstacleKind.SOFT: "length_m",
}
"""Column that holds the size of a kind; ``height_m``, unsigned, for every other."""
_LONG = (ObstacleKind.SOFT, ObstacleKind.RUT)
"""Kinds that are exercised by the metre."""
_TRUNKS = (ObstacleKind.TREE, ObstacleKind.POST)


def things(network: Network, settings: Techniques) -> pd.DataFrame:
    """Find the surveyed things that exercise a technique, in both directions.

    Parameters
    ----------
    network
        Segments and obstacles.
    settings
        Thresholds. Trees and posts in pairs count as a gap; a ford that is only tagged counts as water over the
        whole segment.

    Returns
    -------
    pd.DataFrame
        Columns of :data:`pipeline.technique.stretches.DETAILS`; two rows a thing.
    """
    rows = pd.Series(np.arange(len(network.segments)), index=network.segments["segment_id"])
    obstacles = network.obstacles[network.obstacles["segment_id"].isin(rows.index)]
    obstacles = pd.DataFrame(obstacles[obstacles["chainage_m"].notna()].drop(columns="geometry"))
    obstacles = obstacles.assign(row=obstacles["segment_id"].map(rows).astype(np.int64))
    found = pd.concat(
        [
            _on_trail(obstacles, settings),
            _trunk_gaps(obstacles, settings),
            _tagged_fords(network, obstacles),
        ],
        ignore_index=True,
    )
    return _both_ways(_rated(found, settings, network))


_PLAIN = ("row", "kind", "chainage_m", "length_m", "size", "side", "name", "thing")
"""Columns of a thing before it is rated."""


def _on_trail(obstacles: pd.DataFrame, settings: Techniques) -> pd.DataFrame:
    """Give the obstacles of the listed kinds that a vehicle on the trail meets."""
    known = obstacles[obstacles["kind"].isin([str(kind) for kind in settings.things])]
    near_edge = known["offset_m"].abs() - known["width_m"].fillna(0.0) / 2.0
    across = known["kind"].isin([ObstacleKind.GAP, ObstacleKind.WATER])
    met = known[across | ~(near_edge > settings.reach_m)]
    size = met["height_m"].abs()
    for kind, column in _SIZE_OF.items():
        size = size.where(met["kind"] != kind, met[column])
    up = np.sign(met["height_m"].fillna(0.0)).where(met["kind"] == ObstacleKind.STEP, 0.0)
    return met.assign(size=size, side=up.astype(np.int64), thing=met["obstacle_id"])[list(_PLAIN)]


def _trunk_gaps(obstacles: pd.DataFrame, settings: Techniques) -> pd.DataFrame:
    """Give the gaps between a tree or post on the left and the nearest one on the right.

    The clear width is the distance across between the trunks' edges. Trunks without an offset make no gap.
    """
    trunks = obstacles[obstacles["kind"].isin(_TRUNKS) & obstacles["offset_m"].notna()].sort_values("chainage_m")
    if ObstacleKind.GAP not in settings.things:
        trunks = trunks.iloc[:0]
    edge = trunks["offset_m"].abs() - trunks["width_m"].fillna(0.0) / 2.0
    sides = trunks.assign(edge_m=edge)[["row", "chainage_m", "edge_m", "name"]]
    left = sides[trunks["offset_m"] < 0.0]
    right = sides[trunks["offset_m"] > 0.0].assign(other_m=lambda frame: frame["chainage_m"])
    pairs = pd.merge_asof(
        left,
        right,
        on="chainage_m",
        by="row",
        direction="nearest",
        tolerance=settings.pair_m,  # type: ignore[arg-type] # the stubs know time only
        suffixes=("", "_right"),
    ).dropna(subset="other_m")
    return pairs.assign(
        kind=ObstacleKind.GAP.value,
        chainage_m=(pairs["chainage_m"] + pairs["other_m"]) / 2.0,
        length_m=(pairs["chainage_m"] - pairs["other_m"]).abs(),
        size=pairs["edge_m"] + pairs["edge_m_right"],
        side=0,
        name=pairs["name"].fillna(pairs["name_right"]),
        thing=pd.Series(None, index=pairs.index, dtype="str"),
    )[list(_PLAIN)]


def _tagged_fords(network: Network, obstacles: pd.DataFrame) -> pd.DataFrame:
    """Give the segments that are tagged as a ford and have no surveyed water: water from end to end."""
    segments = network.segments.reset_index(drop=True)
    surveyed = segments.index.isin(obstacles.loc[obstacles["kind"] == ObstacleKind.WATER, "row"])
    fords = segments[segments["ford"] & ~surveyed]
    return pd.DataFrame(
        {
            "row": fords.index.to_numpy(dtype=np.int64),
            "kind": ObstacleKind.WATER.value,
            "chainage_m": fords["length_m"].to_numpy() / 2.0,
            "length_m": fords["length_m"].to_numpy(),
            "size": fords["depth_m"].to_numpy(),
            "side": np.zeros(len(fords), dtype=np.int64),
            "name": pd.Series([None] * len(fords), dtype="str"),
            "thing": pd.Series([None] * len(fords), dtype="str"),
        },
        columns=list(_PLAIN),
    )


def _rated(found: pd.DataFrame, settings: Techniques, network: Network) -> pd.DataFrame:
    """Add technique, extent and intensity; leave out what is known to be too small to count."""
    kinds = found["kind"].astype("str")
    rules = {str(kind): rule for kind, rule in settings.things.items()}
    found = found[kinds.isin(rules)]
    rule = found["kind"].map(rules)
    from_size = rule.map(lambda thing: thing.from_m).to_numpy(dtype=np.float64)
    full_size = rule.map(lambda thing: thing.full_m).to_numpy(dtype=np.float64)
    unknown = rule.map(lambda thing: thing.unknown_intensity).to_numpy(dtype=np.float64)
    size = found["size"].to_numpy(dtype=np.float64)
    share = (size - from_size) / (full_size - from_size)
    length = found["length_m"].fillna(0.0).abs().to_numpy(dtype=np.float64)
    whole = network.segments["length_m"].to_numpy()[found["row"].to_numpy(dtype=np.int64)]
    middle = found["chainage_m"].to_numpy(dtype=np.float64)
    from_m, to_m = np.clip(middle - length / 2.0, 0.0, whole), np.clip(middle + length / 2.0, 0.0, whole)
    long = found["kind"].isin(_LONG).to_numpy()
    rated = found.assign(
        technique=rule.map(lambda thing: thing.technique.value).astype("str"),
        key=found["kind"].map(thing_key).astype("str"),
        from_m=from_m,
        to_m=to_m,
        intensity=np.where(np.isnan(size), unknown, intensity(size, from_size, full_size)),
        amount=np.where(long, np.maximum(to_m - from_m, 1.0), 1.0),
    )
    counting: pd.DataFrame = rated.loc[~(share < 0.0)]
    return counting


def _both_ways(rated: pd.DataFrame) -> pd.DataFrame:
    """Give each thing in both directions of travel; a step up is a step down the other way."""
    ways = [
        rated.assign(direction=pd.Series(way.value, index=rated.index, dtype="str"), side=way.sign * rated["side"])
        for way in Direction
    ]
    return pd.concat(ways, ignore_index=True)[list(DETAILS)]
