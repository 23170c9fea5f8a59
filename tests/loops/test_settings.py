"""The settings that ship, and what settings refuse."""

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from pydantic import ValidationError

from pipeline.loops.settings import DriverPace, LoopSettings, TechniqueValue
from pipeline.terms import Driver, Technique, Verdict

CONFIG = Path(__file__).parents[2] / "configs" / "loops.toml"


def test_shipped_settings_cover_every_driver_and_technique(settings: LoopSettings) -> None:
    """No driver and no technique may be without a figure."""
    assert set(settings.pace) == set(Driver)
    assert set(settings.technique) == set(Technique)


def test_shipped_paces_are_in_order(settings: LoopSettings) -> None:
    """Harder ground is never faster, and a more used driver never slower nor more coached."""
    paces = [settings.pace[driver] for driver in Driver]
    for pace in paces:
        assert pace.ample_kmh >= pace.watch_kmh >= pace.spot_kmh
    for careful, used in pairwise(paces):
        assert used.ample_kmh >= careful.ample_kmh
        assert used.spot_kmh >= careful.spot_kmh
        assert used.coaching_share <= careful.coaching_share


def test_every_shipped_number_has_a_reason() -> None:
    """Every line with a number must carry a comment."""
    lines = CONFIG.read_text(encoding="utf-8").splitlines()
    bare = [line for line in lines if "=" in line and not line.startswith("#") and "#" not in line]
    assert bare == []


def test_pace_by_verdict() -> None:
    """The pace must follow the verdict; whatever else may be driven goes at the spotter's pace."""
    pace = DriverPace(ample_kmh=8.0, watch_kmh=5.0, spot_kmh=2.0, coaching_share=1.0)
    assert [pace.kmh(v) for v in (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)] == [8.0, 5.0, 2.0]


@pytest.mark.parametrize(
    ("key", "value"),
    [("reference_length_m", 6.0), ("intensity_floor", 1.5), ("reference_time_min", 0.5), ("colour", "red")],
)
def test_wrong_units_and_unknown_keys_are_refused(key: str, value: object) -> None:
    """Kilometres for metres, hours for minutes, per cent for a share and unknown keys must not pass."""
    shipped = tomllib.loads(CONFIG.read_text(encoding="utf-8"))
    with pytest.raises(ValidationError, match=key):
        LoopSettings.model_validate(shipped | {key: value})


def test_technique_value_bounds() -> None:
    """A saturation of nothing would divide by zero and must be refused."""
    with pytest.raises(ValidationError, match="saturation"):
        TechniqueValue(saturation=0.0, weight=1, coaching_min=1.0)
