"""What the report says of the loops: figures and proof, practice, session plan, ways round, driving in company."""

from typing import Any

import pandas as pd

from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.loop_facts import legs_round, own_rows, proof
from pipeline.products.plain import clean, rounded, text

__all__ = ["loops_report"]


def loops_report(facts: Facts) -> list[dict[str, Any]]:
    """Write every loop with all that comes with it; lengths in metres, times in minutes, shares 0–1."""
    return [
        {
            **_head(facts, row),
            **_figures(row),
            "legs": len(own_rows(facts.legs, row.loop, row.rank)),
            "practice": _practice(own_rows(facts.practice, row.loop, row.rank)),
            "session": _session(own_rows(facts.session, row.loop, row.rank)),
            "bypasses": _bypasses(own_rows(facts.bypasses, row.loop, row.rank)),
            "convoy": _convoy(own_rows(facts.convoy, row.loop, row.rank)),
        }
        for row in rows(facts.loops)
    ]


def _head(facts: Facts, row: Any) -> dict[str, Any]:  # noqa: ANN401 — a row of LOOPS
    """Say what was asked for."""
    return {
        "loop": clean(row.loop),
        "rank": int(row.rank),
        "objective": row.objective,
        "aim": clean(row.aim),
        "laps": int(row.laps),
        "outlook": text(row.outlook) or None,
        "setups": [clean(setup) for setup in facts.loop_setups.get(row.loop, ())],
    }


def _figures(row: Any) -> dict[str, Any]:  # noqa: ANN401 — a row of LOOPS
    """Give the loop in figures, and what is proven of it."""
    return {
        "length_m": rounded(row.length_m, 1),
        "time_min": rounded(row.time_min, 1),
        "worst_utilisation": rounded(row.worst_utilisation, 4),
        "exposure": rounded(row.exposure, 2),
        "value": rounded(row.value, 6),
        "bound": rounded(row.bound, 6),
        "bound_name": clean(row.bound_name),
        "gap": rounded(row.gap, 6),
        "proven": bool(row.proven),
        "proof": proof(row).line,
    }


def _practice(own: pd.DataFrame) -> list[dict[str, Any]]:
    return [
        {
            "technique": row.technique,
            "weight": int(row.weight),
            **{name: rounded(getattr(row, name), 2) for name in ("available", "in_loop", "fitting", "saturation")},
            **{name: rounded(getattr(row, name), 4) for name in ("points", "points_most")},
        }
        for row in rows(own)
    ]


def _session(own: pd.DataFrame) -> list[dict[str, Any]]:
    return [
        {
            "start_min": rounded(row.start_min, 2),
            "for_min": rounded(row.for_min, 2),
            "at_m": rounded(row.at_m, 1),
            "stop": row.stop,
            "place": clean(row.place),
            "home_m": rounded(row.home_m, 1),
            "home_min": rounded(row.home_min, 2),
            "text": clean(row.text),
        }
        for row in rows(own.sort_values("seq"))
    ]


def _bypasses(own: pd.DataFrame) -> list[dict[str, Any]]:
    return [
        {
            "bypass": int(row.bypass),
            "setup": clean(row.setup),
            "split_m": rounded(row.split_m, 1),
            "meet_m": rounded(row.meet_m, 1),
            "way": [{"segment_id": clean(segment), "direction": way} for segment, way in legs_round(row.way)],
            "length_m": rounded(row.length_m, 1),
            "time_min": rounded(row.time_min, 2),
            "others_min": rounded(row.others_min, 2),
            "waits_min": rounded(row.waits_min, 2),
            "worst_utilisation": rounded(row.worst_utilisation, 4),
            "reason": clean(row.reason),
        }
        for row in rows(own)
    ]


def _convoy(own: pd.DataFrame) -> list[dict[str, Any]]:
    return [
        {
            "segment_id": clean(row.segment_id),
            "from_m": rounded(row.from_m, 1),
            "to_m": rounded(row.to_m, 1),
            "order": [clean(setup) for setup in row.order.split("; ")],
            "one_at_a_time": bool(row.one_at_a_time),
            "spacing_m": rounded(row.spacing_m, 1),
            "spotter_m": rounded(row.spotter_m, 1),
            "spotter_for": [clean(setup) for setup in text(row.spotter_for).split("; ") if setup],
            "text": clean(row.text),
        }
        for row in rows(own.sort_values("stretch"))
    ]
