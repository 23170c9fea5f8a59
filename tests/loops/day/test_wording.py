"""Numbers and names in words."""

import pytest

from pipeline.loops.day.wording import count, metres, minutes, named, over


@pytest.mark.parametrize(
    ("amount", "text"), [(0.04, "0.0 min"), (1.26, "1.3 min"), (9.94, "9.9 min"), (9.96, "10 min")]
)
def test_minutes(amount: float, text: str) -> None:
    """Tenths below ten, whole minutes from there."""
    assert minutes(amount) == text


def test_words() -> None:
    """Singular and plural, lists as they are spoken, trails once each and no more than four of them."""
    assert [count(1, "lap"), count(2, "lap"), metres(12.6)] == ["1 lap", "2 laps", "13 m"]
    assert [named(["a"]), named(["a", "b"]), named(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
    assert over(["a", "b", "a"]) == "a, b"
    assert over("abcdef") == "a, b, c, d and 2 more"
