"""Lines past trees and round bends against closed forms, and what must hold for all of them."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.line_room import FINE, Asked, Lines, Middle, find_lines
from pipeline.kernels.plan_records import Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import drive, sweep
from tests.kernels.line_worlds import straight, track_of, trees, vehicle

Float64 = NDArray[np.float64]

ASKED = Asked(rate=0.3, comfort=0.65, enough=0.15, slack=0.1, reverse=4.0)
LATTICE_M = 0.02
"""Distance of the places of the finest lattice, rounded up."""


def lines_of(boxes: Boxes, tracks: Tracks, solids: Solids, asked: Asked = ASKED, *, tied: bool = True) -> Lines:
    """Search without knowing what the middle line leaves."""
    offset = drive(boxes, tracks, solids, asked.rate).swept.rear_offset
    one = tracks.offsets.size - 1
    return find_lines(
        boxes,
        tracks,
        solids,
        Middle(offset, np.full(one, -np.inf), np.full(one, fill_value=True), np.full((one, 2), tied)),
        asked,
    )


def gap_of(lines: Lines, boxes: Boxes, tracks: Tracks, solids: Solids) -> float:
    """Smallest gap of the line as swept by the kernel of poses."""
    x, y, heading, steer = (np.ascontiguousarray(column) for column in lines.poses[::FINE].T)
    return float(sweep(boxes, tracks, solids, (x, y, heading, steer)).near.gap.min())


def offsets_of(lines: Lines, boxes: Boxes, tracks: Tracks, solids: Solids) -> Float64:
    """Where the rear axle runs."""
    x, y, heading, steer = (np.ascontiguousarray(column) for column in lines.poses[::FINE].T)
    return sweep(boxes, tracks, solids, (x, y, heading, steer)).rear_offset


@pytest.mark.parametrize("shift", [0.0, 0.07, -0.2, 0.33, 0.6])
def test_between_two_trunks_half_of_the_free_width_is_left_on_either_side(shift: float) -> None:
    """Trunks 2.5 m apart leave (2.5 − 1.9) / 2 m, wherever across the trail they stand."""
    boxes, tracks = vehicle(width=1.9), straight(40.0)
    solids = trees(tracks, (20.0, shift - 1.45, 0.2), (20.0, shift + 1.45, 0.2))
    lines = lines_of(boxes, tracks, solids)
    assert gap_of(lines, boxes, tracks, solids) == pytest.approx(0.3, abs=1.5 * LATTICE_M)
    assert lines.share[0] == 0.8
    assert not lines.shunt[0]


def test_an_s_between_staggered_trunks_passes_where_the_middle_would_not() -> None:
    """Trunks in the middle's way, one left and one right, are passed on either side of it within the steering."""
    boxes, tracks = vehicle(), straight(48.0)
    solids = trees(tracks, (18.0, -0.6, 0.2), (30.0, 0.6, 0.2))
    lines = lines_of(boxes, tracks, solids)
    assert gap_of(lines, boxes, tracks, solids) > 0.45
    offset = offsets_of(lines, boxes, tracks, solids)
    assert offset[36] > 0.4
    assert offset[58] < -0.4


@pytest.mark.kernel
def test_trunks_too_close_for_an_s_are_told() -> None:
    """Where the two trunks leave no way round, the gap that is found is negative, and no reverse helps."""
    boxes, tracks = vehicle(), straight(40.0, aside=1.0)
    solids = trees(tracks, (20.0, -0.9, 0.2), (20.0, 0.9, 0.2))
    lines = lines_of(boxes, tracks, solids)
    assert gap_of(lines, boxes, tracks, solids) == pytest.approx((1.4 - 1.9) / 2.0, abs=1.5 * LATTICE_M)
    assert not lines.shunt[0]


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_trunk_inside_a_bend_forces_the_outer_edge(side: float) -> None:
    """In a bend of 9 m the line goes as far out as the trunk and the edge share what there is."""
    boxes = vehicle()
    tracks = track_of(side * np.r_[np.zeros(24), np.full(36, 1 / 9), np.zeros(24)], wheel=1.8, aside=0.9)
    solids = trees(tracks, (20.5, -side * 1.15, 0.2))
    lines = lines_of(boxes, tracks, solids)
    middle = drive(boxes, tracks, solids, ASKED.rate).swept
    inwards = -side
    offset = offsets_of(lines, boxes, tracks, solids)
    assert offset[38] * inwards < middle.rear_offset[38] * inwards - 0.2
    assert gap_of(lines, boxes, tracks, solids) > middle.near.gap.min() + 0.25


def test_a_hairpin_at_lock_is_driven_and_a_tighter_one_is_not() -> None:
    """A half circle of the radius of the lock is driven; one of 4 m on a trail of 3.4 m needs more than there is."""
    boxes = vehicle(radius=5.2)
    half = track_of(np.r_[np.zeros(28), np.full(36, np.pi / 18), np.zeros(28)], wheel=1.9, aside=1.0)
    lines = lines_of(boxes, half, trees(half))
    assert lines.share[0] <= 1.0
    assert lines.needed[0] == 1.0
    assert np.abs(lines.poses[:, 3]).max() <= boxes.lock * 1.01
    tight = track_of(np.r_[np.zeros(28), np.full(18, np.pi / 9), np.zeros(28)], wheel=1.5, aside=0.6)
    lines = lines_of(boxes, tight, trees(tight))
    assert max(lines.share[0], lines.needed[0]) > 1.0


