"""Settings files are read as UTF-8 with or without a byte order mark; what cannot be read says why."""

from pathlib import Path

import pytest

from pipeline.errors import InputMissingError, SettingsError
from pipeline.settings import Strict, load_document, read_settings


class Named(Strict):
    """The smallest model."""

    name: str


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    """Editors that put a mark in front of UTF-8 are fine."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbfname = 'H\xc3\xbcgel'\r\n")
    assert read_settings(path, Named).name == "Hügel"


def test_other_encodings_are_told_with_their_line(tmp_path: Path) -> None:
    """Latin-1 is refused at the line of its first odd byte."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"# one\nname = 'H\xfcgel'\n")
    with pytest.raises(SettingsError, match=r"a\.toml:2: byte 0xfc is not UTF-8; save the file as UTF-8"):
        load_document(path)


def test_a_missing_file_names_its_neighbour(tmp_path: Path) -> None:
    """A slip in a file name is answered with the file that is there."""
    (tmp_path / "site.toml").write_text("")
    with pytest.raises(InputMissingError, match=r'no such file; did you mean "site\.toml"\?'):
        load_document(tmp_path / "sight.toml")


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    """Where the folder is missing, that is the news."""
    with pytest.raises(InputMissingError, match=r"the folder .*nowhere is missing too"):
        load_document(tmp_path / "nowhere" / "site.toml")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """A folder in place of the file is an input that cannot be read."""
    with pytest.raises(InputMissingError, match="is a folder; allowed: a TOML file"):
        load_document(tmp_path)


def test_a_file_of_another_kind_is_refused_by_its_size(tmp_path: Path) -> None:
    """Nobody writes megabytes of settings: the file is not read to the end of memory."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * 4_000_001)
    with pytest.raises(SettingsError, match="4000001 bytes; allowed: at most 4000000 bytes of TOML"):
        load_document(path)


def test_an_unreadable_file_is_an_input_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing rights are told in the system's words."""
    path = tmp_path / "a.toml"
    path.write_text("name = 'a'")

    def refuse(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(InputMissingError, match="cannot be read: Permission denied"):
        load_document(path)


def test_values_are_found_by_path(tmp_path: Path) -> None:
    """A path leads to its value; one that leads nowhere is a KeyError, whatever stands in the way."""
    path = tmp_path / "a.toml"
    path.write_text("a = [1, 2]\nb = 'x'\n[c]\nd = 3\n")
    document = load_document(path)
    assert document.value(("a", 1)) == 2
    assert document.value(("c", "d")) == 3
    assert document.place("c", "e") == "3"
    assert document.place("z") == ""
    for wrong in (("a", 2), ("a", "x"), ("b", "y"), ("z",)):
        with pytest.raises(KeyError):
            document.value(wrong)
