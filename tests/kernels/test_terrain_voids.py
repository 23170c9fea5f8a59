"""Stored numbers to heights."""

import numpy as np
import pytest

from pipeline.kernels.terrain_voids import stored_to_heights

pytestmark = pytest.mark.kernel


@pytest.mark.parametrize("dtype", ["int16", "uint16", "int32", "float32", "float64"])
def test_scale_offset_and_nodata(dtype: str) -> None:
    """Decimetres above 100 m; 9 is the void."""
    stored = np.array([[10, 9], [0, 250]], dtype=dtype)
    heights = stored_to_heights(stored, 9.0, (0.1, 100.0), 9999.0)
    assert heights.dtype == np.float32
    assert np.isnan(heights).tolist() == [[False, True], [False, False]]
    assert heights[[0, 1, 1], [0, 0, 1]] == pytest.approx([101.0, 100.0, 125.0])


def test_what_no_ground_can_be_is_void() -> None:
    """Beyond the limit either way, infinite, or not a number; without a nodata number nothing else is."""
    stored = np.array([[np.nan, np.inf, -np.inf, -9999.0, 9999.0, 9998.9, -9998.9, 0.0]], dtype=np.float64)
    heights = stored_to_heights(stored, np.nan, (1.0, 0.0), 9999.0)
    assert np.isnan(heights[0]).tolist() == [True] * 5 + [False] * 3


def test_nodata_is_compared_before_scaling() -> None:
    """A void of −32768 in tenths would be a plausible −3,276.8 m after scaling."""
    heights = stored_to_heights(np.array([[-32768, -32767]], dtype=np.int16), -32768.0, (0.1, 0.0), 9999.0)
    assert np.isnan(heights[0, 0])
    assert heights[0, 1] == pytest.approx(-3276.7)


def test_the_input_is_left_alone() -> None:
    """A read-only array is fine."""
    stored = np.array([[1.0, -9999.0]], dtype=np.float32)
    stored.setflags(write=False)
    stored_to_heights(stored, -9999.0, (1.0, 0.0), 9999.0)
    assert stored.tolist() == [[1.0, -9999.0]]
