"""A loop driven the other way round."""

from collections.abc import Sequence

from pipeline.loops.graph import Arcs

__all__ = ["turned_round"]


def turned_round(arcs: Arcs, walk: Sequence[int]) -> list[int] | None:
    """Give *walk* driven the other way round; ``None`` when a traversal is not allowed that way."""
    back = [int(arcs.opposite[arc]) for arc in reversed(walk)]
    return None if -1 in back else back
