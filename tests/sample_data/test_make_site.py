"""The files of the sample site: the same each time, as large as promised, and with something of everything in them."""

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from numpy.typing import NDArray

from pipeline.survey.model import Network, Source, SurveyInputs, SurveyParameters
from pipeline.survey.network import read_survey
from pipeline.terms import ObstacleKind, Status
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Stations, TerrainParameters

FILES = ("elevation.tif", "obstacles.gpkg", "trails.gpkg")


@pytest.fixture(scope="module")
def network(committed: Path) -> Network:
    """Read the site as the survey stage does."""
    inputs = SurveyInputs(
        network=(Source(committed / "trails.gpkg"),),
        obstacles=(Source(committed / "obstacles.gpkg"),),
        trailhead="Hut yard",
    )
    return read_survey(inputs, SurveyParameters())


@pytest.fixture(scope="module")
def stations(network: Network, committed: Path) -> Stations:
    """Measure the site as the terrain stage does."""
    return measure_terrain(network, TerrainParameters(elevation=(committed / "elevation.tif",))).stations


def heights(folder: Path) -> NDArray[np.float32]:
    """Read the elevation model."""
    with rasterio.open(folder / "elevation.tif") as model:
        return np.asarray(model.read(1))


def test_the_script_makes_the_committed_heights(made: Path, committed: Path) -> None:
    """Heights are the same; a cell may round the other way where a machine's sine differs in its last digit."""
    difference = np.abs(heights(made) - heights(committed))
    assert difference.max() < 0.0101
    assert np.count_nonzero(difference) < 20


@pytest.mark.parametrize("file", ["trails.gpkg", "obstacles.gpkg"])
def test_the_script_makes_the_committed_features(made: Path, committed: Path, file: str) -> None:
    """Features are the same, attribute by attribute, and lie at the same centimetre."""
    new, old = gpd.read_file(made / file), gpd.read_file(committed / file)
    assert new.drop(columns="geometry").equals(old.drop(columns="geometry"))
    assert shapely.equals_exact(new.geometry.to_numpy(), old.geometry.to_numpy(), 0.0101).all()
    assert new.crs == old.crs


def test_the_script_makes_the_same_bytes(made: Path, committed: Path) -> None:
    """With the libraries that made the committed files, the files are the same to the last byte.

    Elsewhere another version of a compressor or of the GeoPackage driver may lay out the same content differently:
    then the tests above hold it to the content, and this one asks only for the same sizes within a tenth.
    """
    for file in FILES:
        new, old = (made / file).read_bytes(), (committed / file).read_bytes()
        assert new == old or abs(len(new) - len(old)) < 0.1 * len(old), file


def test_the_elevation_model_is_small_and_fine(committed: Path) -> None:
    """Cells of 1 m in a metric CRS over some 90 ha, tiled and compressed, under 5 MB, heights in whole centimetres."""
    path = committed / "elevation.tif"
    with rasterio.open(path) as model:
        assert model.crs.is_projected
        assert model.crs.linear_units == "metre"
        assert model.res == (1.0, 1.0)
        assert 80.0 < model.width * model.height / 10_000.0 < 110.0
        assert model.profile["tiled"]
        assert model.profile["compress"] == "deflate"
        z = model.read(1).astype(np.float64)
    assert path.stat().st_size < 5_000_000
    assert np.abs(z * 100.0 - np.round(z * 100.0)).max() < 0.01


def test_the_network_is_of_the_size_of_a_training_ground(network: Network) -> None:
    """70 segments at least, between 23 and 25 km of them, all reachable from the trailhead on foot."""
    segments = network.segments
    assert len(segments) >= 70
    assert 23_000.0 < segments["length_m"].sum() < 25_000.0
    parts = shapely.get_parts(shapely.line_merge(shapely.union_all(segments.geometry.to_numpy())))
    tree = shapely.STRtree(parts)
    seen, queue = {0}, [0]
    while queue:
        fresh = set(tree.query(parts[queue.pop()], predicate="dwithin", distance=0.01).tolist()) - seen
        seen |= fresh
        queue.extend(fresh)
    assert len(seen) == len(parts)


def test_obstacles_of_every_kind_lie_on_the_trails(network: Network) -> None:
    """60 obstacles at least, every kind among them, each attached to a segment."""
    obstacles = network.obstacles
    assert len(obstacles) >= 60
    assert set(obstacles["kind"]) == {kind.value for kind in ObstacleKind}
    assert obstacles["segment_id"].notna().all()


