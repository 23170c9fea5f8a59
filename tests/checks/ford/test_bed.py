"""The bed of water in the profiles, against closed forms of its parabola; nothing is counted twice."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.clearance import Clearance
from pipeline.checks.ford.bed import banks, with_beds
from pipeline.checks.obstacles import things_of
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.terms import CheckName
from tests.checks.worlds import envelope, mirrored, outcome_of, site_on, straight
from tests.worlds import ORIGIN, Surface, network_of, plane, surface_terrain

Floats = NDArray[np.float64]
APPROACH, DEPARTURE = Clearance(CheckName.APPROACH), Clearance(CheckName.DEPARTURE)
AT_M = 30.0


def water(**columns: object) -> dict[str, object]:
    """Make water on the tiny trail."""
    return {"kind": "water", "segment_id": "s", "chainage_m": AT_M, **columns}


def ford(length_m: float, depth_m: float, surface: Surface | None = None, *others: dict[str, object]) -> CheckSite:
    """Make a trail through water."""
    return site_on(straight(obstacles=[water(length_m=length_m, depth_m=depth_m), *others]), surface or plane())


def parabola(length_m: float, depth_m: float, base: float = 100.0) -> Surface:
    """Make ground that shows the bed itself, right across."""

    def share(x: Floats) -> Floats:
        return np.maximum(1.0 - (2.0 * (x - ORIGIN[0] - AT_M) / length_m) ** 2, 0.0)

    def slope(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        inside = share(x) > 0.0
        return np.where(inside, 8.0 * depth_m * (x - ORIGIN[0] - AT_M) / length_m**2, 0.0), np.zeros_like(y)

    return Surface(height=lambda x, _y: base - depth_m * share(x), gradient=slope)


def heights(site: CheckSite) -> tuple[Floats, Floats]:
    """Give chainages and laid heights of the trail."""
    profiles = make_scene(site).site.terrain.profiles
    return profiles.start_m[0] + np.arange(profiles.z.size) * profiles.step_m, profiles.z.astype(np.float64)


@pytest.mark.parametrize(("length", "depth"), [(10.0, 0.8), (6.0, 0.6), (4.0, 0.4), (8.0, 0.5)])
def test_banks_are_those_of_the_parabola(length: float, depth: float) -> None:
    """atan(4·depth ÷ length) at the water's edge, within the slope that one step of the profile averages over."""
    site = make_scene(ford(length, depth)).site
    entry, leaving = banks(site.terrain.profiles, 0, (AT_M - length / 2.0, AT_M + length / 2.0))
    edge = math.degrees(math.atan(4.0 * depth / length))
    averaged = math.degrees(math.atan(4.0 * depth / length * (1.0 - 0.1 / length)))
    assert averaged - 0.05 <= entry <= edge + 0.05
    assert entry == pytest.approx(leaving, abs=0.02)


def test_deepest_place_is_the_surveyed_depth_and_the_edges_stay() -> None:
    """0.5 m below the face in the middle, nothing beyond the water."""
    at, z = heights(ford(6.0, 0.5))
    assert z.min() == pytest.approx(99.5, abs=1e-4)
    assert at[z.argmin()] == pytest.approx(AT_M)
    assert (z[np.abs(at - AT_M) >= 3.0] == 100.0).all()


def test_on_a_slope_the_face_runs_from_edge_to_edge() -> None:
    """No cliff at the upper bank: what is taken off the ground is the parabola, on any grade."""
    for grade in (0.1, -0.25):
        at, z = heights(ford(6.0, 0.5, plane(east=grade)))
        off = 100.0 + grade * at - z
        np.testing.assert_allclose(off, 0.5 * np.maximum(1.0 - ((at - AT_M) / 3.0) ** 2, 0.0), atol=1e-4)


def test_a_bed_that_the_model_shows_is_not_laid_again() -> None:
    """The same surveyed water on ground that has the bed already changes nothing; on half of it, the rest is laid."""
    shown, flat = heights(ford(6.0, 0.5, parabola(6.0, 0.5)))[1], heights(ford(6.0, 0.5))[1]
    np.testing.assert_allclose(shown, flat, atol=1e-4)
    half = heights(ford(6.0, 0.5, parabola(6.0, 0.25)))[1]
    np.testing.assert_allclose(half, flat, atol=1e-4)
    deeper = heights(ford(6.0, 0.5, parabola(6.0, 0.9)))[1]
    assert deeper.min() == pytest.approx(99.1, abs=1e-4)


def test_a_measured_ditch_is_the_bed() -> None:
    """Where a ditch or a hole was surveyed in the water, its shape counts, unless it is shallower than the water."""
    ditch = {"kind": "ditch", "segment_id": "s", "chainage_m": AT_M + 1.0, "height_m": -0.5, "length_m": 2.0}
    assert (heights(ford(6.0, 0.5, None, ditch))[1] == 100.0).all()
    scratch = {**ditch, "height_m": -0.2}
    assert heights(ford(6.0, 0.5, None, scratch))[1].min() == pytest.approx(99.5, abs=1e-4)
    away = {**ditch, "chainage_m": AT_M + 5.0}
    assert heights(ford(6.0, 0.5, None, away))[1].min() < 99.6


