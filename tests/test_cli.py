"""The command: what goes to stdout and stderr, which status comes back, and that nothing crashes it."""

import json
import os
import pty
import select
import shlex
import signal
import subprocess
import sys
import tomllib
import types
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from pipeline import __version__, errors
from pipeline.cli import run
from pipeline.errors import DataError, Fault, PipelineError
from tests.rebuild.worlds import segment, verdict, write_build

ROOT = Path(__file__).parents[1]
COMMAND = [sys.executable, "-c", "from pipeline.cli import main; main()"]
FAULTS = [Fault("a.gpkg", "feature 7", "empty", "a line", "draw it"), Fault("dem.tif", "", "no CRS")]


@dataclass(frozen=True)
class Options:
    """Stands for the options of a build."""

    out: Path | None
    workers: int
    cluster: str | None
    rerun: bool


@dataclass(frozen=True)
class Report:
    """Stands for the report of a build."""

    lines: tuple[str, ...]


class Stages:
    """Stands for the heavy modules: notes what it is called with and does what a test wants."""

    def __init__(self) -> None:
        self.calls: list[Any] = []
        self.act: Callable[[Callable[[str], None]], None] = lambda _: None

    def read_project(self, path: Path) -> str:
        """Note the site file."""
        self.calls.append(path)
        return "project"

    def build(self, project: str, options: Options, progress: Callable[[str], None]) -> Report:
        """Note the options, tell of two stages, do what the test wants."""
        self.calls += [project, options]
        progress("survey")
        self.act(progress)
        progress("products")
        return Report(("built: site-build", "2 loops"))

    def check(self, project: str, progress: Callable[[str], None]) -> tuple[str, ...]:
        """Note the project and do what the test wants."""
        self.calls.append(project)
        self.act(progress)
        return ("Hill: no faults found",)


@pytest.fixture
def stages(monkeypatch: pytest.MonkeyPatch) -> Iterator[Stages]:
    """Put stand-ins where the commands import the heavy modules from."""
    stages = Stages()
    build, project = types.ModuleType("pipeline.build"), types.ModuleType("pipeline.project")
    build.__dict__.update(BuildOptions=Options, build=stages.build, check=stages.check)
    project.__dict__.update(read_project=stages.read_project)
    monkeypatch.setitem(sys.modules, "pipeline.build", build)
    monkeypatch.setitem(sys.modules, "pipeline.project", project)
    return stages


