"""The stages of a build in order: what each reads, its parameters, what it hands on.

Inputs are read and checked before anything is locked or written, so that a build with faulty data leaves no trace.
Products are written into a folder of their own and appear all at once.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.analysis import Clock, Tools, analyse, setup_warnings, survey_warnings
from pipeline.errors import DataError, InputMissingError, SettingsError
from pipeline.loops.names import request_faults
from pipeline.products.facts import Facts
from pipeline.products.outlook_facts import outlook_summary
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
from pipeline.searching import setups_of
from pipeline.survey.findings import SITE_SETTINGS
from pipeline.survey.model import Network
from pipeline.survey.network import read_survey
from pipeline.terms import Verdict
from pipeline.terrain.dem import Extent, check_elevation
from pipeline.terrain.dem_cover import check_cover
from pipeline.warm import compiled_ahead

__all__ = ["BuildOptions", "BuildReport", "build", "check", "read_inputs"]

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
    network = read_inputs(project)
    segments = network.segments
    return (
        f"{project.name}: no faults found",
        f"{len(segments)} segments, {segments['length_m'].sum() / 1000:.2f} km, {len(network.nodes)} nodes",
        f"{len(network.obstacles)} obstacles and places",
        *_repair_lines(network),
        f"{len(project.setups)} set-ups, {len(project.requests)} loops asked for",
        *(f"warning: {warning}" for warning in survey_warnings(project, network)),
        *(f"warning: {warning}" for warning in setup_warnings(setups_of(project))),
    )


def _repair_lines(network: Network) -> Iterator[str]:
    """Yield what would be repaired, by kind."""
    counts = network.repairs["repair"].value_counts()
    kinds = ", ".join(f"{count} {kind}" for kind, count in counts.items())
    yield f"{len(network.repairs)} repairs would be made to the survey" + (f": {kinds}" if kinds else "")


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
    clock = Clock(progress)
    with clock.stage("inputs"):
        made_of = recipe(project.inputs, project.echo(), root=project.path.parent)
        reasons = stale_reasons(current_build(target), made_of)
    if not reasons and not options.rerun:
        return BuildReport(target, (f"{target}: nothing has changed since the last build; --rerun builds it again",))
    with compiled_ahead(made_of.versions) as wait:
        with clock.stage("survey"):
            network = read_inputs(project)
        with hold(target), workers(options.workers, options.cluster) as mapper:
            facts = analyse(project, network, Tools(mapper, clock, wait))
            with staging(target) as folder:
                with clock.stage("products"):
                    write_products(facts, folder)
                changes = compare(comparable(current_build(target)), folder)
                check_gates(changes, project.publish.hold_if, project.path.name)
                write_changes(changes, folder)
                write_manifest(folder, made_of, clock.timings)
                publish(folder, target, keep=project.publish.keep)
    return BuildReport(target, tuple(_summary(facts, target, clock, changes_lines(changes))))


def read_inputs(project: Project) -> Network:
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


def _summary(facts: Facts, target: Path, clock: Clock, changes: list[str]) -> Iterator[str]:
    """Yield the summary of a build for stdout."""
    segments = facts.segments
    yield f"{facts.site}: {len(segments)} segments, {segments['length_m'].sum() / 1000:.2f} km → {target}"
    for setup, verdicts in facts.verdicts.groupby("setup", sort=False)["verdict"]:
        counts = verdicts.value_counts()
        words = ", ".join(f"{counts[verdict]} {verdict}" for verdict in Verdict if verdict in counts)
        yield f"  {setup} (both directions): {words}"
    yield from (f"  {loop}: {text}" for loop, _found, text in facts.loop_notes)
    yield from (f"  {line}" for line in outlook_summary(facts))
    yield from (f"  {line}" for line in changes[:_MOST_CHANGES])
    if len(changes) > _MOST_CHANGES:
        yield f"  … {len(changes) - _MOST_CHANGES} more lines in {target / 'changes.md'}"
    yield from (f"  warning: {warning}" for warning in facts.warnings)
    spent = ", ".join(f"{name} {seconds:.2f}" for name, seconds in clock.timings.items())
    yield f"  {sum(clock.timings.values()):.1f} s ({spent})"
    yield f"  {CAUTION}"
