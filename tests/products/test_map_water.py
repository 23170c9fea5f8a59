"""Crossings as the map page carries them."""

from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE
from pipeline.products.map_water import crossings
from pipeline.products.plain import WATER_CAUTION
from tests.products.room_worlds import crossings_of
from tests.products.worlds import make_facts, many_segments

FACTS = make_facts()


def _index(facts: Facts) -> dict[str, int]:
    return {name: row for row, name in enumerate(facts.segments["segment_id"])}


def test_every_crossing_comes_back() -> None:
    """By segment: chainage, and the reason word for word; the caveat of the limits with them."""
    coded = crossings(FACTS, _index(FACTS))
    assert coded["caution"] == WATER_CAUTION
    assert [len(own) for own in coded["rows"]] == [0, 1, 1, 0, 1]
    told = {row.segment_id: row for row in FACTS.crossings.itertuples()}
    for segment, own in zip(_index(FACTS), coded["rows"], strict=True):
        for at, saying, figures in own:
            pieces, values = coded["sayings"][saying], figures.split(" ") if figures else []
            words = "".join(piece + (values[i] if i < len(values) else "") for i, piece in enumerate(pieces))
            assert (at / 10, words) == (told[segment].at_m, told[segment].reason)


def test_large_networks_carry_none() -> None:
    """The table has them."""
    facts = many_segments(LARGE + 1)
    ids = facts.segments.head(5).assign(segment_id=["s1", "s2", "s3", "s4", "s5"])
    object.__setattr__(facts, "crossings", crossings_of(ids))
    assert not any(crossings(facts, _index(facts))["rows"])
