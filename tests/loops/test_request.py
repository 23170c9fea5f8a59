"""Requests refuse what no loop could ever meet."""

from typing import Any

import pytest

from pipeline.errors import SettingsError
from pipeline.loops.request import LoopRequest
from pipeline.terms import Objective


def make(**changes: Any) -> LoopRequest:  # noqa: ANN401  # options of any kind, passed on
    """Make a request that is right but for *changes*."""
    options = {"length_m": (1000.0, 2000.0), "time_min": None, "setups": ("wagon",)} | changes
    return LoopRequest("ridge", Objective.SAFEST, **options)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"length_m": None}, "neither length_m nor time_min"),
        ({"length_m": (2000.0, 1000.0)}, r"length_m = \[2000.0, 1000.0\]"),
        ({"length_m": (-1.0, 1000.0)}, "length_m"),
        ({"length_m": (0.0, float("inf"))}, "length_m"),
        ({"time_min": (30.0, 20.0)}, "time_min"),
        ({"setups": ()}, "setups is empty"),
        ({"max_overlap": 1.1}, "max_overlap = 1.1"),
        ({"max_redriven": -0.1}, "max_redriven"),
        ({"comfort_floor": 50.0}, "comfort_floor = 50.0"),
        ({"alternatives": -1}, "alternatives"),
        ({"seed": -1}, "seed"),
    ],
)
def test_bad_values_are_named(changes: dict[str, Any], said: str) -> None:
    """Each bad value must be named with the loop it belongs to."""
    with pytest.raises(SettingsError, match=said) as caught:
        make(**changes)
    assert 'loop "ridge"' in str(caught.value)


def test_all_faults_come_together() -> None:
    """Several bad values must be reported in one go."""
    with pytest.raises(SettingsError) as caught:
        make(length_m=(5.0, 1.0), setups=(), max_overlap=2.0)
    assert len(caught.value.faults) == 3


def test_defaults_are_those_of_the_reference() -> None:
    """The options that are not given must have their documented values."""
    request = make()
    assert (request.max_overlap, request.max_redriven, request.comfort_floor) == (0.6, 0.3, 0.5)
    assert (request.must, request.avoid, request.alternatives, request.seed) == ((), (), 0, 0)
