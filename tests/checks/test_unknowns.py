"""Why a check that rolls over the profiles cannot be made: reasons by segment."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.check import Case
from pipeline.checks.unknowns import cells_too_coarse, each, poses_failed, survey_too_sparse, without_height
from tests.checks.worlds import case_of, site_on, straight
from tests.worlds import Measured, plane


def case_with(**scene: object) -> Case:
    """Make a case of one level segment with parts of its scene replaced."""
    case = case_of(site_on(straight(), plane()))
    return dataclasses.replace(case, scene=dataclasses.replace(case.scene, **scene))


def test_each_writes_where_the_flag_is_set() -> None:
    """And nowhere else."""
    flags, texts = each(np.array([False, True, True]), lambda k: f"no. {k}")
    assert flags.tolist() == [False, True, True]
    assert texts.tolist() == ["", "no. 1", "no. 2"]


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (1.4, ""),
        (1.5, "an elevation cell of 1.5 m hides what a wheelbase of 2.80 m feels; at most 1.40 m would show it"),
        (
            np.nan,
            "an elevation cell of unknown size hides what a wheelbase of 2.80 m feels; at most 1.40 m would show it",
        ),
    ],
)
def test_cells_of_more_than_half_a_wheelbase_hide(cell: float, text: str) -> None:
    """Half of 2.80 m is the limit, and a cell that nobody knows is over it."""
    flags, texts = cells_too_coarse(case_of(site_on(straight(), plane(), Measured(cell_m=cell))))
    assert texts.tolist() == [text]
    assert flags.tolist() == [text != ""]


def test_surveyed_heights_far_apart_hide() -> None:
    """The same limit for the vertices of a surveyed line."""
    assert survey_too_sparse(case_with(apart_m=np.array([1.4])))[1].tolist() == [""]
    flags, texts = survey_too_sparse(case_with(apart_m=np.array([8.0])))
    assert flags.tolist() == [True]
    assert texts[0].startswith("surveyed heights 8.0 m apart hide what a wheelbase of 2.80 m feels")


def test_failed_poses_are_a_share_from_a_place() -> None:
    """3 of 12 in one direction and 0 of 12 in the other: 12 %; none is no reason; all are 100 %."""
    flags, texts = poses_failed(
        np.array([[9, 12], [12, 12], [0, 0]]),
        np.array([[3, 0], [0, 0], [5, 5]]),
        np.array([[7.25, np.nan], [np.nan, np.nan], [9.0, 2.0]]),
    )
    assert flags.tolist() == [True, False, True]
    assert texts.tolist() == [
        "12% of the poses lack ground under a wheel, from 7.2 m",
        "",
        "100% of the poses lack ground under a wheel, from 2.0 m",
    ]


def test_the_first_thing_without_height_is_named() -> None:
    """By chainage; one that was measured is no reason."""
    rocks = [
        {"kind": "rock", "obstacle_id": name, "segment_id": "s", "chainage_m": at, "height_m": high}
        for name, at, high in (("late", 40.0, None), ("early", 20.0, None), ("known", 10.0, 0.1))
    ]
    case = case_of(site_on(straight(obstacles=rocks), plane()))
    flags, texts = without_height(case, case.scene.things)
    assert flags.tolist() == [True]
    assert texts.tolist() == ["rock early at 20.0 m has no height"]
    assert without_height(case, case.scene.things.where(~np.isnan(case.scene.things.height_m)))[1].tolist() == [""]
