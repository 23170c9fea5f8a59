"""The way past every thing in the way of a set-up, worked out from its figures.

In this order: straddle what fits between the tyres and under everything that passes over it; put a wheel on it (or
through it) where the wheel climbs it, the body gets over it and no wheel lifts, at the driver's speed on to obstacles;
pass beside it where there is room; put a wheel on it more slowly than that, where the springs would bring the body down
at that speed; else it is barred. Every limit is the share of it that the driver may use.

The manuals' "do not straddle rocks" is said of vehicles bogged down in soft sand (FM 55-30, appendix F): where the
wheels sink, what fitted under the axle no longer does.

The underbody is known in side view alone: its line counts over the whole width, so that a wheel on a thing helps the
axles over it and not the body. A thing without a width lies right across. Holes and ruts lower an axle by all of their
depth, which is the careful side; a rise under one wheel lifts the middle of the axle by half of it. What both wheels of
an axle would meet at once may be taken one wheel after the other, at an angle, where its height is no more than the
wheel travel allows.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import Things, goes_down, on_body, under_body
from pipeline.checks.passing.deflection import deflection, fastest
from pipeline.checks.passing.lines import Lines, lines_past
from pipeline.checks.passing.step_climb import Footing, climbable, edge_of_mound, edge_of_pit
from pipeline.checks.passing.trodden import OverIt, nothing_over, over_trodden
from pipeline.terms import CheckName, ObstacleKind, Passing
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Choice", "Climb", "choose", "codes_of", "lowest_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

_ORDER = list(Passing)
_NARROW = (ObstacleKind.ROCK, ObstacleKind.HOLE)
"""Kinds that need not reach right across: without a width nobody can tell."""


@dataclass(frozen=True, slots=True)
class Climb:
    """A wheel on its way on to, or out of, each thing; arrays of shape (things, 2), column 0 with the digitised way."""

    sinks_m: Float64
    """How far a wheel rises on to it, or sinks into it, shape (things,)."""
    slope: Float64
    """Steepest slope of its path, the steeper way, shape (things,)."""
    edge_m: Float64
    """Height of the edge that it meets as steeply; 0 where it only drops."""
    limit_m: Float64
    """Highest edge that the set-up climbs there; NaN where the ground is not known."""
    square_m: Float64
    """The same with both wheels of an axle at once."""
    angled: Flags
    """Both wheels would meet it, and one after the other they climb it."""
    twist: Flags
    """It twists the axles by no more than the driver may use."""
    passes: Flags
    """The edge is within what the driver may use of that."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The way past things of known kinds; arrays of shape (things, 2) unless said otherwise."""

    passing: Int64
    """Position in ``terms.Passing``."""
    things: Things
    """Those that lie in the way."""
    lines: Lines
    low: Flags
    """It fits under the body and the axles with the required gap, (things,)."""
    climb: Climb
    over: OverIt
    speed_m_s: Float64
    """Fastest speed at which the springs leave the gap on a trodden thing; inf for any."""
    springs_m: Float64
    """Most that the springs give on it at the speed of the driver on to obstacles."""
    lift: Float64
    """Share of its height by which a trodden thing lifts or lowers the middle of an axle, (things,)."""

    @property
    def shift_m(self) -> Float64:
        """Line to drive, m right of the middle in the digitised direction; NaN where there is none."""
        lines = (self.lines.straddle_m, self.lines.tread_m, self.lines.beside_m)
        return np.select([self.passing == k for k in range(3)], [line[:, None] for line in lines], default=np.nan)

    @property
    def trodden(self) -> Flags:
        """What is laid under the wheels, (things,): trodden or barred one way or both, where a wheel can be put on it.

        What is gone round one way and trodden the other counts as trodden, for one profile serves both.
        """
        wheels = np.isin(self.passing, codes_of(Passing.TREAD, Passing.BARRED, Passing.UNSURVEYED)).any(axis=1)
        return np.asarray(wheels & self.lines.tread)

    @property
    def gone_round(self) -> Flags:
        """What is met by nothing, (things,): its room is judged by the width check."""
        return np.asarray((self.passing == codes_of(Passing.ROUND)[0]).all(axis=1))


