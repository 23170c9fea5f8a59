"""The base of all settings models: frozen, no unknown keys, finite numbers, no text for numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, ValidationError

from pipeline.errors import SettingsError
from pipeline.settings import Strict, read_settings_text


class Numbers(Strict):
    """Numbers of every kind, one with pydantic's own switch for lists."""

    length_m: float = 1.0
    pair: tuple[float, float] = Field(default=(0.0, 0.0), strict=False)


def test_models_are_frozen() -> None:
    """Settings do not change after they are read."""
    numbers = Numbers()
    with pytest.raises(ValidationError, match="frozen"):
        numbers.length_m = 2.0  # type: ignore[misc]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_text_is_never_taken_for_a_number(number: float) -> None:
    """A number in quotes is a fault, alone and in a list, also where a list may fill a tuple."""
    assert read_settings_text(f"length_m = {number!r}", "x", Numbers).length_m == number
    for text in (f'length_m = "{number!r}"', f'pair = [1, "{number!r}"]', "length_m = true", "pair = [1, false]"):
        with pytest.raises(SettingsError):
            read_settings_text(text, "x", Numbers)


@pytest.mark.parametrize("value", ["nan", "inf", "-inf"])
def test_numbers_are_finite(value: str) -> None:
    """TOML can write numbers that no ruler shows; they are refused."""
    with pytest.raises(SettingsError, match=value):
        read_settings_text(f"length_m = {value}", "x", Numbers)


def test_unknown_keys_are_refused_by_the_model_itself() -> None:
    """Also where no file is read."""
    with pytest.raises(ValidationError, match="Extra inputs"):
        Numbers(lenght_m=1.0)  # type: ignore[call-arg]
