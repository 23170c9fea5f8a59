"""A site judged in one step is what its parts give one after another."""

import numpy as np

from pipeline.checks.judged import judge_setups
from pipeline.checks.run import run_checks
from pipeline.checks.verdict import verdicts_table
from pipeline.terms import Driver
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import plane


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
