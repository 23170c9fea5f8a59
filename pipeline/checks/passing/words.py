"""The way past a thing in a sentence, with its figures, or why there is none."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import goes_down
from pipeline.checks.passing.choice import Choice, lowest_of
from pipeline.checks.passing.step_climb import pull_limit
from pipeline.checks.passing.trodden import SIDE_CHECKS
from pipeline.checks.sentence import DRIVERS, WORDS
from pipeline.terms import CheckName, Direction, ObstacleKind, Passing
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["CREEP_KMH", "ON_LINE_M", "at_an_angle", "reasons_of"]

CREEP_KMH = 0.5
"""Slower than this nobody drives by the meter: the vehicle creeps."""
ON_LINE_M = 0.05
"""A shift smaller than this is not told: nobody drives to the centimetre."""
NO_EDGE_M = 0.02
"""A slope that a wheel meets like a lower edge than this is no climb worth a figure."""
GIVEN_M = 0.01
"""Less than this is not told of the springs."""
_ANGLE = "at an angle, one wheel after the other"
_SIDES = {1: "right", -1: "left"}


class _Thing(NamedTuple):
    """One thing and one direction of travel, with all that a sentence needs."""

    choice: Choice
    k: int
    way: int
    """Column of the direction."""
    envelope: Envelope
    limits: Limits

    @property
    def down(self) -> bool:
        """Tell whether it goes down."""
        return bool(goes_down(self.choice.things.where(np.array([self.k])))[0])

    @property
    def size(self) -> str:
        """Give its height or depth."""
        return f"{abs(self.choice.things.height_m[self.k]):.2f} m {'deep' if self.down else 'high'}"

    def side(self, shift: float) -> str:
        """Give the side that a shift goes to, as the driver sees it."""
        turned = shift * (1 if self.way == 0 else -1)
        return _SIDES[1 if turned > 0.0 else -1]

    def keep(self, shift: float) -> str:
        """Give the end of the sentence that says where to drive."""
        return "" if abs(shift) < ON_LINE_M else f"; keep {abs(shift):.1f} m {self.side(shift)}"

    def may_use(self, check: CheckName, asked: float, limit: float) -> str:
        """Give the end of the sentence that says why less than the limit is too much."""
        driver = self.envelope.driver
        allowed = limit * float(self.limits.shares(driver, [check])[0])
        return f", of which {DRIVERS[driver]} may use {_off(allowed)}" if allowed < asked <= limit else ""


def at_an_angle(reason: str) -> bool:
    """Tell whether the reason of a row says that the wheels go over one after the other."""
    return _ANGLE in reason


def reasons_of(choice: Choice, envelope: Envelope, limits: Limits) -> list[str]:
    """Write the sentence of every thing and direction, in the order of the arrays.

    Limits are rounded down and what is asked up, so that an overrun never reads as the limit.
    """
    write = {
        Passing.STRADDLE: _straddle,
        Passing.TREAD: _tread,
        Passing.ROUND: _round,
        Passing.BARRED: _barred,
        Passing.UNSURVEYED: _unsurveyed,
    }
    codes = choice.passing.tolist()
    order = list(Passing)
    return [
        write[order[codes[k][way]]](_Thing(choice, k, way, envelope, limits))
        for k in range(len(codes))
        for way in range(len(Direction))
    ]


def _up(metres: float) -> str:
    """Write a length that is asked, rounded up to the centimetre."""
    return f"{np.ceil(metres * 100.0 - 1e-6) / 100.0:.2f} m"


def _off(metres: float) -> str:
    """Write a length that there is, rounded down to the centimetre."""
    return f"{np.floor(metres * 100.0 + 1e-6) / 100.0:.2f} m"


def _straddle(one: _Thing) -> str:
    """Say how it goes between the wheels."""
    lines, things = one.choice.lines, one.choice.things
    keep = one.keep(float(lines.straddle_m[one.k]))
    if one.down:
        between = lines.between_m[one.k] + things.width_m[one.k] + one.limits.side_margin_m
        return f"straddle: {_up(things.width_m[one.k])} wide, {_off(between)} between the tyres{keep}"
    part, clear = lowest_of(one.envelope)
    left = clear - abs(things.height_m[one.k])
    return f"straddle: {one.size}, {_off(clear)} under {part} leaves {_off(left)}{keep}"


def _tread(one: _Thing) -> str:
    """Say which wheels go over it, how high an edge they climb, and how fast, where that is slower than the driver."""
    choice, k = one.choice, one.k
    how = _wheels(one)
    if choice.climb.angled[k, one.way]:
        how += f", {_ANGLE}"
    return f"tread: {how}; {one.size}, {_climbs(one)}{_springs(one)}{one.keep(float(choice.lines.tread_m[k]))}"


def _springs(one: _Thing) -> str:
    """Say how far the springs give at the driver's speed, or the speed where that is slower."""
    speed = one.choice.speed_m_s[one.k, one.way] / KMH
    drives = one.limits.motion[one.envelope.driver].obstacle_kmh
    if speed < drives:
        return f"; {_pace(speed)}"
    given = one.choice.springs_m[one.k, one.way]
    return f"; at {drives:g} km/h the springs give up to {_up(given)}" if given >= GIVEN_M else ""


