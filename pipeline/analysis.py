"""The stages of a build from the terrain to the calls: what each reads, its parameters, what it hands on.

Nothing here reads the settings' files or writes anything: a project and a survey go in, the facts that the products
show come out.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any, NamedTuple

import geopandas as gpd
import pandas as pd

from pipeline.checks.comparison.changes import Change, compare_changes
from pipeline.checks.crossings import crossings_table
from pipeline.checks.doubt.fitness import fitness_table
from pipeline.checks.ford.now import with_water_now
from pipeline.checks.grip.stopping import stopping_table
from pipeline.checks.judged import Judged, judge_setups
from pipeline.checks.lie import lie_of
from pipeline.checks.outlook import Outlook, judge_outlooks
from pipeline.checks.passing.table import passings_table
from pipeline.checks.rolling.poses import make_poses
from pipeline.checks.room.plan_poses import make_plans
from pipeline.checks.room.table import lines_table
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Ground
from pipeline.ground.state import ground_state
from pipeline.ground.surface import unknown_words
from pipeline.ground.weather import Weather, weather_words
from pipeline.loops.request import FoundLoops
from pipeline.loops.search import together
from pipeline.products.facts import Conditions, Facts, Outlooked
from pipeline.project import Project
from pipeline.searching import search, setups_of
from pipeline.spread import Mapper, serial
from pipeline.survey.model import Network
from pipeline.tables import CALLS, validate
from pipeline.technique.briefing import CallInputs, calls_table
from pipeline.technique.inventory import technique_table
from pipeline.terrain.drainage import measure_drainage
from pipeline.terrain.hillshade import hillshade
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Terrain
from pipeline.terrain.summary import Soil, segments_table, stations_table
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope

__all__ = [
    "Clock",
    "Measured",
    "Tools",
    "analyse",
    "drain",
    "ground_under",
    "judge",
    "setup_warnings",
    "survey_warnings",
]

Progress = Callable[[str], None]


@dataclass(slots=True)
class Clock:
    """Tells which stage begins and notes how long each took, seconds."""

    progress: Progress
    timings: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage."""
        self.progress(name)
        begun = time.perf_counter()
        yield
        self.timings[name] = time.perf_counter() - begun


@dataclass(frozen=True, slots=True)
class Tools:
    """What the stages work with."""

    mapper: Mapper
    clock: Clock
    wait: Callable[[str], None]
    """Waits until the kernels of a stage are compiled, as far as another process does that."""


class Measured(NamedTuple):
    """The ground along the network."""

    terrain: Terrain
    ground: Ground


def drain(project: Project, network: Network, terrain: Terrain) -> Measured:
    """Lead water over the terrain, and work out the ground of the day."""
    drained = measure_drainage(network, terrain, project.terrain)
    return Measured(drained, ground_under(project.weather, project, network, drained))


def ground_under(weather: Weather, project: Project, network: Network, terrain: Terrain) -> Ground:
    """Work out the ground of a site under a weather: that of the day, or any other.

    Parameters
    ----------
    weather
        The weather.
    project
        The settings.
    network
        The survey.
    terrain
        The terrain of its trails; what it tells of hollows and of running water counts.
    """
    return ground_state(network, project.surfaces, weather, lie_of(terrain))


def judge(project: Project, network: Network, measured: Measured, mapper: Mapper = serial) -> Judged:
    """Check every segment against every set-up."""
    envelopes = setups_of(project)
    site = CheckSite(network, measured.terrain, measured.ground, project.terrain)
    return judge_setups(site, envelopes, project.limits, mapper)


def analyse(project: Project, network: Network, tools: Tools) -> Facts:
    """Run the stages from terrain to calls and gather what the products show.

    Parameters
    ----------
    project
        The settings.
    network
        The survey.
    tools
        What the stages work with.
    """
    clock, mapper = tools.clock, tools.mapper
    with clock.stage("terrain"):
        terrain = measure_terrain(network, project.terrain, mapper)
        stations = stations_table(network, terrain, project.terrain)
    with clock.stage("drainage"):
        tools.wait("drainage")
        measured = drain(project, network, terrain)
        segments = segments_table(network, measured.terrain, _soil(measured.ground))
        crossings = crossings_table(network, measured.terrain)
    with clock.stage("checks"):
        tools.wait("checks")
        judged = judge(project, network, measured, mapper)
    with clock.stage("techniques"):
        techniques = technique_table(network, measured.terrain, project.techniques)
    found, weathers, stands, others = _besides(project, judged, techniques, tools)
    with clock.stage("calls"):
        calls = _calls(project, techniques, found, weathers)
    with clock.stage("relief"):
        relief = hillshade(project.terrain.elevation, tuple(network.segments.total_bounds), network.crs)
    return Facts(
        **_given(project, network, measured.ground),
        segments=segments,
        stations=stations,
        techniques=techniques,
        calls=calls,
        warnings=(
            *survey_warnings(project, network),
            *setup_warnings(judged.prepared.envelopes),
            *_height_warnings(segments),
            *_water_warnings(project, measured.terrain),
        ),
        hillshade=relief,
        crossings=with_water_now(crossings, judged.prepared.scene),
        **_judged(judged, found),
        **stands,
        **others,
    )


