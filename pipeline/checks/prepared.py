"""A site and its set-ups, rolled over once: what the checks and every other table of them are made from."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from pipeline.checks.check import Case
from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE, Things
from pipeline.checks.passing.choice import Choice, choose
from pipeline.checks.rolling.four_wheels import FourSweep, four_sweep_all
from pipeline.checks.rolling.swept import SegmentSweep, sweep_all
from pipeline.checks.room.find import find_rooms
from pipeline.checks.room.found import Room
from pipeline.checks.scene import Scene, make_scene
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Ground
from pipeline.spread import Mapper, serial
from pipeline.terms import Driver
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Prepared", "prepare", "prepare_again"]


@dataclass(frozen=True, slots=True)
class Prepared:
    """A site and its set-ups with all that is worked out once: what every table of the checks is made from."""

    scene: Scene
    envelopes: tuple[Envelope, ...]
    limits: Limits
    sweeps: tuple[SegmentSweep, ...]
    """What rolling each set-up over the profiles found, in side view."""
    fours: tuple[FourSweep, ...]
    """What rolling each on its four wheels found."""
    choices: tuple[Choice, ...]
    """The way of each past the things that lie in its way."""
    rooms: tuple[Room, ...]
    """The line of each that leaves the most room, and what is left beside it."""

    @property
    def drivers(self) -> dict[str, Driver]:
        """Driver of every set-up."""
        return {envelope.setup: envelope.driver for envelope in self.envelopes}

    def cases(self) -> list[Case]:
        """Give the case of every set-up, in order."""
        each = zip(self.envelopes, self.sweeps, self.fours, self.choices, self.rooms, strict=True)
        return [
            Case(self.scene, envelope, self.limits, swept, four, choice, room)
            for envelope, swept, four, choice, room in each
        ]


def prepare(site: CheckSite, envelopes: Sequence[Envelope], limits: Limits, mapper: Mapper = serial) -> Prepared:
    """Roll all set-ups over all profiles.

    Parameters
    ----------
    site
        Network, terrain and ground.
    envelopes
        The set-ups.
    limits
        Margins, shares, thresholds, what counts as known.
    mapper
        Spreads the blocks of work; the numbers are the same for every mapper.
    """
    return _rolled(make_scene(site), envelopes, limits, None, mapper)


def prepare_again(
    before: Prepared, envelopes: Sequence[Envelope], ground: Ground | None = None, mapper: Mapper = serial
) -> Prepared:
    """Prepare set-ups on a site that is known, rolling only what was not rolled before.

    Parameters
    ----------
    before
        The site and set-ups rolled over it.
    envelopes
        The set-ups now, in any order and number: the same, with other drivers, changed.
    ground
        Another state of the ground; ``None`` where it stays.
    mapper
        Spreads the blocks of work.

    Returns
    -------
    Prepared
        As :func:`prepare` gives for that ground, number for number. Where all that rolling asks for is the same, the
        sweeps are the very objects of *before*.
    """
    scene = before.scene if ground is None else before.scene.on_ground(ground)
    return _rolled(scene, envelopes, before.limits, before, mapper)


def _rolled(
    scene: Scene, envelopes: Sequence[Envelope], limits: Limits, before: Prepared | None, mapper: Mapper
) -> Prepared:
    """Choose the ways past things and roll what was not rolled *before*.

    Rolling and the search for room need nothing of each other, and their kernels work outside Python: one runs beside
    the other.
    """
    in_profile = _on_known_slopes(scene.things.of(*IN_PROFILE), scene, limits)
    choices = [choose(in_profile, envelope, limits) for envelope in envelopes]
    sweeps, fours = ((), ()) if before is None else (before.sweeps, before.fours)
    with ThreadPoolExecutor(1) as beside:
        searched = beside.submit(find_rooms, scene, choices, envelopes, limits, mapper, before=_rooms(before))
        swept = sweep_all(scene.site.terrain.profiles, choices, envelopes, limits, mapper, sweeps)
        stood = four_sweep_all(scene, choices, envelopes, limits, mapper, fours)
        rooms = searched.result()
    return Prepared(scene, tuple(envelopes), limits, tuple(swept), tuple(stood), tuple(choices), tuple(rooms))


def _rooms(before: Prepared | None) -> list[tuple[Choice, Envelope, Room]]:
    """Give the rooms that were found before, with the set-ups that they are of."""
    return [] if before is None else list(zip(before.choices, before.envelopes, before.rooms, strict=True))


def _on_known_slopes(things: Things, scene: Scene, limits: Limits) -> Things:
    """Take away the grade round things where the elevation model's cells average slopes away: nobody knows it there."""
    hidden = scene.cell_m[things.row] > limits.max_cell_slope_m
    return replace(things, grade=np.where(hidden, np.nan, things.grade))
