"""The calls of a drive sheet."""

import os
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
import shapely

from pipeline.survey.model import Network
from pipeline.tables import CALLS, validate
from pipeline.technique.briefing import CallInputs, calls_table
from pipeline.technique.inventory import technique_table
from tests.technique.worlds import checks_of, legs_of, lines_of, loops_of, passings_of, techniques
from tests.worlds import ORIGIN, Surface, at, network_of, plane, ramp, surface_terrain

Row = dict[str, object]
SHIPPED = techniques()
NO_CHECKS = checks_of({"verdict": "ample"})


def rock(chainage: float, height: float = 0.3, **more: object) -> Row:
    """Make a rock on segment ``a``."""
    return {"kind": "rock", "segment_id": "a", "chainage_m": chainage, "height_m": height, "offset_m": 0.0, **more}


def site(*obstacles: Row) -> Network:
    """Two segments in a row, 200 m and 60 m, to the east."""
    return network_of({"a": at((0, 0), (200, 0)), "b": at((200, 0), (260, 0))}, obstacles=list(obstacles))


def inputs(
    network: Network,
    surface: Surface,
    legs: tuple[tuple[str, str], ...],
    checks: pd.DataFrame = NO_CHECKS,
    **calls: float,
) -> CallInputs:
    """Make the inputs of one loop ``round``, driven by ``box``."""
    settings = techniques(calls=calls) if calls else techniques()
    terrain = surface_terrain(network, surface)
    return CallInputs(
        loops=loops_of(network, ("round", 1)),
        legs=legs_of(network, *legs),
        network=network,
        terrain=terrain,
        techniques=technique_table(network, terrain, settings),
        checks=checks,
        setups_of_loop={"round": ("box",)},
        settings=settings,
    )


OUT = (("a", "with"), ("b", "with"))
BACK = (("b", "against"), ("a", "against"))


def test_calls_are_numbered_in_driving_order_and_fit_their_contract() -> None:
    """Three rocks far apart are three calls, 1 to 3, on the line at their chainages."""
    network = site(rock(150.0), rock(20.0), rock(80.0))
    calls = validate(calls_table(inputs(network, plane(), OUT)), CALLS)
    assert calls["call"].tolist() == [1, 2, 3]
    assert calls["at_m"].tolist() == [20.0, 80.0, 150.0]
    assert calls["technique"].tolist() == ["rock"] * 3
    assert [point.x - ORIGIN[0] for point in calls.geometry] == pytest.approx([20.0, 80.0, 150.0])
    assert calls["coming"].iloc[0] == "rock, 0.30 m high"
    assert calls["before"].iloc[0].startswith("15 m before: lowest gear; a tyre on it")


def test_going_back_reverses_the_calls() -> None:
    """Against the digitised direction the same rocks are met in the other order, at the same places."""
    network = site(rock(20.0), rock(80.0))
    calls = calls_table(inputs(network, plane(), BACK))
    assert calls["at_m"].tolist() == [60.0 + 120.0, 60.0 + 180.0]
    assert calls["chainage_m"].tolist() == [80.0, 20.0]
    assert calls["direction"].tolist() == ["against", "against"]


def test_brow_and_descent_are_one_call() -> None:
    """At the top of a ramp the crest and the descent are told together, with advice on each under its word."""
    calls = calls_table(inputs(site(), ramp(ORIGIN[0] + 60, 0.3, 40.0), BACK))
    top = calls[calls["coming"].str.contains("descent")]
    (row,) = top.to_dict("records")
    assert row["coming"] == "crest, breaks away 17°; descent 17° for 40 m"
    assert row["before"].startswith("15 m before: Crest: stop short")
    assert ". Descent: low range, first gear; wheels straight" in row["before"]
    assert row["technique"] == "descent"


def test_what_follows_closely_is_told_with_its_distance() -> None:
    """A log 20 m after a rock belongs to the rock's call; a third thing 35 m after it has its own."""
    log = {**rock(40.0), "kind": "log"}
    calls = calls_table(inputs(site(rock(20.0), log, rock(55.0)), plane(), OUT))
    assert calls["at_m"].tolist() == [20.0, 55.0]
    assert calls["coming"].iloc[0] == "rock, 0.30 m high; 20 m on: log, 0.30 m high"


