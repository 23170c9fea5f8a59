"""The turns of those who go round."""

import numpy as np

from pipeline.loops.plan import make_plan
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest
from pipeline.loops.solve.rules import breaches
from tests.loops.group.hand import BARRED, asked
from tests.loops.worlds import Trail, World


def test_a_way_round_must_be_turned_into(settings: LoopSettings) -> None:
    """Where the way round leaves too sharply for the one who takes it, the loop must not go there, though others may.

    The wagon comes from node 0 to node 1 eastwards; the way round starts back north-west to node 7.
    """
    trails = [Trail(0, 1, 100.0), Trail(1, 8, 100.0, verdict=BARRED), Trail(8, 0, 150.0, oneway=1)]
    trails += [Trail(1, 7, 140.0), Trail(7, 14, 100.0), Trail(14, 15, 100.0), Trail(15, 8, 100.0)]
    world = World(trails)
    wide = settings.model_copy(update={"sharpest_turn_deg": 170.0})
    tight = settings.model_copy(update={"sharpest_turn_deg": 110.0})
    for sharp, there in ((wide, True), (tight, False)):
        plan = make_plan(world.inputs(sharp), asked(350.0))
        assert (safest(plan.quest) is not None) == there
        chain = next(n for n, move in enumerate(plan.moves) if move.rounds and move.path == (2,))
        assert plan.moves[chain].rounds[0].path == (6, 8, 10, 12)
        arcs = plan.quest.arcs
        before = np.flatnonzero(arcs.number == 0)
        after = np.flatnonzero(arcs.number == chain)
        assert [bool(arcs.may_follow(before, after)[0])] == [there]
        home = np.flatnonzero(arcs.number == 4)
        walk = [int(before[0]), int(after[0]), int(home[0])]
        assert (breaches(arcs, walk, plan.quest.rules) == []) == there
