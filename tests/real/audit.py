"""A doubter's look at the loops of a build folder: its tables and the survey's files, nothing of the search.

Room to turn is read from the obstacle file, junctions from the ends of the lines; sums, worst utilisation, exposure
and points are worked out again from checks, verdicts, techniques and the settings as TOML says them.
"""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, permutations
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from pytest import approx  # noqa: PT013  # the name is read often below
from shapely import LineString, Point

from tests.real.audit_minutes import Ground, coaching_min, driving_min

Line = Sequence[tuple[float, ...]]

FIT = {"ample", "watch", "spot"}
ALONE = {"ample", "watch"}
"""What may be driven where nobody stands to spot."""
SNAP_M = 2.0
LOOK_M = 5.0
"""Length of line that gives the heading at a junction, about a vehicle."""
CORNER_DEG = 1.0
"""Rounding of a corner measured twice."""
PIECES = (5, 4, 3, 2, 1)
"""Units a credit in each fifth of the way to saturation; three units are a point."""


@dataclass(frozen=True)
class Audit:
    """One loop of a build folder, and what was asked for."""

    tables: Mapping[str, pd.DataFrame]
    survey: Path
    """Folder of ``trails.gpkg`` and ``obstacles.gpkg``."""
    configs: Path
    """Folder of ``site.toml``, ``loops.toml`` and ``techniques.toml``."""
    loop: str
    rank: int

    @cached_property
    def site(self) -> dict[str, Any]:
        """Settings of the site."""
        return tomllib.loads((self.configs / "site.toml").read_text(encoding="utf-8"))

    @cached_property
    def judgement(self) -> dict[str, Any]:
        """Settings of the search."""
        return tomllib.loads((self.configs / "loops.toml").read_text(encoding="utf-8"))

    @cached_property
    def teaching(self) -> dict[str, Any]:
        """Settings of the techniques."""
        return tomllib.loads((self.configs / "techniques.toml").read_text(encoding="utf-8"))

    @cached_property
    def asked(self) -> dict[str, Any]:
        """What was asked for."""
        return next(entry for entry in self.site["loops"] if entry["name"] == self.loop)

    @cached_property
    def driver_of(self) -> dict[str, str]:
        """Driver of each set-up of the site."""
        return {setup["name"]: setup["driver"] for setup in self.site["setups"]}

    @cached_property
    def drivers(self) -> dict[str, dict[str, float]]:
        """Pace of the driver of each set-up of the loop."""
        return {name: self.judgement["pace"][self.driver_of[name]] for name in self.asked["setups"]}

    @cached_property
    def row(self) -> pd.Series:
        """Row of the loops table."""
        loops = self.tables["loops"]
        return loops[(loops["loop"] == self.loop) & (loops["rank"] == self.rank)].iloc[0]

    @cached_property
    def legs(self) -> gpd.GeoDataFrame:
        """Legs in driving order, with the facts of their segments."""
        legs = self.tables["legs"]
        own = legs[(legs["loop"] == self.loop) & (legs["rank"] == self.rank)].sort_values("seq")
        segments = self.tables["segments"]
        return gpd.GeoDataFrame(own.merge(segments, on="segment_id", how="left", validate="many_to_one"))

    @cached_property
    def obstacles(self) -> gpd.GeoDataFrame:
        """Things as surveyed."""
        return gpd.read_file(self.survey / "obstacles.gpkg")

    @cached_property
    def driven(self) -> pd.DataFrame:
        """Give who drives what: segment and direction of each set-up, on the loop or (``way``: its name) round it.

        ``move`` is the leg, or the first of the legs that a bypass goes round.
        """
        rows = []
        for row in self.rounds.itertuples():
            move = self._inside(row.split_m, row.meet_m)[0]
            way = row.way.split("; ") if row.way else []
            rows.extend((*leg.split(" "), row.setup, move, move, row.setup) for leg in way)
        for leg in self.legs.itertuples():
            for setup in self.drivers:
                if (setup, leg.seq) not in self.aside:
                    move = next((first for (_, seq), first in self.aside.items() if seq == leg.seq), leg.seq)
                    rows.append((leg.segment_id, leg.direction, setup, leg.seq, move, ""))
        return pd.DataFrame(rows, columns=["segment_id", "direction", "setup", "seq", "move", "way"])

    @cached_property
    def rounds(self) -> pd.DataFrame:
        """Rows of the bypasses table."""
        found = self.tables["bypasses"]
        return found[(found["loop"] == self.loop) & (found["rank"] == self.rank)]

    @cached_property
    def aside(self) -> dict[tuple[str, int], int]:
        """Legs that a set-up goes round: set-up, leg → first leg of what it goes round."""
        found = {}
        for row in self.rounds.itertuples():
            inside = self._inside(row.split_m, row.meet_m)
            found.update({(row.setup, seq): inside[0] for seq in inside})
        return found

    def _inside(self, split_m: float, meet_m: float) -> list[int]:
        """Give the legs between two distances along the loop."""
        start = self.legs["start_m"]
        return [int(seq) for seq in self.legs.loc[(start >= split_m - 0.1) & (start < meet_m - 0.1), "seq"]]

    @cached_property
    def moves(self) -> pd.Series:
        """First leg of the move that each leg belongs to."""
        first = {seq: move for (_, seq), move in self.aside.items()}
        return self.legs["seq"].map(lambda seq: first.get(seq, seq))

    def orders(self) -> list[list[int]]:
        """Give every order in which the same moves can be driven, by where they end and how they may turn."""
        coords = [
            list(line.coords if way == "with" else line.coords[::-1])
            for line, way in zip(self.legs.geometry, self.legs["direction"], strict=True)
        ]
        groups = self.legs.groupby(self.moves.to_numpy()).indices.values()
        ways = [(coords[legs[0]], coords[legs[-1]]) for legs in groups]
        ids = [(self.legs["segment_id"].iloc[legs[0]], self.legs["segment_id"].iloc[legs[-1]]) for legs in groups]
        after = {
            (a, b)
            for a, b in permutations(range(len(ways)), 2)
            if Point(ways[a][1][-1][:2]).distance(Point(ways[b][0][0][:2])) <= SNAP_M
            and not list(self._turn(ways[a][1], ways[b][0], (ids[a][1], ids[b][0])))
        }
        home = [Point(way[0][0][:2]).distance(Point(coords[0][0][:2])) <= SNAP_M for way in ways]
        found, begun = [], [[move] for move in range(len(ways)) if home[move]]
        while begun:
            order = begun.pop()
            if len(order) == len(ways):
                found.append(order)
            begun += [[*order, b] for b in range(len(ways)) if b not in order and (order[-1], b) in after]
        return found

    def of_driven(self, table: str) -> pd.DataFrame:
        """Give the rows of a table for all that is driven; under other weather its own verdicts and checks."""
        rows = self.tables[table]
        if table in {"verdicts", "checks"} and "outlook" in self.asked:
            rows = self.tables["outlooks"].query("outlook == @self.asked['outlook']")
        keys = ["segment_id", "direction", "setup"]
        return rows.merge(self.driven, on=keys if "setup" in rows else keys[:2])

    def faults(self) -> Iterator[str]:
        """Yield everything that is wrong with the loop."""
        yield from self._walk()
        yield from self._permission()
        yield from self._windows()
        yield from self._figures()

    def _walk(self) -> Iterator[str]:
        """Walk it: closed from the trailhead, end to end, each direction once."""
        ends = [
            line.coords if way == "with" else line.coords[::-1]
            for line, way in zip(self.legs.geometry, self.legs["direction"], strict=True)
        ]
        yard = self.obstacles.set_index("name").geometry[self.site["site"]["trailhead"]]
        for point in (ends[0][0], ends[-1][-1]):
            if Point(point[:2]).distance(yard) > SNAP_M:
                yield f"begins or ends at {point}, not at the trailhead"
        ids = self.legs["segment_id"].tolist()
        for (a, b), (one, other) in zip(pairwise(ends), pairwise(ids), strict=True):
            if Point(a[-1][:2]).distance(Point(b[0][:2])) > SNAP_M:
                yield f"{other} does not begin where {one} ends"
            yield from self._turn(a, b, (one, other))
        if self.legs.duplicated(["segment_id", "direction"]).any():
            yield "drives a direction twice"

    def _turn(self, before: Line, after: Line, names: tuple[str, str]) -> Iterator[str]:
        """Turn back, or round a sharp corner, only where there is room."""
        rooms = self.obstacles[self.obstacles["kind"].isin(["turnround", "trailhead"])]
        if (rooms.distance(Point(before[-1][:2])) <= SNAP_M).any():
            return
        corner = _corner_deg(before, after)
        if names[0] == names[1]:
            yield f"turns back on {names[0]} without room"
        elif corner > self.judgement["sharpest_turn_deg"] + CORNER_DEG:
            yield f"turns by {corner:.0f}° from {names[0]} into {names[1]} without room"

    def _permission(self) -> Iterator[str]:
        """Open, with the one-way rule, and a verdict that may be driven for every set-up."""
        trails = gpd.read_file(self.survey / "trails.gpkg")
        oneway = trails.set_index("id")["oneway"].fillna(0)
        for leg in self.legs.itertuples():
            if leg.status != "open":
                yield f"{leg.segment_id} is {leg.status}"
            rule = int(oneway[leg.segment_id.rsplit("-", 1)[0]])
            if rule * (1 if leg.direction == "with" else -1) < 0:
                yield f"{leg.segment_id} is driven against its one-way"
        verdicts = self.of_driven("verdicts")
        if len(verdicts) != len(self.driven) or not set(verdicts["verdict"]) <= FIT:
            yield "a set-up may not drive a leg"
        if not set(verdicts.loc[verdicts["way"] != "", "verdict"]) <= ALONE:
            yield "a way round needs a spotter, and nobody is there"
        for seq, group in verdicts[verdicts["way"] == ""].groupby("seq"):
            told = set(self.legs.set_index("seq").loc[seq, "verdicts"].split("; "))
            meant = {f"{v.setup}: {v.verdict}" for v in group.itertuples()}
            if told != meant | {f"{setup}: goes round" for setup, leg in self.aside if leg == seq}:
                yield f"leg {seq} says {told}"

    def _windows(self) -> Iterator[str]:
        """Inside the windows, not more re-driven than allowed, everything taken in, nothing avoided."""
        for key in ("length_m", "time_min"):
            if key in self.asked and not self.asked[key][0] - 0.1 <= self.row[key] <= self.asked[key][1] + 0.1:
                yield f"{key} = {self.row[key]}"
        both = self.legs[self.legs.duplicated("segment_id", keep=False)]
        if both["length_m"].sum() > self.asked.get("max_redriven", 0.3) * self.row["length_m"] + 1.0:
            yield f"drives {both['length_m'].sum():.0f} m both ways"
        places = self.obstacles.dropna(subset="name").set_index("name").geometry
        segments = self.tables["segments"]
        for name in self.asked.get("must", []):
            trail = segments.loc[segments["name"] == name, "segment_id"]
            missed = set(trail) - set(self.legs["segment_id"])
            if missed or (trail.empty and self.legs.distance(places[name]).min() > SNAP_M):
                yield f"does not take in {name}: {missed}"

    def _figures(self) -> Iterator[str]:
        """Length, start of each leg, time, worst utilisation, exposure and value, worked out again."""
        legs = self.legs
        worst = self.of_driven("checks").groupby(["seq", "way", "segment_id"])["utilisation"].max()
        over = (worst - self.asked.get("comfort_floor", 0.5)).clip(lower=0.0)
        exposure = float((self._lengths(over.index.get_level_values("segment_id")) * over.to_numpy()).sum())
        if "outlook" in self.asked:  # its table has the deciding check alone: no less than that
            exposure = max(exposure, float(self.row["exposure"]))
        value = exposure if self.asked["objective"] == "safest" else self._points()
        near = 0.05 * len(legs) + 0.1 if self.asked["objective"] == "safest" else 1e-6
        for name, found, told in (
            ("length_m", float(legs["length_m"].sum()), approx(self.row["length_m"])),
            ("start_m", (legs["length_m"].cumsum() - legs["length_m"]).tolist(), approx(legs["start_m"].tolist())),
            ("time_min", self._minutes(), approx(self.row["time_min"])),
            ("worst_utilisation", float(worst.max()), approx(self.row["worst_utilisation"])),
            ("exposure", exposure, approx(self.row["exposure"])),
            ("value", value, approx(self.row["value"], abs=near)),
            ("bound", self.row["bound"], approx(self.row["value"]) if self.row["proven"] else approx(0, abs=1e9)),
        ):
            if found != told:
                yield f"{name} is {found}, told {told}"

    def _lengths(self, segments: pd.Index) -> np.ndarray:
        return self.tables["segments"].set_index("segment_id")["length_m"].reindex(segments).to_numpy()

    def _minutes(self) -> float:
        """Drive each move at the slowest's pace, stop at each call; where the group splits the slower part counts."""
        laps = self.asked.get("laps", 1)
        further = 1.0 + (laps - 1) * self.teaching["practice"]["repeat_share"]
        parts: dict[tuple[int, str], float] = {}
        for (move, way, _), group in self.of_driven("verdicts").groupby(["move", "way", "seq"], sort=False):
            for _, leg in group.groupby(["segment_id", "direction"]):
                driving, coaching = self._leg_minutes(leg)
                parts[move, way] = parts.get((move, way), 0.0) + laps * driving + further * coaching
        return sum(max(told for (move, _), told in parts.items() if move == one) for one in {move for move, _ in parts})

    def _leg_minutes(self, verdicts: pd.DataFrame) -> tuple[float, float]:
        """Driving and coaching of those who drive a leg together."""
        first = verdicts.iloc[0]
        segment = self.tables["segments"].set_index("segment_id").loc[first["segment_id"]]
        stations, back = self.tables["stations"], first["direction"] == "against"
        own = stations[stations["segment_id"] == first["segment_id"]]
        ground = Ground(segment["length_m"], back, segment["surface"], self._wetness(segment), own)
        driving = max(
            driving_min(ground, v.verdict, self.drivers[v.setup], self.judgement) for v in verdicts.itertuples()
        )
        runs = self.tables["techniques"]
        runs = runs[(runs["segment_id"] == first["segment_id"]) & (runs["direction"] == first["direction"])]
        met = [
            (run.technique, segment["length_m"] - run.to_m if back else run.from_m, run.intensity)
            for run in runs.itertuples()
        ]
        share = max(self.drivers[setup]["coaching_share"] for setup in verdicts["setup"])
        return driving, share * coaching_min(met, self.judgement["technique"], self.teaching["calls"])

    def _wetness(self, segment: pd.Series) -> str:
        """Wetness of the day; under the rain of an outlook all of the sample's hill is wet."""
        return "wet" if "outlook" in self.asked else str(segment["wetness"])

    def _points(self) -> float:
        """Add up what is practised: whole credits a leg, five pieces each worth less than the one before."""
        practice = self.teaching["practice"]
        further = 1.0 + (self.asked.get("laps", 1) - 1) * practice["repeat_share"]
        total = 0
        for name, weight in practice["aims"][self.asked.get("aim", "all-round")].items():
            runs = self.of_driven("techniques").query("technique == @name")
            full = self._full(name)
            for setup in self.drivers:
                gives = runs["amount"] * self._shares(setup, runs["intensity"]) / full * 100.0
                runs = runs.assign(**{setup: gives.where(runs["setup"] == setup, 0.0)})
            each = runs[list(self.drivers)].sum(axis=1).groupby(runs["move"]).sum() / len(self.drivers)
            stays = runs[runs["way"] == ""]
            lost = sum(self._lost(pair) for _, pair in stays.groupby("segment_id") if pair["seq"].nunique() == 2)
            credit = int((each * further).round().sum()) - lost
            total += weight * sum(PIECES[k // 20] for k in range(min(credit, 100)))
        return total / 3.0

    def _shares(self, setup: str, intensity: pd.Series) -> pd.Series:
        """Give the shares by which runs of some intensity fit the driver of a set-up: linear between four points."""
        band = self.teaching["practice"]["band"][self.driver_of[setup]]
        rise = band["easy_share"] + (1.0 - band["easy_share"]) * intensity / band["best_from"]
        fall = 1.0 - (1.0 - band["hard_share"]) * (intensity - band["best_to"]) / max(1.0 - band["best_to"], 1e-9)
        return rise.where(intensity < band["best_from"], fall.where(intensity > band["best_to"], 1.0))

    def _full(self, name: str) -> float:
        """Give the amount of full practice: what the settings say, more where an average loop has plenty."""
        longest = self.asked["length_m"][1]
        runs, whole = self.tables["techniques"].query("technique == @name"), self.tables["segments"]["length_m"].sum()
        fits = sum(self._shares(setup, runs["intensity"]) for setup in self.drivers) / len(self.drivers)
        average = float((runs["amount"] * fits).sum()) / (2.0 * whole) * longest
        usual = self.judgement["technique"][name]["saturation"]
        scale = max(1.0, longest / self.judgement["reference_length_m"])
        return max(usual * scale, self.teaching["practice"]["spread"] * average)

    def _lost(self, runs: pd.DataFrame) -> int:
        """Give the credits lost where runs of one technique on both ways of a segment lie over each other."""
        less, left = 0.0, runs.sort_values(["from_m", "to_m"])
        while len(left):
            end = left["to_m"].iloc[0]
            while (reach := left.loc[left["from_m"] < end, "to_m"].max()) > end:
                end = reach
            inside = (left["from_m"] < end) | (left["to_m"] <= end)
            sides = left[inside].groupby("seq")[list(self.drivers)].sum()
            less += float(sides.min().mean()) if len(sides) == 2 else 0.0
            left = left[~inside]
        return int(less * (1.0 - self.teaching["practice"]["repeat_share"]) + 1e-9)


def _corner_deg(before: Line, after: Line) -> float:
    """Change of heading from the last metres of one line to the first of the next, degrees."""
    line, onward = LineString([point[:2] for point in before]), LineString([point[:2] for point in after])
    a, b = line.interpolate(max(line.length - LOOK_M, 0.0)), Point(before[-1][:2])
    c, d = Point(after[0][:2]), onward.interpolate(min(LOOK_M, onward.length))
    turn = np.arctan2(d.y - c.y, d.x - c.x) - np.arctan2(b.y - a.y, b.x - a.x)
    return float(abs(np.degrees((turn + np.pi) % (2.0 * np.pi) - np.pi)))
