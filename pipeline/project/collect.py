"""Collect the faults of many files and raise them as one error."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from pipeline.errors import Fault, InputMissingError, SettingsError

__all__ = ["Collected"]

Result = TypeVar("Result")


@dataclass(slots=True)
class Collected:
    """Faults found so far."""

    settings: list[Fault] = field(default_factory=list)
    """Faults in the settings."""
    missing: list[Fault] = field(default_factory=list)
    """Files that are missing or unreadable."""

    def attempt(self, read: Callable[[], Result]) -> Result | None:
        """Give what *read* gives, or note its faults and give ``None``."""
        try:
            return read()
        except SettingsError as error:
            self.settings.extend(error.faults)
        except InputMissingError as error:
            self.missing.extend(error.faults)
        return None

    def raise_any(self) -> None:
        """Raise everything that was found.

        Raises
        ------
        SettingsError
            When the settings hold faults; missing files are listed with them.
        InputMissingError
            When files are missing and nothing else is wrong.
        """
        faults = list(dict.fromkeys([*self.settings, *self.missing]))
        if self.settings:
            raise SettingsError(faults)
        if faults:
            raise InputMissingError(faults)
