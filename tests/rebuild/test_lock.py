"""Two runs into one build folder are kept apart; a run that died holds nothing."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.errors import LockHeldError, OutputError
from pipeline.rebuild.lock import hold
from pipeline.rebuild.publish import builds_folder

HOLDER = """
import signal, sys
from pathlib import Path
from pipeline.rebuild.lock import hold
with hold(Path(sys.argv[1])):
    print("held", flush=True)
    signal.pause()
"""


def test_a_second_process_is_refused_at_once_until_the_first_ends(tmp_path: Path) -> None:
    """While another process holds the lock this one is told who; after SIGKILL of the holder it is free."""
    target = tmp_path / "site-build"
    with subprocess.Popen([sys.executable, "-c", HOLDER, str(target)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        with (
            pytest.raises(LockHeldError, match=rf"process {process.pid} since 2\d\d\d-.*wait for it to end"),
            hold(target),
        ):
            pytest.fail("the lock is held")
        process.send_signal(signal.SIGKILL)
        process.wait()
    with hold(target):
        pass


def test_it_is_free_after_use_and_after_an_error(tmp_path: Path) -> None:
    """However the body ends, the next run gets the lock."""
    target = tmp_path / "site-build"
    with pytest.raises(ZeroDivisionError), hold(target):
        _ = 1 / 0
    with hold(target), hold(tmp_path / "another"):
        pass
    assert not (builds_folder(target) / ".holder.json").exists()


def test_a_damaged_note_of_the_holder_is_no_matter(tmp_path: Path) -> None:
    """Who holds the lock is a courtesy; without it the run is refused all the same."""
    target = tmp_path / "site-build"
    with hold(target):
        (builds_folder(target) / ".holder.json").write_text("{")
        with pytest.raises(LockHeldError, match="another run is building here; wait"), hold(target):
            pytest.fail("the lock is held")


def test_a_lock_that_cannot_be_made(tmp_path: Path) -> None:
    """Where nothing can be written, that is the news."""
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"cannot be written: .*use --out"), hold(tmp_path / "file" / "site-build"):
        pytest.fail("nothing can be held")


def test_a_note_that_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that is full already at the lock is an error of writing, and the lock is free afterwards."""

    def refuse(*_: object, **__: object) -> int:
        raise OSError(28, "No space left on device")

    target = tmp_path / "site-build"
    monkeypatch.setattr(Path, "write_text", refuse)
    with pytest.raises(OutputError, match="cannot be written: No space left on device"), hold(target):
        pytest.fail("nothing may be built")
    monkeypatch.undo()
    with hold(target):
        pass
