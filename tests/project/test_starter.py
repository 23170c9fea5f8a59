"""The starter site is written whole, is the same every time, and has good settings."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio

from pipeline.errors import OutputError
from pipeline.project import read_project
from pipeline.project.starter import write_starter

MADE = {"site.toml", "trails.geojson", "obstacles.geojson", "terrain.asc", "terrain.prj"}


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a starter site once."""
    folder = tmp_path_factory.mktemp("starter") / "new" / "site"
    write_starter(folder)
    return folder


def test_its_settings_are_good(starter: Path) -> None:
    """It can be built at once, and everything it reads lies in its own folder."""
    project = read_project(starter / "site.toml")
    assert {path.name for path in project.inputs} >= MADE
    assert all(starter in path.parents for path in project.inputs)
    assert len(project.requests) == 2
    assert project.warnings == ()


def test_it_is_the_same_every_time(starter: Path, tmp_path: Path) -> None:
    """Byte for byte; the list of what was written is complete."""
    written = write_starter(tmp_path)
    assert {path for path in tmp_path.rglob("*") if path.is_file()} == set(written)
    for path in written:
        assert path.read_bytes() == (starter / path.relative_to(tmp_path)).read_bytes()


def test_the_terrain_lies_under_the_trails(starter: Path) -> None:
    """Other libraries read the files: the grid has its CRS and finite heights, and holds every trail and obstacle."""
    with rasterio.open(starter / "terrain.asc") as grid:
        assert grid.crs.to_epsg() == 32632
        heights = grid.read(1)
        bounds = grid.bounds
    assert np.isfinite(heights).all()
    assert 400 < heights.min() < heights.max() < 500
    for name in ("trails", "obstacles"):
        frame = gpd.read_file(starter / f"{name}.geojson").to_crs(32632)
        west, south, east, north = frame.total_bounds
        assert bounds.left < west < east < bounds.right
        assert bounds.bottom < south < north < bounds.top


def test_the_trails_meet(starter: Path) -> None:
    """Every trail ends at a junction that another trail ends at, so that there are loops; ids are unique."""
    features = json.loads((starter / "trails.geojson").read_text(encoding="utf-8"))["features"]
    ends = [
        tuple(end)
        for one in features
        for end in (one["geometry"]["coordinates"][0], one["geometry"]["coordinates"][-1])
    ]
    assert min(ends.count(end) for end in ends) >= 2
    assert len({one["properties"]["id"] for one in features}) == len(features) == 6


def test_a_folder_with_files_is_refused(tmp_path: Path) -> None:
    """Nobody's files are mixed with the starter's."""
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match="holds files already; allowed: a new or empty folder"):
        write_starter(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]
    with pytest.raises(OutputError, match="is a file"):
        write_starter(tmp_path / "notes.txt")


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    """A file in the way is told as an error of writing."""
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written: Not a directory"):
        write_starter(tmp_path / "file" / "site")
