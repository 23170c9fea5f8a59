"""The tables of a mixed group: rows of one loop, and the frames of all of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from pipeline.loops.group.bypass_table import bypass_rows, bypasses_frame
from pipeline.loops.group.convoy import convoy_frame, convoy_rows
from pipeline.loops.plan import Plan
from pipeline.loops.request import LoopInputs
from pipeline.loops.solve.hunt import Answer
from pipeline.survey.model import Network

__all__ = ["GroupRows", "GroupTables", "group_rows", "group_tables"]


@dataclass(frozen=True, slots=True)
class GroupRows:
    """Rows of one loop."""

    bypasses: list[dict[str, object]]
    """Of BYPASSES, without their geometry."""
    convoy: list[dict[str, object]]
    """Of CONVOY."""


@dataclass(frozen=True, slots=True)
class GroupTables:
    """The frames of all loops."""

    bypasses: gpd.GeoDataFrame
    """Contract BYPASSES."""
    convoy: pd.DataFrame
    """Contract CONVOY."""


def group_rows(inputs: LoopInputs, plan: Plan, answer: Answer, rank: int) -> GroupRows:
    """Make the rows of one loop: who goes round what, and how descents and places with a spotter are driven.

    Parameters
    ----------
    inputs
        Verdicts, checks, techniques and stopping distances.
    plan
        The request made ready.
    answer
        The loop.
    rank
        Its rank among the alternatives.
    """
    return GroupRows(bypass_rows(inputs, plan, answer, rank), convoy_rows(inputs, plan, answer, rank))


def group_tables(rows: Sequence[GroupRows], network: Network) -> GroupTables:
    """Make the tables BYPASSES and CONVOY of all loops, in the order of *rows*."""
    return GroupTables(
        bypasses=bypasses_frame([row for one in rows for row in one.bypasses], network),
        convoy=convoy_frame([row for one in rows for row in one.convoy]),
    )
