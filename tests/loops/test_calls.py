"""Stops for coaching, worked by hand."""

import pytest

from pipeline.loops.calls import Lesson, Way, lessons_of
from pipeline.loops.runs import Run
from pipeline.loops.settings import LoopSettings
from pipeline.technique.settings import Calls
from pipeline.terms import Direction, Technique

RULE = Calls(lead_m=15.0, merge_m=10.0, spacing_m=30.0, from_intensity=0.4, thing_from_intensity=0.1, named=2)
RUNS = (
    Run(Technique.TIGHT_TURN, 5.0, 9.0, 1.0, 0.9),
    Run(Technique.WATER, 20.0, 24.0, 1.0, 0.2),
    Run(Technique.TIGHT_TURN, 30.0, 34.0, 1.0, 0.9),
    Run(Technique.CLIMB, 60.0, 90.0, 30.0, 0.5),
    Run(Technique.CREST, 70.0, 70.0, 1.0, 0.3),
    Run(Technique.LOG, 71.0, 71.0, 1.0, 0.05),
)


def test_one_stop_a_call(settings: LoopSettings) -> None:
    """Within the spacing there is one stop, as long as the technique that takes most; mild runs are not called."""
    taught = settings.technique
    with_them = lessons_of(RUNS, Way(100.0, Direction.WITH), settings, RULE)
    assert with_them == (
        Lesson(5.0, Technique.WATER, (Technique.TIGHT_TURN,), taught[Technique.WATER].coaching_min),
        Lesson(60.0, Technique.CLIMB, (), taught[Technique.CLIMB].coaching_min),
    )


def test_against_the_line_runs_begin_at_their_other_end(settings: LoopSettings) -> None:
    """Driven against, distances are counted from the far end: 10 for the climb, 66, 76 and 91 for the rest."""
    against = lessons_of(RUNS, Way(100.0, Direction.AGAINST), settings, RULE)
    assert [(one.at_m, one.technique) for one in against] == [(10.0, Technique.CLIMB), (66.0, Technique.WATER)]


@pytest.mark.parametrize("rule", [None, RULE])
def test_techniques_without_minutes_are_not_stopped_for(settings: LoopSettings, rule: Calls | None) -> None:
    """A technique that the settings do not list takes no stop, whatever else is at its place."""
    without = {k: v for k, v in settings.technique.items() if k is not Technique.WATER}
    told = lessons_of(RUNS, Way(100.0, Direction.WITH), settings.model_copy(update={"technique": without}), rule)
    assert told
    assert all(one.technique is not Technique.WATER and Technique.WATER not in one.besides for one in told)


def test_without_a_rule_each_run_is_a_stop(settings: LoopSettings) -> None:
    """Where nothing says how calls are made, every run must be talked about by itself, mild ones too."""
    told = lessons_of(RUNS, Way(100.0, Direction.WITH), settings, None)
    assert [one.technique for one in told] == [run.technique for run in RUNS]
    assert sum(one.minutes for one in told) == sum(settings.technique[run.technique].coaching_min for run in RUNS)
