"""The report's outlooks against the facts that they come from."""

import json
from dataclasses import replace

from pipeline.products.outlook_facts import loops_under, setups_under
from pipeline.products.report import report, report_text
from pipeline.products.report_outlooks import outlooks_report
from tests.products.worlds import hostile_facts, make_facts

FACTS = make_facts()


def test_every_outlook_has_its_set_ups_and_loops() -> None:
    """In the order of the settings, with the sums of the facts."""
    rain, same = outlooks_report(FACTS)
    assert (rain["outlook"], same["outlook"]) == ("After rain", "Like the day")
    assert rain["weather"] == "ground wet (rain in mm, oldest day first: 0, 4.5, 20)"
    for told, under in zip(rain["setups"], setups_under(FACTS, "After rain"), strict=True):
        assert told["verdicts"] == under.counts
        assert told["verdicts_of_the_day"] == under.before
        assert (told["worse"], told["better"], told["same"]) == (under.worse, under.better, under.same)
    for told, under in zip(rain["loops"], loops_under(FACTS, "After rain"), strict=True):
        assert (told["loop"], told["rank"], told["setup"]) == (under.loop, under.rank, under.setup)
        assert told["can_drive"] is (under.hindrances == ())
        assert told["worst"] == under.verdict
        assert [one["segment_id"] for one in told["hindered_by"]] == [one.segment_id for one in under.hindrances]


def test_what_hinders_is_told_as_the_tables_write_it() -> None:
    """Names of checks are those of the tables; chainages in tenths of a metre, none where there is none."""
    (hindrance,) = outlooks_report(FACTS)[0]["loops"][1]["hindered_by"]
    assert hindrance["check"] == "climb"
    assert hindrance["at_m"] == round(float(FACTS.segments["length_m"].iloc[1]) * 0.4, 1)
    table = FACTS.outlooks.assign(at_m=float("nan"), check="pitch_over")
    (hindrance,) = outlooks_report(replace(FACTS, outlooks=table))[0]["loops"][1]["hindered_by"]
    assert (hindrance["at_m"], hindrance["check"]) == (None, "pitch_over")


def test_it_stands_in_the_report() -> None:
    """Also without outlooks, then empty; and hostile names are JSON like any other."""
    assert json.loads(report_text(FACTS))["outlooks"] == outlooks_report(FACTS)
    bare = replace(FACTS, outlooked=(), outlooks=FACTS.outlooks.iloc[:0])
    assert report(bare)["outlooks"] == []
    assert len(json.loads(report_text(hostile_facts()))["outlooks"]) == 2
