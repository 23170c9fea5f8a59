"""Conversions between the units users write and the SI units used inside.

Grades are rise over horizontal run inside; drivers read degrees, trail
builders per cent. Every function takes scalars or arrays.
"""

from typing import overload

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "FOOT_M",
    "GRAVITY",
    "INCH_M",
    "KMH",
    "degrees_to_grade",
    "grade_to_degrees",
    "percent_to_degrees",
]

GRAVITY = 9.80665
"""Standard gravity, m/s²."""
KMH = 1.0 / 3.6
"""One km/h in m/s."""
FOOT_M = 0.3048
"""One international foot in metres (exact)."""
INCH_M = 0.0254
"""One international inch in metres (exact)."""

Floats = NDArray[np.floating]


@overload
def grade_to_degrees(grade: float) -> float: ...
@overload
def grade_to_degrees(grade: Floats) -> NDArray[np.float64]: ...
def grade_to_degrees(grade: float | Floats) -> float | NDArray[np.float64]:
    """Convert a grade (rise over horizontal run, signed) to degrees."""
    angle = np.degrees(np.arctan(np.asarray(grade, dtype=np.float64)))
    return float(angle) if angle.ndim == 0 else angle


@overload
def degrees_to_grade(degrees: float) -> float: ...
@overload
def degrees_to_grade(degrees: Floats) -> NDArray[np.float64]: ...
def degrees_to_grade(degrees: float | Floats) -> float | NDArray[np.float64]:
    """Convert an angle in degrees (signed, |angle| < 90) to a grade."""
    grade = np.tan(np.radians(np.asarray(degrees, dtype=np.float64)))
    return float(grade) if grade.ndim == 0 else grade


def percent_to_degrees(percent: float) -> float:
    """Convert a grade in per cent to degrees; 100 % is 45°."""
    return grade_to_degrees(percent / 100.0)
