"""Aims of a course that loops ask for: those that the techniques file does not have."""

from collections.abc import Collection, Iterable
from pathlib import Path

from pipeline.errors import Fault
from pipeline.loops.request import LoopRequest
from pipeline.settings import did_you_mean

__all__ = ["aim_faults"]


def aim_faults(requests: Iterable[LoopRequest], aims: Collection[str], file: str | Path) -> list[Fault]:
    """List the aims of *requests* that are none of *aims*, with the nearest known one.

    The place of a fault is ``[[loops]] "name" aim``.
    """
    known = sorted(aims)
    return [
        Fault(
            file,
            f'[[loops]] "{request.name}" aim',
            f'"{request.aim}": the techniques file has no such aim',
            ", ".join(known),
            did_you_mean(request.aim, known),
        )
        for request in requests
        if request.aim not in aims
    ]
