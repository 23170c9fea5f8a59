"""What meets a driver along a loop."""

import numpy as np
import pandas as pd
import pytest

from pipeline.survey.model import Network
from pipeline.technique.events import Event, Known, Spot, feature_events, spotter_events, turn_round_events
from pipeline.technique.inventory import detailed_table
from pipeline.technique.line_advice import Lines
from pipeline.technique.passing_advice import Ways
from tests.technique.worlds import checks_of, curved, legs_of, lines_of, passings_of, techniques
from tests.worlds import ORIGIN, Surface, at, network_of, plane, ramp, surface_terrain

ROCK = {"kind": "rock", "segment_id": "a", "chainage_m": 20.0, "height_m": 0.3, "offset_m": 0.0}


def line(**columns: object) -> Network:
    """Two segments in a row, 100 m and 60 m, to the east."""
    return network_of({"a": at((0, 0), (100, 0)), "b": at((100, 0), (160, 0))}, obstacles=[ROCK], **columns)


def features(network: Network, surface: Surface, *legs: tuple[str, str]) -> list[Event]:
    """List the features along some legs."""
    details = detailed_table(network, surface_terrain(network, surface), techniques())
    return list(feature_events(details, legs_of(network, *legs), network, techniques()))


def test_thing_lies_where_the_leg_passes_it() -> None:
    """A rock at 20 m of a 100 m segment is met after 20 m with, after 80 m against, and again on the way back."""
    network = line()
    there = features(network, plane(), ("a", "with"), ("b", "with"))
    back = features(network, plane(), ("b", "against"), ("a", "against"))
    assert [event.at_m for event in there] == [20.0]
    assert [event.at_m for event in back] == [60.0 + 80.0]
    assert there[0].spot == Spot("a", "with", 20.0)
    assert back[0].spot == Spot("a", "against", 20.0)


def test_stretch_begins_at_its_near_end() -> None:
    """A ramp from 20 m to 40 m is a climb met at its foot with, a descent met at its brow against."""
    network = network_of({"a": at((0, 0), (100, 0))})
    ground = ramp(ORIGIN[0] + 20, 0.3, 20.0)
    up = next(e for e in features(network, ground, ("a", "with")) if e.word == "climb")
    down = next(e for e in features(network, ground, ("a", "against")) if e.word == "descent")
    assert (up.at_m, up.spot.chainage_m) == (pytest.approx(20.0, abs=0.5), pytest.approx(20.0, abs=0.5))
    assert (down.at_m, down.spot.chainage_m) == (pytest.approx(60.0, abs=0.6), pytest.approx(40.0, abs=0.6))
    assert down.coming == "descent 17° for 20 m"


def test_stretch_over_a_junction_is_one() -> None:
    """A ramp over the border of two segments is one climb with its whole length, in both ways of driving it."""
    ground = ramp(ORIGIN[0] + 60, 0.3, 80.0)
    up = [e for e in features(line(), ground, ("a", "with"), ("b", "with")) if e.word == "climb"]
    down = [e for e in features(line(), ground, ("b", "against"), ("a", "against")) if e.word == "descent"]
    assert [event.coming for event in up] == ["climb 17° for 80 m"]
    assert [event.coming for event in down] == ["descent 17° for 80 m"]


def test_mild_features_are_not_called() -> None:
    """A climb of 11° is in the inventory, but below the intensity that is worth words."""
    network = network_of({"a": at((0, 0), (100, 0))})
    assert features(network, ramp(ORIGIN[0] + 20, 0.194, 20.0), ("a", "with")) == []


