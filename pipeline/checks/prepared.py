"""A site and its set-ups, rolled over once: what the checks and every other table of them are made from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pipeline.checks.check import Case
from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE, Things
from pipeline.checks.passing.choice import Choice, choose
from pipeline.checks.rolling.four_wheels import FourSweep, four_sweep_all
from pipeline.checks.rolling.swept import SegmentSweep, sweep_all
from pipeline.checks.scene import Scene, make_scene
from pipeline.checks.site import CheckSite
from pipeline.spread import Mapper, serial
from pipeline.terms import Driver
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Prepared", "prepare"]


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

    @property
    def drivers(self) -> dict[str, Driver]:
        """Driver of every set-up."""
        return {envelope.setup: envelope.driver for envelope in self.envelopes}

    def cases(self) -> list[Case]:
        """Give the case of every set-up, in order."""
        each = zip(self.envelopes, self.sweeps, self.fours, self.choices, strict=True)
        return [Case(self.scene, envelope, self.limits, swept, four, choice) for envelope, swept, four, choice in each]


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
    scene = make_scene(site)
    in_profile = _on_known_slopes(scene.things.of(*IN_PROFILE), scene, limits)
    choices = [choose(in_profile, envelope, limits) for envelope in envelopes]
    sweeps = sweep_all(site.terrain.profiles, choices, envelopes, limits, mapper)
    fours = four_sweep_all(scene, choices, envelopes, limits, mapper)
    return Prepared(scene, tuple(envelopes), limits, tuple(sweeps), tuple(fours), tuple(choices))


def _on_known_slopes(things: Things, scene: Scene, limits: Limits) -> Things:
    """Take away the grade round things where the elevation model's cells average slopes away: nobody knows it there."""
    hidden = scene.cell_m[things.row] > limits.max_cell_slope_m
    return replace(things, grade=np.where(hidden, np.nan, things.grade))
