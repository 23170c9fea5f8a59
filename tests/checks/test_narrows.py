"""Narrow places."""

import numpy as np
import pytest

from pipeline.checks.narrows import narrows_of
from pipeline.checks.scene import make_scene
from tests.checks.worlds import site_on, straight, with_stations
from tests.worlds import plane


def thing(kind: str, at: float, **columns: object) -> dict[str, object]:
    """Make a thing on the tiny trail."""
    return {"kind": kind, "segment_id": "s", "chainage_m": at, **columns}


def test_trees_on_both_sides_make_a_gap() -> None:
    """Trees at −1.5 and +1.2 with stems of 0.4 m leave 2.3 m; the same pair 3 m apart along the trail is none."""
    trees = [
        thing("tree", 20.0, offset_m=-1.5, width_m=0.4),
        thing("tree", 21.0, offset_m=1.2, width_m=0.4),
        thing("post", 40.0, offset_m=-1.5),
        thing("post", 43.0, offset_m=1.5),
    ]
    found = narrows_of(make_scene(site_on(straight(obstacles=trees), plane())), 2.0)
    assert found.at_m.tolist() == [20.5]
    assert found.width_m == pytest.approx([2.3])


def test_gap_without_width_is_told() -> None:
    """A gap that nobody measured is named, the first one of the segment."""
    gaps = [thing("gap", 30.0, name="late"), thing("gap", 10.0, name="Needle"), thing("gap", 50.0, clear_width_m=2.2)]
    found = narrows_of(make_scene(site_on(straight(obstacles=gaps), plane())), 2.0)
    assert found.unknown.tolist() == ["gap Needle at 10.0 m has no clear width"]
    assert found.width_m.tolist() == [2.2]


def test_curvature_is_that_of_the_place() -> None:
    """A gap in a bend takes the bend's curvature, one on the straight none."""
    gaps = [thing("gap", 10.0, clear_width_m=2.2), thing("gap", 50.0, clear_width_m=2.2)]
    site = site_on(straight(obstacles=gaps), plane())
    bend = np.where(site.terrain.stations.chainage_m < 20.0, -0.1, 0.0).astype(np.float32)
    found = narrows_of(make_scene(with_stations(site, curvature=bend)), 2.0)
    assert found.curvature == pytest.approx([0.1, 0.0])
