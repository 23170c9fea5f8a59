"""A survey read from files to tables."""

import hashlib
import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import DataError, InputMissingError
from pipeline.survey.model import Network, Source
from pipeline.tables import NETWORK, NODES, OBSTACLES, REPAIRS, validate
from tests.survey.osm_files import xml
from tests.survey.worlds import CORNER, UTM, X, Y, at, spot, survey, write

GPX = """<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="t">
<trk><name>Walk</name><trkseg>{}</trkseg><trkseg><trkpt lat="48.75" lon="9.0"/></trkseg></trk></gpx>"""


def faults(*sources: Source, obstacles: tuple[Source, ...] = (), **parameters: object) -> str:
    """Read a survey that holds faults, and give them as text."""
    with pytest.raises(DataError) as raised:
        survey(sources, obstacles, **parameters)  # type: ignore[arg-type]
    return str(raised.value)


@pytest.fixture
def site(tmp_path: Path) -> tuple[Source, Source]:
    """Write a crossroads with a bridge over it, and its obstacles."""
    network = write(
        tmp_path / "trails.gpkg",
        [at((0, 0), (100, 0)), at((40, -50), (40, 50)), at((60, -50), (60, 50)), at((100, 1), (140, 30))],
        layer="trails",
        id=["A", "B", "C", None],
        width=["2.5 m", None, "3", None],
        bridge=[None, None, "yes", None],
        surveyed_on=["2025-05-31", None, None, None],
    )
    obstacles = write(
        tmp_path / "things.geojson",
        [spot(20, -1), spot(0, 2), spot(40, 30), spot(300, 300)],
        kind=["rock", "trailhead", "turnround", "muster"],
        name=[None, "Gate", "Top", "Meadow"],
        height_m=[0.35, None, None, None],
    )
    return network, obstacles


@pytest.fixture
def network(site: tuple[Source, Source]) -> Network:
    """Read that site."""
    return survey([site[0]], [site[1]], "Gate")


def test_tables_fit_their_contracts(network: Network) -> None:
    """All four tables fit, in the CRS of the network."""
    for table, contract in (
        (network.segments, NETWORK),
        (network.nodes, NODES),
        (network.obstacles, OBSTACLES),
        (network.repairs, REPAIRS),
    ):
        validate(table, contract)
        assert table.crs == network.crs
    assert network.crs.to_epsg() == 32632
    assert network.obstacles_surveyed


def test_segments(network: Network) -> None:
    """Crossings, the bridge, the closed gap and the turning place give these segments, worked by hand."""
    segments = network.segments.set_index("segment_id")
    assert segments.index[:6].tolist() == ["A-1", "A-2", "B-1", "B-2", "B-3", "C"]
    assert segments["length_m"].iloc[:6].tolist() == pytest.approx([40.0, 60.0, 50.0, 30.0, 20.0, 100.0])
    assert segments.loc["A-2", "width_m"] == 2.5
    assert segments.loc["C", "bridge"]
    assert segments.index[6].startswith("s")
    assert segments["node_b"].iloc[1] == segments["node_a"].iloc[6]


def test_obstacles(network: Network) -> None:
    """The rock lies on the first segment; the meadow is too far from all, and that is no repair."""
    rock, gate, top, meadow = network.obstacles.itertuples()
    assert (rock.obstacle_id, rock.segment_id, rock.chainage_m, rock.offset_m) == ("things-1", "A-1", 20.0, 1.0)
    assert gate.segment_id == "A-1"
    assert top.chainage_m in {0.0, 30.0}
    assert pd.isna(meadow.segment_id)
    assert "not attached" not in network.repairs["repair"].tolist()


def test_trailhead_and_turning_places(network: Network) -> None:
    """The trailhead is the node at the gate; there and at the turning place a vehicle can turn round."""
    nodes = network.nodes.set_index("node_id")
    assert nodes.loc[network.trailhead_node].geometry == spot(0, 0)
    assert nodes.loc[network.trailhead_node, "name"] == "Gate"
    turning = nodes[nodes["turn_round"]]
    assert sorted((point.x - X, point.y - Y) for point in turning.geometry) == [(0.0, 0.0), (40.0, 30.0)]


