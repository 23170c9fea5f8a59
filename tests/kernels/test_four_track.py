"""Bends as a vehicle on four wheels feels them."""

import math

import numpy as np
import pytest

from pipeline.kernels.four_records import (
    LEFT_EDGE,
    PITCH,
    RIGHT_EDGE,
    ROLL,
)
from pipeline.kernels.four_stand import stand
from pipeline.kernels.four_wheel import sweep_four
from pipeline.units import GRAVITY
from tests.kernels.four_worlds import (
    EVEN,
    shaped,
)

pytestmark = pytest.mark.kernel


@pytest.mark.parametrize(("bend", "edge"), [(0.05, RIGHT_EDGE), (-0.05, LEFT_EDGE)])
def test_bend_presses_outwards(bend: float, edge: int) -> None:
    """On level ground a bend asks for atan(v²κ ÷ g) over its outer edge; driven against, over the other one."""
    speed = 5.0
    lines = shaped(lambda x, _: 0.0 * x, bend=bend)
    limits = np.radians([44.0, 43.0, 60.0, 60.0])
    found = sweep_four(lines, EVEN._replace(limits=limits), speed, 1)
    asked = math.atan(speed**2 * 0.05 / GRAVITY)
    assert found.demand[0, :, ROLL] == pytest.approx([asked] * 2, abs=1e-12)
    assert found.limit[0, 0, ROLL] == limits[edge]
    assert found.limit[0, 1, ROLL] == limits[1 - edge]
    assert found.demand[0, :, PITCH] == pytest.approx([0.0] * 2, abs=1e-12)
    assert stand(lines, EVEN, (0, 0), 3.0, speed).sideways == pytest.approx(math.copysign(math.tan(asked), bend))


def test_driver_slows_down_for_a_tight_bend() -> None:
    """However fast, no more than 0.25 g sideways: atan(0.25) = 14.036° of lean either way."""
    lines = shaped(lambda x, _: 0.0 * x, bend=0.2)
    found = sweep_four(lines, EVEN, 30.0, 1)
    assert np.degrees(found.demand[0, :, ROLL]) == pytest.approx([14.0362] * 2, abs=1e-4)


def test_bend_counts_where_the_middle_of_the_vehicle_is() -> None:
    """A bend felt at one place only is felt when the middle between the axles is there."""
    bend = np.zeros(121)
    bend[60] = 0.1
    found = sweep_four(shaped(lambda x, _: 0.0 * x, bend=bend), EVEN, 2.0, 1)
    assert found.place[0, :, ROLL] == pytest.approx([6.0] * 2, abs=0.051)
    assert found.demand[0, :, ROLL] == pytest.approx([math.atan(0.4 / GRAVITY)] * 2, abs=1e-12)
