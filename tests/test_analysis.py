"""What a build says of the inputs it was made from."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pipeline import analysis
from pipeline.project import Project, read_project
from pipeline.project.starter import write_starter
from pipeline.terrain.model import Terrain
from tests.checks.test_crossings import network, terrain
from tests.worlds import plane, surface_terrain


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Read the starter site."""
    folder: Path = tmp_path_factory.mktemp("starter") / "site"
    write_starter(folder)
    return read_project(folder / "site.toml")


def cells_of(cell_m: float) -> Terrain:
    """Lead water over cells of this side."""
    made = terrain(network())
    assert made.drainage is not None
    return replace(made, drainage=replace(made.drainage, cell_m=cell_m))


def test_cells_that_had_to_be_larger_are_told(project: Project) -> None:
    """As large as the settings want says nothing."""
    wanted = project.terrain.drainage_cell_m
    assert list(analysis._water_warnings(project, cells_of(wanted))) == []
    (said,) = analysis._water_warnings(project, cells_of(10.0))
    assert said.startswith("water was led over cells of 10 m")
    assert np.isclose(wanted, 3.0)


def test_no_elevation_model_is_told(project: Project) -> None:
    """Only the survey tells of water then."""
    (said,) = analysis._water_warnings(project, surface_terrain(network(), plane()))
    assert said.startswith("no elevation model")
