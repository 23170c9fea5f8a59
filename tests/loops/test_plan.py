"""From a request to whole numbers."""

from pipeline.loops.settings import LoopSettings
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World

WORLD = World(
    [Trail(0, 1, name="Lane"), Trail(1, 2, name="Lane"), Trail(2, 0)], places={2: "Muster"}, things={"Slab": 2}
)


def test_windows_become_whole(settings: LoopSettings) -> None:
    """Metres must become decimetres, minutes seconds, and a missing window none."""
    rules = plan_of(WORLD, settings, (100.04, 2000.0), time_min=(1.0, 30.5)).quest.rules
    assert (rules.length_dm, rules.time_s) == ((1000, 20_000), (60, 1830))
    assert rules.flows_by_length
    timed = plan_of(WORLD, settings, None, time_min=(1.0, 30.0)).quest.rules
    assert timed.length_dm is None
    assert not timed.flows_by_length


def test_must_becomes_groups(settings: LoopSettings) -> None:
    """A segment gives one group of both directions, a trail one a segment, a place the arcs that come to it."""
    must = plan_of(WORLD, settings, must=("s002", "Lane", "Muster", "Slab")).quest.rules.must
    assert must == (
        ("s002", frozenset({4, 5})),
        ("Lane (s000)", frozenset({0, 1})),
        ("Lane (s001)", frozenset({2, 3})),
        ("Muster", frozenset({2, 5})),
        ("Slab (s002)", frozenset({4, 5})),
    )


def test_traversal_numbers_are_their_places(settings: LoopSettings) -> None:
    """A number must be the place in the list of traversals."""
    plan = plan_of(WORLD, settings)
    assert [(t.segment_id, t.direction.value) for t in plan.traversals][3] == ("s001", "against")
    assert plan.quest.arcs.number.tolist() == list(range(6))
