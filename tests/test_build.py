"""A build from end to end on the starter site: what it writes, when it writes nothing, when it has nothing to do."""

import json
import re
import shutil
from importlib.util import find_spec
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest

from pipeline.build import BuildOptions, build, check
from pipeline.checks.rolling import run_blocks
from pipeline.errors import DataError, GateHeldError, InputMissingError
from pipeline.project import read_project
from pipeline.project.starter import write_starter
from pipeline.tables import Table, validate
from pipeline.terrain import measure
from tests.real.built import TABLES
from tests.tools import need

COMPARED = """
[[comparisons]]
name = "soaked, and a first-timer"
setup = "4x4, practised"
driver = "first-timer"
wetness = "soaked"
"""
"""A change that the starter site is compared under, so that every table has rows."""
PAGES = {
    "map.html",
    "comparisons.html",
    "drive_sheet.html",
    "loops.gpx",
    "site.gpkg",
    "report.json",
    "changes.json",
    "changes.md",
    "manifest.json",
}


def quiet(_line: str) -> None:
    """Take progress and say nothing."""


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the starter site once; do not change it."""
    folder = tmp_path_factory.mktemp("starter") / "site"
    write_starter(folder)
    with (folder / "site.toml").open("a", encoding="utf-8") as settings:
        settings.write(COMPARED)
    build(read_project(folder / "site.toml"), BuildOptions(out=folder / "out"), quiet)
    return folder


@pytest.fixture
def site(built: Path, tmp_path: Path) -> Path:
    """Copy the starter site with its build, to change."""
    shutil.copytree(built, tmp_path / "site", symlinks=True)
    return tmp_path / "site"


def read(folder: Path, table: Table) -> pd.DataFrame:
    """Read one table of a build folder."""
    path = folder / f"{table.name}.parquet"
    return pd.read_parquet(path) if table.geometry is None else gpd.read_parquet(path)


def test_the_folder_is_complete(built: Path) -> None:
    """Every file of the contract is there, and nothing else but the sheet that an extra brings."""
    names = {path.name for path in (built / "out").iterdir()} - {"drive_sheet.pdf"}
    assert names == PAGES | {f"{name}.parquet" for name in TABLES}


@pytest.mark.parametrize("name", list(TABLES))
def test_every_table_keeps_its_contract(built: Path, name: str) -> None:
    """A table read back from its file validates, and has rows; nobody of a group of one goes round anything."""
    frame = read(built / "out", TABLES[name])
    validate(frame, TABLES[name])
    assert (len(frame) > 0) == (name != "bypasses")


def test_the_manifest_names_inputs_and_stages(built: Path) -> None:
    """The manifest lists every input with its hash, and how long each stage took."""
    manifest = json.loads((built / "out" / "manifest.json").read_text(encoding="utf-8"))
    names = {Path(entry["file"]).name for entry in manifest["inputs"]}
    assert {"site.toml", "trails.geojson", "terrain.asc", "obstacles.geojson"} <= names
    assert list(manifest["timings_s"]) == [
        "inputs",
        "survey",
        "terrain",
        "drainage",
        "checks",
        "techniques",
        "poses",
        "comparisons",
        "outlooks",
        "loops",
        "calls",
        "relief",
        "products",
    ]


def test_an_unchanged_site_is_not_built_again(site: Path) -> None:
    """A second run says so and leaves the build as it is; --rerun builds, with the same tables."""
    project = read_project(site / "site.toml")
    before = (site / "out").resolve()
    report = build(project, BuildOptions(out=site / "out"), quiet)
    assert "nothing has changed" in report.lines[0]
    assert (site / "out").resolve() == before
    build(project, BuildOptions(out=site / "out", rerun=True), quiet)
    after = (site / "out").resolve()
    assert after != before
    assert_same_tables(before, after)


@pytest.fixture
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut even a small site into many blocks of work."""
    monkeypatch.setattr(measure, "BLOCK_M", 100.0)
    monkeypatch.setattr(run_blocks, "BLOCK_SAMPLES", 1000)


def assert_same_tables(one: Path, other: Path) -> None:
    """Hold every table of two builds equal to the last digit."""
    for table in TABLES.values():
        frames = (pd.DataFrame(read(folder, table)) for folder in (one, other))
        pd.testing.assert_frame_equal(*frames, check_exact=True, obj=table.name)


