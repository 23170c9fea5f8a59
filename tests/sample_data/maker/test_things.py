"""The survey of the sample site, with its deliberate faults."""

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
from maker.grid import EAST_M, NORTH_M
from maker.terraces import Bed, lay_beds
from maker.things import obstacles_layer, trails_layer
from maker.trails import Trail, cut_edges

BLEMISHES = {"gap": "A", "twice": "B", "parts": "C"}


def trail(name: str, y: float, **attributes: object) -> Trail:
    """Draw a trail of 100 m to the east."""
    line = shapely.segmentize(shapely.LineString([(100.0, y), (200.0, y)]), 1.0)
    return Trail(id=name, attributes={"width_m": 3.0, **attributes}, shape={}, line=line)


@pytest.fixture(scope="module")
def survey() -> tuple[list[Trail], list[Bed], gpd.GeoDataFrame]:
    """Three trails for the faults and a bridge surveyed with heights."""
    ground = np.tile(np.arange(1100.0), (900, 1)) * 0.1
    trails = [*(trail(name, 100.0 + 30.0 * i) for i, name in enumerate("ABC")), trail("D", 300.0, profile="survey")]
    beds = lay_beds(cut_edges(trails), ground)
    return trails, beds, trails_layer(trails, beds, BLEMISHES)


def test_faults_are_where_they_should_be(survey: tuple[list[Trail], list[Bed], gpd.GeoDataFrame]) -> None:
    """One line stops 0.8 m short, one is there twice and reversed, one is in two parts."""
    layer = survey[2].set_index("id")
    assert layer.geometry["A"].length == pytest.approx(99.2)
    assert layer.geometry["B-again"].coords[0] == layer.geometry["B"].coords[-1]
    assert len(layer.geometry["C"].geoms) == 2


def test_lines_are_placed_on_the_map(survey: tuple[list[Trail], list[Bed], gpd.GeoDataFrame]) -> None:
    """Metres from the corner become eastings and northings, to the centimetre."""
    line = survey[2].set_index("id").geometry["B"]
    assert line.coords[0] == (EAST_M + 100.0, NORTH_M + 130.0)


def test_only_levelled_lines_have_heights(survey: tuple[list[Trail], list[Bed], gpd.GeoDataFrame]) -> None:
    """``profile = "survey"`` comes with heights of the bed, 10 % here; the others are flat."""
    layer = survey[2].set_index("id")
    assert layer.geometry.has_z.to_dict() == {"A": False, "B": False, "C": False, "D": True, "B-again": False}
    x, _, z = np.array(layer.geometry["D"].coords).T
    inside = (x > EAST_M + 140.0) & (x < EAST_M + 160.0)
    assert np.polyfit(x[inside], z[inside], 1)[0] == pytest.approx(0.1, abs=0.005)


def test_obstacles_stand_right_of_the_line(
    survey: tuple[list[Trail], list[Bed], gpd.GeoDataFrame], tmp_path: Path
) -> None:
    """A positive offset is to the right of the drawn direction: south of a line to the east."""
    columns = "id,kind,trail,at_m,offset_m,name,height_m,length_m,width_m,clear_width_m,clear_height_m,depth_m"
    row = "O1,rock,A,40,1.5,,0.2,,,,,"
    (tmp_path / "obstacles.csv").write_text(f"{columns},flow_m_s,surveyed_on,note\n{row},,2026-04-18,\n", "utf-8")
    layer = obstacles_layer(survey[0], tmp_path)
    assert layer.geometry[0].coords[0] == (EAST_M + 140.0, NORTH_M + 98.5)
    assert layer.height_m[0] == 0.2
    assert layer.name.isna().all()
