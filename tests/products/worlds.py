"""A tiny invented training ground, complete enough to go through every product.

Five segments round a smooth hill (a closed form, so every height and grade
can be worked out by hand), two set-ups, one loop with an alternative, one
loop that was not found. :data:`HOSTILE` swaps the names for texts that break
careless writers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import erfc, sqrt
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pyproj import CRS
from shapely import LineString, MultiLineString, Point
from shapely.ops import substring

from pipeline.checks.limits import Limits
from pipeline.products.facts import Conditions, Facts
from pipeline.settings import read_settings
from pipeline.tables import (
    CALLS,
    CHECKS,
    LEGS,
    LOOPS,
    NODES,
    OBSTACLES,
    REPAIRS,
    SEGMENTS,
    STATIONS,
    TECHNIQUES,
    VERDICTS,
    validate,
)
from pipeline.terms import CheckName, Direction, Drive, Driver, Verdict
from pipeline.vehicle.envelope_model import Envelope
from tests.products.ground_worlds import ground_of, repeated, without_ground
from tests.products.loop_worlds import bypasses_of, loops_of
from tests.products.outlook_worlds import outlook_of
from tests.products.room_worlds import room_of

CRS_UTM = CRS.from_epsg(32632)
EAST, NORTH = 481_000.0, 5_540_000.0
"""South-west corner of the ground in UTM 32 north: open fields, no real training ground."""

HOSTILE = (
    "</script><img src=x onerror=alert(1)>",
    "{{7*7}} {% raw %} {# ${x} %(y)s",
    "line\u2028separator\u2029paragraph",
    "\u202eright-to-left \u05d0\u05d1\u05d2 end",
    "=1+1 | `id` \x07bell \x1b[31m & \"quoted\" 'single'",
)
"""Texts that have broken pages, templates, shells, spreadsheets and XML."""

PLAIN = ("Quarry climb", "Top traverse", "Stream descent", "Meadow link", "Old adit spur")


@dataclass(frozen=True, slots=True)
class Picture:
    """A relief picture as the terrain stage hands it over."""

    image: bytes
    media_type: str
    west: float
    south: float
    east: float
    north: float


GREY_PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c6368000000820081773cb7970000000049454e44ae426082"
)
"""One grey pixel."""

LINES = (
    LineString([(0, 0), (60, 40), (120, 130), (200, 200)]),
    LineString([(200, 200), (300, 220), (380, 180)]),
    LineString([(380, 180), (330, 90), (240, 40), (140, -10), (0, 0)]),
    LineString([(200, 200), (230, 130), (240, 40)]),
    LineString([(380, 180), (430, 240), (440, 300)]),
)
"""Plan of the segments, metres from the south-west corner; ends meet at (0, 0), (200, 200) and (380, 180)."""


def height(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height of the hill: 300 m and a bump of 35 m at (230, 170)."""
    return 300 + 35 * np.exp(-((x - 230) ** 2 + (y - 170) ** 2) / (2 * 110.0**2))


def make_facts(*, names: tuple[str, ...] = PLAIN, setups: tuple[str, ...] = ("Short wagon", "Long wagon")) -> Facts:
    """Build the world; *names* name its five segments and, where hostile, everything else too."""
    lines = [LineString([(EAST + x, NORTH + y) for x, y in line.coords]) for line in LINES]
    stations = _stations(lines)
    segments = _segments(lines, names, stations)
    checks = _checks(segments, setups)
    verdicts = _verdicts(checks, segments)
    loops, legs = _loops(segments, setups)
    hostile = names != PLAIN
    envelopes = tuple(_envelope(name, index) for index, name in enumerate(setups))
    return Facts(
        site=names[0] if hostile else "Fernhollow training ground",
        built_at="2025-03-01T14:05:09+00:00",
        conditions=Conditions(date="2025-03-01", wetness="damp", rain_mm=(0.0, 4.5, 1.2)),
        crs=CRS_UTM,
        segments=segments,
        nodes=_nodes(),
        obstacles=_obstacles(names),
        repairs=_repairs(lines),
        stations=stations,
        checks=checks,
        verdicts=verdicts,
        techniques=_techniques(),
        loops=loops,
        legs=legs,
        calls=_calls(lines, names),
        envelopes=envelopes,
        loop_setups={"Hill round": setups, "Far round": setups[:1]},
        loop_notes=(
            ("Hill round", True, "proven best of all loops within the window"),
            ("Far round", False, f"no loop of 9 km exists here; the longest is 1.18 km ({names[1]})"),
        ),
        warnings=(f"elevation model ends before {names[4]}",),
        hillshade=Picture(GREY_PNG, "image/png", 8.73, 50.0, 8.75, 50.02),
        trailhead_node=0,
        **ground_of(envelopes, segments, names[2:] if hostile else ("Roof load", "Rain")),
        **outlook_of(checks, verdicts, setups, names[3:] if hostile else ("After rain", "Like the day")),
        **room_of(envelopes, segments, names[1] if hostile else ""),
        **loops_of(setups, names[3] if hostile else ""),
        limits=read_settings(Path("configs/limits.toml"), Limits),
    )


