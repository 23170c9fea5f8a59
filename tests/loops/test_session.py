"""Times worked by hand."""

import pytest

from pipeline.loops.session import coaching_minutes, driving_minutes
from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Driver, Technique, Verdict

SLOW = DriverPace(ample_kmh=6.0, watch_kmh=3.0, spot_kmh=1.5, coaching_share=1.0)
FAST = DriverPace(ample_kmh=12.0, watch_kmh=6.0, spot_kmh=2.0, coaching_share=0.5)


@pytest.mark.parametrize(
    ("verdicts", "minutes"),
    [
        ({"a": Verdict.AMPLE}, 10.0),  # 1 km at 6 km/h
        ({"a": Verdict.WATCH}, 20.0),
        ({"a": Verdict.SPOT}, 40.0),
        ({"b": Verdict.AMPLE}, 5.0),
        ({"a": Verdict.AMPLE, "b": Verdict.SPOT}, 30.0),  # the spotter of b sets the pace
        ({"a": Verdict.AMPLE, "b": Verdict.AMPLE}, 10.0),  # the slower driver sets the pace
    ],
)
def test_slowest_setup_sets_the_pace(verdicts: dict[str, Verdict], minutes: float) -> None:
    """A kilometre must take what the slowest set-up takes."""
    assert driving_minutes(1000.0, verdicts, {"a": SLOW, "b": FAST}) == pytest.approx(minutes, rel=1e-12)


def test_coaching_is_that_of_the_driver_who_needs_most(settings: LoopSettings) -> None:
    """Minutes of the runs times the largest share in the group; runs without a setting take none."""
    runs = [Technique.CLIMB, Technique.WATER, Technique.WATER]
    full = settings.technique[Technique.CLIMB].coaching_min + 2 * settings.technique[Technique.WATER].coaching_min
    beginner, practised = settings.pace[Driver.FIRST_TIMER], settings.pace[Driver.PRACTISED]
    assert coaching_minutes(runs, [Driver.PRACTISED], settings) == pytest.approx(full * practised.coaching_share)
    mixed = [Driver.PRACTISED, Driver.FIRST_TIMER]
    assert coaching_minutes(runs, mixed, settings) == pytest.approx(full * beginner.coaching_share)
    assert coaching_minutes(runs, [Driver.EXPERT], settings) == 0.0
    without = settings.model_copy(update={"technique": {}})
    assert coaching_minutes(runs, mixed, without) == 0.0
