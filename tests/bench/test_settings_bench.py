"""What finding lines and hashing inputs cost, against the reader and the hash they stand beside."""

import hashlib
import tomllib
from pathlib import Path
from typing import Any

from pipeline.rebuild.manifest import recipe
from pipeline.settings.locate import locate
from tests.project.worlds import SITE

LARGE = SITE + "".join(f'[[loops]]\nname = "l{n}"\nlength_m = [1, {n}]\nsetups = ["long"]\n' for n in range(2000))


def test_locating_keys(benchmark: Any) -> None:  # noqa: ANN401 - the plugin's fixture
    """The locator walks a large file; `tomllib` reads the same text below."""
    lines = benchmark(locate, LARGE)
    assert lines.line(("loops", 2000, "name")) is not None


def test_locating_keys_peer(benchmark: Any) -> None:  # noqa: ANN401 - the plugin's fixture
    """The peer: the standard library's reader on the same text."""
    assert len(benchmark(tomllib.loads, LARGE)["loops"]) == 2001


def test_hashing_inputs(benchmark: Any, tmp_path: Path) -> None:  # noqa: ANN401 - the plugin's fixture
    """A 20 MB input is hashed; the bare hash of the same bytes is the peer below."""
    path = tmp_path / "dem.tif"
    path.write_bytes(bytes(range(256)) * 80_000)
    assert benchmark(recipe, [path], {}, root=tmp_path).inputs[0]["bytes"] == 20_480_000


def test_hashing_inputs_peer(benchmark: Any) -> None:  # noqa: ANN401 - the plugin's fixture
    """The peer: the hash alone."""
    assert len(benchmark(hashlib.sha256, bytes(range(256)) * 80_000).hexdigest()) == 64