def start(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Start the command in a process of its own."""
    return subprocess.run(
        [*COMMAND, *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def test_options_reach_the_build(stages: Stages, capsys: pytest.CaptureFixture[str]) -> None:
    """Every option of the contract is handed on; results on stdout, stages on stderr."""
    status = run(["build", "s.toml", "--out", "o", "--workers", "3", "--cluster", "tcp://h:1", "--rerun"])
    out, err = capsys.readouterr()
    assert status == 0
    assert stages.calls == [Path("s.toml"), "project", Options(Path("o"), 3, "tcp://h:1", rerun=True)]
    assert out == "built: site-build\n2 loops\n"
    assert [line.split()[-1] for line in err.splitlines()] == ["survey", "products"]


def test_defaults_of_the_build(stages: Stages) -> None:
    """One worker, the folder of the settings, nothing forced."""
    assert run(["build", "s.toml", "--quiet"]) == 0
    assert stages.calls[-1] == Options(None, 1, None, rerun=False)


def test_check_prints_its_lines(stages: Stages, capsys: pytest.CaptureFixture[str]) -> None:
    """A site without faults says so."""
    assert run(["check", "s.toml"]) == 0
    assert stages.calls == [Path("s.toml"), "project"]
    assert capsys.readouterr().out == "Hill: no faults found\n"


@pytest.mark.parametrize("command", ["build", "check"])
def test_quiet_prints_nothing_but_faults(stages: Stages, capsys: pytest.CaptureFixture[str], command: str) -> None:
    """Silence when all is well; faults all the same when not."""
    assert run([command, "s.toml", "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")

    def fail(_: Callable[[str], None]) -> None:
        raise DataError(FAULTS)

    stages.act = fail
    assert run([command, "s.toml", "--quiet"]) == 65
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == ["a.gpkg:feature 7: empty; allowed: a line; draw it", "dem.tif: no CRS"]


@pytest.mark.usefixtures("stages")
def test_json_lines(capsys: pytest.CaptureFixture[str]) -> None:
    """Every line on both streams is one JSON object with time, event and message."""
    assert run(["build", "s.toml", "--log-json"]) == 0
    out, err = capsys.readouterr()
    results, messages = ([json.loads(line) for line in text.splitlines()] for text in (out, err))
    assert [(one["event"], one["message"]) for one in results] == [
        ("result", "built: site-build"),
        ("result", "2 loops"),
    ]
    assert [(one["event"], one["message"]) for one in messages] == [("stage", "survey"), ("stage", "products")]
    assert all(one["time"].endswith("+00:00") for one in results + messages)


def test_json_faults(stages: Stages, capsys: pytest.CaptureFixture[str]) -> None:
    """A fault comes with its parts and the status."""

    def fail(_: Callable[[str], None]) -> None:
        raise DataError(FAULTS)

    stages.act = fail
    assert run(["check", "s.toml", "--log-json"]) == 65
    first, second = (json.loads(line) for line in capsys.readouterr().err.splitlines())
    assert {key: first[key] for key in ("event", "status", "file", "place", "found", "allowed", "mend")} == {
        "event": "fault",
        "status": 65,
        "file": "a.gpkg",
        "place": "feature 7",
        "found": "empty",
        "allowed": "a line",
        "mend": "draw it",
    }
    assert second["message"] == "dem.tif: no CRS"


@pytest.mark.parametrize("kind", PipelineError.__subclasses__(), ids=lambda kind: kind.__name__)
def test_every_error_has_its_status(stages: Stages, kind: type[PipelineError]) -> None:
    """The status of the process is that of the error."""

    def fail(_: Callable[[str], None]) -> None:
        raise kind(FAULTS)

    stages.act = fail
    assert run(["build", "s.toml"]) == kind.exit_status
    assert kind.exit_status in {1, 65, 66, 70, 74, 75, 78}


def test_an_interrupt_is_130(stages: Stages) -> None:
    """Ctrl-C is no fault of the program."""

    def interrupt(_: Callable[[str], None]) -> None:
        raise KeyboardInterrupt

    stages.act = interrupt
    assert run(["build", "s.toml"]) == 130


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["biuld", "s.toml"], "Did you mean 'build'?"),
        (["build", "s.toml", "--rerunn"], "Did you mean '--rerun'?"),
        (["build", "s.toml", "--workers", "none"], "'none' is not a valid integer range"),
        (["build", "s.toml", "--workers", "0"], "0 is not in the range 1<=x<=256"),
        (["build"], "Missing argument 'SITE'"),
        (["build", "a", "b"], "unexpected extra argument"),
        (["zzz"], "No such command 'zzz'"),
        (["--zzz"], "No such option"),
    ],
)
def test_wrong_usage_is_2(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """With the nearest word that is known."""
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert said in err
    assert out == ""


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["build", "--help"], ["--version"]])
def test_help_and_version(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Both are results: on stdout, status 0; the caution is part of the help."""
    assert run(arguments) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.startswith(("Usage: loopwright", f"loopwright, version {__version__}"))
    if arguments[-1] != "--version" and len(arguments) == 1:
        assert "Walk the trail" in out


def test_the_help_lists_the_whole_contract(capsys: pytest.CaptureFixture[str]) -> None:
    """Five commands, and every option of build."""
    assert run(["--help"]) == 0
    text = capsys.readouterr().out
    assert all(f"\n  {name} " in text for name in ("build", "check", "vehicle", "compare", "new"))
    assert run(["build", "--help"]) == 0
    text = capsys.readouterr().out
    assert all(name in text for name in ("--out", "--workers", "--cluster", "--rerun", "--quiet", "--log-json"))


TARN = ROOT / "configs" / "vehicles" / "tarn.toml"


def test_vehicle_prints_text_or_json(capsys: pytest.CaptureFixture[str]) -> None:
    """The envelope as a table, and the same for machines."""
    assert run(["vehicle", str(TARN)]) == 0
    assert "Tarn 4x4" in capsys.readouterr().out
    assert run(["vehicle", str(TARN), "--json"]) == 0
    content = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    assert content["name"] == "Tarn 4x4"


def test_vehicle_takes_shares_from_the_limits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The starter's limits count unless a file is given: half the share, half the working angle, up and down too."""
    text = (ROOT / "configs" / "limits.toml").read_text(encoding="utf-8")
    mine = tmp_path / "limits.toml"
    mine.write_text(text.replace("roll = 0.6 ", "roll = 0.3 ").replace("pitch_over = 0.6 ", "pitch_over = 0.15 "))
    assert run(["vehicle", str(TARN), "--json"]) == 0
    usual = json.loads(capsys.readouterr().out)
    assert run(["vehicle", str(TARN), "--json", "--limits", str(mine)]) == 0
    careful = json.loads(capsys.readouterr().out)
    assert usual["compliance_share"] == tomllib.loads(text)["compliance_share"]
    before, after = (content["setups"][0]["working_deg"]["practised"] for content in (usual, careful))
    assert after["across"] == pytest.approx(before["across"] / 2)
    assert after["down"] == pytest.approx(before["down"] / 4)
    assert run(["vehicle", str(TARN), "--limits", str(tmp_path / "none.toml")]) == 66


@pytest.mark.parametrize(("arguments", "named"), [([str(TARN)], "Tarn 4x4"), ([], "A vehicle as it stands")])
def test_vehicle_measure_prints_a_page(arguments: list[str], named: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One HTML page and nothing else, with or without a vehicle."""
    assert run(["vehicle", *arguments, "--measure"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("<!DOCTYPE html>\n")
    assert out.endswith("</html>\n")
    assert named in out
    assert err == ""


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "Missing argument 'FILE'; only --measure does without."),
        (["--json"], "Missing argument 'FILE'"),
        ([str(TARN), "--measure", "--json"], "without --json and --limits"),
        ([str(TARN), "--measure", "--limits", "l.toml"], "without --json and --limits"),
    ],
)
def test_vehicle_wrong_usage(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What does not go together is wrong usage and prints no result."""
    assert run(["vehicle", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err


def test_vehicle_says_that_makers_figures_are_stale(capsys: pytest.CaptureFixture[str]) -> None:
    """The expedition wagon was modified: the warning stands above the tables and in the JSON, and on none other."""
    for name in ("holm", "tarn"):
        path = str(TARN.with_name(f"{name}.toml"))
        assert run(["vehicle", path]) == 0
        assert ("Warning: Holm long wagon was modified" in capsys.readouterr().out) == (name == "holm")
        assert run(["vehicle", path, "--json"]) == 0
        assert bool(json.loads(capsys.readouterr().out)["warnings"]) == (name == "holm")


def test_compare_prints_text_or_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What changed, for people and for machines; a missing folder is missing input."""
    old = write_build(tmp_path / "old", [segment("a")], [verdict("a", "ample", 0.4)])
    new = write_build(tmp_path / "new", [segment("a")], [verdict("a", "spot", 0.9)])
    assert run(["compare", str(old), str(new)]) == 0
    assert capsys.readouterr().out.startswith("1 of 1 verdicts changed, 1 for the worse.\n")
    assert run(["compare", str(old), str(new), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["verdicts"][0]["new"] == "spot"
    assert run(["compare", str(old), str(tmp_path / "none")]) == 66


def test_no_status_is_left_out_of_the_docstring() -> None:
    """The tree of errors at the top of its module is the truth."""
    assert errors.__doc__ is not None
    assert all(f"{kind.exit_status}   " in errors.__doc__ for kind in PipelineError.__subclasses__())


def test_a_missing_site_writes_nothing(tmp_path: Path) -> None:
    """The whole way through the process: status 66, one line on stderr, nothing on stdout, no file made."""
    done = start("build", tmp_path / "site.toml", "--out", tmp_path / "out")
    assert (done.returncode, done.stdout) == (66, "")
    assert done.stderr == f"{tmp_path}/site.toml: no such file\n"
    assert list(tmp_path.iterdir()) == []


CRASH = """
import sys, types
from pathlib import Path
from pipeline import cli
module = types.ModuleType("pipeline.project")
def read_project(path):
    {act}
module.read_project = read_project
sys.modules["pipeline.project"] = module
build = types.ModuleType("pipeline.build")
build.check = build.build = build.BuildOptions = lambda *a: ("H\\u00fcgel \\u2192 done",) * 10
sys.modules["pipeline.build"] = build
sys.argv = ["loopwright", "check", "s.toml"]
cli.main()
"""


def crash(act: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run `check` in a process of its own with *act* in place of reading the site."""
    return subprocess.run(
        [sys.executable, "-c", CRASH.format(act=act)],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        encoding="latin-1",
        check=False,
    )


def test_a_fault_of_the_program_is_one_line_and_70() -> None:
    """No traceback unless it is asked for, then the line comes last."""
    done = crash("raise RuntimeError('two\\nlines')")
    line = "loopwright: a fault of the program: RuntimeError: two lines; LOOPWRIGHT_TRACEBACK=1 shows where"
    assert (done.returncode, done.stdout, done.stderr.splitlines()) == (70, "", [line])
    done = crash("raise RuntimeError('two\\nlines')", LOOPWRIGHT_TRACEBACK="1")
    assert done.returncode == 70
    assert done.stderr.startswith("Traceback")
    assert done.stderr.splitlines()[-1] == line


def test_sigterm_ends_with_its_own_status() -> None:
    """What a service manager sends ends the run the way an interrupt does, so that it cleans up."""
    done = crash("import os, signal; os.kill(os.getpid(), signal.SIGTERM)")
    assert done.returncode == 128 + signal.SIGTERM


@pytest.mark.parametrize(("encoding", "arrow"), [("ascii", "→".encode()), ("latin-1", b"\\u2192")])
def test_a_c_locale_never_crashes_it(encoding: str, arrow: bytes) -> None:
    """What the terminal cannot show is an escape; where it claims plain ASCII, the command library writes UTF-8."""
    done = crash("return None", PYTHONIOENCODING=encoding, LC_ALL="C", PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    assert arrow + b" done" in done.stdout.encode("latin-1")


def test_a_reader_that_goes_away_is_no_fault() -> None:
    """`loopwright … | head` ends quietly, with the status of a closed pipe."""
    code = CRASH.format(act="return None").replace("* 10", "* 100000")
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 128 + signal.SIGPIPE


@pytest.mark.parametrize(
    ("environment", "colour"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)], ids=str
)
def test_colour_only_on_a_terminal_that_wants_it(environment: dict[str, str], colour: bool) -> None:  # noqa: FBT001 - cases
    """Faults are red on a terminal; NO_COLOR and a dumb terminal switch that off; a pipe never has it."""
    act = "from pipeline.errors import DataError; raise DataError('gone')"
    parent, child = pty.openpty()
    inherited = {key: value for key, value in os.environ.items() if key != "NO_COLOR"}
    command = [sys.executable, "-c", CRASH.format(act=act)]
    subprocess.run(command, cwd=ROOT, env={**inherited, "TERM": "xterm", **environment}, stderr=child, check=False)
    os.close(child)
    text = os.read(parent, 10_000).decode()
    os.close(parent)
    assert "loopwright: gone" in text
    assert ("\x1b[31m" in text) is colour
    assert "\x1b" not in crash(act).stderr


def test_a_progress_line_only_on_a_terminal(stages: Stages, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal the stages write over one line, which is cleared at the end."""
    parent, child = pty.openpty()
    monkeypatch.setenv("TERM", "xterm")
    with os.fdopen(child, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        assert run(["build", "s.toml"]) == 0
        terminal.flush()
        text = ""
        while not ("survey" in text and text.endswith("\x1b[K")) and select.select([parent], [], [], 5.0)[0]:
            text += os.read(parent, 10_000).decode()
    os.close(parent)
    assert stages.calls
    assert "\n" not in text
    assert "survey" in text
    assert text.endswith("\r\x1b[K")


def test_started_without_streams() -> None:
    """A service may close every stream; the command still ends with its own status."""
    command = " ".join(map(shlex.quote, [*COMMAND, "check", "/no/such/site.toml"]))
    assert subprocess.run(["sh", "-c", f"{command} >&- 2>&-"], cwd=ROOT, check=False).returncode == 66


def test_from_nothing_to_a_build(tmp_path: Path) -> None:
    """A starter site is written, checked, built, found unchanged, spoilt and refused: the way of a first day."""
    site, out = tmp_path / "site", tmp_path / "out"
    assert start("new", site).returncode == 0
    checked = start("check", site / "site.toml")
    assert (checked.returncode, checked.stdout.splitlines()[0]) == (0, "Starter hill: no faults found"), checked.stderr
    assert not out.exists()
    built = start("build", site / "site.toml", "--out", out, "--log-json")
    assert built.returncode == 0, built.stderr
    results = [json.loads(line)["message"] for line in built.stdout.splitlines()]
    assert results[0].startswith("Starter hill: 6 segments")
    assert sum("proven best" in line for line in results) == 2
    assert {"map.html", "changes.md", "manifest.json", "verdicts.parquet"} <= {path.name for path in out.iterdir()}
    assert "First build" in (out / "changes.md").read_text(encoding="utf-8")
    first = out.resolve()
    again = start("build", site / "site.toml", "--out", out)
    assert (again.returncode, out.resolve()) == (0, first)
    assert "nothing has changed" in again.stdout
    compared = start("compare", out, out)
    assert compared.stdout.splitlines()[-1] == "Every loop is driven as before."
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(text.replace('"terrain.asc"', '"terrian.asc"'), encoding="utf-8")
    refused = start("build", site / "site.toml", "--out", out, "--quiet")
    assert (refused.returncode, refused.stdout, out.resolve()) == (66, "", first)
    assert 'did you mean "terrain.asc"?' in refused.stderr
    (site / "site.toml").write_text(text.replace("snap_m = 2.0", "snap_m = 2000"), encoding="utf-8")
    refused = start("check", site / "site.toml")
    assert (refused.returncode, refused.stdout) == (78, "")
    assert "metres, not millimetres: 2?" in refused.stderr
