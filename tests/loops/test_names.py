"""What names in must and avoid stand for."""

import pytest

from pipeline.loops.names import request_faults, resolve
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Objective
from tests.loops.worlds import SETUPS, Trail, World

WORLD = World(
    [Trail(0, 1, name="Quarry lane"), Trail(1, 2, name="Quarry lane"), Trail(2, 0)],
    places={2: "Muster"},
    things={"Slab": 2},
)


@pytest.mark.parametrize(
    ("name", "segments", "nodes"),
    [
        ("s001", ("s001",), ()),
        ("Muster", (), (2,)),
        ("Quarry lane", ("s000", "s001"), ()),
        ("Slab", ("s002",), ()),
        ("nothing", (), ()),
    ],
)
def test_resolve(settings: LoopSettings, name: str, segments: tuple[str, ...], nodes: tuple[int, ...]) -> None:
    """Ids, places, trails and surveyed things must be found, in that order; others stand for nothing."""
    target = resolve(name, WORLD.inputs(settings).network)
    assert (target.segments, target.nodes) == (segments, nodes)
    assert target.known == (name != "nothing")


def test_faults_say_where_what_and_what_was_meant(settings: LoopSettings) -> None:
    """Unknown names, unknown set-ups and doubled loop names must each give one fault."""
    request = LoopRequest(
        "ridge", Objective.SAFEST, (1.0, 2.0), None, ("wagn",), must=("Mustr", "s000"), avoid=("zzzz",)
    )
    faults = request_faults([request, request], WORLD.inputs(settings).network, SETUPS, "site.toml")
    said = [str(fault) for fault in faults]
    assert len(said) == 2 * 3 + 1
    assert said[0].startswith('site.toml:[[loops]] "ridge" must: "Mustr": no segment, trail, place or obstacle')
    assert 'did you mean "Muster"?' in said[0]
    assert 'did you mean "wagon"?' in said[2]
    assert "did you mean" not in said[1]
    assert said[-1].startswith('site.toml:[[loops]] "ridge" name: the name is used twice')


def test_good_requests_have_no_faults(settings: LoopSettings) -> None:
    """Known names must give no fault."""
    request = LoopRequest("x", Objective.SAFEST, (1.0, 2.0), None, SETUPS, must=("Slab",), avoid=("Quarry lane",))
    assert request_faults([request], WORLD.inputs(settings).network, SETUPS, "site.toml") == []


def test_must_that_avoid_takes_away_is_a_fault(settings: LoopSettings) -> None:
    """A name in both lists, and a trail one of whose segments is avoided, must be told; neighbours must not."""
    network = WORLD.inputs(settings).network
    (lane, *_) = resolve("Quarry lane", network).segments
    request = LoopRequest(
        "x", Objective.SAFEST, (1.0, 2.0), None, SETUPS, must=("Muster", "Quarry lane"), avoid=("Muster", lane)
    )
    said = [str(fault) for fault in request_faults([request], network, SETUPS, "site.toml")]
    assert len(said) == 2
    assert '"Muster": is in avoid too' in said[0]
    assert f'"Quarry lane": needs {lane}, which avoid = "{lane}" leaves out' in said[1]


@pytest.mark.parametrize(
    ("start", "direction", "avoid", "said"),
    [
        ("Quarry lain", None, (), 'did you mean "Quarry lane"?'),
        ("s001", None, (), '"s001" does not begin or end at the trailhead; allowed: s000, s002'),
        ("s000", Direction.AGAINST, (), '"s000" does not lead away from the trailhead against; allowed: with'),
        ("s002", Direction.WITH, (), '"s002" does not lead away from the trailhead with; allowed: against'),
        ("Muster", None, (), '"Muster" is a place; allowed: a segment or trail at the trailhead'),
        ("s000", None, ("Quarry lane",), 'avoid = "Quarry lane" leaves out "s000"; allowed: either start or avoid'),
    ],
)
def test_a_start_that_no_loop_can_have_is_a_fault(
    settings: LoopSettings, start: str, direction: Direction | None, avoid: tuple[str, ...], said: str
) -> None:
    """Unknown, away from the trailhead, only the other way, or avoided: each with what may be asked for."""
    request = LoopRequest(
        "x", Objective.SAFEST, (1.0, 2.0), None, SETUPS, avoid=avoid, start=start, start_direction=direction
    )
    (fault,) = request_faults([request], WORLD.inputs(settings).network, SETUPS, "site.toml")
    assert said in str(fault)
    assert fault.place == '[[loops]] "x" start'


@pytest.mark.parametrize(
    ("start", "direction"), [("Quarry lane", None), ("s000", Direction.WITH), (None, Direction.WITH)]
)
def test_a_start_at_the_trailhead_is_no_fault(
    settings: LoopSettings, start: str | None, direction: Direction | None
) -> None:
    """A trail one segment of which lies there is enough."""
    request = LoopRequest("x", Objective.SAFEST, (1.0, 2.0), None, SETUPS, start=start, start_direction=direction)
    assert request_faults([request], WORLD.inputs(settings).network, SETUPS, "site.toml") == []
