"""What is alike is rolled once; only runs on which something else lies are rolled again."""

import dataclasses
from collections.abc import Callable, Iterable

import numpy as np
import pytest

from pipeline.checks.rolling import run_blocks
from pipeline.checks.rolling.four_wheels import FourSweep, four_sweep_all
from pipeline.checks.rolling.reuse import laid_on
from pipeline.checks.rolling.swept import SegmentSweep, sweep_all
from pipeline.checks.scene import make_scene
from pipeline.kernels.obstacle_bumps import ELLIPSE, Bumps
from pipeline.kernels.pose_records import BELLY
from pipeline.spread import serial
from pipeline.terms import Driver
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, choice_of, envelope, site_on
from tests.worlds import at, network_of, sine_hills

LINES = {f"s{k}": at((9.0 * k, 0.0), (9.0 * k + 3.0, 40.0)) for k in range(4)}
LOG = {
    **thing("log", height_m=0.15, length_m=0.3, width_m=1.0, offset_m=0.8),
    "segment_id": "s2",
    "chainage_m": 20.0,
}
HILLS = sine_hills(9.0, 0.03)


class Counting:
    """A mapper that notes how many runs it was asked for."""

    def __init__(self) -> None:
        self.runs: list[int] = []

    def __call__(self, function: Callable[[object], object], blocks: Iterable[object], /) -> list[object]:
        """Do the blocks here."""
        blocks = list(blocks)
        for block in blocks:
            offsets = block.paths.offsets if hasattr(block, "paths") else block.profiles[0]  # type: ignore[attr-defined]
            self.runs.append(len(offsets) - 1)
        return serial(function, blocks)


ROCK = {**thing(height_m=0.1, width_m=0.4), "segment_id": "s2", "chainage_m": 20.0}
"""A rock that a vehicle straddles: it lies under the body alone."""
FIGURES = [
    column.name
    for column in dataclasses.fields(Envelope)
    if isinstance(getattr(envelope(), column.name), float | np.ndarray | tuple)
    and column.name not in {"warnings", "loads"}
]


def sweeps(
    vehicles: list[Envelope], *, log: bool, known: list[SegmentSweep] | None = None, mapper: object = serial
) -> list[SegmentSweep]:
    """Roll vehicles over four trails, with or without a log on the third, in side view."""
    scene = make_scene(site_on(network_of(LINES, obstacles=[LOG] if log else []), HILLS))
    choices = [choice_of(scene.things, vehicle) for vehicle in vehicles]
    return sweep_all(scene.site.terrain.profiles, choices, vehicles, LIMITS, mapper, known or [])


def fours(
    vehicles: list[Envelope], *, log: bool, known: list[FourSweep] | None = None, mapper: object = serial
) -> list[FourSweep]:
    """Do the same on four wheels."""
    scene = make_scene(site_on(network_of(LINES, obstacles=[LOG] if log else []), HILLS))
    choices = [choice_of(scene.things, vehicle) for vehicle in vehicles]
    return four_sweep_all(scene, choices, vehicles, LIMITS, mapper, known or [])


def assert_equal(one: SegmentSweep | FourSweep, other: SegmentSweep | FourSweep) -> None:
    """Hold two sweeps against each other to the last digit, by segment and run by run."""
    for name in {column.name for column in dataclasses.fields(one)} - {"rolled"}:
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    for ours, theirs in zip(one.rolled.found, other.rolled.found, strict=True):
        np.testing.assert_array_equal(ours, theirs)


@pytest.mark.parametrize("rolled", [sweeps, fours])
def test_what_was_rolled_before_is_handed_back(rolled: Callable[..., list[object]]) -> None:
    """The same vehicle under another name, on other ground: the very object, and not a block of work."""
    (before,) = rolled([envelope()], log=True)
    mapper = Counting()
    again, other = rolled([envelope(setup="b"), envelope(mass_kg=2500.0)], log=True, known=[before], mapper=mapper)
    assert again is before
    assert other is before
    assert mapper.runs == []


@pytest.mark.parametrize("rolled", [sweeps, fours])
@pytest.mark.parametrize("log", [True, False])
def test_only_runs_with_something_else_on_them_are_rolled_again(
    rolled: Callable[..., list[object]], *, log: bool
) -> None:
    """A log laid down or taken away: one trail's run of four, and the numbers are those of rolling all anew."""
    (before,) = rolled([envelope()], log=not log)
    mapper = Counting()
    (after,) = rolled([envelope()], log=log, known=[before], mapper=mapper)
    assert mapper.runs == [1]
    assert_equal(after, rolled([envelope()], log=log)[0])  # type: ignore[arg-type]
    assert not np.array_equal(after.utilisation, before.utilisation)  # type: ignore[attr-defined]


def test_nothing_that_was_known_is_written_over() -> None:
    """The earlier sweep stays what it was."""
    (before,) = sweeps([envelope()], log=False)
    kept = [column.copy() for column in before.rolled.found]
    sweeps([envelope()], log=True, known=[before])
    for now, then in zip(before.rolled.found, kept, strict=True):
        np.testing.assert_array_equal(now, then)


