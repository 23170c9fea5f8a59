"""What the names in ``must``, ``avoid`` and ``start`` stand for: segments, trails, places, surveyed things."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import Fault
from pipeline.loops.request import LoopRequest
from pipeline.settings import did_you_mean
from pipeline.survey.model import Network
from pipeline.terms import Direction

__all__ = ["Target", "known_names", "request_faults", "resolve"]

_LISTED = 12
"""Known names that a fault lists."""


@dataclass(frozen=True, slots=True)
class Target:
    """What one name stands for."""

    name: str
    segments: tuple[str, ...] = ()
    """Segment ids; a loop that must take the name in drives every one of them, in either direction."""
    nodes: tuple[int, ...] = ()
    """Node ids; a loop that must take the name in comes past at least one of them."""

    @property
    def known(self) -> bool:
        """Whether the name stands for anything at all."""
        return bool(self.segments or self.nodes)


def resolve(name: str, network: Network) -> Target:
    """Find what *name* stands for: a segment id, else a place, else a trail's name, else a surveyed thing's name."""
    segments = network.segments
    if (segments["segment_id"] == name).any():
        return Target(name, segments=(name,))
    nodes = network.nodes
    at = nodes.loc[nodes["name"] == name, "node_id"]
    if len(at):
        return Target(name, nodes=tuple(sorted(int(node) for node in at)))
    trail = segments.loc[segments["name"] == name, "segment_id"]
    if len(trail):
        return Target(name, segments=tuple(sorted(trail)))
    things = network.obstacles
    beside = things.loc[things["name"] == name, "segment_id"].dropna()
    return Target(name, segments=tuple(sorted(set(beside))))


def request_faults(
    requests: Sequence[LoopRequest], network: Network, setups: Collection[str], file: str | Path
) -> list[Fault]:
    """List the names in *requests* that nothing answers to, with the nearest known one, and what contradicts itself.

    The place of a fault is ``[[loops]] "name" key``.
    """
    faults: list[Fault] = []
    known = sorted(set(known_names(network)))
    for request in requests:
        begins = () if request.start is None else (request.start,)
        for key, asked in (("must", request.must), ("avoid", request.avoid), ("start", begins)):
            unknown = [name for name in asked if not resolve(name, network).known]
            nothing = "no segment, trail, place or obstacle at a trail has this name"
            faults += [_fault(file, (request.name, key, name), nothing, known) for name in unknown]
        faults += [
            Fault(file, f'[[loops]] "{request.name}" must', f'"{name}": {why}', "either must or avoid")
            for name, why in _contradictions(request, network)
        ]
        faults += [
            Fault(file, f'[[loops]] "{request.name}" start', *told) for told in _impossible_starts(request, network)
        ]
        strange = [name for name in request.setups if name not in setups]
        faults += [_fault(file, (request.name, "setups", name), "no such set-up", sorted(setups)) for name in strange]
    names = [request.name for request in requests]
    doubled = sorted({name for name in names if names.count(name) > 1})
    faults += [Fault(file, f'[[loops]] "{name}" name', "the name is used twice", "one loop a name") for name in doubled]
    return faults


def _contradictions(request: LoopRequest, network: Network) -> Iterator[tuple[str, str]]:
    """Yield each name in ``must`` that ``avoid`` takes away, with how."""
    avoided = {segment: name for name in request.avoid for segment in resolve(name, network).segments}
    for name in dict.fromkeys(request.must):
        taken = sorted(set(resolve(name, network).segments) & set(avoided))
        if name in request.avoid:
            yield name, "is in avoid too"
        elif taken:
            yield name, f'needs {taken[0]}, which avoid = "{avoided[taken[0]]}" leaves out'


def _impossible_starts(request: LoopRequest, network: Network) -> Iterator[tuple[str, str]]:
    """Yield why no loop can begin as the request asks, and what it may ask for."""
    if request.start is None or not resolve(request.start, network).known:
        return
    segments, home = network.segments, network.trailhead_node
    if not resolve(request.start, network).segments:
        yield f'"{request.start}" is a place', "a segment or trail at the trailhead"
        return
    mine = segments[segments["segment_id"].isin(resolve(request.start, network).segments)]
    away = segments[(segments["node_a"] == home) | (segments["node_b"] == home)]
    allowed = ", ".join(sorted(away["segment_id"]))
    ends = {Direction.WITH: mine["node_a"] == home, Direction.AGAINST: mine["node_b"] == home}
    if not (ends[Direction.WITH] | ends[Direction.AGAINST]).any():
        yield f'"{request.start}" does not begin or end at the trailhead', allowed
        return
    if request.start_direction is not None and not ends[request.start_direction].any():
        turned = next(direction for direction in Direction if direction is not request.start_direction)
        yield f'"{request.start}" does not lead away from the trailhead {request.start_direction}', turned.value
    avoided = {segment: name for name in request.avoid for segment in resolve(name, network).segments}
    if set(mine["segment_id"]) <= set(avoided):
        yield f'avoid = "{avoided[mine["segment_id"].iloc[0]]}" leaves out "{request.start}"', "either start or avoid"


def _fault(file: str | Path, asked: tuple[str, str, str], found: str, known: Sequence[str]) -> Fault:
    """Say that a name is unknown, and which one may have been meant; *asked* is loop, key and name."""
    loop, key, name = asked
    listed = ", ".join(known[:_LISTED]) + (f" … ({len(known)} names)" if len(known) > _LISTED else "")
    return Fault(file, f'[[loops]] "{loop}" {key}', f'"{name}": {found}', listed, did_you_mean(name, known))


def known_names(network: Network) -> Iterator[str]:
    """Yield every name that a request may use."""
    columns: Iterable[Iterable[str]] = (
        network.segments["segment_id"],
        network.segments["name"].dropna(),
        network.nodes["name"].dropna(),
        network.obstacles.loc[network.obstacles["segment_id"].notna(), "name"].dropna(),
    )
    for column in columns:
        yield from column
