"""A set-up in plan: boxes, lock, and what it sweeps at full lock."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.kernels.plan_records import WHEELS, Boxes
from pipeline.terms import Part, Wheel
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice
from pipeline.vehicle.plan import boxes_of, full_lock, least_radius, steering_lock
from pipeline.vehicle.turning import offtracking, swept_width, tail_swing, turn_circles
from tests.vehicle.worlds import EXTRAS, box

FOOT_M = 0.3048
HITCH = "[overhangs.hitch]\npoints = [[-3.95, 0.42], [-4.05, 0.40]]\nwidth_m = 0.1\n"


def envelope(*tables: str, suspension: str = "normal", loads: tuple[str, ...] = (), **changes: object) -> Envelope:
    """Make the envelope of the box vehicle."""
    return make_envelope(box(*tables, **changes), SetUpChoice("box", suspension, loads))


def extent(boxes: Boxes, k: int) -> tuple[float, ...]:
    """Give rear, front, right, left, low, high of one box."""
    return tuple(float(getattr(boxes, name)[k]) for name in ("rear", "front", "right", "left", "low", "high"))


def test_wheels_come_first_in_their_order() -> None:
    """Front left, front right, rear left, rear right; x from the rear axle, y to the left, from the ground up."""
    boxes = boxes_of(envelope())
    assert (boxes.part[:WHEELS] == Part.WHEEL).all()
    assert (boxes.part[WHEELS:] != Part.WHEEL).all()
    assert extent(boxes, Wheel.FRONT_LEFT) == pytest.approx((2.42, 3.18, 0.675, 0.925, 0.0, 0.76))
    assert extent(boxes, Wheel.FRONT_RIGHT) == pytest.approx((2.42, 3.18, -0.925, -0.675, 0.0, 0.76))
    assert extent(boxes, Wheel.REAR_LEFT) == pytest.approx((-0.38, 0.38, 0.685, 0.935, 0.0, 0.76))
    assert extent(boxes, Wheel.REAR_RIGHT) == pytest.approx((-0.38, 0.38, -0.935, -0.685, 0.0, 0.76))
    assert boxes.wheelbase == 2.8


def test_body_and_roof_meet_where_the_sides_lean_in() -> None:
    """The body from its lowest hard point to the line, at full width; the roof from there to the top, narrower."""
    figures = {"roof_width_m": 1.4, "roof_from_m": 1.1, "roof_front_m": -0.9, "roof_rear_m": -3.7}
    boxes = boxes_of(envelope(**figures))
    assert boxes.part[4:].tolist() == [Part.SILL, Part.ROOF, Part.MIRROR, Part.MIRROR]
    assert extent(boxes, 4) == pytest.approx((-1.1, 3.7, -0.95, 0.95, 0.25, 1.1))
    assert extent(boxes, 5) == pytest.approx((-0.9, 1.9, -0.7, 0.7, 1.1, 1.9))


def test_without_a_roof_of_its_own_the_body_goes_up() -> None:
    """An envelope that says nothing of its roof is one box to the top."""
    boxes = boxes_of(replace(envelope(), roof_m=None, body_front_m=None, body_rear_m=None))
    assert boxes.part[4:].tolist() == [Part.SILL, Part.MIRROR, Part.MIRROR]
    assert extent(boxes, 4) == pytest.approx((-1.1, 3.7, -0.95, 0.95, 0.25, 1.9))


def test_mirrors_stand_out_on_both_sides() -> None:
    """From the side of the body to the width over mirrors, left first; none where they are no wider."""
    boxes = boxes_of(envelope(mirror_x_m=-0.5, mirror_low_m=1.0, mirror_high_m=1.2))
    assert extent(boxes, 6) == pytest.approx((2.18, 2.42, 0.95, 1.05, 1.0, 1.2))
    assert extent(boxes, 7) == pytest.approx((2.18, 2.42, -1.05, -0.95, 1.0, 1.2))
    assert Part.MIRROR not in boxes_of(envelope(width_mirrors_m=1.9)).part


def test_suspension_and_loads() -> None:
    """A lift raises everything but the wheels; a roof load makes the roof higher and as wide as it is."""
    level, raised = (boxes_of(envelope(EXTRAS, HITCH, suspension=name)) for name in ("normal", "raised"))
    assert raised.low[:4] == pytest.approx(level.low[:4])
    assert raised.low[4:] == pytest.approx(level.low[4:] + 0.05)
    assert raised.high[4:] == pytest.approx(level.high[4:] + 0.05)
    loaded = boxes_of(envelope(EXTRAS, loads=("roof",)))
    assert loaded.high[5] == pytest.approx(2.15)


def test_a_hitch_is_as_wide_as_it_is() -> None:
    """Its own box behind the body, which is not longer for it."""
    boxes = boxes_of(envelope(HITCH))
    assert boxes.part[4:].tolist() == [Part.SILL, Part.ROOF, Part.SILL, Part.MIRROR, Part.MIRROR]
    assert extent(boxes, 6) == pytest.approx((-1.25, -1.15, -0.05, 0.05, 0.40, 0.42))
    assert boxes.rear[4] == pytest.approx(-1.1)


def test_lock_puts_the_outer_front_tyre_on_the_turning_circle() -> None:
    """The middle of the outer front tyre is R from the centre of the turn, whose axle line is the rear axle's."""
    for figures in ({}, {"turning_circle_m": 9.0, "track_front_m": 1.4}, {"track_front_m": 1.2}):
        one = envelope(**figures)
        radius = least_radius(one)
        assert np.hypot(radius + one.track_front_m / 2.0, one.wheelbase_m) == pytest.approx(one.turning_radius_m)
        assert np.tan(steering_lock(one)) * radius == pytest.approx(one.wheelbase_m)


