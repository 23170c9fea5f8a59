"""The drawings of the measuring sheet: every letter in one of them, raised axles raised as drawn."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.sheet_draw import draw_ends, draw_ramp, draw_scales, draw_turn, side_picture
from pipeline.vehicle.sheet_rows import GROUPS
from tests.vehicle.worlds import PUBLISHED, box

SVG = "{http://www.w3.org/2000/svg}"
LONG = {"wheelbase_m": 4.6, "length_front_m": 1.4, "length_rear_m": 2.2, "height_m": 3.1, "turning_circle_m": 17.0}
SHORT = {"wheelbase_m": 1.8, "length_front_m": 0.5, "length_rear_m": 0.5, "turning_circle_m": 8.0}
ALL = (side_picture, draw_ends, draw_turn, draw_ramp, draw_scales)


def texts(svg: str) -> list[str]:
    """Give the texts of a drawing."""
    return [one.text or "" for one in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314 - our own drawing


def wheels(svg: str, radius: float) -> list[tuple[float, float]]:
    """Give the centres, mm, of the circles of a radius, mm."""
    found = ET.fromstring(svg).iter(f"{SVG}circle")  # noqa: S314 - our own drawing
    return [
        (float(one.attrib["cx"]), float(one.attrib["cy"]))
        for one in found
        if float(one.attrib["r"]) == pytest.approx(radius, abs=0.01)
    ]


def test_every_lettered_dimension_is_drawn_once() -> None:
    """A to X but for Q and R, which are driven, not drawn; Y comes from a report; a to g at mirrors and roof."""
    drawn = [text for draw in ALL for text in texts(draw(box())) if text in set("ABCDEFGHJKLMNPSTUVWXabcdefg")]
    asked = {row.letter for group in GROUPS for row in group if len(row.letter) == 1}
    assert sorted(drawn) == sorted(asked - {"Q", "R", "Y"})


def test_hard_points_are_numbered_as_in_the_table() -> None:
    """As many numbers as points; none where only published figures are known."""
    assert [text for text in texts(side_picture(box())) if text.isdigit()] == ["1", "2", "3", "4", "5"]
    assert not any(text.isdigit() for text in texts(side_picture(box(PUBLISHED))))


def test_side_is_to_its_scale() -> None:
    """The wheelbase of 2.80 m at the scale that is written."""
    svg = side_picture(box())
    scale = int(next(text for text in texts(svg) if text.startswith("scale")).split()[-1])
    front, rear = wheels(svg, 380 / scale)
    assert front[0] - rear[0] == pytest.approx(2800 / scale, abs=0.02)


def test_raised_wheels_are_as_far_apart_as_level_ones() -> None:
    """The body is turned, not stretched: the front wheel centre stands higher and nearer, at the wheelbase."""
    svg = draw_scales(box())
    scale = int(next(text for text in texts(svg) if text.startswith("scale")).split()[-1])
    level_front, level_rear, front, rear = wheels(svg, 380 / scale)
    assert level_front[1] == level_rear[1] == rear[1]
    assert np.hypot(front[0] - rear[0], front[1] - rear[1]) == pytest.approx(2800 / scale, abs=0.02)
    assert rear[1] - front[1] == pytest.approx(0.17 * 2800 / scale, abs=0.02)


@pytest.mark.parametrize("draw", ALL)
@pytest.mark.parametrize("vehicle", [box(), box(PUBLISHED, **LONG), box(PUBLISHED, **SHORT)])
def test_everything_stays_on_the_paper(draw: "type[str]", vehicle: Vehicle) -> None:
    """No point, circle or text of any drawing lies outside its picture."""
    root = ET.fromstring(draw(vehicle))  # noqa: S314 - our own drawing
    width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
    spots = [
        tuple(float(part) for part in pair.split(","))
        for one in root.iter()
        if "points" in one.attrib
        for pair in one.attrib["points"].split()
    ]
    spots += [(float(one.attrib["x"]), float(one.attrib["y"])) for one in root.iter(f"{SVG}text")]
    for one in root.iter(f"{SVG}circle"):
        x, y, r = (float(one.attrib[name]) for name in ("cx", "cy", "r"))
        spots += [(x - r, y - r), (x + r, y + r)]
    found = np.array(spots)
    assert found.min() >= -0.01
    assert found[:, 0].max() <= width + 0.01
    assert found[:, 1].max() <= height + 0.01
