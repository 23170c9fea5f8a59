"""When the legs of a loop begin, by hand and against the table of loops."""

import pytest

from pipeline.loops.assemble import make_record
from pipeline.loops.day.timeline import timeline
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest
from pipeline.terms import Driver, Objective
from tests.loops.day.worlds import AGAIN, outing
from tests.loops.parts import plan_of
from tests.loops.worlds import tiny


def test_by_hand(settings: LoopSettings) -> None:
    """First-timer's pace where the wagon is there, the truck's where it is not, and the truck waits for the wagon."""
    plan, answer, _ = outing(settings)
    legs = timeline(plan, answer)
    careful = settings.pace[Driver.FIRST_TIMER].ample_kmh / 60.0 * 1000.0
    used = settings.pace[Driver.PRACTISED].ample_kmh / 60.0 * 1000.0
    assert [leg.start_m for leg in legs] == [0.0, 400.0, 800.0, 1100.0, 1500.0]
    assert [leg.driving_min for leg in legs] == pytest.approx([400 / careful] * 2 + [300 / used] + [400 / careful] * 2)
    # The axle is talked about with the truck's driver alone: half of two minutes.
    assert [leg.coaching_min for leg in legs] == pytest.approx([1.0, 2.5, 1.0, 1.5, 0.0])
    assert [leg.waits_min for leg in legs] == pytest.approx([0.0, 0.0, 600 / careful - 300 / used - 1.0, 0.0, 0.0])


def test_further_laps_have_their_share_of_coaching(settings: LoopSettings) -> None:
    """Driving is the same in every lap, coaching is the share that is told again.

    The truck, which talks less about the axle, waits the longer for the wagon that goes round.
    """
    plan, answer, _ = outing(settings, laps=3)
    first, second, third = (timeline(plan, answer)[part : part + 5] for part in (0, 5, 10))
    for one, two, three in zip(first, second, third, strict=True):
        assert two.driving_min == three.driving_min == one.driving_min
        saved = (one.coaching_min - two.coaching_min) if one.waits_min else 0.0
        assert two.waits_min == three.waits_min == pytest.approx(one.waits_min + saved)
        assert two.coaching_min == three.coaching_min == pytest.approx(one.coaching_min * AGAIN)
        assert (two.lap, two.seq, two.start_m) == (2, one.seq, pytest.approx(one.start_m + 1900.0))


@pytest.mark.parametrize("laps", [1, 2])
@pytest.mark.parametrize("seed", range(4))
def test_adds_up_to_the_minutes_and_metres_of_the_loop(settings: LoopSettings, seed: int, laps: int) -> None:
    """The end of the last leg must be the time and length that LOOPS tells."""
    plan = plan_of(tiny(seed), settings, (400.0, 2600.0), laps=laps, objective=Objective.SAFEST)
    answer = safest(plan.quest)
    if answer is None:
        pytest.skip("no loop in this net")
    last = timeline(plan, answer)[-1]
    row = make_record(plan, answer, 1).row
    assert last.end_min == pytest.approx(row["time_min"], rel=1e-9)
    assert last.start_m + plan.traversals[last.number].length_m == pytest.approx(row["length_m"], rel=1e-9)


def test_a_mixed_group_adds_up_too(settings: LoopSettings) -> None:
    """The same where the group splits, over two laps."""
    plan, answer, _ = outing(settings, laps=2)
    assert timeline(plan, answer)[-1].end_min == pytest.approx(make_record(plan, answer, 1).row["time_min"], rel=1e-9)
