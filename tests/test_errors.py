"""Errors carry all faults, read as one line each, and cross a process border whole."""

import multiprocessing
import pickle
from concurrent.futures import ProcessPoolExecutor

import pytest

from pipeline import errors
from pipeline.errors import Fault, PipelineError

STATUSES = {
    "SettingsError": 78,
    "DataError": 65,
    "InputMissingError": 66,
    "OutputError": 74,
    "LockHeldError": 75,
    "GateHeldError": 1,
    "ContractError": 70,
}
"""Exit statuses of the sysexits list (``sysexits.h``, FreeBSD manual page sysexits(3)): EX_CONFIG 78, EX_DATAERR 65,
EX_NOINPUT 66, EX_IOERR 74, EX_TEMPFAIL 75, EX_SOFTWARE 70; 1 for the gate is the project's own."""

FAULTS = (Fault("a.toml", "3", "x = 1", "y", "write y"), Fault("b", "", "gone"))


@pytest.mark.parametrize(("name", "status"), STATUSES.items())
def test_statuses_are_the_sysexits_ones(name: str, status: int) -> None:
    """Cron and systemd know these numbers."""
    assert getattr(errors, name).exit_status == status


def test_every_error_is_listed() -> None:
    """No error escapes the table above."""
    assert {kind.__name__ for kind in PipelineError.__subclasses__()} == set(STATUSES)


@pytest.mark.parametrize(
    ("fault", "line"),
    [
        (Fault("a.toml", "3", "x = 1", "y", "write y"), "a.toml:3: x = 1; allowed: y; write y"),
        (Fault("a.toml", "", "gone"), "a.toml: gone"),
        (Fault("a.toml", "3", "two\n  lines", mend="mend\tit"), "a.toml:3: two lines; mend it"),
    ],
)
def test_a_fault_is_one_line(fault: Fault, line: str) -> None:
    """File, place, found, allowed, mend; white space never breaks the line."""
    assert str(fault) == line


def test_one_fault_or_many_or_words() -> None:
    """A bare text, a fault and a list of faults are all taken."""
    assert PipelineError("gone").faults == (Fault("loopwright", "", "gone"),)
    assert PipelineError(FAULTS[0]).faults == FAULTS[:1]
    assert PipelineError(iter(FAULTS)).faults == FAULTS
    assert str(PipelineError(FAULTS)).splitlines() == [str(fault) for fault in FAULTS]


@pytest.mark.parametrize("kind", [PipelineError, *PipelineError.__subclasses__()])
def test_pickling_keeps_the_kind_and_all_faults(kind: type[PipelineError]) -> None:
    """What a worker raises is what the run reports."""
    error = pickle.loads(pickle.dumps(kind(FAULTS)))  # noqa: S301 - made two words earlier
    assert type(error) is kind
    assert error.faults == FAULTS
    assert str(error) == str(kind(FAULTS))


def fail(_: int) -> None:
    """Raise in a worker."""
    raise errors.DataError(FAULTS)


def test_an_error_of_a_worker_arrives_whole() -> None:
    """The same over a real process border."""
    pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("fork"))
    with pool, pytest.raises(errors.DataError) as caught:
        pool.submit(fail, 1).result()
    assert caught.value.faults == FAULTS
