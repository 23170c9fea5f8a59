"""What changed between two builds: verdicts, segments, loops.

Read from the tables of the two build folders, so that any two builds can be compared, whoever made them.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

from pipeline.errors import Fault, InputMissingError
from pipeline.terms import Verdict

__all__ = ["Changes", "LoopChange", "Totals", "VerdictChange", "comparable", "compare"]

_KEY = ["segment_id", "setup", "direction"]
_TABLES = {
    "segments": ["segment_id", "name", "length_m", "height_coverage"],
    "verdicts": [*_KEY, "verdict", "utilisation", "check", "at_m"],
    "loops": ["loop", "rank", "objective", "length_m", "time_min", "worst_utilisation", "value"],
    "legs": ["loop", "rank", "seq", "segment_id", "direction"],
}
_ABOUT = b"loopwright"
"""Key under which a table of a build says what it is."""


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """One verdict that is not what it was."""

    segment_id: str
    name: str | None
    """Name of the trail."""
    setup: str
    direction: str
    old: str
    """Verdict before."""
    new: str
    """Verdict now."""
    old_utilisation: float | None
    new_utilisation: float | None
    check: str
    """The check that decides now."""
    at_m: float | None
    """Chainage of its worst point."""

    @property
    def worse(self) -> bool:
        """Whether less may be driven than before, or what was known is not known any more."""
        return self.new == Verdict.UNSURVEYED or Verdict(self.new).rank > Verdict(self.old).rank


@dataclass(frozen=True, slots=True)
class LoopChange:
    """One loop that is not what it was."""

    loop: str
    rank: int
    what: str
    """``new``, ``gone`` or ``changed``."""
    old_length_m: float | None
    new_length_m: float | None
    old_value: float | None
    new_value: float | None
    dropped: tuple[str, ...]
    """Segments it no longer drives."""
    taken_in: tuple[str, ...]
    """Segments it drives now."""


@dataclass(frozen=True, slots=True)
class Totals:
    """What two builds are weighed by."""

    segments: int
    length_m: float
    """Plan length of all segments."""
    coverage: float
    """Share of the length that has heights, 0–1; 0 for an empty network."""
    verdicts: int
    """Number of verdicts: segments × set-ups × directions."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What changed from one build to the next."""

    old: Totals | None
    """The build before; ``None`` when there was none."""
    new: Totals
    segments_added: tuple[str, ...]
    segments_removed: tuple[str, ...]
    lost_length_m: float
    """Plan length of the segments removed."""
    setups_added: tuple[str, ...]
    setups_removed: tuple[str, ...]
    compared: int
    """Number of verdicts that both builds have."""
    verdicts: tuple[VerdictChange, ...]
    """Verdicts that differ, the ones that became worse first."""
    loops: tuple[LoopChange, ...]
    warnings: tuple[str, ...] = ()
    """What every product must say about the set-ups of the build now, such as maker's figures on a modified vehicle."""

    @property
    def first(self) -> bool:
        """Whether there was no build before."""
        return self.old is None


def compare(old: Path | None, new: Path) -> Changes:
    """Compare two build folders.

    Parameters
    ----------
    old
        The build before; ``None`` when there was none.
    new
        The build now; its tables are enough.

    Raises
    ------
    InputMissingError
        With every table that is missing or is no table.
    """
    faults: list[Fault] = []
    before = {} if old is None else _read(old, faults)
    now = _read(new, faults)
    if faults:
        raise InputMissingError(faults)
    if old is None:
        return Changes(
            old=None,
            new=_totals(now),
            segments_added=(),
            segments_removed=(),
            lost_length_m=0.0,
            setups_added=(),
            setups_removed=(),
            compared=0,
            verdicts=(),
            loops=(),
            warnings=_warnings(new),
        )
    lost = ~before["segments"]["segment_id"].isin(now["segments"]["segment_id"])
    both = before["verdicts"].merge(now["verdicts"], on=_KEY, suffixes=("_old", "_new"))
    return Changes(
        old=_totals(before),
        new=_totals(now),
        segments_added=_only(now["segments"]["segment_id"], before["segments"]["segment_id"]),
        segments_removed=_only(before["segments"]["segment_id"], now["segments"]["segment_id"]),
        lost_length_m=float(before["segments"].loc[lost, "length_m"].sum()),
        setups_added=_only(now["verdicts"]["setup"], before["verdicts"]["setup"]),
        setups_removed=_only(before["verdicts"]["setup"], now["verdicts"]["setup"]),
        compared=len(both),
        verdicts=_verdict_changes(both, now["segments"]),
        loops=_loop_changes(before, now),
        warnings=_warnings(new),
    )


def comparable(folder: Path | None) -> Path | None:
    """Give *folder* when a new build can be compared with it; ``None`` when its tables are gone or spoilt.

    A damaged build must not keep every later one from being published.
    """
    faults: list[Fault] = []
    if folder is not None:
        _read(folder, faults)
    return None if faults else folder


