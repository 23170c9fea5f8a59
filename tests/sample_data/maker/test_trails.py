"""Drawing and cutting the trails."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from maker.trails import Trail, cut_edges, read_trails

HEADER = "trail,x_m,y_m\n"


def drawn(folder: Path, toml: str, waypoints: str) -> list[Trail]:
    """Read trails from texts."""
    (folder / "trails.toml").write_text(toml, encoding="utf-8")
    (folder / "waypoints.csv").write_text(HEADER + waypoints, encoding="utf-8")
    return read_trails(folder)


def entry(name: str, more: str = "") -> str:
    """Give one trail of the settings."""
    return f'[[trail]]\nid = "{name}"\n{more}\n'


def test_a_line_runs_through_its_waypoints(tmp_path: Path) -> None:
    """Every waypoint is a vertex, and vertices are about a metre apart."""
    points = [(0.0, 0.0), (10.0, 4.0), (18.0, -3.0), (30.0, 0.0)]
    (trail,) = drawn(tmp_path, entry("A"), "".join(f"A,{x},{y}\n" for x, y in points))
    vertices = shapely.get_coordinates(trail.line)
    for point in points:
        assert np.hypot(*(vertices - point).T).min() < 1e-9
    spacing = np.hypot(*np.diff(vertices, axis=0).T)
    assert spacing.min() > 0.5
    assert spacing.max() < 2.0


def test_waypoints_on_a_straight_give_a_straight(tmp_path: Path) -> None:
    """Unevenly spaced waypoints on a line leave no wiggle."""
    (trail,) = drawn(tmp_path, entry("A"), "A,0,0\nA,3,0\nA,20,0\nA,24,0\n")
    assert np.abs(shapely.get_coordinates(trail.line)[:, 1]).max() == 0.0
    assert trail.line.length == pytest.approx(24.0)


def test_waypoints_on_a_circle_give_its_curvature(tmp_path: Path) -> None:
    """Through every 15° of a circle of 20 m the line stays within 2 cm of it, away from the ends."""
    angles = np.radians(np.arange(0.0, 181.0, 15.0))
    rows = "".join(f"A,{20.0 * np.cos(a)},{20.0 * np.sin(a)}\n" for a in angles)
    (trail,) = drawn(tmp_path, entry("A"), rows)
    vertices = shapely.get_coordinates(trail.line)
    inner = vertices[(vertices[:, 1] > 5.5)]
    assert np.abs(np.hypot(inner[:, 0], inner[:, 1]) - 20.0).max() < 0.02


def test_attributes_and_shape_are_kept_apart(tmp_path: Path) -> None:
    """What the survey says goes out to users, how the bed is built does not."""
    more = "width_m = 2.5\nbed_m = 8.0\ncrests = [[1, 0.3, 2.0]]"
    (trail,) = drawn(tmp_path, entry("A", more), "A,0,0\nA,9,0\n")
    assert trail.attributes == {"width_m": 2.5}
    assert trail.shape == {"bed_m": 8.0, "crests": [[1, 0.3, 2.0]]}


def test_a_crossing_cuts_both_trails(tmp_path: Path) -> None:
    """Two crossing trails give four edges, which add up to the whole."""
    trails = drawn(tmp_path, entry("A") + entry("B"), "A,-10,0\nA,10,0\nB,0,-10\nB,0,10\n")
    edges = cut_edges(trails)
    assert [edge.trail.id for edge in edges] == ["A", "A", "B", "B"]
    assert [edge.start_m for edge in edges] == pytest.approx([0.0, 10.0, 0.0, 10.0])


def test_an_end_on_another_trail_cuts_it(tmp_path: Path) -> None:
    """A trail that ends on the middle of another one cuts only that."""
    trails = drawn(tmp_path, entry("A") + entry("B"), "A,-10,0\nA,0,0\nA,10,0\nB,0,0\nB,0,10\n")
    assert [edge.trail.id for edge in cut_edges(trails)] == ["A", "A", "B"]


def test_a_bridge_crosses_without_a_junction(tmp_path: Path) -> None:
    """Neither the bridge nor what runs under it is cut."""
    trails = drawn(tmp_path, entry("A") + entry("B", "bridge = true"), "A,-10,0\nA,10,0\nB,0,-10\nB,0,10\n")
    assert [edge.trail.id for edge in cut_edges(trails)] == ["A", "B"]