def hostile_facts() -> Facts:
    """Build the same world with hostile texts wherever a person may write one."""
    return make_facts(names=HOSTILE, setups=(HOSTILE[0], HOSTILE[1]))


def mixed(facts: Facts) -> Facts:
    """Let the last set-up go round the second leg of the loop."""
    setup = facts.envelopes[-1].setup
    away = (facts.legs["rank"] == 1) & (facts.legs["segment_id"] == "s2")
    verdicts = facts.legs["verdicts"].mask(away, facts.legs["verdicts"].str.replace("spot", "goes round", regex=False))
    return replace(
        facts, legs=facts.legs.assign(verdicts=verdicts), bypasses=bypasses_of(facts.segments, setup, facts.site)
    )


def no_loops(facts: Facts) -> Facts:
    """Strip the loops, as when no loop was asked for."""
    return replace(
        facts,
        loops=facts.loops.iloc[:0],
        legs=facts.legs.iloc[:0],
        calls=facts.calls.iloc[:0],
        practice=facts.practice.iloc[:0],
        session=facts.session.iloc[:0],
        bypasses=facts.bypasses.iloc[:0],
        convoy=facts.convoy.iloc[:0],
        loop_setups={},
        loop_notes=(),
    )


def with_heights(facts: Facts) -> Facts:
    """Give the second segment a survey-grade line, with heights in its geometry, in every frame that holds it."""

    def lifted(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        own = (frame["segment_id"] == "s2").to_numpy()
        lines = frame.geometry.to_numpy().copy()
        lines[own] = [LineString([(x, y, 320.0) for x, y in line.coords]) for line in lines[own]]
        return frame.set_geometry(gpd.GeoSeries(lines, index=frame.index, crs=frame.crs))

    course = facts.loops.geometry.force_3d(320.0)
    loops = facts.loops.set_geometry(course)
    return replace(facts, segments=lifted(facts.segments), verdicts=lifted(facts.verdicts), loops=loops)


def many_segments(count: int) -> Facts:
    """Build a grid of *count* short segments with one set-up, for size and speed."""
    facts = make_facts(setups=("Short wagon",))
    poses, facts = facts.poses, without_ground(facts)
    side = int(np.ceil(np.sqrt(count)))
    index = np.arange(count)
    x, y = EAST + 60.0 * (index % side), NORTH + 60.0 * (index // side)
    steps = np.linspace(0.0, 1.0, 20)
    lines = [
        LineString(np.column_stack([left + 55 * steps, low + 4 * np.sin(6 * steps)]))
        for left, low in zip(x, y, strict=True)
    ]
    ids = [f"g{number}" for number in index]
    pick = index % len(facts.segments)
    segments = facts.segments.iloc[pick].reset_index(drop=True).assign(segment_id=ids, geometry=lines)
    per_setup = 2 * len(CheckName)
    checks = facts.checks.iloc[(pick[:, None] * per_setup + np.arange(per_setup)).ravel()].reset_index(drop=True)
    checks = checks.assign(segment_id=np.repeat(ids, per_setup))
    verdicts = facts.verdicts.iloc[(pick[:, None] * 2 + np.arange(2)).ravel()].reset_index(drop=True)
    verdicts = verdicts.assign(segment_id=np.repeat(ids, 2), geometry=np.repeat(np.array(lines, dtype=object), 2))
    own = facts.stations[facts.stations["segment_id"] == "s1"].iloc[:40]
    stations = pd.concat([own] * count, ignore_index=True).assign(segment_id=np.repeat(ids, len(own)))
    stations["chainage_m"] = np.tile(np.linspace(0, 55, len(own)), count)
    return replace(
        no_loops(facts),
        segments=segments,
        checks=checks,
        verdicts=verdicts.set_crs(CRS_UTM),
        stations=stations,
        poses=repeated(poses, ids),
    )


def _frame(rows: Mapping[str, object], geometry: list[object]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(dict(rows), geometry=geometry, crs=CRS_UTM)


def _stations(lines: list[LineString]) -> pd.DataFrame:
    blocks = []
    for index, line in enumerate(lines):
        count = int(np.ceil(line.length / 0.5))
        chainage = np.linspace(0.0, line.length, count + 1)
        points = np.array([line.interpolate(at).coords[0] for at in chainage])
        local_x, local_y = points[:, 0] - EAST, points[:, 1] - NORTH
        z = height(local_x, local_y)
        if index == 4:
            z = np.where(chainage > 80, np.nan, z)
        ahead = np.gradient(points[:, 0], chainage), np.gradient(points[:, 1], chainage)
        bump = z - 300
        slope_x, slope_y = -bump * (local_x - 230) / 110.0**2, -bump * (local_y - 170) / 110.0**2
        grade = slope_x * ahead[0] + slope_y * ahead[1]
        cross = slope_x * ahead[1] - slope_y * ahead[0]
        blocks.append(
            pd.DataFrame(
                {
                    "segment_id": f"s{index + 1}",
                    "chainage_m": chainage,
                    "x": points[:, 0],
                    "y": points[:, 1],
                    "z_m": z.astype(np.float32),
                    "bearing_deg": (np.degrees(np.arctan2(*ahead)) % 360).astype(np.float32),
                    "grade_deg": np.degrees(np.arctan(grade)).astype(np.float32),
                    "side_slope_deg": np.degrees(np.arctan(cross)).astype(np.float32),
                    "radius_m": np.full(len(z), np.inf, dtype=np.float32),
                    "grade_sd_deg": np.full(len(z), 0.8, dtype=np.float32),
                    "side_slope_sd_deg": np.full(len(z), 0.9, dtype=np.float32),
                }
            )
        )
    return validate(pd.concat(blocks, ignore_index=True), STATIONS)


def _segments(lines: list[LineString], names: tuple[str, ...], stations: pd.DataFrame) -> gpd.GeoDataFrame:
    by = stations.groupby("segment_id", sort=False)
    z = by["z_m"]
    lengths = [line.length for line in lines]
    ends = [(0, 1), (1, 2), (2, 0), (1, 3), (2, 4)]
    frame = _frame(
        {
            "segment_id": [f"s{number}" for number in range(1, 6)],
            "name": list(names),
            "source": "trails.gpkg",
            "surveyed_on": ["2025-02-10", "2025-02-10", "2025-02-11", None, None],
            "status": ["open", "open", "open", "open", "closed"],
            "surface": ["gravel", "grass", "mud", "gravel", None],
            "width_m": [3.0, 2.6, 2.4, 3.2, np.nan],
            "node_a": [a for a, _ in ends],
            "node_b": [b for _, b in ends],
            "length_m": lengths,
            "ground_length_m": [1.01 * length for length in lengths[:4]] + [np.nan],
            "elevation_min_m": z.min().to_numpy(np.float64),
            "elevation_max_m": z.max().to_numpy(np.float64),
            "rise_m": by["z_m"].apply(lambda h: float(np.clip(np.diff(h.dropna()), 0, None).sum())).to_numpy(),
            "fall_m": by["z_m"].apply(lambda h: float(np.clip(-np.diff(h.dropna()), 0, None).sum())).to_numpy(),
            "grade_mean_deg": by["grade_deg"].mean().to_numpy(np.float64),
            "grade_max_deg": by["grade_deg"].max().to_numpy(np.float64),
            "grade_min_deg": by["grade_deg"].min().to_numpy(np.float64),
            "side_slope_max_deg": by["side_slope_deg"].apply(lambda s: float(s.abs().max())).to_numpy(),
            "side_slope_p95_deg": by["side_slope_deg"].apply(lambda s: float(s.abs().quantile(0.95))).to_numpy(),
            "radius_min_m": [18.0, np.inf, 9.5, 30.0, 12.0],
            "height_coverage": [1.0, 1.0, 1.0, 1.0, 0.57],
            "dem_cell_m": [1.0] * 5,
            "wetness": ["damp"] * 5,
            "wetness_mm": [4.5] * 5,
            "twi": [6.0] * 5,
        },
        lines,
    )
    return validate(frame, SEGMENTS)


UNITS = {
    "turn": "m",
    "width": "m",
    "height": "m",
    "ford": "m",
    "belly": "m",
    "slide": "μ",
    "soft": "1",
    "articulation": "m",
}
UNKNOWN = {("s4", "height"), ("s4", "width"), ("s5", "height"), ("s5", "breakover")}
"""Checks that cannot be made in this world."""


def _verdict(utilisation: float) -> Verdict:
    steps = ((0.6, Verdict.AMPLE), (0.8, Verdict.WATCH), (1.0, Verdict.SPOT))
    return next((verdict for limit, verdict in steps if utilisation <= limit), Verdict.BARRED)


DOUBTED = (CheckName.BREAKOVER, CheckName.ROLL, CheckName.CLIMB)
"""Checks whose demand has a standard deviation of 2 in this world."""


BLURRED = ("s2", CheckName.ROLL)
"""A check of this world whose demand alone asks for less than its verdict: one in seven is enough for a spotter."""


def _over(demand: float, limit: float) -> float:
    """Chance that a demand with a standard deviation of 2 is over its limit."""
    return 0.5 * erfc((limit - demand) / (2.0 * sqrt(2.0)))


def _check_row(
    segment: object, setup_index: int, setup: str, direction: Direction, check: CheckName
) -> dict[str, object]:
    number = int(str(segment.segment_id)[1:])  # type: ignore[attr-defined]
    order = list(CheckName).index(check)
    utilisation = round(0.12 + 0.05 * ((number * 7 + order * 3 + (direction is Direction.AGAINST)) % 11), 3)
    if check is CheckName.CLIMB:
        utilisation = round((0.3, 0.55, 0.72, 0.88, 0.4)[number - 1] + 0.2 * setup_index, 3)
    unknown = (segment.segment_id, check.value) in UNKNOWN  # type: ignore[attr-defined]
    limit = 20.0 + order
    verdict = Verdict.UNSURVEYED if unknown else _verdict(utilisation)
    unit = UNITS.get(check.value, "°")
    doubted = check in DOUBTED and not unknown
    p_over = _over(utilisation * limit, limit) if doubted else np.nan
    if (segment.segment_id, check) == BLURRED:  # type: ignore[attr-defined]
        utilisation, p_over, verdict = 0.25, 0.14, Verdict.SPOT
    known = f"{check.value} asks {utilisation * limit:.1f} {unit} of {limit:.1f} {unit}"
    return {
        "segment_id": segment.segment_id,  # type: ignore[attr-defined]
        "setup": setup,
        "direction": direction.value,
        "check": check.value,
        "demand": np.nan if unknown else utilisation * limit,
        "limit": limit,
        "unit": unit,
        "limit_typical": np.nan if unknown or check is not CheckName.CLIMB else 1.25 * limit,
        "utilisation": np.nan if unknown else utilisation,
        "at_m": np.nan if unknown else round(segment.length_m * 0.4, 1),  # type: ignore[attr-defined]
        "verdict": verdict.value,
        "basis": "none" if unknown else "dem",
        "demand_sd": 2.0 if doubted else np.nan,
        "p_over": p_over,
        "reason": "no obstacle survey of this segment" if unknown else known,
    }


def _checks(segments: gpd.GeoDataFrame, setups: tuple[str, ...]) -> pd.DataFrame:
    rows = [
        _check_row(segment, index, setup, direction, check)
        for segment in segments.itertuples()
        for index, setup in enumerate(setups)
        for direction in Direction
        for check in CheckName
    ]
    return validate(pd.DataFrame(rows), CHECKS)


def _verdicts(checks: pd.DataFrame, segments: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    rank = checks["verdict"].map({verdict.value: verdict.rank for verdict in Verdict})
    worst = checks.assign(rank=rank, shown=checks["utilisation"].fillna(-1)).sort_values(
        ["rank", "shown"], ascending=False, kind="stable"
    )
    worst = worst.drop_duplicates(["segment_id", "setup", "direction"]).sort_index()
    geometry = worst["segment_id"].map(segments.set_index("segment_id").geometry).tolist()
    columns = {name: worst[name].to_numpy() for name in VERDICTS.names}
    return validate(_frame(columns, geometry), VERDICTS)


def _techniques() -> pd.DataFrame:
    return validate(
        pd.DataFrame(
            {
                "segment_id": ["s1", "s1", "s3"],
                "direction": ["with", "against", "with"],
                "technique": ["climb", "descent", "water"],
                "from_m": [40.0, 40.0, 200.0],
                "to_m": [120.0, 120.0, 204.0],
                "intensity": [0.6, 0.6, 0.3],
                "amount": [80.0, 80.0, 1.0],
            }
        ),
        TECHNIQUES,
    )


def _loops(segments: gpd.GeoDataFrame, setups: tuple[str, ...]) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    line = {row.segment_id: row.geometry for row in segments.itertuples()}
    courses = {
        1: [("s1", "with"), ("s2", "with"), ("s3", "with")],
        2: [("s3", "against"), ("s2", "against"), ("s1", "against")],
    }
    legs, shapes = [], []
    for rank, course in courses.items():
        start = 0.0
        for seq, (segment_id, direction) in enumerate(course, start=1):
            legs.append(
                {
                    "loop": "Hill round",
                    "rank": rank,
                    "seq": seq,
                    "segment_id": segment_id,
                    "direction": direction,
                    "start_m": start,
                    "start_min": start / 100.0,
                    "verdicts": "; ".join(map(": ".join, zip(setups, ("watch", "spot"), strict=False))),
                }
            )
            start += line[segment_id].length
        shapes.append(MultiLineString([line[s] if d == "with" else line[s].reverse() for s, d in course]))
    length = float(sum(line[s].length for s, _ in courses[1]))
    loops = _frame(
        {
            "loop": ["Hill round", "Hill round"],
            "rank": [1, 2],
            "objective": ["safest", "safest"],
            "length_m": [length, length],
            "time_min": [14.2, 15.9],
            "worst_utilisation": [0.83, 0.91],
            "exposure": [41.5, 63.0],
            "value": [41.5, 63.0],
            "bound": [41.5, 57.5],
            "gap": [0.0, 0.0873],
            "proven": [True, False],
            "bound_name": ["exact model", "balance"],
            "aim": ["all-round", "all-round"],
            "laps": [1, 1],
            "outlook": pd.Series([None, None], dtype="str"),
        },
        shapes,
    )
    return validate(loops, LOOPS), validate(pd.DataFrame(legs), LEGS)


def _calls(lines: list[LineString], names: tuple[str, ...]) -> gpd.GeoDataFrame:
    rows = [
        (
            1,
            40.0,
            "s1",
            40.0,
            "climb",
            "climb of 14° for 60 m",
            "low range, second gear; even throttle, no stop on the hill",
            False,
        ),
        (2, 290.0, "s2", 4.0, None, f"junction: keep to {names[1]}", "look before you turn", False),
        (
            3,
            420.0,
            "s2",
            134.0,
            "descent",
            "descent of 17° for 38 m",
            "low range, first gear; keep the wheels straight",
            True,
        ),
        (4, 690.0, "s3", 210.0, "water", "ford, 0.35 m deep", "stop and read the water; walking pace", True),
    ]
    at = {f"s{number}": line for number, line in enumerate(lines, start=1)}
    columns = {
        "loop": "Hill round",
        "rank": [1] * len(rows),
        "call": [row[0] for row in rows],
        "at_m": [row[1] for row in rows],
        "segment_id": [row[2] for row in rows],
        "direction": "with",
        "chainage_m": [row[3] for row in rows],
        "technique": [row[4] for row in rows],
        "coming": [row[5] for row in rows],
        "before": [row[6] for row in rows],
        "spotter": [row[7] for row in rows],
    }
    return validate(_frame(columns, [substring(at[row[2]], row[3], row[3]) for row in rows]), CALLS)


def _nodes() -> gpd.GeoDataFrame:
    places = [(0, 0), (200, 200), (380, 180), (240, 40), (440, 300)]
    return validate(
        _frame(
            {
                "node_id": list(range(5)),
                "degree": [2, 3, 3, 2, 1],
                "turn_round": [True, False, False, False, True],
                "name": ["Gate", None, None, None, None],
            },
            [Point(EAST + x, NORTH + y) for x, y in places],
        ),
        NODES,
    )


def _obstacles(names: tuple[str, ...]) -> gpd.GeoDataFrame:
    nan = np.nan
    kinds = ["trailhead", "muster", "exit", "rock", "log", "water"]
    places = [(0, 0), (200, 205), (385, 178), (62, 44), (300, 220), (280, 62)]
    frame = _frame(
        {
            "obstacle_id": [f"o{number}" for number in range(1, 7)],
            "kind": kinds,
            "name": [
                "Gate",
                names[3] if names != PLAIN else "Hill top",
                "North gate",
                None,
                names[2] if names != PLAIN else None,
                "Ford",
            ],
            "segment_id": ["s1", "s1", "s2", "s1", "s2", "s3"],
            "chainage_m": [0.0, 265.0, 180.0, 75.0, 102.0, 210.0],
            "offset_m": [0.0, 2.0, -3.0, 0.4, 0.0, 0.0],
            "height_m": [nan, nan, nan, 0.35, 0.22, nan],
            "length_m": [nan, nan, nan, 0.6, 0.3, 4.0],
            "width_m": [nan, nan, nan, 0.5, 3.0, 3.0],
            "clear_width_m": nan,
            "clear_height_m": nan,
            "depth_m": [nan, nan, nan, nan, nan, 0.35],
            "flow_m_s": [nan, nan, nan, nan, nan, 0.4],
            "surveyed_on": "2025-02-10",
            "note": [None, None, "locked; key at the hut", None, names[3] if names != PLAIN else None, None],
            "source": "obstacles.gpkg",
        },
        [Point(EAST + x, NORTH + y) for x, y in places],
    )
    return validate(frame, OBSTACLES)


def _repairs(lines: list[LineString]) -> gpd.GeoDataFrame:
    return validate(
        _frame(
            {
                "repair": ["snapped", "dropped"],
                "source": "trails.gpkg",
                "feature": ["12", "31"],
                "segment_id": ["s2", None],
                "amount_m": [1.3, np.nan],
                "detail": ["end moved 1.3 m to the junction", "zero length"],
            },
            [Point(lines[1].coords[0]), lines[0]],
        ),
        REPAIRS,
    )


def _envelope(setup: str, index: int) -> Envelope:
    return Envelope(
        setup=setup,
        vehicle="Heron 3" if index == 0 else "Longshore 5",
        driver=Driver.PRACTISED if index == 0 else Driver.FIRST_TIMER,
        suspension="normal",
        loads=() if index == 0 else ("roof_rack",),
        drive=Drive.FOUR_WHEEL,
        low_range=index == 0,
        wheelbase_m=2.4 + 0.5 * index,
        track_front_m=1.5,
        track_rear_m=1.5,
        tyre_radius_m=0.37,
        tyre_width_m=0.24,
        wheel_travel_m=0.4,
        width_m=1.8,
        width_mirrors_m=2.05,
        height_m=1.9 + 0.2 * index,
        length_front_m=0.8,
        length_rear_m=1.0,
        underbody=np.array([[0.8, 0.4], [-1.2, 0.24], [-3.4, 0.45]]),
        approach_deg=34.0,
        breakover_deg=24.0,
        departure_deg=28.0,
        clearance_m=0.22,
        front_axle_clearance_m=0.22,
        rear_axle_clearance_m=0.21,
        mass_kg=1980.0 + 400 * index,
        cg_m=(-1.2, 0.03 * index, 0.7),
        roll_limit_deg=44.0,
        climb_tip_deg=55.0,
        descent_tip_deg=50.0,
        turning_radius_m=5.6,
        fording_depth_m=0.5,
        fording_still_m=0.5,
        fording_flow_m2_s=0.6,
        crawl_grade=0.6,
        min_controlled_speed_m_s=1.2,
        measured=index == 0,
        warnings=() if index == 0 else ("maker's figures on a modified vehicle: measure it",),
    )
