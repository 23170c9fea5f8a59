"""A TOML file with the place of every key, before any model looks at it."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.errors import Fault, InputMissingError, SettingsError
from pipeline.settings.locate import KeyPath, Lines, locate
from pipeline.settings.suggest import near_file
from pipeline.settings.syntax import syntax_fault

__all__ = ["Document", "load_document", "parse_document"]

_LARGEST_BYTES = 4_000_000
"""Settings are written by hand; a larger file is some other file."""


@dataclass(frozen=True, slots=True)
class Document:
    """A TOML file: its values, and where they stand."""

    name: str
    """The file as the user named it."""
    data: dict[str, Any]
    """What ``tomllib`` made of it."""
    lines: Lines
    """Where every key stands."""

    def place(self, *path: str | int) -> str:
        """Give the line of *path*, or of the table around it, as text; empty for the root."""
        line = self.lines.line(path)
        return "" if line is None else str(line)

    def value(self, path: KeyPath) -> Any:  # noqa: ANN401 - TOML values are what they are
        """Give the value at *path*.

        Raises
        ------
        KeyError
            When there is none.
        """
        value: Any = self.data
        for part in path:
            try:
                value = value[part]
            except (IndexError, TypeError) as error:
                raise KeyError(path) from error
        return value


def load_document(path: Path) -> Document:
    """Read a TOML file; a byte order mark is allowed.

    Raises
    ------
    SettingsError
        When the file is not UTF-8 or not TOML: one fault, with line, column and a way to mend it.
    InputMissingError
        When the file is missing or unreadable.
    """
    return parse_document(_text(path), str(path))


def parse_document(text: str, name: str) -> Document:
    """Read TOML *text*; *name* stands for the file in messages.

    Raises
    ------
    SettingsError
        When it is not TOML.
    """
    try:
        data = tomllib.loads(text)
    except RecursionError as error:
        raise SettingsError(Fault(name, "", "lists or tables nested too deeply to read")) from error
    except ValueError as error:  # TOMLDecodeError, and whole numbers with more digits than Python reads
        raise SettingsError(syntax_fault(text, name, str(error))) from error
    return Document(name=name, data=data, lines=locate(text))


def _text(path: Path) -> str:
    """Read the text of a settings file."""
    try:
        if path.is_dir():
            raise InputMissingError(Fault(path, "", "is a folder", "a TOML file"))
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise InputMissingError(Fault(path, "", "no such file", mend=near_file(path))) from error
    except OSError as error:
        raise InputMissingError(Fault(path, "", f"cannot be read: {error.strerror or error}")) from error
    if len(content) > _LARGEST_BYTES:
        raise SettingsError(Fault(path, "", f"{len(content)} bytes", f"at most {_LARGEST_BYTES} bytes of TOML"))
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{content[error.start]:02x} is not UTF-8"
        raise SettingsError(Fault(path, str(line), found, mend="save the file as UTF-8")) from error
