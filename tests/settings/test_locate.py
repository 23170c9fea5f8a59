"""Every key of a TOML text is found on its line, however the text is written (TOML 1.0.0, https://toml.io/en/v1.0.0)."""

import string
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.settings.locate import locate

SITE = """\
# a comment with [brackets] and key = 1
top = 1
[site]
name = "a # no comment [x]"
"quoted key" = 'lit'
dotted.inner.key = 2

[[setups]]
name = "one"
loads = [
  "roof",   # first
  "hitch"
]
[setups.more]
deep = 1
[[setups]]
name = "two"
points = [[1, 2], [3,
  4]]
inline = { a = 1, b = { c = "}" } }
text = \"\"\"
[not a table]
key = 1
\"\"\"
literal = '''
"quoted" [x]
'''
after = 1979-05-27 07:32:00
[a."b.c".d]
e = true
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 2),
        (("site",), 3),
        (("site", "name"), 4),
        (("site", "quoted key"), 5),
        (("site", "dotted", "inner", "key"), 6),
        (("site", "dotted"), 6),
        (("setups",), 8),
        (("setups", 0), 8),
        (("setups", 0, "loads", 0), 11),
        (("setups", 0, "loads", 1), 12),
        (("setups", 0, "more"), 14),
        (("setups", 0, "more", "deep"), 15),
        (("setups", 1), 16),
        (("setups", 1, "name"), 17),
        (("setups", 1, "points", 1, 0), 18),
        (("setups", 1, "points", 1, 1), 19),
        (("setups", 1, "inline", "b", "c"), 20),
        (("setups", 1, "text"), 21),
        (("setups", 1, "literal"), 25),
        (("setups", 1, "after"), 28),
        (("a", "b.c", "d", "e"), 30),
    ],
)
def test_each_way_to_write_a_key(path: tuple[str | int, ...], line: int) -> None:
    """Tables, arrays of tables, dotted and quoted keys, inline tables and long lists are all located."""
    assert locate(SITE).line(path) == line


def test_what_is_not_there_has_the_line_of_its_table() -> None:
    """A missing key is told at the table that lacks it; the root has no line."""
    lines = locate(SITE)
    assert lines.line(("setups", 1, "driver")) == 16
    assert lines.line(("nothing",)) is None
    assert lines.line(()) is None


def test_windows_line_ends_count_once() -> None:
    """A file with CR LF has the same lines."""
    assert locate(SITE.replace("\n", "\r\n")).of == locate(SITE).of


@pytest.mark.parametrize(
    ("text", "path", "first", "again"),
    [
        ("a = 1\nb = 2\na = 3\nc = 4\n", ("a",), 1, 3),
        ("[t]\nx = 1\n[u]\n[t]\n", ("t",), 1, 4),
        ("[t]\nx = 1\ny.z = 1\ny.z = 2", ("t", "y", "z"), 3, 4),
        ("[[s]]\nx = 1\n[[s]]\nx = 1\nx = 2\n", ("s", 1, "x"), 4, 5),
    ],
)
def test_what_is_set_twice(text: str, path: tuple[str | int, ...], first: int, again: int) -> None:
    """The second setting of a key is found, with the line of the first."""
    (repeat,) = locate(text).repeats
    assert (repeat.path, repeat.first, repeat.again) == (path, first, again)


@pytest.mark.parametrize(
    "text",
    [
        "a = ",
        "[",
        "[[x",
        "= 1",
        "a b c",
        "x = {",
        "x = [1, ",
        "x = {a b",
        '"',
        "x = [,]]]",
        "]",
        '"\\q" = 1',
        "[a.]",
        "[[a]",
    ],
)
def test_broken_text_ends_the_walk(text: str) -> None:
    """Text that is no TOML is walked over without error and without end."""
    locate(text)


@given(st.text(alphabet="ab=[]{},.\"'#\n 1\\-", max_size=60))
def test_any_text_ends_the_walk(text: str) -> None:
    """No text keeps the walker from ending, and every line it notes exists."""
    lines = locate(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.of.values())


KEYS = st.text(string.ascii_letters + string.digits + "_- .é#=\"'", min_size=1, max_size=6)
LEAVES = st.one_of(st.integers(-9, 9), st.booleans(), st.text("a #[]{}='\"\\,\n", max_size=6))
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)),
    max_leaves=12,
)


class Writer:
    """Writes values as TOML and notes the line of every key while it does so: the slow twin of the locator."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.text = ""
        self.lines: dict[tuple[str | int, ...], int] = {}

    @property
    def line(self) -> int:
        """Line that is being written."""
        return self.text.count("\n") + 1

    def key(self, key: str) -> str:
        """Spell a key, quoted where it must be and sometimes where it need not."""
        bare = all(c in string.ascii_letters + string.digits + "_-" for c in key)
        return key if bare and self.draw(st.booleans()) else quoted(key)

    def value(self, path: tuple[str | int, ...], value: Any) -> None:  # noqa: ANN401 - any TOML value
        """Write a value after its equals sign."""
        if isinstance(value, dict):
            self.text += "{"
            for number, (key, inner) in enumerate(value.items()):
                self.text += ", " if number else " "
                self.lines[*path, key] = self.line
                self.text += f"{self.key(key)} = "
                self.value((*path, key), inner)
            self.text += " }"
        elif isinstance(value, list):
            self.text += "["
            for number, inner in enumerate(value):
                self.text += self.draw(st.sampled_from(["", " ", "\n", " # ] note\n"]))
                self.lines[*path, number] = self.line
                self.value((*path, number), inner)
                self.text += ","
            self.text += "]"
        else:
            self.text += scalar(value)

    def table(self, path: tuple[str | int, ...], header: str, table: dict[str, Any]) -> None:
        """Write a table: its own pairs first, then tables and arrays of tables under headers of their own."""
        under = {key: value for key, value in table.items() if is_tables(value) and self.draw(st.booleans())}
        for key, value in table.items():
            if key not in under:
                self.text += self.draw(st.sampled_from(["", "\n", "# [x]\n", "  "]))
                self.lines[*path, key] = self.line
                self.text += f"{self.key(key)} = "
                self.value((*path, key), value)
                self.text += "\n"
        for key, value in under.items():
            name = f"{header}.{self.key(key)}" if header else self.key(key)
            tables = value if isinstance(value, list) else [value]
            for number, inner in enumerate(tables):
                many = isinstance(value, list)
                here = (*path, key, number) if many else (*path, key)
                self.lines.setdefault((*path, key), self.line)
                self.lines[here] = self.line
                self.text += f"[[{name}]]\n" if many else f"[{name}]\n"
                self.table(here, name, inner)


