"""The Parquet tables: GeoParquet 1.1 where there is a geometry, plain Parquet elsewhere.

Each file says in its own metadata (key ``loopwright``) the format number, the
caution, the warnings of the set-ups and, column by column, unit and meaning. No clock goes in: the same
tables give the same bytes.
"""

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, FORMAT, clean
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
    Kind,
    Table,
    empty,
)

__all__ = ["KEY", "write_parquet"]

KEY = b"loopwright"
"""Key of the project's own entry in the file metadata."""


@dataclass(frozen=True, slots=True)
class _Plan:
    """How one table is written."""

    table: Table
    splits_streams: bool = False
    """Write float columns as byte streams: neighbouring stations differ little, so their high bytes repeat."""


PLANS: Mapping[str, _Plan] = {
    "segments": _Plan(SEGMENTS),
    "stations": _Plan(STATIONS, splits_streams=True),
    "checks": _Plan(CHECKS),
    "verdicts": _Plan(VERDICTS),
    "techniques": _Plan(TECHNIQUES),
    "loops": _Plan(LOOPS),
    "legs": _Plan(LEGS),
    "poses": _Plan(POSES),
    "passings": _Plan(PASSINGS),
    "stopping": _Plan(STOPPING),
    "fitness": _Plan(FITNESS),
    "comparisons": _Plan(COMPARISONS),
    "lines": _Plan(LINES),
    "crossings": _Plan(CROSSINGS),
    "outlooks": _Plan(OUTLOOKS),
    "practice": _Plan(PRACTICE),
    "session": _Plan(SESSION),
    "bypasses": _Plan(BYPASSES),
    "convoy": _Plan(CONVOY),
}
"""Name of the table, which is also the file's stem → how it is written."""


def write_parquet(facts: Facts, folder: Path) -> list[Path]:
    """Write every Parquet table of the build folder, in the order of the contract."""
    return [_write(_frame(facts, name), plan, facts, folder / f"{name}.parquet") for name, plan in PLANS.items()]


def _frame(facts: Facts, name: str) -> pd.DataFrame:
    """Give the frame of a table; poses may not have been made."""
    poses = empty(POSES) if facts.poses is None else facts.poses.table
    frame: pd.DataFrame = poses if name == "poses" else getattr(facts, name)
    return frame.set_crs(facts.crs) if isinstance(frame, gpd.GeoDataFrame) and frame.crs is None else frame


def _write(frame: pd.DataFrame, plan: _Plan, facts: Facts, path: Path) -> Path:
    """Write one frame with the caution and its units in the file metadata."""
    table = _arrow(frame, plan.table)
    table = table.replace_schema_metadata({**(table.schema.metadata or {}), KEY: _about(plan.table, facts)})
    floats = [column.name for column in plan.table.columns if column.kind in {Kind.FLOAT, Kind.FLOAT32}]
    texts = [column.name for column in plan.table.columns if column.kind is Kind.TEXT]
    pq.write_table(
        table,
        path,
        compression="zstd",
        use_dictionary=texts if plan.splits_streams else True,
        use_byte_stream_split=floats if plan.splits_streams else False,
    )
    return path


def _arrow(frame: pd.DataFrame, contract: Table) -> pa.Table:
    """Turn a frame into an Arrow table; geometry as GeoParquet 1.1 with a bounding box a row."""
    frame = frame.reset_index(drop=True)
    if contract.geometry is None or not isinstance(frame, gpd.GeoDataFrame):
        return pa.Table.from_pandas(frame, schema=_schema(contract), preserve_index=False)
    buffer = io.BytesIO()
    frame.to_parquet(buffer, index=False, schema_version="1.1.0", write_covering_bbox=True, compression=None)
    return pq.read_table(io.BytesIO(buffer.getvalue()))


def _schema(contract: Table) -> pa.Schema:
    """Fix the types by contract, so that a table without rows keeps them."""
    kinds = {
        Kind.TEXT: pa.string(),
        Kind.FLOAT: pa.float64(),
        Kind.FLOAT32: pa.float32(),
        Kind.INTEGER: pa.int64(),
        Kind.FLAG: pa.bool_(),
    }
    return pa.schema([(column.name, kinds[column.kind]) for column in contract.columns])


def _about(contract: Table, facts: Facts) -> bytes:
    """Say in JSON what the file is: site, caution, warnings, and unit and meaning of every column."""
    about = {
        "format": FORMAT,
        "table": contract.name,
        "site": clean(facts.site),
        "built_at": clean(facts.built_at),
        "caution": CAUTION,
        "warnings": setup_warnings(facts),
        "columns": {column.name: {"unit": column.unit, "meaning": column.meaning} for column in contract.columns},
    }
    return json.dumps(about, ensure_ascii=False).encode()
