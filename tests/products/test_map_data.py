"""The data of the map page: small, complete, and the same as the tables."""

import json

import numpy as np
import pytest

from pipeline.products.facts import Facts
from pipeline.products.lines import lon_lat
from pipeline.products.map_data import PROFILE_STEP_M, map_data
from pipeline.products.plain import clean, json_block
from pipeline.terms import CheckName, Verdict
from tests.products.worlds import hostile_facts, make_facts, many_segments, no_loops

FACTS = make_facts()
DATA = map_data(FACTS)


def _undo(steps: list[int | None], unit: float) -> list[float | None]:
    """Sum the steps up, as the page does."""
    total, out = 0, []
    for step in steps:
        if step is not None:
            total += step
        out.append(None if step is None else total / unit)
    return out


@pytest.mark.parametrize("facts", [FACTS, hostile_facts(), no_loops(FACTS)], ids=["plain", "hostile", "none"])
def test_it_is_json(facts: Facts) -> None:
    """Only plain values: no NaN, no numpy scalars."""
    data = map_data(facts)
    assert json.loads(json_block(data)) == json.loads(json.dumps(data))


def test_lines_come_back_within_a_decimetre() -> None:
    """1e-6 degree is 0.11 m; the vertices left out move no line by more than 0.2 m."""
    for steps, line in zip(DATA["segments"]["line"], FACTS.segments.geometry, strict=True):
        points = np.cumsum(np.array(steps).reshape(-1, 2), axis=0) / 1e6
        assert np.allclose(points, lon_lat(np.array(line.coords), FACTS.crs), atol=6e-7)


def test_profiles_come_back_as_the_stations() -> None:
    """About every 2 m, both ends; heights to 1 cm, slopes to 0.1°, gaps where none is known."""
    for segment_id, coded in zip(DATA["segments"]["id"], DATA["segments"]["profile"], strict=True):
        own = FACTS.stations[FACTS.stations["segment_id"] == segment_id]
        heights = _undo(coded["z"], 100)
        at = [min(i * coded["d"] / 1000, own["chainage_m"].iloc[-1]) for i in range(len(heights))]
        at[-1] = own["chainage_m"].iloc[-1]
        assert coded["d"] / 1000 == pytest.approx(PROFILE_STEP_M, abs=0.3)
        for column, values, tolerance in (
            ("z_m", heights, 0.006),
            ("grade_deg", _undo(coded["g"], 10), 0.051),
            ("side_slope_deg", _undo(coded["s"], 10), 0.051),
        ):
            for chainage, value in zip(at, values, strict=True):
                nearest = own.iloc[(own["chainage_m"] - chainage).abs().argmin()][column]
                if value is None:
                    assert np.isnan(nearest)
                else:
                    assert value == pytest.approx(nearest, abs=tolerance)


def test_gaps_in_a_profile_are_gaps() -> None:
    """The fifth segment has no heights beyond 80 m."""
    heights = DATA["segments"]["profile"][4]["z"]
    assert heights[-1] is None
    assert heights[0] is not None


def test_vocabularies_are_whole() -> None:
    """All verdicts, all checks, in the order of the codes."""
    assert [one["word"] for one in DATA["verdicts"]] == [verdict.value for verdict in Verdict]
    assert DATA["checks"] == [check.value.replace("_", " ") for check in CheckName]


def test_loops_point_at_segments_and_directions() -> None:
    """Legs in driving order; calls in order with their places."""
    first, second = DATA["loops"]
    assert first["legs"] == [[0, 0], [1, 0], [2, 0]]
    assert second["legs"] == [[2, 1], [1, 1], [0, 1]]
    assert [call["n"] for call in first["calls"]] == [1, 2, 3, 4]
    places = lon_lat(np.array([[p.x, p.y] for p in FACTS.calls.geometry]), FACTS.crs)
    assert np.allclose([call["lonlat"] for call in first["calls"]], places, atol=6e-7)


def test_a_loop_that_was_not_found_keeps_its_reason() -> None:
    """So that the page can say why there is nothing to choose."""
    assert [one["loop"] for one in DATA["missing"]] == ["Far round"]


def test_places_bring_what_is_known_of_their_size() -> None:
    """Only what was measured."""
    rock = next(place for place in DATA["places"] if place["kind"] == "rock")
    assert rock["size"] == {"height_m": 0.35, "length_m": 0.6, "width_m": 0.5}
    muster = next(place for place in DATA["places"] if place["kind"] == "muster")
    assert muster["size"] == {}


def test_texts_are_cleaned() -> None:
    """Control characters are visible in the page's texts."""
    data = map_data(hostile_facts())
    assert data["segments"]["name"][4] == clean(hostile_facts().segments["name"].iloc[4])
    assert "\x07" not in json_block(data)


def test_a_large_network_gets_a_coarser_profile_and_stays_small() -> None:
    """3,000 segments: under 1.2 kB each, all details of what is not ample still there."""
    facts = many_segments(3000)
    data = map_data(facts)
    assert data["large"] is True
    assert len(json_block(data)) < 1200 * 3000
