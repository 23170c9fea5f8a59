"""Things laid into the ground that vehicles roll over, by the way past them that the set-up takes.

What is straddled lies under the body alone. What is trodden on lies under the wheels as well: a rise under one wheel
lifts the middle of the axle by half of its height; a hole, even under one wheel, lowers it by all of its depth, which
is the careful side. What is gone round is met by nothing: its room is judged by the check of the width. What is barred,
or not known well enough, is laid as trodden, or under the body where no wheel can be put on it, so that the overrun
shows. A thing that is gone round one way and trodden the other is laid as trodden: one profile serves both ways.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE, Things, as_bumps, on_body, on_runs, under_body
from pipeline.checks.passing.choice import choose
from pipeline.kernels.obstacle_bumps import Bumps
from pipeline.terms import ObstacleKind
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Ground", "bumps_on", "under_wheels"]

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Ground:
    """The two grounds of one set-up."""

    wheel: Bumps
    """What the tyres roll over."""
    under: Bumps
    """What the body passes over."""


def bumps_on(things: Things, profiles: Profiles, envelope: Envelope, limits: Limits) -> Ground:
    """Place every thing of known height on all runs that contain it, under the wheels, the body or both."""
    here = things.of(*IN_PROFILE)
    choice = choose(here.where(~np.isnan(here.height_m)), envelope, limits)
    here = choice.things
    thing, run, at, sign = on_runs(here, profiles)
    bumps = as_bumps(here.where(thing), (run, at, sign), limits.step_fade_m)
    lifted = bumps._replace(height=bumps.height * choice.lift[thing])
    under = under_body(here, envelope, limits.side_margin_m / 2.0) & ~choice.gone_round
    return Ground(wheel=lifted.take(choice.trodden[thing]), under=bumps.take(under[thing]))


def under_wheels(things: Things, envelope: Envelope, limits: Limits) -> tuple[Flags, Flags]:
    """Tell which things are laid under the left wheels and which under the right ones, by the digitised direction.

    Parameters
    ----------
    things
        Of the kinds in :data:`pipeline.checks.obstacles.IN_PROFILE` and of known height.
    envelope, limits
        As for :func:`bumps_on`.

    Returns
    -------
    tuple of ndarray
        Flags parallel to *things*; each wheel meets the whole height of what is laid under it. A rock or hole of
        unknown width is under one side only, which twists a vehicle most: that of its offset, the right without one.
    """
    choice = choose(things, envelope, limits)
    here, lines = choice.things, choice.lines
    single = np.isin(here.kind, (ObstacleKind.ROCK.value, ObstacleKind.HOLE.value)) & np.isnan(here.width_m)
    on_left = here.offset_m < 0.0
    in_way = np.flatnonzero(on_body(things, envelope, limits.side_margin_m / 2.0))
    left, right = np.zeros(things.row.size, dtype=np.bool_), np.zeros(things.row.size, dtype=np.bool_)
    left[in_way] = choice.trodden & lines.left & ~(single & ~on_left)
    right[in_way] = choice.trodden & lines.right & ~(single & on_left)
    return left, right
