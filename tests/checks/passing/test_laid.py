"""Things laid into the ground that vehicles roll over, by the way past them."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.obstacles import RUT_LENGTH_M, things_of
from pipeline.checks.passing.laid import bumps_on, tyre_bumps
from pipeline.kernels.obstacle_bumps import ELLIPSE, STEP, TROUGH
from pipeline.terms import Basis
from tests.checks.passing.worlds import Row, chosen, thing
from tests.checks.worlds import LIMITS, choice_of, envelope, profiles_of, straight


def rock(**changes: object) -> dict[str, object]:
    """Make a rock on the trail of tiny worlds."""
    return {"kind": "rock", "segment_id": "s", "chainage_m": 20.0, "height_m": 0.2, "length_m": 0.6, **changes}


def heights(*rows: Row, width_m: float | None = 3.2) -> tuple[list[float], list[float]]:
    """Give the heights laid under the wheels and under the body."""
    laid = bumps_on(chosen(*rows, width_m=width_m), profiles_of(np.zeros(601)), envelope(), LIMITS)
    return laid.wheel.height.tolist(), laid.under.height.tolist()


@pytest.mark.parametrize(
    ("row", "wheel", "under"),
    [
        (thing(height_m=0.14), [], [0.14]),  # straddled
        (thing(height_m=0.18, offset_m=0.8), [0.09], [0.18]),  # one wheel on it: the axle rises by half
        (thing("log", height_m=0.1, width_m=3.0), [0.1], [0.1]),
        (thing("step", height_m=0.1, length_m=None, width_m=3.0), [0.1], [0.1]),
        (thing("hole", height_m=-0.3, offset_m=0.8, length_m=1.5, width_m=1.2), [-0.3], []),  # barred; the whole depth
        (thing("hole", height_m=-0.3), [], []),  # straddled: the wheels beside it, the body over it
        (thing("rut", height_m=-0.1, length_m=8.0), [-0.1], []),
        (thing(height_m=0.5, width_m=1.5), [0.5], [0.5]),  # barred: as trodden
        (thing(height_m=0.5, offset_m=0.8), [0.25], [0.5]),
        (thing(height_m=0.2, offset_m=2.0), [], []),  # beside the trail
    ],
)
def test_laid_by_the_way_past_it(row: Row, wheel: list[float], under: list[float]) -> None:
    """Straddled under the body, trodden and barred under both, with half of a rise under one wheel."""
    assert heights(row) == (pytest.approx(wheel), pytest.approx(under))


def test_what_no_wheel_reaches_is_under_the_body() -> None:
    """On 2.4 m nobody can shift: a rock too high to straddle stays where it is met."""
    assert heights(thing(height_m=0.3, width_m=0.3), width_m=2.4) == ([], [0.3])


def test_gone_round_is_met_by_nothing_unless_it_is_trodden_the_other_way() -> None:
    """On 4.2 m a rock of 0.3 m is passed; a step dropped off one way is laid, though it is passed the other way."""
    beside = thing(height_m=0.3, offset_m=1.0, width_m=0.4)
    assert heights(beside, width_m=4.2) == ([], [])
    step = thing("step", height_m=0.1, length_m=None, offset_m=1.0, width_m=0.4)
    quick = envelope(underbody=envelope().underbody + np.array([0.0, 0.3]), front_axle_clearance_m=0.5)
    climbed = chosen(step, vehicle=quick, grip=0.1, width_m=4.2)
    laid = bumps_on(climbed, profiles_of(np.zeros(601)), quick, LIMITS)
    assert laid.wheel.height.tolist() == [0.1]


@pytest.mark.parametrize(
    ("row", "left", "right"),
    [
        (thing(height_m=0.14), False, False),
        (thing(height_m=0.18, offset_m=0.8), False, True),
        (thing(height_m=0.18, offset_m=-0.8), True, False),
        (thing("log", height_m=0.1, width_m=3.0), True, True),
        (thing("rut", height_m=-0.1), True, True),
        (thing(height_m=0.3, width_m=None, offset_m=0.4), False, True),
        (thing(height_m=0.3, width_m=None, offset_m=-0.4), True, False),
        (thing(height_m=0.2, offset_m=2.0), False, False),
    ],
)
def test_wheels_that_meet_it(row: Row, *, left: bool, right: bool) -> None:
    """By the digitised direction; a rock of unknown width under one side, which twists most."""
    found = tyre_bumps(chosen(row, width_m=2.6), profiles_of(np.zeros(601)), LIMITS)
    assert [side.run.size > 0 for side in found] == [left, right]


def test_each_wheel_meets_its_own_things_at_their_full_height() -> None:
    """Among things beside the trail and one of unknown height, each rock lies under its own wheel, where it is."""
    places = ((2.0, 0.18), (0.8, 0.17), (0.0, None), (-2.0, 0.18), (-0.8, 0.16))
    rows = [thing(height_m=size, offset_m=at, chainage_m=10.0 + k) for k, (at, size) in enumerate(places)]
    left, right = tyre_bumps(chosen(*rows, width_m=2.6), profiles_of(np.zeros(601)), LIMITS)
    assert (left.at.tolist(), left.height.tolist()) == ([14.0], [0.16])
    assert (right.at.tolist(), right.height.tolist()) == ([11.0], [0.17])


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
        ground = bumps_on(choice_of(things), profiles_of(np.zeros(601)), envelope(), LIMITS)
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
    ground = bumps_on(choice_of(things_of(straight(obstacles=kinds))), profiles_of(np.zeros(601)), envelope(), LIMITS)
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
    under = bumps_on(choice_of(things), two, envelope(), LIMITS).under
    found = sorted(zip(under.run.tolist(), under.at.tolist(), under.height.tolist(), strict=True))
    assert found == [(0, 10.0, 0.2), (0, 27.0, 0.3), (1, 3.0, -0.3)]