def _read(folder: Path, faults: list[Fault]) -> dict[str, pd.DataFrame]:
    """Read the tables of one build that are compared; what cannot be read goes to *faults*."""
    tables: dict[str, pd.DataFrame] = {}
    for name, columns in _TABLES.items():
        path = folder / f"{name}.parquet"
        try:
            tables[name] = pd.read_parquet(path, columns=columns)
        except FileNotFoundError:
            faults.append(Fault(path, "", "no such file", "a table of a build folder", "build again"))
        except (OSError, ValueError) as error:  # pyarrow's errors of form and of columns are ValueErrors
            faults.append(Fault(path, "", f"cannot be read: {error}", "a table of a build folder", "build again"))
    return tables


def _warnings(folder: Path) -> tuple[str, ...]:
    """Read the warnings of the set-ups from what the table of verdicts says of itself; none where it says nothing."""
    said = (pq.read_schema(folder / "verdicts.parquet").metadata or {}).get(_ABOUT)
    return () if said is None else tuple(json.loads(said).get("warnings", ()))


def _totals(tables: dict[str, pd.DataFrame]) -> Totals:
    """Weigh one build."""
    length = tables["segments"]["length_m"]
    total = float(length.sum())
    covered = float((length * tables["segments"]["height_coverage"]).sum())
    return Totals(
        segments=len(length),
        length_m=total,
        coverage=covered / total if total > 0.0 else 0.0,
        verdicts=len(tables["verdicts"]),
    )


def _only(these: pd.Series, others: pd.Series) -> tuple[str, ...]:
    """List what only the first of two columns holds, sorted."""
    return tuple(sorted(set(these) - set(others)))


def _verdict_changes(both: pd.DataFrame, segments: pd.DataFrame) -> tuple[VerdictChange, ...]:
    """List the verdicts that differ: those that became worse first, each by segment, set-up, direction."""
    names = dict(zip(segments["segment_id"], segments["name"], strict=True))
    changed = both[both["verdict_old"] != both["verdict_new"]]
    found = [
        VerdictChange(
            segment_id=row.segment_id,
            name=_text(names.get(row.segment_id)),
            setup=row.setup,
            direction=row.direction,
            old=row.verdict_old,
            new=row.verdict_new,
            old_utilisation=_number(row.utilisation_old),
            new_utilisation=_number(row.utilisation_new),
            check=row.check_new,
            at_m=_number(row.at_m_new),
        )
        for row in _rows(changed)
    ]
    return tuple(sorted(found, key=lambda one: (not one.worse, one.segment_id, one.setup, one.direction)))


def _loop_changes(before: dict[str, pd.DataFrame], now: dict[str, pd.DataFrame]) -> tuple[LoopChange, ...]:
    """List the loops that are new, gone, or driven over other segments."""
    old, new = _loops(before), _loops(now)
    found = (_loop_change(name, old.get(name), new.get(name)) for name in sorted(old.keys() | new.keys()))
    return tuple(change for change in found if change is not None)


@dataclass(frozen=True, slots=True)
class _Loop:
    """One loop of one build."""

    length_m: float
    value: float
    legs: tuple[tuple[str, str], ...]


def _loops(tables: dict[str, pd.DataFrame]) -> dict[tuple[str, int], _Loop]:
    """Gather the loops of one build by name and rank."""
    legs = tables["legs"].sort_values("seq").groupby(["loop", "rank"])
    driven = {key: tuple(zip(rows["segment_id"], rows["direction"], strict=True)) for key, rows in legs}
    return {
        (row.loop, row.rank): _Loop(float(row.length_m), float(row.value), driven.get((row.loop, row.rank), ()))
        for row in _rows(tables["loops"])
    }


def _loop_change(name: tuple[str, int], old: _Loop | None, new: _Loop | None) -> LoopChange | None:
    """Compare one loop; ``None`` when it is driven as before."""
    if old is not None and new is not None and old.legs == new.legs:
        return None
    had = [] if old is None else [segment for segment, _ in old.legs]
    has = [] if new is None else [segment for segment, _ in new.legs]
    return LoopChange(
        loop=name[0],
        rank=int(name[1]),
        what="new" if old is None else "gone" if new is None else "changed",
        old_length_m=None if old is None else old.length_m,
        new_length_m=None if new is None else new.length_m,
        old_value=None if old is None else old.value,
        new_value=None if new is None else new.value,
        dropped=tuple(sorted(set(had) - set(has))),
        taken_in=tuple(sorted(set(has) - set(had))),
    )


def _rows(frame: pd.DataFrame) -> list[Any]:
    """List the rows as named tuples."""
    return list(frame.itertuples(index=False))


def _number(value: float) -> float | None:
    """Give a number, or ``None`` where it is missing."""
    return None if pd.isna(value) or not np.isfinite(value) else float(value)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
