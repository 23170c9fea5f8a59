"""Demands of the whole chain on elevation models with seeded errors, against their standard deviations.

One model holds 400 copies of the same stretch of ground, far enough apart that their errors have nothing to do with
each other, each at a place of its own within a cell and at a bearing of its own. The ground is a parabola, which the
kernel meets exactly, so that without errors all copies ask the same. The middle segment of a stretch is a tenth of a
metre long and goes on into its neighbours: the worst place is fixed to that.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from pipeline.checks.check import Outcome
from pipeline.checks.doubt.demand import p_over
from pipeline.checks.prepared import prepare
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.survey.model import Network
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from tests.checks.worlds import LIMITS, envelope, ground_of
from tests.worlds import ORIGIN, Grid, network_of, write_elevation

Float64 = NDArray[np.float64]

COPIES = 20
"""Stretches each way."""
APART = 24.0
"""From one to the next, m: no cell of one stands in another."""
RMSE, REACH = 0.04, 3.0
"""Error of the heights and its correlation length, m."""
SIDE = int(COPIES * APART)
SAMPLING = 1.0 / np.sqrt(2.0 * COPIES**2)
"""Standard error of a standard deviation, relative: 3.5 %."""


@dataclass(frozen=True)
class Ground:
    """Height along (s) and to the right (n) of a stretch: a s + b n + ½ c s² + t s n + ½ d n², m."""

    grade: float = 0.0
    cross: float = 0.0
    bend: float = 0.0
    twist: float = 0.0
    across: float = 0.0

    def height(self, s: Float64, n: Float64) -> Float64:
        """Height over the middle."""
        return self.grade * s + self.cross * n + 0.5 * self.bend * s**2 + self.twist * s * n + 0.5 * self.across * n**2


BROW = Ground(grade=0.05, cross=0.22, bend=-0.09, twist=0.05, across=0.03)
DIP = Ground(grade=0.12, cross=-0.08, bend=0.12, twist=-0.03, across=-0.05)


def places() -> tuple[Float64, Float64, Float64]:
    """Give middles and bearings of all copies."""
    rng = np.random.default_rng(41)
    row, column = np.divmod(np.arange(COPIES**2), COPIES)
    x, y = ((k + 0.5) * APART + rng.uniform(-0.5, 0.5, k.size) for k in (column, row))
    return x + ORIGIN[0], y + ORIGIN[1], rng.uniform(0.0, 2.0 * np.pi, row.size)


def stretches(moved: Float64 | None = None) -> Network:
    """Lay three segments through every copy; *moved* shifts each to the east and north."""
    x, y, bearing = places()
    x, y = (x, y) if moved is None else (x + moved[:, 0], y + moved[:, 1])
    lines = {}
    for k in range(x.size):
        ends = [(x[k] + s * np.sin(bearing[k]), y[k] + s * np.cos(bearing[k])) for s in (-8.0, -0.05, 0.05, 8.0)]
        lines |= {f"{name}{k}": ends[i : i + 2] for i, name in enumerate(("before", "middle", "after"))}
    return network_of(lines, surveyed_on="2026-04-18", obstacles_surveyed=True, width_m=3.5)


def exact(ground: Ground) -> Float64:
    """Heights of the cells, every cell on the parabola of its own copy."""
    x, y, bearing = (part.reshape(COPIES, COPIES) for part in places())
    east, north = Grid(SIDE, SIDE).centres()
    copy = (((north - ORIGIN[1]) // APART).astype(int), ((east - ORIGIN[0]) // APART).astype(int))
    dx, dy, turn = east - x[copy], north - y[copy], bearing[copy]
    s, n = dx * np.sin(turn) + dy * np.cos(turn), dx * np.cos(turn) - dy * np.sin(turn)
    return 100.0 + ground.height(s, n)


def errors() -> Float64:
    """Draw one field of correlated errors on the whole model, by its spectrum on a torus."""
    along = np.minimum(np.arange(SIDE), SIDE - np.arange(SIDE))
    spectrum = np.fft.rfft2(np.exp(-np.hypot(along[:, None], along[None, :]) / REACH)).real
    noise = np.random.default_rng(17).standard_normal((SIDE, SIDE))
    return RMSE * np.fft.irfft2(np.fft.rfft2(noise) * np.sqrt(np.maximum(spectrum, 0.0)), s=(SIDE, SIDE))


@dataclass(frozen=True)
class World:
    """How the copies are measured."""

    ground: Ground
    noisy: bool = False
    """Errors are in the model."""
    moved_m: float = 0.0
    """Each stretch is shifted by a normal error of so much each way."""
    line_rmse_m: float | None = None
    dem_rmse_m: float = RMSE

    wheel_travel_m: float = 0.45


Middles = Callable[[World], pd.DataFrame]


@pytest.fixture(scope="module")
def middles(tmp_path_factory: pytest.TempPathFactory) -> Middles:
    """Check all copies of a world with the direction: rows of the middle segments by check, in order of the copies."""
    folder = tmp_path_factory.mktemp("models")

    @cache
    def checked(world: World) -> pd.DataFrame:
        vehicle = envelope(wheel_travel_m=world.wheel_travel_m)
        table = checks_of(prepare(measured(replace(world, wheel_travel_m=0.0)), [vehicle], LIMITS))
        mine = table[table["segment_id"].str.startswith("middle") & (table["direction"] == "with")]
        return mine.set_index("check")

    @cache
    def measured(world: World) -> CheckSite:
        model = folder / f"{abs(hash(world))}.tif"
        heights = exact(world.ground) + (errors() if world.noisy else 0.0)
        write_elevation(model, heights, Grid(SIDE, SIDE, dtype="float64"))
        network = stretches(np.random.default_rng(29).normal(0.0, 1.0, (COPIES**2, 2)) * world.moved_m)
        parameters = TerrainParameters(
            elevation=(model,),
            dem_rmse_m=world.dem_rmse_m,
            dem_correlation_m=REACH,
            line_rmse_m=world.line_rmse_m,
        )
        terrain = measure_terrain(network, parameters)
        return CheckSite(network, terrain, ground_of(len(network.segments)), parameters)

    return checked


def column(table: pd.DataFrame, check: str, name: str) -> Float64:
    """Take one column of the copies of one check."""
    return table.loc[check, name].to_numpy(np.float64)


ON_BROW = ("breakover", "belly", "roll", "pitch_over", "slide", "articulation")
ON_DIP = ("approach", "departure", "roll", "pitch_over", "slide", "climb", "articulation")
WORST_OF_MANY = ("breakover", "belly", "approach", "departure", "slide")
"""The worst of many poses and points, or of standing, braking and driving: with errors it is larger on the mean."""


@pytest.mark.parametrize(("ground", "checks"), [(BROW, ON_BROW), (DIP, ON_DIP)], ids=["brow", "dip"])
def test_demands_scatter_as_predicted(middles: Middles, ground: Ground, checks: tuple[str, ...]) -> None:
    """Root mean square deviation from the true demand: within 8 % of the closed form and 3 sampling errors."""
    truth, noisy = middles(World(ground)), middles(World(ground, noisy=True))
    for check in checks:
        demand = column(truth, check, "demand")
        assert np.ptp(demand) < 2e-3 * demand.mean(), "without errors all copies ask the same"
        off = np.sqrt(np.mean((column(noisy, check, "demand") - demand) ** 2))
        ratio = off / np.median(column(truth, check, "demand_sd"))
        assert abs(ratio - 1.0) < 0.08 + 3.0 * SAMPLING, check


def test_roll_on_three_wheels_scatters_as_predicted(middles: Middles) -> None:
    """With a wheel travel of 5 cm every copy of the brow stands on three wheels: within 10 % all the same."""
    truth, noisy = (middles(World(BROW, noisy=errors, wheel_travel_m=0.05)) for errors in (False, True))
    assert truth.loc["roll", "reason"].str.contains("on three wheels").all()
    ratio = np.std(column(noisy, "roll", "demand")) / np.median(column(truth, "roll", "demand_sd"))
    assert abs(ratio - 1.0) < 0.10 + 3.0 * SAMPLING


@pytest.mark.parametrize(("ground", "checks"), [(BROW, ON_BROW), (DIP, ON_DIP)], ids=["brow", "dip"])
def test_chances_are_calibrated(middles: Middles, ground: Ground, checks: tuple[str, ...]) -> None:
    """With limits anywhere within three deviations of the truth, the chance given is how often the truth is over.

    20 limits for each copy. In five classes of the chance told, within 0.06 of what happened; where the worst of many
    poses is told, on the careful side: never 0.06 less than what happened.
    """
    truth, noisy = middles(World(ground)), middles(World(ground, noisy=True))
    rng = np.random.default_rng(7)
    for check in checks:
        demand, sd = column(truth, check, "demand")[:, None], column(noisy, check, "demand_sd")[:, None]
        limit = demand + np.median(sd) * rng.uniform(-3.0, 3.0, (demand.size, 20))
        told = p_over(Outcome.of(np.broadcast_to(column(noisy, check, "demand")[:, None], limit.shape), limit, "1"), sd)
        over, told = (demand > limit).ravel(), told.ravel()
        for some in np.array_split(np.argsort(told), 5):
            happened = float(over[some].mean())
            assert happened - told[some].mean() < 0.06, check
            assert check in WORST_OF_MANY or told[some].mean() - happened < 0.06, check


def test_the_chance_in_the_table_is_how_often_it_happens(middles: Middles) -> None:
    """Wheel travel one deviation over the true twist: a chance of 16 %, and so many noisy copies lift a wheel."""
    twist = middles(World(BROW))
    travel = float(np.mean(column(twist, "articulation", "demand") + column(twist, "articulation", "demand_sd")))
    told = column(middles(World(BROW, wheel_travel_m=travel)), "articulation", "p_over")
    assert told == pytest.approx(0.1587, abs=0.02)
    noisy = column(middles(World(BROW, noisy=True, wheel_travel_m=travel)), "articulation", "utilisation")
    assert np.mean(noisy > 1.0) == pytest.approx(told.mean(), abs=0.05)


@pytest.mark.parametrize(("ground", "checks"), [(BROW, ON_BROW), (DIP, ON_DIP)], ids=["brow", "dip"])
def test_shifted_lines_scatter_as_predicted(middles: Middles, ground: Ground, checks: tuple[str, ...]) -> None:
    """Every stretch shifted by 0.3 m each way on an exact model: within 10 % and 3 sampling errors.

    Twist, breakover and belly are the same all over a parabola: theirs stay within 3 %.
    """
    truth = middles(World(ground, line_rmse_m=0.3, dem_rmse_m=0.0))
    moved = middles(World(ground, moved_m=0.3))
    for check in checks:
        sd = float(np.median(column(truth, check, "demand_sd")))
        scatter = float(np.std(column(moved, check, "demand")))
        if check in {"articulation", "breakover", "belly", "approach", "departure"}:
            assert max(sd, scatter) < 0.03 * column(truth, check, "demand").mean(), check
        else:
            assert abs(scatter / sd - 1.0) < 0.10 + 3.0 * SAMPLING, check