class _Weather(NamedTuple):
    """The site under one weather, as the drive sheets of its loops need it."""

    outlook: str | None
    """``None`` for the weather of the day."""
    judged: Judged
    passings: pd.DataFrame
    lines: gpd.GeoDataFrame


def _besides(
    project: Project, judged: Judged, techniques: pd.DataFrame, tools: Tools
) -> tuple[FoundLoops, tuple[_Weather, ...], dict[str, Any], dict[str, Any]]:
    """Find the loops; give the facts of set-ups on the ground, and those of other set-ups and other weather.

    The search for loops needs nothing of the rest, and its solver works outside Python: it runs beside it, and the time
    of its stage is what was left to wait for. Loops under other weather follow as soon as that is judged.
    """
    clock, mapper, network = tools.clock, tools.mapper, judged.prepared.scene.site.network
    wanted = {request.outlook for request in project.requests if request.outlook is not None}
    tools.wait("poses")
    with ThreadPoolExecutor(1) as beside:
        searched = [beside.submit(_search_when_compiled, project, judged, techniques, tools)]
        with clock.stage("poses"):
            stands = _stands(judged)
        with clock.stage("comparisons"):
            comparisons, compared = compare_changes(judged, list(_changes(project, network, judged)), mapper)
        with clock.stage("outlooks"):
            outlooked, outlooks, then = _outlooks(project, judged, wanted, mapper)
        searched += [
            beside.submit(search, project, under, techniques, mapper, outlook) for outlook, under in then.items()
        ]
        with clock.stage("loops"):
            found = together([one.result() for one in searched], [request.name for request in project.requests])
    weathers = (
        _Weather(None, judged, stands["passings"], stands["lines"]),
        *(_Weather(name, one, passings_table(one.prepared), lines_table(one.prepared)) for name, one in then.items()),
    )
    others = {"comparisons": comparisons, "compared": compared, "outlooks": outlooks, "outlooked": outlooked}
    return found, weathers, stands, others


def _search_when_compiled(project: Project, judged: Judged, techniques: pd.DataFrame, tools: Tools) -> FoundLoops:
    """Find the loops of the day as soon as what searches them is compiled."""
    tools.wait("loops")
    return search(project, judged, techniques, tools.mapper)


def _soil(ground: Ground) -> Soil:
    """Give what the table of segments tells of the ground."""
    return Soil(ground.surface, [word.value for word in ground.wet], ground.index_mm, ground.lie.twi)


def _judged(judged: Judged, found: FoundLoops) -> dict[str, Any]:
    """Give the facts of checks and loops."""
    return {
        "envelopes": judged.prepared.envelopes,
        "checks": judged.checks,
        "verdicts": judged.verdicts,
        "loops": found.loops,
        "legs": found.legs,
        "practice": found.practice,
        "session": found.session,
        "bypasses": found.bypasses,
        "convoy": found.convoy,
        "loop_notes": tuple((note.loop, note.found, note.text) for note in found.notes),
    }


def _stands(judged: Judged) -> dict[str, Any]:
    """Give the facts of set-ups on the ground: how they stand, pass things and stop, and what the model carries."""
    prepared = judged.prepared
    return {
        "poses": make_poses(prepared, judged.verdicts),
        "passings": passings_table(prepared),
        "lines": lines_table(prepared),
        "plans": make_plans(prepared),
        "stopping": stopping_table(prepared),
        "fitness": fitness_table(prepared, judged.checks),
    }


def _given(project: Project, network: Network, ground: Ground) -> dict[str, Any]:
    """Give the facts that settings and survey bring."""
    return {
        "site": project.name,
        "built_at": datetime.now(tz=UTC).isoformat(timespec="seconds"),
        "conditions": _conditions(project, ground),
        "crs": network.crs,
        "nodes": network.nodes,
        "obstacles": network.obstacles,
        "repairs": network.repairs,
        "loop_setups": project.loop_setups,
        "trailhead_node": network.trailhead_node,
        "limits": project.limits,
    }


def _changes(project: Project, network: Network, judged: Judged) -> Iterator[Change]:
    """Yield the changes that the settings want compared; those to the same ground share it."""
    vehicles = {one.choice.name: one.vehicle for one in project.setups}
    before = {envelope.setup: envelope for envelope in judged.prepared.envelopes}
    terrain = judged.prepared.scene.site.terrain
    wanted = dict.fromkeys(one.weather for one in project.comparisons if one.weather is not None)
    grounds = {weather: ground_under(weather, project, network, terrain) for weather in wanted}
    for one in project.comparisons:
        after = make_envelope(vehicles[one.setup], one.choice)
        ground = None if one.weather is None else grounds[one.weather]
        told = "" if one.weather is None or ground is None else weather_words(one.weather, ground.wetness)
        words = "; ".join(filter(None, (one.words, told)))
        yield Change(one.name, words, before[one.setup], after, ground)


