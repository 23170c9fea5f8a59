"""From the lines found to the room of a set-up: one entry a segment and direction, and the tight places."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.room.found import Room
from pipeline.checks.room.ground import ALIKE, Ground, Searched, width_of
from pipeline.checks.room.overhead import branches_of
from pipeline.checks.room.places import places_of
from pipeline.checks.room.split import piece_by_piece
from pipeline.kernels.plan_records import EDGE, LEFT, NOTHING, RIGHT, Boxes
from pipeline.terms import Basis
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["gather"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Kind = TypeVar("Kind", bound=np.generic)


def gather(ground: Ground, found: Searched, envelope: Envelope, boxes: Boxes, limits: Limits) -> Room:
    """Put the room of one set-up together.

    Parameters
    ----------
    ground
        The site as the set-up finds it.
    found
        The lines.
    envelope, boxes
        The set-up.
    limits
        Margins.
    """
    line, every = found.line, (np.arange(ground.own.size), ground.tracks.offsets)
    worst = ground.lowest(line.gap.min(axis=1), *every)
    side = np.where(line.gap[worst, RIGHT] < line.gap[worst, LEFT] - ALIKE, RIGHT, LEFT)
    bounded = (worst >= 0) & np.isfinite(line.gap[worst, side])
    at = ground.abreast(line, worst, side)
    part, thing = line.part[worst, side], ground.thing(line.solid[worst, side], at)
    bend = np.abs(np.tan(line.steer)) / boxes.wheelbase
    sharpest = ground.lowest(-bend, *every)
    beyond = _beyond(found, ground.count) * np.tan(boxes.lock) / boxes.wheelbase
    return Room(
        gap_m=_two(np.where(bounded, line.gap[worst, side], np.nan)),
        width_m=_two(np.where(bounded, width_of(line, at, part), np.nan)),
        at_m=_two(np.where(bounded, ground.chainage(at), np.nan)),
        part=_two(np.where(bounded, part, -1)),
        thing=_two(np.where(bounded, thing, NOTHING)),
        side=_two(side),
        basis=_two(_basis(bounded, thing)),
        needed=_two(np.where(sharpest >= 0, np.maximum(bend[sharpest], beyond), np.nan)),
        needed_at_m=_two(np.where(sharpest >= 0, ground.chainage(sharpest), np.nan)),
        turns=_two(beyond == 0.0),
        places=places_of(ground, piece_by_piece(ground, found, limits.comfort_gap_m), boxes, limits),
        **branches_of(ground, found, envelope, limits),
    )


def _two(column: NDArray[Kind]) -> NDArray[Kind]:
    """Put with and against beside each other."""
    return column.reshape(-1, 2)


def _basis(bounded: Flags, thing: Int64) -> NDArray[np.uint8]:
    """Say what the gap rests on."""
    known = [np.uint8(Basis.ASSUMED), np.uint8(Basis.TAG)]
    return np.select([~bounded, thing == EDGE], known, default=np.uint8(Basis.SURVEYED))


def _beyond(found: Searched, tracks: int) -> Float64:
    """Give the multiple of the lock that each track needs, (tracks,); 0 where the lock is enough."""
    share = np.zeros(tracks)
    np.maximum.at(share, found.windows.track, np.where(found.share > 1.0, found.share, 0.0))
    return share
