"""The whole build on a real town over a real elevation model, and on the sample site: the folder of the contract."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest
from pyproj import Transformer
from shapely.geometry import shape

from pipeline.build import BuildOptions, build
from pipeline.project import read_project
from pipeline.terms import CheckName, Direction, Verdict
from tests.real.built import ROOT, TABLES, Built, read
from tests.real.conftest import Town
from tests.real.twin import Floats, bicubic, inner

CONTRACT = {
    *(f"{name}.parquet" for name in TABLES),
    *("map.html", "drive_sheet.html", "loops.gpx", "site.gpkg", "report.json", "changes.json", "changes.md"),
    *("manifest.json", "comparisons.html"),
}
"""Files of a build folder where set-ups are compared; the PDF sheet is there only with the extra for it."""
LAYERS = {"segments", "obstacles", "verdicts", "loops", "calls", "repairs"}
VEHICLE_SCALE = {CheckName.APPROACH, CheckName.BREAKOVER, CheckName.DEPARTURE, CheckName.BELLY}
"""Checks that a cell of 93 m can say nothing about."""
SETTINGS = """
[site]
name = "A town by the sea"
trailhead = [{x:.1f}, {y:.1f}]
crs = "EPSG:32632"
[inputs]
network = ["streets.geojson"]
elevation = ["{tile}"]
[terrain]
station_spacing_m = 2.0
dem_rmse_m = 3.8                      # 6.2 m for 90 % over Eurasia (Rodriguez 2006; from memory, not verified)
dem_correlation_m = 200.0             # assumed: a few posts
line_rmse_m = 3.0                     # traced from pictures; common practice, no source
[conditions]
wetness = "wet"
[[setups]]
name = "crossover"
vehicle = "{vehicle}"
driver = "practised"
[[loops]]
name = "Round the block"
objective = "safest"
length_m = [1000, 5000]
setups = ["crossover"]
[[comparisons]]
name = "soaked"
setup = "crossover"
wetness = "soaked"
[publish]
dir = "products"
"""


@pytest.fixture(scope="module")
def town_built(streets_file: Path, srtm_tile: Path, tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build the streets within a kilometre of the tile's edge at 12° E."""
    folder = tmp_path_factory.mktemp("town")
    streets = json.loads(streets_file.read_text(encoding="utf-8"))
    west, south, east, north = 11.982, 57.688, 12.012, 57.699
    near = [
        feature
        for feature in streets["features"]
        if (bounds := shape(feature["geometry"]).bounds)[0] > west
        and bounds[1] > south
        and bounds[2] < east
        and bounds[3] < north
    ]
    (folder / "streets.geojson").write_text(json.dumps({**streets, "features": near}), encoding="utf-8")
    line = next(f["geometry"]["coordinates"] for f in near if f["geometry"]["type"] == "LineString")
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:32632", always_xy=True).transform(*line[0])
    vehicle = ROOT / "configs" / "vehicles" / "marl.toml"
    settings = SETTINGS.format(tile=srtm_tile, vehicle=vehicle, x=x, y=y)
    (folder / "site.toml").write_text(settings, encoding="utf-8")
    for config in ("surfaces", "limits", "techniques", "loops"):
        (folder / f"{config}.toml").write_bytes((ROOT / "configs" / f"{config}.toml").read_bytes())
    build(read_project(folder / "site.toml"), BuildOptions(), lambda _: None)
    return read(folder / "products")


def assert_whole(built: Built) -> None:
    """Hold a build folder to the list of the contract; every file says something, every layer is there."""
    names = {path.name for path in built.folder.iterdir()}
    assert names >= CONTRACT
    assert names - CONTRACT <= {"drive_sheet.pdf"}
    assert all((built.folder / name).stat().st_size > 0 for name in CONTRACT)
    assert {str(name) for name in pyogrio.list_layers(built.folder / "site.gpkg")[:, 0]} >= LAYERS
    assert "planning aid" in (built.folder / "map.html").read_text(encoding="utf-8")


def assert_every_case_is_judged(built: Built) -> None:
    """Every segment has a verdict for every set-up in both directions, and a row of every check made behind it."""
    segments, verdicts, checks = (built.tables[name] for name in ("segments", "verdicts", "checks"))
    setups = verdicts["setup"].nunique()
    assert len(verdicts) == len(segments) * setups * len(Direction)
    assert not verdicts.duplicated(["segment_id", "setup", "direction"]).any()
    assert set(checks["check"]) <= {check.value for check in CheckName}
    per_case = checks.groupby(["segment_id", "setup", "direction"]).size()
    assert len(per_case) == len(verdicts)
    assert (per_case == per_case.iloc[0]).all()


