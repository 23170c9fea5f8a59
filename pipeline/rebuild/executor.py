"""Workers for the blocks of a stage: this process, a pool of processes, or a Dask cluster.

Every mapper calls the same function on the same blocks and returns the results in the order of the blocks, so that
the tables are the same whoever did the work.
"""

import multiprocessing
import platform
import signal
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from importlib import import_module
from importlib.metadata import version
from typing import Any, TypeVar

from pipeline import __version__
from pipeline.errors import Fault, PipelineError, SettingsError
from pipeline.spread import Mapper, serial

__all__ = ["workers"]

Block = TypeVar("Block")
Result = TypeVar("Result")

_ANSWER_S = 10
"""How long a scheduler may take to answer, seconds."""
_COMPARED = ("numpy", "numba", "rasterio")
"""Packages whose versions must be the same on every worker for the results to be the same."""


@contextmanager
def workers(count: int = 1, cluster: str | None = None) -> Iterator[Mapper]:
    """Give a mapper and end its workers afterwards.

    Parameters
    ----------
    count
        Number of processes; 1 works in this process.
    cluster
        Address of a Dask scheduler such as ``tcp://host:8786``; *count* then does not matter.

    Raises
    ------
    SettingsError
        When the cluster cannot be used: extra not installed, no answer, other versions on the workers.
    PipelineError
        When a worker died.
    """
    if cluster is not None:
        with _cluster(cluster) as mapper:
            yield mapper
    elif count <= 1:
        yield serial
    else:
        with _pool(count) as mapper:
            yield mapper


@contextmanager
def _pool(count: int) -> Iterator[Mapper]:
    """Give a mapper over new processes; they share nothing with this one, whatever libraries it has started."""
    pool = ProcessPoolExecutor(count, multiprocessing.get_context("spawn"), initializer=_leave_interrupts)

    def spread(function: Callable[[Block], Result], blocks: Iterable[Block], /) -> list[Result]:
        try:
            return list(pool.map(function, blocks))
        except BrokenProcessPool as error:
            mend = "if memory ran out, use fewer: --workers 1"
            raise PipelineError(Fault("--workers", str(count), "a worker process died", mend=mend)) from error

    try:
        yield spread
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_interrupts() -> None:
    """Leave Ctrl-C, which every process of a terminal gets, to the process that can clean up."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _cluster(address: str) -> Iterator[Mapper]:
    """Give a mapper over the workers of a Dask scheduler that runs already."""
    try:
        distributed: Any = import_module("distributed")  # an extra, and slow to import
    except ImportError as error:
        mend = "pip install 'loopwright[cluster]'"
        raise SettingsError(Fault("--cluster", "", "needs the extra [cluster]", mend=mend)) from error
    try:
        client = distributed.Client(address, timeout=_ANSWER_S, set_as_default=False)
    except (OSError, ValueError) as error:
        mend = "start one with: dask scheduler"
        raise SettingsError(Fault("--cluster", address, "no scheduler answers there", mend=mend)) from error

    def spread(function: Callable[[Block], Result], blocks: Iterable[Block], /) -> list[Result]:
        try:
            return list(client.gather(client.map(function, list(blocks), pure=False)))
        except distributed.KilledWorker as error:
            mend = "give the workers more memory"
            raise PipelineError(Fault("--cluster", address, "workers died over one block", mend=mend)) from error

    try:
        _compare_versions(client, address)
        yield spread
    finally:
        client.close()


def _compare_versions(client: Any, address: str) -> None:  # noqa: ANN401 - the library is untyped
    """Make sure that every worker runs the same versions as this process."""
    found = client.run(_versions, on_error="return")
    if not found:
        raise SettingsError(Fault("--cluster", address, "the scheduler has no workers", mend="start: dask worker"))
    here = _versions()
    faults = [fault for worker, there in sorted(found.items()) for fault in _differences(worker, here, there)]
    if faults:
        raise SettingsError(faults)


def _differences(worker: str, here: dict[str, str], there: object) -> Iterator[Fault]:
    """Yield what is different on one worker; an error instead of versions means that it lacks the package."""
    mend = f"install loopwright {here['loopwright']} on the worker"
    if not isinstance(there, dict):
        yield Fault("--cluster", worker, f"cannot run loopwright: {there}", mend=mend)
        return
    for name, wanted in here.items():
        if there.get(name) != wanted:
            yield Fault("--cluster", worker, f"{name} {there.get(name)}", f"{name} {wanted}, as here", mend)


def _versions() -> dict[str, str]:
    """Name the versions that decide what a block's result is."""
    python = f"{sys.version_info.major}.{sys.version_info.minor}"
    libraries = {name: version(name) for name in _COMPARED}
    return {"loopwright": __version__, "python": python, "machine": platform.machine(), **libraries}
