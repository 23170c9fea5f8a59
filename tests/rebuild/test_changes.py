"""What changed between two builds is found in their tables."""

import json
from dataclasses import asdict
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from pipeline.errors import InputMissingError
from pipeline.products.plain import CAUTION
from pipeline.rebuild import change_report
from pipeline.rebuild.change_report import changes_json, changes_lines, changes_markdown, warning_lines, write_changes
from pipeline.rebuild.changes import Changes, comparable, compare
from tests.rebuild.worlds import legs, loop, segment, verdict, write_build


@pytest.fixture
def changes(tmp_path: Path) -> Changes:
    """Compare two builds: c is gone, d is new, a became worse, b became better, one loop goes another way."""
    old = write_build(
        tmp_path / "old",
        [segment("a"), segment("b", 300.0), segment("c", 100.0)],
        [verdict("a", "ample", 0.4), verdict("b", "barred", 1.2), verdict("b", "watch", 0.7, direction="against")],
        [loop("round", 1000.0), loop("gone", 500.0), loop("same")],
        legs("round", "abC") + legs("gone", "ab") + legs("same", "ab"),
    )
    new = write_build(
        tmp_path / "new",
        [segment("a"), segment("b", 300.0, coverage=0.5, trail=None), segment("d", 100.0)],
        [
            verdict("a", "spot", 0.95),
            verdict("b", "unsurveyed", None),
            verdict("b", "watch", 0.75, direction="against"),
            verdict("a", "ample", 0.2, setup="short"),
        ],
        [loop("round", 1100.0), loop("new", 600.0, rank=2), loop("same")],
        legs("round", "abD") + legs("new", "ad", rank=2) + legs("same", "ab"),
    )
    return compare(old, new)


def test_segments_setups_and_totals(changes: Changes) -> None:
    """Added, removed and lost length; coverage weighted by length."""
    assert changes.segments_added == ("d",)
    assert changes.segments_removed == ("c",)
    assert changes.lost_length_m == 100.0
    assert changes.setups_added == ("short",)
    assert changes.setups_removed == ()
    assert changes.compared == 3
    assert changes.old is not None
    assert (changes.old.segments, changes.old.length_m, changes.old.coverage) == (3, 500.0, 1.0)
    assert changes.new.coverage == pytest.approx((100 + 150 + 100) / 500)


def test_verdicts_that_became_worse_come_first(changes: Changes) -> None:
    """A utilisation that moved within its verdict is no change; losing what was known is for the worse."""
    assert [(one.segment_id, one.old, one.new, one.worse) for one in changes.verdicts] == [
        ("a", "ample", "spot", True),
        ("b", "barred", "unsurveyed", True),
    ]
    first, second = changes.verdicts
    assert (first.old_utilisation, first.new_utilisation, first.at_m, first.name) == (0.4, 0.95, 12.0, "Trail")
    assert (second.new_utilisation, second.at_m, second.name) == (None, None, None)


def test_loops_that_go_another_way(changes: Changes) -> None:
    """Changed, gone and new loops; one that is driven as before is not listed."""
    found = {(one.loop, one.rank): one for one in changes.loops}
    assert set(found) == {("round", 1), ("gone", 1), ("new", 2)}
    assert found["round", 1].what == "changed"
    assert (found["round", 1].dropped, found["round", 1].taken_in) == (("c",), ("d",))
    assert (found["gone", 1].what, found["new", 2].what) == ("gone", "new")
    assert found["gone", 1].new_length_m is None


def test_the_lines_for_a_terminal(changes: Changes) -> None:
    """The summary first, then verdict by verdict and loop by loop."""
    assert changes_lines(changes) == [
        "2 of 3 verdicts changed, 2 for the worse.",
        "3 segments, 0.50 km, 70% with heights (was 3, 0.50 km, 100%).",
        "1 segment removed (0.10 km): c",
        "1 segment added: d",
        "Set-ups added: short",
        "a (Trail), long, with: ample → spot (roll, 0.40 → 0.95)",
        "b, long, with: barred → unsurveyed (roll, 1.20 → –)",
        'Loop "gone": gone (was 0.50 km).',
        'Loop "new", alternative 1: new, 0.60 km.',
        'Loop "round": 1.10 km, was 1.00 km; now over d; no longer over c.',
    ]


def test_the_report_for_people(changes: Changes) -> None:
    """The caution first, what became worse in bold."""
    text = changes_markdown(changes)
    assert text.startswith(f"# Changes\n\n> {CAUTION}\n")
    assert "| a | Trail | long | with | ample | **spot** | 0.40 → 0.95 | roll | 12 m |" in text
    assert "| b | – | long | with | barred | **unsurveyed** | 1.20 → – | roll | – |" in text


