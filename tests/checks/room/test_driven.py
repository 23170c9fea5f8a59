"""Lines as they are driven: what holds them, and the smallest gaps between points."""

import numpy as np
import pytest

from pipeline.checks.room.driven import HELD, Driven, driven_along
from pipeline.checks.room.windows import finer, finer_poses
from pipeline.kernels.plan_records import RIGHT, Tracks
from pipeline.terms import Part
from tests.kernels.line_worlds import straight, trees, vehicle


def along(tracks: Tracks, offset: float, *places: tuple[float, float, float], slack: float = 0.15) -> Driven:
    """Drive a straight at an offset."""
    zero = np.zeros(tracks.x.size)
    return driven_along((tracks.x, zero - offset, zero, zero), vehicle(), tracks, trees(tracks, *places), slack)


def test_a_line_off_what_holds_it_has_less_than_nothing() -> None:
    """0.4 m right of the offset asked for with 0.15 m of slack: −0.25 m on the right, by a wheel; elsewhere nothing."""
    tracks = straight(20.0)
    tracks.hold[20] = -0.1
    line = along(tracks, 0.3)
    assert line.gap[20, RIGHT] == pytest.approx(0.15 - 0.4)
    assert line.part[20, RIGHT] == Part.WHEEL
    assert line.solid[20, RIGHT] == HELD
    assert line.gap[14, RIGHT] == pytest.approx(0.15 - 0.4)
    assert np.isinf(line.gap[[10, 17, 25]]).all()


def test_a_line_within_the_slack_is_free() -> None:
    """Where what holds the line is kept, it takes no room."""
    tracks = straight(20.0)
    tracks.hold[20] = 0.2
    assert np.isinf(along(tracks, 0.3).gap).all()


def test_the_smallest_gap_between_points_is_told_at_the_nearest() -> None:
    """A post that the side passes between two points counts for them, and never looks farther off for it."""
    tracks = straight(20.0)
    post = (10.0 + 2.8 + 0.1, 1.2, 0.0)
    fine = finer(tracks, 4)
    zero = np.zeros(tracks.x.size)
    poses = finer_poses((tracks.x, zero, zero, zero), tracks.offsets, 4)
    line = driven_along(poses, vehicle(), fine, trees(tracks, post), 0.15).coarser(fine.offsets, 4)
    assert np.array_equal(line.x, tracks.x)
    assert line.gap.min() == pytest.approx(1.2 - 0.95, abs=1e-6)
    assert (line.gap <= along(tracks, 0.0, post).gap + 1e-12).all()


def test_numbers_of_solids_follow_their_source() -> None:
    """Solids are renumbered, edges and nothing are not."""
    tracks = straight(20.0)
    line = along(tracks, 0.0, (10.0, 1.5, 0.1)).renumbered(np.array([7]))
    assert set(np.unique(line.solid).tolist()) == {-2, 7}
