"""The line past a tight place in the words of a driver."""

import math
from typing import Any

import pytest

from pipeline.checks.room.names import Names
from pipeline.checks.room.words import advice_of, at_a_glance, without_gaps
from pipeline.checks.scene import make_scene
from pipeline.kernels.plan_records import EDGE, NOTHING
from pipeline.terms import Part
from tests.checks.room.hand_made import places_of, straight_line
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import plane

OAK, ASH, LIMB, GATE = range(4)
THINGS: tuple[dict[str, Any], ...] = (
    {"kind": "tree", "chainage_m": 20.0, "offset_m": -1.2, "name": "Old Oak"},
    {"kind": "tree", "chainage_m": 21.0, "offset_m": 1.3, "name": "Thin Ash"},
    {"kind": "branch", "chainage_m": 22.0, "offset_m": -1.3, "clear_height_m": 1.5, "name": "Low Limb"},
    {"kind": "gap", "chainage_m": 23.0, "clear_width_m": 2.6, "name": "Gate"},
)


def said(north: float = 0.0, **place: object) -> str:
    """Say one place on a straight trail with :data:`THINGS`; both axles run at the offset asked for."""
    if "line" in place:
        place["line"] = {**place["line"], "y": place["line"]["y"] - place.get("offset_m", 0.0)}
    placed = [{**thing, "segment_id": "s"} for thing in THINGS]
    scene = make_scene(site_on(straight(obstacles=placed), plane(north=north)))
    (text,) = advice_of(places_of(place), Names(scene, LIMITS), envelope())
    return text


def bent(*steer: float) -> dict[str, Any]:
    """Drive on with steering angles in degrees, a metre apart; the front axle is at 20 m at the third point."""
    return {"line": straight_line([math.radians(one) for one in steer], 15.2), "lock_share": 0.5}


def test_two_edges_keep_the_middle() -> None:
    """Nothing but the edges of the trail: both gaps, no thing to go past, nothing to be done with the wheel."""
    told = "keep the middle: 0.40 m at the left mirror to the edge of the trail, "
    assert said() == told + "0.40 m at the right mirror to the edge of the trail"


def test_a_leaning_tree_is_passed_along_the_other_edge() -> None:
    """The smaller gap first, each at its part; the wheels go straight on until the rear is past."""
    place = {
        "thing": (OAK, EDGE),
        "offset_m": 0.4,
        "gap_m": (0.72, 0.32),
        "part": (Part.ROOF, Part.SILL),
        "body_x_m": (-1.5, -3.4),
        **bent(0, 0, 0, 1, -2, -8, -10),
    }
    assert said(**place) == (
        "hold the right edge past tree Old Oak on the left: 0.32 m at the right rear to the edge of the trail, "
        "0.7 m at the left of the roof; wheels straight for another 3 m, then turn right"
    )


def test_a_wide_gap_to_the_edge_is_not_held() -> None:
    """With room to spare beyond, the line is told by its distance from the middle."""
    told = said(thing=(OAK, EDGE), offset_m=0.36, gap_m=(0.3, 0.8))
    assert told.startswith("keep 0.4 m right of the middle past tree Old Oak on the left: 0.30 m at the left mirror, ")


def test_a_line_near_the_middle_holds_no_edge() -> None:
    """An edge is held by who moves over; on a narrow trail it is near on the middle line too."""
    near = {"thing": (OAK, EDGE), "gap_m": (0.25, 0.27)}
    assert said(**near, offset_m=0.06).startswith("keep the middle past tree Old Oak on the left: ")
    assert said(**near, offset_m=0.2).startswith("keep 0.2 m right of the middle past tree Old Oak on the left: ")
    assert said(**near, offset_m=0.3).startswith("hold the right edge past tree Old Oak on the left: ")


@pytest.mark.parametrize(("way", "side"), [(0, "left"), (1, "right")])
def test_the_driver_steers_the_front_axle(way: int, side: str) -> None:
    """In a bend the rear axle runs inside: the front one is 0.4 m north of the middle, whatever the rear one does."""
    line = straight_line(first_m=14.0 if way == 0 else 26.0, way=way)
    place = {"direction": way, "offset_m": 0.2, "line": {**line, "y": line["y"] + 0.4}}
    scene = make_scene(site_on(straight(), plane()))
    (text,) = advice_of(places_of(place), Names(scene, LIMITS), envelope())
    assert text.startswith(f"keep 0.4 m {side} of the middle: ")


