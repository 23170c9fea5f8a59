"""Compile half of the kernels in a second process while the build compiles the other half.

Compiling takes longer than all the work of a small site, and a build has to do it once after every installation. A
build that finds nothing compiled starts this module as a process of its own: it works on a tiny flat site and so leaves
compiled kernels in numba's cache, where the build finds them. The halves take about the same time: the build itself
compiles what measures the terrain and, before it waits for the rest of the checks, what finds lines past tight places;
this module as a process compiles what leads water over the land, the side view, the four wheels, what stands a set-up
for a drawing, and the loop search, in the order in which the build comes to need them.
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

from pipeline.checks.obstacles import IN_PROFILE
from pipeline.checks.passing.choice import choose
from pipeline.checks.rolling.four_wheels import chassis_of, four_sweep_all, speed_of
from pipeline.checks.rolling.swept import sweep_all
from pipeline.checks.rolling.wheel_lines import wheel_lines
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.ground.state import ground_state
from pipeline.kernels.four_stand import stand
from pipeline.kernels.line_room import Asked, Middle, find_lines
from pipeline.kernels.loop_books import Net
from pipeline.kernels.loop_search import search
from pipeline.kernels.plan_records import Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import drive
from pipeline.kernels.pose import sweep_into
from pipeline.project import read_project
from pipeline.project.starter import write_starter
from pipeline.searching import setups_of
from pipeline.spread import serial
from pipeline.survey.model import Network
from pipeline.survey.network import read_survey
from pipeline.terms import Basis, Part
from pipeline.terrain.flow import fill_in
from pipeline.terrain.model import Profiles, Stations, Terrain
from pipeline.terrain.strip import level_strip

__all__ = ["compile_late_stages", "compile_lines", "compiled_ahead", "flat_terrain"]

CHECKS = "checks"
"""The stage before which the build compiles a part of its own, instead of waiting."""
LAST = "loops"
"""The last stage that anything is compiled for."""
_SPACING_M = 0.5
_STEP_M = 0.1


@contextmanager
def compiled_ahead(versions: Mapping[str, str]) -> Iterator[Callable[[str], None]]:
    """Have half of the kernels compiled meanwhile, if they are not compiled yet.

    Parameters
    ----------
    versions
        What decides whether compiled kernels can be used again: versions of the code and of the libraries.

    Yields
    ------
    callable
        Waits until those of a stage are compiled; returns at once where they already were.
    """
    ready = _stamp(versions)
    if ready is None or ready.exists():
        yield _nothing
        return
    process = subprocess.Popen(  # noqa: S603 - this interpreter and this module
        [sys.executable, "-m", __name__],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    with process:
        try:
            yield lambda stage: _until(stage, process, ready)
        finally:
            process.kill()


def _until(stage: str, process: "subprocess.Popen[str]", ready: Path) -> None:
    """Read what the process has compiled until it comes to a stage; note it when that was the last one."""
    if stage == CHECKS:
        compile_lines()
    for line in process.stdout or ():
        if line.strip() == stage:
            break
    if stage == LAST:
        _note(ready, process.wait())


def compile_late_stages() -> Iterator[str]:
    """Compile kernels on a tiny flat site, and yield the name of each stage whose part is done."""
    fill_in(np.zeros((3, 3), dtype=np.float32), np.arange(9))
    yield "drainage"
    with tempfile.TemporaryDirectory() as folder:
        write_starter(Path(folder) / "site")
        project = read_project(Path(folder) / "site" / "site.toml")
        network = read_survey(project.survey, project.survey_parameters)
    terrain = flat_terrain(network)
    scene = make_scene(CheckSite(network, terrain, ground_state(network, project.surfaces, project.weather)))
    envelope, limits = setups_of(project)[0], project.limits
    choice = choose(scene.things.of(*IN_PROFILE), envelope, limits)
    sweep_all(terrain.profiles, [choice], [envelope], limits, serial)
    four_sweep_all(scene, [choice], [envelope], limits, serial)
    yield CHECKS
    tyres = wheel_lines(terrain.profiles, terrain.stations, choice, envelope, limits).tyres()
    stand(tyres, chassis_of(envelope, limits), (0, 0), 0.0, speed_of(envelope, limits))
    yield "poses"
    search(_tiny_net(), 1, 0, 1.0, np.zeros(4, dtype=np.int64), 0)
    yield LAST


def compile_lines() -> None:
    """Compile what drives lines and searches them: a body of five boxes on eight metres of straight trail, one post."""
    boxes = Boxes(
        rear=np.array([2.0, 2.0, -0.4, -0.4, -1.0]),
        front=np.array([2.8, 2.8, 0.4, 0.4, 3.2]),
        right=np.array([0.6, -0.9, 0.6, -0.9, -0.9]),
        left=np.array([0.9, -0.6, 0.9, -0.6, 0.9]),
        low=np.array([0.0, 0.0, 0.0, 0.0, 0.3]),
        high=np.array([0.8, 0.8, 0.8, 0.8, 1.8]),
        part=np.array([Part.WHEEL, Part.WHEEL, Part.WHEEL, Part.WHEEL, Part.SILL], dtype=np.int64),
        wheelbase=2.4,
        lock=0.6,
    )
    along = np.arange(0.0, 8.25, _SPACING_M)
    zero, free = np.zeros(along.size), np.full((along.size, 2), np.inf)
    one, ends = np.array([1.0]), np.array([0, along.size])
    own = (np.full(along.size, np.nan), _SPACING_M, 0.0 * one, 8.0 * one)
    tracks = Tracks(ends, along, zero, zero, zero, free, free, np.ones_like(free), *own)
    at = (4.0 * one, 1.5 * one, 4.0 * one, 1.5 * one)
    post = Solids(np.array([0, 1]), *at, 0.1 * one, 0.0 * one, np.inf * one, 4.0 * one, 0.1 * one, np.array([0]))
    drive(boxes, tracks, post, 1.0)
    middle = Middle(zero, 0.3 * one, np.ones(1, dtype=np.bool_), np.ones((1, 2), dtype=np.bool_))
    find_lines(boxes, tracks, post, middle, Asked(1.0, 0.6, 0.15, 0.1, 6.0))


def _tiny_net() -> Net:
    """Lay out one arc that leaves the trailhead and comes back to it."""
    one = np.ones((1, 1), dtype=np.int64)
    arc = np.array([[10], [10], [10], [0], [10], [0], [1]])
    limits = np.array([0.0, 100.0, 0.0, 100.0, 100.0, 0.0, 1.0, 1.0, 1.0, 0.0])
    alone = np.zeros((3, 0), dtype=np.int64)
    return Net(
        np.array([0, 0, 1]),
        np.array([0]),
        arc,
        one,
        np.array([[0, 1]]),
        np.zeros(2, dtype=np.int64),
        alone,
        one[:0],
        one[:0],
        limits,
    )


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


def _nothing(_stage: str) -> None:
    """Wait for nothing."""


if __name__ == "__main__":
    for name in compile_late_stages():
        sys.stdout.write(f"{name}\n")
        sys.stdout.flush()
