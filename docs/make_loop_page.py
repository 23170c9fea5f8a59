"""Make the written examples of ``docs/loops.md`` from a build of the sample site.

Run from the root of the repository::

    loopwright build configs/site.toml --out BUILD
    python docs/make_loop_page.py BUILD

Requests are copied from ``configs/site.toml`` as they are written there; every figure is read from ``report.json`` and
the tables of the build folder. The same build gives the same bytes; the tests hold the committed page against them.
"""

# ruff: noqa: INP001 — a script, no package

import argparse
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "loops.md"
SITE = ROOT / "configs" / "site.toml"
TABLES = ("legs", "convoy", "checks", "verdicts", "outlooks", "segments")
SHOWN = ("start", "split", "meet", "last turn", "finish")
"""Lines of the session plan that an example shows, beside the first way out."""
COUNTED = ("crest", "dip", "cross-axle", "tight turn", "gap", "overhead", "water", "rock", "log")
"""Techniques that are counted; the others are measured in metres."""


@dataclass(frozen=True, slots=True)
class Example:
    """A loop of the sample site, and a segment that it leaves out."""

    loop: str
    key: str
    """Stands in the marks of the page, between which the example goes."""
    left_out: str
    setup: str
    """Set-up that may not drive that segment."""


EXAMPLES = (
    Example("First day", "first day", "T15-2", "crossover, first-timer"),
    Example("Wet day", "wet day", "T16-2", "4x4, practised"),
    Example("Mixed group", "mixed group", "T17", "4x4, practised"),
)


@dataclass(frozen=True, slots=True)
class Build:
    """What the page is made from."""

    report: dict[str, Any]
    tables: dict[str, pd.DataFrame]

    def loop(self, name: str) -> dict[str, Any]:
        """Give the first loop of a request, as the report tells it."""
        found: dict[str, Any] = next(one for one in self.report["loops"] if (one["loop"], one["rank"]) == (name, 1))
        return found


def read(folder: Path) -> Build:
    """Read a build folder."""
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    return Build(report, {name: pd.read_parquet(folder / f"{name}.parquet") for name in TABLES})


def example(build: Build, one: Example) -> str:
    """Write one example."""
    loop = build.loop(one.loop)
    parts = [_request(one.loop), _proof(loop), _practice(loop), _session(loop)]
    if loop["bypasses"]:
        parts.append(_bypasses(build, loop))
    parts += [_convoy(build, one.loop), _left_out(build, one, loop["outlook"])]
    return "\n\n".join(parts)


def _request(name: str) -> str:
    """Copy the request from the site file."""
    blocks = SITE.read_text(encoding="utf-8").split("\n\n")
    block = next(text for text in blocks if text.startswith(f'[[loops]]\nname = "{name}"'))
    return f"```toml\n{block.strip()}\n```"


def _proof(loop: dict[str, Any]) -> str:
    """Tell length, time and value with its bound."""
    what = f"**{loop['length_m']:.0f} m, {loop['time_min']:.0f} min, {loop['legs']} legs.**"
    worst = f"Worst utilisation {math.ceil(100 * loop['worst_utilisation'] - 1e-6) / 100:.2f}."
    return f"{what} {loop['proof'][0].upper()}{loop['proof'][1:]}. {worst}"


def _practice(loop: dict[str, Any]) -> str:
    """Tabulate what there is to practise, what the loop takes of it, what that is worth."""
    rows = ["| technique | weight | available | in this loop | points | of |", "|---|---|---|---|---|---|"]
    for row in loop["practice"]:
        amounts = [_amount(row["technique"], row[key]) for key in ("available", "in_loop")]
        points = [f"{row[key]:.0f}" for key in ("points", "points_most")]
        rows.append("| " + " | ".join([row["technique"], str(row["weight"]), *amounts, *points]) + " |")
    return "\n".join(rows)


def _amount(technique: str, value: float) -> str:
    return f"{value:.0f} ×" if technique in COUNTED else f"{value:.0f} m"


