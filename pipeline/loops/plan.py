"""From a request to what the search works on: traversals, arcs, rules in whole numbers."""

from dataclasses import dataclass

from pipeline.loops.graph import allowed_graph, make_arcs
from pipeline.loops.hunt import Quest
from pipeline.loops.names import Target, resolve
from pipeline.loops.objective import gain_curve
from pipeline.loops.request import LoopInputs, LoopRequest, Window
from pipeline.loops.rules import Rules, access_spurs
from pipeline.loops.traversals import Traversal, list_traversals

__all__ = ["Plan", "make_plan"]

DM = 10.0
SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Plan:
    """A request made ready."""

    request: LoopRequest
    traversals: tuple[Traversal, ...]
    """Both directions of every segment; their place here is their number everywhere."""
    quest: Quest


def make_plan(inputs: LoopInputs, request: LoopRequest) -> Plan:
    """Make a request ready for the search."""
    curve = gain_curve(inputs.settings, request)
    traversals = list_traversals(inputs, request, curve)
    graph = allowed_graph(traversals, inputs.network)
    sharpest = inputs.settings.sharpest_turn_deg
    arcs = make_arcs(graph, traversals, inputs.network.trailhead_node, request.comfort_floor, sharpest)
    targets = [resolve(name, inputs.network) for name in request.must]
    rules = Rules(
        length_dm=_whole(request.length_m, DM),
        time_s=_whole(request.time_min, SECONDS),
        redriven=request.max_redriven,
        spurs=access_spurs(arcs),
        must=tuple(group for target in targets for group in _groups(target, traversals)),
        overlap=request.max_overlap,
    )
    quest = Quest(arcs=arcs, rules=rules, curve=curve, effort=inputs.settings.search, seed=request.seed)
    return Plan(request=request, traversals=tuple(traversals), quest=quest)


def _whole(window: Window | None, scale: float) -> tuple[int, int] | None:
    """Give a window in whole units."""
    return None if window is None else (round(window[0] * scale), round(window[1] * scale))


def _groups(target: Target, traversals: list[Traversal]) -> list[tuple[str, frozenset[int]]]:
    """Give the sets of traversals, one of each of which must be driven to take *target* in."""
    groups = []
    for segment in target.segments:
        numbers = frozenset(n for n, t in enumerate(traversals) if t.segment_id == segment)
        label = target.name if target.name == segment else f"{target.name} ({segment})"
        groups.append((label, numbers))
    if target.nodes:
        groups.append((target.name, frozenset(n for n, t in enumerate(traversals) if t.head in target.nodes)))
    return groups
