"""What belongs to one call, worked by hand."""

import pytest

from pipeline.technique.grouping import grouped
from pipeline.technique.settings import Calls

RULE = Calls(lead_m=15.0, merge_m=10.0, spacing_m=30.0, from_intensity=0.4, thing_from_intensity=0.1, named=2)


@pytest.mark.parametrize(
    ("places", "groups"),
    [
        ([], []),
        ([(5.0, False), (35.0, False), (35.1, False), (60.0, False)], [[0, 1], [2, 3]]),
        ([(5.0, False), (14.0, True), (16.0, True), (40.0, False)], [[0, 1], [2, 3]]),
        ([(0.0, True), (10.0, True), (10.1, True)], [[0, 1], [2]]),
    ],
)
def test_groups(places: list[tuple[float, bool]], groups: list[list[int]]) -> None:
    """A call must take in what begins within the spacing of its first thing, of what is kept apart only the near."""
    assert grouped(places, RULE) == groups
