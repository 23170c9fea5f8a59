"""What a test needs beyond the package: asked for in one place, skipped or failed by one rule.

On a developer's machine a missing tool skips the test and says why. Where
``LOOPWRIGHT_NO_SKIP=1`` is set (the gate that decides whether a change goes
in) the same gap fails it, so that a check cannot fall out of use unnoticed.
"""

import os

import pytest

__all__ = ["NO_SKIP", "need"]

NO_SKIP = "LOOPWRIGHT_NO_SKIP"
"""Environment variable that turns every skip for a missing tool into a failure."""


def need(condition: bool, reason: str) -> None:  # noqa: FBT001 — reads as a sentence: need(tool is there, "…")
    """Skip the running test unless *condition* holds; fail it where skips are not allowed.

    Parameters
    ----------
    condition
        Whether what the test needs is there.
    reason
        What is missing, for the report: "Chromium is not installed".
    """
    if condition:
        return
    if os.environ.get(NO_SKIP) == "1":
        pytest.fail(f"{reason}; {NO_SKIP}=1 does not let this test be skipped", pytrace=False)
    pytest.skip(reason)
