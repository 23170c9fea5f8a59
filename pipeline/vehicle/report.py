"""The envelope of every set-up that a vehicle file allows, as a table for people and as JSON for machines."""

import math
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby, islice
from typing import Any, NamedTuple

from pipeline.terms import CAUTION, Drive, Driver
from pipeline.units import KMH
from pipeline.vehicle.balance import Working
from pipeline.vehicle.balance_report import balance_json, balance_lines, travel_json, travel_text
from pipeline.vehicle.classes import (
    FLOOD_CAVEAT,
    Clearances,
    OffHighway,
    off_highway,
    off_road_eu,
    stability_factor,
)
from pipeline.vehicle.envelope import kerb_clearances, make_envelope, vehicle_flood_class
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice, Source, Vehicle
from pipeline.vehicle.plan import full_lock

__all__ = ["CAUTION", "SCHEMA", "SCHEMA_VERSION", "vehicle_choices", "vehicle_json", "vehicle_text"]

SCHEMA = "loopwright-vehicle"
"""Name that stands in the JSON, so that a reader knows what it holds."""
SCHEMA_VERSION = 1
"""Raised when a key changes its meaning or goes away."""
_WIDTH = 100
_LABEL = 27
_CELL = 11
_COLUMNS = (_WIDTH - _LABEL) // _CELL


class _Row(NamedTuple):
    """One line of the table: label with unit, digits after the point, where the value comes from."""

    label: str
    digits: int
    value: Callable[[Envelope], float]


_ROWS = (
    _Row("approach angle, °", 1, lambda e: e.approach_deg),
    _Row("breakover angle, °", 1, lambda e: e.breakover_deg),
    _Row("departure angle, °", 1, lambda e: e.departure_deg),
    _Row("running clearance, m", 3, lambda e: e.clearance_m),
    _Row("front axle clearance, m", 3, lambda e: e.front_axle_clearance_m),
    _Row("rear axle clearance, m", 3, lambda e: e.rear_axle_clearance_m),
    _Row("overall height, m", 2, lambda e: e.height_m),
)


def _track(envelope: Envelope) -> float:
    """Give the smaller track, m."""
    return min(envelope.track_front_m, envelope.track_rear_m)


def vehicle_choices(vehicle: Vehicle) -> list[SetUpChoice]:
    """List the set-ups that are shown: every suspension with no load, each load alone, and all loads together."""
    alone: list[tuple[str, ...]] = [(), *((name,) for name in vehicle.loads)]
    together = [tuple(vehicle.loads)] if len(vehicle.loads) > 1 else []
    return [
        SetUpChoice(_title(suspension, loads, vehicle), suspension, loads, Driver.EXPERT)
        for suspension in vehicle.suspensions
        for loads in alone + together
    ]


def _title(suspension: str, loads: tuple[str, ...], vehicle: Vehicle) -> str:
    """Name a set-up by its suspension and loads."""
    if not loads:
        return suspension
    if len(loads) > 1 and len(loads) == len(vehicle.loads):
        return f"{suspension} + all loads"
    return " + ".join((suspension, *loads))


def vehicle_text(vehicle: Vehicle, working: Working) -> str:
    """Print what a vehicle can do in every set-up its file allows, with units, at most 100 columns wide.

    Parameters
    ----------
    vehicle
        The vehicle.
    working
        What drivers may use of the static angles.
    """
    envelopes = [make_envelope(vehicle, choice) for choice in vehicle_choices(vehicle)]
    warnings = list(dict.fromkeys(text for envelope in envelopes for text in envelope.warnings))
    lines = [*_heading(vehicle)]
    for text in warnings:
        lines += textwrap.wrap(f"Warning: {text}", _WIDTH, subsequent_indent="  ")
    for _, same in groupby(envelopes, key=lambda envelope: envelope.suspension):
        for block in _batches(same):
            lines += ["", *_table(block)]
    lines += ["", *balance_lines(vehicle, envelopes, working)]
    lines += ["", *_fixed(vehicle, envelopes[0]), "", *_facts(vehicle)]
    lines += ["", *textwrap.wrap(CAUTION, _WIDTH)]
    return "\n".join(line.rstrip() for line in lines)


