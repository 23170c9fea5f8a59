"""The command: arguments to calls, results to stdout, messages to stderr, errors to lines and exit statuses.

Nothing heavy is imported before a command needs it, so that ``--help`` answers at once.

Exit statuses: those of :mod:`pipeline.errors`, 2 for wrong usage, 70 for a fault of the program, 130 when interrupted,
143 when ended by SIGTERM. A fault of the program is one line; ``LOOPWRIGHT_TRACEBACK=1`` shows where it happened.
"""

import ctypes
import json
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path
from types import FrameType, TracebackType
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from pipeline import __version__
from pipeline.errors import Fault, PipelineError

if TYPE_CHECKING:
    from pipeline.vehicle.balance import Working

__all__ = ["commands", "main", "run"]

Command = TypeVar("Command", bound=Callable[..., Any])

_USAGE = 2
_BUG = 70
_INTERRUPTED = 130
_PIPE_CLOSED = 141
_TERMINATED = 143
_STDOUT = 1
_FILE = click.Path(path_type=Path)


@dataclass(slots=True)
class _Console:
    """Where results and messages go."""

    quiet: bool = False
    """Print nothing but faults."""
    log_json: bool = False
    """Print one JSON object a line."""
    _stage: int = 0
    _begun: float = field(default_factory=time.monotonic)

    def result(self, line: str) -> None:
        """Print a line of the result."""
        if not self.quiet:
            click.echo(self._json("result", line) if self.log_json else line)

    def progress(self, stage: str) -> None:
        """Tell which stage begins: on a terminal in one line that is written over, else a line a stage."""
        self._stage += 1
        if self.quiet:
            return
        if self.log_json:
            click.echo(self._json("stage", stage, seconds=round(self._seconds(), 3)), err=True)
        elif _on_terminal():
            bar = "#" * self._stage
            click.echo(f"\r\x1b[K{bar} {stage} … {self._seconds():.0f} s", nl=False, err=True)
        else:
            click.echo(f"{self._seconds():7.1f} s  {stage}", err=True)

    def end_progress(self) -> None:
        """Clear the progress line of a terminal."""
        if self._stage and not self.quiet and not self.log_json and _on_terminal():
            click.echo("\r\x1b[K", nl=False, err=True)

    def fault(self, fault: Fault, status: int) -> None:
        """Print one fault."""
        if self.log_json:
            parts = {name: str(getattr(fault, name)) for name in ("file", "place", "found", "allowed", "mend")}
            click.echo(self._json("fault", str(fault), status=status, **parts), err=True)
        else:
            click.echo(click.style(str(fault), fg="red") if _in_colour() else str(fault), err=True)

    def _seconds(self) -> float:
        return time.monotonic() - self._begun

    @staticmethod
    def _json(event: str, message: str, **more: object) -> str:
        now = datetime.now(tz=UTC).isoformat(timespec="milliseconds")
        return json.dumps({"time": now, "event": event, "message": message, **more}, ensure_ascii=False)


class _Group(click.Group):
    """A group that names the command that a misspelt one is nearest to."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; a misspelt one is a usage error with the nearest name."""
        name = args[0] if args else ""
        near = get_close_matches(name, self.commands, n=1)
        if name not in self.commands and not name.startswith("-") and near:
            ctx.fail(f"No such command '{name}'. Did you mean '{near[0]}'?")
        return super().resolve_command(ctx, args)


def _messages(command: Command) -> Command:
    """Add the options that say how much is printed."""
    quiet = click.option("--quiet", is_flag=True, help="Print nothing but faults.")
    as_json = click.option("--log-json", is_flag=True, help="Print one JSON object a line.")
    return quiet(as_json(command))


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="loopwright")
@click.pass_context
def commands(context: click.Context) -> None:
    """Score off-road training trails against a vehicle's limits and find the loop to drive.

    A planning aid from measured and assumed data. Walk the trail, measure the vehicle as it stands, use a spotter, and
    follow the site's rules, local law and a qualified instructor's judgement.
    """
    context.ensure_object(_Console)