def test_spotter_for_every_set_up_of_the_loop() -> None:
    """One event a check and leg, at the place of the set-up that is worst, saying why; for whom, where not for all.

    The chainage on the segment, which means nothing on a sheet, is left out of the reason.
    """
    checks = checks_of(
        {"setup": "box", "utilisation": 0.91, "at_m": 30.0},
        {"setup": "long", "utilisation": 0.97, "at_m": 32.0, "reason": "breakover 19.4° of 20.0° at 32 m"},
        {"setup": "other", "utilisation": 0.99, "at_m": 80.0},
        {
            "setup": "box",
            "check": "pitch_over",
            "at_m": 50.0,
            "reason": "tipping over 50.0° of 60.0° at 50.5 m, 94 % of what a driver may use",
        },
        {"setup": "box", "check": "roll", "verdict": "watch"},
        {"setup": "box", "check": "roll", "direction": "against"},
    )
    network = line()
    found = list(spotter_events(checks, legs_of(network, ("b", "against"), ("a", "with")), ("box", "long"), network))
    assert [(event.at_m, event.who, event.coming) for event in found] == [
        (60.0 + 32.0, (), "breakover 19.4° of 20.0°"),
        (60.0 + 50.0, ("box",), "tipping over 50.0° of 60.0°, 94 % of what a driver may use"),
    ]
    assert found[0].before == found[1].before
    assert found[0].before == "stop; move only at the spotter's sign"
    assert all(event.spotter and event.kept for event in found)


def test_spotter_is_met_again_on_a_second_leg() -> None:
    """A segment driven both ways needs its spotter in each direction that the checks name."""
    network = line()
    checks = checks_of({}, {"direction": "against", "at_m": 30.0})
    found = list(spotter_events(checks, legs_of(network, ("a", "with"), ("a", "against")), ("box",), network))
    assert [(event.at_m, event.spot.chainage_m) for event in found] == [(30.0, 30.0), (100.0 + 70.0, 30.0)]


@pytest.mark.parametrize(("direction", "chainage"), [("with", 0.0), ("against", 100.0)])
def test_spotter_without_a_place_stands_where_the_leg_begins(direction: str, chainage: float) -> None:
    """A check that holds for the whole segment is called at its entry."""
    network = line()
    checks = checks_of({"direction": direction, "at_m": float("nan"), "check": "width"})
    (event,) = spotter_events(checks, legs_of(network, ("a", direction)), ("box",), network)
    assert (event.at_m, event.spot.chainage_m) == (0.0, chainage)


def test_turn_round_on_the_same_segment_back() -> None:
    """Going back by the segment one came by is a turn-round at its far end; another leg between is none."""
    network = line()
    (event,) = turn_round_events(legs_of(network, ("a", "with"), ("b", "with"), ("b", "against")), network)
    assert (event.at_m, event.spot) == (160.0, Spot("b", "against", 60.0))
    assert event.coming == "turn round"
    assert list(turn_round_events(legs_of(network, ("a", "with"), ("b", "with")), network)) == []


def test_turn_round_tells_the_name_of_the_place() -> None:
    """A named node is named, at either end of the segment."""
    network = line()
    names = pd.Series(["Gate", None, "Quarry"], dtype="str")
    named = Network(
        network.segments,
        network.nodes.assign(name=names),
        network.obstacles,
        network.repairs,
        network.crs,
        network.trailhead_node,
        network.obstacles_surveyed,
    )
    (far,) = turn_round_events(legs_of(named, ("b", "with"), ("b", "against")), named)
    (near,) = turn_round_events(legs_of(named, ("a", "against"), ("a", "with")), named)
    assert (far.coming, near.coming) == ("turn round at Quarry", "turn round at Gate")
    assert near.spot.chainage_m == 0.0


LINE = "keep 0.3 m right of the middle past tree Oak on the left: 0.22 m at the left mirror"
"""The line of :func:`tests.technique.worlds.lines_of`, up to what the wheels do."""


def along_lines(network: Network, *rows: dict[str, object], bend: bool = False) -> list[Event]:
    """List the features of segment ``a`` in the with direction, with lines past tight places."""
    terrain = surface_terrain(network, plane())
    if bend:
        chainage = terrain.stations.chainage_m
        terrain = curved(terrain, np.where((chainage >= 10.0) & (chainage <= 22.0), 0.15, 0.0))
    details = detailed_table(network, terrain, techniques())
    known = Known(("box",), None, Lines.of(lines_of(*rows), ("box",)))
    return list(feature_events(details, legs_of(network, ("a", "with")), network, techniques(), known))


