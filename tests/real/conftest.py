"""Open data on real ground, fetched once and read once for all tests here."""

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.survey.model import Network, Source, SurveyInputs, SurveyParameters
from pipeline.survey.network import read_survey
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Terrain, TerrainParameters
from tests.open_data import ALPINE, LIDAR, SRTM, STREETS, OpenDataError, Package, fetch
from tests.real.built import ROOT, Built, read
from tests.tools import need

TRAILHEAD = (676_000.0, 6_398_000.0)
"""A place in the middle of the town, UTM zone 32."""


@dataclass(frozen=True)
class Town:
    """A town's streets over the SRTM tile that covers four fifths of them."""

    network: Network
    terrain: Terrain
    parameters: TerrainParameters
    tile: Path

    @property
    def heights(self) -> NDArray[np.float64]:
        """The tile as its format says: 1201 × 1201 big-endian int16, rows from 58° N, columns from 11° E."""
        return np.fromfile(self.tile, dtype=">i2").reshape(1201, 1201).astype(np.float64)


def open_data(package: Package) -> dict[str, Path]:
    """Fetch a package, or skip with the reason."""
    try:
        return fetch(package)
    except OpenDataError as fault:
        need(condition=False, reason=f"open data: {fault}")
        raise


@pytest.fixture(scope="session")
def lidar_model() -> Path:
    """Lidar elevation model of 1 m."""
    return open_data(LIDAR)["dem.tif"]


@pytest.fixture(scope="session")
def alpine() -> tuple[Path, Path]:
    """Alpine elevation model in degrees, and the long trail over it."""
    files = open_data(ALPINE)
    return files["rmnp-dem.tif"], files["continental-div-trail.geojson"]


@pytest.fixture(scope="session")
def srtm_tile() -> Path:
    """SRTM tile of 3 seconds of arc."""
    return open_data(SRTM)["N57E011.hgt"]


@pytest.fixture(scope="session")
def streets_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Street network, 20,227 features of OpenStreetMap, under the name of its format."""
    path = tmp_path_factory.mktemp("streets") / "streets.geojson"
    path.symlink_to(open_data(STREETS)["large-network.json"])
    return path


@pytest.fixture(scope="session")
def survey_of() -> Callable[..., Network]:
    """Read one file of lines, without obstacles."""

    def survey(path: Path, trailhead: tuple[float, float], crs: str | None = None) -> Network:
        inputs = SurveyInputs(network=(Source(path),), obstacles=(), trailhead=trailhead)
        return read_survey(inputs, SurveyParameters(crs=crs))

    return survey


@pytest.fixture(scope="session")
def town(streets_file: Path, srtm_tile: Path, survey_of: Callable[..., Network]) -> Town:
    """Read and measure the streets, stations 5 m apart (cells are 50 × 93 m)."""
    network = survey_of(streets_file, TRAILHEAD)
    parameters = TerrainParameters(elevation=(srtm_tile,), station_spacing_m=5.0, profile_step_m=1.0)
    return Town(network, measure_terrain(network, parameters), parameters, srtm_tile)


@pytest.fixture(scope="session")
def site_built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build the sample site with the command, as a user does."""
    folder = tmp_path_factory.mktemp("site-build") / "products"
    command = [str(Path(sys.executable).with_name("loopwright")), "build", str(ROOT / "configs" / "site.toml")]
    done = subprocess.run(
        [*command, "--out", str(folder)], capture_output=True, text=True, timeout=300, check=False, cwd=folder.parent
    )
    assert done.returncode == 0, done.stderr
    assert "Rookscar training ground" in done.stdout
    return read(folder)
