"""The reference in DEVELOPERS.md is what the code says, word for word."""

from pathlib import Path

from pipeline.project.site_file import SiteFile
from pipeline.settings.reference import markdown as keys
from pipeline.tables import (
    BYPASSES,
    CALLS,
    CHECKS,
    COMPARISONS,
    CONVOY,
    CROSSINGS,
    FITNESS,
    LEGS,
    LINES,
    LOOPS,
    NETWORK,
    NODES,
    OBSTACLES,
    OUTLOOKS,
    PASSINGS,
    POSES,
    PRACTICE,
    REPAIRS,
    SEGMENTS,
    SESSION,
    STATIONS,
    STOPPING,
    TECHNIQUES,
    VERDICTS,
)
from pipeline.tables.reference import markdown as columns
from pipeline.vehicle.model import Vehicle

ALL = (
    *(NETWORK, NODES, OBSTACLES, REPAIRS, SEGMENTS, STATIONS, CHECKS, VERDICTS, POSES, PASSINGS, STOPPING, FITNESS),
    *(COMPARISONS, LINES, CROSSINGS, OUTLOOKS, TECHNIQUES, LOOPS, LEGS, CALLS, PRACTICE, SESSION, BYPASSES, CONVOY),
)
DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


def reference() -> str:
    """Put the generated part of the page together."""
    return (
        f"{columns(ALL)}\n### Keys of the site file\n\n{keys(SiteFile)}\n### Keys of a vehicle file\n\n"
        "Axes in the sense of ISO 8855: x forward, y left, z up; the origin lies on the ground below the middle of the "
        f"front axle.\n\n{keys(Vehicle)}"
    )


def test_the_reference_is_what_the_code_says() -> None:
    """Every column and key stands in DEVELOPERS.md with its unit, bounds and meaning, generated from the code."""
    assert reference().strip() in DEVELOPERS.read_text(encoding="utf-8"), reference()


def test_every_row_has_the_cells_of_its_head() -> None:
    """A bar in a meaning does not break a table."""
    width = 0
    for line in reference().splitlines():
        if line.startswith("|---"):
            width = line.count("|")
        elif line.startswith("|") and width:
            assert line.count("|") == width, line
        elif not line.startswith("|"):
            width = 0


def test_kinds_bounds_and_tables_are_told() -> None:
    """A bound, a choice of words, a named table and a list of tables read as a user would write them."""
    text = keys(SiteFile) + keys(Vehicle)
    assert "| station_spacing_m | number ≥ 0.1, ≤ 10 | `0.5` |" in text
    assert "`first-timer`, `practised`, `expert`" in text
    for heading in ("`[site]`", "`[[loops]]`", "`[publish.hold_if]`", "`[suspension.NAME]`"):
        assert f"#### {heading}" in text
