"""``report.json``: the totals of a build, for people's other tools."""

import json
import math
from typing import Any

import pandas as pd

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, FORMAT, clean, counts, rounded
from pipeline.products.report_ground import ground_report
from pipeline.products.report_loops import loops_report
from pipeline.products.report_outlooks import outlooks_report
from pipeline.products.report_room import room_report
from pipeline.terms import Verdict

__all__ = ["report", "report_text"]


def report_text(facts: Facts) -> str:
    """Write the report as JSON, indented for people."""
    return json.dumps(report(facts), ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def report(facts: Facts) -> dict[str, Any]:
    """Gather the report; lengths in metres, times in minutes, shares 0–1, ``None`` where a number is not known."""
    conditions = facts.conditions
    return {
        "format": FORMAT,
        "site": clean(facts.site),
        "built_at": clean(facts.built_at),
        "caution": CAUTION,
        "conditions": {
            "date": conditions.date,
            "wetness": conditions.wetness,
            "rain_mm": [rounded(rain, 2) for rain in conditions.rain_mm],
        },
        "totals": _totals(facts),
        "setups": _setups(facts),
        "verdicts": _verdict_counts(facts),
        "deciding_checks": _deciding(facts),
        "unsurveyed": _unsurveyed(facts),
        "loops": loops_report(facts),
        "loop_notes": [
            {"loop": clean(loop), "found": found, "text": clean(note)} for loop, found, note in facts.loop_notes
        ],
        **ground_report(facts),
        **room_report(facts),
        "outlooks": outlooks_report(facts),
        "repairs": counts(facts.repairs["repair"]),
        "warnings": _warnings(facts),
    }


def _totals(facts: Facts) -> dict[str, Any]:
    segments = facts.segments
    length = float(segments["length_m"].sum())
    covered = float((segments["length_m"] * segments["height_coverage"]).sum())
    return {
        "segments": len(segments),
        "length_m": rounded(length, 1),
        "length_open_m": rounded(float(segments.loc[segments["status"] == "open", "length_m"].sum()), 1),
        "height_coverage": rounded(covered / length if length else math.nan, 4),
        "segments_without_survey_date": int(segments["surveyed_on"].isna().sum()),
        "obstacles": len(facts.obstacles),
        "stations": len(facts.stations),
        "checks": len(facts.checks),
        "loops": len(facts.loops),
    }


def _setups(facts: Facts) -> list[dict[str, Any]]:
    return [
        {
            "setup": clean(envelope.setup),
            "vehicle": clean(envelope.vehicle),
            "driver": envelope.driver.value,
            "suspension": clean(envelope.suspension),
            "loads": [clean(load) for load in envelope.loads],
            "measured": envelope.measured,
            "warnings": [clean(warning) for warning in envelope.warnings],
        }
        for envelope in facts.envelopes
    ]


def _verdict_counts(facts: Facts) -> list[dict[str, Any]]:
    """Count segments and metres by verdict, for every set-up and direction."""
    lengths = facts.segments.set_index("segment_id")["length_m"]
    verdicts = pd.DataFrame(facts.verdicts[["segment_id", "setup", "direction", "verdict"]])
    verdicts["length_m"] = verdicts["segment_id"].map(lengths).to_numpy()
    found = []
    for (setup, direction), own in verdicts.groupby(["setup", "direction"], sort=False):
        numbers = own["verdict"].value_counts()
        sums = own.groupby("verdict")["length_m"].sum()
        found.append(
            {
                "setup": clean(str(setup)),
                "direction": direction,
                "segments": {verdict.value: int(numbers.get(verdict.value, 0)) for verdict in Verdict},
                "length_m": {verdict.value: rounded(float(sums.get(verdict.value, 0.0)), 1) for verdict in Verdict},
            }
        )
    return found


def _deciding(facts: Facts) -> dict[str, int]:
    """Count which check decides, over all set-ups and directions, where the verdict is not ample."""
    return counts(facts.verdicts.loc[facts.verdicts["verdict"] != Verdict.AMPLE.value, "check"])


def _unsurveyed(facts: Facts) -> dict[str, Any]:
    """Say how much cannot be judged, and why."""
    unknown = facts.checks[facts.checks["verdict"] == Verdict.UNSURVEYED.value]
    return {
        "checks": len(unknown),
        "segments": int(unknown["segment_id"].nunique()),
        "by_check": counts(unknown["check"]),
        "by_reason": counts(unknown["reason"].map(clean)),
    }


def _warnings(facts: Facts) -> list[str]:
    """Join the warnings of the build and of every set-up, each once, in order."""
    return list(dict.fromkeys((*map(clean, facts.warnings), *setup_warnings(facts))))
