"""``docs/loops.md``: its examples are what a build of the sample site says, byte for byte, and its words hold."""

import importlib.util
import re
import sys
import tomllib
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from pipeline.terms import CAUTION
from tests.real.built import Built

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGE = (DOCS / "loops.md").read_text(encoding="utf-8")
NAMES = ("First day", "Wet day", "Mixed group")


@cache
def script() -> ModuleType:
    """Load the script that makes the page."""
    spec = importlib.util.spec_from_file_location("make_loop_page", DOCS / "make_loop_page.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def section(name: str) -> str:
    """Give the example of a loop."""
    return PAGE.split(f"<!-- {name.lower()}: begin -->")[1].split(f"<!-- {name.lower()}: end -->")[0]


def test_page_is_what_the_build_says(site_built: Built) -> None:
    """Byte for byte; run ``python docs/make_loop_page.py BUILD`` after a change of what is worked out."""
    assert script().made(script().read(site_built.folder)) == PAGE


@pytest.mark.parametrize("name", NAMES)
def test_an_example_shows_the_request_as_it_is_asked(name: str) -> None:
    """The lines of the site file, which read back to the same keys."""
    site = tomllib.loads((ROOT / "configs" / "site.toml").read_text(encoding="utf-8"))
    shown = tomllib.loads(section(name).split("```toml\n")[1].split("```")[0])["loops"][0]
    assert shown in site["loops"]


@pytest.mark.parametrize("name", NAMES)
def test_a_value_never_stands_without_its_bound(name: str) -> None:
    """Points, bound, the bound's name and what is proven stand in one line."""
    assert re.search(r"[\d.]+ points; bound [\d.]+ points \([a-z ]+\); proven", section(name))


@pytest.mark.parametrize("name", NAMES)
def test_points_of_the_techniques_add_up_to_the_value(name: str) -> None:
    """Column *points* of the table against the value above it, within the rounding of a row each."""
    rows = re.findall(r"^\| [\w -]+ \| \d+ \| .+ \| (\d+) \| \d+ \|$", section(name), re.MULTILINE)
    value = float(re.findall(r"([\d.]+) points; bound", section(name))[0])
    assert abs(sum(int(row) for row in rows) - value) <= 0.5 * len(rows)


def test_the_words_around_the_examples_are_borne_out(site_built: Built) -> None:
    """What the page's own sentences count: segments barred by the rain, places with a spotter, nothing soft."""
    tables = site_built.tables
    legs, outlooks = tables["legs"], tables["outlooks"]
    drive = set(legs[(legs["loop"] == "Practice round") & (legs["rank"] == 1)]["segment_id"])
    own = (outlooks["outlook"] == "after 20 mm of rain") & (outlooks["setup"] == "4x4, practised")
    barred = drive & set(outlooks[own & (outlooks["verdict"] == "barred")]["segment_id"])
    assert len(barred) == 14
    assert {"Rowan Traverse", "Chimney"} <= set(tables["segments"].set_index("segment_id").loc[sorted(barred), "name"])
    assert "A spotter stands outside in 9 places" in section("First day")
    assert "Worst utilisation 0.93" in section("First day")
    practice = tables["practice"].set_index(["loop", "technique"])["available"]
    assert not practice[[("Wet day", "ruts"), ("Wet day", "soft ground")]].any()
    assert not practice[[("First day", name) for name in ("crest", "dip", "ruts", "soft ground")]].any()


def test_a_segment_that_is_driven_is_not_told_as_left_out(site_built: Built) -> None:
    """Where the loops change, the script says which segment has to be chosen anew."""
    made = script()
    build = made.read(site_built.folder)
    driven = made.Example("First day", "first day", "T41", "crossover, first-timer")
    with pytest.raises(ValueError, match="First day drives T41"):
        made.example(build, driven)


def test_the_page_bears_the_caution() -> None:
    """As every page about driving does."""
    assert CAUTION in " ".join(PAGE.split())
