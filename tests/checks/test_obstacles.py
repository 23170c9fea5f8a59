"""Obstacles as arrays, and what of them goes under which wheels."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.laid import bumps_on
from pipeline.checks.obstacles import RUT_LENGTH_M, on_body, on_tyres, things_of
from pipeline.kernels.obstacle_bumps import ELLIPSE, STEP, TROUGH
from pipeline.terms import Basis, ObstacleKind
from tests.checks.worlds import LIMITS, envelope, profiles_of, straight


def rock(**changes: object) -> dict[str, object]:
    """Make a rock on the trail of tiny worlds."""
    return {"kind": "rock", "segment_id": "s", "chainage_m": 20.0, "height_m": 0.2, "length_m": 0.6, **changes}


@pytest.mark.parametrize(
    ("offset", "width", "body", "tyres"),
    [
        (0.0, 0.5, True, False),  # between the wheels: tyres run from 0.675 to 0.925
        (0.8, 0.2, True, True),
        (-0.8, 0.2, True, True),
        (0.5, 0.4, True, True),  # reaches 0.70
        (0.4, 0.5, True, False),  # reaches 0.65
        (1.5, 0.4, False, False),  # begins at 1.3, beside the body
        (None, 0.5, True, False),  # no offset: on the centre line
        (1.5, None, True, True),  # no width: the whole trail
    ],
)
def test_lateral_extent_decides_what_passes_over(
    *, offset: float | None, width: float | None, body: bool, tyres: bool
) -> None:
    """A thing counts for the body within its width, and for the tyres only in their path (track 1.6, tyre 0.25)."""
    things = things_of(straight(obstacles=[rock(offset_m=offset, width_m=width)]))
    assert on_body(things, envelope(), 0.0).tolist() == [body]
    assert on_tyres(things, envelope(), 0.0).tolist() == [tyres]


def test_path_is_taken_wider_by_what_a_driver_is_off() -> None:
    """A rock that begins 5 cm outside the body, or 5 cm inside the tyres, counts when the path is 15 cm wider."""
    outside = things_of(straight(obstacles=[rock(offset_m=1.1, width_m=0.2)]))
    assert (on_body(outside, envelope(), 0.0)[0], on_body(outside, envelope(), 0.15)[0]) == (False, True)
    between = things_of(straight(obstacles=[rock(offset_m=0.4, width_m=0.45)]))
    assert (on_tyres(between, envelope(), 0.0)[0], on_tyres(between, envelope(), 0.15)[0]) == (False, True)


@pytest.mark.parametrize(
    ("offset", "width", "under"),
    [
        (0.0, None, True),  # a ditch right across
        (0.0, 1.9, True),  # just as wide as the body
        (0.8, 0.6, False),  # a hole under the right wheels
        (-0.8, 0.6, False),
        (0.5, 2.0, False),  # both wheels, but the left sill stays over the level
    ],
)
def test_ground_beside_a_hole_stays(*, offset: float, width: float | None, under: bool) -> None:
    """Only a hole or ditch right across lowers the ground under the body; the wheels sink in all of them."""
    for kind in ("hole", "ditch"):
        things = things_of(straight(obstacles=[rock(kind=kind, offset_m=offset, width_m=width)]))
        ground = bumps_on(things, profiles_of(np.zeros(601)), envelope(), LIMITS)
        assert ground.wheel.height.tolist() == [-0.2]
        assert ground.under.height.tolist() == ([-0.2] if under else [])


def test_shapes_sizes_and_assumptions() -> None:
    """Holes go down whatever their sign; missing lengths are twice the height, of ruts 6 m, and assumed."""
    kinds = [
        rock(length_m=None),
        rock(kind="hole", height_m=0.3),
        rock(kind="step", height_m=-0.4, length_m=None),
        rock(kind="rut", height_m=0.15, length_m=None),
        rock(kind="log", height_m=None),
        rock(kind="tree"),
    ]
    ground = bumps_on(things_of(straight(obstacles=kinds)), profiles_of(np.zeros(601)), envelope(), LIMITS)
    under, wheel = ground.under, ground.wheel
    assert under.height.tolist() == [0.2, -0.3, -0.4]
    assert under.shape.tolist() == [ELLIPSE, ELLIPSE, STEP]
    assert under.length[0] == pytest.approx(0.4)
    assert under.basis.tolist() == [Basis.ASSUMED, Basis.SURVEYED, Basis.SURVEYED]
    assert wheel.shape.tolist() == [ELLIPSE, ELLIPSE, STEP, TROUGH]
    assert wheel.length[-1] == RUT_LENGTH_M
    assert wheel.height[-1] == -0.15


def test_things_go_on_every_run_that_contains_them() -> None:
    """On a run that drives the segment backwards the place and the sense of a step turn round."""
    base = profiles_of(np.zeros(601))
    two = dataclasses.replace(
        base,
        segment=np.array([0, 0]),
        piece_offsets=np.array([0, 1, 2]),
        piece_segment=np.array([0, 0]),
        piece_zero_m=np.array([0.0, 30.0]),
        piece_sign=np.array([1, -1]),
        piece_from_m=np.array([0.0, 0.0]),
        piece_to_m=np.array([60.0, 5.0]),
    )
    things = things_of(
        straight(obstacles=[rock(kind="step", height_m=0.3, chainage_m=27.0), rock(chainage_m=10.0, obstacle_id="far")])
    )
    under = bumps_on(things, two, envelope(), LIMITS).under
    found = sorted(zip(under.run.tolist(), under.at.tolist(), under.height.tolist(), strict=True))
    assert found == [(0, 10.0, 0.2), (0, 27.0, 0.3), (1, 3.0, -0.3)]


def test_things_are_sorted_and_named() -> None:
    """Things come by chainage, are called by kind and name, and without a name by their id."""
    things = things_of(
        straight(obstacles=[rock(chainage_m=30.0, name="Toad"), rock(kind="log", chainage_m=5.0, obstacle_id="L7")])
    )
    assert things.label.tolist() == ["log L7", "rock Toad"]
    assert things.of(ObstacleKind.ROCK).at_m.tolist() == [30.0]


def test_unattached_obstacles_are_left_out() -> None:
    """What lies on no segment is on no segment's profile."""
    network = straight(obstacles=[rock()])
    network.obstacles["segment_id"] = np.array([None], dtype=object)
    assert things_of(network).row.size == 0
