"""A site folder whose settings are good, and ways to spoil it."""

import shutil
from pathlib import Path

from pipeline.project.files import starter_folder

SITE = """\
[site]
name = "Hill"
trailhead = "Yard"

[inputs]
network = ["trails.gpkg:tracks", "more.geojson"]
elevation = ["dem.tif"]
obstacles = ["obstacles.gpkg"]

[terrain]
station_spacing_m = 0.5
dem_rmse_m = 0.1
line_rmse_m = 0.5
[conditions]
date = 2026-03-28
rain_mm = [0.0, 12.0]

[[setups]]
name = "long"
vehicle = "vehicles/tarn.toml"
loads = ["driver"]
driver = "practised"

[[setups]]
name = "short"
vehicle = "vehicles/wick.toml"
driver = "expert"

[[loops]]
name = "round"
objective = "safest"
length_m = [1000, 5000]
setups = ["long", "short"]

[publish]
dir = "out"
keep = 2
"""
"""A site file that is good as it stands; tests replace single lines of it."""

EMPTY = ("trails.gpkg", "more.geojson", "dem.tif", "obstacles.gpkg")
"""Inputs that only have to be there."""


def write_site(folder: Path, text: str = SITE) -> Path:
    """Write a site folder and give its site file."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in EMPTY:
        (folder / name).write_bytes(b"")
    shutil.copytree(starter_folder() / "vehicles", folder / "vehicles", dirs_exist_ok=True)
    path = folder / "site.toml"
    path.write_text(text, encoding="utf-8")
    return path


def spoilt(*changes: tuple[str, str]) -> str:
    """Give the site file with texts replaced; each must be there."""
    text = SITE
    for old, new in changes:
        if old not in text:
            message = f"not in the site file: {old}"
            raise LookupError(message)
        text = text.replace(old, new, 1)
    return text


def files_of(folder: Path) -> set[str]:
    """List everything below a folder, to show that nothing was written."""
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}
