"""The rule for tests that need something the machine may not have."""

import pytest

from tests.tools import NO_SKIP, need


def test_what_is_there_lets_the_test_run() -> None:
    """A condition that holds does nothing."""
    need(condition=True, reason="never shown")


def test_what_is_missing_skips_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the variable, the gap is a skip that carries the reason."""
    monkeypatch.delenv(NO_SKIP, raising=False)
    with pytest.raises(pytest.skip.Exception, match="no browser here"):
        need(condition=False, reason="no browser here")


def test_the_gate_turns_the_skip_into_a_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the variable set to 1, the same gap fails."""
    monkeypatch.setenv(NO_SKIP, "1")
    with pytest.raises(pytest.fail.Exception, match="no browser here"):
        need(condition=False, reason="no browser here")
