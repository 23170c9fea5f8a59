"""Ways past things, and stopping distances, as the map page carries them, decoded by a plain twin."""

import math

import numpy as np
import pytest

from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE, WAYS
from pipeline.products.map_notes import NEVER, PASSINGS, passings, stopping
from pipeline.products.plain import clean
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, many_segments

FACTS = make_facts()


def _names(facts: Facts) -> tuple[dict[str, int], list[str]]:
    return {name: row for row, name in enumerate(facts.segments["segment_id"])}, [one.setup for one in facts.envelopes]


def test_every_passing_comes_back() -> None:
    """Place, thing, what to do and why, word for word."""
    index, setups = _names(FACTS)
    coded = passings(FACTS, index, setups)
    kinds = FACTS.obstacles.set_index("obstacle_id")["kind"]
    rows = FACTS.passings.set_index(["segment_id", "setup", "direction"])
    count = 0
    for segment, found in zip(index, coded["rows"], strict=True):
        for key, at, thing, passing, saying, figures in found:
            row = rows.loc[(segment, setups[key // 2], WAYS[key % 2])]
            numbers = [*figures.split(" "), ""] if figures else [""]
            reason = "".join(a + b for a, b in zip(coded["reasons"][saying], numbers, strict=True))
            assert reason == row["reason"]
            assert at / 10 == row["at_m"]
            assert PASSINGS[passing] == row["passing"]
            assert coded["things"][thing].split()[0] == kinds[row["obstacle_id"]]
            count += 1
    assert count == len(FACTS.passings)
    assert coded["things"] == ["rock", "log", "water Ford"]


def test_things_on_a_segment_stand_in_the_order_of_the_chainage() -> None:
    """Whatever their order in the table."""
    facts = make_facts()
    facts.passings["segment_id"] = "s1"
    facts.passings["at_m"] = np.arange(len(facts.passings), 0.0, -1.0)
    rows = passings(facts, *_names(facts))["rows"][0]
    assert [row[1] for row in rows] == sorted(row[1] for row in rows)


def test_stopping_distances_are_sums_rounded_up() -> None:
    """Reaction and braking together; no distance at all where it cannot stop."""
    index, setups = _names(FACTS)
    coded = stopping(FACTS, index, setups)
    rows = FACTS.stopping.set_index(["segment_id", "setup", "direction"])
    seen = 0
    for segment, found in zip(index, coded, strict=True):
        for key, grade, at, speed, low, typical in found:
            row = rows.loc[(segment, setups[key // 2], WAYS[key % 2])]
            assert grade / 10 == pytest.approx(row["grade_deg"], abs=0.051)
            assert at is None if math.isnan(row["at_m"]) else 0.0 <= row["at_m"] - at / 10 + 1e-6 < 0.1
            assert speed / 10 == pytest.approx(row["speed_kmh"])
            for shown, brake in ((low, row["brake_low_m"]), (typical, row["brake_typical_m"])):
                exact = row["reaction_m"] + brake
                assert shown == NEVER if math.isinf(exact) else exact - 1e-6 <= shown / 10 < exact + 0.1
            seen += 1
    assert seen == len(FACTS.stopping)
    assert [row[4] for row in coded[2] if row[0] == 2] == [NEVER]


def test_large_networks_carry_neither() -> None:
    """They are in the Parquet tables."""
    facts = many_segments(LARGE + 1)
    object.__setattr__(facts, "passings", FACTS.passings)
    object.__setattr__(facts, "stopping", FACTS.stopping)
    index, setups = _names(facts)
    assert not any(passings(facts, index, setups)["rows"])
    assert not any(stopping(facts, index, setups))


def test_hostile_things_are_called_by_clean_names() -> None:
    """Control characters are made visible before they reach the page."""
    facts = hostile_facts()
    assert f"log {clean(HOSTILE[2])}" in passings(facts, *_names(facts))["things"]
