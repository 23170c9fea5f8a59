"""Obstacles as arrays: what stands on, beside and over each segment, where it lies across, what shape it has."""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.site import CheckSite
from pipeline.ground.model import Ground
from pipeline.kernels.obstacle_bumps import ELLIPSE, STEP, TROUGH, Bumps
from pipeline.survey.model import Network
from pipeline.terms import Basis, ObstacleKind
from pipeline.terrain.model import Profiles, Stations
from pipeline.vehicle.envelope_model import Envelope

__all__ = [
    "DOWN",
    "IN_PROFILE",
    "RUT_LENGTH_M",
    "Things",
    "across",
    "as_bumps",
    "by_tyre",
    "goes_down",
    "on_body",
    "on_ground",
    "on_runs",
    "standing_on",
    "things_of",
    "under_body",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]

DOWN = (ObstacleKind.HOLE, ObstacleKind.DITCH, ObstacleKind.RUT)
"""Kinds that go down, whatever the sign of the height."""
IN_PROFILE = (ObstacleKind.ROCK, ObstacleKind.LOG, ObstacleKind.STEP, *DOWN)
"""Kinds that a vehicle drives over."""
ROUND_M = 4.0
"""How far before and behind a thing the grade of the ground round it is taken: beyond what a step is smeared over."""
RUT_LENGTH_M = 6.0
"""Length of a rut that was given none: both axles are in it. Assumption, no source."""


@dataclass(frozen=True, slots=True)
class Things:
    """Obstacles that lie on a segment; arrays of shape (things,), sorted by segment, then chainage."""

    row: Int64
    """Row of the segment."""
    id: Texts
    """``obstacle_id``; copies on other segments have the same."""
    kind: Texts
    label: Texts
    """How a person would find it: kind and name or id."""
    at_m: Float64
    """Chainage of its middle."""
    offset_m: Float64
    """+ right of the digitised direction; NaN when not known, and so for the rest."""
    height_m: Float64
    length_m: Float64
    width_m: Float64
    clear_width_m: Float64
    clear_height_m: Float64
    depth_m: Float64
    flow_m_s: Float64
    room_m: Float64
    """Width of the trail there, as tagged; NaN when it is not."""
    grip: Float64
    """Low adhesion of the ground there; NaN before :func:`standing_on` has told it, and so for the next two."""
    rolling: Float64
    """Rolling resistance coefficient, high value."""
    grade: Float64
    """Rise over run of the ground round it in the digitised direction."""
    number: Int64
    """Which of the surveyed things it is; copies on other segments have the same."""
    copied: Flags
    """Surveyed on another segment that shares a node with this one."""

    def of(self, *kinds: ObstacleKind) -> Self:
        """Take the things of some kinds."""
        return self.where(np.isin(self.kind, [kind.value for kind in kinds]))

    def where(self, take: Flags | Int64) -> Self:
        """Take some of the things, by flags or indices."""
        return type(self)(*(getattr(self, name)[take] for name in self.__dataclass_fields__))


def things_of(network: Network) -> Things:
    """Take the obstacles that lie on a segment out of the network."""
    table = network.obstacles
    rows = network.segments["segment_id"].reset_index(drop=True)
    number = dict(zip(rows, range(len(rows)), strict=True))
    on = table[table["segment_id"].notna() & table["chainage_m"].notna()]
    row = on["segment_id"].map(number).to_numpy(np.int64)
    on = on.iloc[np.lexsort((on["obstacle_id"].to_numpy(object), on["chainage_m"].to_numpy(), row))]
    names = on["name"].where(on["name"].notna(), on["obstacle_id"])
    numbers = ("offset_m", "height_m", "length_m", "width_m", "clear_width_m", "clear_height_m", "depth_m", "flow_m_s")
    return Things(
        row=on["segment_id"].map(number).to_numpy(np.int64),
        id=on["obstacle_id"].to_numpy(object),
        kind=on["kind"].to_numpy(object),
        label=(on["kind"] + " " + names).to_numpy(object),
        at_m=on["chainage_m"].to_numpy(np.float64),
        **{name: on[name].to_numpy(np.float64) for name in numbers},
        **{name: np.full(len(on), np.nan) for name in ("room_m", "grip", "rolling", "grade")},
        number=np.arange(len(on)),
        copied=np.zeros(len(on), dtype=np.bool_),
    )


def standing_on(things: Things, site: CheckSite) -> Things:
    """Tell on what ground things stand: width of the trail, low adhesion, rolling resistance, grade round them.

    The grade is that from :data:`ROUND_M` before to as far behind, less what a step makes of it: the elevation model
    shows a step as a slope. On a segment too short for that it is the slope at the thing itself. NaN without heights.
    """
    widths = site.network.segments[["width_m", "max_width_m"]].to_numpy(np.float64)
    step = np.where(things.kind == ObstacleKind.STEP.value, np.nan_to_num(things.height_m), 0.0)
    before, here, behind = (_station(site.terrain.stations, things, away) for away in (-ROUND_M, 0.0, ROUND_M))
    stations = site.terrain.stations
    rise = (stations.z[behind] - stations.z[before]).astype(np.float64) - step
    run = stations.chainage_m[behind] - stations.chainage_m[before]
    grade = np.divide(rise, run, out=stations.grade[here].astype(np.float64), where=run > ROUND_M)
    told = replace(things, room_m=np.fmin(widths[:, 0], widths[:, 1])[things.row], grade=grade)
    return on_ground(told, site.ground)


def on_ground(things: Things, ground: Ground) -> Things:
    """Tell how things grip and roll on a ground; all else about them stays."""
    return replace(things, grip=ground.mu_low[things.row], rolling=ground.rolling[things.row])


