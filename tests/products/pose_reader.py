"""Reads the drawing of a pose back from the page, in metres, and says what it must show by the tables alone."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.terms import Direction, Wheel
from pipeline.vehicle.envelope_model import Envelope

if TYPE_CHECKING:
    from playwright.sync_api import Page

Floats = NDArray[np.float64]

STEP = 0.012
"""What rounding leaves of a place, m: a tenth of a pixel, 0.05° at the far end of a vehicle, a few millimetres."""

_READ = """name => {
  const svg = document.querySelector("#panel svg." + name);
  if (!svg) return null;
  const points = (one) => one.getAttribute("points").split(" ").map(pair => pair.split(",").map(Number));
  const number = (one, key) => Number(one.getAttribute(key));
  const tyres = [...svg.querySelectorAll(".tyre")].map(one => [one.dataset.wheel, one.tagName === "circle"
    ? [number(one, "cx"), number(one, "cy")]
    : [number(one, "x") + number(one, "width") / 2, number(one, "y") + number(one, "height") / 2],
    one.tagName === "circle" ? number(one, "r") : one.getAttribute("transform").match(/rotate\\(([-\\d.]+)/)[1]]);
  const disc = svg.querySelector(".gravity").getAttribute("transform").match(/[-\\d.]+/g).map(Number);
  const worst = svg.querySelector("circle.worst-flag");
  return {
    bar: Number(svg.querySelector(".bar").getAttribute("d").match(/h([\\d.]+)/)[1]),
    tyres, disc, box: points(svg.querySelector(".box")),
    under: svg.querySelector(".under") ? points(svg.querySelector(".under")) : [],
    air: [...svg.querySelectorAll(".tyre.air")].map(one => one.dataset.wheel),
    worst: worst ? [number(worst, "cx"), number(worst, "cy")] : null,
    words: svg.querySelector("desc").textContent, title: svg.querySelector("title").textContent,
    shown: [...svg.querySelectorAll("text")].map(one => one.textContent),
  };
}"""


@dataclass(frozen=True, slots=True)
class Drawing:
    """One view as it was drawn; places in metres, z up, from the middle of the four wheel centres."""

    tyres: dict[str, Floats]
    turned: dict[str, float]
    """Radius of the circle (m) from the side; how far it leans (degrees, + right side down) from behind."""
    box: Floats
    under: Floats
    gravity: Floats
    worst: Floats | None
    air: list[str]
    words: str
    shown: list[str]


def read_view(page: "Page", name: str) -> Drawing | None:
    """Read ``side-view`` or ``rear-view`` of the panel; ``None`` where it is not drawn."""
    raw: dict[str, Any] | None = page.evaluate(_READ, name)
    if raw is None:
        return None
    scale = raw["bar"] * (1.0 if name == "side-view" else 2.0)
    middle = np.mean([place for _, place, _ in raw["tyres"]], axis=0)

    def metres(points: Any) -> Floats:  # noqa: ANN401 — numbers from the page
        return (np.asarray(points, dtype=np.float64) - middle) / scale * [1.0, -1.0]

    size = scale if name == "side-view" else 1.0
    return Drawing(
        tyres={wheel: metres(place) for wheel, place, _ in raw["tyres"]},
        turned={wheel: float(turn) / size for wheel, _, turn in raw["tyres"]},
        box=metres(raw["box"]),
        under=metres(raw["under"]) if raw["under"] else np.zeros((0, 2)),
        gravity=metres(raw["disc"]),
        worst=None if raw["worst"] is None else metres(raw["worst"]),
        air=raw["air"],
        words=raw["words"],
        shown=raw["shown"],
    )


def _turned(points: Floats, degrees: float) -> Floats:
    """Turn points by an angle from the first axis towards the second."""
    turn = np.radians(degrees)
    return points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def side_body(envelope: Envelope, pitch_deg: float) -> tuple[Floats, Floats, Floats]:
    """Give box, underbody and centre of gravity in side view, from the middle of the wheels; + forward and up."""
    front, rear = envelope.length_front_m, -envelope.wheelbase_m - envelope.length_rear_m
    under = envelope.underbody
    ends = [[front, under[0, 1]], *under, [rear, under[-1, 1]], [rear, envelope.height_m], [front, envelope.height_m]]
    zero = np.array([-envelope.wheelbase_m / 2, envelope.tyre_radius_m])
    gravity = np.array([[envelope.cg_m[0], envelope.cg_m[2]]])
    box, low, mass = (_turned(np.asarray(part, dtype=np.float64) - zero, pitch_deg) for part in (ends, under, gravity))
    return box, low, mass[0]


def rear_body(envelope: Envelope, roll_deg: float) -> tuple[Floats, Floats]:
    """Give box and centre of gravity from behind, from the middle of the wheel centres; + right and up."""
    half, low = envelope.width_m / 2, envelope.underbody[:, 1].min()
    corners = [[-half, low], [half, low], [half, envelope.height_m], [-half, envelope.height_m]]
    zero = np.array([0.0, envelope.tyre_radius_m])
    gravity = np.array([[-envelope.cg_m[1], envelope.cg_m[2]]])
    box, mass = (_turned(np.asarray(part) - zero, -roll_deg) for part in (corners, gravity))
    return box, mass[0]


def rear_wheels(row: Any, envelope: Envelope) -> dict[str, Floats]:  # noqa: ANN401 — a row of POSES
    """Give the wheel centres from behind, each axle over its own mean; the one in the air hangs at the wheel travel."""
    heights = np.array([row.front_left_m, row.front_right_m, row.rear_left_m, row.rear_right_m])
    if isinstance(row.lifted, str):
        wheel = [one.word for one in Wheel].index(row.lifted)
        heights[wheel] += abs(row.twist_m) - envelope.wheel_travel_m
    heights -= np.repeat([heights[:2].mean(), heights[2:].mean()], 2)
    halves = np.array([-envelope.track_front_m, envelope.track_front_m, -envelope.track_rear_m, envelope.track_rear_m])
    return {wheel.word: np.array([halves[wheel] / 2, heights[wheel]]) for wheel in Wheel}


def worst_ahead(row: Any) -> float:  # noqa: ANN401 — a row of POSES
    """How far the worst point lies in front of the front axle, in travel."""
    return Direction(row.direction).sign * (row.at_m - row.front_m)


def check_side(drawing: Drawing, row: Any, envelope: Envelope) -> None:  # noqa: ANN401 — a row of POSES
    """Hold a side view against its row: axles, tyres, body at the pitch, worst point, words."""
    apart = abs(row.front_m - row.rear_m)
    for wheel in Wheel:
        ahead = apart / 2 if wheel < Wheel.REAR_LEFT else -apart / 2
        assert drawing.tyres[wheel.word][0] == _about(ahead), wheel
        assert drawing.turned[wheel.word] == _about(envelope.tyre_radius_m), wheel
    box, under, gravity = side_body(envelope, row.pitch_deg)
    assert np.allclose(drawing.box, box, atol=STEP)
    assert np.allclose(drawing.under, under, atol=STEP)
    assert np.allclose(drawing.gravity, gravity, atol=STEP)
    assert drawing.worst is not None
    assert drawing.worst[0] - apart / 2 == _about(worst_ahead(row))
    told = _way("pitch", row.pitch_deg, "nose up", "nose down")
    assert drawing.words.split("; ")[0] == told
    assert told in drawing.shown
    assert drawing.air == ([row.lifted] if isinstance(row.lifted, str) else [])


def check_rear(drawing: Drawing, row: Any, envelope: Envelope) -> None:  # noqa: ANN401 — a row of POSES
    """Hold a rear view against its row: wheels at their heights, axles leaning, body at the roll, words."""
    wheels = rear_wheels(row, envelope)
    for name, place in wheels.items():
        assert np.allclose(drawing.tyres[name], place, atol=STEP), name
    for left, right in (("front left", "front right"), ("rear left", "rear right")):
        across, up = wheels[right] - wheels[left]
        lean = np.degrees(np.arcsin(np.clip(-up / across, -1, 1)))
        assert abs(drawing.turned[left] - lean) < 0.3
    box, gravity = rear_body(envelope, row.roll_deg)
    assert np.allclose(drawing.box, box, atol=STEP)
    assert np.allclose(drawing.gravity, gravity, atol=STEP)
    assert drawing.air == ([row.lifted] if isinstance(row.lifted, str) else [])
    told = drawing.words.rstrip(".").split("; ")
    assert told[0] == _way("roll", row.roll_deg, "right side low", "left side low")
    assert set(told) <= set(drawing.shown)
    if np.isfinite(row.stability_deg):
        falls = "rocking or tipping" if isinstance(row.lifted, str) else "tipping over"
        assert f"{row.stability_deg:.1f}° short of {falls}" in told


def _way(name: str, degrees: float, plus: str, minus: str) -> str:
    """Say an angle as the drawing does: by its tenth, which the page carries."""
    tenths = round(10 * degrees)
    return f"{name} level" if tenths == 0 else f"{name} {abs(tenths) / 10:.1f}°, {plus if tenths > 0 else minus}"


def _about(value: float) -> object:
    return pytest.approx(value, abs=STEP)