def _session(loop: dict[str, Any]) -> str:
    """Give the key lines of the session plan."""
    first = next((row for row in loop["session"] if row["stop"] == "way out"), None)
    shown = [row for row in loop["session"] if row["stop"] in SHOWN or row is first]
    rows = [f"| {row['start_min']:.0f} | {row['at_m']:.0f} | {row['text']} |" for row in shown]
    talks = [row["for_min"] for row in loop["session"] if row["stop"] == "coaching"]
    outs = sum(row["stop"] in {"way out", "last turn"} for row in loop["session"])
    return "\n".join(
        [
            "| min | m | session plan |",
            "|---|---|---|",
            *rows,
            "",
            f"{len(talks)} stops for coaching, {sum(talks):.0f} min; {outs} ways out in all.",
        ]
    )


def _bypasses(build: Build, loop: dict[str, Any]) -> str:
    """Say who goes round what, where they split and meet, who waits."""
    return "\n".join(_bypass(build, row) for row in loop["bypasses"])


def _bypass(build: Build, row: dict[str, Any]) -> str:
    names = build.tables["segments"].set_index("segment_id")["name"]
    way = [f"{names[leg['segment_id']]} ({leg['segment_id']} {leg['direction']})" for leg in row["way"]]
    goes = f"goes round over {', '.join(way)}: {row['length_m']:.0f} m" if way else "waits"
    waits = row["waits_min"]
    who = f"it waits {waits:.0f} min for the others" if waits >= 0 else f"the others wait {-waits:.0f} min for it"
    told = (
        f"**Bypass {row['bypass']}.** {row['setup']} leaves the loop at {row['split_m']:.0f} m, {goes} "
        f"in {row['time_min']:.1f} min, and meets the others at {row['meet_m']:.0f} m; they take "
        f"{row['others_min']:.1f} min, so {who}. Why:"
    )
    return "\n".join([told, "", *(f"- {why}" for why in row["reason"].split("; "))])


def _convoy(build: Build, name: str) -> str:
    """Count the places with a spotter and the descents driven one at a time."""
    rows = build.tables["convoy"]
    rows = rows[(rows["loop"] == name) & (rows["rank"] == 1)]
    spotted = int(rows["spotter_m"].notna().sum())
    alone = int((rows["spotter_m"].isna() & rows["one_at_a_time"]).sum())
    besides = f"; one vehicle at a time on {alone} descents besides" if alone else ""
    return f"A spotter stands outside in {spotted} places{besides}."


def _left_out(build: Build, one: Example, outlook: str | None) -> str:
    """Say why a segment is not driven, and that the loop does leave it out."""
    legs = build.tables["legs"]
    if ((legs["loop"] == one.loop) & (legs["segment_id"] == one.left_out)).any():
        msg = f"{one.loop} drives {one.left_out}: name another segment in EXAMPLES"
        raise ValueError(msg)
    name = build.tables["segments"].set_index("segment_id").loc[one.left_out, "name"]
    rows = "\n".join(_refusals(build, one, outlook))
    return f"Why not {name} ({one.left_out})?\n\n{rows}"


def _refusals(build: Build, one: Example, outlook: str | None) -> Iterator[str]:
    """Give verdict and reason of each direction, of the day or of other weather."""
    found = build.tables["verdicts"] if outlook is None else build.tables["outlooks"]
    own = found[(found["segment_id"] == one.left_out) & (found["setup"] == one.setup)]
    if outlook is None:
        own = own.merge(build.tables["checks"], on=["segment_id", "setup", "direction", "check"], suffixes=("", "_of"))
    else:
        own = own[own["outlook"] == outlook]
    for row in own.sort_values("direction", ascending=False).itertuples():
        yield f"- {row.direction}: {row.verdict} for {row.setup}: {row.reason}"


def made(build: Build) -> str:
    """Make the page: what stands between the marks is written anew, the rest is kept."""
    page = PAGE.read_text(encoding="utf-8")
    for one in EXAMPLES:
        begin, end = f"<!-- {one.key}: begin -->", f"<!-- {one.key}: end -->"
        before, rest = page.split(begin)
        page = f"{before}{begin}\n\n{example(build, one)}\n\n{end}{rest.split(end)[1]}"
    return page


def main() -> None:
    """Write the examples into the page."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("build", type=Path, help="build folder of configs/site.toml")
    parser.add_argument("--out", type=Path, default=PAGE, help="file that the page goes to")
    given = parser.parse_args()
    given.out.write_text(made(read(given.build)), encoding="utf-8")


if __name__ == "__main__":
    main()