def _station(stations: Stations, things: Things, away_m: float) -> Int64:
    """Find the station nearest to a place so far from every thing along its segment."""
    first, last = stations.offsets[things.row], stations.offsets[things.row + 1] - 1
    length = np.maximum(stations.chainage_m[last], 1e-9)
    nth = np.rint(np.clip((things.at_m + away_m) / length, 0.0, 1.0) * (last - first)).astype(np.int64)
    return np.asarray(first + nth)


def on_body(things: Things, envelope: Envelope, aside_m: float) -> Flags:
    """Tell which things lie under the body of a vehicle that drives along the middle, give or take *aside_m*.

    A missing offset counts as 0, a missing width as the whole width of the trail.
    """
    low, high = across(things)
    half = envelope.width_m / 2.0 + aside_m
    return (low < half) & (high > -half)


def by_tyre(things: Things, envelope: Envelope, aside_m: float | Float64) -> tuple[Flags, Flags]:
    """Tell apart which things lie in the path of the left tyres and which in that of the right ones.

    Sides are those of the digitised direction. With *aside_m* above 0 those that a driver who is off by as much may
    meet, below 0 those that none can miss.
    """
    low, high = across(things)
    tracks = (envelope.track_front_m, envelope.track_rear_m)
    inner = (min(tracks) - envelope.tyre_width_m) / 2.0 - aside_m
    outer = (max(tracks) + envelope.tyre_width_m) / 2.0 + aside_m
    left: Flags = (low < -inner) & (high > -outer)
    right: Flags = (low < outer) & (high > inner)
    return left, right


def under_body(things: Things, envelope: Envelope, aside_m: float) -> Flags:
    """Tell which things change the ground under the body of a vehicle that drives along the middle.

    Ruts lower the wheels only: the ridge between them stays. So it is with every hole and ditch that does not reach
    right across the body: the ground beside it stays where it is. What stands up counts within the width of the body,
    give or take *aside_m*.
    """
    low, high = across(things)
    half = envelope.width_m / 2.0
    right_across = (low <= -half) & (high >= half)
    stays = (things.kind == ObstacleKind.RUT.value) | (goes_down(things) & ~right_across)
    return np.asarray(on_body(things, envelope, aside_m) & ~stays)


def goes_down(things: Things) -> Flags:
    """Tell which things are holes, ditches and ruts."""
    return np.isin(things.kind, [kind.value for kind in DOWN])


def across(things: Things) -> tuple[Float64, Float64]:
    """Left and right edge of every thing, m from the centre line; without a width the whole trail, without end."""
    middle = np.nan_to_num(things.offset_m, nan=0.0)
    half = np.where(np.isnan(things.width_m), np.inf, things.width_m / 2.0)
    return middle - half, middle + half


def on_runs(things: Things, profiles: Profiles) -> tuple[Int64, Int64, Float64, Int64]:
    """Join things with the pieces of runs on their segment: index of the thing, run, run coordinate, sign."""
    order = np.argsort(profiles.piece_segment, kind="stable")
    sorted_segment = profiles.piece_segment[order]
    low = np.searchsorted(sorted_segment, things.row, side="left")
    counts = np.searchsorted(sorted_segment, things.row, side="right") - low
    thing = np.repeat(np.arange(things.row.size), counts)
    nth = np.arange(thing.size) - np.repeat(np.cumsum(counts) - counts, counts)
    piece = order[np.repeat(low, counts) + nth]
    sign = profiles.piece_sign[piece]
    at = profiles.piece_zero_m[piece] + sign * things.at_m[thing]
    reach = np.maximum(np.nan_to_num(things.length_m[thing], nan=RUT_LENGTH_M) / 2.0, profiles.step_m)
    touches = (at + reach >= profiles.piece_from_m[piece]) & (at - reach <= profiles.piece_to_m[piece])
    run = np.repeat(np.arange(profiles.segment.size), np.diff(profiles.piece_offsets))[piece]
    once = np.flatnonzero(touches)[_once(things, thing[touches], run[touches])]
    return thing[once], run[once], at[once], sign[once]


def _once(things: Things, thing: Int64, run: Int64) -> Int64:
    """Choose the places that count: a copy only where neither the thing itself nor another copy is on the run."""
    key = np.column_stack([run, things.number[thing]])
    copied = things.copied[thing]
    _, group = np.unique(key, axis=0, return_inverse=True)
    order = np.lexsort((np.arange(thing.size), copied, group.ravel()))
    first = np.ones(thing.size, dtype=np.bool_)
    first[1:] = group.ravel()[order][1:] != group.ravel()[order][:-1]
    return np.sort(order[first | ~copied[order]])


def as_bumps(things: Things, where: tuple[Int64, Float64, Int64], fade_m: float) -> Bumps:
    """Turn things on runs into shapes of known size; sizes that are missing are assumed."""
    run, at, sign = where
    down = goes_down(things)
    step, rut = things.kind == ObstacleKind.STEP.value, things.kind == ObstacleKind.RUT.value
    height = np.where(down, -np.abs(things.height_m), things.height_m)
    height = np.where(step, sign * height, height)
    guess = np.where(rut, RUT_LENGTH_M, 2.0 * np.abs(height))
    assumed = np.isnan(things.length_m) & ~step
    return Bumps(
        run=run,
        at=at,
        height=height,
        length=np.where(np.isnan(things.length_m), guess, things.length_m),
        shape=np.select([step, rut], [STEP, TROUGH], default=ELLIPSE).astype(np.int64),
        basis=np.where(assumed, Basis.ASSUMED, Basis.SURVEYED).astype(np.uint8),
        fade=fade_m,
    )
