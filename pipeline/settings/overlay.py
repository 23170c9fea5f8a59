"""One table of settings laid over another."""

from collections.abc import Mapping
from typing import Any

__all__ = ["laid_over"]


def laid_over(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Lay *own* over *base*, key by key, tables inside tables too; neither is changed."""
    laid = dict(base)
    for key, value in own.items():
        old = laid.get(key)
        laid[key] = laid_over(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return laid
