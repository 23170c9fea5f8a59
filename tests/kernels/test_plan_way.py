"""Places along ways, and what is near their points, against circles and against all distances."""

import math

import numpy as np
import pytest

from pipeline.kernels.plan_way import BEND, BODY, COS, SIN, WHEEL, near_solids, way_rows
from tests.kernels.plan_called import locate, place_on
from tests.kernels.plan_worlds import circle, joined, solids_of, trunk, way

pytestmark = pytest.mark.kernel

ROUND = way(np.full(40, 0.1))
"""A bend to the left of radius 10 m about (0, 10)."""


@pytest.mark.parametrize("guess", [0, 17, 39, 99, -5])
def test_places_on_a_circle(guess: int) -> None:
    """Beside a bend, arc and distance from it are those of the circle, wherever the search starts."""
    rows = way_rows(ROUND)
    for arc, right in ((3.1, 0.0), (8.04, 1.5), (12.26, -2.0), (19.3, 0.7)):
        angle = arc / 10.0
        x, y = (10.0 + right) * math.sin(angle), 10.0 - (10.0 + right) * math.cos(angle)
        i, on, off = locate(x, y, rows, 0.5, guess)
        assert i * 0.5 + on == pytest.approx(arc, abs=1e-4)
        assert off == pytest.approx(right, abs=1e-5)
        assert abs(on) <= 0.25 + 1e-9
        assert place_on(rows, 0.5, arc) == pytest.approx(
            (10.0 * math.sin(angle), 10.0 - 10.0 * math.cos(angle)), abs=1.5e-5
        )


def test_ways_go_straight_on_beyond_their_ends() -> None:
    """Before the first and after the last point, place and offset are those of the tangent."""
    rows = way_rows(ROUND)
    assert locate(-2.0, -0.3, rows, 0.5, 5) == pytest.approx((0, -2.0, 0.3))
    assert place_on(rows, 0.5, -1.5) == pytest.approx((-1.5, 0.0))
    heading = 2.0
    end = complex(10.0 * math.sin(heading), 10.0 - 10.0 * math.cos(heading))
    beyond = end + (1.2 - 0.4j) * complex(math.cos(heading), math.sin(heading))
    assert locate(beyond.real, beyond.imag, rows, 0.5, 0) == pytest.approx((40, 1.2, 0.4))
    on = end + 1.2 * complex(math.cos(heading), math.sin(heading))
    assert place_on(rows, 0.5, 21.2) == pytest.approx((on.real, on.imag))


def test_far_inside_a_bend_the_search_ends() -> None:
    """At the centre of a bend, where every point is abreast, a point is given all the same."""
    i, _, right = locate(0.0, 10.0, way_rows(ROUND), 0.5, 20)
    assert 0 <= i <= 40
    assert right == pytest.approx(-10.0)


def test_rows_of_ways() -> None:
    """Curvature between the neighbours of each point, none at the ends of a track; tyres stay where the body must."""
    tracks = joined([way(np.full(6, 0.1)), way(np.full(4, -0.2), half=1.5)])
    tracks.body[2] = (1.0, 3.0)
    rows = way_rows(tracks)
    assert rows[:7, BEND] == pytest.approx([0.0, *[0.1] * 5, 0.0])
    assert rows[7:, BEND] == pytest.approx([0.0, *[-0.2] * 3, 0.0])
    assert rows[2, WHEEL:] == pytest.approx([1.0, 2.0, 1.0, 3.0])
    assert rows[9, WHEEL] == 1.5
    assert np.isinf(rows[9, BODY:]).all()


def test_near_solids_as_all_distances_tell() -> None:
    """For each point exactly the solids of its own track whose circle comes within the radius, in their order."""
    rng = np.random.default_rng(3)
    tracks = joined([circle(8.0), way(rng.normal(0.0, 0.05, 61)), way(np.zeros(3))])
    rows = [(*(end := rng.uniform(-10.0, 30.0, 2)), *(end + rng.normal(0.0, 1.0, 2)), 0.2, 0.0, 2.0) for _ in range(90)]
    rows[7] = trunk(3.0, 2.0)
    solids = solids_of(rows, [0, 50, 85, 90])
    offsets, which = near_solids(tracks, solids, 4.0)
    assert offsets[0] == 0
    assert offsets.size == tracks.x.size + 1
    seen = 0
    for track in range(3):
        for i in range(tracks.offsets[track], tracks.offsets[track + 1]):
            near = []
            for k in range(solids.offsets[track], solids.offsets[track + 1]):
                x, y = (solids.ax[k] + solids.bx[k]) / 2.0, (solids.ay[k] + solids.by[k]) / 2.0
                reach = 4.2 + math.hypot(solids.bx[k] - solids.ax[k], solids.by[k] - solids.ay[k]) / 2.0
                if k == 7:
                    reach -= 0.05
                if math.hypot(tracks.x[i] - x, tracks.y[i] - y) <= reach:
                    near.append(k)
            assert list(which[offsets[i] : offsets[i + 1]]) == near
            seen += len(near)
    assert seen > 200


def test_nothing_is_near_where_nothing_stands() -> None:
    """No solids, empty lists."""
    offsets, which = near_solids(ROUND, solids_of([]), 9.0)
    assert not offsets.any()
    assert which.size == 0


def test_search_ends_where_points_send_each_other_on() -> None:
    """Of two points that head towards each other, each holds a place beyond to be beside the other: one is given."""
    rows = way_rows(ROUND)[:2].copy()
    rows[:, BEND], rows[1, COS], rows[1, SIN] = 0.0, -1.0, 0.0
    i, _, _ = locate(2.0, 0.0, rows, 0.5, 0)
    assert i in {0, 1}
