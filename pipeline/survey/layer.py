"""One layer of a survey file as it was read, before anything is understood or changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

__all__ = ["Layer", "Shapes", "plain_key"]

Shapes = NDArray[np.object_]
"""Array of shapely geometries; ``None`` where a feature has none."""


@dataclass(frozen=True, slots=True)
class Layer:
    """Features of one layer; every sequence is parallel to ``shapes``."""

    source: str
    """Name of the source in tables and messages."""
    path: Path
    """The file."""
    shapes: Shapes
    """Geometries in ``crs``."""
    crs: CRS
    """CRS of the geometries."""
    features: Sequence[str]
    """The id of each feature in its source, for messages: ``feature 7``, ``way 123``."""
    tags: Sequence[Mapping[str, object]]
    """Attributes of each feature by plain key (see :func:`plain_key`); missing values may stand as ``None`` or NaN."""


def plain_key(key: str) -> str:
    """Write an attribute's name as it is looked up: small letters, ``_`` for ``:`` and spaces, none around it."""
    return key.strip().lower().replace(":", "_").replace(" ", "_")
