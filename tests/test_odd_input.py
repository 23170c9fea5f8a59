"""Odd but usable input: the command copes, and says what is missing or was left out; nothing passes in silence.

The worlds of ``tests/test_broken_input.py`` are broken; these here are only unusual.
"""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely
from pyproj import Transformer
from rasterio.transform import Affine
from scipy import ndimage

from pipeline.cli import run
from pipeline.project.starter import write_starter
from pipeline.terms import Verdict

UTM = 32632
AT_YARD = ('"Yard"', "[612060.0, 5262070.0]")
YARD = (612_060.0, 5_262_070.0)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a starter site, to be copied."""
    folder = tmp_path_factory.mktemp("starter") / "site"
    write_starter(folder)
    return folder


@pytest.fixture
def site(starter: Path, tmp_path: Path) -> Path:
    """Give a starter site to change."""
    return Path(shutil.copytree(starter, tmp_path / "site"))


def settings(site: Path, *changes: tuple[str, str]) -> None:
    """Replace texts in the site file."""
    text = (site / "site.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (site / "site.toml").write_text(text, encoding="utf-8")


def changed(path: Path, change: Callable[[dict[str, Any]], object]) -> None:
    """Change every feature of a GeoJSON file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    for feature in data["features"]:
        change(feature)
    path.write_text(json.dumps(data), encoding="utf-8")


def lines(site: Path, *shapes: shapely.LineString) -> None:
    """Put other trails in place of the starter's."""
    frame = gpd.GeoDataFrame({"id": [f"L{k}" for k in range(len(shapes))]}, geometry=list(shapes), crs=UTM)
    frame.to_file(site / "t.gpkg", layer="t")
    settings(site, ("trails.geojson", "t.gpkg"))


def terrain(site: Path) -> tuple[np.ndarray, Affine]:
    """Read the starter's terrain."""
    with rasterio.open(site / "terrain.asc") as source:
        return source.read(1), source.transform


def elevation(path: Path, heights: np.ndarray, transform: Affine, crs: int = UTM, unit: str | None = None) -> str:
    """Write an elevation model and give its name."""
    about = {"count": 1, "height": heights.shape[0], "width": heights.shape[1], "dtype": "float32", "nodata": -9999}
    with rasterio.open(path, "w", driver="GTiff", crs=f"EPSG:{crs}", transform=transform, **about) as target:
        target.write(heights.astype("float32"), 1)
        if unit is not None:
            target.units = (unit,)
    return path.name


