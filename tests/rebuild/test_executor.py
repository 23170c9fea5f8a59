"""Whoever does the work, the results are the same, in the order of the blocks."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from pipeline.errors import DataError, Fault, PipelineError, SettingsError
from pipeline.rebuild import executor
from pipeline.rebuild.executor import workers
from pipeline.spread import serial
from tests.tools import need

BLOCKS = [(seed, 200 + 50 * (seed % 3)) for seed in range(12)]


def block_sum(block: tuple[int, int]) -> bytes:
    """Compute something that would show a wrong order or a wrong bit."""
    seed, size = block
    return np.random.default_rng(seed).normal(size=size).cumsum().tobytes()


def refuse(_: tuple[int, int]) -> bytes:
    """Raise the way a stage does."""
    raise DataError([Fault("a.gpkg", "feature 1", "empty"), Fault("a.gpkg", "feature 2", "empty")])


def die(_: tuple[int, int]) -> bytes:
    """End the worker process as a lack of memory would."""
    os._exit(9)


def test_one_worker_is_this_process() -> None:
    """Nothing is started for one worker."""
    with workers(1) as mapper:
        assert mapper is serial


def test_a_pool_gives_what_serial_gives() -> None:
    """Bit for bit, in order; and the pool is used again and again."""
    with workers(2) as mapper:
        assert mapper(block_sum, BLOCKS) == serial(block_sum, BLOCKS)
        assert mapper(block_sum, iter(BLOCKS[:3])) == serial(block_sum, BLOCKS[:3])
        assert mapper(block_sum, []) == []
        with pytest.raises(DataError) as caught:
            mapper(refuse, BLOCKS)
        assert len(caught.value.faults) == 2
        with pytest.raises(PipelineError, match="--workers:2: a worker process died; if memory ran out, use fewer"):
            mapper(die, BLOCKS)


def test_a_cluster_without_its_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    """The way to install it is told."""

    def missing(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(executor, "import_module", missing)
    with (
        pytest.raises(SettingsError, match=r"needs the extra \[cluster\]; pip install 'loopwright\[cluster\]'"),
        workers(cluster="tcp://127.0.0.1:1"),
    ):
        pytest.fail("there is no cluster")


@pytest.fixture
def no_warnings() -> Iterator[None]:
    """Let the cluster library warn about its own house keeping."""
    import warnings  # noqa: PLC0415 - only here

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


@pytest.mark.usefixtures("no_warnings")
def test_an_address_where_nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong address is a fault of the settings, told soon."""
    need(_installed("distributed"), "the extra [cluster] is not installed")
    monkeypatch.setattr(executor, "_ANSWER_S", 0.5)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(SettingsError, match="no scheduler answers there"), workers(cluster=address):
        pytest.fail("there is no cluster")


@pytest.mark.usefixtures("no_warnings")
def test_a_cluster_gives_what_serial_gives() -> None:
    """Over two workers of a scheduler that runs already; errors arrive whole; other versions are refused."""
    need(_installed("distributed"), "the extra [cluster] is not installed")
    from distributed import LocalCluster  # noqa: PLC0415 - an extra

    options = {"threads_per_worker": 1, "processes": False, "dashboard_address": None, "protocol": "tcp"}
    with LocalCluster(n_workers=2, **options) as cluster, workers(cluster=cluster.scheduler_address) as mapper:
        assert mapper(block_sum, BLOCKS) == serial(block_sum, BLOCKS)
        with pytest.raises(DataError) as caught:
            mapper(refuse, BLOCKS[:1])
        assert len(caught.value.faults) == 2
    with (
        LocalCluster(n_workers=0, **options) as cluster,
        pytest.raises(SettingsError, match="the scheduler has no workers"),
        workers(cluster=cluster.scheduler_address),
    ):
        pytest.fail("there is nobody to work")


def test_workers_of_another_version_are_named() -> None:
    """Every difference on every worker is a fault; a worker that lacks the package says so."""
    here = executor._versions()
    found = [str(fault) for fault in executor._differences("tcp://w1", here, {**here, "numpy": "0.1"})]
    mend = f"install loopwright {here['loopwright']} on the worker"
    assert found == [f"--cluster:tcp://w1: numpy 0.1; allowed: numpy {here['numpy']}, as here; {mend}"]
    assert list(executor._differences("tcp://w1", here, here)) == []
    (fault,) = executor._differences("tcp://w1", here, ModuleNotFoundError("pipeline"))
    assert "cannot run loopwright: pipeline" in str(fault)


def _installed(name: str) -> bool:
    """Tell whether a package can be imported, without importing it."""
    from importlib.util import find_spec  # noqa: PLC0415 - only here

    return find_spec(name) is not None


INTERRUPTED = """
import os, signal, threading, time
from pipeline.rebuild.executor import workers
def main():
    with workers(2) as mapper:
        mapper(abs, [1])
        threading.Timer(0.3, lambda: os.killpg(0, signal.SIGINT)).start()
        mapper(time.sleep, [1.0] * 4)
if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        print("interrupted")
"""


def test_an_interrupt_ends_the_pool_quietly(tmp_path: Path) -> None:
    """Ctrl-C reaches every process of the terminal; only the first one reacts, and no worker stays or complains."""
    script = tmp_path / "interrupted.py"
    script.write_text(INTERRUPTED)
    done = subprocess.run(
        [sys.executable, script],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=False,
        start_new_session=True,
    )
    assert (done.stdout, done.stderr) == ("interrupted\n", "")