def _outlooks(
    project: Project, judged: Judged, kept: set[str], mapper: Mapper
) -> tuple[tuple[Outlooked, ...], pd.DataFrame, dict[str, Judged]]:
    """Judge the site under every other weather that the settings ask for; those *kept* are given whole."""
    site = judged.prepared.scene.site
    weathers = dict.fromkeys(one.weather for one in project.outlooks)
    grounds = {weather: ground_under(weather, project, site.network, site.terrain) for weather in weathers}
    outlooked = []
    for one in project.outlooks:
        own = one.weather.date is not None and one.weather.date != project.weather.date
        words = weather_words(one.weather, grounds[one.weather].wetness)
        outlooked.append(Outlooked(one.name, f"{words}, on {one.weather.date}" if own else words))
    wanted = [Outlook(one.name, grounds[one.weather]) for one in project.outlooks]
    return tuple(outlooked), *judge_outlooks(judged, wanted, mapper, kept)


def _calls(
    project: Project, techniques: pd.DataFrame, found: FoundLoops, weathers: Sequence[_Weather]
) -> gpd.GeoDataFrame:
    """Write the calls of every loop, by the checks, the ways past things and the lines of its own weather."""
    calls = [
        calls_table(_call_inputs(project, techniques, replace(found, loops=_loops_under(found, one.outlook)), one))
        for one in weathers
    ]
    order = {name: place for place, name in enumerate(found.loops["loop"])}
    rows = pd.concat(calls, ignore_index=True)
    rows = rows.sort_values("loop", key=lambda names: names.map(order), kind="stable", ignore_index=True)
    return validate(gpd.GeoDataFrame(rows, geometry="geometry", crs=calls[0].crs), CALLS)


def _loops_under(found: FoundLoops, outlook: str | None) -> gpd.GeoDataFrame:
    """Take the loops that were searched under one weather."""
    names = found.loops["outlook"]
    return found.loops[names.isna() if outlook is None else names == outlook]


def _call_inputs(project: Project, techniques: pd.DataFrame, found: FoundLoops, weather: _Weather) -> CallInputs:
    """Gather what the calls of the loops under one weather are made from."""
    site = weather.judged.prepared.scene.site
    return CallInputs(
        loops=found.loops,
        legs=found.legs,
        network=site.network,
        terrain=site.terrain,
        techniques=techniques,
        checks=weather.judged.checks,
        setups_of_loop=project.loop_setups,
        settings=project.techniques,
        passings=weather.passings,
        lines=weather.lines,
    )


def _conditions(project: Project, ground: Ground) -> Conditions:
    """Give the conditions as the products show them."""
    day = project.weather
    return Conditions(
        date=None if day.date is None else day.date.isoformat(), wetness=ground.wetness.value, rain_mm=day.rain_mm
    )


def survey_warnings(project: Project, network: Network) -> Iterator[str]:
    """Yield what every product must say about settings and survey: what is missing or assumed, else in silence."""
    yield from project.warnings
    repairs = network.repairs
    for repair in repairs[repairs["repair"] == "dropped"].itertuples():
        yield f"{repair.source}, {repair.feature}: left out, {repair.detail}"
    if network.obstacles_surveyed and network.obstacles.empty:
        yield "The obstacle files hold no obstacle: every surveyed trail counts as free of them."
    for word, count in unknown_words(network, project.surfaces).items():
        trails = f"{count} segment{'' if count == 1 else 's'}"
        yield f"{trails}: no class of the surfaces file has the surface {word!r}; grip from other tags, or assumed"


def setup_warnings(envelopes: tuple[Envelope, ...]) -> Iterator[str]:
    """Yield what every product must say about the set-ups."""
    for envelope in envelopes:
        yield from (f"{envelope.setup}: {warning}" for warning in envelope.warnings)


def _height_warnings(segments: pd.DataFrame) -> Iterator[str]:
    """Yield where heights are missing."""
    bare = segments["height_coverage"] < 1.0
    if bare.any():
        length = float((segments["length_m"] * (1.0 - segments["height_coverage"])).sum())
        yield (
            f"{int(bare.sum())} segments have no height along {length:.0f} m: outside the elevation models, "
            "or a bridge or tunnel without surveyed heights"
        )


def _water_warnings(project: Project, terrain: Terrain) -> Iterator[str]:
    """Yield where less is known of water than the settings ask for."""
    if terrain.drainage is None:
        yield "no elevation model: where water crosses the trails, and how wet they lie, only the survey tells"
    elif terrain.drainage.cell_m > 1.01 * project.terrain.drainage_cell_m:
        yield (
            f"water was led over cells of {terrain.drainage.cell_m:.0f} m, as fine as the elevation models and the "
            "size of the site allow: hollows and ditches narrower than that are not seen"
        )
