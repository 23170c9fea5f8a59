"""The graph of allowed traversals and its flat form."""

import networkx as nx
import numpy as np

from pipeline.loops.graph import Ground, allowed_graph, make_arcs, subset
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Status
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World, tiny


def test_graph_holds_parallels_rings_and_oneways(settings: LoopSettings) -> None:
    """Parallels, closed segments and one-ways must be edges of their own, keyed by segment and direction."""
    world = World([Trail(0, 1), Trail(0, 1, oneway=1), Trail(1, 1), Trail(1, 0, status=Status.CLOSED)])
    plan = plan_of(world, settings)
    graph = allowed_graph(plan.moves, plan.traversals, world.inputs(settings).network)
    assert isinstance(graph, nx.MultiDiGraph)
    assert graph.number_of_edges(0, 1) == 2
    assert graph.number_of_edges(1, 0) == 1
    assert graph.number_of_edges(1, 1) == 2
    assert {plan.traversals[key].segment_id for *_, key in graph.edges(keys=True)} == {"s000", "s001", "s002"}


def test_arcs_keep_what_can_go_and_come_back(settings: LoopSettings) -> None:
    """What leads out of the trailhead's strong component, or cannot be reached, must be gone."""
    world = World([Trail(0, 1), Trail(1, 2, oneway=1), Trail(3, 0, oneway=1), Trail(4, 5)])
    arcs = plan_of(world, settings).quest.arcs
    assert arcs.nodes.tolist() == [0, 1]
    assert arcs.number.tolist() == [0, 1]
    assert arcs.opposite.tolist() == [1, 0]


def test_numbers_are_whole_and_never_zero(settings: LoopSettings) -> None:
    """Lengths are decimetres, times seconds, both at least 1; levels round up and start at the comfort floor."""
    world = World([Trail(0, 1, 0.01, utilisation=(0.6601, 0.66)), Trail(1, 0, 123.46, utilisation=(0.2, 1.0))])
    arcs = plan_of(world, settings, comfort_floor=0.5).quest.arcs
    assert arcs.length_dm.tolist() == [1, 1, 1235, 1235]
    assert (arcs.time_s >= 1).all()
    assert arcs.level.tolist() == [67, 66, 50, 100]
    assert arcs.exposure_dm.tolist() == [0, 0, 0, 617]


def test_a_trailhead_without_segments_gives_no_arcs(settings: LoopSettings) -> None:
    """A trailhead off the network must give an empty set, not an error."""
    arcs = plan_of(World([Trail(1, 2)], trailhead=0), settings).quest.arcs
    assert len(arcs) == 0
    assert arcs.nodes.tolist() == [0]


def test_subset_renumbers_opposites(settings: LoopSettings) -> None:
    """Opposites must point at the same traversals after some are dropped, and at none where theirs is dropped."""
    arcs = plan_of(tiny(0), settings).quest.arcs
    keep = np.arange(len(arcs)) % 3 != 1
    part = subset(arcs, keep)
    pairs = {(int(n), int(part.number[o])) for n, o in zip(part.number, part.opposite, strict=True) if o >= 0}
    kept = set(arcs.number[keep].tolist())
    whole = {(int(n), int(arcs.number[o])) for n, o in zip(arcs.number, arcs.opposite, strict=True) if o >= 0}
    assert pairs == {(a, b) for a, b in whole if a in kept and b in kept}
    assert subset(arcs, np.ones(len(arcs), dtype=bool)) is arcs


def test_arcs_follow_the_graph(settings: LoopSettings) -> None:
    """Ends of the arcs must be those of the graph's edges."""
    world = tiny(2)
    plan = plan_of(world, settings)
    network = world.inputs(settings).network
    graph = allowed_graph(plan.moves, plan.traversals, network)
    arcs = make_arcs(Ground(graph, plan.moves, plan.traversals, network.trailhead_node, plan.terms, 180.0))
    edges = {data["number"]: (a, b) for a, b, data in graph.edges(data=True)}
    for number, tail, head in zip(arcs.number, arcs.nodes[arcs.tail], arcs.nodes[arcs.head], strict=True):
        assert edges[int(number)] == (tail, head)
