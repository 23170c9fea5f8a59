"""Turn, width and height."""

import numpy as np
import pytest

from pipeline.checks.passage import Height, Turn, Width, off_tracking
from pipeline.terms import Basis
from tests.checks.worlds import envelope, outcome_of, site_on, straight, with_stations
from tests.worlds import plane


def bent(radius_m: float, **columns: object) -> object:
    """Make a trail that its stations say bends."""
    site = site_on(straight(**columns), plane())
    return with_stations(site, curvature=np.full_like(site.terrain.stations.curvature, -1.0 / radius_m))


def thing(kind: str, at: float = 20.0, **columns: object) -> dict[str, object]:
    """Make a thing on the tiny trail."""
    return {"kind": kind, "segment_id": "s", "chainage_m": at, **columns}


def test_off_tracking_of_the_green_book() -> None:
    """R 50 ft, L 20 ft: 4.174 ft; R 6.0 m, L 2.8 m: 0.6934 m; R 25: 0.1573 m; straight: none."""
    assert off_tracking(np.array([50.0]), 20.0) == pytest.approx([4.174], abs=1e-3)
    found = off_tracking(np.array([6.0, 12.0, 25.0, np.inf, 1.0]), 2.8)
    assert found == pytest.approx([0.6934, 0.3312, 0.1573, 0.0, 2.8], abs=1e-4)


def test_turn_is_at_its_limit_on_the_turning_circle() -> None:
    """On a trail just as wide as the vehicle needs, a bend of the turning radius is utilisation 1, both ways."""
    found = outcome_of(Turn(), bent(6.0, width_m=2.4))
    assert found.utilisation == pytest.approx(1.0, abs=1e-6)


def test_spare_width_opens_the_bend() -> None:
    """2 m to spare let the line be 1 m wider: 6 ÷ (5 + 1); a trail too narrow takes nothing away, nor one untagged."""
    assert outcome_of(Turn(), bent(5.0, width_m=4.4)).utilisation == pytest.approx(1.0, abs=1e-6)
    for width in (1.5, None):
        assert outcome_of(Turn(), bent(5.0, width_m=width)).utilisation == pytest.approx(1.2, abs=1e-6)


@pytest.mark.parametrize(("chainage", "utilisation"), [(33.0, 1.2), (20.0, 1.0)])
def test_gap_in_a_bend_takes_its_spare_width(chainage: float, utilisation: float) -> None:
    """A gate of the width needed, 3 m from the tightest point, leaves no room to swing wide; 10 m off it does."""
    gate = thing("gap", chainage, clear_width_m=2.4)
    site = site_on(straight(width_m=4.4, obstacles=[gate]), plane())
    curvature = np.zeros_like(site.terrain.stations.curvature)
    curvature[60] = 0.2
    found = outcome_of(Turn(), with_stations(site, curvature=curvature))
    assert found.utilisation == pytest.approx(utilisation, abs=1e-6)


def test_straight_trail_asks_no_turn() -> None:
    """A straight asks nothing, at no place."""
    found = outcome_of(Turn(), site_on(straight(), plane()))
    assert found.utilisation.tolist() == [[0.0, 0.0]]
    assert np.isnan(found.at_m).all()


def test_width_is_what_the_vehicle_sweeps() -> None:
    """2.10 m over the mirrors, 0.30 m margin and 0.6934 m off-tracking in a bend of 6 m, of 3.5 m tagged."""
    found = outcome_of(Width(), bent(6.0))
    assert found.demand == pytest.approx(2.1 + 0.3 + 0.6934, abs=1e-4)
    assert found.limit.tolist() == [[3.5, 3.5]]
    assert (found.basis == Basis.TAG).all()


def test_gap_narrower_than_the_tag_counts() -> None:
    """The narrowest of gaps and tag is told, with its place and as surveyed."""
    gaps = [thing("gap", 20.0, clear_width_m=2.5), thing("gap", 33.0, clear_width_m=2.3)]
    found = outcome_of(Width(), site_on(straight(obstacles=gaps), plane()))
    assert found.utilisation[0, 0] == pytest.approx(2.4 / 2.3)
    assert found.at_m.tolist() == [[33.0, 33.0]]
    assert (found.basis == Basis.SURVEYED).all()


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"width_m": None, "obstacles_surveyed": False}, "was not surveyed"),
        ({"width_m": None}, "no narrow place was measured"),
        ({"obstacles": [thing("gap")]}, "has no clear width"),
    ],
)
def test_width_that_nobody_knows(columns: dict[str, object], reason: str) -> None:
    """Without a tag, or with an unmeasured gap, width is open, and says why."""
    found = outcome_of(Width(), site_on(straight(**columns), plane()))
    assert reason in found.unknown[0, 0]
    assert reason in found.unknown[0, 1]


def test_measured_gap_speaks_for_an_untagged_surveyed_trail() -> None:
    """On a surveyed trail without a tag the measured gap is what is known."""
    site = site_on(straight(width_m=None, obstacles=[thing("gap", clear_width_m=3.0)]), plane())
    found = outcome_of(Width(), site)
    assert found.unknown.tolist() == [["", ""]]
    assert found.utilisation == pytest.approx(0.8)


def test_lowest_of_branches_and_tag_counts() -> None:
    """1.90 m and 0.10 m margin under branches of 2.5 and 2.2 m and a sign of 2.4 m: 2.0 ÷ 2.2 at the branch."""
    branches = [thing("branch", 10.0, clear_height_m=2.2), thing("branch", 30.0, clear_height_m=2.5)]
    found = outcome_of(Height(), site_on(straight(obstacles=branches, max_height_m=2.4), plane()))
    assert found.utilisation == pytest.approx(2.0 / 2.2)
    assert found.at_m.tolist() == [[10.0, 10.0]]


def test_branch_beside_the_vehicle_does_not_count() -> None:
    """A branch that ends 2 m beside the line is not over the vehicle."""
    beside = [thing("branch", clear_height_m=1.0, offset_m=2.5, width_m=1.0)]
    assert outcome_of(Height(), site_on(straight(obstacles=beside), plane())).utilisation.tolist() == [[0.0, 0.0]]


def test_surveyed_trail_without_branch_is_free() -> None:
    """A survey that found no branch says so; without a survey nothing is known."""
    free = outcome_of(Height(), site_on(straight(), plane()))
    assert free.utilisation.tolist() == [[0.0, 0.0]]
    assert free.note[0, 0] == "no branch found"
    dark = outcome_of(Height(), site_on(straight(obstacles_surveyed=False), plane()))
    assert "not surveyed" in dark.unknown[0, 0]
    tagged = outcome_of(Height(), site_on(straight(obstacles_surveyed=False, max_height_m=2.5), plane()), envelope())
    assert tagged.utilisation == pytest.approx(0.8)
    assert tagged.unknown.tolist() == [["", ""]]


def test_branch_without_height_is_told() -> None:
    """A branch nobody measured leaves the height open."""
    found = outcome_of(Height(), site_on(straight(obstacles=[thing("branch", name="Low Ash")]), plane()))
    assert found.unknown[0, 0] == "branch Low Ash at 20.0 m has no clear height"