@pytest.mark.open_data
def test_a_town_gives_the_whole_folder(town_built: Built) -> None:
    """A real network over a real elevation model gives every product, and every table keeps its contract."""
    assert_whole(town_built)
    assert_every_case_is_judged(town_built)
    assert len(town_built.tables["segments"]) > 300


@pytest.mark.open_data
def test_nothing_at_vehicle_scale_passes_on_coarse_cells(town_built: Built) -> None:
    """With cells of 93 m no angle and no clearance passes: unknown, or barred where the coarse ground is too much."""
    checks, verdicts = town_built.tables["checks"], town_built.tables["verdicts"]
    coarse = checks[checks["check"].isin([check.value for check in VEHICLE_SCALE])]
    assert len(coarse) == len(VEHICLE_SCALE) * len(verdicts)
    assert set(coarse["verdict"]) <= {Verdict.UNSURVEYED, Verdict.BARRED}
    assert (coarse["verdict"] == Verdict.UNSURVEYED).mean() > 0.9
    assert (coarse["reason"].str.len() > 0).all()
    assert set(verdicts["verdict"]) <= {Verdict.UNSURVEYED, Verdict.BARRED}


@pytest.mark.open_data
def test_coverage_ends_with_the_tile(town_built: Built) -> None:
    """East of 12° E, and on bridges and in tunnels, nothing is covered and nothing is known of the slope.

    The report says how much that is.
    """
    segments = town_built.tables["segments"]
    lines = segments.geometry.to_crs("EPSG:4326").bounds
    assert (segments.loc[lines["minx"] > 12.0 + 1e-6, "height_coverage"] == 0.0).all()
    streets = json.loads((town_built.folder.parent / "streets.geojson").read_text(encoding="utf-8"))["features"]
    ways = {one["id"]: one["properties"] for one in streets}
    tags = segments["segment_id"].str.replace(r"-\d+$", "", regex=True).map(ways)
    aloft = tags.map(lambda tag: any(tag.get(key, "no") != "no" for key in ("bridge", "tunnel")))
    west = lines["maxx"] < 12.0 - 1e-6
    assert (segments.loc[west & ~aloft, "height_coverage"] == 1.0).all()
    assert (segments.loc[west & aloft, "height_coverage"] == 0.0).all()
    beyond = segments.loc[lines["minx"] > 12.0 + 1e-6, "segment_id"]
    assert len(beyond) > 20
    checks = town_built.tables["checks"]
    rolled = checks[(checks["check"] == CheckName.ROLL) & checks["segment_id"].isin(beyond)]
    assert set(rolled["verdict"]) == {Verdict.UNSURVEYED}
    assert any("elevation model" in warning for warning in report(town_built)["warnings"])


@pytest.mark.open_data
def test_heights_and_grades_of_the_build_equal_the_twins(town_built: Built, town: Town) -> None:
    """In the products too: heights to 2 cm, every percentile of grade to 0.06°, flat where the tile is flat.

    Stations whose 16 posts are all a post clear of the tile's edge, and that have a height (no bridge, no tunnel).
    """
    stations = town_built.tables["stations"].dropna(subset=["z_m", "grade_deg"])
    x, y = stations["x"].to_numpy(), stations["y"].to_numpy()
    bearing = np.radians(stations["bearing_deg"].to_numpy())
    to_degrees = Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)

    def posts(ahead_m: float) -> tuple[Floats, Floats]:
        longitude, latitude = to_degrees.transform(x + ahead_m * np.sin(bearing), y + ahead_m * np.cos(bearing))
        return (np.asarray(longitude) - 11.0) * 1200.0, (58.0 - np.asarray(latitude)) * 1200.0

    column, row = posts(0.0)
    inside = inner(column + 1.0, row, town.heights.shape)
    height, ahead, behind = (
        bicubic(town.heights, place[0][inside], place[1][inside]) for place in map(posts, (0.0, 0.5, -0.5))
    )
    assert inside.sum() > 10_000
    assert np.abs(stations["z_m"].to_numpy()[inside] - height).max() < 0.02
    grade, shares = stations["grade_deg"].to_numpy()[inside], np.arange(0.0, 101.0)
    twin = np.degrees(np.arctan(ahead - behind))
    assert np.percentile(grade, shares) == pytest.approx(np.percentile(twin, shares), abs=0.06)
    level = np.abs(twin) < 0.05
    assert level.sum() > 50
    assert np.abs(grade[level]).max() < 0.15


@pytest.mark.open_data
def test_no_loop_is_offered_where_nothing_is_known(town_built: Built) -> None:
    """No street may be used, so there is no loop, and the report says why."""
    assert town_built.tables["loops"].empty
    assert town_built.tables["legs"].empty
    assert "Round the block" in json.dumps(report(town_built), ensure_ascii=False)


