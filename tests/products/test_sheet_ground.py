"""What a drive sheet says about stopping and about how sure its verdicts are."""

from dataclasses import replace

import pytest

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, Profiles, legs_of
from pipeline.products.sheet_ground import CANNOT_STOP, doubt_lines, fitness_lines, stop_speeds, stops
from pipeline.products.sheet_pdf import sheet_pdf
from tests.products.ground_worlds import without_ground
from tests.products.test_sheet_pdf import _pages
from tests.products.worlds import make_facts

FACTS = make_facts()
SETUPS = ("Short wagon", "Long wagon")


def _legs(facts: Facts, rank: int = 1) -> list[Leg]:
    return list(legs_of(facts, "Hill round", rank, Profiles(facts.stations)))


def test_a_leg_stops_in_the_longest_distance_of_its_set_ups() -> None:
    """Reaction 8 ÷ 3.6 m and braking 0.6 + 0.1 × grade; whole metres, rounded up; or in words that it cannot."""
    grade = -FACTS.segments["grade_min_deg"].iloc[1]
    longest = 8 / 3.6 + 0.6 + 0.1 * grade
    first, second, third = stops(FACTS, _legs(FACTS), SETUPS)
    assert (first, third) == ("3 m", CANNOT_STOP)
    assert int(second.removesuffix(" m")) - 1 < longest <= int(second.removesuffix(" m"))
    assert CANNOT_STOP not in stops(FACTS, _legs(FACTS), SETUPS[:1])
    assert CANNOT_STOP not in stops(FACTS, _legs(FACTS, 2), SETUPS)


def test_a_leg_without_known_slopes_has_no_distance() -> None:
    """A dash, not a nought."""
    facts = replace(FACTS, stopping=FACTS.stopping[FACTS.stopping["segment_id"] != "s2"])
    assert stops(facts, _legs(facts), SETUPS)[1] == "–"


def test_fitness_is_a_line_a_cell_and_lack() -> None:
    """What it carries is not told; whose check it is only where it is not everybody's."""
    assert fitness_lines(FACTS, SETUPS) == (
        "The elevation model (1 m cells) says nothing about breakover.",
        "The elevation model (1 m cells) tells only clear cases of roll (Long wagon).",
    )
    assert fitness_lines(FACTS, SETUPS[:1]) == ("The elevation model (1 m cells) says nothing about breakover.",)
    bare = FACTS.fitness.assign(cell_m=0.0, support="cannot", check="belly")
    assert fitness_lines(replace(FACTS, fitness=bare), SETUPS) == ("The survey-grade line says nothing about belly.",)
    assert fitness_lines(without_ground(FACTS), SETUPS) == ()


def test_cells_are_written_without_idle_noughts() -> None:
    """0.5 m is 0.5 m; 10 m is not 1 m."""
    for cell, told in ((0.5, "0.5"), (10.0, "10"), (0.25, "0.25")):
        table = FACTS.fitness.assign(cell_m=cell)
        assert fitness_lines(replace(FACTS, fitness=table), SETUPS[:1])[0].startswith(
            f"The elevation model ({told} m cells) says"
        )


def test_doubt_is_told_of_the_legs_only() -> None:
    """Check, segment, verdict and chance; nothing of other set-ups, other segments or the other direction."""
    assert doubt_lines(FACTS, _legs(FACTS), SETUPS) == ("roll on s2 (spot: about 1 in 8)",)
    assert doubt_lines(FACTS, _legs(FACTS)[:1], SETUPS) == ()
    assert doubt_lines(FACTS, _legs(FACTS), ()) == ()
    other = FACTS.checks["direction"] == "against"
    facts = replace(FACTS, checks=FACTS.checks.assign(p_over=FACTS.checks["p_over"].where(other)))
    assert doubt_lines(facts, _legs(facts), SETUPS) == ()
    assert len(doubt_lines(facts, _legs(facts, 2), SETUPS)) == 1


def test_stops_say_from_what_speed() -> None:
    """Once where all drive alike, else each set-up's own."""
    speeds = FACTS.stopping["setup"].map({SETUPS[0]: 8.0, SETUPS[1]: 6.0})
    mixed = replace(FACTS, stopping=FACTS.stopping.assign(speed_kmh=speeds))
    assert stop_speeds(mixed, SETUPS) == f"8 km/h ({SETUPS[0]}) and 6 km/h ({SETUPS[1]})"
    assert stop_speeds(mixed, SETUPS[1:]) == "6 km/h"
    assert stop_speeds(replace(mixed, stopping=mixed.stopping.assign(speed_kmh=8.0)), SETUPS) == "8 km/h"
    assert stop_speeds(without_ground(FACTS), SETUPS) == "the driver's speed"
    assert "from 8 km/h (" in " ".join(sheet_page(mixed).replace("<bdi>", "").split())


def test_page_and_pdf_say_the_same() -> None:
    """Stopping and doubt stand in both."""
    texts = {"page": " ".join(sheet_page(FACTS).split()), "pdf": " ".join(_pages(FACTS))}
    for words in (
        "Stops in",
        "cannot stop",
        "How sure:",
        "The elevation model (1 m cells) says nothing about breakover.",
        "about 1 in 8",
    ):
        for name, text in texts.items():
            assert words in text, (name, words)


def test_without_doubt_and_lack_the_sheet_says_nothing_of_it() -> None:
    """No heading over an empty list."""
    bare = without_ground(replace(FACTS, limits=None))
    assert "How sure" not in sheet_page(bare)
    assert sheet_pdf(bare)


@pytest.mark.parametrize("words", ["safe", "guarantee"])
def test_no_promise(words: str) -> None:
    """Distances are those of the low grip, not a promise."""
    told = " ".join([*fitness_lines(FACTS, SETUPS), *doubt_lines(FACTS, _legs(FACTS), SETUPS)])
    assert words not in told
