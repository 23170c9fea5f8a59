"""Blocks of runs, and runs reduced to segments."""

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.obstacles import things_of
from pipeline.checks.rolling import run_blocks
from pipeline.checks.rolling.swept import SegmentSweep, sweep_all
from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER
from pipeline.spread import serial
from pipeline.terrain.model import Profiles
from tests.checks.worlds import LIMITS, choice_of, envelope, joined, pickling, profiles_of, straight

X = np.arange(0.0, 60.05, 0.1)
NOTHING = things_of(straight())


def crest(at: float, degrees: float) -> NDArray[np.float64]:
    """Make a brow of two planes."""
    return -np.abs(X - at) * np.tan(np.radians(degrees / 2.0))


def run(profiles: Profiles, mapper: object = serial) -> list[SegmentSweep]:
    """Roll two set-ups over the profiles."""
    setups = [envelope(), envelope(wheelbase_m=2.4)]
    return sweep_all(profiles, [choice_of(NOTHING)] * 2, setups, LIMITS, mapper)


def test_the_worst_run_of_a_segment_counts() -> None:
    """A brow seen by a run across a junction alone makes the segment's breakover, at its own chainage."""
    across = dataclasses.replace(profiles_of(crest(30.0, 16.0)), start_m=np.array([-20.0]), own_from_m=np.array([0.0]))
    both = joined(profiles_of(np.zeros(601)), profiles_of(np.zeros(601)), across, segments=[0, 1, 0])
    found = run(both)[0]
    assert np.degrees(found.demand[0, :, BREAKOVER]) == pytest.approx([16.0, 16.0], abs=0.01)
    assert found.at_m[0, :, BREAKOVER] == pytest.approx([10.0, 10.0], abs=1e-4)
    assert found.utilisation[1].max() < 1e-6


def test_axles_of_the_worst_run_stand_on_its_own_chainage() -> None:
    """The axles astride a brow near the segment's end are told in its chainage, off the segment where they stand so."""
    across = dataclasses.replace(
        profiles_of(crest(30.0, 16.0)), start_m=np.array([-29.0]), own_from_m=np.array([0.0]), own_to_m=np.array([20.0])
    )
    both = joined(profiles_of(np.zeros(601)), profiles_of(np.zeros(601)), across, segments=[0, 1, 0])
    found = run(both)[0]
    assert found.at_m[0, :, BREAKOVER] == pytest.approx([1.0, 1.0], abs=1e-4)
    assert found.rear_m[0, :, BREAKOVER] == pytest.approx([1.0 - 1.4, 1.0 + 1.4], abs=1e-3)
    assert found.front_m[0, :, BREAKOVER] == pytest.approx([1.0 + 1.4, 1.0 - 1.4], abs=1e-3)


def test_blocks_give_the_same_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    """One block or a block a run, here or through pickle in another order: the same to the last digit."""
    rng = np.random.default_rng(3)
    runs = [profiles_of(rng.normal(0.0, 0.01, 300).cumsum()) for _ in range(5)]
    profiles = joined(*runs, segments=[0, 1, 2, 0, 1])
    whole = run(profiles)
    monkeypatch.setattr(run_blocks, "BLOCK_SAMPLES", 200)
    for one, other in zip(whole, run(profiles, pickling), strict=True):
        for name in {column.name for column in dataclasses.fields(SegmentSweep)} - {"rolled"}:
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_missing_heights_of_the_own_part_are_measured() -> None:
    """Missing heights count in metres where they are the segment's own, and not beyond its ends."""
    z = np.zeros(601)
    z[:50], z[300:310] = np.nan, np.nan
    part = dataclasses.replace(profiles_of(z), start_m=np.array([-10.0]), own_from_m=np.array([0.0]))
    found = run(part)[0]
    assert found.blind_m.tolist() == pytest.approx([1.0])
    assert found.blind_at_m.tolist() == pytest.approx([20.0])
    assert (found.failed > 0).all()


def test_surveyed_rock_is_rolled_over() -> None:
    """A surveyed rock between the wheels is under the belly though the elevation model is flat."""
    rock = {"kind": "rock", "segment_id": "s", "chainage_m": 20.0, "height_m": 0.2, "width_m": 0.4, "length_m": 0.5}
    things = things_of(straight(obstacles=[rock]))
    found = sweep_all(profiles_of(np.zeros(601)), [choice_of(things)], [envelope()], LIMITS, serial)[0]
    assert found.demand[0, 0, BELLY] == pytest.approx(0.2)
    assert found.at_m[0, 0, BELLY] == pytest.approx(20.0)


def test_surveyed_step_is_a_face_for_the_bumper() -> None:
    """A step of 0.5 m up is over the approach limit going up, and nothing for the bumper coming down."""
    step = {"kind": "step", "segment_id": "s", "chainage_m": 30.0, "height_m": 0.5}
    smeared = np.clip((X - 29.0) / 2.0, 0.0, 1.0) * 0.5
    found = sweep_all(
        profiles_of(smeared), [choice_of(things_of(straight(obstacles=[step])))], [envelope()], LIMITS, serial
    )[0]
    assert found.utilisation[0, 0, APPROACH] > 1.0
    assert found.utilisation[0, 0, APPROACH] > 2.0 * found.utilisation[0, 1, APPROACH]


def test_rut_brings_the_ridge_to_the_belly() -> None:
    """Ruts of 0.18 m let the wheels sink: the ridge stands 0.18 m over the ground line, some mm more at their ends."""
    rut = {"kind": "rut", "segment_id": "s", "chainage_m": 30.0, "height_m": -0.18, "length_m": 20.0}
    found = sweep_all(
        profiles_of(np.zeros(601)), [choice_of(things_of(straight(obstacles=[rut])))], [envelope()], LIMITS, serial
    )[0]
    assert found.demand[0, 0, BELLY] == pytest.approx(0.18, abs=0.006)
    assert found.utilisation[0, 0, BELLY] > 1.0


def test_no_runs_give_no_segments() -> None:
    """An empty network is no fault."""
    blank = profiles_of(np.zeros(1))
    empty = dataclasses.replace(
        blank,
        **{name: getattr(blank, name)[:0] for name in ("start_m", "segment", "own_from_m", "own_to_m", "z", "basis")},
        offsets=np.zeros(1, dtype=np.int64),
        piece_offsets=np.zeros(1, dtype=np.int64),
        **{
            f"piece_{name}": getattr(blank, f"piece_{name}")[:0]
            for name in ("segment", "zero_m", "sign", "from_m", "to_m")
        },
    )
    assert run(empty)[0].utilisation.shape == (0, 2, 4)
