"""The line past tight places in the words of a call."""

from collections.abc import Mapping

import numpy as np
import pytest

from pipeline.technique.line_advice import NEAR_M, Lines, told_of
from tests.technique.worlds import ADVICE, WHEELS, lines_of

WAY = ("a", "with")
SHORT = "keep 0.3 m right of the middle past tree Oak on the left: 0.22 m at the left mirror" + WHEELS
"""The advice of the tests, shortened."""


def lines(*rows: Mapping[str, object], setups: tuple[str, ...] = ("box", "long")) -> Lines:
    """Read rows of LINES."""
    return Lines.of(lines_of(*rows), setups)


def told(*rows: Mapping[str, object], setups: tuple[str, ...] = ("box", "long")) -> str | None:
    """Say the lines past the tree."""
    return told_of(lines(*rows, setups=setups).past(WAY, "t"), setups)


def test_the_tighter_thing_names_the_place() -> None:
    """Of two things the nearer one; of an edge and a thing the thing, with its own chainage; of two edges none."""
    nearer = {"right_m": 0.1, "right_thing": "u"}
    (pinch,) = lines(nearer).pinches(WAY)
    assert (pinch.thing, pinch.at_m, pinch.gap_m) == ("u", 23.0, 0.1)
    (pinch,) = lines({"right_m": 0.1}).pinches(WAY)
    assert (pinch.thing, pinch.at_m, pinch.gap_m) == ("t", 20.0, 0.1)
    edges = {"left_thing": None}
    assert list(lines(edges).pinches(WAY)) == []
    (line,) = lines(edges).at(WAY, 19.0, 21.0)
    assert line.at_m == 20.4


def test_a_side_without_anything_has_no_gap() -> None:
    """The other side decides."""
    (pinch,) = lines({"right_m": np.nan, "right_part": None, "right_x_m": np.nan, "right_at_m": np.nan}).pinches(WAY)
    assert pinch.gap_m == 0.22


def test_one_thing_is_one_place_for_all_set_ups() -> None:
    """Each set-up by its tightest row, whichever stretch it was found on; the smallest gap is that of the place."""
    found = lines({}, {"setup": "long", "left_m": 0.3}, {"left_m": 0.18, "from_m": 18.0}, {"left_thing": "u"})
    first, second = found.pinches(WAY)
    assert [(line.setup, line.gap_m) for line in first.lines] == [("box", 0.18), ("long", 0.3)]
    assert first.gap_m == 0.18
    assert second.thing == "u"


def test_past_a_thing_are_all_lines_that_it_is_near_to() -> None:
    """Also those that something else leaves still less room."""
    found = lines({"right_m": 0.1, "right_thing": "u"})
    assert len(found.past(WAY, "t")) == len(found.past(WAY, "u")) == 1
    assert found.past(WAY, "v") == []


@pytest.mark.parametrize(
    ("from_m", "to_m", "found"), [(22.0, 30.0, 1), (22.1, 30.0, 0), (5.0, 18.0, 1), (5.0, 17.9, 0)]
)
def test_on_a_stretch_is_what_is_near_it(from_m: float, to_m: float, found: int) -> None:
    """Within two metres of its ends."""
    assert NEAR_M == 2.0
    assert len(lines({}).at(WAY, from_m, to_m)) == found


def test_other_set_ups_and_directions_do_not_count() -> None:
    """Only rows of this way and of these set-ups."""
    for other in ({"setup": "guest"}, {"direction": "against"}, {"segment_id": "b"}):
        assert lines(other).past(WAY, "t") == []
    assert lines().of_way == {}


def test_the_same_for_all_is_said_once_with_the_smallest_gap() -> None:
    """What the driver does is the same whatever is left: the figures are those of the one with the least room."""
    less = {"setup": "long", "left_m": 0.17, "advice": ADVICE.replace("0.22", "0.17") + WHEELS}
    assert told({}, less) == SHORT.replace("0.22", "0.17")


@pytest.mark.parametrize(("offset", "once"), [("0.2", True), ("0.4", True), ("0.5", False), ("0.1", False)])
def test_a_hands_width_does_not_part_set_ups(offset: str, *, once: bool) -> None:
    """Lines 0.1 m apart are one to a driver, to either side of the one told; the rest of the words must be the same."""
    other = {"setup": "long", "left_m": 0.3, "advice": ADVICE.replace("keep 0.3", f"keep {offset}") + WHEELS}
    text = told({}, other)
    assert (text == SHORT) == once
    assert ("long: " in text) != once
    left = other | {"advice": str(other["advice"]).replace("right of the middle", "left of the middle")}
    assert "long: " in told({}, left)


def test_what_differs_is_said_for_each() -> None:
    """In the order of the loop's set-ups; those that do the same share a sentence."""
    far = {"setup": "long", "advice": "keep the middle past tree Oak on the left: 0.20 m at the left rear"}
    assert told({}, far) == f"box: {SHORT}. long: keep the middle past tree Oak on the left: 0.20 m at the left rear"
    three = ("long", "box", "guest")
    assert told({}, far, {"setup": "guest"}, setups=three) == (
        f"long: keep the middle past tree Oak on the left: 0.20 m at the left rear. box and guest: {SHORT}"
    )


def test_who_has_room_enough_is_not_told() -> None:
    """Then the others are named."""
    assert told({}) == f"box: {SHORT}"
    assert told({}, setups=("box",)) == SHORT
    assert told() is None