def _heading(vehicle: Vehicle) -> Iterator[str]:
    """Yield the lines above the tables."""
    figures = "hard points of the underbody" if vehicle.underbody is not None else "published angles and clearance"
    source = "measured on the vehicle" if vehicle.source is Source.MEASURED else "the maker's figures"
    state = ", modified" if vehicle.modified else ""
    yield from textwrap.wrap(f"{vehicle.name}: {figures}, {source}{state}", _WIDTH)


def _table(block: Sequence[Envelope]) -> Iterator[str]:
    """Yield one table: a column a set-up, a row a figure."""
    heads = [textwrap.wrap(envelope.setup, _CELL - 1) for envelope in block]
    depth = max(len(head) for head in heads)
    for line in range(depth):
        cells = [head[line - depth] if line - depth >= -len(head) else "" for head in heads]
        yield " " * _LABEL + "".join(f"{cell:>{_CELL}}" for cell in cells)
    for row in _ROWS:
        yield f"{row.label:<{_LABEL}}" + "".join(f"{_number(row.value(e), row.digits):>{_CELL}}" for e in block)


def _batches(envelopes: Iterable[Envelope]) -> Iterator[list[Envelope]]:
    """Yield as many set-ups at a time as fit beside each other."""
    rest = iter(envelopes)
    while block := list(islice(rest, _COLUMNS)):
        yield block


def _number(value: float, digits: int) -> str:
    """Write a number; minus zero is zero, and no limit is said in a word."""
    if math.isinf(value):
        return "none"
    return f"{round(value, digits) + 0.0:.{digits}f}"


def _fixed(vehicle: Vehicle, envelope: Envelope) -> Iterator[str]:
    """Yield what no set-up changes."""
    lock, kerb = full_lock(envelope), 2.0 * envelope.turning_radius_m
    swept = f"{lock.swept_m:.2f} m wide, radii {lock.inner_m:.2f} to {lock.wall_m:.2f} m"
    fording = "not stated" if vehicle.fording_depth_m is None else f"{vehicle.fording_depth_m:.2f} m, maker's limit"
    low_range = "with low range" if vehicle.low_range else "no low range"
    length = envelope.length_front_m + envelope.wheelbase_m + envelope.length_rear_m
    pairs = (
        ("wheelbase and smaller track", f"{envelope.wheelbase_m:.2f} m, {_track(envelope):.2f} m"),
        ("width, over mirrors", f"{envelope.width_m:.2f} m, {envelope.width_mirrors_m:.2f} m"),
        ("length with overhangs", f"{length:.2f} m"),
        ("drive", f"{vehicle.drive.value}, {low_range}"),
        ("turning circle", f"kerb to kerb {kerb:.2f} m, wall to wall {2.0 * lock.wall_m:.2f} m"),
        ("swept at full lock", f"{swept}, mirrors and fitted things included"),
        ("off-tracking at full lock", f"{lock.offtracking_m:.2f} m, rear axle inside the front axle"),
        ("tail swing at full lock", f"{lock.tail_swing_m:.2f} m"),
        ("cross-axle", travel_text(vehicle)),
        ("crawl grade, firm ground", f"{vehicle.crawl_grade_pct:.0f} %"),
        ("slowest held downhill", f"{envelope.min_controlled_speed_m_s / KMH:.1f} km/h"),
        ("fording depth", fording),
    )
    for label, value in pairs:
        yield f"{label:<{_LABEL}}  {value}"


def _facts(vehicle: Vehicle) -> Iterator[str]:
    """Yield the published classes that the vehicle falls into."""
    geometry = kerb_clearances(vehicle)
    yield "At kerb mass, normal suspension:"
    yield from _wrapped(_class_text("Off-highway geometry, 49 CFR 523.5(b)", off_highway(geometry, *_rated(vehicle))))
    eu = _class_text("Off-road (G) geometry, EU", _eu(vehicle, geometry))
    yield from _wrapped(f"{eu} A differential lock is asked for too; this file does not tell.")
    flood = vehicle_flood_class(vehicle)
    yield from _wrapped(
        f"Flood criteria, ARR Project 10, class {flood.name}: still water {flood.still_depth_m:.2f} m, at "
        f"{flood.velocity_m_s:.1f} m/s {flood.fast_depth_m:.2f} m, depth × velocity {flood.flow_m2_s:.2f} m²/s; "
        f"all apply together. {FLOOD_CAVEAT}"
    )


