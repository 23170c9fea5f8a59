"""Windows round tight points, what is cut out of tracks for them, and finer points between."""

import numpy as np
import pytest

from pipeline.checks.room.windows import finer, finer_poses, own_points, points_of, slices_of, windows_of
from pipeline.kernels.plan_records import Tracks
from tests.kernels.line_worlds import straight, track_of, trees

STRIDE = 4


def two_tracks() -> Tracks:
    """Two straights of 40 m, one after the other."""
    one = straight(40.0)
    names = ("x", "y", "heading", "roll", "wheel", "body", "aside", "hold")
    return one._replace(
        offsets=np.array([0, 81, 162]),
        own_from=np.array([10.0, 10.0]),
        own_to=np.array([30.0, 30.0]),
        **{name: np.concatenate([getattr(one, name)] * 2) for name in names},
    )


def flagged(size: int, *points: int) -> np.ndarray:
    """Flag some of the points."""
    flags = np.zeros(size, dtype=np.bool_)
    flags[list(points)] = True
    return flags


def test_windows_reach_before_and_behind_and_join() -> None:
    """Tight points 10 m apart with a reach of 6 m make one window; 20 m apart they make two."""
    tracks = two_tracks()
    joined = windows_of(tracks, flagged(162, 30, 50), 6.0, STRIDE)
    assert joined.track.tolist() == [0]
    assert joined.first[0] <= 18
    assert joined.last[0] >= 62
    apart = windows_of(tracks, flagged(162, 20, 60), 6.0, STRIDE)
    assert apart.track.size == 2


def test_windows_stay_on_their_track_in_whole_stages() -> None:
    """A window ends with its track, is free there and joins the middle line where it does not end with it."""
    windows = windows_of(two_tracks(), flagged(162, 2, 79, 90), 6.0, STRIDE)
    assert windows.track.tolist() == [0, 0, 1]
    assert ((windows.last - windows.first) % STRIDE == 0).all()
    assert (windows.first >= [0, 0, 81]).all()
    assert (windows.last <= [80, 80, 161]).all()
    assert windows.tied.tolist() == [[False, True], [True, False], [False, True]]


def test_a_track_without_stages_has_no_window() -> None:
    """Four points are less than three stages after the first."""
    assert windows_of(straight(2.0), flagged(5, 2), 6.0, STRIDE).track.size == 0
    assert windows_of(straight(40.0), flagged(81), 6.0, STRIDE).track.size == 0


def test_every_pose_counts() -> None:
    """Of a drive over two segments every pose counts, and just one over the node twice."""
    one = straight(40.0)._replace(own_from=np.array([0.0]), own_to=np.array([20.25]))
    other = one._replace(own_from=np.array([20.25]), own_to=np.array([40.0]))
    first, second = own_points(one, 2.8), own_points(other, 2.8)
    count = (first.astype(int) + second.astype(int))[: 81 - 3]
    assert count.min() == 1
    assert (count == 2).sum() <= 1


def test_a_segment_shorter_than_the_points_has_one() -> None:
    """A segment of 0.1 m still has a pose."""
    tracks = straight(40.0)._replace(own_from=np.array([20.1]), own_to=np.array([20.2]))
    assert 1 <= own_points(tracks, 2.8).sum() <= 2


def test_slices_take_the_solids_of_their_track_near_them() -> None:
    """Solids of the other track and far ones stay out, and the numbers lead back to those cut from."""
    tracks = two_tracks()
    solids = trees(straight(40.0), (2.0, 1.0, 0.2), (20.0, 1.0, 0.2), (38.0, 1.0, 0.2))
    both = {name: np.concatenate([getattr(solids, name)] * 2) for name in solids._fields if name != "offsets"}
    twice = solids._replace(offsets=np.array([0, 3, 6]), **both)
    windows = windows_of(tracks, flagged(162, 81 + 10), 3.0, STRIDE)
    cut, near, source = slices_of(windows, tracks, twice)
    assert source.tolist() == [3, 4]
    assert near.offsets.tolist() == [0, 2]
    assert cut.x.size == windows.last[0] - windows.first[0] + 1
    point, offsets = points_of(windows)
    assert np.array_equal(cut.x, tracks.x[point])
    assert offsets.tolist() == [0, point.size]


@pytest.mark.parametrize("times", [2, 4])
def test_finer_points_lie_on_the_arc(times: int) -> None:
    """Between points of a circle finer ones lie on it to two millimetres, and the old points stay."""
    tracks = track_of(np.full(40, 0.1))
    fine = finer(tracks, times)
    assert np.array_equal(fine.x[::times], tracks.x)
    assert np.allclose(np.hypot(fine.x, fine.y - 10.0), 10.0, atol=2e-3)
    poses = finer_poses((tracks.x, tracks.y, tracks.heading, tracks.roll), tracks.offsets, times)
    assert np.array_equal(poses[0], fine.x)
    assert poses[3].size == fine.x.size
