"""A set-up in side view."""

import numpy as np
import pytest

from pipeline.checks.side_body import body_of
from tests.checks.worlds import LIMITS, envelope


def test_body_is_the_envelope_turned_to_rise() -> None:
    """The kernel's body has its hard points ascending and contiguous."""
    body = body_of(envelope(), LIMITS)
    assert (np.diff(body.x) > 0.0).all()
    assert body.x.flags.c_contiguous
    assert body.gap == LIMITS.required_gap_m


def test_let_down_on_its_springs_the_body_sinks_and_the_axles_do_not() -> None:
    """5 cm of give: every hard point 5 cm lower, the housings where they were."""
    still, down = body_of(envelope(), LIMITS), body_of(envelope(), LIMITS, 0.05)
    assert still.z - down.z == pytest.approx(np.full(still.z.size, 0.05))
    assert (down.front_axle, down.rear_axle) == (still.front_axle, still.rear_axle)
    assert down.lowest[1] == pytest.approx(still.lowest[1] - 0.05)