def _rated(vehicle: Vehicle) -> tuple[Drive, float | None]:
    """Give drive and rated mass."""
    return vehicle.drive, vehicle.gvm_kg


def _eu(vehicle: Vehicle, geometry: Clearances) -> OffHighway:
    return off_road_eu(geometry, vehicle.drive, vehicle.crawl_grade_pct / 100.0)


def _class_text(title: str, found: OffHighway) -> str:
    """Say how a vehicle stands against a list of criteria."""
    short = [
        f"{c.name} {c.found:.4g} of {c.limit:g}{c.unit if c.unit == '°' else ' ' + c.unit}"
        for c in found.criteria
        if not c.met
    ]
    verdict = "met" if found.passes else "not met"
    why = "" if found.eligible else "; drive, rated mass or gearing do not qualify"
    text = f"{title}: {verdict}, {found.met} of {len(found.criteria)} criteria ({found.needed} needed){why}."
    return f"{text} Short: {', '.join(short)}." if short else text


def _wrapped(text: str) -> list[str]:
    """Wrap a fact, its further lines indented."""
    return textwrap.wrap(text, _WIDTH, initial_indent="- ", subsequent_indent="  ")


def vehicle_json(vehicle: Vehicle, working: Working) -> dict[str, Any]:
    """Give what :func:`vehicle_text` prints as a dictionary that ``json`` can write, with ``schema`` and ``version``.

    Parameters
    ----------
    vehicle
        The vehicle.
    working
        What drivers may use of the static angles.

    Returns
    -------
    dict[str, Any]
        Units stand in the keys. Angles without a limit are ``None``.
    """
    geometry = kerb_clearances(vehicle)
    flood = vehicle_flood_class(vehicle)
    envelopes = [make_envelope(vehicle, choice) for choice in vehicle_choices(vehicle)]
    balances = balance_json(vehicle, envelopes, working)
    return {
        "schema": SCHEMA,
        "version": SCHEMA_VERSION,
        "name": vehicle.name,
        "source": vehicle.source.value,
        "modified": vehicle.modified,
        "figures": "underbody" if vehicle.underbody is not None else "published",
        "warnings": list(dict.fromkeys(text for envelope in envelopes for text in envelope.warnings)),
        "compliance_share": working.compliance_share,
        "setups": [{**_envelope_json(one), **balance} for one, balance in zip(envelopes, balances, strict=True)],
        "full_lock": _lock_json(envelopes[0]),
        "cross_axle": travel_json(vehicle),
        "off_highway_49_cfr_523_5": _class_json(off_highway(geometry, *_rated(vehicle))),
        "off_road_eu_geometry": _class_json(_eu(vehicle, geometry)),
        "flood_class": {
            "name": flood.name,
            "still_depth_m": flood.still_depth_m,
            "fast_depth_m": flood.fast_depth_m,
            "velocity_m_s": flood.velocity_m_s,
            "flow_m2_s": flood.flow_m2_s,
            "caveat": FLOOD_CAVEAT,
        },
        "caution": CAUTION,
    }


def _envelope_json(envelope: Envelope) -> dict[str, Any]:
    """Give one envelope as plain values."""
    values = {name: getattr(envelope, name) for name in Envelope.__slots__}
    del values["driver"]
    return {
        **{name: _plain(value) for name, value in values.items()},
        "underbody": envelope.underbody.tolist(),
        "stability_factor": stability_factor(_track(envelope), envelope.cg_m[2]),
    }


def _lock_json(envelope: Envelope) -> dict[str, float]:
    """Give what is swept on the turning circle, m; no set-up changes it but by a load that is wider than the roof."""
    lock = full_lock(envelope)
    return {**lock._asdict(), "kerb_m": envelope.turning_radius_m, "swept_m": lock.swept_m}


def _plain(value: object) -> object:
    """Make a value that JSON knows: lists for tuples, words for enums, nothing for no limit."""
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float) and math.isinf(value):
        return None
    return str(value) if isinstance(value, str) else value


def _class_json(found: OffHighway) -> dict[str, Any]:
    """Give a class with its criteria as plain values."""
    criteria = [
        {"name": c.name, "found": c.found, "limit": c.limit, "unit": c.unit, "met": c.met} for c in found.criteria
    ]
    return {"passes": found.passes, "eligible": found.eligible, "needed": found.needed, "criteria": criteria}