@pytest.mark.kernel
def test_nearly_full_lock_is_used_where_no_easier_line_leads_through() -> None:
    """A bend of 5.7 m that leaves a hand's width to choose from needs nine tenths of a lock of 5.2 m."""
    boxes = vehicle(length=3.6, wheelbase=2.2, radius=5.2)
    bend = track_of(np.r_[np.zeros(8), np.full(20, np.pi / 18), np.zeros(8)], wheel=1.05, aside=0.12)
    lines = lines_of(boxes, bend, trees(bend))
    assert lines.share[0] == 1.0
    assert 0.85 * boxes.lock <= np.abs(lines.poses[:, 3]).max() <= 1.02 * boxes.lock


@pytest.mark.parametrize("seed", range(4))
def test_lines_stay_within_lock_and_rate(seed: int) -> None:
    """On random trails the steering angle and its change keep to what the vehicle and the driver can do."""
    boxes, tracks, solids = wood(seed)
    lines = lines_of(boxes, tracks, solids)
    assert np.abs(lines.poses[:, 3]).max() <= boxes.lock * lines.share[0] * 1.02
    if lines.share[0] <= 1.0:
        assert np.abs(np.diff(lines.poses[:, 3])).max() * FINE / tracks.step <= ASKED.rate * 1.15


@pytest.mark.kernel
def test_enough_room_is_found_without_full_lock() -> None:
    """Past one trunk on a short straight the gentle line leaves what is asked for."""
    boxes, tracks = vehicle(length=3.6, wheelbase=2.2), straight(20.0, aside=0.6)
    solids = trees(tracks, (10.0, -1.3, 0.2))
    lines = lines_of(boxes, tracks, solids)
    assert lines.share[0] == 0.8
    assert gap_of(lines, boxes, tracks, solids) > 0.4
    flags = np.ones((1, 2), dtype=np.bool_)
    plain = find_lines(
        boxes, tracks, solids, Middle(np.zeros(tracks.x.size), np.array([0.2]), ~flags[:, 0], flags), ASKED
    )
    assert plain.share[0] == 0.0
    assert np.allclose(plain.poses[:, 1], 0.0)


@pytest.mark.parametrize("seed", range(4))
def test_mirrored_worlds_give_mirrored_lines(seed: int) -> None:
    """Left and right swapped, the same gap is found."""
    boxes, tracks, solids = wood(seed)
    flat = {"y": -tracks.y, "heading": -tracks.heading, "wheel": tracks.wheel[:, ::-1], "aside": tracks.aside[:, ::-1]}
    other, others = tracks._replace(**flat), solids._replace(ay=-solids.ay, by=-solids.by)
    here = gap_of(lines_of(boxes, tracks, solids), boxes, tracks, solids)
    there = gap_of(lines_of(boxes, other, others), boxes, other, others)
    assert there == pytest.approx(here, abs=1.5 * LATTICE_M)


def test_scaled_worlds_keep_their_shape() -> None:
    """Vehicle and wood turned and moved give the same line, turned and moved."""
    boxes, tracks, solids = wood(1)
    cos, sin = np.cos(2.1), np.sin(2.1)

    def moved(x: Float64, y: Float64) -> tuple[Float64, Float64]:
        return cos * x - sin * y + 310_000.0, sin * x + cos * y + 5_200_000.0

    x, y = moved(tracks.x, tracks.y)
    other = tracks._replace(x=x, y=y, heading=tracks.heading + 2.1)
    (ax, ay), (bx, by) = moved(solids.ax, solids.ay), moved(solids.bx, solids.by)
    there = lines_of(boxes, other, solids._replace(ax=ax, ay=ay, bx=bx, by=by))
    here = lines_of(boxes, tracks, solids)
    assert np.allclose(np.column_stack(moved(*here.poses[:, :2].T)), there.poses[:, :2], atol=1e-5)


def test_a_larger_vehicle_never_finds_more_room() -> None:
    """Wider or longer bodies leave less, to within the lattice."""
    _, tracks, solids = wood(2)
    gaps = [gap_of(lines_of(one, tracks, solids), one, tracks, solids) for one in bodies()]
    assert gaps[0] >= gaps[1] - LATTICE_M
    assert gaps[0] >= gaps[2] - LATTICE_M


def bodies() -> list[Boxes]:
    """One vehicle, a wider and a longer one."""
    return [vehicle(), vehicle(width=2.1), vehicle(length=5.4, wheelbase=3.3)]


