"""Pace by grade and surface: what the settings say and refuse."""

import tomllib
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from pipeline.loops.pace_settings import GradePace, SurfacePace
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Driver, Wetness

CONFIGS = Path(__file__).parents[2] / "configs"
GRADE = GradePace(up_deg=[0, 10, 20], up_kmh=[40, 10, 4], down_deg=[0, 10], down_kmh=[30, 3])


def test_linear_between_the_angles_and_level_beyond() -> None:
    """Half way between two angles the pace must be half way, beyond the last that of the last; NaN stays NaN."""
    degrees = np.array([0.0, 5.0, 15.0, 20.0, 60.0, -5.0, -10.0, -40.0, np.nan])
    assert GRADE.kmh(degrees)[:-1].tolist() == [40.0, 25.0, 7.0, 4.0, 4.0, 16.5, 3.0, 3.0]
    assert np.isnan(GRADE.kmh(degrees)[-1])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"up_deg": [1, 10, 20]}, "begin with 0"),
        ({"up_deg": [0, 10, 10]}, "rise"),
        ({"up_kmh": [40, 10]}, "2 paces for 3 angles"),
        ({"down_kmh": [3, 30]}, "not driven faster"),
        ({"down_deg": [0, 90]}, "less than 90"),
    ],
)
def test_refused(change: dict[str, Any], message: str) -> None:
    """Angles that do not rise from 0, another number of paces, and a faster pace on steeper ground must not pass."""
    with pytest.raises(ValidationError, match=message):
        GradePace.model_validate(GRADE.model_dump() | change)


def test_wet_counts_from_wet_on() -> None:
    """Damp ground is driven as dry, soaked as wet."""
    pace = SurfacePace(dry=0.9, wet=0.5)
    assert [pace.share(wetness) for wetness in Wetness] == [0.9, 0.9, 0.5, 0.5]


def test_every_surface_class_that_ships_has_a_share(settings: LoopSettings) -> None:
    """Surface classes and shares must not drift apart, and a table without the rest must be refused."""
    classes = tomllib.loads((CONFIGS / "surfaces.toml").read_text(encoding="utf-8"))["classes"]
    assert set(settings.surface) == {*classes, "other"}
    raw = tomllib.loads((CONFIGS / "loops.toml").read_text(encoding="utf-8"))
    del raw["surface"]["other"]
    with pytest.raises(ValidationError, match="other"):
        LoopSettings.model_validate(raw)


def test_shipped_grades_are_in_order(settings: LoopSettings) -> None:
    """Downhill is never faster than uphill, level ground has no cap of its own, more used drivers go no slower."""
    angles = np.linspace(0.0, 45.0, 91)
    assert (settings.grade.kmh(-angles) <= settings.grade.kmh(angles)).all()
    assert settings.grade.kmh(np.array([0.0]))[0] >= max(settings.pace[driver].ample_kmh for driver in Driver)
    shares = [settings.pace[driver].grade_share for driver in Driver]
    assert all(a <= b for a, b in pairwise(shares))


@pytest.mark.parametrize(("ratio", "per_min", "kmh"), [(40.0, 1000.0, 3.5), (25.0, 1500.0, 8.4)])
def test_gears_that_the_shipped_paces_are_reasoned_from(ratio: float, per_min: float, kmh: float) -> None:
    """A wheel of 0.74 m rolls π × 0.74 m a turn; rate ÷ ratio × that × 60 ÷ 1000 must be as the file says."""
    assert per_min / ratio * np.pi * 0.74 * 60.0 / 1000.0 == pytest.approx(kmh, abs=0.05)
