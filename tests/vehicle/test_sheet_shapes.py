"""The outlines of the measuring sheet are those of the vehicle, to scale."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from pipeline.vehicle.pen import View, picture
from pipeline.vehicle.sheet_shapes import draw_end, draw_plan, draw_side, rearmost, scale_for, underbody_of
from tests.vehicle.worlds import PUBLISHED, box

BAR = "[overhangs.bar]\npoints = [[0.95, 0.44], [0.9, 0.40]]\n"


def drawn() -> View:
    """Make an empty view of 1 mm to the metre with its origin in the corner, so that paper is metres upside down."""
    return View(picture(10, 10, ""), 1.0, (0.0, 0.0))


def shapes(view: View, kind: str) -> list[np.ndarray]:
    """Read the lines or shapes of a view in metres."""
    return [
        np.array([[float(part) for part in pair.split(",")] for pair in one.attrib["points"].split()]) * (1, -1)
        for one in view.root.iter(kind)
    ]


def circles(view: View) -> list[tuple[float, float, float]]:
    """Read centre and radius of the circles of a view in metres."""
    found: list[ET.Element] = list(view.root.iter("circle"))
    return [(float(c.attrib["cx"]), -float(c.attrib["cy"]), float(c.attrib["r"])) for c in found]


def test_scale_is_the_first_that_fits() -> None:
    """5.2 m on 186 mm: 1 : 30 (173 mm), not 1 : 25 (208 mm); nothing is refused for its size."""
    assert scale_for(5.2, 186.0) == 30
    assert scale_for(4.65, 186.0) == 25
    assert scale_for(1000.0, 1.0) == 500


def test_side_has_the_vehicle_s_length_height_and_wheels() -> None:
    """The body reaches from end to end and to the roof; tyres of the loaded radius stand on the ground."""
    view, vehicle = drawn(), box()
    draw_side(view, vehicle)
    body = shapes(view, "polygon")[0]
    assert body.min(axis=0) == pytest.approx([rearmost(vehicle), 0.25], abs=0.006)
    assert body.max(axis=0) == pytest.approx([0.9, 1.9], abs=0.006)
    tyres = [one for one in circles(view) if one[2] == pytest.approx(0.38)]
    assert tyres == [(0.0, 0.38, 0.38), (-2.8, 0.38, 0.38)]
    assert shapes(view, "polyline")[0] == pytest.approx(np.array(vehicle.underbody), abs=0.006)


def test_what_is_fitted_is_drawn_by_itself() -> None:
    """An overhang is a line of its own and does not bend the underbody."""
    view, vehicle = drawn(), box(BAR)
    draw_side(view, vehicle)
    assert shapes(view, "polyline")[1] == pytest.approx(np.array([[0.95, 0.44], [0.9, 0.4]]), abs=0.006)
    assert underbody_of(vehicle) == pytest.approx(np.array(vehicle.underbody))


def test_published_figures_have_an_underbody_too() -> None:
    """Without hard points the line that the published angles describe is drawn."""
    belly = underbody_of(box(PUBLISHED))
    assert belly[:, 1].min() == pytest.approx(0.21)
    draw_side(drawn(), box(PUBLISHED), detail=False)


def test_end_has_width_mirrors_tracks_and_clearance() -> None:
    """Body as wide as the file says, mirrors to their width, tyres at the track, an axle at its clearance."""
    view, vehicle = drawn(), box()
    draw_end(view, vehicle, vehicle.track_front_m, vehicle.front_axle_clearance_m)
    body, _, *others = shapes(view, "polygon")
    assert np.ptp(body[:, 0]) == pytest.approx(1.9, abs=0.011)
    everything = np.concatenate([body, *others])
    assert np.ptp(everything[:, 0]) == pytest.approx(2.1, abs=0.011)
    tyres = [one for one in others if one[:, 1].min() == 0.0]
    assert [one[:, 0].mean() for one in tyres] == pytest.approx([-0.8, 0.8], abs=0.006)
    assert [np.ptp(one[:, 0]) for one in tyres] == pytest.approx([0.25, 0.25], abs=0.011)
    assert others[-1][:, 1].min() == pytest.approx(0.21, abs=0.006)


def test_outer_front_tyre_runs_on_the_circle() -> None:
    """From above: the outer front tyre is half the turning circle from the centre and stands square to it."""
    view, vehicle = drawn(), box()
    draw_plan(view, vehicle)
    tyres = shapes(view, "polygon")[1:]
    outer = max(tyres, key=lambda one: float(np.hypot(*one.mean(axis=0))))
    assert np.hypot(*outer.mean(axis=0)) == pytest.approx(6.0, abs=0.01)
    along = outer[2] - outer[1]
    assert abs(along @ outer.mean(axis=0)) < 0.06 * np.hypot(*along) * 6.0
