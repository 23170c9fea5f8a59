"""Names of parts of the body and of what stands beside the trail."""

import math

import pytest

from pipeline.checks.room.names import Names, body_words, down_to
from pipeline.checks.scene import make_scene
from pipeline.kernels.plan_records import EDGE, LEFT, NOTHING, RIGHT
from pipeline.terms import Part
from tests.checks.worlds import LIMITS, site_on, straight
from tests.worlds import plane


@pytest.mark.parametrize(
    ("gap", "told"),
    [(0.0, "0.00 m"), (0.299, "0.29 m"), (0.3, "0.30 m"), (0.4999, "0.49 m"), (0.5, "0.5 m"), (0.79, "0.7 m")],
)
def test_gaps_are_rounded_down(gap: float, told: str) -> None:
    """Never roomier than it is: centimetres below half a metre, decimetres above, the last binary digit aside."""
    assert down_to(gap) == told


@pytest.mark.parametrize(
    ("part", "side", "x", "words"),
    [
        (Part.MIRROR, LEFT, -0.6, "left mirror"),
        (Part.ROOF, RIGHT, -1.4, "right of the roof"),
        (Part.WHEEL, LEFT, 0.2, "left front tyre"),
        (Part.WHEEL, RIGHT, -3.0, "right rear tyre"),
        (Part.WHEEL, RIGHT, math.nan, "right tyres"),
        (Part.SILL, RIGHT, 0.4, "right front"),
        (Part.SILL, LEFT, -1.4, "left side"),
        (Part.SILL, RIGHT, -3.2, "right rear"),
        (Part.SILL, LEFT, math.nan, "left side"),
    ],
)
def test_places_on_the_body(part: Part, side: int, x: float, words: str) -> None:
    """Ahead of the front axle is the front, behind the rear axle the rear; tyres belong to the nearer axle."""
    assert body_words(part, side, x, 2.8) == words


@pytest.mark.parametrize(
    ("north", "way", "side", "name"),
    [
        (0.3, 0, LEFT, "the bank"),
        (0.3, 0, RIGHT, "the drop-off"),
        (0.3, 1, LEFT, "the drop-off"),
        (0.3, 1, RIGHT, "the bank"),
        (0.2, 0, RIGHT, "the edge of the trail"),
    ],
)
def test_edges_are_called_by_the_slope_across(north: float, way: int, side: int, name: str) -> None:
    """A trail to the east over ground that rises to the north, that is to its left: a bank left, a drop-off right."""
    scene = make_scene(site_on(straight(), plane(north=north)))
    assert Names(scene, LIMITS).beside(EDGE, 0, way, side, 20.0) == name


def test_an_edge_at_no_known_place_is_just_an_edge() -> None:
    """Without a chainage the slope there is not known."""
    scene = make_scene(site_on(straight(), plane(north=0.5)))
    assert Names(scene, LIMITS).beside(EDGE, 0, 0, LEFT, math.nan) == "the edge of the trail"


def test_things_have_their_label() -> None:
    """Kind and name, as everywhere."""
    tree = {"kind": "tree", "segment_id": "s", "chainage_m": 20.0, "offset_m": 1.2, "name": "Old Oak"}
    scene = make_scene(site_on(straight(obstacles=[tree]), plane()))
    assert Names(scene, LIMITS).beside(0, 0, 0, RIGHT, 20.0) == "tree Old Oak"
    assert Names(scene, LIMITS).beside(NOTHING, 0, 0, RIGHT, 20.0) == "what lies there"
