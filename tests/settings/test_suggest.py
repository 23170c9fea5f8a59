"""A misspelt word is answered with the nearest known one, and with nothing when none is near."""

from pathlib import Path

import pytest

from pipeline.settings.suggest import did_you_mean, near_file, nearest

WORDS = ("approach_deg", "departure_deg", "breakover_deg", "first-timer", "expert")


@pytest.mark.parametrize(
    ("word", "known"),
    [
        ("aproach_deg", "approach_deg"),
        ("ApproachDeg", "approach_deg"),
        ("first timer", "first-timer"),
        ("first_timer", "first-timer"),
        ("exprt", "expert"),
        ("xyz", None),
        ("", None),
    ],
)
def test_the_nearest_word(word: str, known: str | None) -> None:
    """Spelling, capitals, hyphens, underscores and spaces may differ."""
    assert nearest(word, WORDS) == known
    assert did_you_mean(word, WORDS) == (f'did you mean "{known}"?' if known else "")


def test_the_nearest_file(tmp_path: Path) -> None:
    """Files are looked for in the folder of the missing one."""
    (tmp_path / "trails.gpkg").write_text("")
    assert near_file(tmp_path / "trail.gpkg") == 'did you mean "trails.gpkg"?'
    assert near_file(tmp_path / "zzz") == ""


def test_companions_and_other_kinds_are_no_suggestion(tmp_path: Path) -> None:
    """A projection file is no terrain, however alike the names; the same trails in another format are trails."""
    for name in ("terrain.prj", "trails.geojson", "notes.txt"):
        (tmp_path / name).write_text("")
    assert near_file(tmp_path / "terrain.asc") == ""
    assert near_file(tmp_path / "trails.gpkg") == 'did you mean "trails.geojson"?'
    assert near_file(tmp_path / "obstacles.geojson") == ""


def test_a_folder_that_cannot_be_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing rights on the folder are told."""

    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    assert near_file(tmp_path / "x").endswith("cannot be read")
