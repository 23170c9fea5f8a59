"""The stages of a build in order: what each reads, its parameters, what it hands on.

Inputs are read and checked before anything is locked or written, so that a build with faulty data leaves no trace.
Products are written into a folder of their own and appear all at once.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import geopandas as gpd
import pandas as pd

from pipeline.checks.run import run_checks
from pipeline.checks.site import CheckSite
from pipeline.checks.verdict import verdicts_table
from pipeline.errors import DataError, InputMissingError, SettingsError
from pipeline.ground.model import Ground
from pipeline.ground.surface import ground_state, unknown_words
from pipeline.loops.names import request_faults
from pipeline.loops.request import LoopInputs
from pipeline.loops.search import find_loops
from pipeline.products.facts import Conditions, Facts
from pipeline.products.plain import CAUTION
from pipeline.products.write import write_products
from pipeline.project import Project, placed
from pipeline.rebuild.change_report import changes_lines, write_changes
from pipeline.rebuild.changes import comparable, compare
from pipeline.rebuild.executor import workers
from pipeline.rebuild.gates import check_gates
from pipeline.rebuild.lock import hold
from pipeline.rebuild.manifest import recipe, stale_reasons, write_manifest
from pipeline.rebuild.publish import check_target, current_build, publish, staging
from pipeline.spread import Mapper
from pipeline.survey.findings import SITE_SETTINGS
from pipeline.survey.model import Network
from pipeline.survey.network import read_survey
from pipeline.technique.briefing import CallInputs, calls_table
from pipeline.technique.inventory import technique_table
from pipeline.terms import Driver, Verdict
from pipeline.terrain.dem import Extent, check_elevation
from pipeline.terrain.dem_cover import check_cover
from pipeline.terrain.hillshade import hillshade
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Terrain
from pipeline.terrain.summary import segments_table, stations_table
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.warm import compiled_ahead

__all__ = ["BuildOptions", "BuildReport", "build", "check"]

Progress = Callable[[str], None]

_MOST_CHANGES = 12
"""Lines of changes that the summary shows; all of them stand in changes.md."""


@dataclass(frozen=True, slots=True)
class BuildOptions:
    """What a run asks for beyond the settings."""

    out: Path | None = None
    """Build folder; ``None`` takes the one of the settings."""
    workers: int = 1
    """Processes that share the blocks of a stage."""
    cluster: str | None = None
    """Address of a Dask scheduler to use instead."""
    rerun: bool = False
    """Build again although nothing has changed."""


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What a run has to say."""

    folder: Path
    """The build folder."""
    lines: tuple[str, ...]
    """The summary, for stdout."""


@dataclass(slots=True)
class _Clock:
    """Tells which stage begins and notes how long each took, seconds."""

    progress: Progress
    timings: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        self.progress(name)
        begun = time.perf_counter()
        yield
        self.timings[name] = time.perf_counter() - begun


@dataclass(frozen=True, slots=True)
class _Tools:
    """What the stages work with."""

    mapper: Mapper
    clock: _Clock
    wait: Callable[[], None]
    """Waits until the kernels of the later stages are compiled."""


def check(project: Project, progress: Progress) -> tuple[str, ...]:
    """Read every input and report every fault in it; build nothing.

    Parameters
    ----------
    project
        The settings, already found good.
    progress
        Called with the name of each step.

    Returns
    -------
    tuple of str
        What was found, when nothing is wrong.

    Raises
    ------
    PipelineError
        With all faults of the survey files, the elevation models and the names in the loops together.
    """
    progress("survey")
    network = _read_inputs(project)
    segments = network.segments
    return (
        f"{project.name}: no faults found",
        f"{len(segments)} segments, {segments['length_m'].sum() / 1000:.2f} km, {len(network.nodes)} nodes",
        f"{len(network.obstacles)} obstacles and places",
        *_repair_lines(network),
        f"{len(project.setups)} set-ups, {len(project.requests)} loops asked for",
        *(f"warning: {warning}" for warning in _survey_warnings(project, network)),
    )


