"""The height profile of a sheet."""

from dataclasses import replace

import numpy as np
from lxml import etree

from pipeline.products.sheet_profile import ProfilePicture, profile
from pipeline.products.svg import CallMark

SVG = "{http://www.w3.org/2000/svg}"
AT = np.linspace(0.0, 1000.0, 201)
VIEW = ProfilePicture(
    at_m=AT,
    z_m=300 + AT / 50,
    legs=[(0.0, "a"), (400.0, "b")],
    calls=[CallMark(7, spotter=True, at_m=500.0, xy=(0, 0))],
    title="Height profile",
)


def _tree(view: ProfilePicture) -> etree._Element:
    return etree.fromstring(profile(view))


def _traces(view: ProfilePicture) -> list[np.ndarray]:
    lines = [line for line in _tree(view).iter(f"{SVG}polyline") if line.get("stroke-width") == "0.5"]
    return [np.array([[float(v) for v in pair.split(",")] for pair in line.get("points").split()]) for line in lines]


def test_a_steady_climb_is_a_straight_rising_line() -> None:
    """20 m over 1000 m: straight on the paper, rising to the right."""
    (trace,) = _traces(VIEW)
    slopes = np.diff(trace[:, 1]) / np.diff(trace[:, 0])
    assert trace[-1, 1] < trace[0, 1]
    assert np.ptp(slopes) < 0.05


def test_height_figures_fit_the_line() -> None:
    """The rule that says 310 lies where the line has 310 m: half way along."""
    tree = _tree(VIEW)
    label = next(one for one in tree.iter(f"{SVG}text") if one.text == "310")
    (trace,) = _traces(VIEW)
    assert abs((float(label.get("y")) - 0.9) - trace[100, 1]) < 0.05


def test_the_line_breaks_where_no_height_is_known() -> None:
    """A gap is not bridged: that would claim a height."""
    z = VIEW.z_m.copy()
    z[80:120] = np.nan
    before, after = _traces(replace(VIEW, z_m=z))
    assert len(before) == 80
    assert len(after) == 81
    assert after[0, 0] - before[-1, 0] > 5


def test_no_heights_at_all_is_said() -> None:
    """Without an elevation model the sheet says so in words."""
    words = [one.text for one in _tree(replace(VIEW, z_m=np.full(201, np.nan))).iter(f"{SVG}text")]
    assert words == ["no heights known"]


def test_calls_stand_above_their_place() -> None:
    """The call at 500 m stands over the middle of the line."""
    (trace,) = _traces(VIEW)
    label = next(one for one in _tree(VIEW).iter(f"{SVG}text") if one.text == "7")
    assert abs(float(label.get("x")) - trace[100, 0]) < 0.05


def test_legs_are_named_where_they_start() -> None:
    """Short names at the foot; the second starts at 400 m."""
    (trace,) = _traces(VIEW)
    label = next(one for one in _tree(VIEW).iter(f"{SVG}text") if one.text == "b")
    assert abs(float(label.get("x")) - 0.5 - trace[80, 0]) < 0.05


def test_a_flat_loop_has_axes_all_the_same() -> None:
    """No division by a span of zero."""
    written = profile(replace(VIEW, z_m=np.full(201, 300.0)))
    assert "nan" not in written
    assert "inf" not in written


def test_calls_that_lie_close_together_stand_in_rows() -> None:
    """Marks of neighbouring calls do not cover each other: four calls within 20 m stand one above another."""
    calls = [CallMark(number, spotter=False, at_m=500.0 + 5 * number, xy=(0, 0)) for number in range(4)]
    marks = [
        np.array([float(one.get("cx")), float(one.get("cy"))])
        for one in _tree(replace(VIEW, calls=calls)).iter(f"{SVG}circle")
    ]
    gaps = [np.abs(a - b).max() for i, a in enumerate(marks) for b in marks[:i]]
    assert min(gaps) >= 3.4


def test_leg_names_give_way_where_there_is_no_room() -> None:
    """Names at the foot never run into each other; the rules of the legs all stay."""
    legs = [(float(start), "long-name") for start in range(0, 1000, 10)]
    tree = _tree(replace(VIEW, legs=legs, calls=()))
    places = sorted(float(one.get("x")) for one in tree.iter(f"{SVG}text") if one.text == "long-name")
    assert 5 < len(places) < 20
    assert np.diff(places).min() > 9
    assert len([line for line in tree.iter(f"{SVG}polyline") if line.get("stroke-dasharray")]) == 100