def test_a_circle_too_small_for_the_track_leaves_a_lock() -> None:
    """A turning circle just wider than the wheelbase: the lock stays below a right angle."""
    assert 0.0 < steering_lock(envelope(turning_circle_m=5.7)) < np.pi / 2.0


def test_full_lock_is_the_closed_form() -> None:
    """A plain box without mirrors: inner, wall, swept width, off-tracking and tail swing as in vehicle/turning.py."""
    one = envelope(width_mirrors_m=1.9)
    found, rho = full_lock(one), least_radius(one)
    middle = np.hypot(rho, 2.8)
    assert found.swept_m == pytest.approx(float(swept_width(middle, 2.8, 1.9, 0.9)))
    assert found.offtracking_m == pytest.approx(float(offtracking(middle, 2.8)))
    assert found.tail_swing_m == pytest.approx(float(tail_swing(rho + 0.95, 1.1)))


def test_passenger_car_of_the_green_book() -> None:
    """AASHTO Green Book design vehicle P: wheelbase 11 ft, width 7 ft, 3 ft ahead; minimum turning radius 24 ft.

    A Policy on Geometric Design of Highways and Streets, table of minimum turning radii: inside radius 14.4 ft, path
    of the front overhang about 25.5 ft. Its tyres run under the sides of the body.
    """
    figures = {
        "wheelbase_m": 11 * FOOT_M,
        "width_m": 7 * FOOT_M,
        "width_mirrors_m": 7 * FOOT_M,
        "track_front_m": 7 * FOOT_M,
        "track_rear_m": 7 * FOOT_M,
        "length_front_m": 3 * FOOT_M,
        "length_rear_m": 5 * FOOT_M,
        "turning_circle_m": 48 * FOOT_M,
        "underbody": [[0.9, 0.45], [-1.4, 0.25], [-4.5, 0.35]],
    }
    found = full_lock(envelope(**figures))
    circles = turn_circles(24 * FOOT_M, 11 * FOOT_M, 7 * FOOT_M, 3 * FOOT_M)
    assert found.inner_m / FOOT_M == pytest.approx(14.4, abs=0.1)
    assert found.wall_m / FOOT_M == pytest.approx(25.5, abs=0.1)
    assert (found.inner_m, found.wall_m) == pytest.approx((float(circles.inner_m), float(circles.wall_m)))


def test_mirrors_count_at_full_lock() -> None:
    """Very wide mirrors far back draw the inner circle and the wall."""
    plain = full_lock(envelope(width_mirrors_m=1.9))
    wide = full_lock(envelope(width_mirrors_m=3.6, mirror_x_m=-2.4))
    assert wide.inner_m < plain.inner_m - 0.7
    assert wide.swept_m > plain.swept_m + 0.7


def test_scaled_vehicle_sweeps_scaled_circles() -> None:
    """All lengths times 1.2: all circles times 1.2."""
    lengths = ("wheelbase_m", "track_front_m", "track_rear_m", "width_m", "turning_radius_m", "length_front_m")
    one = replace(envelope(width_mirrors_m=1.9), roof_m=None, body_front_m=None, body_rear_m=None)
    changes = {name: 1.2 * getattr(one, name) for name in (*lengths, "length_rear_m", "width_mirrors_m")}
    assert tuple(full_lock(replace(one, **changes))) == pytest.approx([1.2 * value for value in full_lock(one)])