def is_tables(value: object) -> bool:
    """Tell whether a value may stand under a header."""
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)
    )


def quoted(text: str) -> str:
    """Write a basic string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def scalar(value: object) -> str:
    """Write a value that holds no others."""
    return quoted(value) if isinstance(value, str) else str(value).lower()


@st.composite
def documents(draw: st.DrawFn) -> tuple[dict[str, Any], str, dict[tuple[str | int, ...], int]]:
    """Draw a table, a text that means it, and the lines of its keys."""
    table = draw(st.dictionaries(KEYS, VALUES, max_size=4))
    writer = Writer(draw)
    writer.table((), "", table)
    return table, writer.text, writer.lines


@given(documents())
def test_lines_are_those_that_were_written(document: tuple[dict[str, Any], str, dict[Any, int]]) -> None:
    """Whatever the keys and values, the locator finds the line that the writer put each of them on."""
    table, text, lines = document
    assert tomllib.loads(text) == table
    found = locate(text)
    assert {path: found.of.get(path) for path in lines} == lines
    assert not found.repeats


@given(documents())
def test_every_path_of_the_values_has_a_line(document: tuple[dict[str, Any], str, dict[Any, int]]) -> None:
    """What ``tomllib`` reads, the locator has seen: no key without a line, no line without a key."""
    _, text, _ = document
    assert set(locate(text).of) == set(paths(tomllib.loads(text)))


def paths(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Yield the path of every key and item."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield (*path, key)
        yield from paths(inner, (*path, key))
