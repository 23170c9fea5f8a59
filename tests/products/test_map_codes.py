"""Verdicts and checks as the map page carries them, decoded by a plain twin."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import ContractError
from pipeline.products.facts import Facts
from pipeline.products.map_codes import BASES, CHECKS, LARGE, VERDICTS, WAYS, by_check, details, judged, tenths, whole
from pipeline.products.plain import odds
from tests.products.worlds import make_facts, many_segments

FACTS = make_facts()


def _index(facts: Facts) -> tuple[dict[str, int], list[str]]:
    return {name: row for row, name in enumerate(facts.segments["segment_id"])}, [one.setup for one in facts.envelopes]


def _decoded(facts: Facts) -> dict[tuple[str, str, str, str], dict[str, Any]]:
    """Read the details back the way the page does, one row at a time."""
    index, setups = _index(facts)
    coded = details(facts, index, setups)
    out = {}
    for segment, rows in zip(index, coded["rows"], strict=True):
        for key, check, demand, limit, unit, basis, at, saying, figures, *doubt in rows:
            pieces, numbers = coded["reasons"][saying], figures.split(" ") if figures else []
            reason = "".join(piece + (numbers[i] if i < len(numbers) else "") for i, piece in enumerate(pieces))
            out[segment, setups[key // 2], WAYS[key % 2], CHECKS[check]] = {
                "demand": demand,
                "limit": limit,
                "unit": coded["units"][unit],
                "basis": BASES[basis],
                "at_m": None if at is None else at / 10,
                "reason": reason,
                "doubt": [*doubt[:2], coded["chances"][doubt[2]]] if doubt else [None, None, ""],
            }
    return out


def test_every_check_comes_back() -> None:
    """Demand and limit to four figures, chainage to 0.1 m, unit, basis and reason word for word."""
    found = _decoded(FACTS)
    assert len(found) == len(FACTS.checks)
    for row in FACTS.checks.itertuples():
        one = found[row.segment_id, row.setup, row.direction, row.check]
        assert (one["unit"], one["basis"], one["reason"]) == (row.unit, row.basis, row.reason)
        for name in ("demand", "limit", "at_m"):
            value = getattr(row, name)
            if math.isnan(value):
                assert one[name] is None
            else:
                assert one[name] == pytest.approx(value, rel=5e-4, abs=0.051)
        typical, sd, chance = one["doubt"]
        assert chance == (f"Over the limit: {odds(row.p_over)}" if odds(row.p_over) else "")
        for value, shown in ((row.limit_typical, typical), (row.demand_sd, sd)):
            assert shown is None if math.isnan(value) else shown == pytest.approx(value, rel=0.05)


def test_a_verdict_that_doubt_made_worse_says_so() -> None:
    """In words instead of the sentence's own per cent; where the chance is not known, nothing is said."""
    facts = make_facts()
    facts.checks["reason"] = "roll 12.0° of 27.0° at 8 m; 14 % chance of being over the limit"
    for key, one in _decoded(facts).items():
        assert one["reason"] == "roll 12.0° of 27.0° at 8 m"
        p_over = facts.checks.set_index(["segment_id", "setup", "direction", "check"])["p_over"][key]
        told = f"Made worse by the chance of being over the limit: {odds(p_over)}"
        assert one["doubt"][2] == (told if odds(p_over) else "")


@pytest.mark.parametrize("reason", ["", "no figures", "12", "12 34", "a1b2c3", "−3.5 m at 140.25 m, 2 of 3", "1.2.3"])
def test_any_reason_survives_the_split_into_figures(reason: str) -> None:
    """Texts with figures at either end, beside each other, or none at all."""
    facts = make_facts()
    facts.checks["reason"] = reason
    assert {one["reason"] for one in _decoded(facts).values()} == {reason}


def test_verdict_digits_and_hundredths_are_those_of_the_table() -> None:
    """One digit and one number a segment, for every set-up and direction."""
    index, setups = _index(FACTS)
    found = judged(FACTS.verdicts, index, setups)
    assert len(found) == 4
    for row in FACTS.verdicts.itertuples():
        way = found[2 * setups.index(row.setup) + WAYS.index(row.direction)]
        place = index[row.segment_id]
        assert VERDICTS[int(way["v"][place])] == row.verdict
        assert CHECKS[way["c"][place]] == row.check
        if math.isnan(row.utilisation):
            assert (way["u"][place], way["at"][place]) == (-1, -1)
        else:
            assert way["u"][place] == pytest.approx(100 * row.utilisation, abs=1)
            assert way["u"][place] >= 100 * row.utilisation - 1e-6
            assert way["at"][place] / 10 == pytest.approx(row.at_m, abs=0.11)


def test_an_overrun_never_reads_as_the_limit() -> None:
    """1.0004 becomes 101 hundredths; 1.0 stays 100."""
    facts = make_facts()
    facts.checks["utilisation"] = 1.0004
    index, setups = _index(facts)
    assert set(by_check(facts.checks, index, setups)[0]["u"]) == {101}
    facts.checks["utilisation"] = 1.0
    assert set(by_check(facts.checks, index, setups)[0]["u"]) == {100}


def test_what_has_no_verdict_is_no_verdict() -> None:
    """A missing row is code 9, which the page shows as unsurveyed; it is never 0, ample."""
    index, setups = _index(FACTS)
    short = FACTS.verdicts[FACTS.verdicts["segment_id"] != "s2"]
    assert {way["v"][1] for way in judged(short, index, setups)} == {"9"}


def test_large_networks_leave_out_details_of_what_is_ample() -> None:
    """And say so; colours of all checks are still there."""
    facts = many_segments(LARGE + 1)
    index, setups = _index(facts)
    coded = details(facts, index, setups)
    assert coded["complete"] is False
    assert sum(map(len, coded["rows"])) == (facts.checks["verdict"] != "ample").sum()
    assert details(FACTS, *_index(FACTS))["complete"] is True
    assert {len(one["u"]) for one in by_check(facts.checks, index, setups)} == {LARGE + 1}


def test_whole_numbers_and_gaps() -> None:
    """NaN and infinity are None, which JSON has a word for."""
    facts = FACTS.segments
    assert whole(facts["radius_min_m"]) == [18, None, 10, 30, 12]


def test_a_segment_that_is_not_there_is_named() -> None:
    """Verdicts of another network are a fault of the program, not a trail in the wrong colour."""
    index, setups = _index(FACTS)
    strange = FACTS.verdicts.assign(segment_id="elsewhere")
    with pytest.raises(ContractError, match="elsewhere"):
        judged(strange, index, setups)


def test_a_chainage_reads_on_the_page_as_in_the_tables() -> None:
    """Cut to 0.1 m and then rounded to metres it is what rounding the chainage itself gives: 93.46 m is 93, not 94."""
    places = pd.Series([93.46, 93.51, 0.0, 93.96, np.nan, *np.random.default_rng(5).uniform(0.0, 900.0, 500)])
    cut = tenths(places)
    assert cut[:5] == [934, 935, 0, 939, None]
    known = [(place, whole) for place, whole in zip(places, cut, strict=True) if whole is not None]
    assert all(math.floor(whole / 10 + 0.5) == round(place) for place, whole in known)
    index = {"s1": 0}
    verdicts = FACTS.verdicts[FACTS.verdicts["segment_id"] == "s1"].assign(at_m=93.46)
    assert {way["at"][0] for way in judged(verdicts, index, list(dict.fromkeys(verdicts["setup"])))} == {934}
