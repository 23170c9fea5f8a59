"""Rows of several loops put together."""

from dataclasses import replace

from pipeline.loops.group.tables import group_rows, group_tables
from pipeline.loops.settings import LoopSettings
from tests.loops.group.hand import asked, round_trip, solved


def test_no_bypass_no_rows(settings: LoopSettings) -> None:
    """Without anybody who goes round the tables must be empty and keep their contracts."""
    inputs, plan, answer = solved(round_trip(), settings, replace(asked(510.0), bypass=()))
    tables = group_tables([group_rows(inputs, plan, answer, 1)], inputs.network)
    assert tables.bypasses.empty
    assert tables.convoy.empty