def test_inputs_are_never_changed(site: tuple[Source, Source]) -> None:
    """Reading leaves every byte of the files, and their folder, as they were."""

    def prints() -> dict[str, str]:
        folder = site[0].path.parent
        return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}

    before = prints()
    survey([site[0]], [site[1]], "Gate")
    assert prints() == before


def test_same_files_same_network(site: tuple[Source, Source], network: Network) -> None:
    """Reading twice gives equal tables."""
    again = survey([site[0]], [site[1]], "Gate")
    for name in ("segments", "nodes", "obstacles", "repairs"):
        pd.testing.assert_frame_equal(getattr(network, name), getattr(again, name))


def test_result_read_again_needs_no_repair(network: Network, tmp_path: Path) -> None:
    """The segments, written and read again, are the same network with nothing left to repair."""
    path = tmp_path / "again.gpkg"
    network.segments[["segment_id", "bridge", "geometry"]].to_file(path, layer="trails")
    again = survey([Source(path)])
    assert len(again.repairs) == 0
    assert again.segments["segment_id"].tolist() == network.segments["segment_id"].tolist()
    assert again.segments.geometry.tolist() == network.segments.geometry.tolist()


def test_obstacles_of_any_shape(tmp_path: Path) -> None:
    """A file of areas alone is read; one with areas and points needs a name, so that no hazard is passed over."""
    trails = write(tmp_path / "a.gpkg", [at((0, 0), (100, 0))], id=["A"])
    path = tmp_path / "o.gpkg"
    write(path, [spot(30, 0).buffer(4)], layer="ponds", kind=["water"], depth_m=["0.3"])
    network = survey([trails], [Source(path)])
    (pond,) = network.obstacles.itertuples()
    assert (pond.kind, pond.segment_id, pond.depth_m) == ("water", "A", 0.3)
    assert (pond.chainage_m, pond.length_m, pond.width_m) == pytest.approx((30.0, 8.0, 8.0))
    write(path, [spot(60, 0)], layer="rocks", kind=["rock"])
    assert "2 layers hold obstacles" in faults(trails, obstacles=(Source(path),))
    assert len(survey([trails], [Source(path, "ponds"), Source(path, "rocks")]).obstacles) == 2


def test_without_obstacles(site: tuple[Source, Source]) -> None:
    """No obstacle file leaves an empty table and says that nobody looked."""
    network = survey([site[0]])
    assert len(network.obstacles) == 0
    assert not network.obstacles_surveyed


def test_all_formats_in_one_network(tmp_path: Path) -> None:
    """GeoPackage, Shapefile, GeoJSON, GPX and OSM, in four CRSs, meet at one junction in the network's metric CRS."""
    rays = [
        at((0, 0), (100, 0)),
        at((0, 0), (0, 100)),
        at((0, 0), (-100, 0)),
        at((0, 0), (0, -100)),
        at((0, 0), (70, 70)),
    ]
    degrees = gpd.GeoSeries(rays, crs=UTM).to_crs(4326)
    sources = [
        write(tmp_path / "a.gpkg", rays[:1], id=["a"]),
        write(tmp_path / "b.shp", gpd.GeoSeries(rays[1:2], crs=UTM).to_crs(25833), crs="EPSG:25833", id=["b"]),
        write(tmp_path / "c.geojson", degrees.iloc[2:3], crs="EPSG:4326", id=["c"]),
    ]
    points = "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lon, lat in degrees.iloc[3].coords)
    (tmp_path / "d.gpx").write_text(GPX.format(points))
    nodes = [(number, *place) for number, place in enumerate(degrees.iloc[4].coords, start=1)]
    (tmp_path / "e.osm").write_text(xml(nodes, [(7, [1, 2], {"highway": "track"})]))
    network = survey([*sources, Source(tmp_path / "d.gpx"), Source(tmp_path / "e.osm")])
    assert network.crs.to_epsg() == 32632
    assert network.segments["segment_id"].tolist()[:3] == ["a", "b", "c"]
    assert network.segments["segment_id"].tolist()[4] == "7"
    assert network.nodes["degree"].max() == 5
    assert shapely.hausdorff_distance(network.segments.geometry, gpd.GeoSeries(rays)).max() < 0.5
    assert "a Point, not a line" in network.repairs["detail"].tolist()


