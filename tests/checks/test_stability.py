"""Roll and pitch-over."""

import math

import pytest

from pipeline.checks.stability import PitchOver, Roll
from tests.checks.worlds import envelope, outcome_of, site_on, straight
from tests.worlds import Measured, plane


@pytest.mark.parametrize(("track", "height", "degrees"), [(1.6, 0.72, 48.013), (2.34, 1.0, 49.48)])
def test_tips_exactly_at_the_stability_factor(track: float, height: float, degrees: float) -> None:
    """On a side slope of tan = SSF utilisation is 1: SSF 1.1111 is 48.013°, NHTSA's 1.17 of 2003 is 49.48°."""
    limit = math.degrees(math.atan(track / 2.0 / height))
    assert limit == pytest.approx(degrees, abs=0.01)
    site = site_on(straight(), plane(north=track / 2.0 / height))
    found = outcome_of(Roll(), site, envelope(roll_limit_deg=limit))
    assert found.utilisation == pytest.approx(1.0, abs=1e-5)
    assert found.demand == pytest.approx(degrees, abs=0.01)


def test_roll_is_less_than_the_side_slope_while_climbing() -> None:
    """Grade 0.5, cross 0.2: 10.142°, not 11.310° (statics of a plane, recomputed); the same in both directions."""
    found = outcome_of(Roll(), site_on(straight(), plane(east=0.5, north=-0.2)))
    assert found.demand[0].tolist() == pytest.approx([10.142, 10.142], abs=0.01)


def test_lengthwise_margin_about_the_worse_axle() -> None:
    """Uphill counts about the rear axle, downhill about the front one: 26.565° of 62.784° (l = 1.40, H = 0.72)."""
    nose_heavy = envelope(climb_tip_deg=70.0, descent_tip_deg=40.0)
    found = outcome_of(PitchOver(), site_on(straight(), plane(east=0.5)), nose_heavy)
    assert found.demand[0].tolist() == pytest.approx([26.565, 26.565], abs=0.01)
    assert found.limit[0].tolist() == [70.0, 40.0]
    whole = outcome_of(PitchOver(), site_on(straight(), plane(east=0.5)))
    assert whole.limit[0, 0] == pytest.approx(62.784, abs=0.01)


def test_coarse_cells_average_slopes_away() -> None:
    """A cell above the limit for slopes leaves roll and pitch-over open, with the cell in the reason."""
    found = outcome_of(Roll(), site_on(straight(), plane(north=0.1), Measured(cell_m=10.0)))
    assert "10.0 m averages slopes away; at most 5.0 m" in found.unknown[0, 0]