def codes_of(*passings: Passing) -> list[int]:
    """Give the positions of *passings* in their vocabulary."""
    return [_ORDER.index(passing) for passing in passings]


def lowest_of(envelope: Envelope) -> tuple[str, float]:
    """Name the lowest thing that passes over a straddled one, from bumper to bumper, and its height, m."""
    heights = {
        "the front axle": envelope.front_axle_clearance_m,
        "the rear axle": envelope.rear_axle_clearance_m,
        "the body": float(envelope.underbody[:, 1].min()),
    }
    name = min(heights, key=lambda part: heights[part])
    return name, heights[name]


def choose(things: Things, envelope: Envelope, limits: Limits) -> Choice:
    """Choose the way past every thing in the way of a set-up, in both directions; each by itself, in any order.

    Parameters
    ----------
    things
        Of the kinds in :data:`pipeline.checks.obstacles.IN_PROFILE`.
    envelope
        The set-up.
    limits
        Margins, required gap, frequency of the body, shares and speeds of the driver.

    Returns
    -------
    Choice
        For the things that lie in the way only (``Choice.things``): within the width of the body and half of the side
        margin.
    """
    here = things.where(on_body(things, envelope, limits.side_margin_m / 2.0))
    lines = lines_past(here, envelope, limits)
    one_sided = ~goes_down(here) & ~(lines.left & lines.right) & (here.kind != ObstacleKind.STEP.value)
    lift = np.where(one_sided, 0.5, 1.0)
    climb = _climb(here, lines, envelope, limits)
    low = _fits_under(here, envelope, limits)
    asked = lines.tread & ~(lines.straddle & low) & (climb.passes & climb.twist).any(axis=1)
    over = _over(here, lift, asked, envelope, limits)
    rise, slope = climb.sinks_m[:, None] * lift[:, None], climb.slope[:, None]
    speed = fastest(rise, slope, over.give_m, limits.bounce_hz)
    drives = limits.motion[envelope.driver].obstacle_kmh * KMH
    springs = deflection(rise, slope, drives, limits.bounce_hz)
    quick = speed >= drives
    return Choice(
        passing=_ranked(here, lines, low, climb, (over.used <= 1.0, quick)),
        things=here,
        lines=lines,
        low=low,
        climb=climb,
        over=over,
        speed_m_s=speed,
        springs_m=np.broadcast_to(springs, speed.shape),
        lift=lift,
    )


def _fits_under(things: Things, envelope: Envelope, limits: Limits) -> Flags:
    """Tell what fits under the body and the axles with the required gap; a step is no thing to be straddled."""
    share = limits.shares(envelope.driver, [CheckName.BELLY])[0]
    room = share * (lowest_of(envelope)[1] - limits.required_gap_m)
    fits = goes_down(things) | (np.abs(things.height_m) <= room)
    return np.asarray(fits & (things.kind != ObstacleKind.STEP.value))