def check(site: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Check a site that has no fault and give what is said."""
    assert run(["check", str(site / "site.toml")]) == 0
    return capsys.readouterr().out


def build(site: Path, capsys: pytest.CaptureFixture[str]) -> tuple[pd.DataFrame, str]:
    """Build a site and give its verdicts and the summary."""
    assert run(["build", str(site / "site.toml"), "--out", str(site.parent / "out")]) == 0
    return pd.read_parquet(site.parent / "out" / "verdicts.parquet"), capsys.readouterr().out


# ---- what is missing is told


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ([("elevation =", "# elevation =")], "warning: No elevation model was given"),
        ([("obstacles =", "# obstacles ="), AT_YARD], "warning: No obstacles were surveyed"),
        ([("rain_mm = [0, 4, 0, 0, 2, 0, 0]", "")], "warning: No rain and no wetness were given"),
        ([("dem_rmse_m = 0.1", "")], "warning: The error of the elevation model was not given"),
    ],
)
def test_what_the_settings_leave_open(
    site: Path, changes: list[tuple[str, str]], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A site without heights, obstacles, weather or error is no fault, and is told."""
    settings(site, *changes)
    assert said in check(site, capsys)


def test_no_heights_is_unsurveyed(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a model no slope is known: nothing may be driven, and no loop is made up."""
    settings(site, ("elevation =", "# elevation ="))
    verdicts, out = build(site, capsys)
    assert set(verdicts["verdict"]) == {"unsurveyed"}
    assert "have no height along 907 m: outside the elevation models" in out
    assert "Quiet round: No allowed segment leads away from the trailhead" in out
    for name in ("poses", "stopping", "fitness", "comparisons", "loops"):
        assert pd.read_parquet(site.parent / "out" / f"{name}.parquet").empty
    passings = pd.read_parquet(site.parent / "out" / "passings.parquet")
    assert set(passings["passing"]) == {"straddle", "unsurveyed"}, "nobody knows what a wheel climbs there"


def test_features_left_out_are_named(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A trail without a geometry, or with words for coordinates, is named by its own id."""
    changed(
        site / "trails.geojson",
        lambda f: f.update(geometry=None) if f["properties"]["id"] == "T6" else None,
    )
    assert "warning: trails.geojson, feature 5: left out, T6 has no geometry, or a broken one" in check(site, capsys)


def test_an_empty_obstacle_file_is_told(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It may mean that there are none; it may mean that the wrong file was exported."""
    (site / "obstacles.geojson").write_text('{"type": "FeatureCollection", "features": []}', encoding="utf-8")
    settings(site, AT_YARD)
    assert "warning: The obstacle files hold no obstacle" in check(site, capsys)


def test_unknown_surfaces_are_told(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A word that no class knows, with the number of segments that have it."""
    changed(site / "trails.geojson", lambda f: f["properties"].update(surface="marshmallow"))
    assert "warning: 6 segments: no class of the surfaces file has the surface 'marshmallow'" in check(site, capsys)


# ---- odd networks


@pytest.mark.parametrize(
    ("shapes", "segments"),
    [
        ([[YARD, (612_160, 5_262_170)]], 1),
        ([[YARD, (612_160, 5_262_170), (612_160, 5_262_070), (612_060, 5_262_170)]], 3),
        ([shapely.Point(612_110, 5_262_120).buffer(70).exterior.coords], 2),
        ([[YARD, (612_160, 5_262_170)], [(612_300, 5_262_300), (612_310, 5_262_310)]], 2),
    ],
    ids=["a single line", "crossing itself", "a ring alone", "an island"],
)
def test_odd_networks_build(site: Path, shapes: list[Any], segments: int, capsys: pytest.CaptureFixture[str]) -> None:
    """One line, a line across itself, nothing but a ring, parts that nothing joins: no loop is made up."""
    lines(site, *(shapely.LineString(shape) for shape in shapes))
    settings(site, AT_YARD)
    verdicts, out = build(site, capsys)
    assert verdicts["segment_id"].nunique() == segments
    assert "Quiet round: No " in out


def test_the_same_survey_twice(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two files with the same lines and ids are one network, and the repairs say so."""
    shutil.copy(site / "trails.geojson", site / "more.geojson")
    settings(site, ('["trails.geojson"]', '["trails.geojson", "more.geojson"]'))
    out = check(site, capsys)
    assert "6 segments, 0.91 km" in out
    assert "6 repairs would be made to the survey: 6 dropped duplicate" in out


def test_ids_that_two_files_share(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Other lines with the same ids keep ids of their own."""
    changed(
        site / "trails.geojson",
        lambda f: f["geometry"].update(coordinates=[[x + 0.001, y] for x, y in f["geometry"]["coordinates"]]),
    )
    (site / "trails.geojson").rename(site / "more.geojson")
    write_starter(site.parent / "again")
    shutil.copy(site.parent / "again" / "trails.geojson", site / "trails.geojson")
    settings(site, ('["trails.geojson"]', '["trails.geojson", "more.geojson"]'))
    verdicts, _ = build(site, capsys)
    assert verdicts["segment_id"].nunique() == 16


@pytest.mark.parametrize(
    "crs", [3857, "+proj=tmerc +lat_0=47 +lon_0=10 +units=us-ft +datum=WGS84"], ids=["web Mercator", "US survey feet"]
)
def test_networks_in_unfit_crs(site: Path, crs: int | str, capsys: pytest.CaptureFixture[str]) -> None:
    """Lengths are true metres whatever the network came in: 0.91 km, as in the UTM zone."""
    trails = gpd.read_file(site / "trails.geojson", columns=["id", "name", "surface", "width"])
    trails.to_crs(crs).to_file(site / "t.gpkg", layer="t")
    settings(site, ("trails.geojson", "t.gpkg"))
    assert "6 segments, 0.91 km" in check(site, capsys)


def test_weird_names_go_through(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Names of files, trails and places with markup, colons, quotes, blanks and other scripts."""
    names = iter(["<script>alert(1)</script>", "../../x\\y", "=1+1", "\u202etxt 森", "a/b:c", "q\"'&amp;"])
    changed(site / "trails.geojson", lambda f: f["properties"].update(name=next(names)))
    (site / "trails.geojson").rename(site / "my träils: (old) #1%20&.geojson")
    settings(site, ("trails.geojson", "my träils: (old) #1%20&.geojson"), ('"Starter hill"', "'<b>&\"Hill'"))
    verdicts, _ = build(site, capsys)
    assert verdicts["segment_id"].nunique() == 6
    page = (site.parent / "out" / "map.html").read_text(encoding="utf-8")
    assert "<script>alert(1)" not in page
    assert '<b>&"Hill' not in page


# ---- odd elevation models


def test_model_in_feet(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Named in the file, feet are read as feet (0.3048 m, international yard and pound agreement of 1959)."""
    heights, place = terrain(site)
    metres, _ = build(site, capsys)
    name = elevation(site / "feet.tif", heights / 0.3048, place, unit="ft")
    settings(site, ("terrain.asc", name))
    feet, _ = build(site, capsys)
    assert feet["verdict"].tolist() == metres["verdict"].tolist()
    assert feet["utilisation"].to_numpy() == pytest.approx(metres["utilisation"].to_numpy(), abs=0.005)


def test_model_in_degrees(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A geographic grid is read where it lies; all trails keep their heights."""
    heights, place = terrain(site)
    cell = 1e-5
    longitude, latitude = np.meshgrid(10.487 + cell * np.arange(500), 47.506 - cell * np.arange(400))
    x, y = Transformer.from_crs(4326, UTM, always_xy=True).transform(longitude, latitude)
    at = [(place.f - y) - 0.5, (x - place.c) - 0.5]
    degrees = ndimage.map_coordinates(heights.astype("float64"), at, order=3, cval=-9999.0)
    into = Affine(cell, 0, 10.487 - cell / 2, 0, -cell, 47.506 + cell / 2)
    settings(site, ("terrain.asc", elevation(site / "degrees.tif", degrees, into, crs=4326)))
    _, out = build(site, capsys)
    assert "100% with heights" in out


def test_two_models_of_different_cells(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fine in the north, 10 m cells elsewhere: every trail has heights, those on coarse cells stay unsurveyed."""
    heights, _ = terrain(site)
    fine = elevation(site / "fine.tif", heights[:160], Affine(1, 0, 612_000, 0, -1, 5_262_320))
    coarse = elevation(site / "coarse.tif", heights[5::10, 5::10], Affine(10, 0, 612_000, 0, -10, 5_262_320))
    settings(site, ('"terrain.asc"', f'"{fine}", "{coarse}"'))
    verdicts, out = build(site, capsys)
    assert "100% with heights" in out
    by_segment = verdicts.groupby("segment_id")["verdict"].agg(set)
    assert by_segment["T1"] == {"unsurveyed"}
    assert "unsurveyed" not in by_segment["T5"]


# ---- what is not known never makes anything better


@pytest.fixture(scope="module")
def as_it_is(starter: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the starter site as it is."""
    folder = tmp_path_factory.mktemp("plain") / "out"
    assert run(["build", str(starter / "site.toml"), "--out", str(folder), "--quiet"]) == 0
    return folder


def near_trails(site: Path) -> np.ndarray:
    """Distance of every cell of the starter's terrain from the nearest trail, m."""
    trails = gpd.read_file(site / "trails.geojson").to_crs(UTM).union_all()
    x, y = np.meshgrid(612_000.5 + np.arange(320), 5_262_319.5 - np.arange(320))
    away: np.ndarray = shapely.distance(trails, shapely.points(x.ravel(), y.ravel())).reshape(320, 320)
    return away


def voids_beside(site: Path) -> None:
    """Leave a model that is known on the trails and nowhere else, as under trees that a clearing follows."""
    heights, place = terrain(site)
    away = near_trails(site)
    settings(site, ("terrain.asc", elevation(site / "v.tif", np.where(away < 1.0, heights, -9999.0), place)))


def ends_in_the_east(site: Path) -> None:
    """Cut the model off where some trails go on."""
    heights, _ = terrain(site)
    east = elevation(site / "e.tif", heights[:, 110:], Affine(1, 0, 612_110, 0, -1, 5_262_320))
    settings(site, ("terrain.asc", east))


def on_bridges(site: Path) -> None:
    """Carry two trails over the ground."""
    ids = {"T3", "T5"}
    changed(site / "trails.geojson", lambda f: f["properties"]["id"] in ids and f["properties"].update(bridge="yes"))


def bare_obstacles(site: Path) -> None:
    """Leave of the obstacles what and where they are."""
    keep = ("id", "kind", "name")
    changed(site / "obstacles.geojson", lambda f: f.update(properties={k: f["properties"].get(k) for k in keep}))


def surveyed_without_model(site: Path) -> None:
    """Give the lines heights of their own, and no model of the ground beside them."""

    def lift(feature: dict[str, Any]) -> None:
        points = enumerate(feature["geometry"]["coordinates"])
        feature["geometry"]["coordinates"] = [[*point[:2], 430.0 + 0.05 * k] for k, point in points]
        feature["properties"]["profile"] = "survey"

    changed(site / "trails.geojson", lift)
    settings(site, ("elevation =", "# elevation ="))


@pytest.mark.parametrize(
    ("take_away", "unknown"),
    [
        (voids_beside, {"T1", "T2", "T3", "T4", "T5", "T6"}),
        (ends_in_the_east, {"T5", "T6"}),
        (on_bridges, {"T3", "T5"}),
        (bare_obstacles, {"T2", "T5"}),
        (surveyed_without_model, {"T1", "T2", "T3", "T4", "T5", "T6"}),
    ],
)
def test_less_known_is_never_better(
    take_away: Callable[[Path], None],
    unknown: set[str],
    site: Path,
    as_it_is: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Every verdict is as bad as before or worse, or it may not be driven; what lost its ground may not be."""
    take_away(site)
    verdicts, _ = build(site, capsys)
    keys, columns = ["segment_id", "direction"], ["verdict", "check"]
    both = verdicts[keys + columns].merge(pd.read_parquet(as_it_is / "verdicts.parquet")[keys + columns], on=keys)
    assert len(both) == 12
    rank = {verdict.value: verdict.rank for verdict in Verdict}
    shut = both["verdict_x"].isin(["unsurveyed", "barred"])
    assert (shut | (both["verdict_x"].map(rank) >= both["verdict_y"].map(rank))).all()
    assert shut[both["segment_id"].isin(unknown)].all()
    checks = pd.read_parquet(site.parent / "out" / "checks.parquet")
    open_ = checks[checks["verdict"] == "unsurveyed"]
    assert open_[["demand", "limit", "utilisation", "demand_sd", "p_over"]].isna().all(axis=None)
    assert (open_["reason"].str.len() > 0).all()


def fitness_of(site: Path) -> pd.DataFrame:
    """Read the fitness table of the build beside a site, by check."""
    return pd.read_parquet(site.parent / "out" / "fitness.parquet").set_index("check")


def test_the_fitness_of_ground_that_is_void_beside_the_trail(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A model of fine cells carries nothing where nobody can be stood on it."""
    voids_beside(site)
    build(site, capsys)
    assert set(fitness_of(site)["support"]) == {"cannot"}
    assert fitness_of(site)["reason"].str.contains("without heights|lack ground").all()


@pytest.mark.parametrize(
    ("cell", "lost"),
    [(2, {"approach", "breakover", "departure", "belly", "articulation", "roll"}), (20, "all")],
)
def test_coarse_models_say_what_they_cannot_carry(
    cell: int, lost: set[str] | str, site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cells of 2 m hide all that is as small as a vehicle, of 20 m slopes too: the same in checks and fitness."""
    heights, _ = terrain(site)
    places = np.arange(cell // 2, 320, cell)
    coarse = elevation(site / "c.tif", heights[np.ix_(places, places)], Affine(cell, 0, 612_000, 0, -cell, 5_262_320))
    settings(site, ("terrain.asc", coarse))
    build(site, capsys)
    fitness = fitness_of(site)
    wanted = set(fitness.index) if lost == "all" else lost
    assert set(fitness.index[fitness["support"] == "cannot"]) == wanted
    assert fitness.loc[list(wanted), "reason"].str.startswith(f"a {cell}.0 m cell hides ").all()
    checks = pd.read_parquet(site.parent / "out" / "checks.parquet")
    verdicts = checks[checks["check"].isin(fitness.index)].groupby("check")["verdict"].agg(set)
    assert {check for check in verdicts.index if verdicts[check] <= {"unsurveyed", "barred"}} == wanted


def test_tiles_that_meet_along_a_trail_are_one_model(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A trail with one tile on its left and one on its right is judged as on the whole."""
    path = [YARD, (612_060, 5_262_200), (612_200, 5_262_200)]
    lines(site, shapely.LineString(path))
    settings(site, AT_YARD)
    whole, _ = build(site, capsys)
    heights, place = terrain(site)
    west = elevation(site / "w.tif", heights[:, :60], place)
    east = elevation(site / "e.tif", heights[:, 60:], Affine(1, 0, 612_060, 0, -1, 5_262_320))
    settings(site, ('"terrain.asc"', f'"{west}", "{east}"'))
    tiles, _ = build(site, capsys)
    assert tiles["verdict"].tolist() == whole["verdict"].tolist()
    assert tiles["utilisation"].to_numpy() == pytest.approx(whole["utilisation"].to_numpy(), abs=0.02, nan_ok=True)


def test_errors_as_large_as_can_be_said(site: Path, as_it_is: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Errors of 30 m of heights and lines: nothing is better than with small ones, and nothing that leans is ample."""
    settings(site, ("dem_rmse_m = 0.1", "dem_rmse_m = 30.0"), ("line_rmse_m = 0.5", "line_rmse_m = 30.0"))
    build(site, capsys)
    checks, small = (pd.read_parquet(out / "checks.parquet") for out in (site.parent / "out", as_it_is))
    rank = {verdict.value: verdict.rank for verdict in Verdict}
    assert (checks["verdict"].map(rank) >= small["verdict"].map(rank)).all()
    lean = checks[checks["check"].isin(["roll", "pitch_over", "belly", "breakover"])]
    assert set(lean["verdict"]) <= {"spot", "barred"}
    assert set(fitness_of(site)["support"]) == {"doubtful"}


def test_a_trail_shorter_than_any_vehicle(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two metres between two junctions are judged on the ground round them, and nothing breaks."""
    a, b = (612_100.0, 5_262_100.0), (612_101.4, 5_262_101.4)
    ends = [
        (YARD, a),
        (a, (612_130.0, 5_262_070.0)),
        (a, b),
        (b, (612_150.0, 5_262_150.0)),
        (b, (612_090.0, 5_262_150.0)),
    ]
    lines(site, *(shapely.LineString(pair) for pair in ends))
    settings(site, AT_YARD, ("snap_m = 2.0", "snap_m = 0.5"))
    verdicts, _ = build(site, capsys)
    assert verdicts["segment_id"].nunique() == 5
    checks = pd.read_parquet(site.parent / "out" / "checks.parquet").set_index(["segment_id", "check"])
    assert set(checks.loc[("L2", "roll"), "verdict"]) == {"ample"}


# ---- comparisons


COMPARED = """
[[comparisons]]
name = {name}
setup = {setup}
wetness = "soaked"
driver = "first-timer"
"""


def test_comparisons_without_a_loop(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody has to ask for a loop to see what rain does."""
    text = (site / "site.toml").read_text(encoding="utf-8")
    kept = text[: text.index("[[loops]]")] + text[text.index("[publish]") :]
    more = COMPARED.format(name='"rain"', setup='"4x4, practised"')
    (site / "site.toml").write_text(kept + more, encoding="utf-8")
    build(site, capsys)
    table = pd.read_parquet(site.parent / "out" / "comparisons.parquet")
    assert set(table["comparison"]) == {"rain"}
    assert (site.parent / "out" / "comparisons.html").is_file()


def test_weird_names_of_set_ups_and_comparisons(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Markup, formulas, templates and quotes stand in the pages as text, and in the tables as they are."""
    setup = "</script><img src=x onerror=alert(1)>{{7*7}} %s \"'`"
    name = "=cmd|'/C calc'!A1</style><b>&{#-"
    written = json.dumps(setup)
    text = (site / "site.toml").read_text(encoding="utf-8").replace('"4x4, practised"', written)
    (site / "site.toml").write_text(text + COMPARED.format(name=json.dumps(name), setup=written), encoding="utf-8")
    build(site, capsys)
    out = site.parent / "out"
    pages = [path.read_text(encoding="utf-8") for path in sorted(out.glob("*.html"))]
    assert len(pages) == 3
    for page in pages:
        assert "<img src=x" not in page
        assert "</style><b>" not in page
        assert "49 %s" not in page
    tables = {
        name: pd.read_parquet(out / f"{name}.parquet") for name in ("poses", "stopping", "fitness", "comparisons")
    }
    assert all(set(table["setup"]) == {setup} for table in tables.values())
    assert set(tables["comparisons"]["comparison"]) == {name}


# ---- folders


def test_from_another_folder_the_site_stays_as_it_is(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From elsewhere, with relative paths: new, check, vehicle, build with --out, compare; the site is not touched."""
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    before = {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}
    for path in [*site.rglob("*"), site]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    assert run(["new", "mine"]) == 0
    assert run(["check", "../site/site.toml"]) == 0
    assert run(["vehicle", "../site/vehicles/tarn.toml"]) == 0
    assert run(["build", "../site/site.toml", "--out", "out"]) == 0
    assert run(["build", "mine/site.toml"]) == 0
    assert run(["compare", "out", "mine/site-build"]) == 0
    assert "0 of 12 verdicts changed" in capsys.readouterr().out
    assert {path: path.read_bytes() for path in site.rglob("*") if path.is_file()} == before
    for path in [site, *site.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
