"""The outline map of a sheet."""

from dataclasses import replace

import numpy as np
from lxml import etree
from shapely import LineString

from pipeline.products.sheet_map import MapPicture, PlaceMark, outline_map
from pipeline.products.svg import CallMark

SVG = "{http://www.w3.org/2000/svg}"
SQUARE = [np.array([[0.0, 0.0], [200.0, 0.0]]), np.array([[200.0, 0.0], [200.0, 100.0], [0.0, 0.0]])]
VIEW = MapPicture(
    network=[LineString([(0, 0), (50, 80)])],
    legs=SQUARE,
    calls=[CallMark(1, spotter=False, at_m=20, xy=(20, 0)), CallMark(2, spotter=True, at_m=300, xy=(200, 60))],
    places=[PlaceMark("start", (0, 0)), PlaceMark("exit", (200, 100))],
)


def _tree(view: MapPicture) -> etree._Element:
    return etree.fromstring(outline_map(view))


def _points(element: etree._Element) -> np.ndarray:
    return np.array([[float(value) for value in pair.split(",")] for pair in element.get("points").split()])


def test_scale_is_the_same_both_ways_and_north_is_up() -> None:
    """200 m east and 100 m north keep their ratio; what lies north is higher on the paper."""
    bold = [line for line in _tree(VIEW).iter(f"{SVG}polyline") if line.get("stroke-width") == "0.85"]
    east, north = _points(bold[0]), _points(bold[1])
    width = east[1, 0] - east[0, 0]
    height = north[0, 1] - north[1, 1]
    assert width > 0
    assert height > 0
    assert abs(width / height - 2.0) < 0.01


def test_the_loop_stays_inside_the_frame() -> None:
    """Whatever the shape, with room for marks at the edge."""
    for legs in (SQUARE, [leg[:, ::-1] for leg in SQUARE]):
        view = replace(VIEW, legs=legs, places=(), calls=())
        for line in _tree(view).iter(f"{SVG}polyline"):
            if line.get("stroke-width") == "0.85":
                points = _points(line)
                assert (points >= 5).all()
                assert (points <= [view.width_mm - 5, view.height_mm - 5]).all()


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    """Length of the bar against the length of a leg of known metres."""
    tree = _tree(VIEW)
    bold = next(line for line in tree.iter(f"{SVG}polyline") if line.get("stroke-width") == "0.85")
    mm_per_m = np.hypot(*np.diff(_points(bold), axis=0)[0]) / 200.0
    bar = sum(float(box.get("width")) for box in tree.iter(f"{SVG}rect") if box.get("height") == "1.00")
    words = next(one.text for one in tree.iter(f"{SVG}text") if one.text.endswith(" m"))
    assert abs(bar / mm_per_m - float(words.split()[0])) < 0.5


def test_every_leg_has_an_arrow_the_way_it_is_driven() -> None:
    """The tip of the first leg's arrow points east; driven the other way, west."""

    def tip(view: MapPicture) -> float:
        corners = _points(next(_tree(view).iter(f"{SVG}polygon")))
        return corners[0, 0] - corners[1:, 0].mean()

    back = replace(VIEW, legs=[SQUARE[0][::-1], SQUARE[1]])
    assert tip(VIEW) > 0 > tip(back)


def test_ways_round_are_dashed_and_in_the_frame() -> None:
    """A way that goes far off the loop widens the picture; it has its own arrow and its own line."""
    aside = [np.array([[200.0, 0.0], [500.0, -80.0], [200.0, 100.0]])]
    tree = _tree(replace(VIEW, aside=aside, calls=()))
    (dashed,) = [line for line in tree.iter(f"{SVG}polyline") if line.get("stroke-dasharray")]
    assert (_points(dashed) >= 5).all()
    assert (_points(dashed) <= [VIEW.width_mm - 5, VIEW.height_mm - 5]).all()
    assert len(list(tree.iter(f"{SVG}polygon"))) == len(list(_tree(replace(VIEW, calls=())).iter(f"{SVG}polygon"))) + 1


def test_names_stay_on_the_paper() -> None:
    """A long name at the right edge stands to the left of its place."""
    tree = _tree(replace(VIEW, places=[PlaceMark("a place with a long name", (200, 0))], calls=()))
    (name,) = [one for one in tree.iter(f"{SVG}text") if one.text == "a place with a long name"]
    assert name.get("text-anchor") == "end"


def test_calls_places_and_north_are_named() -> None:
    """Numbers of all calls, words of all places, the letter N."""
    words = [one.text for one in _tree(VIEW).iter(f"{SVG}text")]
    assert {"1", "2", "start", "exit", "N"} <= set(words)


def test_a_loop_of_a_point_does_not_break_the_picture() -> None:
    """Legs shorter than an arrow get none, and no division by zero happens."""
    dot = replace(VIEW, legs=[np.array([[5.0, 5.0], [5.0, 5.0]])], places=(), calls=(), network=())
    assert "nan" not in outline_map(dot)


def test_many_calls_are_drawn_smaller() -> None:
    """So that a long loop stays readable."""

    def reach(count: int) -> set[str]:
        calls = [CallMark(number, spotter=False, at_m=0, xy=(number, 0)) for number in range(count)]
        return {one.get("r") for one in _tree(replace(VIEW, calls=calls)).iter(f"{SVG}circle")}

    assert reach(24) == {"1.9"}
    assert reach(25) == {"1.4"}


def test_names_of_places_do_not_cover_each_other_or_a_call() -> None:
    """A start with a muster point and a call beside it: each name has room of its own; a crowd is still all named."""
    places = [PlaceMark("start", (100, 50)), PlaceMark("muster", (101, 50)), PlaceMark("exit", (98, 51))]
    view = replace(VIEW, places=places, calls=[CallMark(1, spotter=False, at_m=20, xy=(105, 45))])
    tree = _tree(view)
    boxes = []
    for one in tree.iter(f"{SVG}text"):
        if one.text in {"start", "muster", "exit", "1"}:
            x, y, size = (float(one.get(name)) for name in ("x", "y", "font-size"))
            wide = 0.55 * size * len(one.text)
            left = x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[one.get("text-anchor")]
            boxes.append((left, y - 0.7 * size, left + wide, y))
    assert len(boxes) == 4
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            assert one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]
    crowd = replace(VIEW, places=[PlaceMark("muster", (100, 50))] * 9)
    assert sum(one.text == "muster" for one in _tree(crowd).iter(f"{SVG}text")) == 9
