"""The tables of loops that were found."""

import numpy as np
import pytest

from pipeline.loops.assemble import assemble, make_record
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.bounds import BoundName
from pipeline.loops.solve.hunt import Answer
from pipeline.terms import Objective, Verdict
from tests.loops.parts import plan_of
from tests.loops.worlds import METRIC, Trail, World

WORLD = World(
    [
        Trail(0, 1, 100.26, utilisation=(0.6, 0.3), verdict=(Verdict.WATCH, Verdict.AMPLE)),
        Trail(2, 1, 200.0, utilisation=(0.3, 0.7)),
        Trail(2, 0, 50.0),
    ]
)


def test_a_row_is_summed_from_unrounded_values(settings: LoopSettings) -> None:
    """Length, exposure and worst utilisation must come from the tables' own values, value and bound from the proof."""
    plan = plan_of(WORLD, settings, objective=Objective.SAFEST)
    record = make_record(
        plan, Answer((0, 3, 4), value=500, bound=450, proven=False, bound_name=BoundName.EXACT, level=70), 2
    )
    row = record.row
    assert (row["loop"], row["rank"], row["objective"], row["proven"]) == ("loop", 2, "safest", False)
    assert row["length_m"] == pytest.approx(350.26)
    assert row["worst_utilisation"] == pytest.approx(0.7)
    assert row["exposure"] == pytest.approx(100.26 * 0.1 + 200 * 0.2)
    assert (row["value"], row["bound"]) == (50.0, 45.0)
    assert row["gap"] == pytest.approx(0.1)
    assert [leg["start_m"] for leg in record.legs] == pytest.approx([0.0, 100.26, 300.26])
    assert record.legs[0]["verdicts"] == "wagon: watch; truck: ample"


def test_gap_of_a_value_of_nothing(settings: LoopSettings) -> None:
    """A value of 0 must not divide: the gap is then the difference itself."""
    plan = plan_of(WORLD, settings, objective=Objective.SAFEST)
    assert (
        make_record(plan, Answer((0, 3, 4), 0, 0, proven=True, bound_name=BoundName.EXACT, level=50), 1).row["gap"]
        == 0.0
    )
    rich = plan_of(WORLD, settings)
    assert (
        make_record(rich, Answer((0, 3, 4), 0, 6, proven=False, bound_name=BoundName.EXACT, level=50), 1).row["gap"]
        == 2.0
    )


def test_geometry_runs_in_driving_order(settings: LoopSettings) -> None:
    """The line must begin and end at the trailhead, and pass the nodes in order, legs turned where driven against."""
    plan = plan_of(WORLD, settings)
    network = WORLD.inputs(settings).network
    loops, legs = assemble(
        [make_record(plan, Answer((0, 3, 4), 3, 3, proven=True, bound_name=BoundName.EXACT, level=70), 1)], network
    )
    line = np.array(loops.geometry.iloc[0].coords)
    nodes = {n: np.array(p.coords[0]) for n, p in zip(network.nodes["node_id"], network.nodes.geometry, strict=True)}
    assert loops.geometry.iloc[0].geom_type == "LineString"
    assert np.array_equal(line[[0, 2, 4, 6]], [nodes[0], nodes[1], nodes[2], nodes[0]])
    assert legs["seq"].tolist() == [1, 2, 3]
    assert loops.crs == METRIC


def test_legs_that_do_not_meet_stay_apart(settings: LoopSettings) -> None:
    """Where segment ends do not meet exactly, the parts must be kept apart, none bent."""
    plan = plan_of(WORLD, settings)
    moved = World(WORLD.trails).inputs(settings).network
    moved.segments.loc[[1], "geometry"] = moved.segments.geometry.iloc[[1]].translate(0.5, 0.0)
    loops, _ = assemble(
        [make_record(plan, Answer((0, 3, 4), 3, 3, proven=True, bound_name=BoundName.EXACT, level=70), 1)], moved
    )
    assert loops.geometry.iloc[0].geom_type == "MultiLineString"
    assert len(loops.geometry.iloc[0].geoms) == 3


def test_nothing_found_gives_empty_tables(settings: LoopSettings) -> None:
    """No records must give tables that keep their contracts."""
    loops, legs = assemble([], WORLD.inputs(settings).network)
    assert (len(loops), len(legs)) == (0, 0)
