"""The measuring sheet: one page without network that is a form on paper, and in a browser writes the vehicle file."""

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup

from pipeline.settings import read_settings_text
from pipeline.terms import CAUTION, Drive
from pipeline.vehicle import rules
from pipeline.vehicle.balance import RAMP_DEG
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.model import SetUpChoice, Vehicle
from pipeline.vehicle.sheet_carry import Carried, carried, plain
from pipeline.vehicle.sheet_draw import draw_ends, draw_ramp, draw_scales, draw_turn, side_picture
from pipeline.vehicle.sheet_rows import ENDS, GROUPS, HARD_POINT, LOAD, MOTION, OUTLINE, PLATE, SIDE, WEIGHING, Row
from pipeline.vehicle.weighing import height_per_kg

__all__ = ["PAGES", "measuring_sheet"]

PAGES = 3
"""Pages of A4 that the sheet takes in print; more where the old file has very many loads or hard points."""
_POINTS = 14
"""Fewest rows for hard points."""
_SPARE_POINTS = 4
"""Rows beyond those of the old file."""
_RAISE_PART = 6
"""The axle is raised by at least the wheelbase over this: about 10°."""
_LOADS = 3
"""Rows for new loads."""
_DRIVES = {
    Drive.FOUR_WHEEL: "all four",
    Drive.REAR: "rear",
    Drive.FRONT: "front",
}


@dataclass(frozen=True, slots=True)
class _Point:
    """One row for a hard point; what the old file says of it."""

    number: int
    x: str = ""
    z: str = ""


def measuring_sheet(vehicle: Vehicle | None) -> str:
    """Make the measuring sheet as an HTML page that asks for nothing from outside.

    Parameters
    ----------
    vehicle
        The vehicle that is measured again: its drawing, its old figures in grey, its loads carried over. ``None``
        gives an empty sheet with the drawing of a plain wagon.

    Returns
    -------
    str
        ASCII only, so that it is the same page whatever the encoding it is printed in.
    """
    drawn = vehicle or _outline()
    tables = carried(vehicle) if vehicle else []
    page = (
        _environment()
        .get_template("measure.html.j2")
        .render(
            name=plain(vehicle.name) if vehicle else "",
            vehicle=vehicle,
            drives=[(drive.value, text) for drive, text in _DRIVES.items()],
            caution=CAUTION,
            warnings=[plain(text) for text in make_envelope(vehicle, SetUpChoice("")).warnings] if vehicle else [],
            side=SIDE,
            ends=ENDS,
            motion=MOTION,
            weighing=WEIGHING,
            outline=(OUTLINE[:4], OUTLINE[4:]),
            plate=PLATE,
            was=_said(vehicle),
            points=_points(vehicle),
            pages=PAGES,
            fineness=_fineness(drawn),
            carried=tables,
            loads=range(1, _LOADS + 1),
            spec=_spec(tables),
            style=Markup(_escaped("measure.css")),  # noqa: S704 - the package's own files and drawings, no user's text
            script=Markup(_escaped("measure.js")),  # noqa: S704 - the same
            drawings={name: Markup(svg) for name, svg in _drawings(drawn).items()},  # noqa: S704 - the same
        )
    )
    return page.encode("ascii", "xmlcharrefreplace").decode("ascii")


def _fineness(vehicle: Vehicle) -> str:
    """Say how much a kilogram on the raised reading is, at the least raise asked for."""
    raise_m = vehicle.wheelbase_m / _RAISE_PART
    per_kg = height_per_kg(vehicle.kerb_mass_kg, raise_m, vehicle.wheelbase_m)
    return f"at W = {raise_m * 1000.0:.0f} mm one kilogram on X is {per_kg * 1000.0:.0f} mm of height"


def _drawings(vehicle: Vehicle) -> dict[str, str]:
    """Draw everything."""
    return {
        "side": side_picture(vehicle),
        "ends": draw_ends(vehicle),
        "turn": draw_turn(vehicle),
        "ramp": draw_ramp(vehicle),
        "scales": draw_scales(vehicle),
    }


def _said(vehicle: Vehicle | None) -> dict[str, str]:
    """Give what the old file says, by letter, in the units of the boxes."""
    if vehicle is None:
        return {}
    said = {row.letter: row.said(vehicle) for group in GROUPS for row in group}
    return {letter: _shown(value) for letter, value in said.items() if value is not None}


def _shown(value: float) -> str:
    """Write a figure as it would be typed."""
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1000 else f"{round(value, 1) + 0.0:.10g}"


def _points(vehicle: Vehicle | None) -> tuple[list[_Point], list[_Point]]:
    """Give the rows for hard points in two halves, those of the old file first."""
    old = vehicle.underbody or () if vehicle else ()
    count = max(_POINTS, len(old) + _SPARE_POINTS)
    known = [_Point(k, _shown(x * 1000.0), _shown(z * 1000.0)) for k, (x, z) in enumerate(old, start=1)]
    rows = known + [_Point(k) for k in range(len(old) + 1, count + 1)]
    half = (count + 1) // 2
    return rows[:half], rows[half:]


def _spec(tables: list[Carried]) -> dict[str, Any]:
    """Give the page's script what it checks and writes with."""
    return {
        "rows": [_row(row) for group in GROUPS for row in group],
        "point": {axis: {"low": low, "high": high} for axis, (low, high) in HARD_POINT.items()},
        "load": {name: {"low": low, "high": high} for name, (low, high) in LOAD.items()},
        "tables": [table.plain() for table in tables],
        "frontShare": rules.FRONT_SHARE,
        "cgOfHeight": rules.CG_OF_HEIGHT,
        "slack": rules.SLACK_M,
        "loadReach": rules.LOAD_REACH_M,
        "rampDeg": RAMP_DEG,
    }


def _row(row: Row) -> dict[str, Any]:
    """Give one box as plain values."""
    low, high = row.limits()
    return {
        "id": row.letter,
        "key": row.key,
        "unit": row.unit,
        "per": row.per,
        "low": low,
        "high": high,
        "needed": row.needed,
    }


@cache
def _outline() -> Vehicle:
    """Read the plain wagon that is drawn without a vehicle file."""
    return read_settings_text(_source("outline.toml"), "outline.toml", Vehicle)


def _source(name: str) -> str:
    """Read a template file as it stands."""
    return (resources.files("pipeline.vehicle") / "templates" / name).read_text(encoding="utf-8")


def _escaped(name: str) -> str:
    """Read a script or style file with the escapes of its language, which are alike, for what is not ASCII."""
    return _source(name).encode("ascii", "backslashreplace").decode("ascii")


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_source),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["minus"] = lambda text: re.sub(r"^-", "−", text)
    return environment
