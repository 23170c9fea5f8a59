"""A text that is not TOML gets one fault: line, what stands there, how to mend it."""

import pytest

from pipeline.errors import SettingsError
from pipeline.settings import parse_document, path_text


def message(text: str) -> str:
    """Give the message for a text that is no TOML."""
    with pytest.raises(SettingsError) as caught:
        parse_document(text, "site.toml")
    assert len(caught.value.faults) == 1
    return str(caught.value)


@pytest.mark.parametrize(
    ("row", "place", "mend"),
    [
        ("wheelbase_m = 2,85", "2:16", "write a decimal point, not a comma: 2.85"),
        ("wheelbase_m = 2.85 m", "2:20", "write the number only: its unit stands in the key"),
        ("wheelbase_m = 085", "2:16", "write the number without leading zeros"),
        ("wheelbase_m = .85", "2:15", "write digits on both sides of the decimal point"),
        ("wheelbase_m =", "2:14", "a value is missing after ="),
        ("name = “Hill”", "2:8", "use straight quotation marks"),
        ("name = Hill", "2:8", 'write text in "double quotes"'),
        ("name: 'Hill'", "2:5", "write key = value"),
        ("modified = True", "2:12", "write true or false"),
        ("modified = yes", "2:12", "write true or false"),
        (r'network = ["d:\trails.gpkg", "d:\x"]', "2:35", "in double quotes a backslash is special"),
        (r'vehicle = "d:\cars\x.toml"', "2:16", "in double quotes a backslash is special: write 'single quotes' or"),
        ('name = "Hill', "2:13", "the closing quotation mark is missing"),
        ("[site", "2:6", "the closing bracket is missing"),
        ("track front = 1.5", "2:7", "a key has no spaces: use an underscore"),
    ],
)
def test_common_slips_are_explained(row: str, place: str, mend: str) -> None:
    """Each slip is told with line and column, the row itself, and a way to mend it."""
    said = message(f"# settings\n{row}\nnext = 1\n")
    assert said.startswith(f"site.toml:{place}: ")
    assert row[:20] in said
    assert mend in said


def test_the_end_of_the_text_is_its_last_line() -> None:
    """A value missing at the very end is told at the last line."""
    assert message("a = 1\nb =").startswith("site.toml:2: Invalid value: b =; a value is missing")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "[site]\nname = 'a'\ncrs = 'x'\nname = 'b'\n",
            "site.toml:4: site.name is set twice; allowed: once; line 2 has it already; remove one of the two",
        ),
        (
            "[site]\na = 1\n\n[site]\nb = 1\n",
            "site.toml:4: site is set twice; allowed: once; line 1 has it already; remove one of the two",
        ),
        (
            "[[setups]]\nname = 'a'\nname = 'b'",
            "site.toml:3: setups[1].name is set twice; allowed: once; line 2 has it already; remove one of the two",
        ),
    ],
)
def test_keys_set_twice_name_both_lines(text: str, expected: str) -> None:
    """The line of the second one is given, though the parser only notices later, and that of the first."""
    assert message(text) == expected


def test_deep_nesting_is_refused() -> None:
    """A text made to exhaust the stack is a fault of the settings, not of the program."""
    assert message("a = " + "[" * 20_000) == "site.toml: lists or tables nested too deeply to read"


def test_numbers_too_long_to_read_are_refused() -> None:
    """A whole number of more digits than Python reads is a fault of the settings."""
    assert message("a = " + "9" * 5000).startswith("site.toml:1: Exceeds the limit")


@pytest.mark.parametrize(
    ("path", "text"),
    [
        (("site", "name"), "site.name"),
        (("setups", 1, "loads", 0), "setups[2].loads[1]"),
        (("loads", "roof rack", "mass_kg"), 'loads."roof rack".mass_kg'),
        ((), ""),
    ],
)
def test_paths_are_written_as_toml(path: tuple[str | int, ...], text: str) -> None:
    """Dotted, quoted where TOML quotes, items counted from 1."""
    assert path_text(path) == text
