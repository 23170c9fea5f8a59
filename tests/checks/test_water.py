"""Fords against the criteria of Australian Rainfall and Runoff, Project 10 Stage 2 (2011), table 3."""

import numpy as np
import pytest

from pipeline.checks.verdict import verdict_codes
from pipeline.checks.water import Ford
from pipeline.terms import Basis, Verdict
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