def test_calls_stand_apart_and_nothing_is_left_out() -> None:
    """Thirty-eight rocks five metres apart make calls at least 30 m apart, whose words count every rock."""
    network = site(*(rock(5.0 * k, 0.2 + 0.001 * k) for k in range(1, 39)))
    calls = calls_table(inputs(network, plane(), OUT))
    assert calls["at_m"].tolist() == [5.0, 40.0, 75.0, 110.0, 145.0, 180.0]
    assert calls["coming"].iloc[0] == ("rock; 25 m on: rock, 0.21 m high; 30 m on: rock, 0.21 m high; also 4 × rock")
    assert calls["coming"].iloc[-1] == "rock; 2 × rock, 0.24 m high"
    assert sum(_rocks_told(text) for text in calls["coming"]) == 38


def _rocks_told(text: str) -> int:
    """Count the rocks that a call tells of."""
    parts = [part.removeprefix("also ") for part in text.split("; ")]
    return sum(int(part.split(" × ")[0]) if " × " in part else 1 for part in parts)


def test_most_demanding_features_get_the_advice() -> None:
    """With two to be named, the mild rut between a high rock and deep water is named only."""
    rut = {**rock(24.0, -0.15), "kind": "rut"}
    water = {**rock(28.0), "kind": "water", "depth_m": 0.5}
    network = site(rock(20.0, 0.4), rut, water)
    (row,) = calls_table(inputs(network, plane(), OUT, named=2)).to_dict("records")
    assert row["coming"] == "rock, 0.40 m high; water, 0.50 m deep; also rut"
    assert row["technique"] == "water"
    assert "thumbs outside" not in row["before"]


def test_the_same_advice_is_given_once() -> None:
    """Two rocks in one call share one advice."""
    (row,) = calls_table(inputs(site(rock(20.0), rock(25.0, 0.25)), plane(), OUT)).to_dict("records")
    assert row["coming"] == "rock, 0.30 m high; rock, 0.25 m high"
    assert row["before"].count("a tyre on it") == 1


def test_spotter_has_a_call_of_its_own() -> None:
    """A check that needs a spotter 20 m after a rock is a call at its own place, flagged, without a technique."""
    calls = calls_table(inputs(site(rock(10.0)), plane(), OUT, checks_of({"at_m": 30.0})))
    assert calls["at_m"].tolist() == [10.0, 30.0]
    assert calls["spotter"].tolist() == [False, True]
    assert pd.isna(calls["technique"].iloc[1])
    assert calls["coming"].iloc[1] == "spotter: breakover 18.0° of 20.0°"
    assert calls["before"].iloc[1] == "15 m before: stop; move only at the spotter's sign"


def test_spotter_at_a_rock_is_one_call_with_it() -> None:
    """Where the spotter is needed for the rock itself, one call tells both and keeps the flag."""
    (row,) = calls_table(inputs(site(rock(29.0)), plane(), OUT, checks_of({"at_m": 30.0}))).to_dict("records")
    assert row["spotter"]
    assert row["technique"] == "rock"
    assert row["coming"] == "rock, 0.30 m high; spotter: breakover 18.0° of 20.0°"
    assert row["before"] == "15 m before: lowest gear; a tyre on it, never straddle it; one wheel at a time"


def test_no_spotter_is_dropped_in_a_crowd() -> None:
    """Ten spotters within a few metres are all told, however few features a call may name."""
    names = ("approach", "breakover", "departure", "belly", "roll", "slide", "climb", "descent", "turn", "width")
    checks = checks_of(*({"check": name, "reason": name, "at_m": 30.0 + k} for k, name in enumerate(names)))
    calls = calls_table(inputs(site(rock(29.0, 0.4)), plane(), OUT, checks, named=1))
    told = " ".join(calls["coming"])
    assert "spotter: " + ", ".join(names) in told
    assert told.count("spotter") == len(calls) == 1
    assert calls["spotter"].all()


def test_spotter_of_some_set_ups_names_them_and_stands_before_what_is_farther_on() -> None:
    """Where only one of two set-ups needs the spotter it is named; a log 20 m on comes after it, with its distance."""
    log = {**rock(50.0), "kind": "log"}
    given = inputs(site(log), plane(), OUT, checks_of({"at_m": 30.0}))
    given = replace(given, setups_of_loop={"round": ("box", "long")})
    (row,) = calls_table(given).to_dict("records")
    assert row["coming"] == "spotter for box: breakover 18.0° of 20.0°; 20 m on: log, 0.30 m high"
    assert row["before"].startswith("15 m before: Spotter: stop; move only at the spotter's sign. Log: lowest gear")


