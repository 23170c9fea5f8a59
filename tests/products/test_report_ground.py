"""Sums of poses, passings, stopping, doubt, fitness and comparisons, against the tables."""

import json

import numpy as np
import pytest

from pipeline.products.report import report_text
from pipeline.products.report_ground import ground_report
from tests.products.ground_worlds import without_ground
from tests.products.worlds import make_facts

FACTS = make_facts()
FOUND = ground_report(FACTS)


def test_wheels_in_the_air_are_counted_by_wheel() -> None:
    """One of the long wagon; and the least angle left."""
    short, long = FOUND["poses"]
    assert sum(short["wheels_lifted"].values()) == 0
    assert {wheel: count for wheel, count in long["wheels_lifted"].items() if count} == {"front right": 1}
    assert short["poses"] + long["poses"] == 7
    assert FACTS.poses is not None
    table = FACTS.poses.table
    assert long["least_stability_deg"] == round(table.loc[table["setup"] == "Long wagon", "stability_deg"].min(), 1)


def test_passings_add_up_to_the_table() -> None:
    """Every word of the vocabulary, for every set-up."""
    for row in FOUND["passings"]:
        own = FACTS.passings[FACTS.passings["setup"] == row["setup"]]
        assert sum(value for key, value in row.items() if key != "setup") == len(own)
        assert row["straddle"] == (own["passing"] == "straddle").sum() == 2
        assert row["barred"] == 0


def test_where_it_cannot_stop_is_counted_and_left_out_of_the_longest() -> None:
    """Infinity is no distance."""
    short, long = FOUND["stopping"]
    assert (short["cannot_stop"], long["cannot_stop"], long["cannot_stop_typical"]) == (0, 1, 0)
    own = FACTS.stopping[FACTS.stopping["setup"] == "Long wagon"]
    total = own["reaction_m"] + own["brake_low_m"]
    assert long["longest_m"] == pytest.approx(total[np.isfinite(total)].max(), abs=0.05)
    assert long["ways"] == 10


def test_doubt_is_counted() -> None:
    """How many chances are known, and how many made a verdict worse."""
    assert FOUND["doubt"] == {
        "checks": int(FACTS.checks["p_over"].notna().sum()),
        "made_worse": 4,
        "by_check": {"roll": 4},
        "by_verdict": {"watch": 0, "spot": 4, "barred": 0},
    }


def test_fitness_and_comparisons_are_whole() -> None:
    """Every row of the tables, numbers as they are, None where there is none."""
    assert len(FOUND["fitness"]) == len(FACTS.fitness)
    assert {row["support"] for row in FOUND["fitness"]} == {"supports", "doubtful", "cannot"}
    first, second = FOUND["comparisons"]
    assert (first["better"], first["worse"], first["same"], len(first["changed"])) == (1, 2, 7, 3)
    assert first["changed"][2]["used_after"] is None
    assert second["changed"] == []


def test_a_build_without_any_of_it_reports_nothing_of_it() -> None:
    """Empty lists and noughts, in JSON that strict parsers read."""
    bare = ground_report(without_ground(FACTS))
    assert bare["poses"] == bare["fitness"] == bare["comparisons"] == []
    assert [row["longest_m"] for row in bare["stopping"]] == [None, None]
    assert json.loads(report_text(without_ground(FACTS)))["poses"] == []
