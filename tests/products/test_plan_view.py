"""What is cut out of a tight place for its drawing."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.room.plans import Plans
from pipeline.products.plan_view import AWAY_M, BESIDE_M, ELSEWHERE, REACH_M, SPACING_M, Cut, cut
from tests.products.room_worlds import RUN_M, SPOTS, STEP, body_x, face_of, frame_of, gap_of
from tests.products.worlds import make_facts

FACTS = make_facts()
EACH = list(enumerate(SPOTS))


def _plans() -> Plans:
    assert FACTS.plans is not None
    return FACTS.plans


def _cut(place: int) -> Cut:
    return cut(_plans(), place, FACTS.envelopes[SPOTS[place].setup])


@pytest.mark.parametrize("place", range(len(SPOTS)))
def test_the_tightest_pose_is_the_origin(place: int) -> None:
    """Its rear axle stands at the chainage and the offset of the row; it looks the way it is driven."""
    spot, one = SPOTS[place], _cut(place)
    line = FACTS.segments.set_index("segment_id").geometry[spot.segment]
    point, forward, right = frame_of(line, spot.direction, spot.at_m)
    assert one.origin == pytest.approx(point + spot.offset_m * right, abs=1e-6)
    assert one.poses[one.tightest] == pytest.approx(
        [0, 0, np.arctan2(forward[1], forward[0]), 0, np.radians(spot.roll_deg)]
    )


@pytest.mark.parametrize("place", range(len(SPOTS)))
def test_poses_stand_half_a_metre_apart_round_the_nearest(place: int) -> None:
    """From before the first of the nearest poses to behind the last, with those poses themselves among them."""
    one = _cut(place)
    steps = np.hypot(*np.diff(one.poses[:, :2], axis=0).T)
    assert steps.max() <= SPACING_M + STEP
    along = np.concatenate([[0.0], np.cumsum(steps)])
    shown = [one.tightest, *(side.pose for side in one.sides if side is not None)]
    assert along[min(shown)] == pytest.approx(REACH_M, abs=SPACING_M)
    assert along[-1] - along[max(shown)] == pytest.approx(REACH_M, abs=SPACING_M)
    assert along[-1] < 2 * RUN_M


@pytest.mark.parametrize(("place", "side"), [(place, side) for place in range(len(SPOTS)) for side in (0, 1)])
def test_what_is_nearest_lies_as_far_off_as_the_gap(place: int, side: int) -> None:
    """The point of the body lies on the face of the part in the frame of its pose, the other one beyond the gap."""
    spot, one = SPOTS[place], _cut(place)
    wanted = [beside for beside in spot.besides if beside.side == side]
    near = one.sides[side]
    if not wanted:
        assert near is None
        return
    assert near is not None
    own = FACTS.envelopes[spot.setup]
    sign = -1.0 if side == 0 else 1.0
    x, y, heading, _, _ = one.poses[near.pose]
    forward = np.array([np.cos(heading), np.sin(heading)])
    right = np.array([forward[1], -forward[0]])
    offset = near.body - [x, y]
    assert offset @ forward == pytest.approx(body_x(wanted[0].part, own), abs=1e-6)
    assert offset @ right == pytest.approx(sign * face_of(spot, wanted[0], own), abs=1e-6)
    assert sign * (near.beside - near.body) @ right == pytest.approx(gap_of(spot, wanted[0], own), abs=1e-6)


def test_a_pose_far_from_the_tightest_is_not_drawn() -> None:
    """Its side is told all the same, and the picture stays as long as round the tightest alone."""
    held, own = _plans(), FACTS.envelopes[0]
    nearest = held.nearest.copy()
    nearest[0, 1] = held.tightest[0] + round((AWAY_M + 0.5) / STEP)
    one = cut(replace(held, nearest=nearest), 0, own)
    assert one.sides[1] is not None
    assert one.sides[1].pose == ELSEWHERE
    assert np.hypot(*(one.poses[-1, :2] - one.poses[0, :2])) < 2 * REACH_M + AWAY_M
    nearest[0, 1] -= round(1.0 / STEP)
    found = cut(replace(held, nearest=nearest), 0, own).sides[1]
    assert found is not None
    assert found.pose >= 0


def test_only_what_stands_near_is_drawn() -> None:
    """A shape farther off than the body reaches from any drawn axle, and a bit, is left out."""
    held = _plans()
    own = FACTS.envelopes[0]
    reach = own.length_rear_m + own.wheelbase_m + own.length_front_m + BESIDE_M
    for shift, shown in ((reach - 3.0, 1), (reach + 6.0, 0)):
        ax, bx = held.shapes.ax.copy(), held.shapes.bx.copy()
        ax[0] -= shift
        bx[0] -= shift
        shapes = held.shapes
        moved = type(shapes)(shapes.offsets, ax, shapes.ay, bx, shapes.by, shapes.radius, shapes.low, shapes.thing)
        plans = Plans(held.ways, moved, held.edges, held.tightest, held.nearest, held.body, held.beside)
        assert len(cut(plans, 0, own).shapes) == shown


def test_edges_reach_as_far_as_the_body_of_the_drawn_poses() -> None:
    """From its tail in the first pose to its nose in the last, as far as the way goes; of the kind that counts."""
    one, own = _cut(0), FACTS.envelopes[0]
    left, right = one.edges
    assert np.isfinite(left).all()
    long = np.hypot(*(left[-1] - left[0]))
    first_to_last = np.hypot(*(one.poses[-1, :2] - one.poses[0, :2]))
    assert long == pytest.approx(first_to_last + own.length_rear_m + own.wheelbase_m + own.length_front_m, abs=2 * STEP)
    assert np.hypot(*(left - right).T) == pytest.approx(np.full(len(left), 3.0))
    assert one.whole == (False, False)
    assert _cut(2).whole == (True, True)
    assert np.isnan(_cut(3).edges[0]).all()
    assert _cut(5).whole == (True, False)