@pytest.mark.usefixtures("small_blocks")
def test_workers_give_the_same_tables(site: Path) -> None:
    """Two processes find in many blocks what one finds in one."""
    build(read_project(site / "site.toml"), BuildOptions(out=site / "two", workers=2), quiet)
    assert_same_tables(site / "out", site / "two")


@pytest.mark.usefixtures("small_blocks")
@pytest.mark.filterwarnings("ignore")  # the cluster library's own house keeping
def test_a_cluster_gives_the_same_tables(site: Path) -> None:
    """So do two workers of a scheduler, and each had its share of the blocks."""
    need(find_spec("distributed") is not None, "the extra [cluster] is not installed")
    from distributed import LocalCluster  # noqa: PLC0415 - an extra

    options = {"threads_per_worker": 1, "processes": False, "dashboard_address": None, "protocol": "tcp"}
    with LocalCluster(n_workers=2, **options) as cluster:
        address = cluster.scheduler_address
        build(read_project(site / "site.toml"), BuildOptions(out=site / "many", cluster=address), quiet)
        done = [worker.state.executed_count for worker in cluster.workers.values()]
    assert_same_tables(site / "out", site / "many")
    assert sum(done) > 20
    assert min(done) > 0


def test_a_changed_verdict_is_told(site: Path) -> None:
    """A rock that grew shows in the changes against the build that it replaces."""
    path = site / "obstacles.geojson"
    text = path.read_text(encoding="utf-8")
    grown, changed = re.subn(r'("kind": "rock".*?"height_m": )[0-9.]+', r"\g<1>0.6", text)
    assert changed == 1
    path.write_text(grown, encoding="utf-8")
    build(read_project(site / "site.toml"), BuildOptions(out=site / "out"), quiet)
    changes = json.loads((site / "out" / "changes.json").read_text(encoding="utf-8"))
    assert {change["segment_id"] for change in changes["verdicts"]} == {"T2"}
    assert all(change["new"] == "barred" for change in changes["verdicts"])


def test_faults_of_survey_and_elevation_are_told_together(site: Path) -> None:
    """A bad width and an elevation file without a CRS are two faults of one error; nothing is written."""
    path = site / "trails.geojson"
    trails = json.loads(path.read_text(encoding="utf-8"))
    trails["features"][0]["properties"]["width_m"] = "wide"
    path.write_text(json.dumps(trails), encoding="utf-8")
    (site / "terrain.prj").unlink()
    project = read_project(site / "site.toml")
    with pytest.raises(DataError) as caught:
        check(project, quiet)
    told = str(caught.value)
    assert "trails.geojson" in told
    assert "wide" in told
    assert "terrain.asc" in told
    assert len(caught.value.faults) == 2
    with pytest.raises(DataError):
        build(project, BuildOptions(out=site / "new"), quiet)
    assert not (site / "new").exists()
    assert not (site / "new.builds").exists()


def test_an_input_that_went_away_is_missing(site: Path) -> None:
    """A survey file deleted after the settings were read is a missing input."""
    project = read_project(site / "site.toml")
    (site / "trails.geojson").unlink()
    with pytest.raises(InputMissingError, match=r"trails\.geojson"):
        build(project, BuildOptions(out=site / "new"), quiet)


def test_a_gate_holds_a_suspicious_survey_back(site: Path) -> None:
    """Half the trails gone: the new build is held back and the old products stay."""
    path = site / "trails.geojson"
    trails = json.loads(path.read_text(encoding="utf-8"))
    trails["features"] = trails["features"][:3]
    path.write_text(json.dumps(trails), encoding="utf-8")
    before = (site / "out").resolve()
    with pytest.raises(GateHeldError, match="network_lost_share"):
        build(read_project(site / "site.toml"), BuildOptions(out=site / "out"), quiet)
    assert (site / "out").resolve() == before
    assert not [path for path in (site / "out.builds").iterdir() if path.name.startswith(".new")]


def test_check_says_what_it_found(site: Path) -> None:
    """A good site gives counts and builds nothing."""
    lines = check(read_project(site / "site.toml"), quiet)
    assert "no faults found" in lines[0]
    assert "6 segments" in lines[1]
