"""Water on the trails: surveyed, tagged, expected; what belongs together, and how deep it is after rain."""

import numpy as np
import pytest

from pipeline.checks.ford.flow import discharge, risen
from pipeline.checks.ford.places import Waters, all_expected, waters_of
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis
from tests.checks.ford.worlds import after_rain, drained, wet_trail
from tests.checks.worlds import site_on, straight
from tests.worlds import ORIGIN, at, network_of, plane

RUNOFF = site_on(straight(), plane()).ground.runoff


def water(**columns: object) -> dict[str, object]:
    """Make surveyed water 20 m along the trail."""
    return {"kind": "water", "segment_id": "s", "chainage_m": 20.0, "depth_m": 0.2, **columns}


def only(site: CheckSite) -> dict[str, object]:
    """Give the only place of a site."""
    waters = waters_of(make_scene(site))
    assert waters.row.size == 1
    return {name: getattr(waters, name)[0] for name in waters.__dataclass_fields__}


def test_dry_day_leaves_water_as_surveyed() -> None:
    """No index, no rise: depth, speed and basis are those of the survey."""
    found = only(wet_trail(0.0, {}, obstacles=[water(flow_m_s=0.4)]))
    assert (found["depth_now_m"], found["flow_now_m_s"], found["basis"]) == (0.2, 0.4, Basis.SURVEYED)
    assert found["catchment_m2"] == 500_000.0


def test_first_rain_is_taken_up_by_the_land() -> None:
    """Curve number 85 takes up 9 mm first: up to there no stream rises."""
    assert only(wet_trail(8.9, {}, obstacles=[water()]))["depth_now_m"] == 0.2
    assert only(wet_trail(12.0, {}, obstacles=[water()]))["depth_now_m"] > 0.2


def test_rise_by_hand() -> None:
    """40 mm on half a square kilometre through a ford 4 m wide: curve number, rational form, Manning, step by step."""
    found = only(wet_trail(40.0, {}, obstacles=[water(length_m=4.0)]))
    takes_up = 25_400.0 / 85.0 - 254.0
    runoff = (40.0 - 0.2 * takes_up) ** 2 / (40.0 + 0.8 * takes_up)
    through = runoff / 1000.0 * 500_000.0 / (6.0 * 3600.0) / 4.0
    mean = (through * 0.05 / 0.02**0.5) ** 0.6
    assert found["depth_now_m"] == pytest.approx(0.2 + 1.5 * mean)
    assert found["flow_now_m_s"] == pytest.approx(through / (2.0 / 3.0 * 0.2 + mean))
    assert found["basis"] == Basis.ASSUMED


def test_surveyed_dry_rises_with_rain_and_catchment() -> None:
    """A bed that was dry is deeper after more rain, and with a larger catchment; both from nothing."""
    by_rain = [only(wet_trail(mm, {}, obstacles=[water(depth_m=0.0)]))["depth_now_m"] for mm in (0.0, 15.0, 30.0, 60.0)]
    by_area = [
        only(wet_trail(30.0, {"catchment_m2": area}, obstacles=[water(depth_m=0.0)]))["depth_now_m"]
        for area in (1e4, 1e5, 1e6)
    ]
    assert by_rain[0] == 0.0
    assert (np.diff(by_rain) > 0.0).all()
    np.testing.assert_allclose(np.diff(np.log(by_area)), np.log(10.0) * 0.6)


def test_catchment_of_the_flow_path_nearby_else_an_assumed_one() -> None:
    """A flow path 14 m from the water's edge is its own; one farther off is another, and 10 ha are assumed."""
    near = only(wet_trail(0.0, {"at_m": 37.0, "from_m": 36.0, "to_m": 38.0}, obstacles=[water(length_m=4.0)]))
    assert near["catchment_m2"] == 500_000.0
    far = waters_of(make_scene(wet_trail(30.0, {"at_m": 50.0, "from_m": 49.0, "to_m": 51.0}, obstacles=[water()])))
    assert np.isnan(far.catchment_m2[0])
    more = discharge(RUNOFF.depth_mm(30.0), 6.0, 1e5) / 2.0
    deep, _ = risen(np.array([0.2]), np.array([np.nan]), np.atleast_1d(more), 0.02**0.5 / 0.05)
    assert far.depth_now_m[0] == pytest.approx(deep[0])
    assert far.label[1] == "flow path"


def test_the_largest_of_several_catchments_counts() -> None:
    """Two flow paths at one ford: the larger one is in flood."""
    found = only(wet_trail(0.0, {"catchment_m2": 2e4}, {"at_m": 22.0, "to_m": 23.0}, obstacles=[water()]))
    assert found["catchment_m2"] == 500_000.0


def test_tagged_ford_takes_the_catchment_of_its_segment() -> None:
    """A tag holds somewhere on the segment: so does its flow path; risen, it is an assumption."""
    dry = only(wet_trail(0.0, {}, ford=True, depth_m=0.3))
    assert (dry["depth_now_m"], dry["basis"], dry["catchment_m2"]) == (0.3, Basis.TAG, 500_000.0)
    wet = only(wet_trail(40.0, {}, ford=True, depth_m=0.3))
    assert wet["depth_now_m"] > 0.3
    assert wet["basis"] == Basis.ASSUMED


def test_unknown_depth_stays_unknown_after_rain() -> None:
    """Nobody sounded it: no rain makes it known."""
    assert np.isnan(only(wet_trail(60.0, {}, ford=True))["depth_now_m"])
    assert np.isnan(only(wet_trail(60.0, {}, obstacles=[water(depth_m=None)]))["depth_now_m"])