def _wheels(one: _Thing) -> str:
    """Name the wheels that meet it."""
    lines = one.choice.lines
    into = "through it" if one.down else "on it"
    if lines.left[one.k] and lines.right[one.k]:
        return f"both wheels {into}"
    return f"{one.side(1.0 if lines.right[one.k] else -1.0)} wheels {into}"


def _climbs(one: _Thing) -> str:
    """Say what edge the wheels meet, and what they climb."""
    climb = one.choice.climb
    edge, limit = climb.edge_m[one.k, one.way], climb.limit_m[one.k, one.way]
    if edge <= 0.0:
        return "the wheels drop off it"
    if edge < NO_EDGE_M:
        return "no edge to climb"
    square = f" ({_off(climb.square_m[one.k, one.way])} square on)" if climb.angled[one.k, one.way] else ""
    return f"as steep as an edge of {_up(edge)} of the {_off(limit)} that they climb{square}"


def _pace(kmh: float) -> str:
    """Say how fast it may be driven."""
    if kmh < CREEP_KMH:
        return "no faster than it will creep, the springs have nothing to give"
    return f"no faster than {np.floor(kmh * 10.0) / 10.0:.1f} km/h for the springs"


def _round(one: _Thing) -> str:
    """Say which way round it, and with how much to spare."""
    lines = one.choice.lines
    shift = float(lines.beside_m[one.k])
    spare = f"{_off(lines.free_m[one.k])} to spare beyond mirrors and margin"
    return f"go round: on its {one.side(shift)}, {spare}; keep {abs(shift):.1f} m {one.side(shift)}"


def _barred(one: _Thing) -> str:
    """Say why it is passed in no way."""
    whys = (_why_not_straddled(one), _why_not_trodden(one), _why_not_round(one))
    return f"barred: {one.size}; " + "; ".join(why for why in whys if why)


def _why_not_straddled(one: _Thing) -> str:
    """Say what speaks against straddling; nothing for what nobody straddles."""
    choice, k = one.choice, one.k
    lines, kind = choice.lines, choice.things.kind[k]
    track = max(one.envelope.track_front_m, one.envelope.track_rear_m)
    if kind in (ObstacleKind.STEP, ObstacleKind.RUT) or not choice.things.width_m[k] < track:
        return ""
    if lines.between_m[k] < 0.0:
        return f"too wide between the tyres by {_up(-lines.between_m[k])}"
    if not choice.low[k]:
        part, clear = lowest_of(one.envelope)
        return f"{_off(clear)} under {part} with {one.limits.required_gap_m:.2f} m of air is too little to straddle it"
    shift = float(lines.straddle_m[k])
    return f"to straddle it takes {_up(abs(shift))} to the {one.side(shift)}, more than the trail gives"


def _why_not_trodden(one: _Thing) -> str:
    """Say what speaks against putting a wheel on it."""
    choice, k = one.choice, one.k
    climb = choice.climb
    if not choice.lines.tread[k]:
        return "no wheel reaches it"
    if not climb.passes[k, one.way]:
        edge, limit = float(climb.edge_m[k, one.way]), float(climb.limit_m[k, one.way])
        slope = np.degrees(np.arctan(choice.things.grade[k])) * (1 if one.way == 0 else -1)
        uphill = f", {slope:.0f}° uphill," if slope >= 1.0 else ""
        grip, torque = choice.things.grip[k], pull_limit(one.envelope)
        at_grip = f"at a grip of {grip:.2f}{uphill}" if grip <= torque else f"in its lowest gear{uphill}"
        climbs = (
            f"climbs {_off(limit)}{one.may_use(CheckName.CLIMB, edge, limit)}"
            if limit >= NO_EDGE_M
            else "climbs nothing"
        )
        return f"a wheel meets it like an edge of {_up(edge)}, and {at_grip} {climbs}"
    if not climb.twist[k, one.way]:
        sinks, travel = float(climb.sinks_m[k]), one.envelope.wheel_travel_m
        twists = f"it twists the axles by {_up(sinks)} of {_off(travel)} of wheel travel"
        return twists + one.may_use(CheckName.ARTICULATION, sinks, travel)
    check = SIDE_CHECKS[int(choice.over.check[k, one.way])]
    word = WORDS.get(check, check.value)
    share = math.ceil(choice.over.used[k, one.way] * 100.0 - 1e-6)
    return f"with wheels on it {word} takes {share} % of what {DRIVERS[one.envelope.driver]} may use"


def _why_not_round(one: _Thing) -> str:
    """Say what speaks against passing beside it."""
    free = one.choice.lines.free_m[one.k]
    if not np.isnan(free):
        return f"{_up(-free)} short of room beside it"
    whole = np.isnan(one.choice.things.width_m[one.k])
    return "it lies right across" if whole else "room beside it is not known"


def _unsurveyed(one: _Thing) -> str:
    """Say what was not measured."""
    return "unsurveyed: " + " and ".join(_missing(one)) + " not known"


def _missing(one: _Thing) -> Iterator[str]:
    """Yield what would have to be known."""
    things = one.choice.things
    if np.isnan(things.height_m[one.k]):
        yield f"its {'depth' if one.down else 'height'} is"
        return
    if np.isnan(things.width_m[one.k]):
        yield "its width is"
    if np.isnan(things.grip[one.k]):
        yield "the grip there is"
    if np.isnan(things.grade[one.k]):
        yield "the slope there is"
