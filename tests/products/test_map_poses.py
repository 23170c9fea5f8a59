"""Poses as the map page carries them, decoded by a plain twin."""

from typing import Any

import numpy as np
import pytest

from pipeline.checks.rolling.poses import Poses
from pipeline.products.facts import Facts
from pipeline.products.map_codes import CHECKS, LARGE, WAYS
from pipeline.products.map_poses import AROUND_M, TOLERANCE_CM, body, poses
from pipeline.terms import Wheel
from tests.products.ground_worlds import without_ground
from tests.products.worlds import hostile_facts, make_facts, many_segments

FACTS = make_facts()


def _index(facts: Facts) -> dict[str, int]:
    return {name: row for row, name in enumerate(facts.segments["segment_id"])}


def _decoded(facts: Facts) -> dict[tuple[str, str, str], list[Any]]:
    """Rows by segment, set-up and direction."""
    setups = [one.setup for one in facts.envelopes]
    coded = poses(facts, _index(facts))
    return {
        (segment, setups[key // 2], WAYS[key % 2]): rest
        for segment, rows in zip(_index(facts), coded["rows"], strict=True)
        for key, *rest in rows
    }


def _table(facts: Facts) -> Poses:
    assert facts.poses is not None
    return facts.poses


def test_every_pose_comes_back() -> None:
    """Chainage, pitch, roll and angle left to a tenth; what is not known is None."""
    found = _decoded(FACTS)
    table = _table(FACTS).table
    assert len(found) == len(table)
    for row in table.itertuples():
        check, at, worst, apart, pitch, roll, lifted, _lift, left, wheels, under, _ = found[
            row.segment_id, row.setup, row.direction
        ]
        sign = 1 if row.direction == "with" else -1
        assert CHECKS[check] == row.check
        assert at / 10 == pytest.approx(row.at_m, abs=0.051)
        assert worst / 100 == pytest.approx(sign * (row.at_m - row.front_m), abs=0.0051)
        assert apart / 100 == pytest.approx(abs(row.front_m - row.rear_m), abs=0.0051)
        assert pitch / 10 == pytest.approx(row.pitch_deg, abs=0.051)
        for value, shown in ((row.roll_deg, roll), (row.stability_deg, left)):
            assert shown is None if np.isnan(value) else shown / 10 == pytest.approx(value, abs=0.051)
        assert lifted == (-1 if not isinstance(row.lifted, str) else [one.word for one in Wheel].index(row.lifted))
        known = [row.front_left_m, row.front_right_m, row.rear_left_m, row.rear_right_m]
        assert under == [None if np.isnan(value) else round(1000 * value) for value in known]
        assert len(wheels) == 4


def test_the_ground_comes_back_within_a_centimetre() -> None:
    """Every height between the ends that are drawn: by the corners left, the tolerance and the rounding apart."""
    found, held = _decoded(FACTS), _table(FACTS)
    for row, (ground, first) in enumerate(zip(held.ground_m, held.first_m, strict=True)):
        name = held.table.iloc[row]
        coded = found[name["segment_id"], name["setup"], name["direction"]][-1]
        places = first + held.step_m * np.arange(len(ground))
        for line, stretches in enumerate(coded):
            for stretch in stretches:
                x, z = (np.cumsum(np.array(stretch).reshape(-1, 2), axis=0) / 100).T
                inside = (places >= x[0]) & (places <= x[-1])
                apart = np.interp(places[inside], x, z) - ground[inside, line]
                assert np.abs(apart).max() <= TOLERANCE_CM / 100 + 0.011
                assert len(x) < inside.sum() / 2
            assert bool(stretches) == np.isfinite(ground[:, line]).any()


def test_only_the_ground_round_the_set_up_is_carried() -> None:
    """From its tail to its nose and a little beyond."""
    for (_, setup, _), row in _decoded(FACTS).items():
        own = next(one for one in FACTS.envelopes if one.setup == setup)
        x = np.cumsum(np.array(row[-1][1][0]).reshape(-1, 2), axis=0)[:, 0] / 100
        assert -row[3] / 100 - own.length_rear_m - AROUND_M - 0.01 <= x[0]
        assert x[-1] <= own.length_front_m + AROUND_M + 0.01
        assert x[0] < -own.wheelbase_m - 0.3
        assert x[-1] > 0.3


def test_gaps_in_the_ground_cut_it_into_stretches() -> None:
    """What is not known is not drawn across; a single height makes no stretch."""
    held = _table(FACTS)
    torn = held.ground_m.copy()
    torn[0, 30:35, 1] = np.nan
    torn[0, :, 0] = np.nan
    torn[0, 40, 0] = 1.0
    facts = make_facts()
    object.__setattr__(facts, "poses", Poses(held.table, held.step_m, held.first_m, torn))
    lines = _decoded(facts)["s1", "Short wagon", "with"][-1]
    assert [len(line) for line in lines] == [0, 2, 1]
    first, second = (np.cumsum(np.array(one).reshape(-1, 2), axis=0)[:, 0] for one in lines[1])
    assert second[0] - first[-1] == 60


def test_outlines_are_those_of_the_envelope() -> None:
    """In millimetres, underbody from front to rear."""
    own = FACTS.envelopes[1]
    coded = body(own)
    assert coded["wheelbase"] == 1000 * own.wheelbase_m
    assert (coded["front"], coded["rear"]) == (800, 1000)
    assert coded["tracks"] == [1500, 1500]
    assert coded["cg"] == [-1200, 30, 700]
    assert np.array(coded["under"]).reshape(-1, 2) / 1000 == pytest.approx(own.underbody)
    assert (coded["height"], coded["width"], coded["radius"], coded["tyre"]) == (2100, 1800, 370, 240)


def test_large_networks_leave_poses_out_and_say_so() -> None:
    """One sentence instead."""
    facts = many_segments(LARGE + 1)
    coded = poses(facts, _index(facts))
    assert not any(coded["rows"])
    assert "poses.parquet" in coded["note"]
    assert poses(FACTS, _index(FACTS))["note"] == ""


def test_a_build_without_poses_carries_none() -> None:
    """And no note: nothing was left out."""
    coded = poses(without_ground(FACTS), _index(FACTS))
    assert not any(coded["rows"])
    assert coded["note"] == ""


def test_poses_without_a_row_make_no_picture() -> None:
    """When no verdict has a place that a set-up could stand at."""
    held = _table(FACTS)
    facts = make_facts()
    for ground in (held.ground_m[:0], np.zeros((0, 0, 3), dtype=np.float32)):
        object.__setattr__(facts, "poses", Poses(held.table.iloc[:0], 0.1, held.first_m[:0], ground))
        assert not any(poses(facts, _index(facts))["rows"])


def test_hostile_set_ups_are_found_by_their_names() -> None:
    """Names are keys here, as they are."""
    assert len(_decoded(hostile_facts())) == len(_decoded(FACTS))
