"""Mirrors, roof and fitted things: as the file says, or on the large side."""

import pytest

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.outline import outline
from tests.vehicle.worlds import EXTRAS, box

GIVEN = {
    "mirror_x_m": -0.5,
    "mirror_low_m": 1.0,
    "mirror_high_m": 1.2,
    "roof_width_m": 1.4,
    "roof_from_m": 1.1,
    "roof_front_m": -0.9,
    "roof_rear_m": -3.7,
}


def test_what_the_file_says_counts() -> None:
    """All seven figures, raised with the body."""
    found = outline(box(**GIVEN), (), 0.05)
    assert found["mirror_m"] == pytest.approx((-0.5, 1.05, 1.25))
    assert found["roof_m"] == pytest.approx((-3.7, -0.9, 1.4, 1.15))
    assert (found["body_front_m"], found["body_rear_m"], found["overhang_m"]) == (0.9, 1.1, ())


def test_what_is_missing_is_on_the_large_side() -> None:
    """A roof as wide and as long as the body, from 0.6 of the height; mirrors from half to three quarters of it."""
    found = outline(box(), (), 0.0)
    assert found["mirror_m"] == pytest.approx((-0.6, 0.95, 1.425))
    assert found["roof_m"] == pytest.approx((-3.9, 0.9, 1.9, 1.14))


def test_nothing_given_is_never_larger_than_what_is_assumed() -> None:
    """The measured roof lies within the assumed one."""
    measured = outline(box(**GIVEN), (), 0.0)["roof_m"]
    assumed = outline(box(), (), 0.0)["roof_m"]
    assert measured[0] >= assumed[0]
    assert measured[1] <= assumed[1]
    assert measured[2] <= assumed[2]


@pytest.mark.parametrize(
    ("given", "edges"),
    [
        ({"mirror_low_m": 1.5}, (1.5, 1.5)),
        ({"mirror_high_m": 0.8}, (0.8, 0.8)),
        ({"mirror_low_m": 0.7}, (0.7, 1.425)),
        ({"mirror_high_m": 1.6}, (0.95, 1.6)),
    ],
)
def test_one_edge_of_the_mirrors_alone(given: dict[str, float], edges: tuple[float, float]) -> None:
    """The other is assumed, and never on the wrong side of it."""
    assert outline(box(**given), (), 0.0)["mirror_m"][1:] == pytest.approx(edges)


def roof_width(vehicle: Vehicle, *loads: str) -> float:
    """Give the width of the roof with loads."""
    width: float = outline(vehicle, [vehicle.loads[name] for name in loads], 0.0)["roof_m"][2]
    return width


def test_a_load_above_the_roof_may_be_wider_than_it() -> None:
    """Only where its top is above the roof, and only where it is wider; without a width it is as wide as the roof."""
    loads = EXTRAS.replace("top_m = 2.15\n", "top_m = 2.15\nwidth_m = 1.7\n")
    loads = loads.replace("at_m = [-3.2, 0.0, 0.8]\n", "at_m = [-3.2, 0.0, 0.8]\nwidth_m = 1.8\n")
    assert roof_width(box(loads, **GIVEN)) == 1.4
    assert roof_width(box(loads, **GIVEN), "roof", "passenger") == 1.7
    assert roof_width(box(loads, **GIVEN), "tank") == 1.4
    assert roof_width(box(EXTRAS, **GIVEN), "roof") == 1.4
    assert roof_width(box(loads, **{**GIVEN, "roof_width_m": 1.8}), "roof") == 1.8


def test_a_fitted_thing_without_a_width_is_as_wide_as_the_body() -> None:
    """Its extent along and in height is that of its points."""
    bar, hitch = "points = [[1.0, 0.5], [0.93, 0.62]]", "points = [[-4.0, 0.4]]\nwidth_m = 0.1"
    found = outline(box(f"[overhangs.bar]\n{bar}\n[overhangs.hitch]\n{hitch}\n"), (), 0.1)["overhang_m"]
    assert found[0] == pytest.approx((0.93, 1.0, 1.9, 0.6, 0.72))
    assert found[1] == pytest.approx((-4.0, -4.0, 0.1, 0.5, 0.5))