def test_beyond_the_end_of_a_trail_the_rear_axle_counts() -> None:
    """The front axle is on another trail already."""
    line = straight_line(first_m=58.0)
    place = {"at_m": 61.0, "gap_at_m": (61.0, 61.0), "offset_m": 0.3, "line": line}
    scene = make_scene(site_on(straight(), plane()))
    (text,) = advice_of(places_of(place), Names(scene, LIMITS), envelope())
    assert text.startswith("keep 0.3 m right of the middle: ")


def test_trees_on_either_side_are_passed_between() -> None:
    """Within the length of a vehicle; farther apart only the nearer one is named, and each gap its own side."""
    both = {"thing": (OAK, ASH), "gap_m": (0.3, 0.25), "gap_at_m": (20.0, 21.0)}
    told = "keep midway between tree Old Oak and tree Thin Ash: 0.25 m at the right mirror, 0.30 m at the left mirror"
    assert said(**both) == told
    assert "past tree Thin Ash on the right: " in said(**{**both, "gap_at_m": (14.0, 21.0)})
    uneven = said(**{**both, "gap_m": (0.3, 0.15)}, offset_m=0.2)
    assert uneven.startswith("keep 0.2 m right of the middle between tree Old Oak and tree Thin Ash: ")


def test_a_gate_is_driven_through() -> None:
    """One thing on both sides: the driver sees its middle, wherever that of the trail is; else what is to be left."""
    assert said(thing=(GATE, GATE), offset_m=-0.12).startswith("keep to the middle of gap Gate: ")
    uneven = said(thing=(GATE, GATE), offset_m=-0.12, gap_m=(0.2, 0.4))
    assert uneven.startswith("keep 0.1 m left of the middle through gap Gate: ")


def test_what_lies_between_the_tyres_is_straddled() -> None:
    """A thing on both sides that is no gap."""
    assert said(thing=(OAK, OAK)).startswith("keep the middle astride tree Old Oak: ")


def test_a_branch_is_gone_round() -> None:
    """What hangs is gone round, what stands is gone past; a side without anything has no gap to tell."""
    told = said(thing=(LIMB, NOTHING), offset_m=0.5, gap_m=(0.2, math.nan), part=(Part.ROOF, -1))
    assert told == "keep 0.5 m right of the middle round branch Low Limb on the left: 0.20 m at the left of the roof"


def test_an_edge_that_is_nearer_does_not_hide_the_tree() -> None:
    """The tree on the other side is still what is gone past."""
    assert "past tree Old Oak on the left" in said(thing=(OAK, EDGE), gap_m=(0.5, 0.2))


def test_where_nothing_stands_there_is_nothing_to_pass() -> None:
    """Between two edges the wheels are told alone."""
    assert said(**bent(0, 0, 5, 9, 6, 0)).endswith("; turning left")
    assert said(**bent(8, 4, 1, 0, 0, 0)).endswith("; wheels straight")


@pytest.mark.parametrize(
    ("steer", "told"),
    [
        ((0, 0, 0, 0, 0, 0), ""),
        ((8, 4, 1, 0, 0, 0), "; wheels straight past it"),
        ((0, 0, 5, 9, 6, 0), "; turning left past it"),
        ((0, 0, -5, -9, -6, 0), "; turning right past it"),
        ((0, 0, 0, -5, -9, -6), "; wheels straight for another 1 m, then turn right"),
        ((0, 0, 0, 0, 5, 9), "; wheels straight for another 2 m, then turn left"),
        ((0, 8, *(0,) * 10, 5, 9), "; wheels straight for another 10 m, then turn left"),
        ((0, 8, *(0,) * 11, 5, 9), "; wheels straight past it"),
    ],
)
def test_wheels_from_where_the_front_axle_is_level(steer: tuple[float, ...], told: str) -> None:
    """Angles up to 3° are straight; what happens before the front axle is there is not told."""
    text = said(thing=(OAK, EDGE), **bent(*steer))
    assert text.partition("edge of the trail")[2] == told


def test_a_turn_begun_at_once_is_not_counted_in_metres() -> None:
    """Half a metre is no distance to a driver."""
    line = straight_line([0.0, 0.0, 0.0, 0.1, 0.2], 15.2)
    line["x"] = 500_000.0 + 18.0 + 0.5 * (line["chainage_m"] - 15.2)
    line["chainage_m"] = 15.2 + 0.5 * (line["chainage_m"] - 15.2)
    assert said(thing=(OAK, EDGE), gap_at_m=(19.0, 19.0), line=line).endswith("; then turn left")


