"""Faults of many files are collected and raised as one error whose kind is that of the worst."""

import pytest

from pipeline.errors import Fault, InputMissingError, OutputError, SettingsError
from pipeline.project.collect import Collected

WRONG, GONE = Fault("a", "1", "wrong"), Fault("b", "", "gone")


def refuse(error: Exception) -> None:
    """Raise *error*."""
    raise error


def test_settings_win_over_missing_files() -> None:
    """78 when anything is wrong in the settings, with the missing files listed too; 66 when only files are missing."""
    found = Collected()
    assert found.attempt(lambda: 3) == 3
    found.raise_any()
    assert found.attempt(lambda: refuse(InputMissingError([GONE, GONE]))) is None
    with pytest.raises(InputMissingError) as missing:
        found.raise_any()
    assert missing.value.faults == (GONE,)
    assert found.attempt(lambda: refuse(SettingsError([WRONG]))) is None
    with pytest.raises(SettingsError) as wrong:
        found.raise_any()
    assert wrong.value.faults == (WRONG, GONE)


def test_other_errors_pass_through() -> None:
    """What is no fault of an input is not collected."""
    with pytest.raises(OutputError):
        Collected().attempt(lambda: refuse(OutputError("full")))
