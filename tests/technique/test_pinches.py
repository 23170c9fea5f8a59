"""Things beside the trail that leave little room."""

from collections.abc import Mapping

import pytest

from pipeline.survey.model import Network
from pipeline.technique.events import Event, Spot
from pipeline.technique.line_advice import Lines
from pipeline.technique.pinches import Passed, pinch_events
from pipeline.technique.settings import TightPlace
from pipeline.terms import Technique
from tests.technique.worlds import legs_of, lines_of, techniques
from tests.worlds import at, network_of

TREE = {"kind": "tree", "segment_id": "a", "obstacle_id": "t", "chainage_m": 20.0, "offset_m": -1.3, "name": "Oak"}
BARE = {**TREE, "obstacle_id": "u", "chainage_m": 60.0, "name": None}


def network() -> Network:
    """Two segments in a row, 100 m and 60 m, to the east, with two trees on the first."""
    return network_of({"a": at((0, 0), (100, 0)), "b": at((100, 0), (160, 0))}, obstacles=[TREE, BARE])


def events(
    *rows: Mapping[str, object],
    legs: tuple[tuple[str, str], ...] = (("a", "with"),),
    told: frozenset[Passed] = frozenset(),
) -> list[Event]:
    """List the tight places of one set-up along some legs."""
    rule = techniques().tight_place
    assert isinstance(rule, TightPlace)
    site = network()
    return list(pinch_events(legs_of(site, *legs), site, rule, Lines.of(lines_of(*rows), ("box",)), told))


def test_a_tree_is_called_with_its_gap_and_the_line() -> None:
    """What is left, rounded down, past what; the line in words; harder the less is left."""
    (event,) = events({"left_m": 0.2299})
    assert event.coming == "little room, 0.22 m (tree Oak)"
    assert event.before.startswith("keep 0.3 m right of the middle past tree Oak on the left: ")
    assert event.technique is Technique.GAP
    assert event.score == pytest.approx(2 * (0.4 - 0.2299) / 0.25)
    assert (event.at_m, event.spot) == (20.0, Spot("a", "with", 20.0))
    assert event.past == {"t"}


def test_a_thing_without_a_name_has_its_id() -> None:
    """So that somebody finds it."""
    assert events({"left_thing": "u"})[0].coming.endswith("(tree u)")


def test_met_from_the_other_end() -> None:
    """Against the digitised direction of the second leg, 40 m before the end of 100 m."""
    row = {"direction": "against", "left_thing": "u", "left_at_m": 60.0}
    (event,) = events(row, legs=(("b", "against"), ("a", "against")))
    assert (event.at_m, event.spot) == (60.0 + 40.0, Spot("a", "against", 60.0))


def test_every_passage_is_told() -> None:
    """A segment that is driven twice the same way is tight twice."""
    assert [event.at_m for event in events({}, legs=(("a", "with"), ("b", "with"), ("a", "with")))] == [20.0, 180.0]


@pytest.mark.parametrize("gap", [0.4, 0.7])
def test_room_enough_is_not_called(gap: float) -> None:
    """From an arm's length on nothing is said."""
    assert events({"left_m": gap, "right_m": 1.0}) == []


def test_what_another_call_tells_is_not_told_again() -> None:
    """The same thing in the same direction only."""
    assert events({}, told=frozenset({Passed("a", "with", "t")})) == []
    assert len(events({}, told=frozenset({Passed("a", "against", "t"), Passed("a", "with", "u")}))) == 1


def test_what_does_not_fit_has_no_room() -> None:
    """A gap below nothing is not written with a sign; such a way is in no loop."""
    assert events({"left_m": -0.1, "missing_m": 0.5})[0].coming.startswith("little room, 0.00 m")
