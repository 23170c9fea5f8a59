"""Totals of room and water in the report."""

import json

from pipeline.products.plain import WATER_CAUTION
from pipeline.products.report_room import room_report
from tests.products.ground_worlds import without_ground
from tests.products.worlds import make_facts

FACTS = make_facts()


def test_tight_places_are_counted_by_set_up() -> None:
    """Two and four; one each that does not pass, of which one reverse would do the long wagon's; the least room."""
    assert room_report(FACTS)["room"] == [
        {
            "setup": "Short wagon",
            "tight_places": 2,
            "none_passes": 1,
            "one_reverse_would_do": 0,
            "least_room_where_it_passes_m": 0.53,
        },
        {
            "setup": "Long wagon",
            "tight_places": 4,
            "none_passes": 1,
            "one_reverse_would_do": 1,
            "least_room_where_it_passes_m": 0.08,
        },
    ]


def test_water_is_counted_with_the_caveat_of_its_limits() -> None:
    """Two flow paths, a hollow, one of them surveyed; the deepest now."""
    assert room_report(FACTS)["water"] == {
        "caution": WATER_CAUTION,
        "crossings": 3,
        "by_kind": {"flow path": 2, "hollow": 1},
        "matched_with_the_survey": 1,
        "deepest_now_m": 0.42,
    }


def test_without_any_the_counts_are_nought_and_sizes_missing() -> None:
    """And all of it can stand in JSON."""
    report = room_report(without_ground(FACTS))
    assert [own["tight_places"] for own in report["room"]] == [0, 0]
    assert report["room"][0]["least_room_where_it_passes_m"] is None
    assert report["water"]["deepest_now_m"] is None
    assert json.dumps(report, allow_nan=False)
