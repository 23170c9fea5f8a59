"""The two ends of a gap: closed forms, a search by brute force, mirrored and turned."""

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.checks.room.contact import Met, Near, Stands, touch
from pipeline.kernels.plan_records import Boxes
from pipeline.terms import Part

Float64 = NDArray[np.float64]


def _boxes() -> Boxes:
    """Four wheels, a body 4 m long and 1.8 m wide from 0.3 to 2 m, mirrors 0.15 m out at 1.0 to 1.3 m."""
    rows = [
        (2.2, 2.8, 0.7, 0.9, 0.0, 0.7, Part.WHEEL),
        (2.2, 2.8, -0.9, -0.7, 0.0, 0.7, Part.WHEEL),
        (-0.3, 0.3, 0.7, 0.9, 0.0, 0.7, Part.WHEEL),
        (-0.3, 0.3, -0.9, -0.7, 0.0, 0.7, Part.WHEEL),
        (-0.8, 3.2, -0.9, 0.9, 0.3, 2.0, Part.SILL),
        (1.8, 2.0, 0.9, 1.05, 1.0, 1.3, Part.MIRROR),
        (1.8, 2.0, -1.05, -0.9, 1.0, 1.3, Part.MIRROR),
    ]
    rear, front, right, left, low, high, part = np.array(rows).T
    return Boxes(rear, front, right, left, low, high, part.astype(np.int64), 2.5, 0.6)


@dataclass(frozen=True, slots=True)
class Case:
    """A gap of a vehicle that stands at the origin and looks east, unless *stand* says otherwise."""

    gap: float
    part: Part
    body_x: float
    side: int
    ends: tuple[tuple[float, float], tuple[float, float]] = ((np.nan, np.nan), (np.nan, np.nan))
    radius: float = np.nan
    heights: tuple[float, float] = (0.0, np.inf)
    stand: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    """x, y, heading, steering angle, lean."""
    turn: float = 0.0


def _touch(case: Case) -> tuple[Float64, Float64]:
    x, y, heading, steer, lean = (np.array([value]) for value in case.stand)
    stands = Stands(x, y, heading, steer, np.sin(lean))
    turn = np.array([case.turn])
    near = Near(np.array([case.gap]), np.array([case.part]), np.array([case.body_x]), np.array([case.side]), turn)
    low, high = (np.array([value]) for value in (case.heights if np.isfinite(case.radius) else (-np.inf, np.inf)))
    ends = [np.nan_to_num(np.array([end])) for end in case.ends]
    body, beside = touch(_boxes(), stands, near, Met(*ends, np.array([case.radius]), low, high))
    return body[0], beside[0]


def test_beside_a_trunk_the_gap_runs_straight_to_it() -> None:
    """A trunk of 0.2 m radius 1.6 m to the left of the door: 0.5 m from 0.9 to 1.4."""
    body, beside = _touch(Case(0.5, Part.SILL, 1.0, 0, ((1.0, 1.6), (1.0, 1.6)), 0.2))
    assert body == pytest.approx([1.0, 0.9])
    assert beside == pytest.approx([1.0, 1.4])


def test_past_a_corner_the_gap_runs_aslant() -> None:
    """A trunk 0.3 m ahead of the front corner and 0.4 m beside it: 0.5 m less its radius of 0.1."""
    body, beside = _touch(Case(0.4, Part.SILL, 3.2, 1, ((3.5, -1.3), (3.5, -1.3)), 0.1))
    assert body == pytest.approx([3.2, -0.9])
    assert beside == pytest.approx([3.2 + 0.3 * 0.8, -0.9 - 0.4 * 0.8])


def test_a_mirror_is_met_where_the_thing_is_as_high() -> None:
    """Of the trunk's parts the one told is drawn, not the body behind it."""
    body, beside = _touch(Case(0.25, Part.MIRROR, 1.9, 1, ((1.9, -1.5), (1.9, -1.5)), 0.2))
    assert body == pytest.approx([1.9, -1.05])
    assert beside == pytest.approx([1.9, -1.3])


def test_a_branch_is_met_at_its_end() -> None:
    """A branch across from 1.2 m out, its radius 0.15: the gap ends on its round end."""
    body, beside = _touch(Case(0.15, Part.SILL, 0.0, 0, ((0.0, 1.2), (0.0, 3.0)), 0.15, (1.5, np.inf)))
    assert body == pytest.approx([0.0, 0.9])
    assert beside == pytest.approx([0.0, 1.05])


