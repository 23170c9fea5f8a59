"""Products appear all at once; whatever happens to a run, the build in use stays whole."""

import errno
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from pyogrio.errors import DataSourceError

from pipeline.errors import OutputError
from pipeline.rebuild.publish import builds_folder, check_target, current_build, publish, staging

FILES = ("map.html", "report.json", "loops.gpx")


def build(target: Path, text: str, *, keep: int = 3) -> Path:
    """Publish a build whose files all hold *text*."""
    with staging(target) as folder:
        for name in FILES:
            (folder / name).write_text(text)
        return publish(folder, target, keep=keep)


def held(target: Path) -> set[str]:
    """Read every file of the build in use."""
    return {(target / name).read_text() for name in FILES}


def leftovers(target: Path) -> list[str]:
    """List what lies beside the finished builds."""
    return [path.name for path in builds_folder(target).iterdir() if not path.name.isdigit()]


def test_builds_are_numbered_and_the_oldest_go(tmp_path: Path) -> None:
    """The link points at the newest; as many earlier ones stay as are to be kept."""
    target = tmp_path / "site-build"
    assert current_build(target) is None
    for number in range(1, 6):
        folder = build(target, str(number), keep=2)
        assert held(target) == {str(number)}
        assert current_build(target) == folder
    assert sorted(path.name for path in builds_folder(target).iterdir()) == ["000003", "000004", "000005"]


def test_folders_in_a_build_are_published_too(tmp_path: Path) -> None:
    """Products may stand in folders of their own."""
    target = tmp_path / "site-build"
    with staging(target) as folder:
        (folder / "sheets").mkdir()
        (folder / "sheets" / "round.html").write_text("1")
        publish(folder, target, keep=1)
    assert (target / "sheets" / "round.html").read_text() == "1"


def test_keeping_none(tmp_path: Path) -> None:
    """With nothing to keep only the build in use stays."""
    target = tmp_path / "site-build"
    build(target, "1", keep=0)
    build(target, "2", keep=0)
    assert held(target) == {"2"}
    assert [path.name for path in builds_folder(target).iterdir()] == ["000002"]


def test_the_link_is_relative(tmp_path: Path) -> None:
    """The folder that holds the builds may be moved as a whole."""
    target = tmp_path / "here" / "site-build"
    build(target, "1")
    (tmp_path / "here").rename(tmp_path / "there")
    assert held(tmp_path / "there" / "site-build") == {"1"}


def test_an_empty_folder_is_taken_over(tmp_path: Path) -> None:
    """A folder made in advance is no obstacle."""
    target = tmp_path / "site-build"
    target.mkdir()
    build(target, "1")
    assert target.is_symlink()


@pytest.mark.parametrize("kind", ["folder", "file", "link"])
def test_what_is_not_ours_is_left_alone(tmp_path: Path, kind: str) -> None:
    """Other people's files are never replaced."""
    target, other = tmp_path / "site-build", tmp_path / "other"
    other.mkdir()
    (other / "thesis.txt").write_text("do not lose")
    if kind == "folder":
        other.rename(target)
    elif kind == "file":
        target.write_text("do not lose")
    else:
        target.symlink_to(other)
    with pytest.raises(OutputError, match="move it away or use --out"):
        check_target(target)
    with pytest.raises(OutputError, match="move it away or use --out"), staging(target):
        pytest.fail("nothing may be written")
    assert not builds_folder(target).exists()


@pytest.mark.parametrize("name", [".", "/", ""])
def test_a_name_is_needed(name: str) -> None:
    """Builds stand beside the folder that is named, so it needs a name."""
    with pytest.raises(OutputError, match="a new name, such as site-build"):
        check_target(Path(name))


