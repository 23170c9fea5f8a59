"""What a drive sheet says, against the tables it is made from."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.products.facts import Conditions, Facts
from pipeline.products.lines import rows
from pipeline.products.plain import clean
from pipeline.products.sheet_facts import BEFORE_START, build_warnings, conditions_text, missing, sheets
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, no_loops

FACTS = make_facts()


def test_one_sheet_a_loop_and_alternative() -> None:
    """In the order of the table; an alternative says that it is one."""
    assert [(sheet.title, sheet.rank) for sheet in sheets(FACTS)] == [
        ("Hill round", 1),
        ("Hill round, alternative 1", 2),
    ]


def test_calls_are_those_of_the_table_in_order() -> None:
    """Number, distance along the loop, what is coming, what to do, spotter; alternatives have their own."""
    first, second = sheets(FACTS)
    assert [(call.number, call.at, call.spotter) for call in first.calls] == [
        (1, "40 m", False),
        (2, "290 m", False),
        (3, "420 m", True),
        (4, "690 m", True),
    ]
    assert first.calls[2].coming == "descent of 17° for 38 m"
    assert first.calls[2].before == "low range, first gear; keep the wheels straight"
    assert second.calls == ()


def test_leg_verdicts_come_from_the_verdicts_table() -> None:
    """One word a set-up, for the direction that is driven; names with colons or semicolons do no harm."""
    facts = make_facts(setups=("A: b; c", "D; e: f"))
    verdicts = facts.verdicts.set_index(["segment_id", "setup", "direction"])["verdict"]
    for sheet in sheets(facts):
        legs = facts.legs[facts.legs["rank"] == sheet.rank]
        for line, leg in zip(sheet.legs, legs.itertuples(), strict=True):
            expected = tuple(verdicts[leg.segment_id, setup, leg.direction] for setup in ("A: b; c", "D; e: f"))
            assert line.verdicts == expected
            assert line.direction == leg.direction


def test_set_ups_and_verdicts_stand_in_the_same_order() -> None:
    """A loop that names its set-ups in another order than the site: every verdict stands below its own set-up."""
    facts = replace(FACTS, loop_setups={"Hill round": ("Long wagon", "Short wagon")})
    verdicts = facts.verdicts.set_index(["segment_id", "setup", "direction"])["verdict"]
    sheet = next(sheets(facts))
    assert [setup.name for setup in sheet.setups] == ["Long wagon", "Short wagon"]
    legs = facts.legs[(facts.legs["loop"] == sheet.loop) & (facts.legs["rank"] == 1)].sort_values("seq")
    told = [tuple(verdicts[leg.segment_id, setup.name, leg.direction] for setup in sheet.setups) for leg in rows(legs)]
    assert [line.verdicts for line in sheet.legs] == told
    assert any(one != other for one, other in told)


def test_climb_and_descent_of_a_closed_loop_are_equal() -> None:
    """A loop ends at the height where it started; the closed form of the hill gives 38 m up to its shoulder."""
    first, second = sheets(FACTS)
    figures = dict(first.figures)
    up, down = figures["Climb / descent"].split(" / ")
    assert up == down
    assert dict(second.figures)["Climb / descent"] == f"{down} / {up}"


def test_missing_heights_make_the_climb_a_lower_bound() -> None:
    """What is not known is not counted, and the sheet says so."""
    facts = make_facts()
    facts.stations.loc[facts.stations["segment_id"] == "s2", "z_m"] = np.nan
    assert dict(next(sheets(facts)).figures)["Climb / descent"].startswith("at least ")


def test_the_search_says_what_it_proved() -> None:
    """Value and bound with its name, and what is proven, or by how much it could be bettered at most."""
    first, second = (dict(sheet.figures) for sheet in sheets(FACTS))
    assert first["Value"] == "41.5 m of exposure"
    assert first["Bound, gap"] == "41.5 m of exposure (exact model), 0.0 %"
    assert first["Proof"].startswith("proven: no loop within the settings keeps its worst utilisation below 0.83")
    assert second["Bound, gap"] == "57.5 m of exposure (balance), 8.7 %"
    assert second["Proof"].startswith("not proven: could be bettered by at most 8.7 %")


def test_setups_bring_their_figures_and_warnings() -> None:
    """Only those of the loop; what the verdicts rest on is there to be measured against."""
    facts = replace(FACTS, loop_setups={"Hill round": ("Long wagon",)})
    (setup,) = next(sheets(facts)).setups
    assert (setup.name, setup.driver, setup.state) == ("Long wagon", "first-timer", "normal suspension, roof rack")
    assert ("height", "2.10 m") in setup.figures
    assert setup.warnings == ("maker's figures on a modified vehicle: measure it",)


def test_exits_and_muster_points_say_where_on_the_loop() -> None:
    """Nearest first along the loop; position in WGS 84, latitude first."""
    sheet = next(sheets(FACTS))
    assert [(place.kind, place.name) for place in sheet.places] == [("muster", "Hill top"), ("exit", "North gate")]
    first_leg = FACTS.segments["length_m"].iloc[0]
    assert sheet.places[0].along == f"at {first_leg + 1:.0f} m, on the loop"
    lat, lon = map(float, sheet.places[0].position.split(", "))
    assert 50 < lat < 50.1
    assert 8.7 < lon < 8.8


def test_a_far_exit_says_how_far() -> None:
    """An exit off the loop carries its distance."""
    facts = make_facts()
    facts.obstacles.loc[facts.obstacles["kind"] == "exit", "geometry"] = facts.obstacles.geometry[2].__class__(
        facts.obstacles.geometry[2].x + 400, facts.obstacles.geometry[2].y
    )
    assert "off" in next(sheets(facts)).places[1].along


def test_what_was_not_surveyed_is_listed_by_check_and_reason() -> None:
    """A check that could not be made on a leg stands on the sheet with its reason and the segment."""
    facts = make_facts()
    own = (facts.checks["segment_id"] == "s3") & (facts.checks["check"] == "ford")
    facts.checks.loc[own, ["verdict", "reason"]] = ["unsurveyed", "depth of the water not known"]
    first, second = sheets(facts)
    for sheet in (first, second):
        assert [(gap.what, gap.why, gap.where) for gap in sheet.gaps] == [
            ("ford", "depth of the water not known", "s3")
        ]


def test_gaps_of_other_segments_and_directions_stay_away() -> None:
    """Only what is driven, the way it is driven."""
    facts = make_facts()
    own = (facts.checks["segment_id"] == "s3") & (facts.checks["direction"] == "against")
    facts.checks.loc[own, "verdict"] = "unsurveyed"
    first, second = sheets(facts)
    assert first.gaps == ()
    assert second.gaps


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        (["2025-02-10"] * 3, "surveyed 2025-02-10"),
        (["2025-02-11", None, "2025-01-09"], "surveyed 2025-01-09 to 2025-02-11; without a survey date: s2"),
        ([None] * 3, "no survey date"),
    ],
)
def test_survey_dates_and_their_lack(dates: list[str | None], words: str) -> None:
    """The span of dates over the legs, and which legs have none."""
    facts = make_facts()
    facts.segments["surveyed_on"] = [*dates, "2020-01-01", "2020-01-01"]
    assert next(sheets(facts)).surveyed == words


def test_conditions_in_a_line() -> None:
    """Wetness, day, rain and time of the build; what is not known is not mentioned."""
    assert conditions_text(FACTS) == (
        "ground damp, conditions of 2025-03-01; rain in mm, oldest day first: 0.0, 4.5, 1.2; built 2025-03-01 14:05 UTC"
    )
    bare = replace(FACTS, conditions=Conditions(date=None, wetness="dry"))
    assert conditions_text(bare) == "ground dry; built 2025-03-01 14:05 UTC"


def test_loops_not_found_keep_their_reason() -> None:
    """Only those; a note on a loop that was found is no fault."""
    assert [name for name, _ in missing(FACTS)] == ["Far round"]
    assert "longest is 1.18 km" in missing(FACTS)[0][1]


def test_no_elevation_leaves_the_sheet_standing() -> None:
    """Without stations the sheet says so in words, and nothing breaks."""
    facts = replace(FACTS, stations=FACTS.stations.iloc[:0])
    sheet = next(sheets(facts))
    assert dict(sheet.figures)["Climb / descent"] == "no heights known"
    assert "no heights known" in sheet.profile_svg


@pytest.mark.parametrize("facts", [no_loops(FACTS), hostile_facts()], ids=["no loops", "hostile"])
def test_any_facts_make_sheets(facts: Facts) -> None:
    """As many as there are loops; hostile texts are cleaned once, here."""
    found = list(sheets(facts))
    assert len(found) == len(facts.loops)
    for sheet in found:
        assert {setup.name for setup in sheet.setups} == {clean(HOSTILE[0]), clean(HOSTILE[1])}
        assert np.isfinite(sheet.rank)


def test_checks_before_the_start_fit_a_sheet() -> None:
    """A list that is read aloud: not more than ten lines, each a short one."""
    assert 4 <= len(BEFORE_START) <= 10
    assert max(map(len, BEFORE_START)) < 70


def test_warnings_of_a_set_up_stand_only_where_it_is_driven() -> None:
    """A sheet has the warnings of its own set-ups and those of the whole build, none of another loop's vehicle."""
    own = tuple(f"{envelope.setup}: {warning}" for envelope in FACTS.envelopes for warning in envelope.warnings)
    assert own
    facts = replace(FACTS, warnings=(*FACTS.warnings, *own))
    assert build_warnings(facts) == FACTS.warnings
    for sheet in sheets(facts):
        driven = FACTS.loop_setups[sheet.loop]
        assert {setup.name for setup in sheet.setups} <= set(driven)


def test_where_to_act_is_said_once() -> None:
    """The lead that most calls share leaves the calls and stands on the sheet; any other stays with its call."""
    texts = ["15 m before: slow", "15 m before: stop", "4 m before: look", "before moving off: belts"]
    facts = replace(FACTS, calls=FACTS.calls.iloc[:4].assign(loop="Round", rank=1, before=texts))
    facts = replace(facts, loops=facts.loops.iloc[:1].assign(loop="Round", rank=1))
    facts = replace(facts, legs=facts.legs[facts.legs["rank"] == 1].assign(loop="Round"))
    (sheet,) = sheets(facts)
    assert sheet.lead == "15 m"
    assert [call.before for call in sheet.calls] == ["slow", "stop", "4 m before: look", "before moving off: belts"]


def test_a_sheet_without_a_lead_says_nothing_of_it() -> None:
    """Calls that are acted on where they stand leave the lead empty."""
    facts = replace(FACTS, calls=FACTS.calls.assign(before="here: stop"))
    assert {sheet.lead for sheet in sheets(facts)} == {""}