@pytest.mark.open_data
def test_the_fitness_table_says_that_the_tile_carries_nothing(town_built: Built) -> None:
    """One row a check, all of them refused, each with the cell that it has and the one that it would need.

    3″ of latitude are 92.6 m (a minute of arc is a nautical mile, 1852 m).
    """
    fitness, segments = town_built.tables["fitness"], town_built.tables["segments"]
    assert len(fitness) == fitness["check"].nunique() == 10
    assert set(fitness["support"]) == {"cannot"}
    assert fitness["cell_m"].to_numpy() == pytest.approx(92.6, rel=0.02)
    assert (fitness["needed_cell_m"] <= 5.0).all()
    assert fitness["reason"].str.match(r"a 9[0-9]\.0 m cell hides .*: at most [0-9.]+ m").all()
    covered = segments.loc[segments["height_coverage"] > 0.0, "length_m"].sum()
    assert fitness["length_m"].to_numpy() == pytest.approx(covered)


@pytest.mark.open_data
def test_what_no_model_carries_is_in_no_other_table(town_built: Built) -> None:
    """No drier ground frees a street, nobody is told where to stop, and only what is barred has a pose."""
    tables = town_built.tables
    assert not tables["comparisons"]["after"].isin([Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT]).any()
    assert tables["stopping"].empty
    posed = tables["poses"].merge(tables["verdicts"], on=["segment_id", "setup", "direction"])
    assert (posed["verdict"] == Verdict.BARRED).all()
    unknown = tables["checks"]["verdict"] == Verdict.UNSURVEYED
    assert (
        tables["checks"].loc[unknown, ["demand", "limit", "utilisation", "demand_sd", "p_over"]].isna().all(axis=None)
    )


def report(built: Built) -> dict[str, list[str]]:
    """Read the report of a build."""
    contents: dict[str, list[str]] = json.loads((built.folder / "report.json").read_text(encoding="utf-8"))
    return contents


def test_the_sample_site_gives_the_whole_folder(site_built: Built) -> None:
    """The README's first command gives every product of the contract."""
    assert_whole(site_built)
    assert_every_case_is_judged(site_built)


def test_the_sample_site_tells_its_story(site_built: Built) -> None:
    """Every verdict occurs; set-ups and directions differ: the site is worth planning for."""
    verdicts = site_built.tables["verdicts"]
    assert set(verdicts["verdict"]) == {verdict.value for verdict in Verdict}
    counts = pd.crosstab(verdicts["setup"], verdicts["verdict"])
    assert len(counts) >= 4
    assert (counts[Verdict.BARRED] > 0).all()
    passable = counts[[Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT]].sum(axis=1) / counts.sum(axis=1)
    assert passable.max() - passable.min() > 0.1
    by_setup = verdicts.pivot_table(
        index=["segment_id", "direction"], columns="setup", values="verdict", aggfunc=lambda v: v.iloc[0] == "barred"
    )
    assert (by_setup.any(axis=1) & ~by_setup.all(axis=1)).sum() > 20
    by_way = verdicts.pivot_table(
        index=["segment_id", "setup"], columns="direction", values="verdict", aggfunc=lambda v: v.iloc[0] == "barred"
    )
    assert (by_way["with"] != by_way["against"]).sum() > 5


def test_many_limits_decide_on_the_sample_site(site_built: Built) -> None:
    """No single check rules the hill: at least ten of them decide some verdict."""
    deciding = site_built.tables["verdicts"]["check"].dropna().unique()
    assert len(deciding) >= 10


def test_how_much_of_the_hill_each_may_drive(site_built: Built) -> None:
    """A guest's car finds a ground of its own; the short vehicle with the expert sees most of it, never all.

    A line beside the middle leads the 4x4 and the wagons past boulders, ruts and branches that would stop them on it.
    """
    verdicts = site_built.tables["verdicts"]
    fit = verdicts["verdict"].isin([Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT])
    share = fit.groupby(verdicts["setup"]).mean()
    assert 0.4 < share["crossover, first-timer"] < 0.55
    assert 0.45 < share["wagon bare, first-timer"] < 0.65
    assert 0.55 < share["wagon raised, roof load"] < 0.72
    assert 0.65 < share["4x4, practised"] < 0.8
    assert share["4x4, practised"] < share["short 4x4, expert"] < 0.85


def test_some_pitches_are_only_for_the_expert(site_built: Built) -> None:
    """Somewhere the short 4x4 with its expert may go where no other set-up may."""
    verdicts = site_built.tables["verdicts"]
    fit = verdicts.assign(fit=verdicts["verdict"].isin([Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT])).pivot_table(
        index=["segment_id", "direction"], columns="setup", values="fit", aggfunc="all"
    )
    alone = fit["short 4x4, expert"] & ~fit.drop(columns="short 4x4, expert").any(axis=1)
    assert alone.sum() >= 10
