"""The way past things: each rule by hand, and what must hold for any."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.passing.choice import choose, codes_of, lowest_of
from pipeline.terms import Drive, Driver, Passing
from tests.checks.passing.worlds import Row, chosen, thing, things_on, words
from tests.checks.worlds import LIMITS, envelope

PAIRS = {word: (word, word) for word in ("straddle", "tread", "go round", "barred", "unsurveyed")}


def way(row: Row, **how: object) -> tuple[str, str]:
    """Name the way past one thing."""
    (found,) = words(chosen(row, **how))
    return found


@pytest.mark.parametrize(("height", "word"), [(0.10, "straddle"), (0.15, "straddle"), (0.151, "tread")])
def test_straddled_up_to_the_lowest_part_less_the_gap(height: float, word: str) -> None:
    """0.20 m under the rear axle less 0.05 m; a wheel is put on what is higher."""
    assert lowest_of(envelope()) == ("the rear axle", 0.20)
    assert way(thing(height_m=height)) == PAIRS[word]


def test_raised_suspension_straddles_what_its_body_now_clears() -> None:
    """0.12 m more under a body that was the lowest part gives 0.12 m more (common practice, no source).

    The axles are not lifted by it: where they are the lowest part nothing is gained.
    """
    tall = {"front_axle_clearance_m": 0.5, "rear_axle_clearance_m": 0.5}
    raised = envelope().underbody + np.array([0.0, 0.12])
    assert way(thing(height_m=0.21, width_m=1.0), vehicle=envelope(**tall)) != PAIRS["straddle"]
    assert way(thing(height_m=0.31, width_m=1.0), vehicle=envelope(**tall, underbody=raised)) == PAIRS["straddle"]
    assert lowest_of(envelope(**tall, underbody=raised))[1] - lowest_of(envelope(**tall))[1] == pytest.approx(0.12)
    assert way(thing(height_m=0.16), vehicle=envelope(underbody=raised)) != PAIRS["straddle"]


def test_a_first_timer_straddles_less() -> None:
    """Nine tenths of the 0.15 m: 0.135 m."""
    novice = envelope(driver=Driver.FIRST_TIMER)
    assert way(thing(height_m=0.134), vehicle=novice) == PAIRS["straddle"]
    assert way(thing(height_m=0.136), vehicle=novice) != PAIRS["straddle"]


def test_a_hole_between_the_wheels_is_straddled_however_deep() -> None:
    """The wheels stay on the ground to either side; a ditch right across is not."""
    assert way(thing("hole", height_m=-0.8, width_m=0.8)) == PAIRS["straddle"]
    assert way(thing("ditch", height_m=-0.8, width_m=3.0)) == PAIRS["barred"]


def test_the_climb_decides_whether_a_wheel_is_put_on_it() -> None:
    """A rock of 0.18 m under one wheel: like an edge of 0.11 m, climbed with grip and not without."""
    rock = thing(height_m=0.18)
    assert way(rock, grip=0.55) == PAIRS["tread"]
    assert way(rock, grip=0.15) == PAIRS["barred"]
    assert way(rock, grip=0.3, vehicle=envelope(drive=Drive.REAR)) == PAIRS["barred"]
    low = chosen(rock, grip=0.15).climb
    assert (low.edge_m > low.limit_m).all()


def test_a_step_is_climbed_one_way_and_dropped_off_the_other() -> None:
    """0.12 m up with little grip is barred, down it is not; digitised the other way round it is the other way round."""
    step = thing("step", height_m=0.12, length_m=None, width_m=3.0)
    assert way(step, grip=0.25) == ("barred", "tread")
    assert way({**step, "height_m": -0.12}, grip=0.25) == ("tread", "barred")


def test_a_slope_makes_the_climb_on_to_a_thing_harder_uphill() -> None:
    """On 20 % a log is climbed downhill and not uphill."""
    log = thing("log", height_m=0.14, length_m=0.3, width_m=3.0)
    found = choose(things_on(log, grip=0.4, grade=0.2), envelope(), LIMITS)
    assert words(found) == [("barred", "tread")]
    assert found.climb.limit_m[0, 0] < found.climb.limit_m[0, 1]


def test_logs_are_taken_at_an_angle_where_both_wheels_would_fail() -> None:
    """One wheel after the other, where square on is too much and the travel allows it; else square on."""
    log = thing("log", height_m=0.14, length_m=0.3, width_m=3.0)
    slippery, grippy = chosen(log, grip=0.35), chosen(log, grip=0.8)
    assert words(slippery) == words(grippy) == [PAIRS["tread"]]
    assert slippery.climb.angled.tolist() == [[True, True]]
    assert grippy.climb.angled.tolist() == [[False, False]]
    tall = {"underbody": envelope().underbody + np.array([0.0, 0.4]), "front_axle_clearance_m": 0.6}
    high = thing("log", height_m=0.28, length_m=0.5, width_m=3.0)
    for travel, word in ((0.29, "tread"), (0.27, "barred")):
        vehicle = envelope(**tall, rear_axle_clearance_m=0.6, wheel_travel_m=travel)
        assert way(high, grip=0.5, vehicle=vehicle) == PAIRS[word]


def test_twist_decides_under_one_wheel() -> None:
    """0.18 m under one wheel is beyond a travel of 0.17 m, whatever the grip."""
    assert way(thing(height_m=0.18), grip=0.9, vehicle=envelope(wheel_travel_m=0.19)) == PAIRS["tread"]
    found = chosen(thing(height_m=0.18), grip=0.9, vehicle=envelope(wheel_travel_m=0.17))
    assert words(found) == [PAIRS["barred"]]
    assert not found.climb.twist.any()


def test_the_body_decides_over_what_is_trodden() -> None:
    """The belly has 0.20 m over what a wheel goes up with ease."""
    assert way(thing(height_m=0.195, length_m=2.0), grip=0.9) == PAIRS["tread"]
    found = chosen(thing(height_m=0.21, length_m=2.0), grip=0.9)
    assert words(found) == [PAIRS["barred"]]
    assert (found.over.used > 1.0).all()


def test_room_beside_it_goes_before_creeping_over_it() -> None:
    """What the springs allow at a crawl only is passed where there is room, and crept over where there is none."""
    rock = thing(height_m=0.18, offset_m=1.0, width_m=0.4)
    slow = chosen(rock, width_m=2.5)
    assert words(slow) == [PAIRS["tread"]]
    assert slow.speed_m_s[0, 0] < 3.0 / 3.6
    assert way(rock, width_m=3.7) == PAIRS["go round"]
    quick = {"underbody": envelope().underbody + np.array([0.0, 0.3])}
    assert way(rock, width_m=3.7, vehicle=envelope(**quick)) == PAIRS["tread"]


def test_slower_is_gentler() -> None:
    """A higher log must be taken more slowly; one that leaves the springs all they want at any speed."""
    logs = [thing("log", height_m=h, length_m=0.3, width_m=3.0) for h in (0.05, 0.08, 0.11, 0.14, 0.17)]
    speed = chosen(*logs, grip=0.9).speed_m_s[:, 0]
    assert (np.diff(speed[1:]) < 0.0).all()
    assert np.isinf(speed[0])


@pytest.mark.parametrize(
    ("row", "how"),
    [
        (thing(height_m=None), {}),
        (thing(width_m=None, height_m=0.3), {}),
        (thing("hole", width_m=None, height_m=-0.5, length_m=1.5), {"grip": 0.3}),
    ],
)
def test_what_is_not_measured_is_said_to_be(row: Row, how: dict[str, float]) -> None:
    """No height, or no width where it decides: unsurveyed, never better than barred."""
    assert way(row, **how) == PAIRS["unsurveyed"]


def test_a_log_without_width_lies_right_across() -> None:
    """That is what logs, steps and ditches do: barred on its height, not unsurveyed."""
    assert way(thing("log", width_m=None, height_m=0.4)) == PAIRS["barred"]


def test_unknown_grip_is_unsurveyed() -> None:
    """Where nobody said what ground it is no climb is known; straddling needs none."""
    bare = dataclasses.replace(things_on(thing(height_m=0.18)), grip=np.array([np.nan]))
    assert words(choose(bare, envelope(), LIMITS)) == [PAIRS["unsurveyed"]]
    low = dataclasses.replace(things_on(thing(height_m=0.1)), grip=np.array([np.nan]))
    assert words(choose(low, envelope(), LIMITS)) == [PAIRS["straddle"]]


def test_beside_the_trail_is_not_in_the_way() -> None:
    """A thing whose edge is 0.15 m or more outside the body has no row."""
    assert chosen(thing(offset_m=1.36)).things.row.size == 0
    assert chosen(thing(offset_m=1.34)).things.row.size == 1


def _many(count: int) -> list[Row]:
    """Make things of all kinds and sizes."""
    rng = np.random.default_rng(11)
    kinds = ("rock", "log", "step", "hole", "ditch", "rut")
    return [
        thing(
            kinds[k % 6],
            height_m=float(rng.uniform(0.03, 0.4)) * (-1 if k % 6 > 2 else 1),
            length_m=float(rng.uniform(0.2, 1.5)),
            width_m=3.0 if kinds[k % 6] in ("log", "step", "ditch") else float(rng.uniform(0.2, 1.6)),
            offset_m=float(rng.uniform(-0.9, 0.9)),
            obstacle_id=f"o{k:03d}",
        )
        for k in range(count)
    ]


def test_order_and_company_do_not_matter() -> None:
    """Each thing alone gets the way that it gets among sixty, and that it gets in another order."""
    rows = _many(60)
    together = things_on(*rows)
    found = choose(together, envelope(), LIMITS)
    order = np.random.default_rng(2).permutation(together.row.size)
    shuffled = choose(together.where(order), envelope(), LIMITS)
    assert shuffled.passing.tolist() == found.passing[order].tolist()
    for k in range(0, together.row.size, 7):
        alone = choose(together.where(np.array([k])), envelope(), LIMITS)
        assert alone.passing[0].tolist() == found.passing[k].tolist()
        assert alone.speed_m_s[0] == pytest.approx(found.speed_m_s[k], rel=1e-6)


def test_a_mirrored_trail_asks_the_same_and_keeps_the_other_side() -> None:
    """Left for right: the same ways, shifts the other way."""
    rows = _many(48)
    found = chosen(*rows)
    twin = chosen(*({**row, "offset_m": -float(str(row["offset_m"]))} for row in rows))
    assert twin.passing.tolist() == found.passing.tolist()
    assert twin.shift_m == pytest.approx(-found.shift_m, nan_ok=True)


def test_a_trail_digitised_the_other_way_asks_the_same() -> None:
    """Against is with: the columns change places, steps turn round."""
    rows = _many(48)
    found = chosen(*rows)
    turned = [
        {
            **row,
            "offset_m": -float(str(row["offset_m"])),
            **({"height_m": -float(str(row["height_m"]))} if row["kind"] == "step" else {}),
        }
        for row in rows
    ]
    assert chosen(*turned).passing.tolist() == found.passing[:, ::-1].tolist()


def test_more_grip_and_more_room_are_never_worse() -> None:
    """Nothing that could be passed is barred on better ground or a wider trail."""
    rows = _many(60)
    barred = codes_of(Passing.BARRED)[0]
    poor, good = chosen(*rows, grip=0.3), chosen(*rows, grip=0.7)
    assert not ((good.passing == barred) & (poor.passing != barred)).any()
    narrow, wide = chosen(*rows, width_m=2.4), chosen(*rows, width_m=6.0)
    assert not ((wide.passing == barred) & (narrow.passing != barred)).any()
    assert (wide.passing == codes_of(Passing.ROUND)[0]).sum() > 0
