"""Flat arrays of lines, and the cutting of many parts at once.

Outside check: shapely.ops.substring cuts the same parts one by one.
"""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.ops import substring

from pipeline.survey.chains import Chains, Cut
from tests.survey.worlds import at, objects


def cut(chains: Chains, line: list[int], low: list[float], high: list[float]) -> list[shapely.LineString]:
    """Cut parts whose ends stay where they are."""
    rows, begin, end = np.array(line, dtype=np.int64), np.array(low), np.array(high)
    return list(chains.cut(Cut(rows, begin, end, chains.points(rows, begin), chains.points(rows, end))))


@given(st.integers(0, 10_000), st.floats(0.0, 0.9), st.floats(0.05, 1.0))
def test_cut_against_shapely(seed: int, low: float, share: float) -> None:
    """Any part of any line equals shapely's substring."""
    rng = np.random.default_rng(seed)
    shapes = objects([shapely.LineString(rng.uniform(0, 100, (n, 2))) for n in rng.integers(2, 9, size=4)])
    chains = Chains.of(shapes)
    lengths = shapely.length(shapes)
    assert chains.lengths == pytest.approx(lengths)
    begin = low * lengths
    end = begin + np.maximum(share * (lengths - begin), 0.01)
    parts = cut(chains, [0, 1, 2, 3], begin.tolist(), end.tolist())
    for part, shape, a, b in zip(parts, shapes, begin, end, strict=True):
        assert part.length == pytest.approx(b - a, abs=1e-6)
        assert part.hausdorff_distance(substring(shape, a, b)) < 1e-5


def test_heights_are_interpolated_and_kept_apart() -> None:
    """A cut between two vertices has the height between theirs; a line without heights stays plane beside it."""
    shapes = objects([at((0, 0, 100), (10, 0, 110)), at((0, 5), (10, 5)), at((0, 9, 50), (10, 9, 70))])
    first, plane, last = cut(Chains.of(shapes), [0, 1, 2], [0.0, 2.0, 5.0], [4.0, 10.0, 10.0])
    assert [point[2] for point in first.coords] == [100.0, 104.0]
    assert not plane.has_z
    assert [point[2] for point in last.coords] == [60.0, 70.0]


def test_moved_end_takes_near_vertices_along() -> None:
    """An end moved back by 1 m leaves out the vertices it passed, so that the line does not double back."""
    shapes = objects([at((0, 0), (0.4, 0), (0.8, 0), (5, 0), (10, 0))])
    chains = Chains.of(shapes)
    moved = Cut(
        np.array([0]), np.array([0.0]), np.array([10.0]), chains.points(np.array([0]), np.array([1.0])),
        chains.points(np.array([0]), np.array([10.0])),
    )  # fmt: skip
    (part,) = chains.cut(moved)
    assert part.equals(at((1, 0), (5, 0), (10, 0)))


def test_nothing_to_cut() -> None:
    """No parts give no shapes."""
    assert cut(Chains.of(objects([at((0, 0), (1, 0))])), [], [], []) == []
