"""Changes are told smallest first."""

import pytest

from pipeline.loops.ask.change import Change, Effort, in_words


def test_smallest_first() -> None:
    """Small numbers, then the group, then the ground, then large numbers; within each by size."""
    changes = [
        Change.number(0.6, "far"),
        Change.ground(2.0, "two"),
        Change.ground(1.0, "one"),
        Change.group(1.0, "who"),
        Change.number(0.5, "half"),
        Change.number(0.1, "little"),
    ]
    assert [change.words for change in sorted(changes)] == ["little", "half", "who", "one", "two", "far"]
    assert in_words(changes) == "Smallest change that gives one: little. Others: half; who; one; two; far."


@pytest.mark.parametrize(("size", "effort"), [(0.5, Effort.NUMBER), (0.500001, Effort.FAR)])
def test_half_is_the_border(size: float, effort: Effort) -> None:
    """A number changed by more than half of what it is stands last."""
    assert Change.number(size, "").effort is effort


def test_none_and_one() -> None:
    """Nothing to tell is an empty text; a single change has no others."""
    assert in_words([]) == ""
    assert in_words([Change.group(1.0, "without x")]) == "Smallest change that gives one: without x."