@commands.command()
@click.argument("site", type=_FILE)
@click.option("--out", type=_FILE, help="Build folder; the site file's [publish] dir when not given.")
@click.option("--workers", type=click.IntRange(1, 256), default=1, show_default=True, help="Worker processes.")
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler to use, such as tcp://host:8786.")
@click.option("--rerun", is_flag=True, help="Build again although nothing has changed.")
@_messages
@click.pass_obj
def build(console: _Console, /, site: Path, quiet: bool, log_json: bool, **options: Any) -> None:  # noqa: FBT001, ANN401 - click hands the options over by name
    """Build map, drive sheets and tables of SITE, a TOML file."""
    console.quiet, console.log_json = quiet, log_json
    from pipeline.build import BuildOptions  # noqa: PLC0415 - heavy
    from pipeline.build import build as run_build  # noqa: PLC0415 - heavy
    from pipeline.project import read_project  # noqa: PLC0415 - heavy

    with _results_only():
        report = run_build(read_project(site), BuildOptions(**options), console.progress)
    console.end_progress()
    for line in report.lines:
        console.result(line)


@commands.command()
@click.argument("site", type=_FILE)
@_messages
@click.pass_obj
def check(console: _Console, site: Path, quiet: bool, log_json: bool) -> None:  # noqa: FBT001 - click hands the options over by name
    """Report every fault in SITE and all it names; build nothing."""
    console.quiet, console.log_json = quiet, log_json
    from pipeline.build import check as run_check  # noqa: PLC0415 - heavy
    from pipeline.project import read_project  # noqa: PLC0415 - heavy

    with _results_only():
        lines = run_check(read_project(site), console.progress)
    console.end_progress()
    for line in lines:
        console.result(line)


