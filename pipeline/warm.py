"""Compile the kernels of the later stages in a second process while the first stage compiles its own.

Compiling takes longer than all the work of a small site, and a build has to do it once after every installation. A
build that finds nothing compiled starts this module as a process of its own: it runs the checks and the loop search
over a tiny flat site and so leaves their compiled kernels in numba's cache, where the build finds them.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import numpy as np

from pipeline.analysis import Measured, judge, search
from pipeline.checks.rolling.poses import make_poses
from pipeline.ground.surface import ground_state
from pipeline.kernels.pose import sweep_into
from pipeline.project import read_project
from pipeline.project.starter import write_starter
from pipeline.survey.model import Network
from pipeline.survey.network import read_survey
from pipeline.technique.inventory import technique_table
from pipeline.terms import Basis
from pipeline.terrain.model import Profiles, Stations, Terrain
from pipeline.terrain.strip import level_strip

__all__ = ["compile_late_stages", "compiled_ahead", "flat_terrain"]

_SPACING_M = 0.5
_STEP_M = 0.1


@contextmanager
def compiled_ahead(versions: Mapping[str, str]) -> Iterator[Callable[[], None]]:
    """Have the kernels of the later stages compiled meanwhile, if they are not compiled yet.

    Parameters
    ----------
    versions
        What decides whether compiled kernels can be used again: versions of the code and of the libraries.

    Yields
    ------
    callable
        Waits until they are compiled; returns at once where they already were.
    """
    ready = _stamp(versions)
    if ready is None or ready.exists():
        yield _nothing
        return
    process = subprocess.Popen(  # noqa: S603 - this interpreter and this module
        [sys.executable, "-m", __name__],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield lambda: _note(ready, process.wait())
    finally:
        process.kill()
        process.wait()


def compile_late_stages() -> None:
    """Run the checks, the poses and the loop search over a tiny flat site, which compiles their kernels."""
    with tempfile.TemporaryDirectory() as folder:
        write_starter(Path(folder) / "site")
        project = read_project(Path(folder) / "site" / "site.toml")
        network = read_survey(project.survey, project.survey_parameters)
    terrain = flat_terrain(network)
    measured = Measured(terrain, ground_state(network, project.surfaces, project.wetness))
    judged = judge(project, network, measured)
    make_poses(judged.prepared, judged.verdicts)
    search(project, judged, technique_table(network, terrain, project.techniques))


def flat_terrain(network: Network) -> Terrain:
    """Lay a network on level ground, without any kernel.

    Parameters
    ----------
    network
        The network; only the lengths of its segments count.
    """
    length = network.segments["length_m"].to_numpy(np.float64)
    chainages = [np.linspace(0.0, metres, int(metres / _SPACING_M) + 2) for metres in length]
    samples = [int(metres / _STEP_M) + 1 for metres in length]
    places, count = sum(map(len, chainages)), len(length)
    zero = np.zeros(places, dtype=np.float32)
    stations = Stations(
        offsets=_offsets([len(chainage) for chainage in chainages]),
        chainage_m=np.concatenate(chainages),
        x=np.zeros(places),
        y=np.zeros(places),
        z=zero,
        bearing_rad=zero,
        grade=zero,
        cross=zero,
        curvature=zero,
        basis=np.full(places, Basis.DEM, dtype=np.uint8),
        cell_m=np.ones(places, dtype=np.float32),
    )
    profiles = Profiles(
        step_m=_STEP_M,
        offsets=_offsets(samples),
        start_m=np.zeros(count),
        segment=np.arange(count),
        own_from_m=np.zeros(count),
        own_to_m=length,
        z=np.zeros(sum(samples), dtype=np.float32),
        basis=np.full(sum(samples), Basis.DEM, dtype=np.uint8),
        piece_offsets=np.arange(count + 1),
        piece_segment=np.arange(count),
        piece_zero_m=np.zeros(count),
        piece_sign=np.ones(count, dtype=np.int64),
        piece_from_m=np.zeros(count),
        piece_to_m=length,
        strip=level_strip(_offsets(samples)),
    )
    return Terrain(stations, profiles)


def _offsets(counts: list[int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Give the offsets of ragged rows."""
    return np.concatenate(([0], np.cumsum(counts))).astype(np.int64)


def _stamp(versions: Mapping[str, str]) -> Path | None:
    """Name the file beside the compiled kernels that says they are all there; ``None`` with the compiler off."""
    stats = getattr(sweep_into, "stats", None)
    if stats is None or stats.cache_path is None:
        return None
    key = sha256(repr(sorted(versions.items())).encode()).hexdigest()[:16]
    return Path(stats.cache_path) / f"loopwright-{key}.compiled"


def _note(ready: Path, status: int) -> None:
    """Say beside the kernels that they are compiled, where that can be written."""
    if status == 0 and ready.parent.is_dir() and os.access(ready.parent, os.W_OK):
        ready.touch()


def _nothing() -> None:
    """Wait for nothing."""


if __name__ == "__main__":
    compile_late_stages()
