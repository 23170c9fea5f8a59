"""What refuses a traversal, set-up by set-up."""

from dataclasses import replace

from pipeline.loops.ask.refusals import refusals
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Status, Verdict
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World


def test_each_set_up_that_is_stopped_is_told(settings: LoopSettings) -> None:
    """A verdict that is missing is unsurveyed, without a check; the sentence of a check is told where there is one."""
    world = World([Trail(0, 1, verdict=(Verdict.BARRED, Verdict.AMPLE)), Trail(1, 0, status=Status.CLOSED)])
    inputs = world.inputs(settings)
    legs = plan_of(world, settings).traversals
    assert refusals(inputs, legs[0]) == ("barred for wagon: made up",)
    assert refusals(inputs, legs[1]) == ()
    assert refusals(inputs, legs[2]) == ("closed",)
    nobody = replace(inputs, checks=inputs.checks.iloc[:0])
    assert refusals(nobody, legs[0]) == ("barred for wagon by roll",)
    nothing = replace(inputs, verdicts=inputs.verdicts.iloc[:0])
    assert refusals(nothing, replace(legs[0], verdicts=(("wagon", ""),))) == ("unsurveyed for wagon",)


def test_all_that_shuts_it_is_told(settings: LoopSettings) -> None:
    """Opening alone would not do where it is one-way, avoided and barred as well."""
    shut = Trail(0, 1, oneway=1, status=Status.CLOSED, verdict=(Verdict.AMPLE, Verdict.BARRED))
    world = World([shut, Trail(1, 0)])
    legs = plan_of(world, settings, avoid=("s000",)).traversals
    assert refusals(world.inputs(settings), legs[0]) == ("closed and avoided",)
    told = ("closed and one-way and avoided", "barred for wagon: made up")
    assert refusals(world.inputs(settings), legs[1])[:2] == told