@commands.command()
@click.argument("site", type=_FILE)
@click.argument("segment")
@click.option("--loop", metavar="NAME", help="The only loop to tell of; all of them when not given.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
@_messages
@click.pass_obj
def why(console: _Console, /, site: Path, segment: str, quiet: bool, log_json: bool, **options: Any) -> None:  # noqa: FBT001, ANN401 - click hands the options over by name
    """Tell why the loops of SITE drive SEGMENT or not, and what the best loop with it is worth.

    SEGMENT is a segment's id or the name of a trail. Nothing is written.
    """
    console.quiet, console.log_json = quiet, log_json
    from pipeline.asking import ask_why, why_json, why_lines  # noqa: PLC0415 - heavy
    from pipeline.project import read_project  # noqa: PLC0415 - heavy

    with _results_only():
        told = ask_why(read_project(site), segment, options["loop"], console.progress)
    console.end_progress()
    for line in [_pretty(why_json(told))] if options["as_json"] else why_lines(told):
        console.result(line)


@commands.command()
@click.argument("file", type=_FILE, required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
@click.option("--limits", type=_FILE, help="Limits file for the drivers' shares; the starter's when not given.")
@click.option("--measure", is_flag=True, help="Print a measuring sheet, an HTML page, with or without FILE.")
@click.pass_obj
def vehicle(console: _Console, file: Path | None, as_json: bool, limits: Path | None, measure: bool) -> None:  # noqa: FBT001 - click hands the options over by name
    """Print what each set-up of FILE, a vehicle file, can do, and what its loads do to the balance.

    With --measure print a sheet to measure a vehicle with: on paper a form, in a browser it writes the vehicle file.
    """
    if measure and (as_json or limits):
        raise click.UsageError("--measure prints a page of its own: without --json and --limits.")
    if file is None and not measure:
        raise click.UsageError("Missing argument 'FILE'; only --measure does without.")
    from pipeline.settings import read_settings  # noqa: PLC0415 - heavy
    from pipeline.vehicle.model import Vehicle  # noqa: PLC0415 - heavy

    model = None if file is None else read_settings(file, Vehicle)
    if measure or model is None:
        from pipeline.vehicle.sheet import measuring_sheet  # noqa: PLC0415 - heavy

        console.result(measuring_sheet(model))
        return
    from pipeline.vehicle.report import vehicle_json, vehicle_text  # noqa: PLC0415 - heavy

    working = _working(limits)
    console.result(_pretty(vehicle_json(model, working)) if as_json else vehicle_text(model, working).rstrip("\n"))


def _working(path: Path | None) -> "Working":
    """Take what the balance of a vehicle needs from a limits file, the starter's when none is given."""
    from pipeline.checks.limits import Limits  # noqa: PLC0415 - heavy
    from pipeline.project import starter_folder  # noqa: PLC0415 - heavy
    from pipeline.settings import read_settings  # noqa: PLC0415 - heavy
    from pipeline.vehicle.balance import Working  # noqa: PLC0415 - heavy

    limits = read_settings(path or starter_folder() / "limits.toml", Limits)
    across = {driver: share.roll for driver, share in limits.share.items()}
    along = {driver: share.pitch_over for driver, share in limits.share.items()}
    return Working(limits.compliance_share, across, along)


@commands.command()
@click.argument("old", type=_FILE)
@click.argument("new", type=_FILE)
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
@click.pass_obj
def compare(console: _Console, old: Path, new: Path, as_json: bool) -> None:  # noqa: FBT001 - click hands the options over by name
    """Print what changed from the build folder OLD to NEW."""
    from pipeline.rebuild.change_report import changes_json, changes_lines, warning_lines  # noqa: PLC0415 - heavy
    from pipeline.rebuild.changes import compare as run_compare  # noqa: PLC0415 - heavy

    changes = run_compare(old, new)
    for line in [_pretty(changes_json(changes))] if as_json else [*changes_lines(changes), *warning_lines(changes)]:
        console.result(line)


@commands.command()
@click.argument("folder", metavar="DIR", type=_FILE)
@click.pass_obj
def new(console: _Console, folder: Path) -> None:
    """Write a starter site into DIR, to edit."""
    from pipeline.project.starter import write_starter  # noqa: PLC0415 - heavy

    for path in write_starter(folder):
        console.result(str(path))


def run(arguments: Sequence[str]) -> int:
    """Run the command line *arguments* and give the exit status.

    Everything that is raised on purpose becomes lines on stderr; anything else passes through.
    """
    console = _Console()
    try:
        commands.main(args=list(arguments), prog_name="loopwright", standalone_mode=False, obj=console)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        return _USAGE
    except click.Abort:
        console.end_progress()
        return _INTERRUPTED
    except SystemExit as end:
        if end.code != 1:
            raise
        return _PIPE_CLOSED  # what click makes of a closed pipe
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # Python flushes once more at its end
        return _PIPE_CLOSED
    except PipelineError as error:
        console.end_progress()
        for fault in error.faults:
            console.fault(fault, error.exit_status)
        return error.exit_status
    return 0


def main() -> NoReturn:
    """Run the command as the process's own: streams, signals and crashes included."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # started without it: the next file opened must not take its place
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - open to the end
        getattr(sys, name).reconfigure(errors="backslashreplace")  # a C locale cannot write every name
    signal.signal(signal.SIGTERM, _end)
    sys.excepthook = _crash
    sys.exit(run(sys.argv[1:]))


@contextmanager
def _results_only() -> Iterator[None]:
    """Keep out of the results what compiled libraries print on the process's stdout by themselves.

    HiGHS greets with two lines when its first solver is made, whatever its options say.
    """
    kept = os.dup(_STDOUT)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, _STDOUT)
    try:
        yield
    finally:
        ctypes.CDLL(None).fflush(None)  # C keeps what it prints until its buffer is full
        os.dup2(kept, _STDOUT)
        os.close(kept)
        os.close(nowhere)


def _end(_signal: int, _frame: FrameType | None) -> NoReturn:
    """End on SIGTERM the way an interrupt does: what was begun is cleaned up."""
    sys.exit(_TERMINATED)


def _crash(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> NoReturn:
    """Report a fault of the program in one line, whatever it is, and end with its own exit status."""
    if os.environ.get("LOOPWRIGHT_TRACEBACK") == "1":
        traceback.print_exception(kind, error, trace)
    said = " ".join(str(error).split())
    click.echo(
        f"loopwright: a fault of the program: {kind.__name__}: {said}; LOOPWRIGHT_TRACEBACK=1 shows where", err=True
    )
    sys.exit(_BUG)


def _pretty(content: object) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _on_terminal() -> bool:
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def _in_colour() -> bool:
    return _on_terminal() and not os.environ.get("NO_COLOR")


if __name__ == "__main__":
    main()
