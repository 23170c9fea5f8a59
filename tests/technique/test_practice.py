"""Bands and aims: closed forms, what is refused, and the reasons in the file that ships."""

import tomllib
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from pipeline.technique.practice import ALL_ROUND, Band, Practice
from pipeline.terms import Driver

CONFIG = Path(__file__).parents[2] / "configs" / "techniques.toml"
TEXT = CONFIG.read_text(encoding="utf-8")
RAW: dict[str, Any] = tomllib.loads(TEXT)["practice"]
SHIPPED = Practice.model_validate(RAW)


@pytest.mark.parametrize(
    ("intensity", "share"), [(0.0, 0.4), (0.1, 0.55), (0.4, 1.0), (0.6, 1.0), (0.8, 0.6), (1.0, 0.2)]
)
def test_band_worked_by_hand(intensity: float, share: float) -> None:
    """Linear up to the best range, all of it inside, linear down after it."""
    assert Band(easy_share=0.4, best_from=0.4, best_to=0.6, hard_share=0.2).share(intensity) == pytest.approx(share)


@pytest.mark.parametrize(
    ("ends", "shares"), [((0.0, 0.0), (1.0, 0.3)), ((1.0, 1.0), (0.2, 1.0)), ((0.0, 1.0), (1.0, 1.0))]
)
def test_bands_at_the_ends(ends: tuple[float, float], shares: tuple[float, float]) -> None:
    """A best range that touches an end leaves nothing to rise or fall there, and divides by nothing."""
    band = Band(easy_share=0.2, best_from=ends[0], best_to=ends[1], hard_share=0.3)
    assert (band.share(0.0), band.share(1.0)) == pytest.approx(shares)


@given(st.tuples(*[st.floats(0, 1)] * 4), st.floats(0, 1))
def test_share_lies_between_its_points(figures: tuple[float, float, float, float], intensity: float) -> None:
    """Every share lies between the smallest named one and 1, and equals linear interpolation between the points."""
    low, high = sorted(figures[:2])
    band = Band(easy_share=figures[2], best_from=low, best_to=high, hard_share=figures[3])
    got = band.share(intensity)
    assert min(figures[2:]) - 1e-9 <= got <= 1.0
    if low > 0.01 and high < 0.99:
        twin = np.interp(intensity, [0.0, low, high, 1.0], [figures[2], 1.0, 1.0, figures[3]])
        assert got == pytest.approx(twin, abs=1e-9)


def test_the_more_practised_want_harder_ground() -> None:
    """The best range moves up with practice, and easy ground gives less (challenge point framework, see Band)."""
    for careful, used in pairwise(SHIPPED.band[driver] for driver in Driver):
        assert careful.best_from < used.best_from
        assert careful.best_to <= used.best_to
        assert careful.easy_share > used.easy_share
        assert careful.hard_share <= used.hard_share
        assert careful.share(0.1) > used.share(0.1)
        assert careful.share(0.95) < used.share(0.95)


def test_aims_differ_in_what_they_look_for() -> None:
    """No two aims that ship have the same weights, every one has something to come for, all-round has all."""
    for one, other in combinations(SHIPPED.aims.values(), 2):
        assert one != other
    for weights in SHIPPED.aims.values():
        assert max(weights.values()) == 3
    everything = {technique for weights in SHIPPED.aims.values() for technique in weights}
    assert set(SHIPPED.aims[ALL_ROUND]) == everything
    assert {"first day", "wet day", "side-slope day"} <= set(SHIPPED.aims)


def test_every_figure_that_ships_has_a_reason() -> None:
    """Each number of [practice] stands beside a comment that says why."""
    lines = TEXT[TEXT.index("[practice]") : TEXT.index("[climb]")].splitlines()
    figures = [line for line in lines if "=" in line and not line.startswith("#")]
    assert len(figures) > 60
    for line in figures:
        assert len(line.partition("#")[2].strip()) > 8, line


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"aims": {"wet day": {"water": 1}}}, "all-round"),
        ({"aims": {**RAW["aims"], "idle": {"water": 0}}}, '"idle" looks for nothing'),
        ({"aims": {**RAW["aims"], "idle": {}}}, '"idle" looks for nothing'),
        ({"aims": {**RAW["aims"], "odd": {"juggling": 1}}}, "juggling"),
        ({"aims": {**RAW["aims"], "odd": {"water": 21}}}, "20"),
        ({"band": {d: b for d, b in RAW["band"].items() if d != "expert"}}, "no band for expert"),
        (
            {"band": {**RAW["band"], "expert": {**RAW["band"]["expert"], "best_to": 0.5}}},
            "0.5 is below best_from = 0.7",
        ),
        ({"spread": -1.0}, "0"),
        ({"repeat_share": 1.5}, "1"),
    ],
)
def test_what_makes_no_sense_is_refused(change: dict[str, Any], said: str) -> None:
    """Missing drivers and aims, weights that weigh nothing, ranges the wrong way round, shares above 1."""
    with pytest.raises(ValidationError, match=said):
        Practice.model_validate({**RAW, **change})
