"""Turn, width and height, from rooms made by hand."""

import dataclasses
import math

import numpy as np
import pytest

from pipeline.checks.check import Check, Outcome
from pipeline.checks.passage import Height, Turn, Width, kerb_curvature
from pipeline.checks.room.found import Room
from pipeline.checks.site import CheckSite
from pipeline.kernels.plan_records import LEFT, RIGHT
from pipeline.terms import Basis, Part
from tests.checks.room.hand_made import places_of, room_of, straight_line, unbounded
from tests.checks.worlds import LIMITS, case_of, envelope, site_on, straight
from tests.worlds import plane

SET_UP = envelope()
LOCK = 1.0 / (math.sqrt(6.0**2 - 2.8**2) - 0.8)
"""Curvature of the rear axle's way on the turning circle of 6.0 m, wheelbase 2.8 m, front track 1.6 m."""


def thing(kind: str, at: float = 20.0, **columns: object) -> dict[str, object]:
    """Make a thing on the tiny trail."""
    return {"kind": kind, "segment_id": "s", "chainage_m": at, **columns}


def found(check: Check, room: Room, **columns: object) -> Outcome:
    """Make one check of a room on the tiny trail."""
    return found_on(site_on(straight(**columns), plane()), check, room)


def found_on(site: CheckSite, check: Check, room: Room) -> Outcome:
    """Make one check of a room on a site."""
    return check.evaluate(dataclasses.replace(case_of(site, SET_UP), room=room))


def test_kerb_curvature_of_the_aashto_passenger_car() -> None:
    """Passenger car P of the AASHTO Green Book, feet: wheelbase 11, width 7, inner circle 14.42, kerb circle 24.

    The middle of the rear axle runs half of the width outside the inner circle. Within 0.1 ft, as the published
    figures are rounded.
    """
    rear = 1.0 / (14.42 + 3.5)
    assert 1.0 / kerb_curvature(np.array([rear]), 11.0, 7.0) == pytest.approx([24.0], abs=0.1)


def test_kerb_curvature_at_its_ends() -> None:
    """Full lock gives the turning circle; a straight gives none; what is not known stays so; a bend is eased."""
    assert kerb_curvature(np.array([LOCK, 0.0]), 2.8, 1.6) == pytest.approx([1.0 / 6.0, 0.0])
    assert np.isnan(kerb_curvature(np.array([np.nan]), 2.8, 1.6)).all()
    for rear in (0.01, 0.1, 0.3):
        outer = float(kerb_curvature(np.array([rear]), 2.8, 1.6)[0])
        assert 1.0 / outer == pytest.approx(math.hypot(1.0 / rear + 0.8, 2.8))


def test_turn_is_at_its_limit_at_full_lock() -> None:
    """Utilisation 1 on the turning circle, at its place; a straight asks nothing, at no place."""
    turn = found(Turn(), room_of(needed=LOCK, needed_at_m=31.0))
    assert turn.utilisation == pytest.approx(1.0)
    assert turn.at_m.tolist() == [[31.0, 31.0]]
    assert turn.limit == pytest.approx(1.0 / 6.0)
    none = found(Turn(), room_of(needed=0.0, needed_at_m=0.0))
    assert none.utilisation.tolist() == [[0.0, 0.0]]
    assert np.isnan(none.at_m).all()


def test_a_bend_that_full_lock_does_not_hold_is_over() -> None:
    """The least that the edges allow is over the limit, and the sentence says which limit that is of."""
    turn = found(Turn(), room_of(needed=1.2 * LOCK, needed_at_m=31.0, turns=False))
    assert (turn.utilisation > 1.0).all()
    assert (turn.more == "not even full lock holds it within the edges of the trail").all()


def test_what_full_lock_holds_asks_for_no_more() -> None:
    """A line that bends a little more than the lock where its pieces meet is driven at full lock."""
    turn = found(Turn(), room_of(needed=1.05 * LOCK, needed_at_m=31.0))
    assert turn.utilisation == pytest.approx(1.0)
    assert (turn.more == "").all()


def test_no_line_has_no_turn() -> None:
    """Without stations there is nothing to drive."""
    turn = found(Turn(), unbounded(needed=np.nan))
    assert (turn.unknown == "the line has no stations").all()


@pytest.mark.parametrize(
    ("columns", "at", "basis"),
    [
        ({}, 31.0, Basis.SURVEYED),
        ({}, 20.0, Basis.TAG),
        ({"width_m": None}, 31.0, Basis.SURVEYED),
        ({"width_m": None}, 20.0, Basis.ASSUMED),
        ({"obstacles_surveyed": False}, 31.0, Basis.TAG),
    ],
)
def test_turn_rests_on_the_line_and_in_a_tight_place_on_the_room(
    columns: dict[str, object], at: float, basis: Basis
) -> None:
    """From 14 to 26 m, with the digitised direction, the line leaves the middle: the tag or an assumption counts."""
    turn = found(Turn(), room_of(places=places_of({}), needed=0.1, needed_at_m=at), **columns)
    assert turn.basis[0, 0] == basis
    outside = Basis.TAG if "obstacles_surveyed" in columns else Basis.SURVEYED
    assert turn.basis[0, 1] == outside, "no tight place in the other direction"


