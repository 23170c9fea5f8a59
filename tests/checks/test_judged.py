"""A site judged in one step is what its parts give one after another."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.judged import Judged, judge_again, judge_setups
from pipeline.checks.run import run_checks
from pipeline.checks.verdict import verdicts_table
from pipeline.ground.model import Ground
from pipeline.terms import Driver
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on, straight
from tests.worlds import at, network_of, plane


def test_judging_is_checks_and_their_verdicts() -> None:
    """Checks are those of run_checks, verdicts those of each set-up's own driver, in the order asked."""
    site = site_on(straight(), plane(east=0.3))
    setups = [envelope(), envelope(setup="guest", driver=Driver.FIRST_TIMER)]
    judged = judge_setups(site, setups, LIMITS)
    assert judged.checks.equals(run_checks(site, setups, LIMITS))
    drivers = {"box": Driver.EXPERT, "guest": Driver.FIRST_TIMER}
    assert judged.prepared.drivers == drivers
    assert judged.verdicts.equals(verdicts_table(judged.checks, site.network, LIMITS, drivers))
    words = judged.verdicts.set_index(["setup", "direction"])["verdict"]
    assert words["box", "with"] != words["guest", "with"]
    assert np.isfinite(judged.verdicts["utilisation"]).all()


THINGS = (
    thing("log", height_m=0.1, length_m=0.3, width_m=3.0, chainage_m=20.0),
    thing("rock", height_m=0.2, offset_m=0.8, chainage_m=40.0),
)
SITE = site_on(straight(obstacles=list(THINGS)), plane(east=0.02))
SETUPS = (
    envelope(),
    envelope(setup="guest", driver=Driver.FIRST_TIMER),
    envelope(setup="top-heavy", cg_m=(-1.4, 0, 1)),
)
SLIPPERY = ground_of(1, mu_low=0.25)


@pytest.fixture(scope="module")
def judged() -> Judged:
    """Judge three set-ups on a slope with a log and a rock."""
    return judge_setups(SITE, SETUPS, LIMITS)


def assert_as_anew(found: Judged, ground: Ground | None = None) -> None:
    """Hold a site that was judged again against the same judged from nothing: every number, every word."""
    site = SITE if ground is None else replace(SITE, ground=ground)
    anew = judge_setups(site, found.prepared.envelopes, LIMITS)
    assert found.checks.equals(anew.checks)
    assert found.verdicts.equals(anew.verdicts)


def test_other_ground_is_judged_as_if_anew(judged: Judged) -> None:
    """Less grip: a log is passed another way, a climb gets worse, the rest is the very same."""
    again = judge_again(judged, SETUPS, SLIPPERY)
    assert_as_anew(again, SLIPPERY)
    assert not again.checks.equals(judged.checks)
    ways = [one.choices[0].passing.tolist() for one in (judged.prepared, again.prepared)]
    assert ways[0] != ways[1]


def test_other_drivers_and_vehicles_are_judged_as_if_anew(judged: Judged) -> None:
    """One driver changes, one vehicle, one set-up is new, and the order is another."""
    setups = (
        envelope(setup="long", wheelbase_m=3.2),
        envelope(driver=Driver.PRACTISED),
        envelope(setup="guest", driver=Driver.FIRST_TIMER),
    )
    assert_as_anew(judge_again(judged, setups))
    assert_as_anew(judge_again(judged, setups, SLIPPERY), SLIPPERY)


def test_the_same_again_does_nothing_anew(judged: Judged) -> None:
    """Same set-ups, same ground: sweeps and made checks are the very objects; so with rows in another order."""
    for order in ((0, 1, 2), (2, 0, 1)):
        again = judge_again(judged, [SETUPS[k] for k in order])
        for k, number in enumerate(order):
            assert again.prepared.sweeps[k] is judged.prepared.sweeps[number]
            assert again.prepared.fours[k] is judged.prepared.fours[number]
            assert all(one is other for one, other in zip(again.made[k], judged.made[number], strict=True))


def test_a_site_whose_checks_were_not_kept_can_be_judged_again(judged: Judged) -> None:
    """Without them all is made anew."""
    assert_as_anew(judge_again(replace(judged, made=()), SETUPS, SLIPPERY), SLIPPERY)


def test_judging_again_leaves_what_was_judged(judged: Judged) -> None:
    """Both tables stay what they were."""
    checks, verdicts = judged.checks.copy(deep=True), judged.verdicts.copy(deep=True)
    judge_again(judged, SETUPS, SLIPPERY)
    assert judged.checks.equals(checks)
    assert judged.verdicts.equals(verdicts)


def test_verdicts_of_one_set_up_and_the_checks_that_decide() -> None:
    """Rows of one set-up in order; to each row of verdicts its check, whatever order they are asked in."""
    lines = {"b": at((0.0, 0.0), (30.0, 0.0)), "a": at((0.0, 50.0), (0.0, 80.0))}
    judged = judge_setups(site_on(network_of(lines, width_m=3.5), plane(east=0.3)), SETUPS, LIMITS)
    own = judged.verdicts_of("guest")
    assert set(own["setup"]) == {"guest"}
    assert own[["segment_id", "direction"]].to_numpy().tolist() == [
        ["b", "with"],
        ["b", "against"],
        ["a", "with"],
        ["a", "against"],
    ]
    asked = judged.verdicts.iloc[::-1]
    found = judged.checks_at(asked)
    key = ["segment_id", "setup", "direction", "check", "verdict"]
    assert found[key].to_numpy().tolist() == asked[key].to_numpy().tolist()
