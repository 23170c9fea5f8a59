"""What the report says of other weather: verdicts counted beside the day's, and who can drive which loop."""

from typing import Any

from pipeline.products.facts import Facts
from pipeline.products.outlook_facts import Hindrance, LoopUnder, SetUpUnder, loops_under, setups_under
from pipeline.products.plain import clean, rounded

__all__ = ["outlooks_report"]


def outlooks_report(facts: Facts) -> list[dict[str, Any]]:
    """Write every outlook: what the weather is, the verdicts of every set-up, and every loop with its set-ups."""
    return [
        {
            "outlook": clean(one.name),
            "weather": clean(one.words),
            "setups": [_setup(under) for under in setups_under(facts, one.name)],
            "loops": [_loop(under) for under in loops_under(facts, one.name)],
        }
        for one in facts.outlooked
    ]


def _setup(under: SetUpUnder) -> dict[str, Any]:
    return {
        "setup": under.setup,
        "verdicts": dict(under.counts),
        "verdicts_of_the_day": dict(under.before),
        "worse": under.worse,
        "better": under.better,
        "same": under.same,
    }


def _loop(under: LoopUnder) -> dict[str, Any]:
    return {
        "loop": clean(under.loop),
        "rank": under.rank,
        "setup": under.setup,
        "can_drive": not under.hindrances,
        "worst": under.verdict,
        "hindered_by": [_hindrance(one) for one in under.hindrances],
    }


def _hindrance(one: Hindrance) -> dict[str, Any]:
    return {
        "segment_id": one.segment_id,
        "direction": one.direction,
        "verdict": one.verdict,
        "check": one.check.replace(" ", "_"),
        "at_m": rounded(one.at_m, 1),
        "reason": one.reason,
    }
