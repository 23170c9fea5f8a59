"""Keep two runs into the same build folder apart."""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.errors import Fault, LockHeldError, OutputError
from pipeline.rebuild.publish import builds_folder

__all__ = ["hold"]


@contextmanager
def hold(target: Path) -> Iterator[None]:
    """Hold the lock of the build folder *target*.

    The lock is the kernel's (``flock``), so that it is free again as soon as its holder ends, however it ends.

    Raises
    ------
    LockHeldError
        At once, when another run holds it.
    OutputError
        When the lock file cannot be made.
    """
    builds = builds_folder(target)
    lock = FileLock(builds / ".lock", timeout=0)
    holder = builds / ".holder.json"
    try:
        builds.mkdir(parents=True, exist_ok=True)
        lock.acquire()
    except Timeout as error:
        found = f"another run is building here{_who(holder)}"
        raise LockHeldError(Fault(target, "", found, mend="wait for it to end")) from error
    except (OSError, NotImplementedError) as error:
        raise OutputError(Fault(target, "", f"cannot be written: {error}", mend="use --out")) from error
    try:
        _sign(holder)
        yield
    finally:
        holder.unlink(missing_ok=True)
        lock.release()


def _sign(holder: Path) -> None:
    """Note who holds the lock, for the message of the run that does not get it."""
    now = datetime.now(tz=UTC).isoformat(timespec="seconds")
    try:
        holder.write_text(json.dumps({"process": os.getpid(), "since": now}), encoding="utf-8")
    except OSError as error:
        raise OutputError(Fault(holder, "", f"cannot be written: {error.strerror}")) from error


def _who(holder: Path) -> str:
    """Say who holds the lock; empty when that is not known."""
    try:
        note = json.loads(holder.read_text(encoding="utf-8"))
        return f" (process {note['process']} since {note['since']})"
    except (OSError, ValueError, KeyError, TypeError):
        return ""
