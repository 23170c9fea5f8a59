"""Things at and near nodes, seen from every trail that they reach."""

import numpy as np
import pytest

from pipeline.checks.near_nodes import with_neighbours
from pipeline.checks.obstacles import Things, things_of
from pipeline.checks.passing.laid import bumps_on
from pipeline.survey.model import Network
from tests.checks.worlds import LIMITS, choice_of, envelope
from tests.worlds import at, network_of, plane, surface_terrain


def junction(*things: dict[str, object]) -> Network:
    """Make three trails from (30, 30): a ends there from the west, b goes on east, c turns off by 10° to the right."""
    away = (30.0 + 25.0 * np.cos(np.radians(10.0)), 30.0 - 25.0 * np.sin(np.radians(10.0)))
    lines = {
        "a": at((5, 30), (30, 30)),
        "b": at((30, 30), (55, 30)),
        "c": at((30, 30), away),
        "d": at((5, 50), (9, 50)),
    }
    return network_of(lines, obstacles=things)


def rock(segment: str, chainage: float, **columns: object) -> dict[str, object]:
    """Make a rock of 0.2 m."""
    base = {"kind": "rock", "height_m": 0.2, "length_m": 0.4, "width_m": 0.4, "offset_m": 0.0}
    return {**base, "segment_id": segment, "chainage_m": chainage, **columns}


def seen(*things: dict[str, object]) -> Things:
    """List things and their copies."""
    network = junction(*things)
    return with_neighbours(things_of(network), network)


def test_thing_at_a_node_is_on_every_trail_there() -> None:
    """A rock on the node, put on one trail by the survey, is at the end of the other two as well; not on a fourth."""
    found = seen(rock("b", 0.0))
    assert found.row.tolist() == [0, 1, 2]
    assert found.at_m == pytest.approx([25.0, 0.0, 0.0])
    assert found.copied.tolist() == [True, False, True]
    assert len(set(found.number.tolist())) == 1


def test_thing_between_parting_trails_is_on_both() -> None:
    """5 m along b, 0.4 m to the right of it, is 0.47 m to the left of c: 5·sin 10° − 0.4·cos 10°."""
    found = seen(rock("b", 5.0, offset_m=0.4))
    assert found.row.tolist() == [1, 2]
    assert found.at_m[1] == pytest.approx(5.0 * np.cos(np.radians(10.0)) + 0.4 * np.sin(np.radians(10.0)))
    assert found.offset_m[1] == pytest.approx(-5.0 * np.sin(np.radians(10.0)) + 0.4 * np.cos(np.radians(10.0)))


def test_far_things_and_things_beyond_the_end_are_not_copied() -> None:
    """20 m along b the trails are 3.5 m apart; 1 m beyond the end of a is not on a."""
    assert seen(rock("b", 20.0)).row.tolist() == [1]
    assert seen(rock("b", 1.0, offset_m=-0.2)).row.tolist() == [1, 2]
    assert seen(rock("d", 2.0)).row.tolist() == [3]


def test_step_keeps_its_sense() -> None:
    """Seen from a trail that runs the other way a step up is a step down."""
    lines = {"a": at((5, 30), (30, 30)), "b": at((55, 30.5), (30, 30))}
    step = {"kind": "step", "segment_id": "a", "chainage_m": 25.0, "height_m": 0.3}
    network = network_of(lines, obstacles=[step])
    found = with_neighbours(things_of(network), network)
    assert found.height_m.tolist() == [0.3, -0.3]


def test_length_and_width_change_places_across() -> None:
    """A log across one trail lies along a trail that crosses it."""
    lines = {"a": at((5, 30), (30, 30)), "b": at((30, 30), (30, 55))}
    log = {"kind": "log", "segment_id": "a", "chainage_m": 25.0, "height_m": 0.2, "length_m": 0.3, "width_m": 4.0}
    network = network_of(lines, obstacles=[log])
    found = with_neighbours(things_of(network), network)
    assert (found.length_m[1], found.width_m[1]) == (4.0, 0.3)


def test_no_run_takes_a_thing_twice() -> None:
    """On a run over both trails the copy gives way to the thing itself, so that a step is not laid in twice."""
    lines = {"a": at((5, 30), (30, 30)), "b": at((30, 30), (55, 30))}
    step = {"kind": "step", "segment_id": "a", "chainage_m": 25.0, "height_m": 0.3}
    network = network_of(lines, obstacles=[step])
    profiles = surface_terrain(network, plane()).profiles
    both = profiles.__class__(
        **{
            **{name: getattr(profiles, name) for name in profiles.__dataclass_fields__},
            "piece_offsets": np.array([0, 2, 3]),
            "piece_segment": np.array([0, 1, 1]),
            "piece_zero_m": np.array([0.0, 25.0, 0.0]),
            "piece_sign": np.array([1, 1, 1]),
            "piece_from_m": np.array([0.0, 25.0, 0.0]),
            "piece_to_m": np.array([25.0, 35.0, 25.0]),
        }
    )
    things = with_neighbours(things_of(network), network)
    under = bumps_on(choice_of(things), both, envelope(), LIMITS).under
    assert sorted(zip(under.run.tolist(), under.at.tolist(), strict=True)) == [(0, 25.0), (1, 0.0)]


def test_no_things_no_copies() -> None:
    """A network without obstacles, or without junctions, is left as it is."""
    network = junction()
    assert with_neighbours(things_of(network), network).row.size == 0