def test_a_body_that_leans_is_met_at_its_top() -> None:
    """10° to the right: the top of the body, 2 m up, comes 2 sin 10° nearer on the right, on the left nothing does."""
    out = 0.9 + 2.0 * np.sin(np.radians(10.0))
    lean = (0.0, 0.0, 0.0, 0.0, np.radians(10.0))
    body, _ = _touch(Case(0.1, Part.SILL, 1.0, 1, ((1.0, -out - 0.3), (1.0, -out - 0.3)), 0.2, (0.0, np.inf), lean))
    assert body == pytest.approx([1.0, -out])
    wheel, _ = _touch(Case(0.1, Part.WHEEL, 0.0, 1, ((0.0, -1.2), (0.0, -1.2)), 0.2, (0.0, np.inf), lean))
    assert wheel == pytest.approx([0.0, -0.9])
    low, _ = _touch(Case(0.1, Part.SILL, 1.0, 1, ((1.0, -1.6), (1.0, -1.6)), 0.2, (0.0, 0.5), lean))
    assert low == pytest.approx([1.0, -0.9 - 0.5 * np.sin(np.radians(10.0))])


def test_what_overlaps_is_told_sideways() -> None:
    """0.12 m too far left: from the face inwards."""
    body, beside = _touch(Case(-0.12, Part.SILL, 1.0, 0, ((1.0, 0.98), (1.0, 0.98)), 0.2))
    assert body == pytest.approx([1.0, 0.9])
    assert beside == pytest.approx([1.0, 0.78])


def test_at_the_edge_the_gap_runs_sideways_from_the_part() -> None:
    """A rear tyre 0.3 m from the edge; the corner of a steered front tyre; the leaning body; across the way."""
    body, beside = _touch(Case(0.3, Part.WHEEL, 0.1, 1))
    assert (body, beside) == (pytest.approx([0.1, -0.9]), pytest.approx([0.1, -1.2]))
    angle = 0.4
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    corner = np.array([2.5, 0.8]) + np.array([0.3, 0.1]) @ turn
    body, _ = _touch(Case(0.3, Part.WHEEL, float(corner[0]), 0, stand=(0.0, 0.0, 0.0, angle, 0.0)))
    assert body == pytest.approx(corner)
    _, beside = _touch(Case(0.3, Part.WHEEL, 0.1, 1, turn=0.2))
    assert beside == pytest.approx([0.1 + 0.3 * np.sin(0.2), -0.9 - 0.3 * np.cos(0.2)])
    body, _ = _touch(Case(0.3, Part.SILL, 3.2, 0, stand=(0.0, 0.0, 0.0, 0.0, -0.1)))
    assert body == pytest.approx([3.2, 0.9 + 2.0 * np.sin(0.1)])


@pytest.mark.parametrize("seed", range(6))
def test_closest_points_are_those_of_a_geometry_library(seed: int) -> None:
    """GEOS (shapely.shortest_line) between polygons and lines, for a vehicle anywhere, turned and steered."""
    rng = np.random.default_rng(seed)
    boxes = _boxes()
    for _ in range(20):
        x, y, heading, steer = rng.uniform(-50, 50), rng.uniform(-50, 50), rng.uniform(-4, 4), rng.uniform(-0.6, 0.6)
        part = Part(int(rng.choice([Part.WHEEL, Part.SILL, Part.MIRROR])))
        ends = np.array([x, y]) + rng.uniform(-5, 5, (2, 2))
        line = shapely.LineString(ends)
        shapes = [_polygon(boxes, box, (x, y, heading, steer)) for box in np.flatnonzero(boxes.part == part)]
        nearest = min(shapes, key=lambda shape: shape.distance(line))
        if nearest.distance(line) < 0.4:
            continue
        gap = nearest.distance(line) - 0.3
        case = Case(gap, part, 0.0, 0, (tuple(ends[0]), tuple(ends[1])), 0.3, stand=(x, y, heading, steer, 0.0))
        body, beside = _touch(case)
        assert np.hypot(*(beside - body)) == pytest.approx(gap, abs=2e-3)
        assert nearest.distance(shapely.Point(body)) < 1e-6
        assert line.distance(shapely.Point(beside)) == pytest.approx(0.3, abs=2e-3)


def _polygon(boxes: Boxes, box: int, stand: tuple[float, float, float, float]) -> shapely.Polygon:
    """Give a box as a polygon in the world."""
    x, y, heading, steer = stand
    shape = shapely.box(boxes.rear[box], boxes.right[box], boxes.front[box], boxes.left[box])
    turns = [(heading, (0.0, 0.0))]
    if box < 2:
        middle = shape.centroid
        turns.insert(0, (steer, (middle.x, middle.y)))
    for angle, about in turns:
        shape = shapely.affinity.rotate(shape, angle, origin=about, use_radians=True)
    return shapely.affinity.translate(shape, x, y)


def test_mirrored_the_ends_are_mirrored() -> None:
    """Left for right, steering and lean with it."""
    case = Case(0.4, Part.SILL, 3.2, 1, ((3.5, -1.3), (3.7, -2.3)), 0.1, (0.5, 1.5), (1.0, 2.0, 0.3, 0.2, 0.05))
    twin = Case(0.4, Part.SILL, 3.2, 0, ((3.5, 1.3), (3.7, 2.3)), 0.1, (0.5, 1.5), (1.0, -2.0, -0.3, -0.2, -0.05))
    for one, other in zip(_touch(case), _touch(twin), strict=True):
        assert one == pytest.approx(other * [1.0, -1.0])
