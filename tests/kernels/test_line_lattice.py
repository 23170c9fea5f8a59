"""The line that control points make, against the textbook form of the uniform cubic B-spline."""

import numpy as np
import pytest

from pipeline.kernels.line_lattice import CX, CY, DX, DY, OFFSET, Body, Mesh, Stretch
from pipeline.kernels.line_search import CLOSED, GAP, HEADING, LENGTH, Rules
from pipeline.kernels.plan_gap import box_rows, hull_of, solid_rows
from pipeline.kernels.plan_way import way_rows
from tests.kernels import line_called as called
from tests.kernels.line_worlds import straight, track_of, trees, vehicle

pytestmark = pytest.mark.kernel

SPLINE = np.array([[1, 4, 1, 0], [-3, 0, 3, 0], [3, -6, 3, 0], [-1, 3, -3, 1]]) / 6.0
"""Basis matrix of the uniform cubic B-spline (de Boor, A Practical Guide to Splines, 1978)."""


def test_places_are_those_of_the_basis_matrix() -> None:
    """Place, direction and curvature agree with the matrix form and its derivatives."""
    rng = np.random.default_rng(5)
    points = np.column_stack([2.0 * np.arange(4), rng.uniform(-0.4, 0.4, 4)])
    line = np.zeros((4, 5))
    line[:, [CX, CY]] = points
    line[1:3, [DX, DY]] = points[:-2] - 2.0 * points[1:-1] + points[2:]
    ends = (*points[1], *points[2])
    for t in np.linspace(0.0, 1.0, 7):
        powers = np.array([[1.0, t, t**2, t**3], [0.0, 1.0, 2.0 * t, 3.0 * t**2], [0.0, 0.0, 2.0, 6.0 * t]])
        place, speed, bend = powers @ SPLINE @ points
        x, y, heading, curvature = called.place_of(line, 1, ends, t)
        assert np.allclose([x, y], place)
        assert heading == pytest.approx(np.arctan2(speed[1], speed[0]))
        cross = speed[0] * bend[1] - speed[1] * bend[0]
        assert curvature == pytest.approx(cross / np.hypot(*speed) ** 3)


def test_control_points_stand_right_of_the_way() -> None:
    """Positive offsets lie to the right in travel, and a constant one bends as the way does."""
    tracks = track_of(np.full(40, 0.05))
    line = np.zeros((11, 5))
    line[:, OFFSET] = 0.5
    called.control(way_rows(tracks), 4, line)
    centre = np.array([0.0, 20.0])
    assert np.allclose(np.hypot(*(line[:, [CX, CY]] - centre).T), 20.5, atol=1e-3)
    ends = (line[4, CX], line[4, CY], line[5, CX], line[5, CY])
    assert called.place_of(line, 4, ends, 0.5)[3] == pytest.approx(1.0 / 20.5, rel=0.01)


def test_a_straight_line_of_control_points_is_straight() -> None:
    """Without second differences the line runs evenly from place to place."""
    line = np.zeros((6, 5))
    called.control(way_rows(straight(10.0)), 4, line)
    x, y, heading, bend = called.place_of(line, 2, (line[2, CX], line[2, CY], line[3, CX], line[3, CY]), 0.25)
    assert (x, y, heading, bend) == (pytest.approx(4.5), 0.0, 0.0, 0.0)


def test_steps_are_measured_along_the_trail() -> None:
    """A step has the heading and length of its ends; one that leads across rather than on is closed."""
    boxes, tracks = vehicle(), straight(6.0)
    rows = np.column_stack([way_rows(tracks), np.full((13, 2), 9.0), np.zeros(13), np.full(13, np.nan)])
    nobody = solid_rows(trees(tracks))
    stretch = Stretch(rows, tracks.step, nobody, np.zeros(14, dtype=np.int64), np.zeros(0, dtype=np.int64), 0.1)
    own = box_rows(boxes)
    body = Body(own, np.stack([own, own]), hull_of(boxes), boxes.wheelbase, 0.2)
    line, room = np.zeros((4, 5)), called.space(4, 3, 3)
    called.control(rows, 4, line)
    rules = Rules(0.2, 0.1, 0.65, 0.5 * CLOSED, 2.0)
    called.lay(stretch, body, line, Mesh(4, 4, 3, 0.5, 1, False, False), rules, room)
    assert room.steps[1, 1, 1].tolist() == [0.0, 2.0, 0.65]
    assert room.steps[1, 1, 2, HEADING] == pytest.approx(-np.arctan(0.25))
    assert room.steps[1, 1, 2, LENGTH] == pytest.approx(np.hypot(2.0, 0.5))
    assert room.steps[1, 0, 0, GAP] == CLOSED
    called.lay(stretch, body, line, Mesh(4, 4, 3, 8.0, 1, False, False), rules, room)
    assert room.steps[1, 1, 2, GAP] == CLOSED
    assert room.steps[1, 1, 1, GAP] == 0.65