@pytest.mark.parametrize(
    "columns",
    [
        {"depth_m": 0.5},
        {"length_m": 6.0},
        {"depth_m": 0.5, "length_m": 6.0, "offset_m": 2.0, "width_m": 1.0},
        {"depth_m": 0.0, "length_m": 6.0},
    ],
)
def test_what_is_not_known_or_not_on_the_line_lowers_nothing(columns: dict[str, object]) -> None:
    """Without length or depth there is no shape; a puddle beside the line leaves the line; the terrain is the same."""
    site = site_on(straight(obstacles=[water(**columns)]), plane())
    assert with_beds(site.terrain, things_of(site.network)) is site.terrain


def test_the_terrain_handed_in_is_left_as_it_was() -> None:
    """A changed copy is given."""
    site = ford(6.0, 0.5)
    laid = with_beds(site.terrain, things_of(site.network))
    assert (site.terrain.profiles.z == 100.0).all()
    assert laid.profiles.z.min() < 99.6
    assert laid.stations is site.terrain.stations


def point_tyres(length: float, depth: float, wheelbase: float = 2.8) -> float:
    """Give the largest share of the approach angle that a parabola asks, in closed form but for the search.

    The vehicle stands on two points of the curve one wheelbase apart; every ground point ahead is seen from the front
    one, and so is the underbody above it (49 CFR 523.2 with a tyre of no radius: the line from the contact point).
    """

    def curve(x: Floats) -> Floats:
        return np.where(np.abs(x) < length / 2.0, -depth * (1.0 - (2.0 * x / length) ** 2), 0.0)

    worst = 0.0
    ahead = np.arange(0.05, 1.4, 0.01)
    for front in np.arange(-length / 2.0 - 1.0, length / 2.0 + 1.0, 0.02):
        rears = np.linspace(front - wheelbase, front - 0.7 * wheelbase, 1001)
        apart = np.hypot(front - rears, curve(np.array(front)) - curve(rears))
        rear = rears[np.argmin(np.abs(apart - wheelbase))]
        pitch = np.arctan2(curve(np.array(front)) - curve(rear), front - rear)
        up = curve(front + ahead) - curve(np.array(front))
        x = ahead * np.cos(pitch) + up * np.sin(pitch)
        z = up * np.cos(pitch) - ahead * np.sin(pitch)
        body = np.interp(x, [-1.4, 0.45, 0.9], [0.25, 0.30, 0.45])
        used = np.arctan2(z, x) / np.arctan2(body, x)
        worst = max(worst, float(used[(x > 0.05) & (x <= 0.9)].max()))
    return worst


@pytest.mark.parametrize(("length", "depth"), [(10.0, 0.8), (6.0, 0.6), (4.0, 0.4), (8.0, 0.5)])
def test_approach_and_departure_are_those_of_the_parabola(length: float, depth: float) -> None:
    """What the far bank asks of the bumper, and of the tail of the vehicle turned round, with tyres of 2 cm."""
    site, vehicle = ford(length, depth), envelope(tyre_radius_m=0.02)
    asked = outcome_of(APPROACH, site, vehicle).utilisation
    assert asked[0].tolist() == pytest.approx([point_tyres(length, depth)] * 2, abs=5e-3)
    behind = outcome_of(DEPARTURE, site, mirrored(vehicle)).utilisation
    assert behind[0].tolist() == pytest.approx(asked[0, ::-1].tolist(), abs=5e-3)


def test_steep_banks_bar_and_gentle_ones_do_not() -> None:
    """A pool 3 m long and 0.5 m deep has banks of 33.7°, more than a bumper of 29.3° clears; 0.1 m deep, of 7.6°."""
    deep, shallow = (outcome_of(APPROACH, ford(3.0, depth)).utilisation.max() for depth in (0.5, 0.1))
    assert deep > 1.0
    assert shallow < 0.3


def test_water_at_a_node_lies_on_the_trail_beyond_it() -> None:
    """The profile of a trail goes on into its neighbour: the bed there is met from both."""
    lines = {
        "s": [ORIGIN, (ORIGIN[0] + 30.0, ORIGIN[1])],
        "t": [(ORIGIN[0] + 30.0, ORIGIN[1]), (ORIGIN[0] + 60.0, ORIGIN[1])],
    }
    things = [{"kind": "water", "segment_id": "s", "chainage_m": 29.0, "length_m": 4.0, "depth_m": 0.4}]
    network = network_of(lines, obstacles=things, obstacles_surveyed=True, surveyed_on="2026-04-18")
    site = site_on(network, plane())
    profiles = make_scene(site).site.terrain.profiles
    assert profiles.z[: profiles.offsets[1]].min() < 99.7
    assert profiles.z[profiles.offsets[1] :].min() < 99.95
    assert surface_terrain(network, plane()).profiles.z.min() == 100.0


def test_banks_where_no_height_is_known() -> None:
    """No figure rather than none."""
    site = site_on(straight(), plane())
    profiles = site.terrain.profiles
    profiles.z[:] = np.nan
    assert np.isnan(banks(profiles, 0, (28.0, 32.0))).all()
