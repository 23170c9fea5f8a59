"""Trails with water of the elevation model on them."""

from dataclasses import replace

import numpy as np

from pipeline.checks.site import CheckSite
from pipeline.terrain.drainage_model import Drainage, FlowCrossings
from tests.checks.worlds import site_on, straight
from tests.worlds import plane

PLACE = {
    "at_m": 20.0,
    "from_m": 19.0,
    "to_m": 21.0,
    "x": 0.0,
    "y": 0.0,
    "hollow": False,
    "catchment_m2": 500_000.0,
    "least": False,
    "hollow_m": 0.0,
    "dammed_m": 0.0,
}
"""A flow path from half a square kilometre, 20 m along the trail."""


def crossings_of(*places: dict[str, object]) -> FlowCrossings:
    """Lay places on the first segment, or on that of their row."""
    kinds = {name: type(value) for name, value in PLACE.items()}
    columns = {name: np.array([{**PLACE, **place}[name] for place in places], dtype=kinds[name]) for name in PLACE}
    row = np.array([place.get("row", 0) for place in places], dtype=np.int64)
    return FlowCrossings(row=row, **columns)


def drained(site: CheckSite, *places: dict[str, object], **columns: float) -> CheckSite:
    """Put places of the elevation model on a site; *columns* are those of the drainage, the same for every segment."""
    values = {"twi": 6.0, "twi_high": 7.0, "hollow_m": 0.0, "hollow_share": 0.0, **columns}
    arrays = {name: np.full(len(site.network.segments), value) for name, value in values.items() if name != "twi_land"}
    drainage = Drainage(cell_m=3.0, twi_land=values.get("twi_land", 5.0), crossings=crossings_of(*places), **arrays)
    return replace(site, terrain=replace(site.terrain, drainage=drainage))


def after_rain(site: CheckSite, index_mm: float) -> CheckSite:
    """Let it have rained."""
    return replace(site, ground=replace(site.ground, site_mm=index_mm))


def wet_trail(index_mm: float, *places: dict[str, object], **columns: object) -> CheckSite:
    """Make a straight trail after rain, with places of the elevation model; *columns* go to the network."""
    return after_rain(drained(site_on(straight(**columns), plane()), *places), index_mm)
