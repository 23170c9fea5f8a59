"""Find the line of every key of a TOML text.

``tomllib`` gives values but not where they stand. :func:`locate` walks over a text that ``tomllib`` has read, or
over the part of it before a fault, and notes the line of every table, key and list item. It checks nothing.

Paths are tuples of keys and list positions from 0: ``("setups", 1, "driver")`` is the key ``driver`` of the second
``[[setups]]``. Tables, arrays of tables, dotted and quoted keys, inline tables and lists over several lines are known
(TOML 1.0.0, https://toml.io/en/v1.0.0).
"""

import re
import tomllib
from bisect import bisect_right
from dataclasses import dataclass, field

__all__ = ["KeyPath", "Lines", "Repeat", "locate"]

KeyPath = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[^\s.=\[\]{}#\"',]+")
_BARE_VALUE = re.compile(r"[^,\]}#\n]*")
_BASIC = re.compile(r'"(?:[^"\\\n]|\\.)*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_LONG_BASIC = re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}(?!")', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''.*?'{3,5}(?!')", re.DOTALL)
_SPACE = re.compile(r"[ \t]*")
_BLANK = re.compile(r"(?:\s|#[^\n]*)*")


@dataclass(frozen=True, slots=True)
class Repeat:
    """A key or table that a text sets twice."""

    path: KeyPath
    first: int
    """Line of the first one."""
    again: int
    """Line of the second one."""


@dataclass(frozen=True, slots=True)
class Lines:
    """Where the keys of a TOML text stand."""

    of: dict[KeyPath, int]
    """Line of each path, from 1."""
    repeats: tuple[Repeat, ...]
    """Keys and tables set twice, in order."""

    def line(self, path: KeyPath) -> int | None:
        """Give the line of *path*, or of the nearest table around it; ``None`` at the root."""
        for size in range(len(path), 0, -1):
            if path[:size] in self.of:
                return self.of[path[:size]]
        return None


def locate(text: str) -> Lines:
    """Note the line of every table, key and list item of *text*.

    Parameters
    ----------
    text
        TOML. Where it is not valid, what stands before the fault is located.
    """
    walker = _Walker(text.replace("\r\n", "\n"))
    walker.walk()
    return Lines(of=walker.lines, repeats=tuple(walker.repeats))


@dataclass(slots=True)
class _Walker:
    """Walks over a TOML text once; ``at`` is the offset of the next character."""

    text: str
    at: int = 0
    lines: dict[KeyPath, int] = field(default_factory=dict)
    repeats: list[Repeat] = field(default_factory=list)
    _set: dict[KeyPath, int] = field(default_factory=dict)
    _counts: dict[KeyPath, int] = field(default_factory=dict)
    _starts: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._starts = [0, *(match.end() for match in re.finditer("\n", self.text))]

    def walk(self) -> None:
        """Go over headers and pairs up to the end, or to where the text is no TOML."""
        table: KeyPath = ()
        while self._skip(_BLANK) < len(self.text):
            before = self.at
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            if self.at <= before:
                return

    def _skip(self, pattern: re.Pattern[str]) -> int:
        """Step over *pattern*, which also matches nothing."""
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at
        return self.at

    def _next(self, mark: str) -> bool:
        """Step over *mark* if it comes next."""
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True

    def _stop(self) -> None:
        """Give up: the text is no TOML from here on."""
        self.at = len(self.text)

    def _line(self) -> int:
        return bisect_right(self._starts, self.at)

    def _note(self, path: KeyPath, line: int, *, once: bool) -> None:
        """Note the line of *path* and of the tables it makes by being there."""
        for size in range(1, len(path) + 1):
            self.lines.setdefault(path[:size], line)
        if once and path in self._set:
            self.repeats.append(Repeat(path, self._set[path], line))
        if once:
            self._set.setdefault(path, line)
            self.lines[path] = self._set[path]

    def _header(self) -> KeyPath:
        """Read ``[table]`` or ``[[table]]`` and give its path."""
        line = self._line()
        many = self._next("[[")
        if not many:
            self._next("[")
        path: KeyPath = ()
        keys = self._keys()
        for place, key in enumerate(keys):
            path += (key,)
            if many and place == len(keys) - 1:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                self._note(path, line, once=False)
                path += (self._counts[path] - 1,)
        self._skip(_SPACE)
        if not keys or not self._next("]]" if many else "]"):
            self._stop()
        self._note(path, line, once=True)
        return path

    def _pair(self, table: KeyPath) -> None:
        """Read ``key = value``."""
        line = self._line()
        keys = self._keys()
        self._skip(_SPACE)
        if not keys or not self._next("="):
            self._stop()
            return
        path = (*table, *keys)
        self._note(path, line, once=True)
        self._skip(_SPACE)
        self._value(path)

    def _keys(self) -> tuple[str, ...]:
        """Read a bare, quoted or dotted key; empty when there is none."""
        keys: list[str] = []
        while True:
            self._skip(_SPACE)
            start = self.at
            for pattern in (_BASIC, _LITERAL, _BARE_KEY):
                if self._skip(pattern) > start:
                    break
            if self.at == start:
                return ()
            keys.append(_unquoted(self.text[start : self.at]))
            self._skip(_SPACE)
            if not self._next("."):
                return tuple(keys)

    def _value(self, path: KeyPath) -> None:
        """Step over a value; note what stands inside a list or an inline table."""
        if self._next("["):
            self._items(path)
        elif self._next("{"):
            self._inline(path)
        else:
            start = self.at
            for pattern in (_LONG_BASIC, _LONG_LITERAL, _BASIC, _LITERAL, _BARE_VALUE):
                if self._skip(pattern) > start:
                    return

    def _items(self, path: KeyPath) -> None:
        """Step over the items of a list after its bracket."""
        place = 0
        while self._skip(_BLANK) < len(self.text) and not self._next("]"):
            before = self.at
            self._note((*path, place), self._line(), once=False)
            self._value((*path, place))
            self._skip(_BLANK)
            self._next(",")
            place += 1
            if self.at == before:
                self._stop()

    def _inline(self, path: KeyPath) -> None:
        """Step over the pairs of an inline table after its brace."""
        while self._skip(_BLANK) < len(self.text) and not self._next("}"):
            self._pair(path)
            self._skip(_BLANK)
            self._next(",")


def _unquoted(key: str) -> str:
    """Give the key that a quoted or bare spelling stands for."""
    if key[0] not in "\"'":
        return key
    try:
        return str(tomllib.loads(f"key = {key}")["key"])
    except tomllib.TOMLDecodeError:
        return key[1:-1]
