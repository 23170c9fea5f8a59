"""A build folder and its tables, held to their contracts."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd

from pipeline.tables import (
    BYPASSES,
    CHECKS,
    COMPARISONS,
    CONVOY,
    CROSSINGS,
    FITNESS,
    LEGS,
    LINES,
    LOOPS,
    OUTLOOKS,
    PASSINGS,
    POSES,
    PRACTICE,
    SEGMENTS,
    SESSION,
    STATIONS,
    STOPPING,
    TECHNIQUES,
    VERDICTS,
    Table,
    validate,
)

ROOT = Path(__file__).resolve().parents[2]
TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        SEGMENTS,
        STATIONS,
        CHECKS,
        VERDICTS,
        POSES,
        PASSINGS,
        STOPPING,
        FITNESS,
        COMPARISONS,
        LINES,
        CROSSINGS,
        OUTLOOKS,
        TECHNIQUES,
        LOOPS,
        LEGS,
        PRACTICE,
        SESSION,
        BYPASSES,
        CONVOY,
    )
}


@dataclass(frozen=True)
class Built:
    """A build folder and its tables."""

    folder: Path
    tables: Mapping[str, pd.DataFrame]


def read(folder: Path) -> Built:
    """Read every table of a build folder and hold it to its contract."""
    tables = {}
    for name, contract in TABLES.items():
        reader = pd.read_parquet if contract.geometry is None else gpd.read_parquet
        tables[name] = validate(reader(folder / f"{name}.parquet"), contract)
    return Built(folder, tables)