def test_flow_path_that_nobody_found_water_in_runs_after_rain() -> None:
    """Dry on a dry day, as deep as a bed 2 m wide gets after rain; a label of its own."""
    assert only(wet_trail(0.0, {}))["depth_now_m"] == 0.0
    found = only(wet_trail(40.0, {}))
    assert found["label"] == "flow path"
    assert (found["from_m"], found["to_m"]) == (19.0, 21.0)
    assert 0.05 < found["depth_now_m"] < 0.5


def test_hollow_fills_to_its_rim_and_no_further() -> None:
    """Half a metre deep, 20 m across: full after 40 mm on half a square kilometre, standing still."""
    place = {"hollow": True, "hollow_m": 0.5, "from_m": 10.0, "to_m": 30.0}
    found = only(wet_trail(40.0, place))
    assert (found["depth_now_m"], found["flow_now_m_s"], found["label"]) == (0.5, 0.0, "hollow")
    little = only(wet_trail(40.0, {**place, "catchment_m2": 1000.0}))
    volume = RUNOFF.depth_mm(40.0)
    assert little["depth_now_m"] == pytest.approx(0.5 * np.sqrt(volume / (np.pi / 8.0 * 400.0 * 0.5)))


def test_all_places_as_if_nobody_had_looked() -> None:
    """For the table of crossings: also those that surveyed water stands for."""
    scene = make_scene(wet_trail(40.0, {}, obstacles=[water()]))
    assert all_expected(scene).label.tolist() == ["flow path"]
    assert waters_of(scene).id[0] is not None


def test_without_an_elevation_model_nothing_is_expected() -> None:
    """No drainage, no places; what was surveyed rises on an assumed catchment."""
    scene = make_scene(after_rain(site_on(straight(obstacles=[water()]), plane()), 40.0))
    waters = waters_of(scene)
    assert waters.row.size == 1
    assert waters.depth_now_m[0] > 0.2
    assert all_expected(scene).row.size == 0


def test_a_tag_means_one_flow_path_and_no_hollow() -> None:
    """Another flow path and a hollow on the same segment are places of their own: no tagged depth stands for them."""
    other = {"at_m": 50.0, "from_m": 49.0, "to_m": 51.0, "catchment_m2": 3e5}
    hollow = {"at_m": 40.0, "from_m": 30.0, "to_m": 45.0, "hollow": True, "hollow_m": 0.9}
    waters = waters_of(make_scene(wet_trail(60.0, {}, other, hollow, ford=True, depth_m=0.1)))
    assert waters.label.tolist() == ["the tagged ford", "flow path", "hollow"]
    assert waters.catchment_m2.tolist() == [5e5, 3e5, 5e5]
    assert waters.depth_now_m[2] == 0.9


def test_a_tag_beside_surveyed_water_means_that() -> None:
    """Where the water of a ford was surveyed, no flow path farther off is taken for it."""
    other = {"at_m": 50.0, "from_m": 49.0, "to_m": 51.0}
    waters = waters_of(make_scene(wet_trail(60.0, other, ford=True, depth_m=0.1, obstacles=[water()])))
    assert waters.label.tolist()[1:] == ["the tagged ford", "flow path"]


def test_surveyed_water_in_a_hollow_is_as_deep_as_that_fills() -> None:
    """A puddle on the day of the survey; after the rain the hollow is full: sounding it once makes it no shallower."""
    hollow = {"hollow": True, "hollow_m": 0.9, "from_m": 10.0, "to_m": 30.0}
    seen = only(wet_trail(60.0, hollow, obstacles=[water(depth_m=0.05, length_m=2.0)]))
    assert only(wet_trail(60.0, hollow))["depth_now_m"] == 0.9
    assert seen["depth_now_m"] >= 0.9
    assert seen["basis"] == Basis.ASSUMED
    assert only(wet_trail(0.0, hollow, obstacles=[water(depth_m=0.05)]))["depth_now_m"] == 0.05
    still = {**hollow, "catchment_m2": 2e4}
    assert only(wet_trail(60.0, still, obstacles=[water(depth_m=0.05)]))["depth_now_m"] == 0.9


def fork(place: dict[str, object], **ford: object) -> Waters:
    """Give the water after rain of two trails that meet 30 m along the first, a ford before the node."""
    lines = {"s": at((0.0, 30.0), (30.0, 30.0)), "t": at((30.0, 30.0), (60.0, 30.0))}
    site = site_on(network_of(lines, obstacles=[water(**ford)]), plane())
    return waters_of(make_scene(after_rain(drained(site, place), 60.0)))


def test_a_ford_on_a_node_is_as_deep_from_every_trail() -> None:
    """One water, two trails: one catchment, one depth, one speed."""
    found = fork({"at_m": 28.0, "from_m": 27.0, "to_m": 29.0}, chainage_m=29.0, length_m=6.0, width_m=8.0)
    assert found.row.tolist() == [0, 1]
    for values in (found.catchment_m2, found.depth_now_m, found.flow_now_m_s):
        assert values[0] == values[1]
    assert found.catchment_m2[0] == 5e5


def test_a_flow_path_just_beyond_the_node_feeds_the_ford_before_it() -> None:
    """The model leads the stream over the next trail, 6 m from where it was surveyed: it is the same stream."""
    x, y = ORIGIN[0] + 40.0, ORIGIN[1] + 30.0
    beyond = {"at_m": 10.0, "from_m": 10.0, "to_m": 10.0, "x": x, "y": y, "row": 1}
    near, far = (fork({**beyond, "x": east}, chainage_m=28.0) for east in (x, x + 400.0))
    assert near.catchment_m2[0] == 5e5
    assert np.isnan(far.catchment_m2[0])
    assert near.depth_now_m[0] > far.depth_now_m[0]
    assert near.label[1] == "flow path"  # on the trail that it crosses it stays a place of its own
