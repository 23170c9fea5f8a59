"""Loops in the report: figures, proof, and the tables that come with them."""

import json
from dataclasses import replace

import pandas as pd
import pytest

from pipeline.products.loop_facts import proof
from pipeline.products.report_loops import loops_report
from tests.products.worlds import hostile_facts, make_facts, mixed

FACTS = mixed(make_facts())


def test_a_loop_says_what_was_asked_for() -> None:
    """Objective, aim, laps, set-ups; no weather where it is that of the day."""
    loops = FACTS.loops.assign(laps=[1, 3], outlook=pd.Series([None, "After rain"], dtype="str"))
    first, second = loops_report(replace(FACTS, loops=loops))
    assert (first["aim"], first["laps"], first["outlook"]) == ("all-round", 1, None)
    assert (second["laps"], second["outlook"]) == (3, "After rain")
    assert first["setups"] == ["Short wagon", "Long wagon"]


def test_the_bound_has_its_name() -> None:
    """Figures for other tools, and the same in words."""
    for found, row in zip(loops_report(FACTS), FACTS.loops.itertuples(), strict=True):
        assert (found["bound"], found["bound_name"], found["gap"]) == (row.bound, row.bound_name, row.gap)
        assert found["proof"] == proof(row).line


@pytest.mark.parametrize("name", ["practice", "session", "convoy"])
def test_rows_are_those_of_the_table(name: str) -> None:
    """Every row, in order, with the figures of the table."""
    first, second = loops_report(FACTS)
    table = getattr(FACTS, name)
    assert len(first[name]) == len(table)
    assert second[name] == []
    column = {"practice": "points", "session": "start_min", "convoy": "from_m"}[name]
    assert [row[column] for row in first[name]] == table[column].tolist()


def test_a_way_round_is_taken_apart() -> None:
    """Legs with their directions, minutes of both parts, who waits, why."""
    (found,) = loops_report(FACTS)[0]["bypasses"]
    assert found["way"] == [{"segment_id": "s4", "direction": "with"}]
    assert (found["setup"], found["waits_min"], found["others_min"]) == ("Long wagon", 1.4, 3.0)
    assert found["reason"].startswith("s2 with is barred")


def test_spotters_are_listed_by_set_up() -> None:
    """None where nobody stands."""
    first, second = loops_report(FACTS)[0]["convoy"]
    assert (first["spotter_for"], second["spotter_for"], second["spotter_m"]) == (["Long wagon"], [], None)
    assert second["order"] == ["Long wagon", "Short wagon"]


def test_hostile_texts_are_written() -> None:
    """As JSON without NaN, cleaned."""
    written = json.dumps(loops_report(mixed(hostile_facts())), allow_nan=False, ensure_ascii=False)
    assert "\u2028" not in written
    assert "\x07" not in written
