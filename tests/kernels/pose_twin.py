"""The sweep in side view worked plainly: one pose after another, every height and hard point looked at, no short cuts.

The same model as ``kernels.pose``, written for reading: the tyre rests where the highest of all contacts lets it, the
front wheel is found by brentq, every ratio is worked out in full, and nothing is skipped.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER, CHECKS, DEPARTURE, Body

__all__ = ["Found", "Plain"]

Float64 = NDArray[np.float64]
LEAST_M, LEAST_RAD, HOUSING_M, AT_END_M = 1e-3, 1e-3, 0.1, 1e-6


@dataclass
class Found:
    """The worst of each check: ratio, demand, limit, place, rear, front; and the poses made."""

    worst: Float64 = field(default_factory=lambda: np.zeros((CHECKS, 6)))
    made: int = 0
    failed: int = 0

    def hold(self, check: int, ask: tuple[float, float], where: tuple[float, float, float]) -> None:
        """Keep a demand and its limit if they are the worst."""
        if ask[0] / ask[1] > self.worst[check, 0]:
            self.worst[check] = (ask[0] / ask[1], *ask, *where)


@dataclass
class Plain:
    """One run in the direction of travel, all of it its own, and a vehicle."""

    wheel: list[float]
    under: list[float]
    step: float
    body: Body

    def centre(self, at: float) -> float:
        """Height of a tyre's centre: on every piece of ground the contact that lifts it most."""
        r, last = self.body.radius, len(self.wheel) - 1
        low, high = max(math.floor((at - r) / self.step), 0), min(math.ceil((at + r) / self.step), last)
        best = -math.inf
        for k in range(low, high):
            slope = (self.wheel[k + 1] - self.wheel[k]) / self.step
            spot = r * slope / math.sqrt(1.0 + slope * slope)
            begin, end = k * self.step - at, (k + 1) * self.step - at
            spot = spot if k == 0 and spot < begin else max(spot, begin)
            spot = spot if k + 1 == last and spot > end else min(spot, end)
            if abs(spot) <= r:
                best = max(best, self.wheel[k] + slope * (spot - begin) + math.sqrt(r * r - spot * spot))
            elif math.isnan(spot):
                return math.nan
        return best

    def front(self, rear: float, rear_z: float) -> tuple[float, float] | None:
        """Front wheel one wheelbase ahead, the farthest; inf when the run ends before, ``None`` without ground."""
        length, last = self.body.wheelbase, len(self.wheel) - 1

        def over(x: float) -> float:
            return math.hypot(x - rear, self.centre(x) - rear_z) - length

        k = math.ceil((rear + length) / self.step - 1e-9)
        if k > last:
            k = last
            if over(k * self.step) < 0.0:
                return math.inf, math.inf
        while k > 0:
            near, far = over((k - 1) * self.step), over(k * self.step)
            if math.isnan(near + far):
                return None
            if near < 0.0:
                x = (
                    brentq(over, (k - 1) * self.step, k * self.step, xtol=1e-14, rtol=1e-15)
                    if far > 0.0
                    else k * self.step
                )
                return x, self.centre(x)
            k -= 1
        return None

    def pose(self, found: Found, rear: float) -> int:
        """Make one pose: 1 made, 0 beyond the run, −1 without ground."""
        rear_z = self.centre(rear)
        front = None if math.isnan(rear_z) else self.front(rear, rear_z)
        if front is None:
            return -1
        if math.isinf(front[0]):
            return 0
        turn = (front[0] - rear) / self.body.wheelbase, (front[1] - rear_z) / self.body.wheelbase
        seen = list(self._seen(front, turn, rear))
        for x, h, place in self._points(seen):
            self._judge(found, (x, h, float(np.interp(x, self.body.x, self.body.z))), (place, rear, front[0]))
        self._housings(found, (rear, rear_z), front, turn)
        return 1

    def _seen(self, front: tuple[float, float], turn: tuple[float, float], rear: float) -> Iterator[tuple[float, ...]]:
        """Vertices round the body, in its frame: x, height over the ground line, place."""
        room = 0.5 + abs(turn[1]) * self.body.radius
        low = rear + self.body.wheelbase + min(float(self.body.x[0]), -self.body.wheelbase) - room
        high = front[0] + max(float(self.body.x[-1]), 0.0) + room
        last = len(self.under) - 1
        for k in range(max(math.floor(max(low, -AT_END_M) / self.step), 0), min(math.ceil(high / self.step), last) + 1):
            across, up = k * self.step - front[0], self.under[k] - front[1]
            yield across * turn[0] + up * turn[1], up * turn[0] - across * turn[1] + self.body.radius, k * self.step

    def _points(self, seen: list[tuple[float, ...]]) -> Iterator[tuple[float, ...]]:
        """Vertices under the body, and the ground under its hard points."""
        for before, here in zip([None, *seen[:-1]], seen, strict=True):
            if self.body.x[0] <= here[0] <= self.body.x[-1]:
                yield here
            for hard in [] if before is None else self.body.x.tolist():
                if min(before[0], here[0]) <= hard <= max(before[0], here[0]) and here[0] != before[0]:
                    on = (hard - before[0]) / (here[0] - before[0])
                    yield hard, before[1] + on * (here[1] - before[1]), before[2] + on * self.step

    def _half(self, away: float, height: float) -> float:
        """Tangent of half the angle that a height is seen under; NaN inside the tyre, which sees what it touches."""
        power = away * away + (self.body.radius - height) ** 2 - self.body.radius**2
        root = 0.0 if abs(power) < 1e-12 else power
        return math.nan if root < 0.0 else height / max(away + math.sqrt(root), 1e-6)

    def _judge(self, found: Found, point: tuple[float, float, float], where: tuple[float, float, float]) -> None:
        """Hold one point of ground against the body above it."""
        x, h, z = point
        if h <= 0.0:
            return
        between = -self.body.wheelbase <= x <= 0.0
        aways = [-x, self.body.wheelbase + x] if between else [max(x, -self.body.wheelbase - x)]
        seen, limit = (sum(2.0 * math.atan(self._half(away, one)) for away in aways) for one in (h, z))
        hidden = math.isnan(seen + limit)
        if between or hidden:
            found.hold(BELLY, (h, max(z - self.body.gap, LEAST_M)), where)
        if not hidden:
            check = BREAKOVER if between else APPROACH if x > 0.0 else DEPARTURE
            found.hold(check, (seen, max(limit, LEAST_RAD)), where)

    def _housings(
        self, found: Found, rear: tuple[float, float], front: tuple[float, float], turn: tuple[float, float]
    ) -> None:
        """Hold the ground below both axles against their housings."""
        for foot, housing in ((front, self.body.front_axle), (rear, self.body.rear_axle)):
            middle, reach = foot[0] + self.body.radius * turn[1], max(HOUSING_M, self.step)
            first = max(math.ceil((middle - reach) / self.step - 1e-9), 0)
            for k in range(first, min(math.floor((middle + reach) / self.step + 1e-9), len(self.under) - 1) + 1):
                h = (self.under[k] - foot[1]) * turn[0] - (k * self.step - foot[0]) * turn[1] + self.body.radius
                if h > 0.0:
                    limit = max(housing - self.body.gap, LEAST_M)
                    found.hold(BELLY, (h, limit), (k * self.step, rear[0], front[0]))

    def roll(self, stride: int) -> Found:
        """Roll along the run; then repeat the worst pose of each check at a third of the spacing, six times over."""
        found, last = Found(), len(self.wheel) - 1
        for k in range(0, last + 1, stride):
            state = self.pose(found, k * self.step)
            found.made += state > 0
            found.failed += state < 0
        for check in range(CHECKS):
            fine = stride * self.step
            for _ in range(6):
                if found.worst[check, 0] <= 0.2:
                    break
                fine /= 3.0
                middle = float(found.worst[check, 4])
                for rear in (middle + k * fine for k in (-2, -1, 1, 2)):
                    if 0.0 <= rear <= last * self.step:
                        self.pose(found, rear)
        return found