def _repair_lines(network: Network) -> Iterator[str]:
    """Yield what would be repaired, by kind."""
    counts = network.repairs["repair"].value_counts()
    kinds = ", ".join(f"{count} {kind}" for kind, count in counts.items())
    yield f"{len(network.repairs)} repairs would be made to the survey" + (f": {kinds}" if kinds else "")


def _survey_warnings(project: Project, network: Network) -> Iterator[str]:
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


def build(project: Project, options: BuildOptions, progress: Progress) -> BuildReport:
    """Run all stages and publish the products.

    Parameters
    ----------
    project
        The settings, already found good.
    options
        What this run asks for.
    progress
        Called with the name of each stage as it begins.

    Raises
    ------
    DataError, InputMissingError
        Faults of the inputs; nothing was written.
    LockHeldError
        Another run builds into the same folder.
    GateHeldError
        A quality gate held the new build back; the previous one stays.
    OutputError
        The products could not be written; the previous ones stay.
    """
    target = options.out or project.publish.dir
    check_target(target)
    clock = _Clock(progress)
    with clock.stage("inputs"):
        made_of = recipe(project.inputs, project.echo(), root=project.path.parent)
        reasons = stale_reasons(current_build(target), made_of)
    if not reasons and not options.rerun:
        return BuildReport(target, (f"{target}: nothing has changed since the last build; --rerun builds it again",))
    with clock.stage("survey"):
        network = _read_inputs(project)
    with hold(target), workers(options.workers, options.cluster) as mapper:
        with compiled_ahead(made_of.versions) as wait:
            facts = _analyse(project, network, _Tools(mapper, clock, wait))
        with staging(target) as folder:
            with clock.stage("products"):
                write_products(facts, folder)
            changes = compare(comparable(current_build(target)), folder)
            check_gates(changes, project.publish.hold_if, project.path.name)
            write_changes(changes, folder)
            write_manifest(folder, made_of, clock.timings)
            publish(folder, target, keep=project.publish.keep)
    return BuildReport(target, tuple(_summary(facts, target, clock, changes_lines(changes))))


def _read_inputs(project: Project) -> Network:
    """Read the survey, look at the elevation models, resolve the loops' names; raise all their faults together."""
    elevation = project.terrain.elevation
    try:
        network = read_survey(project.survey, project.survey_parameters)
    except (DataError, InputMissingError) as error:
        models = check_elevation(elevation)
        raise (DataError if models else type(error))(placed([*error.faults, *models], project)) from error
    west, south, east, north = network.segments.total_bounds
    faults = check_elevation(elevation, Extent(west, south, east, north, network.crs))
    faults = faults or check_cover(elevation, network.segments.geometry.to_numpy(), network.crs)
    setups = [one.choice.name for one in project.setups]
    unknown = request_faults(project.requests, network, setups, SITE_SETTINGS)
    if faults or unknown:
        raise (SettingsError if unknown else DataError)(placed([*unknown, *faults], project))
    return network


class _Measured(NamedTuple):
    """The ground along the network."""

    terrain: Terrain
    ground: Ground
    segments: gpd.GeoDataFrame
    stations: pd.DataFrame


class _Judged(NamedTuple):
    """What the set-ups may do on it."""

    envelopes: tuple[Envelope, ...]
    drivers: dict[str, Driver]
    checks: pd.DataFrame
    verdicts: gpd.GeoDataFrame


def _measure(project: Project, network: Network, tools: _Tools) -> _Measured:
    """Measure the terrain and work out the grip of the day."""
    terrain = measure_terrain(network, project.terrain, tools.mapper)
    ground = ground_state(network, project.surfaces, project.wetness)
    segments = segments_table(network, terrain, ground.surface)
    return _Measured(terrain, ground, segments, stations_table(network, terrain, project.terrain))


def _judge(project: Project, network: Network, measured: _Measured, tools: _Tools) -> _Judged:
    """Check every segment against every set-up."""
    envelopes = tuple(make_envelope(one.vehicle, one.choice) for one in project.setups)
    drivers = {envelope.setup: envelope.driver for envelope in envelopes}
    site = CheckSite(network, measured.terrain, measured.ground, project.terrain)
    checks = run_checks(site, envelopes, project.limits, tools.mapper)
    return _Judged(envelopes, drivers, checks, verdicts_table(checks, network, project.limits, drivers))