def test_width_between_two_walls_is_the_clear_width() -> None:
    """2.10 m in the middle of 2.60 m leaves 0.25 m a side: 2.10 m and a margin of 0.30 m of 2.60 m."""
    width = found(Width(), room_of(gap_m=0.25, basis=Basis.SURVEYED))
    assert width.demand == pytest.approx(2.1 + LIMITS.side_margin_m)
    assert width.limit == pytest.approx(2.6)
    assert width.at_m.tolist() == [[20.0, 20.0]]
    assert (width.basis == Basis.SURVEYED).all()
    assert (width.unknown == "").all()


def test_width_is_at_its_limit_when_half_of_the_margin_is_left() -> None:
    """0.15 m on the tighter side is utilisation 1, whatever part of the body is nearest and however wide it is."""
    for wide in (1.85, 2.1):
        assert found(Width(), room_of(gap_m=0.15, width_m=wide)).utilisation == pytest.approx(1.0)
        assert (found(Width(), room_of(gap_m=0.149, width_m=wide)).utilisation > 1.0).all()


def test_width_says_what_is_nearest() -> None:
    """Thing or edge, on the side in travel; roundings never make it roomier."""
    oak = thing("tree", name="Old Oak", offset_m=1.4)
    near = room_of(gap_m=0.299, thing=0, side=RIGHT, part=Part.MIRROR, basis=Basis.SURVEYED)
    assert (found(Width(), near, obstacles=[oak]).more == "0.29 m between right mirror and tree Old Oak").all()
    edge = room_of(gap_m=0.4, side=LEFT, part=Part.WHEEL)
    assert (found(Width(), edge).more == "0.40 m between left tyres and the edge of the trail").all()


def test_width_that_is_missing_is_told_with_the_shunt() -> None:
    """What is missing is that of the worst place, rounded up; one reverse must do at every place that does not pass."""
    oak = thing("tree", name="Old Oak", offset_m=1.4)
    short = {"missing_m": 0.441, "shunt": 1}
    room = room_of(places=places_of(short), gap_m=-0.07, thing=0, side=RIGHT, basis=Basis.SURVEYED)
    more = found(Width(), room, obstacles=[oak]).more
    start = "right mirror too near to tree Old Oak"
    assert more[0, 0] == f"{start}; 0.45 m of width missing; one reverse would do it"
    assert more[0, 1] == start, "the place is in the other direction"
    for shunts, end in (((1, 0), "; one reverse would not do it"), ((1, -1), "missing")):
        rows = [{"missing_m": 0.2, "shunt": shunt} for shunt in shunts]
        room = room_of(places=places_of(*rows, {}), gap_m=-0.07)
        assert found(Width(), room).more[0, 0].endswith(f"; 0.20 m of width missing{end}"[-len(end) :])


def test_width_of_a_tag_in_an_unsurveyed_wood_says_so() -> None:
    """The tag counts, and nobody has looked at the trees beside it; beside a surveyed trail that goes unsaid."""
    dark = found(Width(), room_of(), obstacles_surveyed=False)
    assert (dark.basis == Basis.TAG).all()
    assert dark.more[0, 0].endswith("; the trees beside the trail were not surveyed")
    assert (dark.unknown == "").all()
    assert "not surveyed" not in found(Width(), room_of()).more[0, 0]


def test_a_gap_is_passed_straight_over_the_mirrors() -> None:
    """A line that threads the mirrors one after the other takes no width off them: 2.40 m of 2.30 m, 0.10 m missing."""
    gates = [thing("gap", 30.0, clear_width_m=2.8), thing("gap", 33.0, clear_width_m=2.3, name="Gate")]
    width = found(Width(), room_of(gap_m=0.16), obstacles=gates)
    assert width.demand == pytest.approx(2.4)
    assert width.limit == pytest.approx(2.3)
    assert (width.at_m == 33.0).all()
    assert (width.basis == Basis.SURVEYED).all()
    assert (width.more == "straight through gap Gate; 0.10 m of width missing").all()
    wide = found(Width(), room_of(gap_m=0.1), obstacles=gates[:1])
    assert wide.limit == pytest.approx(2.3), "what is narrower elsewhere counts"
    known = found(Width(), unbounded(), obstacles=gates, width_m=None)
    assert (known.unknown == "").all()
    assert (known.more == "straight through gap Gate; 0.10 m of width missing").all()


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"width_m": None, "obstacles_surveyed": False}, "no width is tagged and the segment was not surveyed for"),
        ({"width_m": None}, "no width is tagged and no narrow place was measured"),
        ({"obstacles": [thing("gap", name="Gate")]}, "gap Gate at 20.0 m has no clear width"),
        (
            {"obstacles": [thing("gap", 40.0, name="Far"), thing("gap", 30.0, name="Near")]},
            "gap Near at 30.0 m has no clear width",
        ),
    ],
)
def test_width_that_nobody_knows(columns: dict[str, object], reason: str) -> None:
    """Without a tag, or with a gap nobody measured, width is open, and says why; the first gap is named."""
    width = found(Width(), unbounded(), **columns)
    assert all(text.startswith(reason) for text in width.unknown.ravel())


