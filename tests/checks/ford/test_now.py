"""Depth, speed and slopes of the crossings on the day."""

import numpy as np
import pytest

from pipeline.checks.crossings import crossings_table
from pipeline.checks.ford.now import with_water_now
from pipeline.checks.ford.places import waters_of
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.terrain.drainage_model import Drainage
from tests.checks.ford.worlds import wet_trail
from tests.checks.worlds import site_on, straight
from tests.worlds import plane


def rows_of(site: CheckSite) -> list[dict[str, object]]:
    """Fill the table of a site."""
    scene = make_scene(site)
    table = crossings_table(site.network, site.terrain)
    before = table.copy()
    filled = with_water_now(table, scene)
    assert table.equals(before)
    return filled.to_dict("records")


def water(**columns: object) -> dict[str, object]:
    """Make surveyed water 20 m along the trail."""
    return {"kind": "water", "segment_id": "s", "chainage_m": 20.0, "depth_m": 0.4, "length_m": 4.0, **columns}


def test_surveyed_water_by_its_id() -> None:
    """Depth and speed are those of the place; the slopes those of the bed: 21.8°, within one step of the profile."""
    site = wet_trail(40.0, {}, obstacles=[water()])
    (row,) = rows_of(site)
    place = waters_of(make_scene(site))
    assert row["depth_now_m"] == pytest.approx(place.depth_now_m[0])
    assert row["flow_now_m_s"] == pytest.approx(place.flow_now_m_s[0])
    assert row["entry_deg"] == pytest.approx(21.8, abs=0.6)
    assert row["exit_deg"] == pytest.approx(21.8, abs=0.6)


def test_flow_path_that_nobody_saw() -> None:
    """What may be expected there, on level ground."""
    (row,) = rows_of(wet_trail(40.0, {}))
    assert row["kind"] == "flow path"
    assert row["depth_now_m"] > 0.05
    assert (row["entry_deg"], row["exit_deg"]) == (0.0, 0.0)


def test_tagged_ford() -> None:
    """The tag's depth, risen; without a depth none is known, whatever the flow path."""
    (row,) = rows_of(wet_trail(40.0, {}, ford=True, depth_m=0.3))
    assert row["depth_now_m"] > 0.3
    (row,) = rows_of(wet_trail(40.0, {}, ford=True))
    assert np.isnan(row["depth_now_m"])


def test_every_place_beside_surveyed_water_has_its_own() -> None:
    """Two flow paths close to one water: the one that is not it is told as expected."""
    rows = rows_of(wet_trail(40.0, {}, {"at_m": 28.0, "from_m": 27.0, "to_m": 29.0}, obstacles=[water()]))
    assert len(rows) == 2
    assert all(row["depth_now_m"] > 0.0 for row in rows)


def test_no_crossings_stay_none() -> None:
    """An empty table is handed back."""
    site = wet_trail(40.0)
    assert isinstance(site.terrain.drainage, Drainage)
    assert rows_of(site) == []


def test_a_ford_that_nobody_places_has_no_slopes() -> None:
    """A tag says that there is one, not where: the slopes half way along say nothing of it."""
    (row,) = rows_of(site_on(straight(ford=True, depth_m=0.3), plane(east=0.1)))
    assert row["depth_now_m"] == 0.3
    assert np.isnan([row["entry_deg"], row["exit_deg"]]).all()