def alone(*obstacles: dict[str, object]) -> Network:
    """One segment of 60 m to the east."""
    return network_of({"a": at((0, 0), (60, 0))}, obstacles=[{"segment_id": "a", **one} for one in obstacles])


def test_a_gap_is_called_with_the_line_through_it() -> None:
    """In place of what the settings say, with what they want done besides; without a line as ever."""
    gate = {"kind": "gap", "obstacle_id": "t", "chainage_m": 20.0, "clear_width_m": 2.4}
    (event,) = along_lines(alone(gate), {})
    assert event.before.startswith(LINE)
    assert event.before.endswith("then turn left; crawl, watch the rear wheels")
    assert event.past == {"t"}
    (event,) = along_lines(alone(gate), {"left_thing": "other"})
    assert event.before.startswith("mirrors in, crawl")
    assert event.past == frozenset()


def test_two_trunks_are_called_with_the_line_between_them() -> None:
    """The pair has no id of its own: what is tight there counts, and both are told."""
    trunks = [
        {"kind": "tree", "obstacle_id": name, "chainage_m": place, "offset_m": offset}
        for name, place, offset in (("t", 19.0, -1.2), ("u", 20.0, 1.2))
    ]
    (event,) = along_lines(alone(*trunks), {"right_thing": "u", "right_at_m": 20.0})
    assert event.before.startswith(LINE)
    assert along_lines(alone(*trunks), {"left_at_m": 30.0})[0].before.startswith("mirrors in")


def test_a_branch_is_called_with_the_line_round_it() -> None:
    """Only where it is that branch which the line leads round; under others one crawls as ever."""
    limb = {"kind": "branch", "obstacle_id": "t", "chainage_m": 20.0, "clear_height_m": 1.6, "offset_m": -1.0}
    (event,) = along_lines(alone(limb), {})
    assert event.before.startswith(LINE)
    assert event.before.endswith("; mind roof load and aerial")
    (event,) = along_lines(alone(limb), {"left_thing": "other"})
    assert "crawl under it" in event.before


def test_a_tight_turn_is_called_with_the_line_through_it() -> None:
    """What is tight in it, also between two edges; a place beyond its ends leaves the settings' words."""
    (event,) = along_lines(alone(), {"left_thing": None}, bend=True)
    assert event.word == "tight turn"
    assert event.before.startswith(LINE)
    assert event.past == frozenset()
    (event,) = along_lines(alone(), {"left_at_m": 40.0}, bend=True)
    assert event.before.startswith("swing wide")


def test_a_rock_that_all_go_round_is_called_with_the_line_past_it() -> None:
    """In place of the side to pass it on; where somebody drives over it, or has no line past it, the ways are told."""
    rock = {"kind": "rock", "obstacle_id": "t", "chainage_m": 20.0, "height_m": 0.3, "offset_m": 0.0}
    network = alone(rock)
    details = detailed_table(network, surface_terrain(network, plane()), techniques())
    beside = {"obstacle_id": "t", "passing": "go round", "shift_m": 0.9}

    def told(setups: tuple[str, ...], lines: list[dict[str, object]], *ways: dict[str, object]) -> str:
        known = Known(
            setups, Ways.of(passings_of(*ways), setups, techniques().passings), Lines.of(lines_of(*lines), setups)
        )
        (event,) = feature_events(details, legs_of(network, ("a", "with")), network, techniques(), known)
        return event.before

    assert told(("box",), [{}], beside).startswith(LINE)
    assert told(("box",), [{}], beside).endswith("; lowest gear")
    assert told(("box",), [], beside) == "pass it on the right; lowest gear"
    both = ("box", "long")
    over = {"obstacle_id": "t", "setup": "long"}
    assert told(both, [{}], beside, over).startswith("box: pass it on the right; long: straddle it")
    assert told(both, [{}], beside, {**beside, "setup": "long"}) == "pass it on the right; lowest gear"
    assert told(both, [{}], beside).startswith(f"box: {LINE}"), "the other is clear of it"
    assert along_lines(network, {})[0].before.startswith("lowest gear"), "no ways were worked out"
