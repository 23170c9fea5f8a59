"""What is allowed at a place is said in words, with the unit that the key's suffix stands for."""

from typing import Literal

import pytest
from pydantic import Field

from pipeline.settings.shape import Shape, unit_of
from pipeline.settings.strict import Strict


class Inner(Strict):
    """A table."""

    depth_m: float | None = Field(default=None, ge=0.0)
    size: Literal["small", 3] = "small"


class Outer(Strict):
    """A file."""

    count: int
    flow_m_s: float = Field(le=5.0)
    names: tuple[str, ...] = Field(default=(), min_length=1, max_length=4)
    few: list[str] = Field(default_factory=list, max_length=2)
    free: list[object] = Field(default_factory=list)
    code: str = Field(default="abc", min_length=3, max_length=3)
    note: str = Field(default="x", min_length=1)
    inner: Inner | None = None
    by_name: dict[str, Inner] = Field(default_factory=dict)
    pair: tuple[float, float] = (0.0, 0.0)


SHAPE = Shape(Outer.model_json_schema())


@pytest.mark.parametrize(
    ("path", "allowed"),
    [
        (("count",), "a whole number"),
        (("flow_m_s",), "a number up to 5 m/s"),
        (("names",), "a list of 1 to 4, each text in quotes"),
        (("few",), "a list of at most 2, each text in quotes"),
        (("free",), "a list"),
        (("code",), "text of 3 to 3 characters"),
        (("note",), "text, not empty"),
        (("inner",), "a table"),
        (("inner", "depth_m"), "a number from 0 m"),
        (("inner", "size"), '"small" | 3'),
        (("by_name", "any", "depth_m"), "a number from 0 m"),
        (("pair",), "a list of 2, each a number"),
        (("pair", 1), "a number"),
        (("pair", 2), ""),
        (("nowhere",), ""),
        (("count", "deeper"), ""),
    ],
)
def test_what_is_allowed(path: tuple[str | int, ...], allowed: str) -> None:
    """Every kind of value is described; where nothing is known, nothing is said."""
    assert SHAPE.allowed(path) == allowed


def test_keys_and_homes() -> None:
    """The keys of a table, and the tables that know a key."""
    assert SHAPE.keys(("inner",)) == ("depth_m", "size")
    assert SHAPE.keys(("count",)) == ()
    assert SHAPE.keys(("nowhere",)) == ()
    assert SHAPE.home("size") == ("inner",)
    assert SHAPE.home("count") == ("",)


def test_bounds() -> None:
    """Bounds of numbers only, open ends infinite."""
    assert SHAPE.bounds(("flow_m_s",)) == (float("-inf"), 5.0)
    assert SHAPE.bounds(("inner", "depth_m")) == (0.0, float("inf"))
    assert SHAPE.bounds(("note",)) is None
    assert SHAPE.bounds(("nowhere",)) is None


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("wheelbase_m", "m"),
        ("rain_mm", "mm"),
        ("flow_m_s", "m/s"),
        ("fording_flow_m2_s", "m²/s"),
        ("grade_pct", "%"),
        ("time_min", "min"),
        ("roll_deg", "°"),
        ("name", ""),
    ],
)
def test_the_suffix_is_the_unit(key: str, unit: str) -> None:
    """The longest suffix counts: m/s is not s."""
    assert unit_of(key) == unit