def test_vehicles_that_are_alike_are_rolled_once() -> None:
    """Two drivers of one vehicle in one call: the second comes for nothing in side view, and shares what is found."""
    mapper = Counting()
    first, second = sweeps([envelope(), envelope(setup="b", driver=Driver.PRACTISED)], log=True, mapper=mapper)
    assert sum(mapper.runs) == 4
    assert first is second


def test_another_vehicle_is_rolled_anew() -> None:
    """A longer wheelbase; on four wheels also another speed, for bends are taken faster."""
    (side,), (four,) = sweeps([envelope()], log=True), fours([envelope()], log=True)
    for vehicle, moves in ((envelope(wheelbase_m=2.9), True), (envelope(driver=Driver.FIRST_TIMER), False)):
        mapper = Counting()
        sweeps([vehicle], log=True, known=[side], mapper=mapper)
        assert (sum(mapper.runs) == 4) is moves
        mapper = Counting()
        fours([vehicle], log=True, known=[four], mapper=mapper)
        assert sum(mapper.runs) == 4


@pytest.mark.parametrize("rolled", [sweeps, fours])
def test_every_figure_of_a_vehicle_counts(rolled: Callable[..., list[object]]) -> None:
    """A vehicle with one figure 3 % larger gives what it gives rolled anew, whichever figure it is."""
    (before,) = rolled([envelope()], log=True)
    moved = set()
    for name in FIGURES:
        value, scale = getattr(envelope(), name), [1.0, 1.03] if name == "underbody" else 1.03
        vehicle = envelope(**{name: tuple(np.multiply(value, scale)) if name == "cg_m" else np.multiply(value, scale)})
        (after,), (anew,) = rolled([vehicle], log=True, known=[before]), rolled([vehicle], log=True)
        assert_equal(after, anew)  # type: ignore[arg-type]
        if not np.array_equal(after.utilisation, before.utilisation):  # type: ignore[attr-defined]
            moved.add(name)
    assert (
        moved >= {"wheelbase_m", "tyre_radius_m", "underbody"}
        if rolled is sweeps
        else {"cg_m", "tyre_width_m"} <= moved
    )


def test_what_lies_under_the_body_alone_counts() -> None:
    """A rock between the wheels: the tyres roll as before, the belly is nearer to the ground."""
    found = []
    for things in ([], [ROCK]):
        scene = make_scene(site_on(network_of(LINES, obstacles=things), HILLS))
        choice, profiles = choice_of(scene.things), scene.site.terrain.profiles
        found += sweep_all(profiles, [choice], [envelope()], LIMITS, serial, found)
    assert (found[1].utilisation[2, :, BELLY] > found[0].utilisation[2, :, BELLY]).all()
    assert found[1].rolled.laid != found[0].rolled.laid


def test_the_nearest_of_what_is_known_is_taken() -> None:
    """Of two sweeps of a vehicle the one with the same things on the runs, whatever their order."""
    (bare,), (logged,) = sweeps([envelope()], log=False), sweeps([envelope()], log=True)
    assert sweeps([envelope()], log=True, known=[bare, logged])[0] is logged
    assert sweeps([envelope()], log=False, known=[logged, bare])[0] is bare


def test_runs_that_follow_each_other_are_one_block(monkeypatch: pytest.MonkeyPatch) -> None:
    """Logs on three neighbouring trails make one block of three runs; in small blocks of work none spans two."""
    logs = [{**LOG, "segment_id": f"s{k}"} for k in (1, 2, 3)]
    scene = make_scene(site_on(network_of(LINES, obstacles=logs), HILLS))
    profiles, choice = scene.site.terrain.profiles, choice_of(scene.things)
    (before,) = sweeps([envelope()], log=False)
    mapper = Counting()
    whole = sweep_all(profiles, [choice], [envelope()], LIMITS, mapper, [before])
    assert mapper.runs == [3]
    monkeypatch.setattr(run_blocks, "BLOCK_SAMPLES", 300)
    mapper = Counting()
    parts = sweep_all(profiles, [choice], [envelope()], LIMITS, mapper, [before])
    assert len(mapper.runs) > 1
    assert sum(mapper.runs) == 3
    assert_equal(whole[0], parts[0])
    assert whole[0].demand[1:, :, BELLY].min() > 0.0


def test_what_lies_on_a_run_is_told_layer_by_layer() -> None:
    """The same thing under the wheels is another one than under the body; runs with nothing are left out."""
    one = Bumps(
        run=np.array([4]),
        at=np.array([2.0]),
        height=np.array([0.1]),
        length=np.array([0.3]),
        shape=np.array([ELLIPSE]),
        basis=np.array([3], dtype=np.uint8),
        fade=0.4,
    )
    none = one.take(np.zeros(0, dtype=np.int64))
    assert laid_on(none, none) == {}
    assert list(laid_on(one, none)) == [4]
    assert laid_on(one, none) != laid_on(none, one)
    assert laid_on(one, one) != laid_on(one, none)
    assert laid_on(one) != laid_on(one._replace(height=np.array([0.2])))
    assert laid_on(one) != laid_on(one._replace(fade=0.5))
