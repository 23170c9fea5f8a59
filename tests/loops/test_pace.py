"""Times worked by hand."""

import pytest

from pipeline.loops.pace import Ride, coaching_minutes, driving_minutes
from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Direction, Driver, Technique, Verdict

SLOW = DriverPace(ample_kmh=6.0, watch_kmh=3.0, spot_kmh=1.5, coaching_share=1.0)
LEVEL = Ride(1000.0, Direction.WITH, None)


@pytest.mark.parametrize(("verdict", "minutes"), [(Verdict.AMPLE, 10.0), (Verdict.WATCH, 20.0), (Verdict.SPOT, 40.0)])
def test_level_ground_is_driven_at_the_pace_of_the_verdict(
    settings: LoopSettings, verdict: Verdict, minutes: float
) -> None:
    """A kilometre must take what the pace of driver and verdict says."""
    assert driving_minutes(LEVEL, verdict, SLOW, settings) == pytest.approx(minutes, rel=1e-12)


def test_coaching_is_the_share_that_the_driver_takes(settings: LoopSettings) -> None:
    """Minutes of the runs times the share of the driver; runs without a setting take none."""
    runs = [Technique.CLIMB, Technique.WATER, Technique.WATER]
    full = settings.technique[Technique.CLIMB].coaching_min + 2 * settings.technique[Technique.WATER].coaching_min
    for driver in Driver:
        share = settings.pace[driver].coaching_share
        assert coaching_minutes(runs, driver, settings) == pytest.approx(full * share)
    without = settings.model_copy(update={"technique": {}})
    assert coaching_minutes(runs, Driver.FIRST_TIMER, without) == 0.0
