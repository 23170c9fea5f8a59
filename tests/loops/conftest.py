"""Settings shared by the tests of the loop search."""

import tomllib
from pathlib import Path

import pytest

from pipeline.loops.settings import LoopSettings

CONFIG = Path(__file__).parents[2] / "configs" / "loops.toml"


@pytest.fixture(scope="session")
def shipped() -> LoopSettings:
    """Give the settings that ship."""
    return LoopSettings.model_validate(tomllib.loads(CONFIG.read_text(encoding="utf-8")))


@pytest.fixture(scope="session")
def settings(shipped: LoopSettings) -> LoopSettings:
    """Give them with the local search cut short; lines on a grid of nodes may turn as they like."""
    effort = shipped.search.model_copy(update={"starts": 2, "moves": 1500})
    return shipped.model_copy(update={"search": effort, "sharpest_turn_deg": 180.0})