def test_a_failed_run_leaves_the_build_in_use(tmp_path: Path) -> None:
    """Whatever the body raises, yesterday's products stay and nothing half-done does."""
    target = tmp_path / "site-build"
    build(target, "1")
    with pytest.raises(ZeroDivisionError), staging(target) as folder:
        _ = (folder / "map.html").write_text("2") / 0
    assert held(target) == {"1"}
    assert leftovers(target) == []


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "No space left on device; free some space"),
        (
            OSError(errno.EROFS, "Read-only file system", "/x"),
            "(/x); the file system is read-only: name another folder",
        ),
        (PermissionError(errno.EACCES, "Permission denied"), "name a folder that you may write to"),
        (DataSourceError("database or disk is full"), "cannot be written: database or disk is full"),
    ],
)
def test_errors_of_writing_are_errors_of_the_products(tmp_path: Path, error: Exception, said: str) -> None:
    """A full or read-only disk is told with a way out, and the old build stays."""
    target = tmp_path / "site-build"
    build(target, "1")
    with pytest.raises(OutputError) as caught, staging(target):
        raise error
    assert said in str(caught.value)
    assert str(caught.value).endswith("the previous products are untouched")
    assert held(target) == {"1"}
    assert leftovers(target) == []


FULL = """
import resource, sys
from pathlib import Path
from pipeline.errors import OutputError
from pipeline.rebuild.publish import publish, staging
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    with staging(Path(sys.argv[1])) as folder:
        (folder / "map.html").write_bytes(b"2" * 200_000)
        publish(folder, Path(sys.argv[1]), keep=3)
except OutputError as error:
    print(error)
    sys.exit(error.exit_status)
"""


def test_a_disk_that_really_refuses(tmp_path: Path) -> None:
    """The kernel itself cuts the file off (RLIMIT_FSIZE); status 74, old build whole."""
    target = tmp_path / "site-build"
    build(target, "1")
    done = subprocess.run([sys.executable, "-c", FULL, str(target)], capture_output=True, text=True, check=False)
    assert done.returncode == 74, done.stderr
    assert "forbids files this large" in done.stdout
    assert held(target) == {"1"}
    assert leftovers(target) == []


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """A file in the way of the folders is told."""
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written: Not a directory"):
        build(tmp_path / "file" / "site-build", "1")


def test_a_switch_that_fails_leaves_the_old_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the last step is refused, readers still find the old build."""
    target = tmp_path / "site-build"
    build(target, "1")

    def refuse(_: Path, __: Path) -> Path:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputError, match="on a file system with symbolic links"):
        build(target, "2")
    monkeypatch.undo()
    assert held(target) == {"1"}
    build(target, "3")
    assert held(target) == {"3"}
    assert leftovers(target) == []


KILLED = """
import os, signal, sys
from pathlib import Path
from pipeline.rebuild.publish import staging
with staging(Path(sys.argv[1])) as folder:
    (folder / "map.html").write_text("half")
    print("writing", flush=True)
    signal.pause()
"""


def test_a_killed_run_leaves_the_build_in_use(tmp_path: Path) -> None:
    """SIGKILL in the middle of writing: the old build is whole, and the next run sweeps up."""
    target = tmp_path / "site-build"
    build(target, "1")
    command = [sys.executable, "-c", KILLED, str(target)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "writing\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert held(target) == {"1"}
    assert len(leftovers(target)) == 1
    build(target, "2")
    assert held(target) == {"2"}
    assert leftovers(target) == []


def test_readers_never_see_two_builds_mixed(tmp_path: Path) -> None:
    """A reader that opens the folder and reads all files in it finds one build, over hundreds of switches."""
    target = tmp_path / "site-build"
    build(target, "0", keep=1000)
    stop, torn, reads = threading.Event(), [], 0

    def read() -> None:
        nonlocal reads
        while not stop.is_set():
            folder = os.open(target, os.O_RDONLY | os.O_DIRECTORY)
            try:
                found = {_text(folder, name) for name in FILES}
            finally:
                os.close(folder)
            reads += 1
            if len(found) != 1:
                torn.append(found)

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(1, 201):
        build(target, str(number), keep=1000)
    stop.set()
    reader.join()
    assert torn == []
    assert reads > 100


def _text(folder: int, name: str) -> str:
    """Read one file of an opened folder."""
    handle = os.open(name, os.O_RDONLY, dir_fd=folder)
    with os.fdopen(handle) as file:
        return file.read()


def test_products_can_be_read_by_others(tmp_path: Path) -> None:
    """The folder has the rights of any folder made here, so that a web server can read it."""
    target = tmp_path / "site-build"
    folder = build(target, "1")
    plain = tmp_path / "plain"
    plain.mkdir()
    assert folder.stat().st_mode == plain.stat().st_mode
