"""Why a traversal may not be driven, with the check, its figures and the place where it is one."""

from collections.abc import Iterator

import pandas as pd

from pipeline.loops.request import LoopInputs
from pipeline.loops.traversals import DRIVEABLE, Traversal
from pipeline.terms import Verdict

__all__ = ["refusals"]


def refusals(inputs: LoopInputs, traversal: Traversal) -> tuple[str, ...]:
    """Say why the whole group may not drive a traversal, one phrase a reason; empty when it may."""
    shut = [traversal.shut] if traversal.shut else []
    return (*shut, *_refused(inputs, traversal))


def _refused(inputs: LoopInputs, traversal: Traversal) -> Iterator[str]:
    """Yield what stops each set-up that may not drive it."""
    for setup, word in traversal.verdicts:
        verdict = Verdict(word or Verdict.UNSURVEYED)
        if verdict not in DRIVEABLE:
            yield f"{verdict.value} for {setup}{_because(inputs, traversal, setup)}"


def _because(inputs: LoopInputs, traversal: Traversal, setup: str) -> str:
    """Give the check that decides and its sentence; nothing where no verdict was made."""
    spot = {"segment_id": traversal.segment_id, "setup": setup, "direction": traversal.direction.value}

    def rows_of(table: pd.DataFrame) -> pd.DataFrame:
        mine = table
        for column, value in spot.items():
            mine = mine[mine[column] == value]
        return mine

    verdicts = rows_of(inputs.verdicts)
    if verdicts.empty:
        return ""
    check = str(verdicts["check"].iloc[0])
    checks = rows_of(inputs.checks)
    said = checks.loc[checks["check"] == check, "reason"]
    return f": {said.iloc[0]}" if len(said) else f" by {check.replace('_', ' ')}"
