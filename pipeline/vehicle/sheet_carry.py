"""What a measuring sheet carries over from the old file: suspension settings, loads and fitted things, as TOML."""

import json
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass

from pipeline.vehicle.model import Load, Overhang, Suspension, Vehicle

__all__ = ["Carried", "carried", "plain"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Carried:
    """One table of the old file."""

    label: str
    """What a person reads."""
    toml: str
    """What goes into the new file."""
    load: str | None = None
    """Name of a load."""
    at_m: tuple[float, float, float] | None = None
    """Place of a load."""
    points: tuple[tuple[float, float], ...] = ()
    """Hard points of a fitted thing."""

    def plain(self) -> dict[str, object]:
        """Give it as values for JSON."""
        return asdict(self)


def plain(text: str) -> str:
    """Replace what a page cannot show (control characters) and join white space."""
    return _UNPRINTABLE.sub("\ufffd", " ".join(text.split()))


def carried(vehicle: Vehicle) -> list[Carried]:
    """List suspension settings, loads and overhangs of *vehicle*.

    The heights of loads are those of the old file: after a change of springs or tyres they want measuring again.
    """
    return [*_suspensions(vehicle), *_loads(vehicle), *_overhangs(vehicle)]


def _suspensions(vehicle: Vehicle) -> Iterator[Carried]:
    for name, suspension in vehicle.suspension.items():
        label = f"suspension {plain(name)}: {_signed(suspension)}"
        yield Carried(label, f"[suspension.{_key(name)}]\nlift_m = {suspension.lift_m!r}\n")


def _signed(suspension: Suspension) -> str:
    return f"{suspension.lift_m * 1000:+.0f} mm".replace("-", "−")


def _loads(vehicle: Vehicle) -> Iterator[Carried]:
    for name, load in vehicle.loads.items():
        x, y, z = (f"{value * 1000:.0f}".replace("-", "−") for value in load.at_m)
        label = f"load {plain(name)}: {load.mass_kg:g} kg at x {x}, y {y}, z {z} mm"
        yield Carried(label, f"[loads.{_key(name)}]\n{_load(load)}", name, load.at_m)


def _load(load: Load) -> str:
    """Write the keys of a load."""
    lines = [f"mass_kg = {load.mass_kg!r}", f"at_m = {_list(load.at_m)}"]
    if load.top_m is not None:
        lines.append(f"top_m = {load.top_m!r}")
    if load.width_m is not None:
        lines.append(f"width_m = {load.width_m!r}")
    if load.people:
        lines.append("people = true")
    return "\n".join(lines) + "\n"


def _overhangs(vehicle: Vehicle) -> Iterator[Carried]:
    for name, overhang in vehicle.overhangs.items():
        label = f"always fitted {plain(name)}: leave it out where its points are measured above"
        width = "" if overhang.width_m is None else f"width_m = {overhang.width_m!r}\n"
        toml = f"[overhangs.{_key(name)}]\npoints = {_points(overhang)}\n{width}"
        yield Carried(label, toml, points=overhang.points)


def _points(overhang: Overhang) -> str:
    return "[" + ", ".join(_list(point) for point in overhang.points) + "]"


def _list(numbers: tuple[float, ...]) -> str:
    return "[" + ", ".join(repr(float(number)) for number in numbers) + "]"


def _key(name: str) -> str:
    """Write a key as TOML takes it: quoted unless it is bare; DEL is the one control character JSON does not escape."""
    return name if _BARE.fullmatch(name) else json.dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
