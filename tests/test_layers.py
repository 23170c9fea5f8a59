"""Imports point one way, rasters open in one place, only the command knows its library, help loads nothing heavy."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tools import need

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "pipeline"


def test_layers_point_one_way() -> None:
    """The contracts of pyproject.toml hold."""
    need((Path(sys.executable).parent / "lint-imports").exists(), "import-linter's command is not installed")
    done = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def sources() -> list[Path]:
    """List every module of the package."""
    return sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize(
    ("pattern", "allowed"),
    [
        (r"^\s*(?:import click|from click)", r"cli\.py"),
        (r"rasterio\.open|rasterio import open", r"terrain/dem\w*\.py"),
        (r"^\s*except Exception|^\s*except:|except BaseException", r"$^"),
        (r"^\s*assert ", r"$^"),
        (r"^\s*global ", r"$^"),
        (r"fastmath\s*=\s*True", r"$^"),
    ],
)
def test_what_stands_in_one_place_only(pattern: str, allowed: str) -> None:
    """Only cli.py knows the command-line library, only terrain/dem opens rasters; the rest is nowhere."""
    odd = [
        str(path.relative_to(ROOT))
        for path in sources()
        if re.search(pattern, path.read_text(encoding="utf-8"), re.MULTILINE)
        and not re.fullmatch(allowed, path.relative_to(PACKAGE).as_posix())
    ]
    assert odd == []


def test_kernels_see_arrays_only() -> None:
    """Kernels import numba, numpy, math and each other."""
    pattern = re.compile(r"^\s*(?:from|import) ([\w.]+)", re.MULTILINE)
    for path in sorted((PACKAGE / "kernels").glob("*.py")):
        found = {name.split(".")[0] for name in pattern.findall(path.read_text(encoding="utf-8"))}
        own = {name for name in pattern.findall(path.read_text(encoding="utf-8")) if name.startswith("pipeline")}
        assert found <= {"numba", "numpy", "math", "typing", "pipeline", "__future__", "collections"}, path.name
        assert all(name.startswith("pipeline.kernels") for name in own), path.name


@pytest.mark.parametrize("path", sources(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_modules_stay_small(path: Path) -> None:
    """No module is longer than 400 lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


HEAVY = ("numpy", "pandas", "geopandas", "pydantic", "numba", "rasterio", "shapely", "pyogrio", "networkx", "folium")
HELP = """
import sys
from pipeline.cli import run
status = run({arguments!r})
heavy = [name for name in {heavy!r} if name in sys.modules]
print("heavy:", heavy, file=sys.stderr)
sys.exit(status)
"""


@pytest.mark.parametrize("command", [[], ["build"], ["check"], ["vehicle"], ["compare"], ["new"]])
def test_help_loads_nothing_heavy(command: list[str]) -> None:
    """Help answers before any library of the job is imported."""
    code = HELP.format(arguments=[*command, "--help"], heavy=HEAVY)
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Usage: loopwright" in done.stdout
    assert done.stderr.strip() == "heavy: []"
