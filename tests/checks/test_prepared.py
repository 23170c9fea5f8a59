"""A site and its set-ups, rolled over once."""

import numpy as np

from pipeline.checks.prepared import prepare
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import Measured, plane


def test_every_set_up_has_its_own_case_in_order() -> None:
    """Names as given, each with the sweeps of its own vehicle: the narrow one uses more of its roll limit."""
    site = site_on(straight(), plane(0.1, 0.2))
    setups = [envelope(setup="wide"), envelope(setup="narrow", track_front_m=1.2, track_rear_m=1.2)]
    prepared = prepare(site, setups, LIMITS)
    cases = prepared.cases()
    assert [case.envelope.setup for case in cases] == ["wide", "narrow"]
    assert [case.four for case in cases] == list(prepared.fours)
    assert [case.sweep for case in cases] == list(prepared.sweeps)
    assert (cases[1].four.utilisation[0, :, 0] > cases[0].four.utilisation[0, :, 0]).all()


def test_no_set_up_is_no_case() -> None:
    """Nothing to roll."""
    assert prepare(site_on(straight(), plane()), [], LIMITS).cases() == []


def test_things_on_coarse_cells_stand_on_no_known_slope() -> None:
    """A cell that averages slopes away tells nothing about the climb on to a log; one of 5 m does."""
    network = straight(obstacles=[thing("log", height_m=0.1, width_m=3.0)])
    for cell, known in ((5.0, True), (5.5, False)):
        site = site_on(network, plane(east=0.1), Measured(cell_m=cell))
        (choice,) = prepare(site, [envelope()], LIMITS).choices
        assert np.isnan(choice.things.grade).tolist() == [not known]
        assert np.isnan(choice.climb.limit_m).tolist() == [[not known] * 2]
