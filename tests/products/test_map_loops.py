"""The loops as the map page carries them."""

from dataclasses import replace

import numpy as np

from pipeline.products.lines import lon_lat
from pipeline.products.map_loops import loops
from tests.products.worlds import make_facts, mixed, no_loops

FACTS = mixed(make_facts())
INDEX = {segment: at for at, segment in enumerate(FACTS.segments["segment_id"])}
FIRST, SECOND = loops(FACTS, INDEX)


def test_a_way_round_has_its_legs_and_ends() -> None:
    """Legs as those of the loop; ends where the loop is left and met again."""
    (one,) = FIRST["detours"]
    assert one["legs"] == [[INDEX["s4"], 0]]
    line = FACTS.segments.set_index("segment_id").geometry["s2"]
    assert np.allclose(one["ends"], lon_lat(np.array(line.coords)[[0, -1]], FACTS.crs), atol=2e-6)
    assert SECOND["detours"] == []


def test_every_line_of_the_plan_has_its_place() -> None:
    """Start and call stand where the tables put them."""
    session = FIRST["session"]
    start = lon_lat(np.array(FACTS.segments.geometry.iloc[0].coords)[:1], FACTS.crs)[0]
    assert np.allclose(session[0]["lonlat"], start, atol=2e-6)
    assert np.allclose(session[1]["lonlat"], FIRST["calls"][0]["lonlat"], atol=2e-6)


def test_places_that_stand_on_the_map_are_named() -> None:
    """Where they split and meet, once a way round, and the last turn."""
    assert [words for words, _ in FIRST["named"]] == ["split 1", "meet 1", "last turn"]
    assert SECOND["named"] == []
    twice = replace(FACTS, bypasses=FACTS.bypasses.iloc[[0, 0]].assign(setup=["Short wagon", "Long wagon"]))
    assert [words for words, _ in loops(twice, INDEX)[0]["named"]] == ["split 1", "meet 1", "last turn"]


def test_proof_and_practice_are_told() -> None:
    """Bound with its name, points with those of full practice; rows in the order of the page's columns."""
    assert FIRST["bound"] == "41.5 m of exposure (exact model)"
    assert FIRST["points"] == ["250.0", "700"]
    assert FIRST["practice"][0] == ["climb", "160 m", "80 m", "72 m", "120 m", "180.0 of 300", "3"]
    assert len(FIRST["company"]) == 2


def test_a_site_without_loops_has_none() -> None:
    """Nothing breaks."""
    assert loops(no_loops(FACTS), INDEX) == []
