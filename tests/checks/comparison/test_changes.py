"""Before and after a change: every verdict that moves has one row, and the sums add up."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.comparison.changes import Change, compare_changes
from pipeline.checks.judged import Judged, judge_setups
from pipeline.checks.prepared import prepare
from pipeline.checks.run import checks_of
from pipeline.checks.verdict import verdicts_table
from pipeline.terms import CheckName, Driver
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on
from tests.worlds import at, network_of, plane

NETWORK = network_of(
    {"up": at((0.0, 0.0), (60.0, 0.0)), "along": at((0.0, 50.0), (0.0, 110.0))},
    surveyed_on="2026-03-01",
    obstacles_surveyed=True,
    width_m=3.5,
)
"""Two straight trails: one up the hill, one along it."""
HILL = plane(east=0.3)
"""16.7° to the east: a climb for the first trail, a side slope for the second."""


@pytest.fixture(scope="module")
def judged() -> Judged:
    """Judge an expert's box wagon on the hill."""
    return judge_setups(site_on(NETWORK, HILL), [envelope()], LIMITS)


def test_nothing_changed_changes_nothing(judged: Judged) -> None:
    """The same set-up again gives the same verdicts: no row, all the same."""
    table, (compared,) = compare_changes(judged, [Change("again", "nothing", envelope(), envelope())])
    assert table.empty
    assert (compared.better, compared.worse, compared.same) == (0, 0, 4)


def test_less_grip_makes_the_climb_worse_and_says_so(judged: Judged) -> None:
    """Adhesion 0.55 → 0.22: 0.3 uphill and rolling resistance leave nothing; the sentence names the limit."""
    ground = ground_of(2, mu_low=0.22)
    table, (compared,) = compare_changes(judged, [Change("rain", "ground wet", envelope(), envelope(), ground)])
    climb = table[(table["segment_id"] == "up") & (table["direction"] == "with")]
    assert climb["after"].tolist() == ["barred"]
    assert climb["check"].isin([CheckName.CLIMB.value, CheckName.SLIDE.value]).all()
    assert "limit" in climb["reason"].item()
    assert compared.worse == len(table) > 0
    assert compared.worse + compared.better + compared.same == 4


def test_better_and_worse_mirror_each_other(judged: Judged) -> None:
    """Taking a change back gives the same rows with before and after swapped."""
    ground = ground_of(2, mu_low=0.22)
    there, _ = compare_changes(judged, [Change("there", "", envelope(), envelope(), ground)])
    site = replace(judged.prepared.scene.site, ground=ground)
    after = judge_setups(site, [envelope()], LIMITS)
    back, (compared,) = compare_changes(after, [Change("back", "", envelope(), envelope(), ground_of(2))])
    assert back["before"].tolist() == there["after"].tolist()
    assert back["after"].tolist() == there["before"].tolist()
    assert back["check"].tolist() == there["check"].tolist()
    assert (compared.better, compared.worse) == (len(back), 0)


def test_a_first_timer_may_use_less(judged: Judged) -> None:
    """Demands stay, shares fall: no verdict gets better, and each sentence names the share or the speed's demand."""
    hands = replace(envelope(), driver=Driver.FIRST_TIMER)
    table, (compared,) = compare_changes(judged, [Change("hands", "driver first-timer", envelope(), hands)])
    assert compared.better == 0
    assert len(table) == compared.worse > 0
    assert table["reason"].str.contains("the driver may use").all()
    assert (table["used_after"] > table["used_before"]).all()


def test_several_changes_at_once_equal_one_at_a_time(judged: Judged) -> None:
    """Changes that share a ground are judged together; the answer is that of each alone, in the order asked."""
    ground = ground_of(2, mu_low=0.22)
    top = replace(envelope(), cg_m=(-1.4, 0.0, 1.2))
    changes = [
        Change("rain", "", envelope(), envelope(), ground),
        Change("top-heavy", "", envelope(), top),
        Change("both", "", envelope(), top, ground),
    ]
    together, sums = compare_changes(judged, changes)
    alone = [compare_changes(judged, [change]) for change in changes]
    assert sums == tuple(one for _, (one,) in alone)
    for change, (table, _) in zip(changes, alone, strict=True):
        own = together[together["comparison"] == change.name].reset_index(drop=True)
        assert own.equals(table)
    assert together["comparison"].tolist() == sorted(together["comparison"], key=[c.name for c in changes].index)
    assert np.isfinite(together["used_after"]).any()


def test_a_bar_that_leaves_the_unknown_says_what_is_not_known() -> None:
    """Wet, the climb bars; dry, what nobody surveyed does: the row tells both, so that nobody reads it as clear."""
    unseen = network_of({"up": at((0.0, 0.0), (60.0, 0.0))}, width_m=3.5)
    prepared = prepare(site_on(unseen, HILL, mu_low=0.22), [envelope()], LIMITS)
    checks = checks_of(prepared)
    wet = Judged(prepared, checks, verdicts_table(checks, unseen, LIMITS, {"box": Driver.EXPERT}))
    table, _ = compare_changes(wet, [Change("dry", "", envelope(), envelope(), ground_of(1))])
    row = table[table["direction"] == "with"].iloc[0]
    assert (row["before"], row["after"]) == ("barred", "unsurveyed")
    assert row["reason"].startswith(("climb ", "slide "))
    assert "; but height not known: " in row["reason"]
