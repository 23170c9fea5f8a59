"""Lines past things, by hand: track 1.6, tyre 0.25, mirrors 2.1, margin 0.3, so 0.675 − 0.15 = 0.525 m to a side."""

import numpy as np
import pytest

from pipeline.checks.passing.lines import Lines, lines_past
from tests.checks.passing.worlds import Row, thing, things_on
from tests.checks.worlds import LIMITS, envelope


def lines(*rows: Row, **columns: object) -> Lines:
    """Find the lines past things on a trail of 3.5 m, which leaves (3.5 − 2.1 − 0.3) ÷ 2 = 0.55 m to shift."""
    return lines_past(things_on(*rows, **columns), envelope(), LIMITS)


@pytest.mark.parametrize(
    ("offset", "width", "fits", "shift"),
    [
        (0.0, 1.05, True, 0.0),
        (0.0, 1.06, False, 0.0),
        (0.5, 0.5, True, 0.225),  # its right edge at 0.75 comes to 0.525
        (-0.5, 0.5, True, -0.225),
        (0.8, 0.5, True, 0.525),
        (0.85, 0.5, False, 0.575),  # more than the trail gives
        (0.2, 0.6, True, 0.0),
    ],
)
def test_straddling(*, offset: float, width: float, fits: bool, shift: float) -> None:
    """What fits between the tyres with half of the margin to each side, by the smallest shift."""
    found = lines(thing(offset_m=offset, width_m=width))
    assert found.straddle.tolist() == [fits]
    assert found.straddle_m[0] == pytest.approx(shift)
    assert found.between_m[0] == pytest.approx(1.05 - width)


@pytest.mark.parametrize(("room", "most"), [(3.5, 0.55), (2.6, 0.1), (2.0, 0.0), (None, 0.15)])
def test_shift_is_what_the_trail_allows(room: float | None, most: float) -> None:
    """Half of what the tagged width leaves; without a width half of the margin."""
    for beyond, fits in ((-0.001, True), (0.001, False)):
        found = lines(thing(offset_m=0.275 + most + beyond), width_m=room)
        assert found.straddle.tolist() == [fits]


@pytest.mark.parametrize(
    ("offset", "width", "shift", "left", "right"),
    [
        (0.8, 0.3, 0.0, False, True),  # under the right tyre as it is
        (-0.8, 0.3, 0.0, True, False),
        (0.4, 0.2, -0.3, False, True),  # the middle of the tyre to its edge at 0.5
        (-0.4, 0.2, 0.3, True, False),
        (0.0, 2.8, 0.0, True, True),  # right across
        (0.05, 1.4, -0.05, True, True),  # right tyre to 0.75; the left edge is within 0.15 m of the left tyre
    ],
)
def test_treading(*, offset: float, width: float, shift: float, left: bool, right: bool) -> None:
    """The nearer wheel is put on it by the smallest shift; what a driver who is 0.15 m off may meet counts as met."""
    found = lines(thing(offset_m=offset, width_m=width))
    assert found.tread.tolist() == [True]
    assert found.tread_m[0] == pytest.approx(shift)
    assert (found.left[0], found.right[0]) == (left, right)


def test_no_wheel_reaches_the_middle_of_a_narrow_trail() -> None:
    """On 2.4 m nothing can be shifted: a rock of 0.3 m on the line stays between the wheels."""
    assert lines(thing(width_m=0.3), width_m=2.4).tread.tolist() == [False]


@pytest.mark.parametrize(("offset", "side"), [(0.6, -1.0), (-0.6, 1.0)])
def test_passing_beside(offset: float, side: float) -> None:
    """On 4.2 m, 0.3 m of thing at 0.6 m: 2.1 + 0.45 of free trail, 2.4 of it needed, so 0.15 m to spare."""
    found = lines(thing(offset_m=offset, width_m=0.3), width_m=4.2)
    assert found.beside.tolist() == [True]
    assert found.free_m[0] == pytest.approx(0.15)
    assert found.beside_m[0] == pytest.approx(side * (1.2 - 0.45))
    narrow = lines(thing(offset_m=offset, width_m=0.3), width_m=3.88)
    assert narrow.beside.tolist() == [False]
    assert narrow.free_m[0] == pytest.approx(-0.01)


def test_nobody_passes_beside_what_is_not_measured() -> None:
    """Without its width or place, or on a trail of unknown width, there is no room known."""
    assert lines(thing(offset_m=1.0, width_m=0.2), width_m=5.0).beside.tolist() == [True]
    for row in (thing(offset_m=1.0, width_m=None), thing(offset_m=None, width_m=0.2)):
        assert lines(row, width_m=5.0).beside.tolist() == [False]
    assert lines(thing(offset_m=1.0, width_m=0.2), width_m=None).beside.tolist() == [False]


def test_a_thing_without_width_lies_right_across() -> None:
    """Both wheels meet it, and nothing straddles it."""
    found = lines(thing(width_m=None))
    assert (found.straddle[0], found.tread[0], found.left[0], found.right[0]) == (False, True, True, True)


def test_ruts_hold_the_wheels_where_they_are() -> None:
    """A pair on the line is under both, one under the right tyre under that; never straddled, the line not shifted."""
    found = lines(thing("rut", height_m=-0.1, width_m=0.35), thing("rut", height_m=-0.1, width_m=0.3, offset_m=0.8))
    assert found.straddle.tolist() == [False, False]
    assert found.tread.tolist() == [True, True]
    assert found.tread_m.tolist() == [0.0, 0.0]
    assert (found.left.tolist(), found.right.tolist()) == ([True, False], [True, True])


def test_a_mirrored_thing_has_mirrored_lines() -> None:
    """Left is right with all shifts the other way."""
    rng = np.random.default_rng(5)
    rows = [
        thing(offset_m=float(o), width_m=float(w))
        for o, w in zip(rng.uniform(-1, 1, 40), rng.uniform(0, 2, 40), strict=True)
    ]
    found = lines(*rows)
    twin = lines(*({**row, "offset_m": -float(str(row["offset_m"]))} for row in rows))
    for name in ("straddle_m", "tread_m", "beside_m"):
        assert getattr(found, name) == pytest.approx(-getattr(twin, name))
    assert found.left.tolist() == twin.right.tolist()
    assert found.straddle.tolist() == twin.straddle.tolist()
