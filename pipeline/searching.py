"""The search for loops as a stage: under the weather of the day or an outlook, and once more with another driver."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import pandas as pd

from pipeline.checks.grip.stopping import stopping_table
from pipeline.checks.judged import Judged, judge_again
from pipeline.loops.going import going_of
from pipeline.loops.request import FoundLoops, LoopInputs
from pipeline.loops.search import find_loops
from pipeline.project import Project
from pipeline.spread import Mapper, serial
from pipeline.terms import Driver
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["loop_inputs", "search", "setups_of", "with_driver"]


def setups_of(project: Project) -> tuple[Envelope, ...]:
    """Make the envelope of every set-up, in the order of the settings."""
    return tuple(make_envelope(one.vehicle, one.choice) for one in project.setups)


def loop_inputs(project: Project, judged: Judged, techniques: pd.DataFrame) -> LoopInputs:
    """Gather what loops are searched in, under the weather that *judged* holds for."""
    prepared, site = judged.prepared, judged.prepared.scene.site
    return LoopInputs(
        network=site.network,
        checks=judged.checks,
        verdicts=judged.verdicts,
        techniques=techniques,
        drivers=prepared.drivers,
        settings=project.loop_settings,
        practice=project.techniques.practice,
        going=going_of(site.network, site.terrain, site.ground),
        calls=project.techniques.calls,
        stopping=stopping_table(prepared),
        vehicle_m={one.setup: one.length_front_m + one.wheelbase_m + one.length_rear_m for one in prepared.envelopes},
    )


def search(
    project: Project, judged: Judged, techniques: pd.DataFrame, mapper: Mapper = serial, outlook: str | None = None
) -> FoundLoops:
    """Find the loops that are asked for under one weather.

    Parameters
    ----------
    project
        The settings.
    judged
        The site judged under that weather.
    techniques
        Contract TECHNIQUES.
    mapper
        Spreads the loops over workers.
    outlook
        Name of the weather; ``None`` for that of the day.
    """
    requests = [request for request in project.requests if request.outlook == outlook]
    inputs = loop_inputs(project, judged, techniques)
    return find_loops(inputs, requests, mapper, partial(with_driver, project, judged, techniques))


def with_driver(
    project: Project, judged: Judged, techniques: pd.DataFrame, changes: Sequence[tuple[str, Driver]]
) -> LoopInputs:
    """Judge set-ups once more with other drivers: each of *changes* is a set-up and its new driver."""
    drivers = dict(changes)
    setups = tuple(
        replace(one, choice=replace(one.choice, driver=drivers.get(one.choice.name, one.choice.driver)))
        for one in project.setups
    )
    envelopes = tuple(make_envelope(one.vehicle, one.choice) for one in setups)
    return loop_inputs(project, judge_again(judged, envelopes), techniques)
