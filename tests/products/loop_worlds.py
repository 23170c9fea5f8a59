"""What comes with the loops of the tiny world: practice, a session plan, a way round and descents in company.

The long wagon leaves the loop at the end of s1 and comes back at the end of s2, by s4: invented, for s4 ends on s3.
"""

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.tables import BYPASSES, CONVOY, PRACTICE, SESSION, validate

LOOP = "Hill round"
PRACTISED = (
    ("climb", 3, 160.0, 80.0, 72.0, 120.0, 180.0, 300.0),
    ("descent", 3, 160.0, 0.0, 0.0, 120.0, 0.0, 300.0),
    ("water", 1, 2.0, 1.0, 0.7, 1.0, 70.0, 100.0),
)
"""Technique, weight, available, in the loop, fitting, saturation, points, points of full practice."""

STAGES = (
    (0.0, 0.0, 0.0, "start", "Gate", np.nan, np.nan, "Set out from Gate."),
    (0.4, 3.0, 40.0, "coaching", "call 1", np.nan, np.nan, "Stand and talk before call 1: climb."),
    (5.2, 0.0, 265.4, "split", "s1, s2, s4", 265.4, 2.4, "Long wagon leaves the loop for bypass 1."),
    (
        5.2,
        0.0,
        265.4,
        "way out",
        "s1, s2, s4",
        265.4,
        2.4,
        "way out: back by s1 is 532 m and 9 min shorter than going on.",
    ),
    (8.0, 1.4, 456.8, "meet", "s2, s3", 500.2, 3.4, "Long wagon comes back; it waits about 1 min."),
    (8.4, 0.0, 456.8, "last turn", "s2, s3", 456.8, 4.1, "The last place where turning back saves time."),
    (14.2, 0.0, 1010.0, "finish", "Gate", 0.0, 0.0, "Back at Gate."),
)
"""Minute, duration, distance, stop, place, way home in metres and minutes, words."""


def loops_of(setups: Sequence[str], mark: str) -> dict[str, Any]:
    """Give the tables but that of the ways round; *mark* is appended to every text that a person may have written."""
    return {
        "practice": _practice(),
        "session": _session(mark),
        "convoy": _convoy(setups, mark),
    }


def _head(count: int) -> dict[str, Any]:
    return {"loop": [LOOP] * count, "rank": [1] * count}


def _practice() -> pd.DataFrame:
    columns = dict(zip(PRACTICE.names[2:], map(list, zip(*PRACTISED, strict=True)), strict=True))
    return validate(pd.DataFrame({**_head(len(PRACTISED)), **columns}), PRACTICE)


def _session(mark: str) -> pd.DataFrame:
    names = ("start_min", "for_min", "at_m", "stop", "place", "home_m", "home_min", "text")
    columns = dict(zip(names, map(list, zip(*STAGES, strict=True)), strict=True))
    columns["place"] = [f"{place}{mark}" for place in columns["place"]]
    columns["text"] = [f"{words}{mark}" for words in columns["text"]]
    seq = {"seq": list(range(1, len(STAGES) + 1))}
    return validate(pd.DataFrame({**_head(len(STAGES)), **seq, **columns})[list(SESSION.names)], SESSION)


def bypasses_of(segments: gpd.GeoDataFrame, setup: str, mark: str) -> gpd.GeoDataFrame:
    """Give the one way round, by s4; *mark* ends its reason."""
    line = segments.set_index("segment_id").geometry["s4"]
    first, second = segments["length_m"].tolist()[:2]
    columns = {
        "bypass": 1,
        "setup": setup,
        "split_node": 1,
        "meet_node": 2,
        "split_m": first,
        "meet_m": first + second,
        "way": "s4 with",
        "length_m": line.length,
        "time_min": 1.6,
        "others_min": 3.0,
        "waits_min": 1.4,
        "worst_utilisation": 0.42,
        "reason": f"s2 with is barred: climb ({mark})",
    }
    frame = pd.DataFrame({**_head(1), **{name: [value] for name, value in columns.items()}})
    return validate(gpd.GeoDataFrame(frame, geometry=[line], crs=segments.crs), BYPASSES)


def _convoy(setups: Sequence[str], mark: str) -> pd.DataFrame:
    columns = {
        "stretch": [1, 2],
        "segment_id": ["s2", "s3"],
        "from_m": [400.0, 600.0],
        "to_m": [440.0, 720.0],
        "order": ["; ".join(setups), "; ".join(reversed(setups))],
        "one_at_a_time": [True, False],
        "spacing_m": [40.0, 22.4],
        "spotter_m": [425.0, np.nan],
        "spotter_for": pd.Series([setups[-1], None], dtype="str"),
        "text": [f"One at a time down s2.{mark}", f"Keep apart down s3.{mark}"],
    }
    return validate(pd.DataFrame({**_head(2), **columns}), CONVOY)
