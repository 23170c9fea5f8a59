"""The loops of the sample site, held against its tables and its survey by an audit of its own."""

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from tests.real.audit import Audit
from tests.real.built import ROOT, Built

CONFIGS = ROOT / "configs"
LOOPS = [("Gentle round", 1), ("Practice round", 1), ("Practice round", 2), ("Guests' convoy", 1)]


def audit(built: Built, loop: str, rank: int) -> Audit:
    """Take one loop of the sample site."""
    return Audit(built.tables, ROOT / "sample_data" / "site", CONFIGS, loop, rank)


@pytest.mark.parametrize(("loop", "rank"), LOOPS)
def test_a_loop_stands_up_to_the_audit(site_built: Built, loop: str, rank: int) -> None:
    """Closed walk, each way once, room where it turns, rules and windows kept, every figure worked out again."""
    assert list(audit(site_built, loop, rank).faults()) == []


def test_every_loop_asked_for_is_there_and_proven(site_built: Built) -> None:
    """The three requests of the site and the one alternative, each proven best with no gap."""
    loops = site_built.tables["loops"]
    assert list(zip(loops["loop"], loops["rank"], strict=True)) == LOOPS
    assert loops["proven"].all()
    assert (loops["gap"] == 0.0).all()
    asked = tomllib.loads((CONFIGS / "site.toml").read_text(encoding="utf-8"))["loops"]
    assert sum(1 + entry.get("alternatives", 0) for entry in asked) == len(loops)


def test_the_alternative_is_another_loop(site_built: Built) -> None:
    """The second practice round shares no more of its length with the first than was allowed, and is worth less."""
    first, second = (audit(site_built, "Practice round", rank) for rank in (1, 2))
    shared = second.legs["segment_id"].isin(first.legs["segment_id"])
    assert second.legs.loc[shared, "length_m"].sum() <= second.asked["max_overlap"] * second.row["length_m"] + 1.0
    assert second.row["value"] <= first.row["value"]


def test_the_gentle_round_needs_no_turning_back(site_built: Built) -> None:
    """A low car with a first-timer drives 3.5 km, all but a few per cent of it once."""
    gentle = audit(site_built, "Gentle round", 1)
    assert gentle.legs["segment_id"].value_counts().max() <= 2
    twice = gentle.legs[gentle.legs.duplicated("segment_id", keep=False)]["length_m"].sum()
    assert twice < 0.05 * gentle.row["length_m"]
    assert (gentle.legs["segment_id"] != gentle.legs["segment_id"].shift()).all()


def _without_a_leg(legs: pd.DataFrame) -> pd.DataFrame:
    return legs[legs["seq"] != 5]


def _turned(legs: pd.DataFrame) -> pd.DataFrame:
    return legs.assign(direction=legs["direction"].mask(legs["seq"] == 4, "against").mask(legs["seq"] == 3, "against"))


def _shifted(legs: pd.DataFrame) -> pd.DataFrame:
    return legs.assign(start_m=legs["start_m"] + 1.0)


@pytest.mark.parametrize("spoil", [_without_a_leg, _turned, _shifted])
def test_the_audit_sees_a_spoilt_loop(site_built: Built, spoil: Callable[[pd.DataFrame], pd.DataFrame]) -> None:
    """A leg left out, a leg turned round, a leg in the wrong place: each is noticed."""
    good = audit(site_built, "Gentle round", 1)
    bad = replace(good, tables={**good.tables, "legs": spoil(good.tables["legs"])})
    assert list(bad.faults())


def test_the_files_of_the_survey_are_there() -> None:
    """What the audit reads is in the repository."""
    assert all((Path(ROOT) / "sample_data" / "site" / f"{name}.gpkg").is_file() for name in ("trails", "obstacles"))
