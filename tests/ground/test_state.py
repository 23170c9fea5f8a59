"""The ground under a weather: how wet every segment is, and what follows from it."""

import numpy as np
import pandas as pd

from pipeline.ground.state import ground_state
from pipeline.ground.weather import Weather
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces, tagged


def test_ground_state_is_parallel_to_the_segments() -> None:
    """Arrays carry the class's own figures, in the order of the segments; rolling is the high value."""
    state = ground_state(
        tagged(("grass", None, None), ("asphalt", None, None)), surfaces(), Weather(wetness=Wetness.WET)
    )
    grass, asphalt = (surfaces().classes[name].wet for name in ("grass", "asphalt"))
    assert state.surface == ("grass", "asphalt")
    assert state.wetness is Wetness.WET
    np.testing.assert_array_equal(state.mu_low, [grass.adhesion[0], asphalt.adhesion[0]])
    np.testing.assert_array_equal(state.mu_typical, [grass.adhesion[1], asphalt.adhesion[1]])
    np.testing.assert_array_equal(state.mu_high, [grass.adhesion[2], asphalt.adhesion[2]])
    np.testing.assert_array_equal(state.rolling, [grass.rolling[1], asphalt.rolling[1]])
    np.testing.assert_array_equal(state.rolling_low, [grass.rolling[0], asphalt.rolling[0]])
    assert state.assumed.dtype == np.bool_


def test_ground_state_of_no_segments_is_empty() -> None:
    """A network without segments gives empty arrays, not an error."""
    state = ground_state(tagged(), surfaces(), Weather())
    assert state.surface == ()
    assert state.mu_low.shape == state.rolling.shape == state.assumed.shape == (0,)


def test_network_is_not_changed() -> None:
    """The stage leaves its argument as it was."""
    network = tagged((None, None, None), ("mud", None, None))
    before = network.segments.copy(deep=True)
    ground_state(network, surfaces(), Weather(wetness=Wetness.SOAKED))
    pd.testing.assert_frame_equal(network.segments, before)
