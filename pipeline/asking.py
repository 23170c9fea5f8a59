"""Asks the search for loops about a segment: the stages up to the checks are run again, nothing is written."""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any

from pipeline.analysis import drain, ground_under, judge
from pipeline.build import read_inputs
from pipeline.checks.judged import Judged, judge_again
from pipeline.errors import Fault, SettingsError
from pipeline.loops.ask.why import Why, why
from pipeline.loops.names import known_names, resolve
from pipeline.loops.request import LoopRequest
from pipeline.project import Project
from pipeline.searching import loop_inputs
from pipeline.settings import did_you_mean
from pipeline.survey.model import Network
from pipeline.technique.inventory import technique_table
from pipeline.terms import CAUTION
from pipeline.terrain.measure import measure_terrain

__all__ = ["ask_why", "why_json", "why_lines"]

Progress = Callable[[str], None]


def ask_why(project: Project, name: str, loop: str | None, progress: Progress) -> tuple[Why, ...]:
    """Tell of every loop, or of one, how it stands to a segment.

    Parameters
    ----------
    project
        The settings, already found good.
    name
        A segment id, or the name of a trail or of a surveyed thing, which stands for all its segments.
    loop
        Name of the only loop to tell of; ``None`` for all of them.
    progress
        Called with the name of each step.

    Raises
    ------
    SettingsError
        When nothing has the name, or no loop has that of *loop*.
    DataError, InputMissingError
        Faults of the inputs.
    """
    requests = _requests(project, loop)
    progress("survey")
    network = read_inputs(project)
    segments = _segments(project, network, name)
    progress("terrain")
    measured = drain(project, network, measure_terrain(network, project.terrain))
    progress("checks")
    judged = judge(project, network, measured)
    techniques = technique_table(network, measured.terrain, project.techniques)
    told = []
    for outlook in dict.fromkeys(request.outlook for request in requests):
        progress("loops" if outlook is None else f"loops under {outlook}")
        inputs = loop_inputs(project, _under(project, judged, outlook), techniques)
        mine = [request for request in requests if request.outlook == outlook]
        told += [why(inputs, request, segment) for request in mine for segment in segments]
    order = [request.name for request in requests]
    return tuple(sorted(told, key=lambda one: (order.index(one.loop), segments.index(one.segment_id))))


def why_lines(told: Sequence[Why]) -> list[str]:
    """Give the answers in words: a line each, below it what stops the group in which direction, and the caution."""
    lines = []
    for one in told:
        end = "" if one.text.endswith(".") else "."
        lines.append(f"{one.loop}, {one.segment_id}: {one.standing}: {one.text}{end}")
        lines += [f"  {directions}: {why}" for why, directions in _stops(one).items()]
    return [*lines, CAUTION]


def _stops(one: Why) -> dict[str, str]:
    """Give what stops the group, each with the direction, or both."""
    stops: dict[str, list[str]] = {}
    for way in one.ways:
        for stop in way.refusals:
            stops.setdefault(stop, []).append(way.direction)
    return {stop: " and ".join(directions) for stop, directions in stops.items()}


def why_json(told: Sequence[Why]) -> dict[str, Any]:
    """Give the answers as plain values."""
    return {"answers": [asdict(one) for one in told], "caution": CAUTION}


def _requests(project: Project, loop: str | None) -> list[LoopRequest]:
    """Take the loops to tell of."""
    names = [request.name for request in project.requests]
    if not names:
        raise SettingsError(Fault(project.path, "loops", "no loop is asked for", "at least one [[loops]]"))
    if loop is not None and loop not in names:
        mend = did_you_mean(loop, names)
        raise SettingsError(Fault(project.path, "loops", f'no loop is named "{loop}"', ", ".join(names), mend))
    return [request for request in project.requests if loop in (None, request.name)]


def _segments(project: Project, network: Network, name: str) -> tuple[str, ...]:
    """Find the segments that a name stands for."""
    found = resolve(name, network)
    if not found.segments:
        known = [one for one in sorted(set(known_names(network))) if resolve(one, network).segments]
        what = f'"{name}" is a place' if found.nodes else f'no segment, trail or thing at a trail is named "{name}"'
        allowed = "a segment id or the name of a trail"
        raise SettingsError(Fault(project.path, "", what, allowed, did_you_mean(name, known)))
    return found.segments


def _under(project: Project, judged: Judged, outlook: str | None) -> Judged:
    """Judge the site under the weather of an outlook; that of the day is judged already."""
    if outlook is None:
        return judged
    weather = next(one.weather for one in project.outlooks if one.name == outlook)
    site = judged.prepared.scene.site
    return judge_again(judged, judged.prepared.envelopes, ground_under(weather, project, site.network, site.terrain))
