"""The side view over one trodden thing on level ground."""

import numpy as np
import pytest

from pipeline.checks.passing.trodden import GIVEN_M, SIDE_CHECKS, OverIt, nothing_over, over_trodden
from pipeline.terms import CheckName, Driver
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.passing.worlds import Row, thing, things_on
from tests.checks.worlds import LIMITS, envelope, mirrored


def over(*rows: Row, lift: float = 1.0, under: bool = True, vehicle: Envelope | None = None) -> OverIt:
    """Roll the box wagon over things."""
    things = things_on(*rows)
    count = things.row.size
    return over_trodden(things, np.full(count, lift), np.full(count, under), vehicle or envelope(), LIMITS)


def worst(found: OverIt, thing_at: int = 0, way: int = 0) -> CheckName:
    """Name the check that is worst."""
    return SIDE_CHECKS[int(found.check[thing_at, way])]


@pytest.mark.parametrize("lift", [1.0, 0.5])
def test_a_short_mound_passes_under_the_belly_at_its_height(lift: float) -> None:
    """Between the axles of a wagon that stands level again 0.15 m of mound takes 0.15 m of the belly's 0.20 m."""
    found = over(thing(height_m=0.15), lift=lift)
    assert found.used[0] == pytest.approx([0.75, 0.75], abs=1e-4)
    assert worst(found) is CheckName.BELLY
    assert (found.demand[0, 0], found.limit[0, 0]) == (pytest.approx(0.15, abs=1e-4), pytest.approx(0.20, abs=1e-4))


def test_what_may_be_given_away_is_what_the_belly_has_left() -> None:
    """0.05 m are left over a mound of 0.15 m; let down by as much the belly has none."""
    found = over(thing(height_m=0.15), thing(height_m=0.1), thing(height_m=0.25))
    assert found.give_m[:, 0] == pytest.approx([0.05, 0.10, 0.0], abs=0.005)
    assert (found.give_m <= np.array([0.05, 0.10, 0.0])[:, None] + 1e-5).all(), "never more than there is"
    assert found.give_m.max() <= GIVEN_M[-1]


def test_a_careful_driver_may_use_less() -> None:
    """A first-timer has 0.9 of the belly: 0.15 m take 0.8333 of it, and 0.18 m are left to be taken."""
    found = over(thing(height_m=0.15), vehicle=envelope(driver=Driver.FIRST_TIMER))
    assert found.used[0, 0] == pytest.approx(0.75 / 0.9, abs=1e-4)
    assert found.give_m[0, 0] < 0.05


def test_ruts_bring_the_ridge_to_the_axles() -> None:
    """Wheels 0.12 m down in ruts: the ridge takes 0.12 m of the rear axle's 0.15 m; how long they are says nothing."""
    short, long = (thing("rut", height_m=-0.12, length_m=length) for length in (12.0, 40.0))
    found = over(short, long, under=False)
    assert found.used[0, 0] == pytest.approx(0.8, abs=0.05)
    assert found.used[1] == pytest.approx(found.used[0], abs=1e-9)


def test_a_high_step_stops_the_bumper_going_up_and_the_tail_coming_down() -> None:
    """0.5 m is over the bumper's 0.45 m: barred either way; turned round, the ends change places."""
    step = thing("step", height_m=0.5, length_m=None, width_m=3.0)
    found, twin = over(step), over(step, vehicle=mirrored(envelope()))
    assert (found.used > 1.0).all()
    assert found.used[0] == pytest.approx(twin.used[0, ::-1], rel=0.05)
    low = over(thing("step", height_m=0.1, length_m=None, width_m=3.0))
    assert (low.used < 1.0).all()


def test_order_and_company_do_not_matter() -> None:
    """Every thing by itself, many together, in another order: the same numbers."""
    rows = [thing(height_m=h, length_m=length) for h, length in ((0.1, 0.4), (0.22, 0.8), (0.18, 0.3), (0.1, 0.4))]
    together, turned = over(*rows), over(*rows[::-1])
    # Things at one place are sorted by their ids, which count up.
    assert turned.used == pytest.approx(together.used[::-1], abs=1e-9)
    for k, row in enumerate(rows):
        assert over(row).used[0] == pytest.approx(together.used[k], abs=1e-4)


def test_nothing_to_roll_over() -> None:
    """No things, no figures; and what nobody rolls over passes nothing."""
    assert over().used.shape == (0, 2)
    blank = nothing_over(2)
    assert np.isinf(blank.used).all()
    assert not blank.give_m.any()
