"""From a request to what the search works on: traversals, arcs, rules in whole numbers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.loops.graph import Ground, allowed_graph, make_arcs
from pipeline.loops.group.chains import Crew, chains
from pipeline.loops.moves import Move, Terms, single_moves
from pipeline.loops.names import Target, resolve
from pipeline.loops.request import LoopInputs, LoopRequest, Window
from pipeline.loops.solve.hunt import Quest
from pipeline.loops.solve.rules import Rules
from pipeline.loops.traversals import Traversal, list_traversals
from pipeline.loops.value.objective import gain_curve

__all__ = ["Plan", "make_plan"]

DM = 10.0
SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class Plan:
    """A request made ready."""

    request: LoopRequest
    traversals: tuple[Traversal, ...]
    """Both directions of every segment; their place here is their number everywhere."""
    moves: tuple[Move, ...]
    """What a loop may be strung together from; their place here is their number everywhere."""
    terms: Terms
    """What their sums depend on."""
    quest: Quest


def make_plan(inputs: LoopInputs, request: LoopRequest) -> Plan:
    """Make a request ready for the search."""
    curve = gain_curve(inputs, request)
    traversals = list_traversals(inputs, request, curve)
    moves = [*single_moves(traversals), *chains(_crew(inputs, request, traversals))]
    ground = Ground(
        graph=allowed_graph(moves, traversals, inputs.network),
        moves=moves,
        traversals=traversals,
        trailhead=inputs.network.trailhead_node,
        terms=Terms(request.comfort_floor, request.laps, inputs.practice.repeat_share),
        sharpest_deg=inputs.settings.sharpest_turn_deg,
    )
    arcs = make_arcs(ground)
    targets = [resolve(name, inputs.network) for name in request.must]
    rules = Rules(
        length_dm=_whole(request.length_m, DM),
        time_s=_whole(request.time_min, SECONDS),
        redriven=request.max_redriven,
        must=tuple(group for target in targets for group in _groups(target, traversals)),
        overlap=request.max_overlap,
        starts=_starts(inputs, request, traversals),
    )
    quest = Quest(arcs=arcs, rules=rules, curve=curve, effort=inputs.settings.search, seed=request.seed)
    return Plan(request=request, traversals=tuple(traversals), moves=tuple(moves), terms=ground.terms, quest=quest)


def _crew(inputs: LoopInputs, request: LoopRequest, traversals: Sequence[Traversal]) -> Crew:
    """Tell who may go round, and where there is room to turn."""
    nodes = inputs.network.nodes
    return Crew(
        traversals=traversals,
        bypass=tuple(place for place, name in enumerate(request.setups) if name in request.bypass),
        turning=frozenset(nodes.loc[nodes["turn_round"], "node_id"].tolist()),
        sharpest=math.cos(math.radians(inputs.settings.sharpest_turn_deg)),
        limits=inputs.settings.group,
    )


def _starts(inputs: LoopInputs, request: LoopRequest, traversals: list[Traversal]) -> frozenset[int] | None:
    """Give the traversals that the loop may begin with; ``None`` when the request does not say."""
    if request.start is None and request.start_direction is None:
        return None
    segments = None if request.start is None else resolve(request.start, inputs.network).segments
    return frozenset(
        number
        for number, t in enumerate(traversals)
        if (segments is None or t.segment_id in segments) and request.start_direction in (None, t.direction)
    )


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
