"""What the report says of the vehicle on the ground: poses, ways past things, stopping, doubt, comparisons."""

from typing import Any

import numpy as np

from pipeline.products.cautioned import setup_warnings
from pipeline.products.doubted import doubted
from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.plain import clean, counts, rounded
from pipeline.terms import Passing, Verdict, Wheel

__all__ = ["ground_report"]


def ground_report(facts: Facts) -> dict[str, Any]:
    """Gather the sums, set-up by set-up, and every row of fitness and comparisons."""
    return {
        "poses": _poses(facts),
        "passings": _passings(facts),
        "stopping": _stopping(facts),
        "doubt": _doubt(facts),
        "fitness": _fitness(facts),
        "comparisons": _comparisons(facts),
    }


def _names(facts: Facts) -> list[str]:
    return [envelope.setup for envelope in facts.envelopes]


def _poses(facts: Facts) -> list[dict[str, Any]]:
    """Count poses and wheels in the air; the least angle left before a set-up tips."""
    if facts.poses is None:
        return []
    table = facts.poses.table
    found = []
    for setup in _names(facts):
        own = table[table["setup"] == setup]
        lifted = own["lifted"].value_counts()
        found.append(
            {
                "setup": clean(setup),
                "poses": len(own),
                "wheels_lifted": {wheel.word: int(lifted.get(wheel.word, 0)) for wheel in Wheel},
                "least_stability_deg": rounded(float(own["stability_deg"].min()), 1),
            }
        )
    return found


def _passings(facts: Facts) -> list[dict[str, Any]]:
    """Count what to do about the things in the way."""
    found = []
    for setup in _names(facts):
        numbers = facts.passings.loc[facts.passings["setup"] == setup, "passing"].value_counts()
        found.append({"setup": clean(setup), **{word.value: int(numbers.get(word.value, 0)) for word in Passing}})
    return found


def _stopping(facts: Facts) -> list[dict[str, Any]]:
    """Count where a set-up cannot stop; the longest distance where it can, at low grip, reaction included."""
    found = []
    for setup in _names(facts):
        own = facts.stopping[facts.stopping["setup"] == setup]
        distance = (own["reaction_m"] + own["brake_low_m"]).to_numpy(dtype=np.float64)
        ends = np.isfinite(distance)
        found.append(
            {
                "setup": clean(setup),
                "ways": len(own),
                "cannot_stop": int((~ends).sum()),
                "cannot_stop_typical": int(np.isinf(own["brake_typical_m"]).sum()),
                "longest_m": rounded(float(distance[ends].max()), 1) if ends.any() else None,
            }
        )
    return found


def _doubt(facts: Facts) -> dict[str, Any]:
    """Count the checks whose chance of being over the limit is known, and those that it made worse."""
    worse = doubted(facts)
    return {
        "checks": int(facts.checks["p_over"].notna().sum()),
        "made_worse": len(worse),
        "by_check": counts(worse["check"]),
        "by_verdict": {
            verdict.value: int((worse["verdict"] == verdict.value).sum())
            for verdict in Verdict
            if verdict not in {Verdict.AMPLE, Verdict.UNSURVEYED}
        },
    }


def _fitness(facts: Facts) -> list[dict[str, Any]]:
    return [
        {
            "setup": clean(row.setup),
            "check": row.check,
            "cell_m": rounded(row.cell_m, 3),
            "length_m": rounded(row.length_m, 1),
            "needed_cell_m": rounded(row.needed_cell_m, 3),
            "demand_sd": rounded(row.demand_sd, 4),
            "limit": rounded(row.limit, 4),
            "unit": row.unit,
            "support": row.support,
            "reason": clean(row.reason),
        }
        for row in rows(facts.fitness)
    ]


def _comparisons(facts: Facts) -> list[dict[str, Any]]:
    """Write every comparison with its counts, and every verdict that it changes."""
    table = facts.comparisons
    return [
        {
            "comparison": clean(one.name),
            "setup": clean(one.setup),
            "warnings": list(setup_warnings(facts, [one.setup])),
            "change": clean(one.change),
            "effect": clean(one.effect),
            "better": one.better,
            "worse": one.worse,
            "same": one.same,
            "changed": [
                {
                    "segment_id": clean(row.segment_id),
                    "direction": row.direction,
                    "before": row.before,
                    "after": row.after,
                    "check": row.check,
                    "used_before": rounded(row.used_before, 4),
                    "used_after": rounded(row.used_after, 4),
                    "reason": clean(row.reason),
                }
                for row in rows(table[table["comparison"] == one.name])
            ],
        }
        for one in facts.compared
    ]
