"""``report.json``: totals that agree with the tables."""

import json

import numpy as np
import pytest

from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, clean
from pipeline.products.report import report, report_text
from pipeline.terms import Verdict
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, no_loops

FACTS = make_facts()


def test_it_is_json_without_nan() -> None:
    """Strict parsers refuse NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(word)

    facts = make_facts()
    facts.loops.loc[0, ["gap", "bound"]] = [np.nan, np.inf]
    found = json.loads(report_text(facts), parse_constant=refuse)
    assert found["loops"][0]["gap"] is None
    assert found["loops"][0]["bound"] is None


def test_head_says_what_and_when_and_under_which_conditions() -> None:
    """Format number, site, time, conditions and the caution."""
    found = report(FACTS)
    assert (found["format"], found["site"], found["built_at"]) == (1, FACTS.site, FACTS.built_at)
    assert found["caution"] == CAUTION
    assert found["conditions"] == {"date": "2025-03-01", "wetness": "damp", "rain_mm": [0.0, 4.5, 1.2]}


def test_totals_agree_with_the_segments() -> None:
    """Length is the sum; coverage is weighed by length: 1 everywhere but 0.57 on the 139 m of the fifth."""
    totals = report(FACTS)["totals"]
    lengths = FACTS.segments["length_m"].to_numpy()
    assert totals["segments"] == 5
    assert totals["length_m"] == pytest.approx(lengths.sum(), abs=0.05)
    assert totals["length_open_m"] == pytest.approx(lengths[:4].sum(), abs=0.05)
    assert totals["height_coverage"] == pytest.approx(1 - 0.43 * lengths[4] / lengths.sum(), abs=1e-4)
    assert totals["segments_without_survey_date"] == 2


def test_every_segment_is_counted_once_for_each_setup_and_direction() -> None:
    """Counts and lengths over the verdicts add up to the network."""
    rows = report(FACTS)["verdicts"]
    assert len(rows) == 4
    total = FACTS.segments["length_m"].sum()
    for row in rows:
        assert list(row["segments"]) == [verdict.value for verdict in Verdict]
        assert sum(row["segments"].values()) == 5
        assert sum(row["length_m"].values()) == pytest.approx(total, abs=0.5)
        own = FACTS.verdicts[
            (FACTS.verdicts["setup"] == row["setup"]) & (FACTS.verdicts["direction"] == row["direction"])
        ]
        assert row["segments"]["barred"] == (own["verdict"] == "barred").sum()


def test_what_is_not_surveyed_is_counted_and_explained() -> None:
    """Each unsurveyed check, by check and by reason; none is folded into another verdict."""
    found = report(FACTS)["unsurveyed"]
    unknown = FACTS.checks[FACTS.checks["verdict"] == "unsurveyed"]
    assert found["checks"] == len(unknown) == sum(found["by_check"].values())
    assert found["segments"] == 2
    assert found["by_reason"] == {"no obstacle survey of this segment": len(unknown)}


def test_deciding_checks_leave_out_what_is_ample() -> None:
    """Which check to look at first when a trail is to be mended."""
    found = report(FACTS)["deciding_checks"]
    assert sum(found.values()) == (FACTS.verdicts["verdict"] != "ample").sum()
    assert list(found.values()) == sorted(found.values(), reverse=True)


def test_loops_carry_value_bound_gap_and_proof() -> None:
    """As in the loops table, with the set-ups they hold for."""
    first, second = report(FACTS)["loops"]
    assert (first["value"], first["bound"], first["gap"], first["proven"]) == (41.5, 41.5, 0.0, True)
    assert (second["rank"], second["proven"], second["legs"]) == (2, False, 3)
    assert first["setups"] == ["Short wagon", "Long wagon"]


def test_loops_not_found_keep_their_reason() -> None:
    """The note of the search is not lost where there is no row."""
    notes = report(FACTS)["loop_notes"]
    assert [note["found"] for note in notes] == [True, False]
    assert "no loop of 9 km" in notes[1]["text"]


def test_warnings_of_setups_are_joined_to_those_of_the_build() -> None:
    """Each once, with the set-up it belongs to."""
    assert report(FACTS)["warnings"] == [
        "elevation model ends before Old adit spur",
        "Long wagon: maker's figures on a modified vehicle: measure it",
    ]


def test_repairs_are_counted_by_kind() -> None:
    """What was mended in the survey files."""
    assert report(FACTS)["repairs"] == {"dropped": 1, "snapped": 1}


@pytest.mark.parametrize("facts", [no_loops(FACTS), hostile_facts()], ids=["no loops", "hostile"])
def test_it_is_written_whatever_the_facts(facts: Facts) -> None:
    """Empty tables and hostile names make a report like any other."""
    found = json.loads(report_text(facts))
    assert found["site"] == clean(facts.site)


def test_hostile_names_are_read_back_whole() -> None:
    """JSON escapes what it must and nothing is lost but control characters."""
    found = json.loads(report_text(hostile_facts()))
    assert {row["setup"] for row in found["verdicts"]} == {clean(HOSTILE[0]), clean(HOSTILE[1])}


def test_no_verdict_word_is_safe() -> None:
    """The word stands only as the name of an objective."""
    assert report_text(FACTS).lower().replace('"objective": "safest"', "").count("safe") == 0
