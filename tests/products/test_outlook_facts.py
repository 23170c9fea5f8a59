"""What other weather does, counted and told: against sums by hand over the tiny world."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.products.facts import Outlooked
from pipeline.products.outlook_facts import loop_line, loops_under, outlook_lines, outlook_summary, setups_under
from pipeline.terms import Verdict
from tests.products.outlook_worlds import SHIFTS
from tests.products.worlds import make_facts, mixed, no_loops

FACTS = make_facts()
RAIN, SAME = "After rain", "Like the day"


def test_verdicts_are_counted_beside_those_of_the_day() -> None:
    """Ten verdicts a set-up; the rain shifts one of the short wagon's and two of the long one's."""
    short, long = setups_under(FACTS, RAIN)
    assert (short.setup, long.setup) == ("Short wagon", "Long wagon")
    for under in (short, long):
        own = FACTS.verdicts[FACTS.verdicts["setup"] == under.setup]["verdict"].value_counts()
        assert under.before == {verdict.value: int(own.get(verdict.value, 0)) for verdict in Verdict}
        assert sum(under.counts.values()) == sum(under.before.values()) == under.worse + under.better + under.same == 10
    assert (short.worse, short.better) == (1, 0)
    assert (long.worse, long.better) == (1, 1)
    assert short.counts["barred"] == short.before["barred"] + 1


def test_like_the_day_nothing_shifts() -> None:
    """An outlook equal to the day: all the same, and every loop still driven."""
    for under in setups_under(FACTS, SAME):
        assert (under.worse, under.better, under.same) == (0, 0, 10)
        assert under.counts == under.before
    assert [under.hindrances for under in loops_under(FACTS, SAME)] == [()] * 4


def test_who_can_still_drive_which_loop() -> None:
    """The long wagon is barred on s2 with the line, so on the loop; not on its alternative, which drives s2 against."""
    unders = {(under.rank, under.setup): under for under in loops_under(FACTS, RAIN)}
    assert list(unders) == [(1, "Short wagon"), (1, "Long wagon"), (2, "Short wagon"), (2, "Long wagon")]
    (hindrance,) = unders[1, "Long wagon"].hindrances
    assert (hindrance.segment_id, hindrance.direction, hindrance.verdict) == ("s2", "with", "barred")
    assert (hindrance.name, hindrance.check) == ("Top traverse", "climb")
    assert unders[1, "Long wagon"].verdict == "barred"
    assert [under.hindrances for key, under in unders.items() if key != (1, "Long wagon")] == [()] * 3
    assert [under.title for under in unders.values()] == ["Hill round"] * 2 + ["Hill round, alternative 1"] * 2


def test_what_is_not_known_hinders_as_a_bar_does() -> None:
    """The search takes no leg that is unsurveyed; neither does an outlook."""
    table = FACTS.outlooks.copy()
    own = (table["outlook"] == SAME) & (table["segment_id"] == "s3") & (table["direction"] == "with")
    table.loc[own, "verdict"] = "unsurveyed"
    unders = list(loops_under(replace(FACTS, outlooks=table), SAME))
    assert [len(under.hindrances) for under in unders] == [1, 1, 0, 0]


def test_lines_for_people() -> None:
    """The first leg that stops it with its reason, and how many more do; else how bad it gets."""
    short, long, *_ = loops_under(FACTS, RAIN)
    assert loop_line(short) == "still drives it (spot at worst)"
    assert loop_line(long) == f"cannot drive it: barred on s2 Top traverse (with): {SHIFTS[0][-1]}"
    more = replace(long, hindrances=long.hindrances * 3)
    assert loop_line(more).endswith("; and 2 more legs")
    assert loop_line(replace(long, hindrances=long.hindrances * 2)).endswith("; and 1 more leg")
    nameless = replace(long, hindrances=(replace(long.hindrances[0], name=""),))
    assert "barred on s2 (with): " in loop_line(nameless)


def test_lines_of_a_loop_and_of_the_build() -> None:
    """On the sheet a line an outlook, with every set-up of the loop; after a build, who is stopped where."""
    first, second = outlook_lines(FACTS)["Hill round", 1]
    assert first.startswith(
        "After rain, ground wet (rain in mm, oldest day first: 0, 4.5, 20): Short wagon still drives"
    )
    assert "; Long wagon cannot drive it: barred on s2 Top traverse" in first
    assert second.count("still drives it") == 2
    rain, same = outlook_summary(FACTS)
    assert rain.endswith(": 2 verdicts worse than on the day, 1 better; no longer driven: Hill round (Long wagon)")
    assert same.endswith(": 0 verdicts worse than on the day, 0 better; every loop can still be driven")


@pytest.mark.parametrize(("check", "kept"), [("climb", False), ("ford", True)])
def test_the_sheet_cuts_reasons_to_their_figures(check: str, *, kept: bool) -> None:
    """Save those of water: a depth is not told without what its limit is."""
    barred = FACTS.outlooks["reason"] == SHIFTS[0][-1]
    told = FACTS.outlooks.assign(
        check=FACTS.outlooks["check"].mask(barred, check),
        reason=FACTS.outlooks["reason"].mask(barred, "asks 2 of 1; what lies behind"),
    )
    first, _ = outlook_lines(replace(FACTS, outlooks=told))["Hill round", 1]
    assert "barred on s2 Top traverse (with): asks 2 of 1" in first
    assert ("what lies behind" in first) == kept


def test_without_loops_and_without_outlooks() -> None:
    """Nothing is said of loops that nobody asked for; nothing at all without outlooks."""
    rain, _ = outlook_summary(no_loops(FACTS))
    assert rain.endswith("1 better")
    assert list(loops_under(no_loops(FACTS), RAIN)) == []
    bare = replace(FACTS, outlooked=(), outlooks=FACTS.outlooks.iloc[:0])
    assert list(outlook_summary(bare)) == []
    assert outlook_lines(bare) == {}


def test_a_leg_driven_twice_is_told_once() -> None:
    """A loop that passes the barred leg again names it once."""
    legs = FACTS.legs[FACTS.legs["rank"] == 1]
    again = pd.concat([FACTS.legs, legs.assign(seq=legs["seq"] + 3)], ignore_index=True)
    _, long, *_ = loops_under(replace(FACTS, legs=again), RAIN)
    assert len(long.hindrances) == 1


def test_names_are_cleaned() -> None:
    """Control characters in the name of an outlook do not reach a product."""
    name = "wet\x07\nday"
    facts = replace(FACTS, outlooks=FACTS.outlooks.assign(outlook=name), outlooked=(Outlooked(name, "ground wet"),))
    facts = replace(facts, outlooks=facts.outlooks.iloc[:20])
    (line,) = outlook_lines(facts)["Hill round", 2]
    assert line.startswith("wet\ufffd day, ground wet: ")


def test_what_is_worked_out_stays_with_its_facts() -> None:
    """Asked again the same objects come back; other facts made from these work out their own."""
    facts = make_facts()
    assert loops_under(facts, RAIN) is loops_under(facts, RAIN)
    assert setups_under(facts, RAIN) is setups_under(facts, RAIN)
    other = replace(facts, loops=facts.loops.iloc[:0])
    assert loops_under(other, RAIN) == ()
    assert len(loops_under(facts, RAIN)) == 4


def test_who_goes_round_is_stopped_by_the_way_round_alone() -> None:
    """Rain bars s2, which the long wagon does not drive; what it drives instead is looked at in its place."""
    facts = mixed(make_facts())
    wagon = next(one for one in loops_under(facts, "After rain") if (one.rank, one.setup) == (1, "Long wagon"))
    assert [one.segment_id for one in wagon.hindrances] == ["s4"]
    waiting = replace(facts, bypasses=facts.bypasses.assign(way=""))
    still = next(one for one in loops_under(waiting, "After rain") if (one.rank, one.setup) == (1, "Long wagon"))
    assert still.hindrances == ()
