"""Collects the rows of a linear model as triplets and hands them to HiGHS column by column."""

from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Columns", "Rows", "to_lp"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class Rows:
    """Rows of a linear model, added in blocks."""

    count: int = 0
    row: list[Ints] = field(default_factory=list)
    column: list[Ints] = field(default_factory=list)
    value: list[Floats] = field(default_factory=list)
    lower: list[Floats] = field(default_factory=list)
    upper: list[Floats] = field(default_factory=list)

    def block(self, size: int, lower: ArrayLike, upper: ArrayLike) -> int:
        """Add *size* empty rows with bounds and give the number of the first."""
        first = self.count
        self.count += size
        self.lower.append(np.broadcast_to(np.asarray(lower, dtype=np.float64), (size,)))
        self.upper.append(np.broadcast_to(np.asarray(upper, dtype=np.float64), (size,)))
        return first

    def put(self, row: ArrayLike, column: ArrayLike, value: ArrayLike) -> None:
        """Add entries; the three are broadcast against each other. No entry may be given twice."""
        rows, columns, values = np.broadcast_arrays(row, column, np.asarray(value, dtype=np.float64))
        self.row.append(rows.astype(np.int64).ravel())
        self.column.append(columns.astype(np.int64).ravel())
        self.value.append(values.ravel())


@dataclass(slots=True)
class Columns:
    """Columns of a linear model, added in blocks."""

    count: int = 0
    cost: list[Floats] = field(default_factory=list)
    upper: list[Floats] = field(default_factory=list)
    whole: list[NDArray[np.bool_]] = field(default_factory=list)

    def block(self, size: int, upper: ArrayLike, *, cost: ArrayLike = 0.0, whole: bool = False) -> Ints:
        """Add *size* columns from 0 to *upper* and give their numbers."""
        numbers = np.arange(self.count, self.count + size, dtype=np.int64)
        self.count += size
        self.cost.append(np.broadcast_to(np.asarray(cost, dtype=np.float64), (size,)))
        self.upper.append(np.broadcast_to(np.asarray(upper, dtype=np.float64), (size,)))
        self.whole.append(np.full(size, whole))
        return numbers


def to_lp(rows: Rows, columns: Columns, *, maximise: bool) -> highspy.HighsLp:
    """Assemble the model, its matrix by columns."""
    row, column, value = (np.concatenate(part) for part in (rows.row, rows.column, rows.value))
    order = np.lexsort((row, column))
    lp = highspy.HighsLp()
    lp.num_col_ = columns.count
    lp.num_row_ = rows.count
    lp.sense_ = highspy.ObjSense.kMaximize if maximise else highspy.ObjSense.kMinimize
    lp.col_cost_ = np.concatenate(columns.cost)
    lp.col_lower_ = np.zeros(columns.count)
    lp.col_upper_ = np.concatenate(columns.upper)
    lp.row_lower_ = np.concatenate(rows.lower)
    lp.row_upper_ = np.concatenate(rows.upper)
    whole, part = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
    lp.integrality_ = [whole if flag else part for flag in np.concatenate(columns.whole)]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.concatenate(([0], np.cumsum(np.bincount(column, minlength=columns.count))))
    lp.a_matrix_.index_ = row[order].astype(np.int32)
    lp.a_matrix_.value_ = value[order].astype(np.float64)
    return lp
