"""The manifest names what went in and what came out; each reason to build again is found and named."""

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.errors import InputMissingError
from pipeline.rebuild.manifest import FORMAT, Recipe, read_manifest, recipe, stale_reasons, write_manifest

NOW = dt.datetime(2026, 3, 28, 6, 30, tzinfo=dt.UTC)
SETTINGS = {
    "site": {"name": "Hill", "date": dt.date(2026, 3, 28)},
    "loops": [{"name": "a"}, {"name": "b"}],
    "rain": [1, 2],
}


@pytest.fixture
def inputs(tmp_path: Path) -> list[Path]:
    """Two input files below a site folder."""
    folder = tmp_path / "site" / "data"
    folder.mkdir(parents=True)
    (folder / "dem.tif").write_bytes(b"heights")
    (folder / "trails.gpkg").write_bytes(b"trails")
    return [folder / "trails.gpkg", folder / "dem.tif"]


@pytest.fixture
def made(inputs: list[Path], tmp_path: Path) -> Recipe:
    """Gather what a build is made of."""
    return recipe(inputs, SETTINGS, root=tmp_path / "site")


@pytest.fixture
def folder(made: Recipe, tmp_path: Path) -> Path:
    """Write a build with a manifest."""
    folder = tmp_path / "build"
    (folder / "more").mkdir(parents=True)
    (folder / "map.html").write_bytes(b"map")
    (folder / "more" / "x.json").write_bytes(b"{}")
    write_manifest(folder, made, {"survey": 0.12345, "checks": 2.0}, now=NOW)
    return folder


def test_what_stands_in_it(folder: Path) -> None:
    """Inputs relative to the site, hashes as sha256sum gives them, stages in order, every product."""
    content = read_manifest(folder)
    assert content is not None
    assert list(content) == ["format", "built_at", "inputs", "settings", "versions", "products", "timings_s"]
    assert content["built_at"] == "2026-03-28T06:30:00+00:00"
    assert content["inputs"] == [
        {"file": "data/dem.tif", "bytes": 7, "sha256": hashlib.sha256(b"heights").hexdigest()},
        {"file": "data/trails.gpkg", "bytes": 6, "sha256": hashlib.sha256(b"trails").hexdigest()},
    ]
    assert [product["file"] for product in content["products"]] == ["map.html", "more/x.json"]
    assert content["timings_s"] == {"survey": 0.123, "checks": 2.0}
    assert content["settings"]["site"]["date"] == "2026-03-28"
    assert {"python", "numpy", "gdal (rasters)", "proj", "loopwright"} <= set(content["versions"])


def test_the_same_build_gives_the_same_bytes(folder: Path, made: Recipe) -> None:
    """Only the clock and the timings differ from run to run."""
    first = (folder / "manifest.json").read_bytes()
    shuffled = replace(made, versions=dict(reversed(made.versions.items())))
    write_manifest(folder, shuffled, {"survey": 0.12345, "checks": 2.0}, now=NOW)
    assert (folder / "manifest.json").read_bytes() == first


def test_nothing_changed_is_no_reason(folder: Path, made: Recipe) -> None:
    """A build that would come out the same is not made again."""
    assert stale_reasons(folder, made) == ()


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda made: replace(made, inputs=made.inputs[:1]), "input data/trails.gpkg is no longer used"),
        (
            lambda made: replace(made, inputs=(*made.inputs, {"file": "b", "bytes": 1, "sha256": "0"})),
            "input b is new",
        ),
        (
            lambda made: replace(made, inputs=({**made.inputs[0], "sha256": "0"}, made.inputs[1])),
            "input data/dem.tif has changed",
        ),
        (
            lambda made: replace(made, settings={**made.settings, "rain": [1, 3]}),
            "setting rain is [1, 3], was [1, 2]",
        ),
        (
            lambda made: replace(made, settings={**made.settings, "loops": [{"name": "a"}]}),
            "setting loops[2].name is not set, was b",
        ),
        (lambda made: replace(made, versions={**made.versions, "numpy": "9"}), "version of numpy is 9, was "),
    ],
)
def test_each_reason_of_what_goes_in(
    folder: Path, made: Recipe, change: Callable[[Recipe], Recipe], reason: str
) -> None:
    """Inputs, settings and versions: one change, one reason by name."""
    (found,) = stale_reasons(folder, change(made))
    assert found.startswith(reason)


def test_each_reason_of_what_came_out(folder: Path, made: Recipe, tmp_path: Path) -> None:
    """Products that are gone or were touched, a manifest that is gone, spoilt or of another layout, no build at all."""
    (folder / "map.html").write_bytes(b"MAP")
    assert stale_reasons(folder, made) == ("product map.html was changed by hand",)
    (folder / "map.html").unlink()
    assert stale_reasons(folder, made) == ("product map.html is gone",)
    path = folder / "manifest.json"
    path.write_text(json.dumps({**json.loads(path.read_text()), "format": 0}))
    assert stale_reasons(folder, made) == (f"the layout of the build folder is {FORMAT}, was 0",)
    for spoilt in ("{", "[]"):
        path.write_text(spoilt)
        assert stale_reasons(folder, made) == ("the earlier build has no manifest",)
    assert stale_reasons(None, made) == ("there is no earlier build",)
    assert read_manifest(tmp_path) is None


def test_touching_an_input_is_no_reason(folder: Path, inputs: list[Path], tmp_path: Path) -> None:
    """The content counts, not the clock of the file; a changed content counts."""
    inputs[0].touch()
    assert stale_reasons(folder, recipe(inputs, SETTINGS, root=tmp_path / "site")) == ()
    inputs[0].write_bytes(b"TRAILS")
    (reason,) = stale_reasons(folder, recipe(inputs, SETTINGS, root=tmp_path / "site"))
    assert reason == "input data/trails.gpkg has changed"


def test_an_input_that_has_gone(inputs: list[Path], tmp_path: Path) -> None:
    """A file that went away since the settings were read is a missing input."""
    inputs[0].unlink()
    with pytest.raises(InputMissingError, match=r"trails\.gpkg: cannot be read: No such file"):
        recipe(inputs, SETTINGS, root=tmp_path)
