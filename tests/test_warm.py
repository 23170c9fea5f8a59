"""Kernels of the later stages are compiled in a second process, once, and never in the way of a build."""

import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Self

import numpy as np
import pytest

from pipeline import warm
from pipeline.checks.run import run_checks
from pipeline.checks.site import CheckSite
from pipeline.ground.state import ground_state
from pipeline.project import Project, read_project
from pipeline.project.starter import write_starter
from pipeline.survey.network import read_survey
from pipeline.terms import ObstacleKind
from pipeline.vehicle.envelope import make_envelope

VERSIONS = {"loopwright code": "abc", "numba": "1"}


class Process:
    """Stands for the second process."""

    def __init__(self, status: int) -> None:
        self.status = status
        self.started: list[list[str]] = []
        self.killed = False
        self.stdout: Iterator[str] = iter(())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        """End with the block."""

    def __call__(self, command: list[str], **_options: Any) -> "Process":  # noqa: ANN401 - any option
        """Note how it was started."""
        self.started.append(command)
        self.stdout = iter(("checks\n", "poses\n", "loops\n") if self.status == 0 else ("checks\n",))
        return self

    def wait(self) -> int:
        """End."""
        return self.status

    def kill(self) -> None:
        """Note that it was ended."""
        self.killed = True


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give numba's cache another folder."""
    monkeypatch.setattr(warm, "sweep_into", SimpleNamespace(stats=SimpleNamespace(cache_path=str(tmp_path))))
    return tmp_path


@pytest.fixture
def process(monkeypatch: pytest.MonkeyPatch) -> Iterator[Process]:
    """Let nothing be started for real."""
    stand_in = Process(0)
    monkeypatch.setattr(subprocess, "Popen", stand_in)
    return stand_in


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Read the starter site."""
    folder = tmp_path_factory.mktemp("starter") / "site"
    write_starter(folder)
    return read_project(folder / "site.toml")


def test_it_is_done_once(cache: Path, process: Process) -> None:
    """The first build starts the process and waits for it; the second finds the kernels compiled."""
    with warm.compiled_ahead(VERSIONS) as wait:
        assert process.started[0][1:] == ["-m", "pipeline.warm"]
        wait("loops")
    assert [path.suffix for path in cache.iterdir()] == [".compiled"]
    with warm.compiled_ahead(VERSIONS) as wait:
        wait("loops")
    assert len(process.started) == 1


def test_a_stage_waits_for_its_own_kernels_alone(cache: Path, process: Process) -> None:
    """What later stages need is still being compiled when an earlier one goes on; only the last notes the end."""
    with warm.compiled_ahead(VERSIONS) as wait:
        wait("checks")
        assert next(process.stdout) == "poses\n"
        assert not list(cache.iterdir())
        wait("loops")
        assert next(process.stdout, None) is None
    assert len(list(cache.iterdir())) == 1


def test_other_code_is_compiled_again(cache: Path, process: Process) -> None:
    """A change of the code or of a library asks for a new compilation."""
    for versions in (VERSIONS, VERSIONS | {"numba": "2"}):
        with warm.compiled_ahead(versions) as wait:
            wait("loops")
    assert len(process.started) == 2
    assert len(list(cache.iterdir())) == 2


def test_a_failed_compilation_is_tried_again(cache: Path, process: Process) -> None:
    """When the second process fails the build goes on, and the next one tries again."""
    process.status = 1
    with warm.compiled_ahead(VERSIONS) as wait:
        wait("poses")
        wait("loops")
    assert not list(cache.iterdir())


def test_an_error_of_the_build_ends_it(cache: Path, process: Process) -> None:
    """A build that fails leaves no process behind."""
    with pytest.raises(ValueError, match="stage"), warm.compiled_ahead(VERSIONS):
        raise ValueError("stage")
    assert process.killed
    assert not list(cache.iterdir())


def test_with_the_compiler_off_nothing_is_started(monkeypatch: pytest.MonkeyPatch, process: Process) -> None:
    """Plain Python functions have nothing to compile."""
    monkeypatch.setattr(warm, "sweep_into", lambda: None)
    with warm.compiled_ahead(VERSIONS) as wait:
        wait("loops")
    assert not process.started


def test_the_module_runs_as_a_process(project: Project) -> None:
    """What the process does runs to its end on the starter site, in the order in which a build waits for it."""
    assert project.requests
    assert list(warm.compile_late_stages()) == ["drainage", "checks", "poses", "loops"]


def test_flat_ground_asks_nothing(project: Project) -> None:
    """On the level terrain that stands in for a measured one, no angle, slope or climb asks anything but obstacles."""
    surveyed = read_survey(project.survey, project.survey_parameters)
    dry = surveyed.obstacles[surveyed.obstacles["kind"] != ObstacleKind.WATER.value]  # whose bed reaches over the node
    network = replace(surveyed, obstacles=dry)
    terrain = warm.flat_terrain(network)
    assert terrain.stations.offsets[-1] == len(terrain.stations.chainage_m)
    assert terrain.profiles.offsets[-1] == len(terrain.profiles.z)
    ends = terrain.stations.chainage_m[terrain.stations.offsets[1:] - 1]
    np.testing.assert_allclose(ends, network.segments["length_m"])
    ground = ground_state(network, project.surfaces, project.weather)
    envelopes = [make_envelope(one.vehicle, one.choice) for one in project.setups]
    checks = run_checks(CheckSite(network, terrain, ground), envelopes, project.limits)
    slopes = checks[checks["check"].isin(["roll", "pitch_over", "climb", "descent"])]
    bare = slopes[~slopes["segment_id"].isin(network.obstacles["segment_id"])]
    assert len(bare) > 0
    assert (bare["utilisation"] == 0.0).all()