def test_every_fault_of_every_file_at_once(tmp_path: Path) -> None:
    """Bad values, a missing CRS, a missing file, a bad obstacle and an unknown trailhead are told together, as data."""
    trails = write(
        tmp_path / "a.gpkg", [at((0, 0), (9, 0)), at((9, 0), (9, 90))], id=["A", "B"], width=["2850", "narrow"]
    )
    bare = write(tmp_path / "b.shp", [at((0, 0), (9, 0))], id=["B"])
    (tmp_path / "b.prj").unlink()
    things = write(tmp_path / "o.gpkg", [spot(1, 1)], kind=["roc"])
    text = faults(trails, bare, Source(tmp_path / "c.gpkg"), obstacles=(things,), trailhead="Gate")
    for part in (
        "a.gpkg:feature 1 (A): width = '2850'", "a.gpkg:feature 2 (B): width = 'narrow'",
        "b.shp: the coordinate reference system", "c.gpkg: no such file",
        "o.gpkg:feature 1: kind = 'roc'", "no place is called 'Gate'",
    ):  # fmt: skip
        assert part in text
    assert text.count("\n") == 5


def test_missing_files_alone(tmp_path: Path) -> None:
    """Missing files, and nothing else wrong, are missing input (status 66)."""
    with pytest.raises(InputMissingError) as raised:
        survey([Source(tmp_path / "a.gpkg")], [Source(tmp_path / "b.gpkg")])
    assert len(raised.value.faults) == 2


@pytest.mark.parametrize(
    ("shapes", "message"),
    [
        ([at((0, 0), (0, 0))], "all its points are in one place"),
        ([at((0, 0), (1, 0))], "its ends are one node"),
        ([None], "no geometry"),
    ],
)
def test_empty_network(tmp_path: Path, shapes: list[shapely.LineString | None], message: str) -> None:
    """A file that leaves no trail is a fault that says why."""
    text = faults(write(tmp_path / "a.gpkg", shapes, layer="t", id=["A"]))
    assert "no trail is left" in text
    assert message in text


def test_no_files() -> None:
    """No files at all are a fault, not a crash."""
    assert "no file" in faults()


def test_metres_without_crs_member(tmp_path: Path) -> None:
    """A GeoJSON in metres without a CRS member is refused with the way out."""
    path = tmp_path / "t.geojson"
    geometry = {"type": "LineString", "coordinates": [[X, Y], [X + 9, Y]]}
    path.write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": geometry}))
    assert "not degrees" in faults(Source(path))


def test_mixed_geojson(tmp_path: Path) -> None:
    """Mixed types, heights here and there, collections and empty geometries become plain lines, on the record."""
    line = [[9.0, 48.0], [9.001, 48.0, 300.0]]
    geometries = [
        {"type": "LineString", "coordinates": line},
        {
            "type": "MultiLineString",
            "coordinates": [[[9.0, 48.001], [9.001, 48.001]], [[9.0, 48.002], [9.001, 48.002]]],
        },
        {
            "type": "GeometryCollection",
            "geometries": [{"type": "LineString", "coordinates": [[9.0, 48.003], [9.001, 48.003]]}],
        },
        {"type": "Point", "coordinates": [9.0, 48.0]},
        {"type": "LineString", "coordinates": []},
        None,
    ]
    features = [
        {"type": "Feature", "id": number, "properties": {"width": [2, "2 m"][number % 2]}, "geometry": geometry}
        for number, geometry in enumerate(geometries)
    ]
    path = tmp_path / "t.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    corner = gpd.GeoSeries([shapely.Point(9.0, 48.0)], crs=4326).to_crs(UTM).iloc[0]
    network = survey([Source(path)], (), (corner.x, corner.y))
    assert len(network.segments) == 4
    assert not network.segments.geometry.has_z.any()
    assert network.segments["width_m"].tolist() == [2.0] * 4
    assert sorted(network.repairs["repair"]) == ["dropped", "dropped", "dropped", "exploded", "exploded"]


