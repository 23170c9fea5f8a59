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
