"""The vocabularies are closed, and their order is that of severity."""

import itertools

from pipeline.terms import Basis, CheckName, Direction, Driver, ObstacleKind, Technique, Verdict, Wetness


def test_unsurveyed_is_never_better_than_what_may_be_driven() -> None:
    """Not knowing ranks above every verdict that lets a vehicle go, and only below barred."""
    assert sorted(Verdict, key=lambda one: one.rank) == ["ample", "watch", "spot", "unsurveyed", "barred"]
    assert all(Verdict.UNSURVEYED.rank > one.rank for one in (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT))
    assert max(Verdict, key=lambda one: one.rank) is Verdict.BARRED


def test_no_verdict_promises_anything() -> None:
    """No word of the vocabularies of results says safe."""
    words = itertools.chain(Verdict, CheckName, Technique, Driver, Wetness, ObstacleKind)
    assert not [word for word in words if "safe" in word]


def test_order_of_drivers_and_wetness() -> None:
    """Most careful and driest first."""
    assert [one.rank for one in (Driver.FIRST_TIMER, Driver.PRACTISED, Driver.EXPERT)] == [0, 1, 2]
    assert [one.rank for one in (Wetness.DRY, Wetness.DAMP, Wetness.WET, Wetness.SOAKED)] == [0, 1, 2, 3]


def test_the_worst_basis_is_the_smallest() -> None:
    """The least known part decides what a demand rests on."""
    assert min(Basis.DEM, Basis.ASSUMED, Basis.SURVEYED) is Basis.ASSUMED
    assert [one.word for one in Basis] == ["none", "assumed", "tag", "dem", "surveyed"]


def test_direction_signs() -> None:
    """With the digitised direction is +1."""
    assert Direction.WITH.sign == 1
    assert Direction.AGAINST.sign == -1


def test_words_stand_in_tables_as_they_are() -> None:
    """A member is its word, so that a table of text compares with it."""
    assert Verdict("spot") == "spot"
    assert f"{Driver.FIRST_TIMER}" == "first-timer"
