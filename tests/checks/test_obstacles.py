"""Obstacles as arrays: where they lie across, and on what ground."""

import numpy as np
import pytest

from pipeline.checks.obstacles import by_tyre, on_body, standing_on, things_of
from pipeline.terms import ObstacleKind
from tests.checks.worlds import envelope, site_on, straight, with_stations
from tests.worlds import ORIGIN, plane, ramp


def rock(**changes: object) -> dict[str, object]:
    """Make a rock on the trail of tiny worlds."""
    return {"kind": "rock", "segment_id": "s", "chainage_m": 20.0, "height_m": 0.2, "length_m": 0.6, **changes}


@pytest.mark.parametrize(
    ("offset", "width", "body", "tyres"),
    [
        (0.0, 0.5, True, False),  # between the wheels: tyres run from 0.675 to 0.925
        (0.8, 0.2, True, True),
        (-0.8, 0.2, True, True),
        (0.5, 0.4, True, True),  # reaches 0.70
        (0.4, 0.5, True, False),  # reaches 0.65
        (1.5, 0.4, False, False),  # begins at 1.3, beside the body
        (None, 0.5, True, False),  # no offset: on the centre line
        (1.5, None, True, True),  # no width: the whole trail
    ],
)
def test_lateral_extent_decides_what_passes_over(
    *, offset: float | None, width: float | None, body: bool, tyres: bool
) -> None:
    """A thing counts for the body within its width, and for the tyres only in their path (track 1.6, tyre 0.25)."""
    things = things_of(straight(obstacles=[rock(offset_m=offset, width_m=width)]))
    assert on_body(things, envelope(), 0.0).tolist() == [body]
    assert np.logical_or(*by_tyre(things, envelope(), 0.0)).tolist() == [tyres]


def test_path_is_taken_wider_by_what_a_driver_is_off() -> None:
    """A rock that begins 5 cm outside the body, or 5 cm inside the tyres, counts when the path is 15 cm wider."""
    outside = things_of(straight(obstacles=[rock(offset_m=1.1, width_m=0.2)]))
    assert (on_body(outside, envelope(), 0.0)[0], on_body(outside, envelope(), 0.15)[0]) == (False, True)
    between = things_of(straight(obstacles=[rock(offset_m=0.4, width_m=0.45)]))
    assert not np.logical_or(*by_tyre(between, envelope(), 0.0)).any()
    assert np.logical_or(*by_tyre(between, envelope(), 0.15)).all()


def test_ground_round_a_thing_is_told() -> None:
    """Width and grip of its own segment; the grade of the ground round it, less what a step makes of it."""
    step = rock(kind="step", height_m=0.3, chainage_m=30.0)
    network = straight(obstacles=[step, rock(chainage_m=1.0)], width_m=3.2, max_width_m=2.9)
    site = site_on(network, ramp(ORIGIN[0] + 29.0, 0.15, 2.0), mu_low=0.41)
    told = standing_on(things_of(network), site)
    assert told.room_m.tolist() == [2.9, 2.9]
    assert told.grip.tolist() == [0.41, 0.41]
    assert told.rolling.tolist() == [0.05, 0.05]
    assert told.grade == pytest.approx([0.0, 0.0], abs=1e-6)
    slope = standing_on(things_of(network), site_on(network, plane(east=0.2)))
    assert slope.grade == pytest.approx([0.2, 0.2 - 0.3 / 8.0], abs=1e-6)


def test_ground_without_heights_has_no_grade() -> None:
    """Nobody can tell what a wheel climbs there: level ground would be a guess, and a kind one uphill."""
    network = straight(obstacles=[rock()])
    site = site_on(network, plane(east=0.2))
    blind = with_stations(site, z=np.full_like(site.terrain.stations.z, np.nan))
    assert np.isnan(standing_on(things_of(network), blind).grade).all()


def test_a_segment_shorter_than_what_is_looked_at_has_its_own_grade() -> None:
    """Three metres of a hill of 20 % are no level ground."""
    network = straight(3.0, obstacles=[rock(chainage_m=1.5)])
    told = standing_on(things_of(network), site_on(network, plane(east=0.2)))
    assert told.grade == pytest.approx([0.2], abs=1e-6)


def test_things_are_sorted_and_named() -> None:
    """Things come by chainage, are called by kind and name, and without a name by their id."""
    things = things_of(
        straight(obstacles=[rock(chainage_m=30.0, name="Toad"), rock(kind="log", chainage_m=5.0, obstacle_id="L7")])
    )
    assert things.label.tolist() == ["log L7", "rock Toad"]
    assert things.of(ObstacleKind.ROCK).at_m.tolist() == [30.0]


def test_unattached_obstacles_are_left_out() -> None:
    """What lies on no segment is on no segment's profile."""
    network = straight(obstacles=[rock()])
    network.obstacles["segment_id"] = np.array([None], dtype=object)
    assert things_of(network).row.size == 0
