"""Stopping distances of set-ups on segments."""

import dataclasses
import math

import numpy as np
import pytest

from pipeline.checks.grip.stopping import stopping_table
from pipeline.checks.grip.traction import Descent
from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.site import CheckSite
from pipeline.tables import STOPPING, validate
from pipeline.terms import Driver
from pipeline.units import GRAVITY, KMH
from tests.checks.worlds import LIMITS, case_of, envelope, ground_of, site_on, straight, with_stations
from tests.worlds import ORIGIN, Measured, network_of, plane, surface_terrain

FIRST = envelope(setup="first", driver=Driver.FIRST_TIMER)
EXPERT = envelope(setup="expert")
EAST, NORTH = ORIGIN


def prepared(site: CheckSite) -> Prepared:
    """Roll the two set-ups over a site."""
    return prepare(site, [FIRST, EXPERT], LIMITS)


def by_hand(speed_kmh: float, mu: float, downhill: float) -> float:
    """Slow twin: v² ÷ 2g(μ·cos θ − sin θ), Fundamentals of Transportation, section 7.1."""
    theta = math.atan(downhill)
    slows = mu * math.cos(theta) - math.sin(theta)
    return (speed_kmh * KMH) ** 2 / (2.0 * GRAVITY * slows) if slows > 0.0 else math.inf


def test_stopping_down_and_up_a_plane() -> None:
    """0.25 down, level as a reference up it: speed, reaction and distances of each driver, low and typical grip."""
    table = stopping_table(prepared(site_on(straight(), plane(east=-0.25))))
    assert table[["setup", "direction"]].apply(tuple, axis=1).tolist() == [
        ("first", "with"),
        ("first", "against"),
        ("expert", "with"),
        ("expert", "against"),
    ]
    assert validate(table, STOPPING) is table
    assert table["grade_deg"].tolist() == pytest.approx([14.0362, 0.0] * 2, abs=1e-4)
    assert table["at_m"].fillna(-1.0).tolist() == [0.0, -1.0] * 2
    for row in table.itertuples():
        motion = LIMITS.motion[Driver.FIRST_TIMER if row.setup == "first" else Driver.EXPERT]
        falls = 0.25 if row.direction == "with" else 0.0
        assert row.speed_kmh == motion.speed_kmh
        assert row.reaction_m == pytest.approx(motion.speed_kmh * KMH * motion.reaction_s)
        assert row.brake_low_m == pytest.approx(by_hand(motion.speed_kmh, 0.55, falls), rel=1e-5)
        assert row.brake_typical_m == pytest.approx(by_hand(motion.speed_kmh, 0.60, falls), rel=1e-5)


def test_what_cannot_stop_is_infinite() -> None:
    """0.40 of grip on 40 % down never stops; the typical 0.45 does."""
    table = stopping_table(prepared(site_on(straight(), plane(east=-0.4001), mu_low=0.40)))
    down = table[table["direction"] == "with"]
    assert np.isinf(down["brake_low_m"]).all()
    assert np.isfinite(down["brake_typical_m"]).all()


def test_a_bank_takes_its_part_of_the_brakes() -> None:
    """Beside a bank √(μ² − across²) brakes, on the load that the slope leaves (twin with forces)."""
    site = site_on(straight(), plane(east=-0.2, north=0.3))
    row = stopping_table(prepared(site)).iloc[0]
    load = 1.0 / math.sqrt(1.0 + 0.04 + 0.09)
    aside = 0.3 / math.sqrt(1.04)
    slows = math.sqrt(0.55**2 - aside**2) * load - 0.2 / math.sqrt(1.04)
    assert row["brake_low_m"] == pytest.approx((6.0 * KMH) ** 2 / (2.0 * GRAVITY * slows), rel=1e-5)


@pytest.mark.parametrize("cross", [0.0, 0.1, 0.3])
def test_infinite_exactly_where_the_descent_is_over_its_limit(cross: float) -> None:
    """Table and check agree on what cannot stop, on either side of the limit."""
    for grade in (0.30, 0.40, 0.42, 0.44, 0.46, 0.50, 0.56):
        site = site_on(straight(5.0), plane(east=-grade, north=cross), mu_low=0.5)
        held = Descent().evaluate(case_of(site)).utilisation[0, 0] < 1.0
        assert np.isfinite(stopping_table(prepared(site))["brake_low_m"].iloc[0]) == held


def test_steepest_station_and_known_segments_only() -> None:
    """Each direction takes its own steepest descent; a segment measured too coarsely has no rows."""
    network = network_of(
        {"a": [(EAST, NORTH), (EAST + 10.0, NORTH)], "b": [(EAST + 10.0, NORTH), (EAST + 20.0, NORTH)]}
    )
    site = CheckSite(network, surface_terrain(network, plane()), ground_of(2))
    stations = site.terrain.stations
    grade, cell = stations.grade.copy(), stations.cell_m.copy()
    grade[4], grade[9], cell[21:] = -0.2, 0.3, 30.0
    table = stopping_table(prepared(with_stations(site, grade=grade, cell_m=cell)))
    assert table["segment_id"].tolist() == ["a"] * 4
    assert table["at_m"].tolist() == [2.0, 4.5] * 2
    assert table["grade_deg"].tolist() == pytest.approx([11.3099, 16.6992] * 2, abs=1e-3)


def test_rows_go_by_segment_then_set_up_then_direction() -> None:
    """Every row has the speed of its own set-up and the grip of its own segment."""
    network = network_of({"a": [(EAST, NORTH), (EAST + 9.0, NORTH)], "b": [(EAST + 9.0, NORTH), (EAST + 19.0, NORTH)]})
    ground = ground_of(2)
    ground = dataclasses.replace(ground, mu_low=np.array([0.3, 0.5]))
    table = stopping_table(prepared(CheckSite(network, surface_terrain(network, plane()), ground)))
    assert table["segment_id"].tolist() == ["a"] * 4 + ["b"] * 4
    assert table["setup"].tolist() == ["first", "first", "expert", "expert"] * 2
    assert table["direction"].tolist() == ["with", "against"] * 4
    expected = [by_hand(speed, mu, 0.0) for mu in (0.3, 0.5) for speed in (6.0, 6.0, 10.0, 10.0)]
    assert table["brake_low_m"].tolist() == pytest.approx(expected)


def test_no_set_ups_and_nothing_known() -> None:
    """Empty tables, not errors."""
    site = site_on(straight(), plane())
    assert stopping_table(prepare(site, [], LIMITS)).empty
    assert stopping_table(prepared(site_on(straight(), plane(), Measured(cell_m=30.0)))).empty
