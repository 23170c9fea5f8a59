"""Narrow places."""

import numpy as np
import pytest

from pipeline.checks.narrows import narrows_of, stems_in_the_way
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
    found = narrows_of(make_scene(site_on(straight(obstacles=trees, width_m=2.0), plane())), 2.0)
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


@pytest.mark.parametrize(
    ("offset", "stem", "left"),
    [
        (0.3, 0.2, 1.95),  # the left side, from −1.75 to +0.2
        (-1.2, 0.4, 2.75),  # the right side, from −1.0 to +1.75
        (0.0, 0.5, 1.5),  # in the middle
        (None, 0.5, 1.5),  # nobody knows where: in the middle
        (0.05, 4.0, 0.0),  # as wide as the trail
        (1.9, 0.2, None),  # beside the trail
    ],
)
def test_single_stem_in_the_trail_leaves_its_wider_side(offset: float | None, stem: float, left: float | None) -> None:
    """A tree within a tagged width of 3.5 m leaves the room between it and the farther edge, on whichever side."""
    tree = thing("tree", 20.0, offset_m=offset, width_m=stem)
    found = narrows_of(make_scene(site_on(straight(obstacles=[tree], width_m=3.5), plane())), 2.0)
    assert found.width_m == pytest.approx([] if left is None else [left])


def test_stem_in_the_way_of_an_untagged_trail_is_named() -> None:
    """Without a tagged width nobody knows the room beside a tree in the way: it is named; one farther off is not."""
    trees = [thing("post", 30.0, offset_m=-1.0, name="Bollard"), thing("tree", 10.0, offset_m=1.4, width_m=0.2)]
    scene = make_scene(site_on(straight(obstacles=trees, width_m=None), plane()))
    assert stems_in_the_way(scene, 1.2).tolist() == ["post Bollard at 30.0 m stands in the way and no width is tagged"]
    assert stems_in_the_way(scene, 0.9).tolist() == [""]
    assert narrows_of(scene, 2.0).width_m.size == 0
