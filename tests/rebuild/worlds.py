"""Tiny build folders, written as tables, with answers worked by hand."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

Row = Mapping[str, Any]


def segment(name: str, length_m: float = 100.0, coverage: float = 1.0, trail: str | None = "Trail") -> Row:
    """Give a row of the segments table."""
    return {"segment_id": name, "name": trail, "length_m": length_m, "height_coverage": coverage}


def verdict(name: str, word: str, used: float | None, setup: str = "long", direction: str = "with") -> Row:
    """Give a row of the verdicts table."""
    return {
        "segment_id": name,
        "setup": setup,
        "direction": direction,
        "verdict": word,
        "utilisation": used,
        "check": "roll",
        "at_m": None if used is None else 12.0,
    }


def loop(name: str, length_m: float = 1000.0, value: float = 1.0, rank: int = 1) -> Row:
    """Give a row of the loops table."""
    return {
        "loop": name,
        "rank": rank,
        "objective": "safest",
        "length_m": length_m,
        "time_min": 10.0,
        "worst_utilisation": 0.5,
        "value": value,
    }


def legs(name: str, segments: str, rank: int = 1) -> list[Row]:
    """Give the legs of a loop over segments named by letters, capitals driven against."""
    return [
        {
            "loop": name,
            "rank": rank,
            "seq": seq,
            "segment_id": letter.lower(),
            "direction": "against" if letter.isupper() else "with",
        }
        for seq, letter in enumerate(segments, start=1)
    ]


def write_build(
    folder: Path,
    segments: list[Row],
    verdicts: list[Row],
    loops: list[Row] | None = None,
    driven: list[Row] | None = None,
) -> Path:
    """Write the tables of a build that are compared."""
    folder.mkdir(parents=True)
    empty_loop, empty_leg = loop("x"), legs("x", "a")[0]
    tables = {
        "segments": pd.DataFrame(segments, columns=list(segment("x"))),
        "verdicts": pd.DataFrame(verdicts, columns=list(verdict("x", "ample", 0.1))),
        "loops": pd.DataFrame(loops or [], columns=list(empty_loop)),
        "legs": pd.DataFrame(driven or [], columns=list(empty_leg)),
    }
    for name, frame in tables.items():
        frame.to_parquet(folder / f"{name}.parquet")
    return folder
