"""Other weather on the map page: read back, it is the table again."""

from dataclasses import replace

import pytest

from pipeline.products import map_outlooks
from pipeline.products.map_codes import CHECKS, VERDICTS, WAYS
from pipeline.products.map_outlooks import outlooks
from tests.products.outlook_worlds import SHIFTS
from tests.products.worlds import make_facts

FACTS = make_facts()
INDEX = {segment_id: row for row, segment_id in enumerate(FACTS.segments["segment_id"])}
SETUPS = [envelope.setup for envelope in FACTS.envelopes]


def test_every_verdict_can_be_read_back() -> None:
    """Digit, share, check and chainage of every row of the table."""
    found = outlooks(FACTS, INDEX, SETUPS)
    assert [one["name"] for one in found["all"]] == ["After rain", "Like the day"]
    for one in found["all"]:
        for row in FACTS.outlooks[FACTS.outlooks["outlook"] == one["name"]].itertuples():
            own, segment = one["judged"][2 * SETUPS.index(row.setup) + WAYS.index(row.direction)], INDEX[row.segment_id]
            assert VERDICTS[int(own["v"][segment])] == row.verdict
            assert CHECKS[own["c"][segment]] == row.check
            share = own["u"][segment] / 100
            assert share == pytest.approx(row.utilisation, abs=0.01) if row.utilisation >= 0 else share < 0


def test_only_other_sentences_are_carried() -> None:
    """Three rows are told otherwise than on the day after rain, none like the day; figures stand apart."""
    rain, same = outlooks(FACTS, INDEX, SETUPS)["all"]
    sayings = outlooks(FACTS, INDEX, SETUPS)["reasons"]
    told = {}
    for segment, rows in enumerate(rain["why"]):
        for key, saying, figures in rows:
            pieces, numbers = sayings[saying], [*figures.split(), ""]
            told[segment, key] = "".join(piece + number for piece, number in zip(pieces, numbers, strict=True))
    expected = {
        (INDEX[segment], 2 * setup + WAYS.index(direction)): reason for segment, setup, direction, *_, reason in SHIFTS
    }
    assert told == expected
    assert same["why"] == [[] for _ in INDEX]


def test_large_networks_carry_no_sentences(monkeypatch: pytest.MonkeyPatch) -> None:
    """Verdicts yes; the sentences are in the tables."""
    monkeypatch.setattr(map_outlooks, "LARGE", 4)
    rain, _ = outlooks(FACTS, INDEX, SETUPS)["all"]
    assert rain["why"] == [[] for _ in INDEX]
    assert len(rain["judged"]) == 4


def test_loops_have_a_row_for_every_set_up() -> None:
    """In the order of the loops of the page: who, whether it can still drive it, and a line on that."""
    rain, same = outlooks(FACTS, INDEX, SETUPS)["all"]
    assert [[row[:2] for row in loop] for loop in rain["loops"]] == [
        [["Short wagon", True], ["Long wagon", False]],
        [["Short wagon", True], ["Long wagon", True]],
    ]
    assert rain["loops"][0][1][2].startswith("cannot drive it: barred on s2")
    assert all(row[1] for loop in same["loops"] for row in loop)


def test_without_outlooks_there_is_nothing_to_choose() -> None:
    """An empty list, no sayings."""
    bare = replace(FACTS, outlooked=(), outlooks=FACTS.outlooks.iloc[:0])
    assert outlooks(bare, INDEX, SETUPS) == {"all": [], "reasons": []}
