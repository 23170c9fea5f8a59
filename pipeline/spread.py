"""How a stage spreads its blocks of work: one after another, or over workers.

A stage takes a :data:`Mapper` and calls it with a module-level function and a
list of picklable blocks. Results come back in the order of the blocks, so
that every mapper gives the same tables.
"""

from collections.abc import Callable, Iterable
from typing import Protocol, TypeVar

__all__ = ["Mapper", "serial"]

Block = TypeVar("Block")
Result = TypeVar("Result")


class Mapper(Protocol):
    """Applies a function to blocks; results in the order of the blocks."""

    def __call__(self, function: Callable[[Block], Result], blocks: Iterable[Block], /) -> list[Result]:
        """Apply *function* to each of *blocks*."""
        ...


def serial(function: Callable[[Block], Result], blocks: Iterable[Block], /) -> list[Result]:
    """Apply *function* to each block in this process, one after another."""
    return [function(block) for block in blocks]