def test_the_same_again_is_the_same() -> None:
    """Two searches give the same numbers to the last bit."""
    world = wood(3)
    first, second = lines_of(*world), lines_of(*world)
    assert all(np.array_equal(a, b) for a, b in zip(first, second, strict=True))


def test_a_middle_line_that_is_best_is_left_alone() -> None:
    """Where nothing leaves more than the middle line does, no line is worth taking, or one that leaves as much."""
    boxes, tracks = vehicle(), straight(40.0)
    solids = trees(tracks, (20.0, -1.25, 0.2), (20.0, 1.25, 0.2))
    middle = Middle(np.zeros(tracks.x.size), np.array([0.1]), np.array([True]), np.ones((1, 2), dtype=np.bool_))
    lines = find_lines(boxes, tracks, solids, middle, ASKED)
    assert np.abs(offsets_of(lines, boxes, tracks, solids)).max() < LATTICE_M


@pytest.mark.kernel
def test_what_must_stay_between_the_wheels_holds_the_line() -> None:
    """Both axles keep to the offset that a thing asks for, at its place and free of it elsewhere."""
    boxes, tracks = vehicle(), straight(40.0)
    tracks.hold[39:42] = 0.4
    solids = trees(tracks)
    offset = offsets_of(lines_of(boxes, tracks, solids), boxes, tracks, solids)
    assert np.abs(offset[39:42] - 0.4).max() <= 0.15
    assert np.abs(offset[33:37] - 0.4).max() <= 0.25
    assert np.abs(offset[-3:]).max() < LATTICE_M


@pytest.mark.kernel
@pytest.mark.parametrize("tied", [True, False])
def test_a_bend_beyond_the_lock_on_a_narrow_trail_is_told(*, tied: bool) -> None:
    """A hairpin of 2.5 m on a narrow trail needs about twice the curvature of a lock of 5.2 m, and no reverse helps.

    Where the middle line is known to be driven that far off the trail, nothing is better, and the same is told of it.
    """
    boxes = vehicle(length=3.6, wheelbase=2.2)
    tracks = track_of(np.r_[np.zeros(8), np.full(16, np.pi / 8), np.zeros(8)], wheel=1.3, aside=0.3)
    lines = lines_of(boxes, tracks, trees(tracks), tied=tied)
    assert lines.share[0] == pytest.approx(5.2 / 2.5, abs=0.25)
    assert not lines.shunt[0]
    known = Middle(np.zeros(tracks.x.size), np.array([-0.5]), np.array([True]), np.full((1, 2), tied))
    lines = find_lines(boxes, tracks, trees(tracks), known, ASKED)
    assert lines.share[0] == 0.0
    assert lines.needed[0] == pytest.approx(5.2 / 2.5, abs=0.5)


@pytest.mark.kernel
def test_a_trail_narrower_than_the_tyres_is_no_matter_of_the_lock() -> None:
    """On a straight trail of 1.6 m tyres of 1.8 m stand outside the edges, and no sharper steering would help."""
    boxes, tracks = vehicle(length=3.6, wheelbase=2.2), straight(12.0, wheel=0.7, aside=0.15)
    lines = lines_of(boxes, tracks, trees(tracks), tied=False)
    assert lines.share[0] == 0.8
    assert lines.needed[0] == 1.0


@pytest.mark.kernel
@pytest.mark.parametrize("seed", range(12))
def test_a_line_is_never_much_worse_than_the_middle(seed: int) -> None:
    """On short bends between trunks the line keeps to the lock and leaves what the middle does, but for the lattice."""
    rng = np.random.default_rng(seed)
    boxes = vehicle(length=3.6, wheelbase=2.2)
    tracks = track_of(rng.uniform(-0.15, 0.15) * np.ones(24), wheel=1.25 if seed % 2 else np.inf, aside=0.3)
    near = (5.0 + rng.random() * 2.0, -1.2 + 0.3 * rng.random(), 0.2)
    far = (6.0 + rng.random() * 2.0, 1.2 - 0.3 * rng.random(), 0.2)
    solids = trees(tracks, near, far)
    lines = lines_of(boxes, tracks, solids, tied=bool(seed % 3))
    middle = drive(boxes, tracks, solids, ASKED.rate).swept
    assert gap_of(lines, boxes, tracks, solids) >= middle.near.gap.min() - 2.0 * LATTICE_M
    assert np.abs(lines.poses[:, 3]).max() <= boxes.lock * 1.02


def wood(seed: int) -> tuple[Boxes, Tracks, Solids]:
    """Make a winding trail of 60 m with trunks along it."""
    rng = np.random.default_rng(seed)
    bend = np.cumsum(rng.normal(0.0, 0.02, 120))
    tracks = track_of(np.clip(np.convolve(bend, np.ones(8) / 8.0, mode="same"), -0.1, 0.1), wheel=1.9, aside=1.1)
    at = rng.uniform(10.0, 50.0, 8)
    return (
        vehicle(),
        tracks,
        trees(tracks, *zip(at, rng.choice([-1.0, 1.0], 8) * rng.uniform(1.0, 1.9, 8), np.full(8, 0.15), strict=True)),
    )
