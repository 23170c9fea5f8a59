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
from pipeline.checks.obstacles import as_bumps, on_runs, under_body
from pipeline.checks.passing.choice import Choice
from pipeline.kernels.obstacle_bumps import Bumps
from pipeline.terms import ObstacleKind
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Ground", "bumps_on", "tyre_bumps"]

Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Ground:
    """The two grounds of one set-up."""

    wheel: Bumps
    """What the tyres roll over."""
    under: Bumps
    """What the body passes over."""


def bumps_on(choice: Choice, profiles: Profiles, envelope: Envelope, limits: Limits) -> Ground:
    """Place every thing of known height on all runs that contain it, under the wheels, the body or both.

    Parameters
    ----------
    choice
        The way of the set-up past the things that lie in its way.
    profiles
        The runs.
    envelope, limits
        Those of the choice.
    """
    thing, bumps, _ = _on_runs(choice, profiles, limits)
    lifted = bumps._replace(height=bumps.height * choice.lift[thing])
    under = under_body(choice.things, envelope, limits.side_margin_m / 2.0) & ~choice.gone_round
    return Ground(wheel=lifted.take(choice.trodden[thing]), under=bumps.take(under[thing]))


def tyre_bumps(choice: Choice, profiles: Profiles, limits: Limits) -> tuple[Bumps, Bumps]:
    """Place every thing of known height on all runs that contain it, under the left and under the right tyres.

    Sides are those of the run. Each wheel meets the whole height of what is laid under it. A rock or hole of unknown
    width is under one side only, which twists a vehicle most: that of its offset, the right without one.

    Parameters
    ----------
    choice, profiles, limits
        As for :func:`bumps_on`.
    """
    thing, bumps, ahead = _on_runs(choice, profiles, limits)
    left, right = (side[thing] for side in _sides(choice))
    return bumps.take(np.where(ahead, left, right)), bumps.take(np.where(ahead, right, left))


def _on_runs(choice: Choice, profiles: Profiles, limits: Limits) -> tuple[Int64, Bumps, Flags]:
    """Place the things of known height: which each is, its shape, and whether its run goes with its segment."""
    known = np.flatnonzero(~np.isnan(choice.things.height_m))
    here = choice.things.where(known)
    thing, run, at, sign = on_runs(here, profiles)
    return known[thing], as_bumps(here.where(thing), (run, at, sign), limits.step_fade_m), sign > 0


def _sides(choice: Choice) -> tuple[Flags, Flags]:
    """Tell which things are under the left wheels and which under the right ones, by the digitised direction."""
    here, lines = choice.things, choice.lines
    single = np.isin(here.kind, (ObstacleKind.ROCK.value, ObstacleKind.HOLE.value)) & np.isnan(here.width_m)
    on_left = here.offset_m < 0.0
    laid = choice.trodden
    return laid & lines.left & ~(single & ~on_left), laid & lines.right & ~(single & on_left)
