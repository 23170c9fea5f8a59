"""Fords against the criteria of Australian Rainfall and Runoff, Project 10 Stage 2 (2011), table 3."""

import numpy as np
import pytest

from pipeline.checks.ford.flow import discharge
from pipeline.checks.verdict import verdict_codes
from pipeline.checks.water import CAVEAT, Ford
from pipeline.terms import Basis, Driver, Verdict
from pipeline.vehicle.classes import LARGE_FOUR_WHEEL, LARGE_PASSENGER, SMALL_PASSENGER, FloodClass
from tests.checks.ford.worlds import wet_trail
from tests.checks.worlds import LIMITS, envelope, outcome_of, site_on, straight
from tests.worlds import plane


def water(**columns: object) -> dict[str, object]:
    """Make water on the tiny trail."""
    return {"kind": "water", "segment_id": "s", "chainage_m": 20.0, **columns}


@pytest.mark.parametrize(
    ("still", "flow", "depth", "speed", "inside"),
    [
        (0.5, 0.6, 0.50, 0.0, True),  # large 4WD
        (0.5, 0.6, 0.50, 1.2, True),
        (0.5, 0.6, 0.20, 3.0, True),
        (0.5, 0.6, 0.30, 2.1, False),
        (0.5, 0.6, 0.51, 0.0, False),
        (0.5, 0.6, 0.15, 3.1, False),
        (0.4, 0.45, 0.40, 1.125, True),  # large passenger
        (0.4, 0.45, 0.40, 1.2, False),
        (0.3, 0.3, 0.30, 1.00, True),  # small passenger
        (0.3, 0.3, 0.30, 1.01, False),
    ],
)
def test_depth_speed_and_their_product(*, still: float, flow: float, depth: float, speed: float, inside: bool) -> None:
    """All three limits hold together; a value at its limit counts as inside."""
    vehicle = envelope(fording_depth_m=None, fording_still_m=still, fording_flow_m2_s=flow)
    site = site_on(straight(obstacles=[water(depth_m=depth, flow_m_s=speed)]), plane())
    found = outcome_of(Ford(), site, vehicle)
    assert bool(found.utilisation[0, 0] <= 1.0 + 1e-9) is inside


def test_maker_depth_counts_where_it_is_smaller() -> None:
    """The smaller of the maker's depth and the class limit is the limit."""
    site = site_on(straight(ford=True, depth_m=0.3), plane())
    found = outcome_of(Ford(), site, envelope(fording_depth_m=0.35))
    assert found.limit.tolist() == [[0.35, 0.35]]
    assert (found.basis == Basis.TAG).all()


def test_worst_water_is_told_with_its_unit() -> None:
    """Of two waters the worse is told; where the flow governs, in m²/s."""
    two = [water(depth_m=0.45), water(depth_m=0.3, flow_m_s=1.9, chainage_m=40.0)]
    found = outcome_of(Ford(), site_on(straight(obstacles=two), plane()))
    assert found.unit[0, 0] == "m²/s"
    assert found.demand[0, 0] == pytest.approx(0.57)
    assert found.at_m[0, 0] == 40.0


def test_ford_without_depth_is_open() -> None:
    """A tagged or surveyed ford of unknown depth is open; a surveyed depth on a tagged ford closes it."""
    tagged = outcome_of(Ford(), site_on(straight(ford=True), plane()))
    assert tagged.unknown[0, 0] == "a ford of unknown depth"
    pool = outcome_of(Ford(), site_on(straight(obstacles=[water(name="Tarn Beck")]), plane()))
    assert pool.unknown[0, 0] == "water Tarn Beck at 20.0 m has no depth"
    sounded = outcome_of(Ford(), site_on(straight(ford=True, obstacles=[water(depth_m=0.2)]), plane()))
    assert sounded.unknown.tolist() == [["", ""]]


def test_dry_trail_asks_nothing() -> None:
    """No water: utilisation 0, surveyed where somebody looked, assumed where nobody did."""
    looked = outcome_of(Ford(), site_on(straight(), plane()))
    assert looked.utilisation.tolist() == [[0.0, 0.0]]
    assert (looked.basis == Basis.SURVEYED).all()
    unseen = outcome_of(Ford(), site_on(straight(obstacles_surveyed=False), plane()))
    assert np.array_equal(unseen.basis, [[Basis.ASSUMED, Basis.ASSUMED]])


