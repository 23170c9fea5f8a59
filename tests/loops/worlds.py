"""Synthetic trail networks for the tests of the loop search: planar, jittered, with every trap of a real one."""

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
from pyproj import CRS
from scipy.spatial import Delaunay
from shapely import LineString, Point

from pipeline.loops.request import LoopInputs
from pipeline.loops.settings import LoopSettings
from pipeline.survey.model import Network
from pipeline.tables import CHECKS, NETWORK, NODES, OBSTACLES, REPAIRS, TECHNIQUES, VERDICTS, empty, validate
from pipeline.technique.practice import ALL_ROUND, Band, Practice
from pipeline.terms import CheckName, Direction, Driver, Status, Technique, Verdict

METRIC = CRS.from_epsg(32633)
SETUPS = ("wagon", "truck")
DRIVERS = {"wagon": Driver.FIRST_TIMER, "truck": Driver.PRACTISED}


_EVERYTHING = Band(easy_share=1.0, best_from=0.0, best_to=1.0, hard_share=1.0)
SHIPPED = Practice.model_validate(
    tomllib.loads((Path(__file__).parents[2] / "configs" / "techniques.toml").read_text(encoding="utf-8"))["practice"]
)
PLAIN = Practice(repeat_share=1.0, spread=0.0, band=dict.fromkeys(Driver, _EVERYTHING), aims=SHIPPED.aims)
"""Every intensity fits everybody, and nothing is lost by driving it again: worth what the runs add up to."""
WEIGHTS = PLAIN.aims[ALL_ROUND]


@dataclass
class Trail:
    """One segment of a hand-made world, with what is known about it."""

    a: int
    b: int
    length_m: float = 100.0
    oneway: int = 0
    status: Status = Status.OPEN
    name: str | None = None
    utilisation: tuple[float, float] = (0.3, 0.3)
    """With and against, the same for every set-up."""
    verdict: tuple[Verdict, Verdict] = (Verdict.AMPLE, Verdict.AMPLE)
    runs: tuple[tuple[Technique, Direction, float], ...] = ()
    """Technique, direction, amount: all along it, as demanding as may be."""
    features: tuple[tuple[Technique, Direction, float, float, float, float], ...] = ()
    """The same, with the shares of the length where each begins and ends, and its intensity."""


@dataclass
class World:
    """A hand-made network: trails, where there is room to turn, and the names of places."""

    trails: list[Trail]
    turn_round: set[int] = field(default_factory=set)
    places: dict[int, str] = field(default_factory=dict)
    things: dict[str, int] = field(default_factory=dict)
    """Surveyed things by name, with the number of the trail they lie on."""
    trailhead: int = 0

    def inputs(self, settings: LoopSettings, practice: Practice = PLAIN, *, shuffle: int | None = None) -> LoopInputs:
        """Make the tables; *shuffle* is a seed that mixes the row order of every one of them."""
        ids = [f"s{number:03d}" for number in range(len(self.trails))]
        mix = (lambda frame: frame) if shuffle is None else _mixer(shuffle)
        network = Network(
            segments=mix(_segments(self, ids)),
            nodes=_nodes(self),
            obstacles=_things(self, ids),
            repairs=empty(REPAIRS, crs=METRIC),
            crs=METRIC,
            trailhead_node=self.trailhead,
            obstacles_surveyed=True,
        )
        return LoopInputs(
            network=network,
            checks=mix(_checks(self, ids)),
            verdicts=mix(_verdicts(self, ids)),
            techniques=mix(_techniques(self, ids)),
            drivers=DRIVERS,
            settings=settings,
            practice=practice,
        )


def _mixer(seed: int) -> Callable[[pd.DataFrame], pd.DataFrame]:
    return lambda frame: frame.sample(frac=1.0, random_state=seed).reset_index(drop=True)


