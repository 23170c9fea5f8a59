"""What things ask in the checks beside what the sweeps find."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.check import Outcome
from pipeline.checks.passing.on_things import with_things
from pipeline.checks.prepared import prepare
from pipeline.checks.run import checks_of
from pipeline.terms import Basis, CheckName
from tests.checks.passing.worlds import Row, thing
from tests.checks.worlds import LIMITS, case_of, envelope, site_on, straight, with_stations
from tests.worlds import plane

NOTHING = Outcome.of(np.full((1, 2), 1.0), np.full((1, 2), 20.0), "°", at_m=5.0)


LOW_NOSE = envelope(
    underbody=np.array([[0.9, 0.2], [0.5, 0.6], [-1.4, 0.6], [-3.9, 0.6]]),
    front_axle_clearance_m=0.6,
    rear_axle_clearance_m=0.6,
)
"""A body that only its bumper keeps from getting over things."""


def asked(name: CheckName, *rows: Row, grip: float = 0.55, vehicle: object = None, **columns: object) -> Outcome:
    """Put things in place of a twentieth of a limit."""
    site = site_on(straight(obstacles=list(rows), **columns), plane(), mu_low=grip)
    return with_things(NOTHING, name, case_of(site, vehicle or envelope()))


def test_the_climb_on_to_a_log_counts_both_ways() -> None:
    """The edge that both wheels meet against what they climb, in metres, where it is closer than the grade."""
    found = asked(CheckName.CLIMB, thing("log", height_m=0.1, width_m=3.0, obstacle_id="L"), grip=0.8)
    assert found.unit.tolist() == [["m", "m"]]
    assert found.at_m.tolist() == [[30.0, 30.0]]
    assert 0.0 < found.utilisation[0, 0] < 1.0
    assert found.demand / found.limit == pytest.approx(found.utilisation)
    assert found.more[0, 0] == "the edge that a wheel meets at log L, momentum not counted"
    assert found.basis.tolist() == [[Basis.SURVEYED] * 2]


def test_what_is_straddled_or_gone_round_is_not_climbed() -> None:
    """The check stays as it was."""
    for row, width in ((thing(height_m=0.1), 3.5), (thing(height_m=0.18, offset_m=1.0, width_m=0.4), 3.7)):
        assert asked(CheckName.CLIMB, row, width_m=width).utilisation.tolist() == NOTHING.utilisation.tolist()


def test_what_has_no_height_may_have_to_be_climbed() -> None:
    """Nobody knows whether it can: the climb is not known, and the first such thing is named."""
    rows = [thing("log", height_m=None, chainage_m=40.0, obstacle_id="B"), thing(height_m=None, obstacle_id="A")]
    found = asked(CheckName.CLIMB, *rows)
    assert found.unknown.tolist() == [["rock A at 30.0 m has no height"] * 2]
    assert asked(CheckName.ROLL, *rows).unknown.tolist() == [["", ""]]
    between = asked(CheckName.CLIMB, thing(height_m=None, width_m=0.2, offset_m=0.0), width_m=2.4)
    assert between.unknown.tolist() == [["", ""]], "the trail leaves no room to put a wheel on it"


def test_what_stands_on_ground_without_heights_may_not_be_climbed() -> None:
    """The same log that level ground lets by: uphill it may be too much."""
    site = site_on(straight(obstacles=[thing("log", height_m=0.1, width_m=3.0, obstacle_id="L")]), plane(), mu_low=0.8)
    blind = with_stations(site, z=np.full_like(site.terrain.stations.z, np.nan))
    found = with_things(NOTHING, CheckName.CLIMB, case_of(blind, envelope()))
    assert found.unknown.tolist() == [["log L at 30.0 m stands on a slope that is not known"] * 2]
    assert (with_things(NOTHING, CheckName.CLIMB, case_of(site, envelope())).unknown == "").all()


def test_down_a_step_nothing_is_climbed() -> None:
    """Up 0.3 m of it is too much, down it asks nothing."""
    found = asked(CheckName.CLIMB, thing("step", height_m=0.3, length_m=None, width_m=3.0))
    assert found.utilisation[0, 0] > 1.0
    assert found.utilisation[0, 1] == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("name", "row", "how"),
    [
        (CheckName.CLIMB, thing(height_m=0.18), {"grip": 0.15}),
        (CheckName.ARTICULATION, thing(height_m=0.18), {"grip": 0.9, "vehicle": envelope(wheel_travel_m=0.17)}),
        (CheckName.BELLY, thing(height_m=0.25, length_m=2.0), {"grip": 0.9}),
        (CheckName.BELLY, thing(height_m=0.17, width_m=0.3), {"width_m": 2.4}),
        (CheckName.APPROACH, thing(height_m=0.3, length_m=2.0, width_m=3.0), {"grip": 0.9, "vehicle": LOW_NOSE}),
    ],
)
def test_what_bars_a_thing_is_over_in_its_check(name: CheckName, row: Row, how: dict[str, object]) -> None:
    """Grip, travel, belly under a wheel or between them, bumper: more than the whole limit, and in no other check."""
    assert asked(name, row, **how).utilisation[0, 0] > 1.0
    others = {CheckName.CLIMB, CheckName.ARTICULATION, CheckName.BELLY, CheckName.APPROACH} - {name}
    assert all(asked(other, row, **how).utilisation[0, 0] <= 1.0 for other in others)


def test_checks_without_things_are_left_alone() -> None:
    """A check that no thing bears on, and a trail without things."""
    assert asked(CheckName.FORD, thing(height_m=0.6)) is NOTHING
    assert asked(CheckName.CLIMB) is NOTHING


def test_the_worst_thing_of_each_segment_counts() -> None:
    """Of three logs the highest, with its place."""
    logs = [thing("log", height_m=h, width_m=3.0, chainage_m=at) for h, at in ((0.08, 10.0), (0.12, 30.0), (0.1, 50.0))]
    found = asked(CheckName.CLIMB, *logs, grip=0.8)
    assert found.at_m.tolist() == [[30.0, 30.0]]
    assert asked(CheckName.CLIMB, logs[1], grip=0.8).utilisation == pytest.approx(found.utilisation)


def test_barred_things_bar_the_trail() -> None:
    """Whatever bars them, and whatever the ground beside them gives away: the table of checks says so."""
    rows = [
        (thing(height_m=0.18), 0.15, 0.45),
        (thing(height_m=0.18), 0.9, 0.17),
        (thing(height_m=0.21, length_m=2.0), 0.9, 0.45),
    ]
    for row, grip, travel in rows:
        site = site_on(straight(obstacles=[row]), plane(), mu_low=grip)
        prepared = prepare(site, [envelope(wheel_travel_m=travel)], LIMITS)
        assert (prepared.choices[0].passing == 3).all()
        table = checks_of(prepared)
        barred = table[table["verdict"] == "barred"]
        assert set(barred["direction"]) == {"with", "against"}, row


def test_missing_things_do_not_change_a_site_of_many() -> None:
    """A case whose choice holds no thing is handed back as it is."""
    case = case_of(site_on(straight(obstacles=[thing()]), plane()))
    none = dataclasses.replace(case.choice, things=case.choice.things.where(np.zeros(1, dtype=bool)))
    assert with_things(NOTHING, CheckName.CLIMB, dataclasses.replace(case, choice=none)) is NOTHING
