"""How far springs give on a bump, against the equation of motion integrated in small steps."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from pipeline.checks.passing.deflection import deflection, fastest

HZ = 1.3
OMEGA = 2.0 * np.pi * HZ


def compression(
    wheel: tuple[NDArray[np.float64], NDArray[np.float64]], damping: float, until: float
) -> NDArray[np.float64]:
    """Integrate z″ = ω²·(y − z) + 2ζω·(y′ − z′) for a wheel whose height y is told at times; give y − z."""
    times, heights = wheel
    slopes = np.diff(heights) / np.diff(times)

    def moves(t: float, state: NDArray[np.float64]) -> list[float]:
        y = np.interp(t, times, heights)
        piece = np.searchsorted(times, t, side="right") - 1
        rises = slopes[piece] if 0 <= piece < slopes.size else 0.0
        return [state[1], OMEGA**2 * (y - state[0]) + 2.0 * damping * OMEGA * (rises - state[1])]

    asked = np.linspace(0.0, until, 400)
    found = solve_ivp(moves, (0.0, until), [0.0, 0.0], t_eval=asked, max_step=until / 200.0, rtol=1e-6, atol=1e-9)
    return np.interp(asked, times, heights) - found.y[0]


def over_an_edge(height: float, speed: float, radius: float = 0.38) -> tuple[tuple[NDArray, NDArray], float]:
    """Give times and heights of a wheel that is rolled over an edge, and the steepest slope of its path."""
    reach = np.sqrt(radius**2 - (radius - height) ** 2)
    away = np.linspace(-reach, 0.0, 400)
    rise = np.sqrt(radius**2 - away**2) - (radius - height)
    return ((away + reach) / speed, rise), reach / (radius - height)


@pytest.mark.parametrize("height", [0.05, 0.12, 0.2])
@pytest.mark.parametrize("speed", [0.1, 0.3, 0.8, 2.0])
def test_first_compression_stays_within_the_bound(height: float, speed: float) -> None:
    """A wheel rolled up an edge: over the first half period, undamped, the springs never give more."""
    wheel, slope = over_an_edge(height, speed)
    found = compression(wheel, 0.0, 0.5 / HZ)
    assert 0.0 < found.max() <= float(deflection(height, slope, speed, HZ)) + 1e-6


def test_the_bound_is_reached_on_a_long_slope() -> None:
    """On a slope that goes on for a quarter period the compression is v·s ÷ ω, the answer to a step of velocity."""
    times = np.linspace(0.0, 0.4 / HZ, 50)
    found = compression((times, 0.3 * times), 0.0, 0.4 / HZ)
    assert found.max() == pytest.approx(float(deflection(1.0, 0.5, 0.6, HZ)), rel=1e-3)
    assert found.max() == pytest.approx(0.3 / OMEGA, rel=1e-3)


@pytest.mark.parametrize("speed", [0.2, 0.6, 1.5])
@pytest.mark.parametrize("flat", [0.0, 0.4, 1.0])
def test_with_dampers_the_whole_passage_stays_within_it(speed: float, flat: float) -> None:
    """Up an edge, along and down again with 0.4 of critical damping: the bound holds until all is quiet."""
    (up, rise), slope = over_an_edge(0.15, speed)
    down = up[-1] + flat / speed + (up[-1] - up[::-1])
    wheel = np.concatenate([up, down[down > up[-1]]]), np.concatenate([rise, rise[::-1][down > up[-1]]])
    found = compression(wheel, 0.4, down[-1] + 2.0 / HZ)
    assert found.max() <= float(deflection(0.15, slope, speed, HZ)) + 1e-6


def test_slower_is_gentler_and_standing_gives_nothing() -> None:
    """Never less at a higher speed, nothing at none, at most the whole rise (common practice, no source)."""
    speeds = np.linspace(0.0, 5.0, 60)
    found = deflection(0.15, 1.2, speeds, HZ)
    assert found[0] == 0.0
    assert (np.diff(found) >= 0.0).all()
    assert found[-1] == 0.15
    assert float(deflection(0.15, np.inf, 0.0, HZ)) == 0.0
    assert float(deflection(0.15, np.inf, 0.1, HZ)) == 0.15


def test_fastest_is_the_inverse() -> None:
    """At the fastest speed the springs give just what may be given; a little faster they give more."""
    room = np.array([0.01, 0.05, 0.14])
    speed = fastest(0.15, 1.2, room, HZ)
    assert deflection(0.15, 1.2, speed, HZ) == pytest.approx(room)
    assert (deflection(0.15, 1.2, speed * 1.01, HZ) > room).all()


def test_no_room_no_speed_and_all_room_any_speed() -> None:
    """Nothing to give: stand still. The whole rise to give, or no slope at all: any speed."""
    assert fastest(0.15, 1.2, [0.0, -0.1, 0.15, 0.2], HZ).tolist() == [0.0, 0.0, np.inf, np.inf]
    assert fastest([0.15], [0.0], [0.0], HZ).tolist() == [np.inf]
    assert fastest([0.15], [np.inf], [0.1], HZ).tolist() == [0.0]