def test_flow_over_its_limit_bars_without_a_depth() -> None:
    """Water at 3.5 m/s is over the limit of 3.0 for all classes at any depth; slower, the depth must be known."""
    fast = outcome_of(Ford(), site_on(straight(obstacles=[water(flow_m_s=3.5)]), plane()))
    assert (verdict_codes(fast, fast.utilisation, LIMITS) == Verdict.BARRED.rank).all()
    slow = outcome_of(Ford(), site_on(straight(obstacles=[water(flow_m_s=0.5)]), plane()))
    assert (verdict_codes(slow, slow.utilisation, LIMITS) == Verdict.UNSURVEYED.rank).all()


def test_still_water_that_nobody_timed_is_an_assumption() -> None:
    """A depth without a speed is held against the still-water limit, and its basis says that this was assumed."""
    for flow, basis in ((None, Basis.ASSUMED), (0.0, Basis.SURVEYED)):
        found = outcome_of(Ford(), site_on(straight(obstacles=[water(depth_m=0.3, flow_m_s=flow)]), plane()))
        assert found.demand[0, 0] == 0.3
        assert (found.basis == basis).all()


@pytest.mark.parametrize("limits", [SMALL_PASSENGER, LARGE_PASSENGER, LARGE_FOUR_WHEEL], ids=lambda one: one.name)
def test_depth_in_fast_water_is_the_product_over_the_speed(limits: FloodClass) -> None:
    """The report's own table: depth limit at 3.0 m/s = limit of depth × speed ÷ 3.0; the check bars just beyond."""
    assert limits.fast_depth_m == pytest.approx(limits.flow_m2_s / limits.velocity_m_s)
    vehicle = envelope(fording_depth_m=None, fording_still_m=limits.still_depth_m, fording_flow_m2_s=limits.flow_m2_s)
    for depth, inside in ((limits.fast_depth_m, True), (limits.fast_depth_m + 0.005, False)):
        site = site_on(straight(obstacles=[water(depth_m=depth, flow_m_s=3.0)]), plane())
        assert bool(outcome_of(Ford(), site, vehicle).utilisation[0, 0] <= 1.0 + 1e-9) is inside


def test_ford_after_rain_asks_the_depth_of_the_day() -> None:
    """Surveyed 0.2 m; after 40 mm on half a square kilometre more, as an assumption, and told so."""
    dry, wet = (outcome_of(Ford(), wet_trail(mm, {}, obstacles=[water(depth_m=0.2)])) for mm in (0.0, 40.0))
    assert dry.demand[0, 0] == 0.2
    assert wet.demand[0, 0] > 0.3
    assert wet.utilisation[0, 0] > dry.utilisation[0, 0]
    assert wet.basis[0, 0] == Basis.ASSUMED
    assert f"0.20 m as surveyed, {np.ceil(wet.demand[0, 0] * 100.0) / 100.0:.2f} m now" in wet.more[0, 0]
    assert "by the rain on 50.0 ha" in wet.more[0, 0]
    assert "as surveyed" not in dry.more[0, 0]


def test_every_ford_carries_hazard_class_and_caveat() -> None:
    """Wherever limits of the report are told, so is what it says of them."""
    for site in (
        site_on(straight(obstacles=[water(depth_m=0.3)]), plane()),
        site_on(straight(ford=True, depth_m=0.2), plane()),
        wet_trail(40.0, {}),
    ):
        assert CAVEAT in outcome_of(Ford(), site).more[0, 0]
    told = outcome_of(Ford(), site_on(straight(obstacles=[water(depth_m=0.45, flow_m_s=1.0)]), plane())).more[0, 0]
    assert "flood hazard H2 (AIDR 2017)" in told


def test_expected_water_counts_while_little_and_opens_the_question_when_much() -> None:
    """A flow path asks its estimate; one that would bar makes the check impossible, and never bars."""
    little = outcome_of(Ford(), wet_trail(40.0, {"catchment_m2": 2e5}))
    assert 0.0 < little.utilisation[0, 0] < 1.0
    assert little.unknown[0, 0] == ""
    assert "estimated after rain, dry when surveyed" in little.more[0, 0]
    hollow = {"hollow": True, "hollow_m": 1.2, "from_m": 10.0, "to_m": 30.0}
    much = outcome_of(Ford(), wet_trail(40.0, hollow))
    assert np.isnan(much.utilisation).all()
    assert much.unknown[0, 0].startswith("a hollow at 20 m may be 1.20 m deep after this rain on 50.0 ha; nobody")
    assert (verdict_codes(much, much.utilisation, LIMITS) == Verdict.UNSURVEYED.rank).all()


