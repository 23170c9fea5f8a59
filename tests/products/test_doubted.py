"""Which verdicts doubt made worse."""

from dataclasses import replace

import pytest

from pipeline.products.doubted import doubted
from tests.products.worlds import BLURRED, make_facts

FACTS = make_facts()
LIMITS = FACTS.limits


def test_it_finds_what_the_demand_alone_would_not_have_given() -> None:
    """Roll of the second segment: a quarter of the limit, ample by itself, yet to be spotted at one in seven."""
    found = doubted(FACTS)
    assert set(zip(found["segment_id"], found["check"], strict=True)) == {(BLURRED[0], BLURRED[1].value)}
    assert len(found) == 4
    assert set(found["verdict"]) == {"spot"}


@pytest.mark.parametrize(
    ("verdict", "utilisation", "p_over", "worse"),
    [
        ("watch", 0.2, 0.05, True),
        ("ample", 0.2, 0.05, False),
        ("watch", 0.2, 0.01, False),
        ("unsurveyed", 0.2, 0.05, False),
        ("barred", 1.3, 0.9, False),
        ("barred", 0.58, 0.6, True),
        ("spot", 0.59, 0.2, False),
    ],
)
def test_one_row_at_a_time(verdict: str, utilisation: float, p_over: float, *, worse: bool) -> None:
    """A practised driver may use 0.6 of a roll limit: at 0.58 or 0.59 of it a spotter is called without any doubt."""
    row = FACTS.checks[(FACTS.checks["setup"] == "Short wagon") & (FACTS.checks["check"] == "roll")].iloc[:1]
    facts = replace(FACTS, checks=row.assign(verdict=verdict, utilisation=utilisation, p_over=p_over))
    assert len(doubted(facts)) == int(worse)


def test_without_limits_nothing_is_said() -> None:
    """The thresholds are not known then."""
    assert len(doubted(replace(FACTS, limits=None))) == 0
    assert len(FACTS.checks) > 0
