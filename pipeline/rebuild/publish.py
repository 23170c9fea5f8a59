"""Write a build beside the one in use and switch over in one step.

The build folder that the user names is a link; the builds themselves stand in a folder beside it::

    site-build -> site-build.builds/000012     what readers open
    site-build.builds/000011                   earlier builds, as many as are kept
    site-build.builds/.new-k3x9                a build being written; nobody is pointed at it

``rename(2)`` replaces the link in one step (POSIX.1-2017, ``rename``), so that a reader opens the old build or the
new one, never a mixture, and a run that fails or is killed leaves the old build in use. What such a run left behind
is removed by the next one, under the lock.
"""

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pyogrio.errors import DataLayerError, DataSourceError, FeatureError

from pipeline.errors import Fault, OutputError

__all__ = ["builds_folder", "check_target", "current_build", "publish", "staging"]

_NEW = ".new-"
_LINK = ".link-"
_NUMBER = "000000"
_WRITE_ERRORS = (OSError, DataSourceError, DataLayerError, FeatureError)
"""What the writers of the products raise when the disk is full or read-only."""
_MEND = {
    errno.ENOSPC: "free some space",
    errno.EDQUOT: "free some of your quota",
    errno.EROFS: "the file system is read-only: name another folder",
    errno.EACCES: "name a folder that you may write to",
    errno.EPERM: "name a folder that you may write to, on a file system with symbolic links",
    errno.EFBIG: "the file system or a limit of this shell forbids files this large",
}


def builds_folder(target: Path) -> Path:
    """Give the folder beside *target* that holds its builds."""
    return target.with_name(f"{target.name}.builds")


def current_build(target: Path) -> Path | None:
    """Give the folder that *target* points at; ``None`` before the first build."""
    return target.resolve() if target.is_symlink() and target.is_dir() else None


def check_target(target: Path) -> None:
    """Make sure that *target* may be switched: it is free, an empty folder, or a link that this module made.

    Raises
    ------
    OutputError
        When something else stands there.
    """
    if not target.name:
        raise OutputError(Fault(target, "", "is no name for a build folder", "a new name, such as site-build"))
    if target.is_symlink():
        ours = target.parent / target.readlink()
        if ours.parent == builds_folder(target):
            return
        found = f"is a link to {target.readlink()}"
    elif not target.exists() or (target.is_dir() and not any(target.iterdir())):
        return
    else:
        found = "is a folder with other files in it" if target.is_dir() else "is a file"
    raise OutputError(
        Fault(target, "", found, "a new name, an empty folder or an earlier build", "move it away or use --out")
    )


@contextmanager
def staging(target: Path) -> Iterator[Path]:
    """Make a folder for the products of a new build; gone afterwards unless it was published.

    Call under the lock of *target*: what an earlier run left unfinished is removed first.

    Parameters
    ----------
    target
        The build folder that the user named.

    Yields
    ------
    Path
        An empty folder on the same file system. Only products are written in the body: an error of
        writing there is reported as one of the products.

    Raises
    ------
    OutputError
        When the folder cannot be made or something in the body cannot be written.
    """
    check_target(target)
    folder: Path | None = None
    try:
        builds = builds_folder(target)
        builds.mkdir(parents=True, exist_ok=True)
        _clean(builds)
        folder = Path(tempfile.mkdtemp(prefix=_NEW, dir=builds))
        folder.chmod(0o777 & ~_umask())
        yield folder
    except _WRITE_ERRORS as error:
        raise OutputError(_write_fault(target, error)) from error
    finally:
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)


def publish(staged: Path, target: Path, *, keep: int) -> Path:
    """Give a finished build its number, point *target* at it in one step, and drop the oldest builds.

    Parameters
    ----------
    staged
        The folder that :func:`staging` made, with all products in it.
    target
        The build folder that the user named.
    keep
        How many earlier builds stay beside the new one.

    Returns
    -------
    Path
        The folder of the new build.

    Raises
    ------
    OutputError
        When the switch is not possible; *target* then still points at the old build.
    """
    builds = builds_folder(target)
    try:
        _flush(staged)
        folder = builds / _next_number(builds)
        staged.rename(folder)
        _switch(target, folder)
    except OSError as error:
        raise OutputError(_write_fault(target, error)) from error
    for old in _numbered(builds)[: -(keep + 1)]:
        if old != folder:
            shutil.rmtree(old, ignore_errors=True)
    return folder


def _switch(target: Path, folder: Path) -> None:
    """Replace the link *target* in one step."""
    link = folder.parent / f"{_LINK}{folder.name}"
    link.unlink(missing_ok=True)
    link.symlink_to(Path(folder.parent.name) / folder.name, target_is_directory=True)
    if target.is_dir() and not target.is_symlink():
        target.rmdir()  # an empty folder; a link cannot replace it
    link.replace(target)
    _flush_folder(target.parent)


def _numbered(builds: Path) -> list[Path]:
    """List the finished builds, oldest first."""
    return sorted(entry for entry in builds.iterdir() if entry.name.isdigit() and entry.is_dir())


def _next_number(builds: Path) -> str:
    """Give the name of the next build; numbers never go back, whatever the clock does."""
    done = _numbered(builds)
    return f"{int(done[-1].name) + 1 if done else 1:0{len(_NUMBER)}d}"


def _clean(builds: Path) -> None:
    """Remove what killed runs left behind."""
    for entry in builds.iterdir():
        if entry.name.startswith(_NEW):
            shutil.rmtree(entry, ignore_errors=True)
        elif entry.name.startswith(_LINK):
            entry.unlink(missing_ok=True)


def _flush(folder: Path) -> None:
    """Have everything under *folder* on the disk, so that a power cut after the switch loses nothing."""
    for path in sorted(folder.rglob("*")):
        if path.is_dir():
            _flush_folder(path)
        else:
            with path.open("rb") as file:
                os.fsync(file.fileno())
    _flush_folder(folder)


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _umask() -> int:
    """Read the process's umask, which can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _write_fault(target: Path, error: Exception) -> Fault:
    """Make the fault of an error of writing."""
    number = error.errno if isinstance(error, OSError) else None
    said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    name = f" ({error.filename})" if isinstance(error, OSError) and error.filename else ""
    mend = _MEND.get(number, "") if number is not None else ""
    return Fault(target, "", f"cannot be written: {said}{name}", mend="; ".join(filter(None, (mend, _KEPT))))


_KEPT = "the previous products are untouched"
