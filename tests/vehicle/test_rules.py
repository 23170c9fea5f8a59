"""Rules between the figures of a vehicle file, each at its border."""

import pytest

from pipeline.vehicle import rules

KNOWN = {
    "wheelbase_m": 2.8,
    "tyre_radius_m": 0.38,
    "width_m": 1.9,
    "height_m": 1.9,
    "length_front_m": 0.9,
    "length_rear_m": 1.1,
    "kerb_mass_kg": 2000.0,
}
GOOD = ((0.9, 0.45), (-1.4, 0.25), (-3.9, 0.4))


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_front_share_inside_its_range(share: float) -> None:
    """A quarter to three quarters of the mass may stand on the front axle."""
    assert rules.front_share_fits(share * 2000.0, KNOWN) == share * 2000.0


@pytest.mark.parametrize("mass", [499.0, 1501.0])
def test_front_share_outside_its_range(mass: float) -> None:
    """Beyond it the weighing was wrong."""
    with pytest.raises(ValueError, match="weigh the front axle again"):
        rules.front_share_fits(mass, KNOWN)


def test_width_rules_have_their_borders() -> None:
    """Mirrors may equal the body, and so may the track."""
    assert rules.width_fits(1.9, "width_mirrors_m", KNOWN) == 1.9
    assert rules.width_fits(1.9, "track_front_m", KNOWN) == 1.9


def test_points_may_reach_the_ends_with_a_tapes_error() -> None:
    """Five centimetres beyond the stated length are a measuring error, six are not."""
    rules.underbody_fits(((0.949, 0.45), *GOOD[1:]), KNOWN)
    with pytest.raises(ValueError, match="outside the vehicle"):
        rules.underbody_fits(((0.96, 0.45), *GOOD[1:]), KNOWN)


def test_point_touching_the_tyre_is_outside_it() -> None:
    """On the circle is not inside."""
    rules.outside_tyres([(0.38, 0.38)], KNOWN, "")
    with pytest.raises(ValueError, match="front_axle_clearance_m"):
        rules.outside_tyres([(0.37, 0.38)], KNOWN, "")


@pytest.mark.parametrize("known", [{}, {"wheelbase_m": None}])
def test_rules_say_nothing_where_the_other_key_is_at_fault(known: dict[str, float | None]) -> None:
    """A key that could not be read starts no further fault."""
    assert rules.underbody_fits(GOOD, known) == GOOD
    assert rules.front_share_fits(5000.0, known) == 5000.0
    assert rules.cg_fits(5.0, known) == 5.0
    assert rules.circle_fits(1.0, known) == 1.0
    assert rules.width_fits(9.0, "track_front_m", known) == 9.0
    assert rules.gross_fits(1.0, known) == 1.0
    assert rules.outline_fits(9.0, "roof_front_m", known) == 9.0
    rules.within_body(9.0, known, "")
    rules.outside_tyres([(0.0, 0.38)], known, "")
    rules.load_fits("x", (99.0, 99.0, 99.0), 0.0, known)


def test_published_figures_that_were_read_with_faults_are_not_missed() -> None:
    """A published angle with a fault of its own is not reported as missing too."""
    assert rules.underbody_fits(None, {"approach_deg": 30.0, "departure_deg": 20.0, "clearance_m": 0.2}) is None
    with pytest.raises(ValueError, match="departure_deg missing"):
        rules.underbody_fits(None, dict.fromkeys(rules.PUBLISHED, 1.0) | {"departure_deg": None})


def test_mirrors_and_roof_have_their_borders() -> None:
    """As wide as the body, to the very ends of it with a tape's error, and nothing that is not given."""
    assert rules.outline_fits(0.949, "roof_front_m", KNOWN) == 0.949
    assert rules.outline_fits(-3.949, "roof_rear_m", KNOWN) == -3.949
    assert rules.outline_fits(1.899, "roof_from_m", KNOWN) == 1.899
    assert rules.outline_fits(None, "roof_from_m", KNOWN) is None
    rules.within_body(None, KNOWN, "")
    rules.within_body(1.9, KNOWN, "")
    with pytest.raises(ValueError, match="lies outside the vehicle"):
        rules.outline_fits(0.96, "mirror_x_m", KNOWN)


@pytest.mark.parametrize(
    ("key", "other", "sign"), [("mirror_high_m", "mirror_low_m", 1.0), ("roof_rear_m", "roof_front_m", -1.0)]
)
def test_ends_must_differ(key: str, other: str, sign: float) -> None:
    """A mirror of no height or a roof of no length is a mix-up, and so is one upside down; a millimetre is enough."""
    known = {**KNOWN, other: 0.8 * sign}
    assert rules.outline_fits(0.8 * sign + 0.001 * sign, key, known) == 0.8 * sign + 0.001 * sign
    with pytest.raises(ValueError, match=f"is not (above|behind) {other}"):
        rules.outline_fits(0.8 * sign, key, known)
    with pytest.raises(ValueError, match=f"is not (above|behind) {other}"):
        rules.outline_fits(0.7 * sign, key, known)
