"""Things laid into the profiles by the way past them that was chosen."""

from dataclasses import dataclass

import numpy as np

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import DOWN, IN_PROFILE, Things, across, as_bumps, by_tyre, on_body, on_runs
from pipeline.kernels.obstacle_bumps import Bumps
from pipeline.terms import ObstacleKind
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Ground", "bumps_on"]


@dataclass(frozen=True, slots=True)
class Ground:
    """The two grounds of one set-up."""

    wheel: Bumps
    """What the tyres roll over."""
    under: Bumps
    """What the body passes over."""


def bumps_on(things: Things, profiles: Profiles, envelope: Envelope, limits: Limits) -> Ground:
    """Place every thing of known height on all runs that contain it."""
    aside = limits.side_margin_m / 2.0
    here = things.of(*IN_PROFILE)
    here = here.where(~np.isnan(here.height_m) & on_body(here, envelope, aside))
    thing, run, at, sign = on_runs(here, profiles)
    bumps = as_bumps(here.where(thing), (run, at, sign), limits.step_fade_m)
    low, high = across(here)
    half = envelope.width_m / 2.0
    rut, down = here.kind == ObstacleKind.RUT.value, np.isin(here.kind, [kind.value for kind in DOWN])
    beside = rut | (down & ((low > -half) | (high < half)))
    left, right = by_tyre(here, envelope, np.where(down, aside, -aside))
    wheel = rut | left | right
    return Ground(wheel=bumps.take(wheel[thing]), under=bumps.take(~beside[thing]))