def test_the_driver_decides_from_where_on_expected_water_is_a_question() -> None:
    """0.35 m of 0.50 m is within an expert's share of the limit and beyond a first-timer's."""
    hollow = {"hollow": True, "hollow_m": 0.35, "from_m": 10.0, "to_m": 30.0}
    site = wet_trail(40.0, hollow)
    assert outcome_of(Ford(), site, envelope(driver=Driver.EXPERT)).unknown[0, 0] == ""
    assert outcome_of(Ford(), site, envelope(driver=Driver.FIRST_TIMER)).unknown[0, 0] != ""


def test_wet_trail_beside_a_known_ford_hides_nothing() -> None:
    """An overrun that is known still bars where another place is open."""
    hollow = {"at_m": 50.0, "from_m": 40.0, "to_m": 59.0, "hollow": True, "hollow_m": 1.2}
    found = outcome_of(Ford(), wet_trail(40.0, hollow, obstacles=[water(depth_m=0.9)]))
    assert (verdict_codes(found, found.utilisation, LIMITS) == Verdict.BARRED.rank).all()
    assert "hollow at 50 m" in found.unknown[0, 0]


def test_a_stream_that_nobody_has_looked_for_is_a_question_in_any_weather() -> None:
    """Half a square kilometre drains over an unsurveyed trail: dry ground makes it no dry crossing."""
    unseen = outcome_of(Ford(), wet_trail(0.0, {}, obstacles_surveyed=False))
    assert unseen.unknown[0, 0].startswith("a flow path at 20 m drains 50.0 ha: a stream may run there in any weather")
    assert (verdict_codes(unseen, unseen.utilisation, LIMITS) == Verdict.UNSURVEYED.rank).all()
    seen = outcome_of(Ford(), wet_trail(0.0, {}))
    assert (seen.unknown[0, 0], seen.note[0, 0]) == ("", "no water found")
    gully = outcome_of(Ford(), wet_trail(0.0, {"catchment_m2": 3e4}, obstacles_surveyed=False))
    assert (gully.unknown[0, 0], gully.note[0, 0]) == ("", "no ford is tagged")
    tagged = outcome_of(Ford(), wet_trail(0.0, {}, obstacles_surveyed=False, ford=True, depth_m=0.2))
    assert tagged.unknown[0, 0] == ""


def test_nobody_is_said_to_have_surveyed_what_nobody_has() -> None:
    """A gully that runs after rain was dry when surveyed only where there was a survey."""
    gully = {"catchment_m2": 9e4}
    assert (
        "which nobody has surveyed" in outcome_of(Ford(), wet_trail(40.0, gully, obstacles_surveyed=False)).more[0, 0]
    )
    assert "dry when surveyed" in outcome_of(Ford(), wet_trail(40.0, gully)).more[0, 0]


def test_a_trickle_is_no_ford() -> None:
    """Less than 5 cm that nobody saw is a wet trail: no water found."""
    found = outcome_of(Ford(), wet_trail(12.0, {"catchment_m2": 2e4}))
    assert found.note[0, 0] == "no water found"
    assert found.utilisation[0, 0] == 0.0


def test_depth_times_speed_is_that_of_the_day() -> None:
    """Timed water rises in depth and speed: their product goes past its limit where neither does alone."""
    ford = water(depth_m=0.25, flow_m_s=1.5, length_m=4.0)
    dry, wet = (outcome_of(Ford(), wet_trail(mm, {}, obstacles=[ford])) for mm in (0.0, 60.0))
    assert (dry.unit[0, 0], dry.demand[0, 0]) == ("m²/s", pytest.approx(0.375))
    assert wet.unit[0, 0] == "m²/s"
    runs = 0.25 * 1.5 + 1.5 * discharge(takes_off(60.0), 6.0, 5e5) / 4.0  # depth × mean speed: 3/2 of what runs a metre
    assert wet.demand[0, 0] == pytest.approx(float(runs))


def takes_off(index_mm: float) -> float:
    """Give what curve number 85 lets run off, mm."""
    takes_up = 25_400.0 / 85.0 - 254.0
    return (index_mm - 0.2 * takes_up) ** 2 / (index_mm + 0.8 * takes_up)