def test_mild_ground_gets_no_call_but_a_mild_thing_does() -> None:
    """A climb of 14° is a quarter of full intensity and driven by eye; a rock as mild as that is called."""
    calls = calls_table(inputs(site(rock(20.0, 0.175)), ramp(ORIGIN[0] + 100, 0.25, 60.0), OUT))
    assert calls["coming"].tolist() == ["rock, 0.17 m high"]


def test_a_call_is_short() -> None:
    """However crowded the trail, a call gives at most two advices, each one line, and says once where to act."""
    kinds = ("rock", "log", "step", "rut", "ditch", "hole", "soft", "water", "gap", "branch")
    things = [
        {**rock(20.0 + at), "kind": kind, "depth_m": 0.4, "clear_width_m": 2.2, "clear_height_m": 2.1, "length_m": 5.0}
        for at, kind in enumerate(kinds)
    ]
    calls = calls_table(inputs(site(*things), plane(), (*OUT, *BACK), checks_of({"at_m": 30.0})))
    assert calls["before"].str.count("m before:").tolist() == [1] * len(calls)
    assert calls["before"].str.count(r"\. ").max() == 1
    assert calls["before"].str.len().max() <= 215
    assert all(
        advice.before == advice.before.strip() and len(advice.before) <= 80 for advice in SHIPPED.advice().values()
    )


def test_turn_round_is_called() -> None:
    """A loop that goes out and back has a call at the far end."""
    calls = calls_table(inputs(site(), plane(), (*OUT, *BACK)))
    assert calls["at_m"].tolist() == [260.0]
    assert calls["coming"].tolist() == ["turn round"]
    assert not calls["spotter"].any()


def test_sides_are_those_of_the_driver() -> None:
    """Ground that rises to the north is on the left going east and on the right coming back."""
    network = site()
    there = calls_table(inputs(network, plane(0.0, 0.3), OUT))["coming"].tolist()
    back = calls_table(inputs(network, plane(0.0, 0.3), BACK))["coming"].tolist()
    assert there == ["side slope 17° for 260 m, high on the left"]
    assert back == ["side slope 17° for 260 m, high on the right"]


def test_each_loop_and_rank_is_numbered_from_one() -> None:
    """Alternatives have their own calls; the set-ups of the loop decide about spotters."""
    network = site(rock(20.0))
    given = inputs(network, plane(), OUT, checks_of({"setup": "long", "at_m": 100.0}))
    legs = pd.concat(
        [legs_of(network, *OUT), legs_of(network, *BACK, rank=2), legs_of(network, *OUT, loop="other")],
        ignore_index=True,
    )
    loops = loops_of(network, ("round", 1), ("round", 2), ("other", 1))
    calls = calls_table(
        CallInputs(
            loops,
            legs,
            network,
            given.terrain,
            given.techniques,
            given.checks,
            {"round": ("box",), "other": ("box", "long")},
            given.settings,
        )
    )
    numbered = calls[["loop", "rank", "call", "spotter"]].to_numpy().tolist()
    assert numbered == [
        ["round", 1, 1, False],
        ["round", 2, 1, False],
        ["other", 1, 1, False],
        ["other", 1, 2, True],
    ]


def test_no_loops_no_calls() -> None:
    """Without loops, and on ground that asks for nothing, the table is empty and fits its contract."""
    network = site()
    quiet = inputs(network, plane(), OUT)
    assert validate(calls_table(quiet), CALLS).empty
    none = CallInputs(quiet.loops.iloc[:0], quiet.legs.iloc[:0], network, *_rest(quiet))
    assert validate(calls_table(none), CALLS).crs == network.crs


def _rest(given: CallInputs) -> tuple[object, ...]:
    """Give the inputs after the network."""
    return given.terrain, given.techniques, given.checks, given.setups_of_loop, given.settings


def test_inputs_are_not_changed_and_points_are_flat() -> None:
    """The stage leaves its tables as they were; points carry no height even where the line does."""
    network = network_of({"a": [(*xy, 100.0) for xy in at((0, 0), (200, 0))]}, obstacles=[rock(20.0)])
    given = inputs(network, plane(), (("a", "with"),))
    before = given.techniques.copy(deep=True), given.legs.copy(deep=True), given.checks.copy(deep=True)
    calls = calls_table(given)
    for old, new in zip(before, (given.techniques, given.legs, given.checks), strict=True):
        pd.testing.assert_frame_equal(old, new)
    assert not shapely.has_z(calls.geometry.to_numpy()).any()


