"""The errors this package raises, as one tree.

::

    PipelineError                exit status
    ├── SettingsError            78   faults in the settings
    ├── DataError                65   faults in the data
    ├── InputMissingError        66   a file is missing or unreadable
    ├── OutputError              74   the products could not be written
    ├── LockHeldError            75   another run holds the lock
    ├── GateHeldError             1   a quality gate holds the new build back
    └── ContractError            70   a stage broke a table contract: a fault of the program

Every error carries all the faults that were found, not the first one. Only
``pipeline.cli`` turns an error into lines on stderr and an exit status
(the numbers are the ``sysexits`` ones, so that cron and systemd know them).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

__all__ = [
    "ContractError",
    "DataError",
    "Fault",
    "GateHeldError",
    "InputMissingError",
    "LockHeldError",
    "OutputError",
    "PipelineError",
    "SettingsError",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with an input, and how to mend it."""

    file: str | Path
    """The file that holds the fault, as the user named it."""
    place: str
    """Where in the file: ``line 12``, ``feature 7``, ``layer trails``; empty for the whole file."""
    found: str
    """What was found there."""
    allowed: str = ""
    """What is allowed there; empty where *found* says it all."""
    mend: str = ""
    """What the user can do about it."""

    def __str__(self) -> str:
        """Give the fault as one line: file, place, found, allowed, mend."""
        where = f"{self.file}:{self.place}" if self.place else str(self.file)
        parts = [f"{where}: {self.found}"]
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.mend:
            parts.append(self.mend)
        return "; ".join(" ".join(part.split()) for part in parts)


class PipelineError(Exception):
    """Root of every error that the package raises on purpose.

    Parameters
    ----------
    faults
        One or more faults; a bare string stands for a fault of the whole run.
    """

    exit_status: ClassVar[int] = 70

    def __init__(self, faults: str | Fault | Iterable[Fault]) -> None:
        if isinstance(faults, str):
            faults = (Fault(file="loopwright", place="", found=faults),)
        elif isinstance(faults, Fault):
            faults = (faults,)
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type["PipelineError"], tuple[tuple[Fault, ...]]]:
        """Pickle by faults, so that an error crosses a process border whole."""
        return type(self), (self.faults,)


class SettingsError(PipelineError):
    """The settings (site, vehicle, limits, surfaces, techniques) hold faults."""

    exit_status: ClassVar[int] = 78


class DataError(PipelineError):
    """The data (network, obstacles, elevation) hold faults."""

    exit_status: ClassVar[int] = 65


class InputMissingError(PipelineError):
    """An input file is missing or cannot be read."""

    exit_status: ClassVar[int] = 66


class OutputError(PipelineError):
    """The products could not be written; the previous ones are untouched."""

    exit_status: ClassVar[int] = 74


class LockHeldError(PipelineError):
    """Another run holds the lock of this build folder."""

    exit_status: ClassVar[int] = 75


class GateHeldError(PipelineError):
    """A quality gate held the new build back; the previous products stay."""

    exit_status: ClassVar[int] = 1


class ContractError(PipelineError):
    """A stage handed over a table that breaks its contract: a fault of the program."""

    exit_status: ClassVar[int] = 70
