"""The reference is made from the contracts, so that it cannot drift from them."""

from pipeline.tables import CHECKS, VERDICTS
from pipeline.tables.reference import markdown


def test_every_column_is_listed_with_unit_and_meaning() -> None:
    """One section a table, one row a column, words in code style; no pipe breaks a row."""
    text = markdown([CHECKS, VERDICTS])
    assert "#### `checks`; key: segment_id, setup, direction, check" in text
    assert "#### `verdicts`; key: segment_id, setup, direction; geometry: LineString" in text
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert len(rows) == 2 + len(CHECKS.columns) + len(VERDICTS.columns)
    assert all(row.count("|") == 6 for row in rows)
    assert "| at_m | float64 | m | yes | chainage of the worst point |" in rows
    assert any("`ample`, `watch`, `spot`, `unsurveyed`, `barred`" in row for row in rows)
