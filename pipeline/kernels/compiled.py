"""How kernels are compiled: kept in numba's cache, without Python's lock, and wrapped only as far as needed.

A wrapper that nobody calls costs a sixth of the time that compiling takes, and a build after an installation waits for
all of it. Parts of kernels are not kept by themselves: a kernel that is kept holds all of its parts.
"""

from collections.abc import Callable
from typing import Any, Protocol, TypeVar

from numba import njit

__all__ = ["bare", "fused", "inner", "kernel"]

Function = TypeVar("Function", bound=Callable[..., object])


class Decorator(Protocol):
    """Compiles a function and leaves its signature as it is."""

    def __call__(self, function: Function, /) -> Function:
        """Decorate *function*."""
        ...


_LEAN: dict[str, Any] = {"no_cfunc_wrapper": True}
_LEANEST: dict[str, Any] = {"no_cfunc_wrapper": True, "no_cpython_wrapper": True}
_BARE: dict[str, Any] = {"_nrt": False}
_FUSED: dict[str, Any] = {"forceinline": True}
"""Options that numba's type stubs do not list."""

kernel: Decorator = njit(cache=True, nogil=True, **_LEAN)
"""Decorates a kernel that Python calls."""
inner: Decorator = njit(nogil=True, **_LEANEST)
"""Decorates a part of a kernel that other compiled code alone calls."""
bare: Decorator = njit(nogil=True, **_BARE, **_LEANEST)
"""Decorates a part that makes no arrays: references to the arrays it is handed are then not counted.

Counting them takes two locked additions for every array of every call, which is more than the arithmetic of a small
part (numba does without it in its own sorting and text in the same way).
"""
fused: Decorator = njit(nogil=True, **_BARE, **_FUSED, **_LEANEST)
"""A bare part that is laid into every place it is called from: for small parts of innermost loops, where handing on
records of arrays takes longer than the work."""
