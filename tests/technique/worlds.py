"""Small loops, checks and settings for the techniques and the calls."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString

from pipeline.settings import read_settings
from pipeline.survey.model import Network
from pipeline.tables import CHECKS, LEGS, LINES, LOOPS, PASSINGS, Table, validate
from pipeline.technique.settings import Techniques
from pipeline.terrain.model import Terrain

SETTINGS_FILE = Path(__file__).parents[2] / "configs" / "techniques.toml"


def techniques(**changes: Any) -> Techniques:  # noqa: ANN401 - any settings table may be replaced
    """Read the techniques file that is shipped; *changes* replace values of tables, such as ``calls={...}``."""
    shipped = read_settings(SETTINGS_FILE, Techniques)
    updates = {
        key: getattr(shipped, key).model_copy(update=value) if isinstance(value, Mapping) else value
        for key, value in changes.items()
    }
    return shipped.model_copy(update=updates)


def curved(terrain: Terrain, curvature: Sequence[float] | np.ndarray) -> Terrain:
    """Give the terrain another plan curvature, 1/m at every station, + to the left."""
    values = np.asarray(curvature, dtype=np.float32)
    return replace(terrain, stations=replace(terrain.stations, curvature=values))


def _typed(rows: Sequence[Mapping[str, object]], table: Table) -> pd.DataFrame:
    """Lay out rows in the columns and kinds of a contract."""
    data = pd.DataFrame(list(rows), columns=list(table.names))
    return data.astype({column.name: column.kind.dtype for column in table.columns})


def legs_of(network: Network, *legs: tuple[str, str], loop: str = "round", rank: int = 1) -> pd.DataFrame:
    """Make the legs of one loop from (segment, direction) in driving order."""
    lengths = network.segments.set_index("segment_id")["length_m"]
    starts = np.concatenate([[0.0], np.cumsum([lengths[segment] for segment, _ in legs])])
    rows = [
        {
            "loop": loop,
            "rank": rank,
            "seq": seq + 1,
            "segment_id": segment,
            "direction": direction,
            "start_m": starts[seq],
            "start_min": starts[seq] / 100.0,
            "verdicts": "box: ample",
        }
        for seq, (segment, direction) in enumerate(legs)
    ]
    return validate(_typed(rows, LEGS), LEGS)


def loops_of(network: Network, *names: tuple[str, int]) -> gpd.GeoDataFrame:
    """Make loops (name, rank) whose figures do not matter here."""
    rows = [
        {
            "loop": name,
            "rank": rank,
            "objective": "safest",
            **dict.fromkeys(LOOPS.names[3:10], 1.0),
            "proven": True,
            "bound_name": "exact model",
            "aim": "all-round",
            "laps": 1,
            "outlook": None,
        }
        for name, rank in names
    ]
    shapes = [LineString([(0, 0), (1, 1)])] * len(rows)
    return validate(gpd.GeoDataFrame(_typed(rows, LOOPS), geometry=shapes, crs=network.crs), LOOPS)


def checks_of(*rows: Mapping[str, object]) -> pd.DataFrame:
    """Make checks; what is not given is that of a spotter's breakover at 30 m ``with`` on segment ``a``."""
    blank = {
        "segment_id": "a",
        "setup": "box",
        "direction": "with",
        "check": "breakover",
        "demand": 18.0,
        "limit": 20.0,
        "unit": "deg",
        "limit_typical": np.nan,
        "utilisation": 0.9,
        "at_m": 30.0,
        "verdict": "spot",
        "basis": "dem",
        "demand_sd": np.nan,
        "p_over": np.nan,
        "reason": "breakover 18.0° of 20.0°",
    }
    return validate(_typed([{**blank, **row} for row in rows], CHECKS), CHECKS)


def passings_of(*rows: Mapping[str, object]) -> pd.DataFrame:
    """Make ways past things; what is not given is that of a rock ``o`` at 20 m ``with`` on segment ``a``, straddled."""
    blank = {
        "obstacle_id": "o",
        "segment_id": "a",
        "setup": "box",
        "direction": "with",
        "at_m": 20.0,
        "passing": "straddle",
        "shift_m": 0.0,
        "wheels": None,
        "spare_m": 0.1,
        "speed_kmh": np.nan,
        "reason": "straddle: 0.10 m high",
    }
    return validate(_typed([{**blank, **row} for row in rows], PASSINGS), PASSINGS)


ADVICE = (
    "keep 0.3 m right of the middle past tree Oak on the left: 0.22 m at the left mirror, 0.35 m at the right rear tyre"
)
WHEELS = "; wheels straight for another 2 m, then turn left"


def lines_of(*rows: Mapping[str, object]) -> gpd.GeoDataFrame:
    """Make lines; what is not given is that past tree ``t`` on the left, at 20 m ``with`` on segment ``a``."""
    blank = {
        "segment_id": "a",
        "setup": "box",
        "direction": "with",
        "place": 1,
        "from_m": 12.0,
        "to_m": 28.0,
        "at_m": 20.4,
        "offset_m": 0.3,
        "left_m": 0.22,
        "left_part": "mirror",
        "left_x_m": -0.6,
        "left_at_m": 20.0,
        "left_thing": "t",
        "right_m": 0.35,
        "right_part": "wheel",
        "right_x_m": -2.8,
        "right_at_m": 23.0,
        "right_thing": None,
        "swept_width_m": 2.2,
        "offtracking_m": 0.1,
        "tail_swing_m": 0.05,
        "lock_share": 0.5,
        "missing_m": 0.0,
        "shunt": False,
        "advice": ADVICE + WHEELS,
    }
    filled = [{**blank, "place": k + 1, **row} for k, row in enumerate(rows)]
    shapes = [LineString([(0, 0), (1, 1)])] * len(filled)
    return validate(gpd.GeoDataFrame(_typed(filled, LINES), geometry=shapes, crs="EPSG:32632"), LINES)
