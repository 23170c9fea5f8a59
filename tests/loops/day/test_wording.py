"""Numbers and names in words."""

import pytest

from pipeline.loops.day.wording import count, metres, minutes, named, over, spent


@pytest.mark.parametrize(
    ("amount", "text"),
    [(0.04, "0 s"), (0.25, "15 s"), (0.96, "1 min"), (1.26, "1.3 min"), (9.94, "9.9 min"), (9.96, "10 min")],
)
def test_minutes(amount: float, text: str) -> None:
    """Seconds below one, tenths below ten, whole minutes from there."""
    assert minutes(amount) == text


def test_words() -> None:
    """Singular and plural, lists as they are spoken, trails once each and no more than four of them."""
    assert [count(1, "lap"), count(2, "lap"), metres(12.6)] == ["1 lap", "2 laps", "13 m"]
    assert [named(["a"]), named(["a", "b"]), named(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
    assert over(["a", "b", "a"]) == "a, b"
    assert over("abcdef") == "a, b, c, d and 2 more"


def test_parts_add_up_to_the_whole() -> None:
    """57.6 and 13.6 are 71, not 58 and 14; what is whole stays."""
    assert spent({"driving": 57.6, "coaching": 13.6}) == ["58 min driving", "13 min coaching"]
    assert spent({"driving": 57.5, "coaching": 13.7}) == ["57 min driving", "14 min coaching"]
    assert spent({"driving": 14.0, "coaching": 6.0, "waiting": 2.0}) == [
        "14 min driving",
        "6 min coaching",
        "2 min waiting",
    ]
