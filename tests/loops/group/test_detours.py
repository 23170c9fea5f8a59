"""Where the group splits and meets, and who waits."""

import numpy as np

from pipeline.loops.group.detours import detours
from pipeline.loops.settings import LoopSettings
from tests.loops.group.hand import asked, round_trip, solved, tables_of


def test_the_slower_part_decides(settings: LoopSettings) -> None:
    """The loop must take as long as the wagon on its way, and count what both parts are exposed to."""
    inputs, plan, answer = solved(round_trip(), settings, asked(500.0))
    one = detours(plan, answer)[0]
    arcs = plan.quest.arcs
    chain = int(np.searchsorted(arcs.number, answer.numbers[one.leg]))
    assert arcs.time_s[chain] == round(one.minutes * 60)
    # The truck's own utilisation is half of the wagon's: 0.6 over 200 m; the wagon is at 0.7 over 90 m.
    assert arcs.exposure_dm[chain] == round((200.0 * 0.1 + 90.0 * 0.2) * 10)
    assert arcs.level[chain] == 70
    assert inputs.settings.group.wait_min > one.others_min


def test_further_laps(settings: LoopSettings) -> None:
    """The same way round on every lap: distances are those of the first."""
    world = round_trip()
    once = tables_of(world, settings, asked(500.0)).bypasses
    thrice = tables_of(world, settings, asked(1500.0, laps=3)).bypasses
    assert once["split_m"].tolist() == thrice["split_m"].tolist() == [100.0]