def test_a_line_without_stations_has_no_width() -> None:
    """Not even the tag is held against it."""
    assert (found(Width(), unbounded()).unknown == "the line has no stations").all()


def test_measured_things_speak_for_an_untagged_surveyed_trail() -> None:
    """What was found beside it is what there is."""
    width = found(Width(), room_of(gap_m=0.3, basis=Basis.SURVEYED), width_m=None)
    assert (width.unknown == "").all()
    assert width.utilisation == pytest.approx(2.4 / 2.7)


def test_height_under_the_lowest_branch_of_the_line() -> None:
    """1.90 m and 0.10 m margin under 2.20 m, at its place; a lower sign counts more."""
    under = room_of(under=0, clear_m=2.2, under_at_m=10.0)
    height = found(Height(), under)
    assert height.utilisation == pytest.approx(2.0 / 2.2)
    assert height.at_m.tolist() == [[10.0, 10.0]]
    assert (height.basis == Basis.SURVEYED).all()
    sign = found(Height(), under, max_height_m=2.1)
    assert sign.utilisation == pytest.approx(2.0 / 2.1)
    assert (sign.basis == Basis.TAG).all()


def test_a_branch_that_the_line_leads_neither_under_nor_round_bars() -> None:
    """Its clear height is less than the vehicle needs."""
    assert (found(Height(), room_of(under=0, clear_m=1.7, under_at_m=10.0)).utilisation > 1.0).all()


@pytest.mark.parametrize(
    ("beside", "told"),
    [
        (0, ""),
        (1, "the line leads round a branch that it does not fit under"),
        (3, "the line leads round 3 branches that it does not fit under"),
    ],
)
def test_branches_that_the_line_leads_round_are_told(beside: int, told: str) -> None:
    """They ask nothing of the height; nobody must take the trail for free of them."""
    free = found(Height(), room_of(beside=beside))
    assert free.utilisation.tolist() == [[0.0, 0.0]]
    assert (free.more == told).all()
    assert (free.note == ("no branch over the line" if beside else "no branch found")).all()
    assert (found(Height(), room_of(beside=beside, under=0, clear_m=2.4)).more == told).all()


def test_surveyed_trail_without_branch_is_free() -> None:
    """A survey that found no branch says so; without a survey nothing is known but a tagged height."""
    free = found(Height(), room_of())
    assert free.utilisation.tolist() == [[0.0, 0.0]]
    assert (free.basis == Basis.SURVEYED).all()
    dark = found(Height(), room_of(), obstacles_surveyed=False)
    assert (dark.unknown == "not surveyed for branches, and no height is tagged").all()
    tagged = found(Height(), room_of(), obstacles_surveyed=False, max_height_m=2.5)
    assert tagged.utilisation == pytest.approx(0.8)
    assert (tagged.unknown == "").all()


def test_branch_without_height_is_told() -> None:
    """A branch over the middle line that nobody measured leaves the height open; without a width it hangs all over."""
    for width in (None, 0.5):
        limb = thing("branch", name="Low Ash", width_m=width, offset_m=None if width is None else 0.4)
        assert (
            found(Height(), room_of(), obstacles=[limb]).unknown == "branch Low Ash at 20.0 m has no clear height"
        ).all()


def test_branch_without_height_beside_the_line_does_not_count() -> None:
    """It ends beyond mirrors and margin, 1.2 m from the middle; where the line goes over to it, it counts."""
    limb = thing("branch", name="Low Ash", width_m=0.5, offset_m=1.5)
    assert (found(Height(), room_of(), obstacles=[limb]).unknown == "").all()
    line = straight_line()
    line["rear_offset_m"] = line["rear_offset_m"] + 0.1
    room = room_of(places=places_of({"line": line}))
    assert found(Height(), room, obstacles=[limb]).unknown[0].tolist() == [
        "branch Low Ash at 20.0 m has no clear height",
        "",
    ], "the other way the line stays in the middle"
    back = straight_line(first_m=26.0, way=1)
    back["rear_offset_m"] = back["rear_offset_m"] - 0.1
    room = room_of(places=places_of({"direction": 1, "line": back}))
    assert found(Height(), room, obstacles=[limb]).unknown[0, 1] != "", "left in travel is right of the digitised way"
