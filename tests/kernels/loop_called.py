"""Parts of the loop search, made to be called from Python: compiled without a wrapper, they cannot be otherwise."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.kernels import loop_books, loop_search
from pipeline.kernels.loop_books import Books, Net
from pipeline.kernels.loop_search import Desk

__all__ = ["book", "draw", "draw_missing", "judge", "spread", "worth"]

Ints = NDArray[np.int64]


@njit
def draw(state: Ints) -> float:
    """Call ``loop_books.draw``."""
    return loop_books.draw(state)


@njit
def book(net: Net, books: Books, arc: int) -> None:
    """Call ``loop_books.book``."""
    loop_books.book(net, books, arc)


@njit
def worth(net: Net, books: Books, arc: int) -> int:
    """Call ``loop_books.worth``."""
    return loop_books.worth(net, books, arc)


@njit
def judge(net: Net, books: Books, out: NDArray[np.float64]) -> None:
    """Call ``loop_books.judge``."""
    loop_books.judge(net, books, out)


@njit
def spread(net: Net, books: Books, desk: Desk) -> int:
    """Call ``loop_search._spread``."""
    return loop_search._spread(net, books, desk)


@njit
def draw_missing(net: Net, books: Books, state: Ints) -> int:
    """Call ``loop_books.draw_missing``."""
    return loop_books.draw_missing(net, books, state)