def _analyse(project: Project, network: Network, tools: _Tools) -> Facts:
    """Run the stages from terrain to calls and gather what the products show."""
    clock = tools.clock
    with clock.stage("terrain"):
        measured = _measure(project, network, tools)
    with clock.stage("checks"):
        judged = _judge(project, network, measured, tools)
    terrain, checks = measured.terrain, judged.checks
    with clock.stage("techniques"):
        techniques = technique_table(network, terrain, project.techniques)
    with clock.stage("loops"):
        tools.wait()
        inputs = LoopInputs(network, checks, judged.verdicts, techniques, judged.drivers, project.loop_settings)
        found = find_loops(inputs, project.requests, tools.mapper)
    with clock.stage("calls"):
        setups, settings = project.loop_setups, project.techniques
        calls = calls_table(CallInputs(found.loops, found.legs, network, terrain, techniques, checks, setups, settings))
    with clock.stage("relief"):
        relief = hillshade(project.terrain.elevation, tuple(network.segments.total_bounds), network.crs)
    return Facts(
        site=project.name,
        built_at=datetime.now(tz=UTC).isoformat(timespec="seconds"),
        conditions=_conditions(project),
        crs=network.crs,
        segments=measured.segments,
        nodes=network.nodes,
        obstacles=network.obstacles,
        repairs=network.repairs,
        stations=measured.stations,
        checks=checks,
        verdicts=judged.verdicts,
        techniques=techniques,
        loops=found.loops,
        legs=found.legs,
        calls=calls,
        envelopes=judged.envelopes,
        loop_setups=setups,
        loop_notes=tuple((note.loop, note.found, note.text) for note in found.notes),
        warnings=(*_survey_warnings(project, network), *_warnings(measured.segments, judged.envelopes)),
        hillshade=relief,
        trailhead_node=network.trailhead_node,
    )


def _conditions(project: Project) -> Conditions:
    """Give the conditions as the products show them."""
    day = project.conditions
    return Conditions(
        date=None if day.date is None else day.date.isoformat(), wetness=day.wetness.value, rain_mm=day.rain_mm
    )


def _warnings(segments: pd.DataFrame, envelopes: tuple[Envelope, ...]) -> Iterator[str]:
    """Yield what every product must say about this build."""
    for envelope in envelopes:
        yield from (f"{envelope.setup}: {warning}" for warning in envelope.warnings)
    bare = segments["height_coverage"] < 1.0
    if bare.any():
        length = float((segments["length_m"] * (1.0 - segments["height_coverage"])).sum())
        yield (
            f"{int(bare.sum())} segments have no height along {length:.0f} m: outside the elevation models, "
            "or a bridge or tunnel without surveyed heights"
        )


def _summary(facts: Facts, target: Path, clock: _Clock, changes: list[str]) -> Iterator[str]:
    """Yield the summary of a build for stdout."""
    segments = facts.segments
    yield f"{facts.site}: {len(segments)} segments, {segments['length_m'].sum() / 1000:.2f} km → {target}"
    for setup, verdicts in facts.verdicts.groupby("setup", sort=False)["verdict"]:
        counts = verdicts.value_counts()
        words = ", ".join(f"{counts[verdict]} {verdict}" for verdict in Verdict if verdict in counts)
        yield f"  {setup} (both directions): {words}"
    yield from (f"  {loop}: {text}" for loop, _found, text in facts.loop_notes)
    yield from (f"  {line}" for line in changes[:_MOST_CHANGES])
    if len(changes) > _MOST_CHANGES:
        yield f"  … {len(changes) - _MOST_CHANGES} more lines in {target / 'changes.md'}"
    yield from (f"  warning: {warning}" for warning in facts.warnings)
    spent = ", ".join(f"{name} {seconds:.2f}" for name, seconds in clock.timings.items())
    yield f"  {sum(clock.timings.values()):.1f} s ({spent})"
    yield f"  {CAUTION}"
