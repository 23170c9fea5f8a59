"""The balance of every set-up for people and machines: centre of gravity, static angles, working limits, effects."""

import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pipeline.terms import Driver
from pipeline.vehicle.balance import (
    RAMP_DEG,
    Angles,
    Working,
    effect_text,
    ramp_travel_index,
    static_angles,
    working_angles,
)
from pipeline.vehicle.classes import stability_factor
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import NORMAL, Vehicle

__all__ = ["balance_json", "balance_lines", "travel_json", "travel_text"]

_WIDTH = 100
_LABEL = 24
_SAYING = (
    "People lower the centre of gravity only where they sit lower than the vehicle's own; what they weigh still counts "
    "against the rated mass, and the side they sit on against that side."
)


class _Column(NamedTuple):
    """One column: head (its lines joined by blanks), width, digits after the point, value."""

    head: str
    width: int
    digits: int
    value: Callable[[Envelope], float]


_BALANCE = (
    _Column("mass kg", 7, 0, lambda e: e.mass_kg),
    _Column("cg back m", 8, 2, lambda e: -e.cg_m[0]),
    _Column("cg left m", 8, 3, lambda e: e.cg_m[1]),
    _Column("cg high m", 8, 3, lambda e: e.cg_m[2]),
    _Column("SSF", 6, 2, lambda e: stability_factor(min(e.track_front_m, e.track_rear_m), e.cg_m[2])),
    _Column("left °", 7, 1, lambda e: static_angles(e).left),
    _Column("right °", 7, 1, lambda e: static_angles(e).right),
    _Column("up °", 7, 1, lambda e: static_angles(e).up),
    _Column("down °", 7, 1, lambda e: static_angles(e).down),
)


def balance_lines(vehicle: Vehicle, envelopes: Sequence[Envelope], working: Working) -> Iterator[str]:
    """Yield the balance of *envelopes* as lines of text, at most 100 columns wide.

    Parameters
    ----------
    vehicle
        The vehicle.
    envelopes
        Its set-ups; a bare one of each suspension must be among them.
    working
        Allowance and shares.
    """
    yield "Centre of gravity (back of the front axle, left of the middle, high above ground), static stability"
    yield "factor (SSF), static angle with the left or right side downhill, nose up and nose down:"
    yield from _header([(column.head, column.width) for column in _BALANCE], "  weaker")
    for envelope in envelopes:
        cells = "".join(_cell(column.value(envelope), column) for column in _BALANCE)
        yield from _labelled(envelope.setup, f"{cells}  {static_angles(envelope).weaker}")
    yield ""
    yield from textwrap.wrap(
        f"Working limit of each driver, °: the static angle less {working.compliance_share:.0%} of its arm for springs "
        "and tyres (an assumption), times the driver's share; across is the weaker side:",
        _WIDTH,
    )
    yield from _working_table(envelopes, working)
    yield from _effects(vehicle, envelopes)


def _cell(value: float, column: _Column) -> str:
    """Write one value; minus zero is zero."""
    return f"{round(value, column.digits) + 0.0:>{column.width}.{column.digits}f}"


def _header(columns: Sequence[tuple[str, int]], last: str = "") -> Iterator[str]:
    """Yield the lines above a table: heads broken at blanks, standing on the table."""
    words = [head.split() for head, _ in columns]
    depth = max(len(parts) for parts in words)
    for line in range(-depth, 0):
        cells = [parts[line] if line >= -len(parts) else "" for parts in words]
        row = " " * _LABEL + "".join(f"{cell:>{width}}" for cell, (_, width) in zip(cells, columns, strict=True))
        yield row + (last if line == -1 else "")


def _labelled(label: str, row: str) -> Iterator[str]:
    """Yield the lines of one row: a long label takes more than one, the figures stand on its last."""
    *above, last = textwrap.wrap(label, _LABEL - 1) or [""]
    yield from above
    yield f"{last:<{_LABEL}}{row}"


def _working_table(envelopes: Sequence[Envelope], working: Working) -> Iterator[str]:
    """Yield the working limits: three columns a driver."""
    yield " " * _LABEL + "".join(f"{'':5}{driver.value:^20}" for driver in Driver)
    yield " " * _LABEL + "".join(f"{'across':>11}{'up':>7}{'down':>7}" for _ in Driver)
    for envelope in envelopes:
        static = static_angles(envelope)
        limits = [working_angles(static, working, driver) for driver in Driver]
        cells = "".join(f"{a.across:>11.1f}{a.up:>7.1f}{a.down:>7.1f}" for a in limits)
        yield from _labelled(envelope.setup, cells)


def _effects(vehicle: Vehicle, envelopes: Sequence[Envelope]) -> Iterator[str]:
    """Yield one line for each load on normal suspension and each other suspension; all others are in the table."""
    found = _all_effects(vehicle, envelopes)
    told = [e for e in envelopes if e.setup in found and (e.suspension == NORMAL or not e.loads)]
    if not told:
        return
    yield ""
    yield "What each does, against the bare vehicle on normal suspension, springs taken as rigid:"
    for envelope in told:
        yield from textwrap.wrap(found[envelope.setup], _WIDTH, initial_indent="- ", subsequent_indent="  ")
    if any(vehicle.loads[name].people for envelope in told for name in envelope.loads):
        yield from textwrap.wrap(_SAYING, _WIDTH)


def _all_effects(vehicle: Vehicle, envelopes: Sequence[Envelope]) -> dict[str, str]:
    """Give what each set-up's loads, or else its suspension, do, by name of the set-up."""
    bare = {envelope.suspension: envelope for envelope in envelopes if not envelope.loads}
    pairs = ((one, bare[one.suspension if one.loads else NORMAL]) for one in envelopes)
    return {one.setup: effect_text(vehicle, one, other) for one, other in pairs if one is not other}


def balance_json(vehicle: Vehicle, envelopes: Sequence[Envelope], working: Working) -> list[dict[str, Any]]:
    """Give the balance of every set-up as plain values, parallel to *envelopes*; for ``json``.

    Parameters
    ----------
    vehicle, envelopes, working
        As for :func:`balance_lines`.
    """
    found = _all_effects(vehicle, envelopes)
    return [
        {
            "static_deg": _angles_json(static_angles(envelope)),
            "weaker_side": static_angles(envelope).weaker,
            "working_deg": _drivers_json(static_angles(envelope), working),
            "effect": found.get(envelope.setup),
        }
        for envelope in envelopes
    ]


def _drivers_json(static: Angles, working: Working) -> Mapping[str, Any]:
    return {driver.value: _angles_json(working_angles(static, working, driver)) for driver in Driver}


def _angles_json(angles: Angles) -> dict[str, float]:
    return {"across": angles.across, **angles._asdict()}


def travel_text(vehicle: Vehicle) -> str:
    """Say at which twist a wheel lifts, and the index that comes of it."""
    index = ramp_travel_index(vehicle.wheel_travel_m, vehicle.wheelbase_m)
    return f"a wheel lifts at a twist of {vehicle.wheel_travel_m:.2f} m; ramp travel index {index:.0f} at {RAMP_DEG:g}°"


def travel_json(vehicle: Vehicle) -> dict[str, float]:
    """Give the same as plain values."""
    index = ramp_travel_index(vehicle.wheel_travel_m, vehicle.wheelbase_m)
    return {"twist_at_lift_m": vehicle.wheel_travel_m, "ramp_deg": RAMP_DEG, "ramp_travel_index": index}
