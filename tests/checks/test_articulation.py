"""Twist of the ground under four wheels against the wheel travel."""

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.articulation import Articulation
from pipeline.checks.check import Outcome
from pipeline.checks.rolling.four_wheels import TWIST
from pipeline.checks.site import CheckSite
from tests.checks.worlds import case_of, envelope, outcome_of, site_on, straight, with_profiles
from tests.worlds import ORIGIN, Measured, Surface, plane

Floats = NDArray[np.float64]


def saddle(k: float) -> Surface:
    """Make ground z = k·x·y, x along the trail from its middle and y across it."""

    def height(x: Floats, y: Floats) -> Floats:
        return 100.0 + k * (x - ORIGIN[0] - 30.0) * (y - ORIGIN[1])

    return Surface(height=height, gradient=lambda x, y: (k * (y - ORIGIN[1]), k * (x - ORIGIN[0] - 30.0)))


def block(height: float, side: float) -> CheckSite:
    """Make level ground with a block (or a pit) 1.5 m long at 30 m, from 0.6 to 1.2 m to one side of the line."""
    site = site_on(straight(), plane())
    strip = site.terrain.profiles.strip
    rise = strip.rise_m.copy()
    there = np.abs(side * strip.across_m - 0.9) < 0.31
    rise[59:62, there] = height
    return with_profiles(site, strip=dataclasses.replace(strip, rise_m=rise))


def twist(site: CheckSite, **changes: object) -> Outcome:
    """Check the box wagon, 2.80 m by 1.60 m, with a wheel travel of 0.45 m."""
    return outcome_of(Articulation(), site, envelope(**changes))


@pytest.mark.parametrize(("east", "north"), [(0.0, 0.0), (0.4, 0.0), (0.0, -0.4), (0.3, 0.3)])
def test_a_plane_has_no_twist(east: float, north: float) -> None:
    """Any plane: 0, to within single-precision heights."""
    assert twist(site_on(straight(), plane(east, north))).demand[0].tolist() == pytest.approx([0.0, 0.0], abs=1e-4)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_one_wheel_on_a_block_twists_by_its_height(side: float) -> None:
    """0.30 m of block are 0.30 m of twist (derived), 0.30/0.45 of the travel; the wheel beside it carries least."""
    found = twist(block(0.3, side))
    assert found.demand[0].tolist() == pytest.approx([0.3, 0.3], abs=1e-4)
    assert found.limit[0].tolist() == [0.45, 0.45]
    assert found.utilisation[0].tolist() == pytest.approx([0.3 / 0.45] * 2, abs=1e-3)
    assert (found.unit == "m").all()
    assert all(text.endswith(" would lift first") for text in found.more[0])


def test_both_wheels_of_an_axle_on_a_log_twist_nothing() -> None:
    """A log across the trail lifts both."""
    log = {"kind": "log", "segment_id": "s", "chainage_m": 30.0, "height_m": 0.3, "length_m": 0.4}
    assert twist(site_on(straight(obstacles=[log]), plane())).demand[0].tolist() == pytest.approx([0.0] * 2, abs=1e-5)


def test_a_warped_surface_twists_by_its_warp() -> None:
    """The surface z = k·x·y twists by k·L·T: 0.05 × 2.8 × 1.6 = 0.224 m (derived)."""
    found = twist(site_on(straight(), saddle(0.05)))
    assert found.demand[0].tolist() == pytest.approx([0.224, 0.224], rel=0.01)


@pytest.mark.parametrize(("cg", "wheel"), [(-1.8, "front"), (-1.0, "rear")])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_wheel_over_the_low_diagonal_that_carries_less_lifts(cg: float, wheel: str, side: float) -> None:
    """A block under the right wheels lifts the left one of the same axle, or the right one of the other.

    Of these two it is the one at the end away from the load. Driving against, right is left of the block.
    """
    found = twist(block(0.6, side), cg_m=(cg, 0.0, 0.72))
    words = {text.removesuffix(" lifts") for text in found.more[0]}
    assert all(text.endswith(" lifts") for text in found.more[0])
    assert {word.split()[0] for word in words} == {wheel}
    assert (found.utilisation > 1.0).all()


def test_a_pit_under_one_wheel_twists_by_its_depth() -> None:
    """Long enough for the tyre to reach its floor."""
    assert twist(block(-0.3, 1.0)).demand[0].tolist() == pytest.approx([0.3, 0.3], abs=1e-4)


@pytest.mark.parametrize(("cg", "axle"), [(-1.8, "front_m"), (-1.0, "rear_m")])
def test_the_place_is_that_of_the_wheel(cg: float, axle: str) -> None:
    """Loaded at the tail a front wheel lifts, and its axle's chainage is told; loaded at the nose a rear wheel."""
    case = case_of(block(0.6, 1.0), envelope(cg_m=(cg, 0.0, 0.72)))
    at_m = Articulation().evaluate(case).at_m
    assert at_m == pytest.approx(getattr(case.four, axle)[:, :, TWIST])
    assert np.abs(np.abs(at_m - 30.0) - 1.4) == pytest.approx(1.4, abs=0.6), "on the block, or an axle away from it"


def test_a_coarse_model_planes_twist_away() -> None:
    """Cells of more than half a wheelbase, or none at all, leave it open."""
    found = twist(site_on(straight(), plane(), Measured(cell_m=2.0)))
    assert found.unknown[0, 0] == (
        "an elevation cell of 2.0 m hides what a wheelbase of 2.80 m feels; at most 1.40 m would show it"
    )
    assert twist(site_on(straight(), plane(), Measured(cell_m=1.0))).unknown[0, 0] == ""


def test_an_unmeasured_rock_under_a_wheel_is_told() -> None:
    """Its height is the twist, and nobody knows it."""
    rock = {"kind": "rock", "obstacle_id": "r", "segment_id": "s", "chainage_m": 30.0, "offset_m": 0.8, "width_m": 0.3}
    found = twist(site_on(straight(obstacles=[rock]), plane()))
    assert found.unknown[0, 0] == "rock r at 30.0 m has no height"