def test_full_lock_is_said() -> None:
    """Only of the arc that is told of: the wheel is turned until it stops to the left before it, not to the right."""
    steer = (30, 0, 0, 0, 15, 15, 0)
    part, whole = ({**bent(*steer), "lock_share": share} for share in (0.98, 1.96))
    assert said(thing=(OAK, EDGE), **part).endswith("wheels straight for another 2 m, then turn left")
    assert said(thing=(OAK, EDGE), **whole).endswith("wheels straight for another 2 m, then turn left to full lock")


def test_against_the_digitised_direction() -> None:
    """The rear axle comes from higher chainages: level is when it is a wheelbase above the place."""
    line = straight_line([math.radians(one) for one in (0, 0, 0, 0, 6, 6)], 24.8, way=1)
    assert said(direction=1, thing=(OAK, EDGE), line=line).endswith("wheels straight for another 2 m, then turn left")


def test_where_the_middle_would_not_do() -> None:
    """Less than half of the side margin on the middle line is said, so that nobody trusts the habit of it."""
    assert said(middle_m=0.1, offset_m=0.2).endswith("; the middle of the trail leaves too little room")
    assert "too little" not in said(middle_m=0.1)


@pytest.mark.parametrize("missing_m", [0.0, 0.3])
def test_what_stands_beyond_a_tagged_edge_may_not_be_known(missing_m: float) -> None:
    """Nobody walked there for obstacles: said last, whether a line passes or not, and kept at a glance."""
    scene = make_scene(site_on(straight(surveyed_on=None), plane()))
    place = {"missing_m": missing_m, "middle_m": 0.1, "offset_m": 0.2}
    (text,) = advice_of(places_of(place), Names(scene, LIMITS), envelope())
    assert text.endswith("; the trees beside the trail were not surveyed")
    assert at_a_glance(text).endswith("; the trees beside the trail were not surveyed")
    assert "not surveyed" not in said(missing_m=missing_m)


@pytest.mark.parametrize(
    ("shunt", "end"), [(1, "; one reverse would do it"), (0, "; one reverse would not do it"), (-1, "a side")]
)
def test_where_none_passes(shunt: int, end: str) -> None:
    """What it goes past, what overlaps, what is missing, rounded up; and whether a shunt helps."""
    text = said(thing=(OAK, ASH), gap_m=(-0.113, 0.02), missing_m=0.526, shunt=shunt)
    assert text.startswith("no line leads between tree Old Oak and tree Thin Ash: 0.12 m short at the left mirror, ")
    assert "; 0.53 m of width missing to have 0.15 m a side" in text
    assert text.endswith(end)


def test_where_none_passes_between_edges() -> None:
    """A drop-off on the one side and a bank on the other, by name."""
    text = said(north=0.4, gap_m=(-0.1, -0.1), missing_m=0.5, shunt=0)
    assert text.startswith("no line leads through: 0.10 m short at the left mirror to the bank, ")
    assert "to the drop-off; " in text


def test_what_the_driver_does_without_the_figures_of_the_gaps() -> None:
    """The part that set-ups can share."""
    assert without_gaps("keep left: 0.2 m, 0.3 m; then turn left; slowly") == "keep left; then turn left; slowly"
    assert without_gaps("keep left: 0.2 m") == "keep left"


def test_a_glance_takes_in_the_smaller_gap() -> None:
    """The other gap and what the middle would give are in the table."""
    text = said(thing=(OAK, EDGE), offset_m=0.3, gap_m=(0.21, 0.3), middle_m=0.0, **bent(0, 0, 0, 0, 5, 9))
    assert at_a_glance(text) == (
        "hold the right edge past tree Old Oak on the left: 0.21 m at the left mirror; "
        "wheels straight for another 2 m, then turn left"
    )
    short = "no line leads through: 0.10 m short at the left mirror to the bank"
    assert at_a_glance(f"{short}, 0.10 m; 0.50 m of width missing") == f"{short}; 0.50 m of width missing"


def test_names_do_not_part_a_sentence() -> None:
    """A name with a colon or a semicolon in it leaves the parts of the sentence where they are."""
    tree = {**THINGS[0], "segment_id": "s", "name": "Oak: old; leaning"}
    scene = make_scene(site_on(straight(obstacles=[tree]), plane()))
    (text,) = advice_of(places_of({"thing": (0, EDGE)}), Names(scene, LIMITS), envelope())
    assert without_gaps(text) == "keep the middle past tree Oak, old, leaning on the left"


def test_no_place_needs_no_words() -> None:
    """An empty list."""
    scene = make_scene(site_on(straight(), plane()))
    assert advice_of(places_of(), Names(scene, LIMITS), envelope()) == []


def test_a_line_of_one_point_says_nothing_of_wheels() -> None:
    """Nothing to measure along."""
    assert ";" not in said(thing=(OAK, EDGE), line=straight_line([0.2]))
