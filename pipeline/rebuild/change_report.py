"""The change report: ``changes.json`` for machines, ``changes.md`` for people."""

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from pipeline.rebuild.changes import Changes, LoopChange, VerdictChange
from pipeline.terms import CAUTION

__all__ = ["CAUTION", "changes_json", "changes_lines", "changes_markdown", "warning_lines", "write_changes"]

FORMAT = 1
"""Number of the layout of ``changes.json``."""
_MARKED = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_{}[]()#|<>!&~"})
_NONE = "–"


def write_changes(changes: Changes, folder: Path) -> list[Path]:
    """Write ``changes.json`` and ``changes.md`` into *folder*."""
    machine, people = folder / "changes.json", folder / "changes.md"
    text = json.dumps(changes_json(changes), indent=2, ensure_ascii=False, allow_nan=False)
    machine.write_text(text + "\n", encoding="utf-8")
    people.write_text(changes_markdown(changes), encoding="utf-8")
    return [machine, people]


def changes_json(changes: Changes) -> dict[str, Any]:
    """Give the changes as plain values; utilisations are pure numbers, lengths metres."""
    plain = asdict(changes)
    verdicts = [{**one, "worse": change.worse} for one, change in zip(plain["verdicts"], changes.verdicts, strict=True)]
    return {"format": FORMAT, "first_build": changes.first, "caution": CAUTION, **plain, "verdicts": verdicts}


def changes_lines(changes: Changes) -> list[str]:
    """Sum the changes up, one fact a line, for a terminal."""
    return [" ".join(line.split()) for line in _summary(changes)] + [
        *(f"{_where(one)}: {one.old} → {one.new} ({one.check}, {_step(one)})" for one in changes.verdicts),
        *(_loop_line(one) for one in changes.loops),
    ]


def warning_lines(changes: Changes) -> list[str]:
    """Give the warnings about the set-ups, one a line, for a terminal."""
    return [f"warning: {' '.join(warning.split())}" for warning in changes.warnings]


def changes_markdown(changes: Changes) -> str:
    """Render the changes for people; names from data are escaped."""
    return "\n".join(["# Changes", "", f"> {CAUTION}", "", *_body(changes)]) + "\n"


def _summary(changes: Changes) -> Iterator[str]:
    """Yield the facts that sum the changes up."""
    if changes.old is None:
        yield f"First build: nothing to compare with. {_totals(changes)}"
        return
    worse = sum(one.worse for one in changes.verdicts)
    yield f"{len(changes.verdicts)} of {changes.compared} verdicts changed, {worse} for the worse."
    yield _totals(changes)
    if changes.segments_removed:
        lost = f"{_count(len(changes.segments_removed), 'segment')} removed ({_km(changes.lost_length_m)})"
        yield f"{lost}: {', '.join(changes.segments_removed)}"
    if changes.segments_added:
        yield f"{_count(len(changes.segments_added), 'segment')} added: {', '.join(changes.segments_added)}"
    if changes.setups_removed:
        yield f"Set-ups removed: {', '.join(changes.setups_removed)}"
    if changes.setups_added:
        yield f"Set-ups added: {', '.join(changes.setups_added)}"
    if not changes.loops:
        yield "Every loop is driven as before."


def _totals(changes: Changes) -> str:
    """Say how large the network is, and was."""
    new = changes.new
    now = f"{_count(new.segments, 'segment')}, {new.length_m / 1000.0:.2f} km, {new.coverage:.0%} with heights"
    if changes.old is None:
        return f"{now}."
    was = f"{changes.old.segments}, {changes.old.length_m / 1000.0:.2f} km, {changes.old.coverage:.0%}"
    return f"{now} (was {was})."


def _body(changes: Changes) -> Iterator[str]:
    """Yield the Markdown below the caution."""
    yield from (f"- {_plain(line)}" for line in _summary(changes))
    if changes.verdicts:
        yield from ("", "## Verdicts", "")
        yield "| segment | trail | set-up | direction | was | is | utilisation | decided by | at |"
        yield "|---|---|---|---|---|---|---|---|---|"
        yield from (_verdict_row(one) for one in changes.verdicts)
    if changes.loops:
        yield from ("", "## Loops", "")
        yield from (f"- {_plain(_loop_line(one))}" for one in changes.loops)
    if changes.warnings:
        yield from ("", "## Set-ups to measure or check", "")
        yield from (f"- {_plain(warning)}" for warning in changes.warnings)


def _verdict_row(one: VerdictChange) -> str:
    """Render one verdict that changed; the ones for the worse are bold."""
    new = f"**{one.new}**" if one.worse else one.new
    at = _NONE if one.at_m is None else f"{one.at_m:.0f} m"
    names = (_plain(text) for text in (one.segment_id, one.name or _NONE, one.setup))
    return f"| {' | '.join(names)} | {one.direction} | {one.old} | {new} | {_step(one)} | {one.check} | {at} |"


def _loop_line(one: LoopChange) -> str:
    """Say in a sentence what became of a loop."""
    name = f'Loop "{one.loop}"' + (f", alternative {one.rank - 1}" if one.rank > 1 else "")
    if one.new_length_m is None:
        return f"{name}: gone (was {_km(one.old_length_m)})."
    if one.old_length_m is None:
        return f"{name}: new, {_km(one.new_length_m)}."
    parts = [f"{name}: {_km(one.new_length_m)}, was {_km(one.old_length_m)}"]
    if one.taken_in:
        parts.append(f"now over {', '.join(one.taken_in)}")
    if one.dropped:
        parts.append(f"no longer over {', '.join(one.dropped)}")
    if not one.taken_in and not one.dropped:
        parts.append("the same segments in another order or direction")
    return "; ".join(parts) + "."


def _where(one: VerdictChange) -> str:
    name = f" ({one.name})" if one.name else ""
    return f"{one.segment_id}{name}, {one.setup}, {one.direction}"


def _step(one: VerdictChange) -> str:
    """Write the utilisation before and now."""
    old, new = (_NONE if value is None else f"{value:.2f}" for value in (one.old_utilisation, one.new_utilisation))
    return f"{old} → {new}"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _km(metres: float | None) -> str:
    return _NONE if metres is None else f"{metres / 1000.0:.2f} km"


def _plain(text: str) -> str:
    """Escape what Markdown would read as markup, on one line."""
    return " ".join(text.translate(_MARKED).split())
