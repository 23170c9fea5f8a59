"""Things on one level, straight trail, told what ground they stand on."""

import dataclasses

import numpy as np

from pipeline.checks.obstacles import IN_PROFILE, Things, standing_on, things_of
from pipeline.checks.passing.choice import Choice
from pipeline.terms import Passing
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import choice_of, site_on, straight
from tests.worlds import plane

Row = dict[str, object]


def thing(kind: str = "rock", **columns: object) -> Row:
    """Make a thing on the line 30 m along a trail of 60 m, 0.2 m high, 0.5 m long and wide."""
    base: Row = {"segment_id": "s", "chainage_m": 30.0, "offset_m": 0.0, "height_m": 0.2, "length_m": 0.5}
    return {"kind": kind, **base, "width_m": 0.5, **columns}


def things_on(*rows: Row, grip: float = 0.55, grade: float = 0.0, **columns: object) -> Things:
    """Put things on a trail; *columns* are those of its segment, 3.5 m wide unless told."""
    network = straight(obstacles=list(rows), **columns)
    here = standing_on(things_of(network), site_on(network, plane(), mu_low=grip)).of(*IN_PROFILE)
    return dataclasses.replace(here, grade=np.full(here.row.size, grade))


def chosen(*rows: Row, vehicle: Envelope | None = None, grip: float = 0.55, **columns: object) -> Choice:
    """Choose the way past things."""
    return choice_of(things_on(*rows, grip=grip, **columns), vehicle)


def words(choice: Choice) -> list[tuple[str, str]]:
    """Name the way past every thing with the digitised direction and against it."""
    order = list(Passing)
    return [(order[there].value, order[back].value) for there, back in choice.passing.tolist()]