def _at(node: int) -> tuple[float, float]:
    return 500_000.0 + 100.0 * (node % 7), 5_000_000.0 + 100.0 * (node // 7)


def _line(trail: Trail, number: int) -> LineString:
    (xa, ya), (xb, yb) = _at(trail.a), _at(trail.b)
    if trail.a == trail.b:
        return LineString([(xa, ya), (xa + 30, ya + 20), (xa + 30, ya - 20), (xa, ya)])
    side = 5.0 + number % 9
    return LineString([(xa, ya), ((xa + xb) / 2 + side, (ya + yb) / 2 - side), (xb, yb)])


def _segments(world: World, ids: list[str]) -> gpd.GeoDataFrame:
    frame = pd.DataFrame(index=range(len(ids)))
    values = {
        "segment_id": ids,
        "name": [trail.name for trail in world.trails],
        "source": "world",
        "status": [trail.status.value for trail in world.trails],
        "oneway": [trail.oneway for trail in world.trails],
        "node_a": [trail.a for trail in world.trails],
        "node_b": [trail.b for trail in world.trails],
        "length_m": [float(trail.length_m) for trail in world.trails],
        "ford": False,
        "bridge": False,
        "tunnel": False,
    }
    for column in NETWORK.columns:
        made = values.get(column.name)
        frame[column.name] = pd.Series(made, index=frame.index, dtype=column.kind.dtype)
    lines = [_line(trail, number) for number, trail in enumerate(world.trails)]
    return validate(gpd.GeoDataFrame(frame, geometry=lines, crs=METRIC), NETWORK)


def _nodes(world: World) -> gpd.GeoDataFrame:
    ids = sorted({n for t in world.trails for n in (t.a, t.b)} | {world.trailhead})
    frame = gpd.GeoDataFrame(
        {
            "node_id": np.array(ids, dtype=np.int64),
            "degree": np.array([sum((t.a == n) + (t.b == n) for t in world.trails) for n in ids], dtype=np.int64),
            "turn_round": [n in world.turn_round for n in ids],
            "name": pd.Series([world.places.get(n) for n in ids], dtype="str"),
        },
        geometry=[Point(_at(n)) for n in ids],
        crs=METRIC,
    )
    return validate(frame, NODES)


def _things(world: World, ids: list[str]) -> gpd.GeoDataFrame:
    if not world.things:
        return empty(OBSTACLES, crs=METRIC)
    frame = pd.DataFrame(index=range(len(world.things)))
    names = list(world.things)
    values = {
        "obstacle_id": [f"o{i}" for i in range(len(names))],
        "kind": "rock",
        "name": names,
        "segment_id": [ids[n] for n in world.things.values()],
        "source": "world",
    }
    for column in OBSTACLES.columns:
        frame[column.name] = pd.Series(values.get(column.name), index=frame.index, dtype=column.kind.dtype)
    points = [_line(world.trails[n], n).interpolate(0.5, normalized=True) for n in world.things.values()]
    return validate(gpd.GeoDataFrame(frame, geometry=points, crs=METRIC), OBSTACLES)


def _rows(world: World, ids: list[str]) -> Iterator[tuple[str, Trail, int, Direction, str]]:
    for segment_id, trail in zip(ids, world.trails, strict=True):
        for side, direction in enumerate(Direction):
            for setup in SETUPS:
                yield segment_id, trail, side, direction, setup


def _checks(world: World, ids: list[str]) -> pd.DataFrame:
    rows = [
        (
            i,
            s,
            d.value,
            c.value,
            np.nan,
            np.nan,
            "deg",
            *(np.nan, u, np.nan),
            t.verdict[k].value,
            "dem",
            *(np.nan, np.nan),
            "made up",
        )
        for i, t, k, d, s in _rows(world, ids)
        # The wagon decides on roll; the truck's is lower; a check without a utilisation must be ignored.
        for c, u in (
            (CheckName.ROLL, t.utilisation[k] * (1.0 if s == "wagon" else 0.5)),
            (CheckName.BELLY, float("nan")),
        )
    ]
    return validate(pd.DataFrame(rows, columns=list(CHECKS.names)), CHECKS)


def _verdicts(world: World, ids: list[str]) -> gpd.GeoDataFrame:
    rows = [
        (i, s, d.value, (t.verdict[k] if s == "wagon" else Verdict.AMPLE).value, t.utilisation[k], "roll", np.nan)
        for i, t, k, d, s in _rows(world, ids)
    ]
    lines = [_line(trail, n) for n, trail in enumerate(world.trails) for _ in range(4)]
    return validate(
        gpd.GeoDataFrame(pd.DataFrame(rows, columns=list(VERDICTS.names)), geometry=lines, crs=METRIC), VERDICTS
    )


def _techniques(world: World, ids: list[str]) -> pd.DataFrame:
    rows = [
        (i, d.value, technique.value, 0.0, trail.length_m, 1.0, float(amount))
        for i, trail in zip(ids, world.trails, strict=True)
        for technique, d, amount in trail.runs
    ] + [
        (i, d.value, technique.value, begin * trail.length_m, end * trail.length_m, intensity, float(amount))
        for i, trail in zip(ids, world.trails, strict=True)
        for technique, d, amount, begin, end, intensity in trail.features
    ]
    if not rows:
        return empty(TECHNIQUES)
    return validate(pd.DataFrame(rows, columns=list(TECHNIQUES.names)), TECHNIQUES)


def ground(segments: int, seed: int, *, mean_m: float = 320.0) -> World:
    """Make a planar training ground: jittered places, the Gabriel graph thinned, spurs, parallels, one-ways.

    The Gabriel graph joins two points when no third lies in the circle over them (Gabriel and Sokal,
    Systematic Zoology 18, 1969); it is planar.
    """
    rng = np.random.default_rng(seed)
    count = max(8, round(segments * 0.68))
    side = int(np.ceil(np.sqrt(count)))
    grid = np.array([(i % side, i // side) for i in range(side * side)], dtype=np.float64)[:count]
    grid[:, 0] += 0.5 * (grid[:, 1] % 2)
    points = grid + rng.uniform(-0.3, 0.3, grid.shape)
    pairs = _gabriel(points)
    graph = nx.Graph(pairs)
    spare = max(0, len(pairs) - round(segments * 0.9))
    for number in rng.permutation(len(pairs)):
        a, b = pairs[number]
        if spare and graph.degree(a) > 2 and graph.degree(b) > 2:
            graph.remove_edge(a, b)
            if nx.has_path(graph, a, b):
                spare -= 1
            else:
                graph.add_edge(a, b)
    ends = sorted(graph.edges)
    extra = segments - len(ends)
    node = count
    for number in range(max(0, extra)):
        a = int(rng.integers(count))
        if number % 4 == 3:
            ends.append(ends[int(rng.integers(len(ends)))])
        else:
            ends.append((a, node))
            node += 1
    ends = ends[:segments]
    trails = [_random_trail(rng, a, b, mean_m) for a, b in ends]
    used = sorted({n for pair in ends for n in pair})
    degree = {n: sum((a == n) + (b == n) for a, b in ends) for n in used}
    turning = {n for n in used if degree[n] == 1 and rng.random() < 0.6} | {n for n in used if rng.random() < 0.06}
    middle = points.mean(axis=0)
    trailhead = min((n for n in used if n < count), key=lambda n: float(np.hypot(*(points[n] - middle)) + n * 1e-9))
    return World(trails, turning, {used[3]: "Muster"}, {"Slab": 2}, trailhead)


def _gabriel(points: np.ndarray) -> list[tuple[int, int]]:
    """Look through the edges of the Delaunay triangulation: it has all of the Gabriel graph."""
    triangles = Delaunay(points).simplices
    pairs = np.unique(np.sort(np.concatenate((triangles[:, :2], triangles[:, 1:], triangles[:, ::2])), axis=1), axis=0)
    found = []
    for a, b in pairs.tolist():
        middle, radius = (points[a] + points[b]) / 2, np.hypot(*(points[a] - points[b])) / 2
        if not (np.hypot(*(points - middle).T) < radius - 1e-9).any():
            found.append((a, b))
    return found


_KINDS = (
    (Technique.CLIMB, Technique.DESCENT, True),
    (Technique.SIDE_SLOPE, Technique.SIDE_SLOPE, True),
    (Technique.CREST, Technique.CREST, False),
    (Technique.CROSS_AXLE, Technique.CROSS_AXLE, False),
    (Technique.TIGHT_TURN, Technique.TIGHT_TURN, False),
    (Technique.WATER, Technique.WATER, False),
    (Technique.RUTS, Technique.RUTS, True),
    (Technique.ROCK, Technique.ROCK, False),
)


def _random_trail(rng: np.random.Generator, a: int, b: int, mean_m: float) -> Trail:
    length = float(np.round(rng.gamma(6.0, mean_m / 6.0) + 20.0, 2))
    base = float(rng.beta(2.2, 3.0))
    both = tuple(float(np.clip(base + rng.normal(0.0, 0.06), 0.05, 1.2)) for _ in range(2))
    words = tuple(
        Verdict.BARRED if u > 0.95 else Verdict.SPOT if u > 0.8 else Verdict.WATCH if u > 0.6 else Verdict.AMPLE
        for u in both
    )
    runs = []
    for there, back, metres in _KINDS:
        if rng.random() < 0.35:
            amount = length * float(rng.uniform(0.1, 0.5)) if metres else 1.0
            runs += [(there, Direction.WITH, amount), (back, Direction.AGAINST, amount)]
    oneway = int(rng.choice([1, -1])) if rng.random() < 0.05 else 0
    status = Status.CLOSED if rng.random() < 0.03 else Status.OPEN
    return Trail(a, b, length, oneway, status, None, both, words, tuple(runs))


def tiny(seed: int) -> World:
    """Make a net small enough to list every loop: 8 places, 13 segments, spur, parallel, ring, one-way, turning."""
    rng = np.random.default_rng(100 + seed)
    graph = nx.cycle_graph(7)
    while graph.number_of_edges() < 9:
        a, b = (int(n) for n in rng.choice(7, 2, replace=False))
        graph.add_edge(a, b)
    ends = [*sorted(graph.edges), (int(rng.integers(7)), 7), (1, 2), (4, 4)]
    trails = [_random_trail(rng, a, b, 160.0) for a, b in ends]
    for trail in trails[:3]:
        trail.status, trail.verdict = Status.OPEN, (Verdict.AMPLE, Verdict.WATCH)
    trailhead = 7 if seed == 1 else 0
    return World(trails, {7, int(rng.integers(7))}, {5: "Muster"}, {"Slab": 2}, trailhead)


def taught(seed: int) -> World:
    """Make a tiny net whose runs differ in intensity and place, some met again on the way back, some not."""
    world = tiny(seed)
    rng = np.random.default_rng(500 + seed)
    for trail in world.trails:
        trail.runs = ()
        found = []
        for there, back, metres in _KINDS:
            if rng.random() < 0.5:
                ends = np.sort(rng.uniform(0.0, 1.0, 4))
                both = (ends[:2], ends[:2]) if rng.random() < 0.6 else (ends[:2], ends[2:])
                for technique, direction, (begin, end) in zip((there, back), Direction, both, strict=True):
                    amount = trail.length_m * float(end - begin) if metres else 1.0
                    found.append((technique, direction, amount, float(begin), float(end), float(rng.uniform())))
        trail.features = tuple(found)
    return world