def test_geojson_survey_position_without_height(tmp_path: Path) -> None:
    """GDAL fills a height that a GeoJSON position lacks with 0: on a survey-grade line that is a fault."""
    path = tmp_path / "t.geojson"
    geometry = {"type": "LineString", "coordinates": [[9.0, 48.0], [9.001, 48.0, 300.0]]}
    path.write_text(json.dumps({"type": "Feature", "properties": {"profile": "survey"}, "geometry": geometry}))
    assert "1 of 2 vertices have no height" in faults(Source(path))


def test_stable_ids_over_a_resurvey(tmp_path: Path) -> None:
    """Own ids stay when every vertex moves by a third of a metre and another trail is added at the end."""
    rng = np.random.default_rng(3)
    shapes = [at((0, 0), (50, 5), (100, 0)), at((100, 0), (100, 80)), at((0, 0), (-30, 60))]
    moved = [shapely.transform(shape, lambda xy: xy + rng.uniform(-0.3, 0.3, xy.shape)) for shape in shapes]
    before = survey([write(tmp_path / "a.gpkg", shapes, id=["A", "B", "C"])])
    after = survey([write(tmp_path / "b.gpkg", [*moved, at((100, 80), (150, 80))], id=["A", "B", "C", "D"])])
    assert after.segments["segment_id"].tolist() == [*before.segments["segment_id"], "D"]


def test_clash_between_files_is_recorded(tmp_path: Path) -> None:
    """Two files with the same ids give unique ones, in the order of the files, and say so."""
    north = write(tmp_path / "north.gpkg", [at((0, 0), (9, 90))], id=[1])
    south = write(tmp_path / "south.gpkg", [at((0, 0), (9, -90))], id=[1])
    network = survey([north, south])
    assert network.segments["segment_id"].tolist() == ["1", "south:1"]
    assert network.repairs["repair"].tolist() == ["id changed"]


def test_named_trailhead_of_another_kind_splits_the_trail(tmp_path: Path) -> None:
    """A muster point named as the trailhead becomes a node of the network."""
    trails = write(tmp_path / "a.gpkg", [at((0, 0), (100, 0))], id=["A"])
    places = write(tmp_path / "o.gpkg", [spot(40, 30)], kind=["muster"], name=["Meadow"])
    network = survey([trails], [places], "Meadow")
    assert network.nodes.geometry[network.trailhead_node] == spot(40, 0)
    assert network.nodes["turn_round"][network.trailhead_node]


def shape_set(network: Network) -> list[tuple[tuple[float, float], ...]]:
    """List the segments' shapes whatever their direction and order, to the millimetre."""
    shapes = [np.round(np.array(shape.coords)[:, :2], 3) + 0.0 for shape in network.segments.geometry]
    return sorted(min(tuple(map(tuple, s.tolist())), tuple(map(tuple, s[::-1].tolist()))) for s in shapes)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_reversed_and_doubled_inputs_give_the_same_network(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    """Drawing lines the other way round, in another order, or twice, changes no segment and no node."""
    folder = tmp_path_factory.mktemp("doubled")
    rng = np.random.default_rng(seed)
    lines = [shapely.LineString(rng.uniform(0, 200, (3, 2)) + CORNER) for _ in range(7)]
    turned = [shapely.reverse(line) if rng.random() < 0.5 else line for line in lines]
    order = rng.permutation(7)
    start = lines[0].coords[0]
    plain = survey([write(folder / "a.gpkg", lines)], (), start)
    doubled = survey([write(folder / "b.gpkg", [turned[row] for row in order] + lines)], (), start)
    assert shape_set(plain) == shape_set(doubled)
    assert plain.nodes["degree"].tolist() == doubled.nodes["degree"].tolist()
    assert plain.trailhead_node == doubled.trailhead_node
