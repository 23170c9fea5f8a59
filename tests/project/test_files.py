"""Files named by a site are found, and so is what is read with them."""

from pathlib import Path

import pytest

from pipeline.project.files import (
    config_path,
    entries,
    file_fault,
    named_files,
    source,
    starter_folder,
    with_companions,
)
from pipeline.settings import parse_document


def test_the_starter_has_all_settings_files() -> None:
    """What `loopwright new` copies and a bare site falls back on is complete."""
    names = {path.name for path in starter_folder().glob("*.toml")}
    assert {"surfaces.toml", "techniques.toml", "limits.toml", "loops.toml"} <= names
    assert list((starter_folder() / "vehicles").glob("*.toml"))


def test_settings_files_are_looked_for_in_order(tmp_path: Path) -> None:
    """Named, then beside the site, then the starter's."""
    plain = parse_document("", str(tmp_path / "site.toml"))
    assert config_path(plain, "limits") == starter_folder() / "limits.toml"
    (tmp_path / "limits.toml").write_text("")
    assert config_path(plain, "limits") == tmp_path / "limits.toml"
    named = parse_document('[configs]\nlimits = "a/b.toml"', str(tmp_path / "site.toml"))
    assert config_path(named, "limits") == tmp_path / "a" / "b.toml"


def test_files_are_found_in_settings_that_are_wrong_elsewhere() -> None:
    """Odd types are passed over; every path that is one is found, with its place."""
    document = parse_document(
        "setups = [3, { vehicle = 'v.toml' }, { vehicle = 4 }]\n"
        "[inputs]\nnetwork = ['a.gpkg:x', 3]\nelevation = 'dem.tif'\nobstacles = ['o.gpkg', '']\n"
        "[configs]\nlimits = 'l.toml'\nother = 'x'\nloops = 3\n",
        "folder/site.toml",
    )
    assert [(place, path.name) for place, path in named_files(document)] == [
        (("inputs", "network", 0), "a.gpkg"),
        (("inputs", "obstacles", 0), "o.gpkg"),
        (("setups", 1, "vehicle"), "v.toml"),
        (("configs", "limits"), "l.toml"),
    ]
    assert list(entries(document, "inputs", "nothing")) == []


@pytest.mark.parametrize(
    ("entry", "name", "layer"),
    [
        ("a.gpkg", "a.gpkg", None),
        ("a.gpkg:b", "a.gpkg", "b"),
        ("a.gpkg:", "a.gpkg", None),
        ("sub/a.gpkg:b c", "a.gpkg", "b c"),
    ],
)
def test_layers(tmp_path: Path, entry: str, name: str, layer: str | None) -> None:
    """`file:layer` is split at the last colon; paths come out absolute."""
    found = source(tmp_path, entry)
    assert (found.path.name, found.layer) == (name, layer)
    assert found.path.is_absolute()


def test_an_unreadable_file_is_told_where_it_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing rights are told before any stage stumbles over them."""
    document = parse_document("[inputs]\nnetwork = ['a.gpkg']\n", "site.toml")
    (tmp_path / "a.gpkg").write_text("")
    place = ("inputs", "network", 0)
    assert file_fault(document, place, tmp_path / "a.gpkg") is None
    monkeypatch.setattr("os.access", lambda *_: False)
    fault = file_fault(document, place, tmp_path / "a.gpkg")
    assert str(fault).startswith('site.toml:2: inputs.network[1] = "a.gpkg": cannot be read')


def test_what_is_read_with_a_file(tmp_path: Path) -> None:
    """A shapefile's other parts, a raster's world file, a mosaic's tiles: a change of any of them is a change."""
    for name in ("a.shp", "a.dbf", "a.prj", "b.tif", "b.tfw", "c.gpkg", "t1.tif", "t2.tif"):
        (tmp_path / name).write_text("")
    (tmp_path / "m.vrt").write_text(
        f'<VRTDataset><SourceFilename relativeToVRT="1">t1.tif</SourceFilename>'
        f"<SourceFilename shared='0'>{tmp_path}/t2.tif</SourceFilename>"
        f'<SourceFilename relativeToVRT="1" shared="0">gone.tif</SourceFilename></VRTDataset>'
    )

    def names(name: str) -> list[str]:
        return [path.name for path in with_companions(tmp_path / name)]

    assert names("a.shp") == ["a.shp", "a.dbf", "a.prj"]
    assert names("b.tif") == ["b.tif", "b.tfw"]
    assert names("c.gpkg") == ["c.gpkg"]
    assert names("m.vrt") == ["m.vrt", "t1.tif", "t2.tif"]