def test_the_way_past_a_thing_stands_in_place_of_the_common_advice() -> None:
    """Worked out for the set-ups of the loop, with what to do besides; the other way round by its own rows."""
    network = site(rock(20.0, obstacle_id="o"))
    ways = passings_of(
        {"shift_m": 0.3}, {"direction": "against", "passing": "tread", "wheels": "right", "speed_kmh": 1.5}
    )
    there = calls_table(replace(inputs(network, plane(), OUT), passings=ways))
    back = calls_table(replace(inputs(network, plane(), BACK), passings=ways))
    assert there["before"].tolist() == ["15 m before: straddle it, 0.3 m right of the middle; lowest gear"]
    assert back["before"].tolist() == ["15 m before: right wheels on it, no faster than 1.5 km/h; lowest gear"]


def test_set_ups_that_differ_are_told_apart_in_one_call() -> None:
    """Each set-up of the loop by its name."""
    ways = passings_of({}, {"setup": "long", "passing": "go round", "shift_m": -1.0})
    given = replace(inputs(site(rock(20.0, obstacle_id="o")), plane(), OUT), passings=ways)
    (row,) = calls_table(replace(given, setups_of_loop={"round": ("box", "long")})).to_dict("records")
    assert row["before"] == "15 m before: box: straddle it; long: pass it on the left; lowest gear"


def test_things_without_a_way_keep_the_common_advice() -> None:
    """A branch has none, nor has a rock that is in nobody's way."""
    branch = {**rock(80.0), "kind": "branch", "clear_height_m": 2.2}
    given = replace(inputs(site(rock(20.0), branch), plane(), OUT), passings=passings_of({"obstacle_id": "other"}))
    assert calls_table(given)["before"].tolist() == calls_table(replace(given, passings=None))["before"].tolist()


def test_sheet_of_an_out_and_back_is_the_golden_one() -> None:
    """The calls of a hill with a rock, a ford, a step and a spotter, word by word as they are read in the field."""
    water = {"kind": "water", "segment_id": "b", "chainage_m": 30.0, "depth_m": 0.35, "name": "Mill Ford"}
    step = {"kind": "step", "segment_id": "a", "chainage_m": 180.0, "height_m": -0.2, "offset_m": 0.0}
    network = site(rock(10.0, name="Anvil"), step, water)
    calls = calls_table(inputs(network, ramp(ORIGIN[0] + 60, 0.3, 60.0), (*OUT, *BACK), checks_of({"at_m": 30.0})))
    lines = [
        line
        for row in calls.to_dict("records")
        for line in (
            f"{row['call']}  {row['at_m']:.0f} m  {row['segment_id']} {row['direction']} at {row['chainage_m']:.0f} m"
            + ("  SPOTTER" if row["spotter"] else ""),
            f"   {row['coming']}",
            f"   {row['before']}",
        )
    ]
    golden = Path(__file__).parent / "golden" / "calls.txt"
    if os.environ.get("LOOPWRIGHT_GOLDEN") == "update":
        golden.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    assert "\n".join(lines) + "\n" == golden.read_text(encoding="utf-8")


TREE: Row = {"kind": "tree", "segment_id": "a", "obstacle_id": "t", "chainage_m": 20.0, "offset_m": -1.3, "name": "Oak"}


def test_a_tree_beside_the_trail_is_called_with_its_line() -> None:
    """With the lead of every call; without lines, or without the settings' table, it goes unsaid."""
    plain = inputs(site(TREE), plane(), OUT)
    assert calls_table(plain).empty
    told = replace(plain, lines=lines_of({}))
    (row,) = calls_table(told).to_dict("records")
    assert row["coming"] == "little room, 0.22 m (tree Oak)"
    assert row["before"].startswith("15 m before: keep 0.3 m right of the middle past tree Oak on the left: 0.22 m at")
    assert (row["at_m"], row["technique"]) == (20.0, "gap")
    assert calls_table(replace(told, settings=SHIPPED.model_copy(update={"tight_place": None}))).empty


def test_a_line_that_a_gap_tells_is_not_told_again() -> None:
    """The tree is one of the pair."""
    other = {**TREE, "obstacle_id": "u", "chainage_m": 21.0, "offset_m": 1.3, "name": None}
    (row,) = calls_table(replace(inputs(site(TREE, other), plane(), OUT), lines=lines_of({}))).to_dict("records")
    assert row["coming"] == "narrow gap, 2.60 m wide (Oak)"
    assert row["before"].count("tree Oak") == 1