def test_the_report_for_machines(changes: Changes, tmp_path: Path) -> None:
    """The same facts as plain JSON, numbers that are missing as null."""
    paths = write_changes(changes, tmp_path)
    assert [path.name for path in paths] == ["changes.json", "changes.md"]
    content = json.loads(paths[0].read_text(encoding="utf-8"), parse_constant=pytest.fail)
    assert content == json.loads(json.dumps(changes_json(changes)))
    assert content["first_build"] is False
    assert content["verdicts"][0]["worse"] is True
    assert content["verdicts"][1]["new_utilisation"] is None
    assert set(asdict(changes)) < set(content)
    assert content["caution"] == change_report.CAUTION == CAUTION


def test_a_first_build_says_so(tmp_path: Path) -> None:
    """There is nothing to compare with."""
    changes = compare(None, write_build(tmp_path / "new", [segment("a")], [verdict("a", "ample", 0.1)]))
    assert changes.first
    assert changes_lines(changes) == ["First build: nothing to compare with. 1 segment, 0.10 km, 100% with heights."]
    assert changes_json(changes)["first_build"] is True


def test_nothing_changed(tmp_path: Path) -> None:
    """The same build twice has no changes."""
    old = write_build(tmp_path / "old", [segment("a")], [verdict("a", "ample", 0.1)], [loop("r")], legs("r", "a"))
    changes = compare(old, old)
    assert (changes.verdicts, changes.loops, changes.segments_added, changes.segments_removed) == ((), (), (), ())
    assert changes_lines(changes)[-1] == "Every loop is driven as before."


def test_the_same_way_in_another_direction_is_a_change(tmp_path: Path) -> None:
    """A loop over the same segments the other way round is told as such."""
    old = write_build(tmp_path / "old", [segment("a")], [], [loop("r")], legs("r", "aB"))
    new = write_build(tmp_path / "new", [segment("a")], [], [loop("r")], legs("r", "bA"))
    assert changes_lines(compare(old, new))[-1].endswith("the same segments in another order or direction.")


def test_markup_in_names_stays_text(tmp_path: Path) -> None:
    """A trail name cannot write into the report."""
    name = "<script>|`x`\n# [a](b)"
    old = write_build(tmp_path / "old", [segment("a", trail=name)], [verdict("a", "ample", 0.1)])
    new = write_build(tmp_path / "new", [segment("a", trail=name)], [verdict("a", "barred", 2.0)])
    row = changes_markdown(compare(old, new)).splitlines()[-1]
    assert row.startswith(r"| a | \<script\>\|\`x\` \# \[a\]\(b\) | long |")


def test_what_is_no_build_is_told_table_by_table(tmp_path: Path) -> None:
    """Missing tables of both folders and a file that is no table are all named."""
    new = write_build(tmp_path / "new", [segment("a")], [])
    (new / "legs.parquet").write_text("no table")
    with pytest.raises(InputMissingError) as caught:
        compare(tmp_path / "old", new)
    found = [str(fault) for fault in caught.value.faults]
    assert len(found) == 5
    assert sum("no such file" in message for message in found) == 4
    assert "legs.parquet: cannot be read:" in found[-1]


def test_a_damaged_build_is_not_compared_with(tmp_path: Path) -> None:
    """A build that lost a table, or none at all, counts as none, so that the next one can be published."""
    old = write_build(tmp_path / "old", [segment("a")], [])
    assert comparable(old) == old
    assert comparable(None) is None
    (old / "loops.parquet").unlink()
    assert comparable(old) is None


def test_warnings_about_set_ups_go_along(tmp_path: Path) -> None:
    """What the table of verdicts says about its set-ups stands in every form of the report; markup stays text."""
    folder = write_build(tmp_path / "b", [segment("a")], [verdict("a", "ample", 0.1)])
    path = folder / "verdicts.parquet"
    table = pq.read_table(path)
    said = {"warnings": ["long: modified, but the maker's *figures*: measure it"]}
    pq.write_table(table.replace_schema_metadata({**table.schema.metadata, b"loopwright": json.dumps(said)}), path)
    found = compare(None, folder)
    assert warning_lines(found) == ["warning: long: modified, but the maker's *figures*: measure it"]
    assert "- long: modified, but the maker's \\*figures\\*: measure it" in changes_markdown(found)
    assert changes_json(found)["warnings"] == tuple(said["warnings"])


def test_tables_that_say_nothing_warn_of_nothing(tmp_path: Path) -> None:
    """Tables of any other writer are compared all the same."""
    folder = write_build(tmp_path / "b", [segment("a")], [verdict("a", "ample", 0.1)])
    assert compare(folder, folder).warnings == ()
    assert "Set-ups to measure" not in changes_markdown(compare(folder, folder))