def test_the_survey_has_its_small_faults(network: Network) -> None:
    """A gap is closed, a trail recorded twice is dropped, one in two parts is taken apart, several lines are split."""
    repairs = network.repairs
    snaps = repairs.loc[repairs["repair"] == "snapped", "amount_m"]
    assert ((snaps > 0.75) & (snaps < 0.85)).any()
    assert repairs["repair"].isin(["dropped duplicate"]).sum() == 1
    assert repairs["repair"].isin(["exploded"]).sum() == 1
    assert repairs["repair"].isin(["split"]).sum() >= 5
    assert len(repairs) < 60


def test_there_is_something_of_everything(network: Network) -> None:
    """Closed, proposed, one-way, unsurveyed segments; two fords; a bridge over a trail; dead ends of both kinds."""
    segments, nodes = network.segments, network.nodes
    assert {status.value for status in Status} == set(segments["status"])
    assert (segments["oneway"] != 0).sum() >= 3
    assert 1 <= segments["surveyed_on"].isna().sum() <= 8
    assert segments["ford"].sum() == 2
    water = network.obstacles[network.obstacles["kind"] == ObstacleKind.WATER]
    assert (water["depth_m"] > 0.5).any()
    assert ((water["depth_m"] < 0.25) & (water["flow_m_s"] > 0.0)).any()
    bridges = segments[segments["bridge"]]
    below = segments[~segments["bridge"]]
    assert any(bridge.crosses(line) for bridge in bridges.geometry for line in below.geometry)
    assert (bridges["profile"] == "survey").all()
    assert bridges.geometry.has_z.all()
    dead_ends = nodes[nodes["degree"] == 1]
    assert dead_ends["turn_round"].any()
    assert not dead_ends["turn_round"].all()
    assert nodes.set_index("node_id").loc[network.trailhead_node, "name"] == "Hut yard"


def test_parallel_ways_join_the_same_junctions(network: Network) -> None:
    """Somewhere two segments join the same two nodes: a way round for who does not take the hard one."""
    pairs = [frozenset(pair) for pair in network.segments[["node_a", "node_b"]].itertuples(index=False)]
    assert len(pairs) - len(set(pairs)) >= 4


def test_grades_are_mixed(network: Network, stations: Stations) -> None:
    """Most of the way is gentle, a fair part is steep, and some pitches are as steep as a vehicle climbs."""
    grade = np.degrees(np.arctan(np.abs(stations.grade)))
    assert not np.isnan(grade).any()
    shares = [float(np.mean((grade >= low) & (grade < high))) for low, high in ((0, 8), (8, 15), (15, 25), (25, 35))]
    assert shares[0] > 0.5
    assert 0.1 < shares[1] < 0.35
    assert 0.05 < shares[2] < 0.2
    assert 0.005 < shares[3] < 0.05
    bridge = np.repeat(network.segments["bridge"].to_numpy(), np.diff(stations.offsets))
    assert grade[~bridge].max() < 42.0


def test_trails_are_terraced(stations: Stations) -> None:
    """The bed is nearly level across on steep ground: most of the way is under 8°, with off-camber stretches left."""
    side = np.degrees(np.arctan(np.abs(stations.cross)))
    assert np.mean(side < 8.0) > 0.85
    assert 0.01 < np.mean((side > 10.0) & (side < 26.0)) < 0.1


def test_brows_are_sharp_at_the_scale_of_a_vehicle(network: Network, stations: Stations) -> None:
    """On the trail with the sharpest brow the grade turns by more than 16° (a low car's breakover) within 3 m."""
    turns = []
    for row in network.segments.index[network.segments["name"] == "Cragfoot"]:
        part = slice(stations.offsets[row], stations.offsets[row + 1])
        at, grade = stations.chainage_m[part], np.degrees(np.arctan(stations.grade[part].astype(np.float64)))
        turns.append(float((np.interp(at - 1.5, at, grade) - np.interp(at + 1.5, at, grade)).max()))
    assert max(turns) > 16.0
    assert min(turns) < 16.0


def test_hairpins_are_tight_and_drivable(stations: Stations) -> None:
    """The tightest bends have a radius of 5 to 9 m over 4 m of line."""
    bends = np.abs(stations.curvature)
    tightest = 1.0 / np.array([bends[a:b].max() for a, b in zip(stations.offsets, stations.offsets[1:], strict=False)])
    assert ((tightest > 5.0) & (tightest < 9.0)).sum() >= 10
    assert (tightest > 4.5).all()