def _climb(things: Things, lines: Lines, envelope: Envelope, limits: Limits) -> Climb:
    """Work out what each thing asks of the wheels that meet it, and what they do."""
    sinks, edge = _edges(things, envelope.tyre_radius_m, limits.step_fade_m)
    both, rut = (lines.left & lines.right)[:, None], (things.kind == ObstacleKind.RUT.value)[:, None]
    grade = np.column_stack([things.grade, -things.grade])
    ground = Footing(things.grip[:, None], things.rolling[:, None], grade)
    step = (things.kind == ObstacleKind.STEP.value)[:, None]
    one, two = climbable(envelope, ground, np.array([1, 2])[:, None, None], step=step)
    climb_share, twist_share = limits.shares(envelope.driver, [CheckName.CLIMB, CheckName.ARTICULATION])
    level = (sinks <= twist_share * envelope.wheel_travel_m)[:, None]
    by_one, by_two = edge <= climb_share * one, edge <= climb_share * two
    unknown = np.isnan(ground.mu) | np.isnan(ground.grade)
    by_turns = both & ~rut & ~by_two & level
    limit = np.where(both & ~by_turns, two, one)
    return Climb(
        sinks_m=sinks,
        slope=_slope(edge.max(axis=1, initial=0.0), envelope.tyre_radius_m),
        edge_m=edge,
        limit_m=np.where(unknown, np.nan, limit),
        square_m=two,
        angled=by_turns & by_one,
        twist=np.broadcast_to(level | both, edge.shape),
        passes=np.where(both & ~by_turns, by_two, by_one) & ~unknown,
    )


def _edges(things: Things, radius: float, fade: float) -> tuple[Float64, Float64]:
    """How far a wheel rises or sinks at each thing, and the edge it meets as steeply, both ways, m."""
    size = np.abs(things.height_m)
    length = np.where(np.isnan(things.length_m), 2.0 * size, things.length_m)
    kind = [things.kind == kind.value for kind in (ObstacleKind.STEP, ObstacleKind.RUT)]
    with np.errstate(invalid="ignore", divide="ignore"):
        mound = edge_of_mound(size, length, radius)
        sinks, lip = edge_of_pit(size, length, radius)
    trough = radius * (1.0 - 1.0 / np.hypot(1.0, size / fade))
    down = goes_down(things)
    alike = np.select([kind[1], down], [trough, lip], default=mound)
    step = np.maximum(np.column_stack([things.height_m, -things.height_m]), 0.0)
    edge = np.where(kind[0][:, None], step, alike[:, None])
    return np.where(down & ~kind[1], sinks, size), edge


def _slope(edge: Float64, radius: float) -> Float64:
    """Steepest slope of the path of a tyre that meets an edge, rise over run; inf from an edge of its radius on."""
    cosine = np.clip(1.0 - edge / radius, 0.0, 1.0)
    rise = np.sqrt(1.0 - cosine**2)
    return np.asarray(np.divide(rise, cosine, out=np.full(rise.shape, np.inf), where=cosine > 0.0))


def _over(things: Things, lift: Float64, asked: Flags, envelope: Envelope, limits: Limits) -> OverIt:
    """Roll the set-up over the things of known height that are *asked* for; nothing passes over the others."""
    known = asked & ~np.isnan(things.height_m)
    measured = things.where(known)
    under = under_body(measured, envelope, limits.side_margin_m / 2.0)
    over = over_trodden(measured, lift[known], under, envelope, limits)
    whole = nothing_over(known.size)
    for column in fields(OverIt):
        getattr(whole, column.name)[known] = getattr(over, column.name)
    return whole


def _ranked(things: Things, lines: Lines, low: Flags, climb: Climb, over: tuple[Flags, Flags]) -> Int64:
    """Take the first way that can be had; *over*: the body gets over it, and at the driver's speed."""
    passes, quick = over
    can_tread = lines.tread[:, None] & climb.passes & climb.twist & passes
    unknown = np.isnan(things.height_m)
    open_width = np.isnan(things.width_m) & np.isin(things.kind, [kind.value for kind in _NARROW])
    straddle, tread, beside, barred, unsurveyed = range(len(_ORDER))
    return np.select(
        [
            _wide(unknown),
            _wide(lines.straddle & low),
            can_tread & quick,
            _wide(lines.beside),
            can_tread,
            _wide(open_width) | np.isnan(climb.limit_m),
        ],
        [unsurveyed, straddle, tread, beside, tread, unsurveyed],
        default=barred,
    ).astype(np.int64)


def _wide(flags: Flags) -> Flags:
    """Say the same of both directions."""
    return np.broadcast_to(flags[:, None], (flags.size, 2))
