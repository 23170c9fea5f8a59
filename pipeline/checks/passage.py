"""Turn, width and height: whether the vehicle fits through, on the line that leaves it the most room."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.obstacles import Things
from pipeline.checks.room.found import Room
from pipeline.checks.room.names import DARK, Names, body_words, down_to
from pipeline.terms import Basis, CheckName, ObstacleKind

__all__ = ["Height", "Turn", "Width", "kerb_curvature"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]

_NO_LINE = "the line has no stations"
_STRAIGHT = 1e-6
"""A curvature up to this, 1/m, bends nowhere in particular: it is what the digits of coordinates make of a straight."""


def kerb_curvature(rear: Float64, wheelbase_m: float, track_front_m: float) -> Float64:
    """Curvature of the way of the outer front tyre, 1/m, from that of the rear axle's middle.

    With ρ = 1 ÷ κ the outer front tyre runs on √((ρ + t ÷ 2)² + L²): the inverse of the least radius that a kerb to
    kerb circle gives. Kinematic single-track relation; 0 on a straight.

    Parameters
    ----------
    rear
        Curvature of the way of the rear axle's middle, unsigned, 1/m.
    wheelbase_m, track_front_m
        Of the set-up.
    """
    bent = rear > 0.0
    radius = np.divide(1.0, rear, out=np.full(rear.shape, np.inf), where=bent)
    return np.where(np.isnan(rear), np.nan, 1.0 / np.hypot(radius + track_front_m / 2.0, wheelbase_m))


def _texts(flags: Flags, text: Callable[[int, int], str]) -> Texts:
    """Write the text of each segment and direction that a flag marks."""
    told = np.full(flags.shape, "", dtype=object)
    for row, way in np.argwhere(flags):
        told[row, way] = text(int(row), int(way))
    return told


def _together(*columns: Texts) -> Texts:
    """Join texts of each segment and direction that are not empty."""
    joined = columns[0]
    for column in columns[1:]:
        joined = np.where((joined != "") & (column != ""), joined + "; " + column, joined + column)
    return joined


@dataclass(frozen=True, slots=True)
class Turn:
    """Curvature that the outer front tyre's way needs on the line with the most room, 1/m, against the turning circle.

    Where not even full lock holds a bend within the edges of the trail, the demand is that of the best way inside them.
    """

    name: CheckName = CheckName.TURN

    def evaluate(self, case: Case) -> Outcome:
        """Hold the tightest part of the line against the turning circle."""
        room, envelope = case.room, case.envelope
        limit = 1.0 / envelope.turning_radius_m
        needed = kerb_curvature(room.needed, envelope.wheelbase_m, envelope.track_front_m)
        # What full lock holds asks for no more, however a line that is made of pieces bends from one to the next.
        demand = np.where(room.turns, np.minimum(needed, limit), needed)
        wide = "not even full lock holds it within the edges of the trail"
        return Outcome.of(
            demand,
            np.full(demand.shape, limit),
            "1/m",
            at_m=np.where(demand > _STRAIGHT, room.needed_at_m, np.nan),
            basis=_line_basis(case),
            unknown=np.where(np.isnan(demand), _NO_LINE, ""),
            more=np.where(room.turns | np.isnan(demand), "", wide),
        )


def _line_basis(case: Case) -> UInt8:
    """Say what the way rests on: a walked survey, or the map it came with; in a tight place also the room beside it."""
    tags, places = case.scene.tags, case.room.places
    walked = np.where(tags.surveyed, np.uint8(Basis.SURVEYED), np.uint8(Basis.TAG))
    beside = np.where(np.isnan(tags.width_m), np.uint8(Basis.ASSUMED), np.uint8(Basis.TAG))
    at_m = case.room.needed_at_m[places.row, places.direction]
    inside = (at_m >= places.from_m) & (at_m <= places.to_m)
    led = np.zeros(case.room.needed.shape, dtype=np.bool_)
    led[places.row[inside], places.direction[inside]] = True
    return np.where(led, np.minimum(walked, beside)[:, None], walked[:, None])


@dataclass(frozen=True, slots=True)
class Width:
    """Width that the part nearest to something sweeps there, side margin included, m, against the width it has.

    The smallest gap on the line with the most room counts twice, as if that part stood in the middle of what there is:
    between two walls it is the clear width, on a straight trail the tagged one. A surveyed gap asks besides for the
    width over the mirrors: a thin one could be passed at an angle, one mirror after the other, which no driver is told
    to do. Rule of this project, no source.
    """

    name: CheckName = CheckName.WIDTH

    def evaluate(self, case: Case) -> Outcome:
        """Hold the swept width against what is left beside it."""
        room, tags = case.room, case.scene.tags
        on_line = Outcome.of(
            room.width_m + case.limits.side_margin_m,
            room.width_m + 2.0 * room.gap_m,
            "m",
            at_m=room.at_m,
            basis=room.basis,
            more=_together(_nearest(case), _short(case), _unseen(case)),
        )
        found = on_line.worse_of(_straight_gaps(case))
        untagged = np.isnan(tags.width_m)
        nameless = _without(case.scene.things.of(ObstacleKind.GAP), "clear_width_m", "clear width", tags.surveyed.size)
        unknown = unknown_where(
            (nameless != "", nameless),
            (untagged & ~tags.surveyed, "no width is tagged and the segment was not surveyed for obstacles"),
        )
        beside = np.where(untagged[:, None], "no width is tagged and no narrow place was measured", _NO_LINE)
        lost = (unknown == "") & np.isnan(found.utilisation)
        return replace(found, unknown=np.where(lost, beside, unknown))


def _straight_gaps(case: Case) -> Outcome:
    """Hold the width over the mirrors against the narrowest measured gap of every segment; NaN where there is none."""
    gaps = case.scene.things.of(ObstacleKind.GAP)
    gaps = gaps.where(~np.isnan(gaps.clear_width_m))
    segments = case.scene.tags.surveyed.size
    clear, at_m, named = np.full(segments, np.nan), np.full(segments, np.nan), np.full(segments, "", dtype=object)
    order = np.argsort(-gaps.clear_width_m, kind="stable")  # the narrowest last: it stays
    clear[gaps.row[order]], at_m[gaps.row[order]] = gaps.clear_width_m[order], gaps.at_m[order]
    needed = case.envelope.width_mirrors_m + case.limits.side_margin_m
    named[gaps.row[order]] = [
        f"straight through {label}" + (f"; {_up(needed - wide)} of width missing" if wide < needed else "")
        for label, wide in zip(gaps.label[order], gaps.clear_width_m[order], strict=True)
    ]
    demand = np.where(np.isnan(clear), np.nan, needed)
    both = {name: np.column_stack([column, column]) for name, column in (("at_m", at_m), ("more", named))}
    return Outcome.of(
        np.column_stack([demand, demand]), np.column_stack([clear, clear]), "m", basis=Basis.SURVEYED, **both
    )


def _up(metres: float) -> str:
    """Write a length that is missing, rounded up to the centimetre."""
    return f"{math.ceil(metres * 100.0 - 1e-6) / 100.0:.2f} m"


def _nearest(case: Case) -> Texts:
    """Say what is nearest to which part of the body, and how near."""
    room, names = case.room, Names(case.scene, case.limits)

    def told(row: int, way: int) -> str:
        side, gap = int(room.side[row, way]), float(room.gap_m[row, way])
        beside = names.beside(int(room.thing[row, way]), row, way, side, float(room.at_m[row, way]))
        body = body_words(int(room.part[row, way]), side)
        return f"{down_to(gap)} between {body} and {beside}" if gap >= 0.0 else f"{body} too near to {beside}"

    return _texts(~np.isnan(room.gap_m), told)


def _short(case: Case) -> Texts:
    """Say how much width is missing where no line passes, and whether one reverse would do it."""
    places = case.room.places
    missing = np.zeros(case.room.gap_m.shape)
    reverse = np.ones(missing.shape, dtype=np.int64)
    where = (places.row, places.direction)
    np.maximum.at(missing, where, places.missing_m)
    np.minimum.at(reverse, where, np.where(places.missing_m > 0.0, places.shunt, 1))
    words = {1: "; one reverse would do it", 0: "; one reverse would not do it"}

    def told(row: int, way: int) -> str:
        return f"{_up(missing[row, way])} of width missing{words.get(int(reverse[row, way]), '')}"

    return _texts(missing > 0.0, told)


def _unseen(case: Case) -> Texts:
    """Say so where the width is a tag and nobody has looked at the trees beside it."""
    tagged = (case.room.basis == Basis.TAG) & ~case.scene.tags.surveyed[:, None]
    return np.where(tagged, DARK, "").astype(object)


def _without(things: Things, name: str, words: str, segments: int) -> Texts:
    """Name the first thing of each segment that lacks a size, shape (segments,); empty where none does."""
    lacking = things.where(np.isnan(getattr(things, name)))
    named = np.full(segments, "", dtype=object)
    for row, label, at_m in zip(lacking.row[::-1], lacking.label[::-1], lacking.at_m[::-1], strict=True):
        named[row] = f"{label} at {at_m:.1f} m has no {words}"
    return named


@dataclass(frozen=True, slots=True)
class Height:
    """Height of the vehicle with its margin, m, against the lowest branch over its line, or a sign."""

    name: CheckName = CheckName.HEIGHT

    def evaluate(self, case: Case) -> Outcome:
        """Hold the roof against the lowest branch that the line leads under, and against the tagged height."""
        tags, room = case.scene.tags, case.room
        needed = np.full(room.clear_m.shape, case.envelope.height_m + case.limits.roof_margin_m)
        led_round = _led_round(room)
        tagged = Outcome.of(needed, tags.max_height_m[:, None], "m", basis=Basis.TAG, more=led_round)
        branch = Outcome.of(needed, room.clear_m, "m", at_m=room.under_at_m, basis=Basis.SURVEYED, more=led_round)
        worst = tagged.worse_of(branch)
        free = np.isnan(worst.utilisation) & tags.surveyed[:, None]
        nameless = _nameless(case)
        untold = (~tags.surveyed & np.isnan(tags.max_height_m))[:, None]
        dark = np.where(untold, "not surveyed for branches, and no height is tagged", "")
        return replace(
            worst,
            utilisation=np.where(free, 0.0, worst.utilisation),
            basis=np.where(free, np.uint8(Basis.SURVEYED), worst.basis),
            note=np.where(free, np.where(room.beside > 0, "no branch over the line", "no branch found"), ""),
            unknown=np.where(nameless != "", nameless, dark),
        )


def _led_round(room: Room) -> Texts:
    """Say how many branches the line leads round."""
    counts = np.array(["", "the line leads round a branch that it does not fit under"], dtype=object)
    few = counts[np.minimum(room.beside, 1)]
    many = _texts(
        room.beside > 1,
        lambda row, way: f"the line leads round {room.beside[row, way]} branches that it does not fit under",
    )
    return np.where(room.beside > 1, many, few)


def _nameless(case: Case) -> Texts:
    """Name the first branch over the line of each segment and direction whose height nobody measured."""
    branches = case.scene.things.of(ObstacleKind.BRANCH)
    branches = branches.where(np.isnan(branches.clear_height_m))
    reach = (case.envelope.width_mirrors_m + case.limits.side_margin_m) / 2.0
    half = np.where(np.isnan(branches.width_m), np.inf, branches.width_m / 2.0) + reach
    segments = case.scene.tags.surveyed.size
    named = np.full((segments, 2), "", dtype=object)
    for way in (0, 1):
        line = _line_at(case.room, branches, way)
        over = branches.where(np.abs(np.nan_to_num(branches.offset_m, nan=0.0) - line) < half)
        named[:, way] = _without(over, "clear_height_m", "clear height", segments)
    return named


def _line_at(room: Room, things: Things, way: int) -> Float64:
    """Offset of the line at the chainage of each thing, m, + right of the digitised direction; 0 on the middle."""
    offset, places = np.zeros(things.row.size), room.places
    for k in range(things.row.size):
        mine = (places.row == things.row[k]) & (places.direction == way)
        mine &= (places.from_m <= things.at_m[k]) & (places.to_m >= things.at_m[k])
        for p in np.flatnonzero(mine):
            own = slice(int(places.points[p]), int(places.points[p + 1]))
            nearest = int(np.argmin(np.abs(places.chainage_m[own] - things.at_m[k])))
            offset[k] = places.rear_offset_m[own][nearest] * (1.0 if way == 0 else -1.0)
    return offset
