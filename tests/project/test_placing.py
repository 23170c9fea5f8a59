"""Faults of the stages, told in the user's terms."""

from pathlib import Path

import pytest

from pipeline.errors import Fault
from pipeline.project import Project, placed, read_project
from pipeline.project.starter import write_starter
from pipeline.survey.findings import SITE_SETTINGS


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """Read the starter site, with a second file of trails and a layer named."""
    write_starter(tmp_path)
    for folder in ("north", "south"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "paths.gpkg").write_bytes(b"")
    text = (tmp_path / "site.toml").read_text(encoding="utf-8")
    files = '["trails.geojson", "north/paths.gpkg:a", "south/paths.gpkg:b"]'
    (tmp_path / "site.toml").write_text(text.replace('["trails.geojson"]', files), encoding="utf-8")
    return read_project(tmp_path / "site.toml")


def line(project: Project, text: str, after: str = "") -> int:
    """Find the line of the site file that holds a text, below another."""
    lines = project.path.read_text(encoding="utf-8").splitlines()
    first = next(n for n, one in enumerate(lines) if after in one)
    return next(n for n, one in enumerate(lines, 1) if n > first and text in one)


@pytest.mark.parametrize(
    ("place", "text", "after", "key"),
    [
        ("[site] trailhead", "trailhead", "", "site.trailhead"),
        ("[site] crs", "[site]", "", "site.crs"),
        ('[[loops]] "Quiet round" setups', "setups", "Quiet round", "loops[1].setups"),
        ('[[loops]] "Practice round" length_m', "length_m", "Practice round", "loops[2].length_m"),
        ('[[loops]] "Practice round" must', "[[loops]]", "Quiet round", "loops[2].must"),
    ],
)
def test_settings_get_their_line(project: Project, place: str, text: str, after: str, key: str) -> None:
    """A key that stands there gives its line, one that does not the line of its table."""
    (fault,) = placed([Fault(SITE_SETTINGS, place, "odd", "even", "add one")], project)
    assert str(fault) == f"{project.path}:{line(project, text, after)}: {key}: odd; allowed: even; add one"


@pytest.mark.parametrize("place", ['[[loops]] "No such round" must', "somewhere", ""])
def test_a_place_that_is_not_there(project: Project, place: str) -> None:
    """What cannot be found keeps the words of the stage, under the name of the site file."""
    (fault,) = placed([Fault(SITE_SETTINGS, place, "odd")], project)
    assert fault == Fault(project.path, place, "odd")


def test_survey_files_get_their_path(project: Project) -> None:
    """With the layer where one was named; a bare name that two files share stays as it is."""
    names = ("trails.geojson", "paths.gpkg:a", "paths.gpkg:b", "paths.gpkg", "elsewhere.tif")
    files = [str(fault.file) for fault in placed([Fault(name, "feature 7", "odd") for name in names], project)]
    folder = str(project.path.parent)
    assert files == [
        f"{folder}/trails.geojson",
        f"{folder}/north/paths.gpkg:a",
        f"{folder}/south/paths.gpkg:b",
        "paths.gpkg",
        "elsewhere.tif",
    ]


def test_paths_below_the_working_folder_are_short(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody wants to read the path of the folder they stand in."""
    monkeypatch.chdir(project.path.parent)
    faults = [Fault(SITE_SETTINGS, "[site] trailhead", "odd"), Fault(project.path.parent / "terrain.asc", "", "odd")]
    assert [str(fault.file) for fault in placed(faults, project)] == ["site.toml", "terrain.asc"]
