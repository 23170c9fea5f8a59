"""What no check may depend on: seeded random hills, whole tables compared, from the ground to the sentence.

The properties are those any mechanics has: a mirrored world with a mirrored vehicle is the same world, so is one
digitised from the other end, turned, raised or scaled; a higher centre of gravity is never steadier.
"""

import dataclasses
import re
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.checks import obstacles
from pipeline.checks.doubt import beside
from pipeline.checks.grip.stopping import stopping_table
from pipeline.checks.limits import Limits
from pipeline.checks.passing import trodden
from pipeline.checks.passing.table import passings_table
from pipeline.checks.prepared import prepare
from pipeline.checks.rolling import run_blocks
from pipeline.checks.room import find, runs, solids, tracks, way, windows
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.kernels import line_refine, line_room
from pipeline.terms import CheckName, Drive, Driver, Verdict
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle import plan
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.moved import (
    LENGTH_M,
    NEIGHBOUR_M,
    WAYS,
    Floats,
    Move,
    longer,
    scaled_limits,
    scaled_site,
    scaled_vehicle,
    site_from_file,
    site_in_closed_form,
    swapped,
    wagon,
)
from tests.checks.worlds import LIMITS

SEEDS = [1, 2, 3]
KEYS = {
    "checks": ["segment_id", "setup", "check", "direction"],
    "passings": ["segment_id", "setup", "obstacle_id", "direction"],
    "stopping": ["segment_id", "setup", "direction"],
}
Tables = dict[str, pd.DataFrame]


def tables_of(site: CheckSite, vehicle: Envelope, limits: Limits = LIMITS) -> Tables:
    """Make every table of the checks, sorted by what names a row."""
    prepared = prepare(site, [vehicle], limits)
    made = {
        "checks": checks_of(prepared),
        "passings": passings_table(prepared),
        "stopping": stopping_table(prepared),
    }
    return {name: table.set_index(KEYS[name]).sort_index() for name, table in made.items()}


def assert_same(found: Tables, expected: Tables, *, loose: float = 1e-4) -> None:
    """Hold tables against each other: figures within *loose* of the limit, verdicts and words alike.

    The place of the worst pose may slide a little where it is worst over some length, and a bound on speed hangs on
    how poses fall on the riser of a step. Words are compared without figures.
    """
    for name, table in expected.items():
        other = found[name]
        assert other.index.tolist() == table.index.tolist()
        for column in table.columns:
            left, right = (_told(one, column) for one in (other, table))
            if pd.api.types.is_float_dtype(right):
                away = 0.2 if column == "at_m" else loose * _size(column)
                near = 0.08 if column == "speed_kmh" else loose
                np.testing.assert_allclose(left, right, rtol=near, atol=away, err_msg=column)
            else:
                assert left.tolist() == right.tolist(), column


def _told(table: pd.DataFrame, column: str) -> pd.Series:
    """Take what a column says: words without figures, limits only where something is asked."""
    values = table[column]
    if column == "reason":
        # In the middle of a trail both edges are as near: which of them is named hangs on the last digit.
        sided = values.str.replace(
            r"(left|right) (tyres|mirror|side) (?=and the edge|too near to the edge)", r"\2 ", regex=True
        )
        return sided.str.replace(r"[\d.]+", "", regex=True)
    return values.where(table["utilisation"] > 0.0) if column in ("limit", "limit_typical") else values


def _size(column: str) -> float:
    """Give what a figure is held against: degrees are tens, the rest about one."""
    return 20.0 if column in ("demand", "limit", "limit_typical", "demand_sd", "grade_deg") else 1.0


def mirrored_words(tables: Tables) -> Tables:
    """Swap left and right in sentences and columns."""

    def swap(text: object) -> object:
        turn = {"left": "right", "right": "left"}
        return re.sub(r"left|right(?! across)", lambda one: turn[one.group()], text) if isinstance(text, str) else text

    checks, passings = tables["checks"].copy(), tables["passings"].copy()
    checks["reason"] = checks["reason"].map(swap)
    passings["reason"], passings["wheels"] = passings["reason"].map(swap), passings["wheels"].map(swap)
    passings["shift_m"] *= -1.0
    return {**tables, "checks": checks, "passings": passings}


def other_end(tables: Tables, *, segments: str = "stu") -> Tables:
    """Count chainages of *segments* from the other ends and name directions by that."""
    lengths = {"s": LENGTH_M, "t": NEIGHBOUR_M, "u": NEIGHBOUR_M}
    turned = {}
    for name, table in tables.items():
        rows = table.reset_index()
        here = rows["segment_id"].isin(list(segments))
        rows["direction"] = rows["direction"].where(~here, rows["direction"].map(WAYS))
        rows["at_m"] = rows["at_m"].where(~here, rows["segment_id"].map(lengths) - rows["at_m"])
        turned[name] = rows.set_index(KEYS[name]).sort_index()
    return turned


@pytest.mark.parametrize("seed", SEEDS)
def test_hills_put_every_check_to_use(seed: int) -> None:
    """The random worlds are no plains: all that can be asked is, wheels lift, and things are passed in many ways."""
    tables = tables_of(site_in_closed_form(seed, Move()), wagon())
    checks = tables["checks"].reset_index()
    asked = checks[(checks["utilisation"] > 0.0) & (checks["verdict"] != "unsurveyed")]
    assert set(asked["check"]) == {name.value for name in CheckName} - {CheckName.FORD.value}
    estimated = set(asked.loc[asked["p_over"].notna(), "check"])
    assert estimated >= {"approach", "breakover", "departure", "belly", "roll", "pitch_over", "articulation", "slide"}
    assert asked["reason"].str.contains("lifts|in the air").any()
    assert len(set(tables["passings"]["passing"])) >= 3


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("turned", [0.0, 123.0])
def test_mirrored(seed: int, turned: float) -> None:
    """A mirrored vehicle on mirrored ground: the same figures, with left and right swapped in words and shifts."""
    plain = tables_of(site_in_closed_form(seed, Move()), wagon())
    other = tables_of(site_in_closed_form(seed, Move(turned_deg=turned, mirrored=True)), swapped(wagon()))
    assert_same(mirrored_words(other), plain)


@pytest.mark.parametrize("seed", SEEDS)
def test_digitised_from_the_other_end(seed: int) -> None:
    """What was with is against, what was against is with; right of the line is left of it."""
    plain = tables_of(site_in_closed_form(seed, Move()), wagon())
    other = tables_of(site_in_closed_form(seed, Move(reversed=True)), wagon())
    assert_same(other_end(other), plain)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("turned", "raised"), [(30.0, 0.0), (217.0, 0.0), (0.0, 100.0), (301.0, 100.0)])
def test_turned_and_raised(seed: int, turned: float, raised: float) -> None:
    """No check knows where north or the sea is."""
    plain = tables_of(site_in_closed_form(seed, Move()), wagon())
    other = tables_of(site_in_closed_form(seed, Move(turned_deg=turned, raised_m=raised)), wagon())
    assert_same(other, plain, loose=2e-3)


FILES: Mapping[str, Move] = {
    "turned by a quarter": Move(turned_deg=90.0),
    "mirrored": Move(mirrored=True),
    "raised": Move(raised_m=100.0),
    "the other end": Move(reversed=True),
    "all of them": Move(turned_deg=270.0, mirrored=True, raised_m=100.0, reversed=True),
}


@pytest.mark.parametrize("move", FILES.values(), ids=FILES)
@pytest.mark.parametrize("seed", SEEDS)
def test_from_the_elevation_model_on(seed: int, move: Move, tmp_path: Path) -> None:
    """The same through the whole chain: cells in a file, bends, runs on over a junction of three trails."""
    plain = tables_of(site_from_file(seed, Move(), tmp_path), wagon())
    vehicle = swapped(wagon()) if move.mirrored else wagon()
    other = tables_of(site_from_file(seed, move, tmp_path), vehicle)
    other = mirrored_words(other) if move.mirrored else other
    assert_same(other_end(other) if move.reversed else other, plain, loose=5e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_neighbours_digitised_from_the_other_end(seed: int, tmp_path: Path) -> None:
    """A step just before the junction is climbed or dropped off as before, on to whichever trail and however drawn."""
    plain = tables_of(site_from_file(seed, Move(), tmp_path), wagon())
    other = tables_of(site_from_file(seed, Move(neighbours_reversed=True), tmp_path), wagon())
    assert_same(other_end(other, segments="tu"), plain, loose=5e-3)


@pytest.mark.parametrize(("seed", "drive"), list(zip(SEEDS, Drive, strict=True)))
def test_scaled(seed: int, drive: Drive, monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything twice as long, vehicle, margins and errors too: angles, utilisations and probabilities are equal.

    Gravity stays, so speeds go with the root of lengths and frequencies against it (Froude's law of models). The line
    past tight places weighs room, bends and changes of bends at fixed prices a metre, so a larger vehicle may take
    another one: width and turn agree by a tenth or so only.
    """
    by, vehicle = 2.0, wagon(drive=drive)
    site = site_in_closed_form(seed, Move())
    plain = tables_of(site, vehicle)["checks"]
    for module, name in (
        (obstacles, "RUT_LENGTH_M"),
        (obstacles, "ROUND_M"),
        (run_blocks, "POSE_EVERY_M"),
        (trodden, "RUT_LENGTH_M"),
        (trodden, "_STEP_M"),
        (trodden, "_LEVEL_M"),
        (beside, "ALONG_M"),
        (beside, "ACROSS_M"),
    ):
        monkeypatch.setattr(module, name, by * getattr(module, name))
    for module in (find, line_refine, line_room, plan, runs, solids, tracks, way, windows):
        for name in [name for name in vars(module) if name.endswith("_M") and name.isupper()]:
            monkeypatch.setattr(module, name, longer(getattr(module, name), by))
    monkeypatch.setattr(trodden, "GIVEN_M", tuple(by * one for one in trodden.GIVEN_M))
    other = tables_of(scaled_site(site, by), scaled_vehicle(vehicle, by), scaled_limits(by))["checks"]
    for check, away in (("width", 0.1), ("turn", 0.15)):
        ours, theirs = (table.xs(check, level="check")["utilisation"] for table in (other, plain))
        np.testing.assert_allclose(ours, theirs, atol=away, err_msg=check)
    plain, other = (table.drop(["width", "turn"], level="check") for table in (plain, other))
    for column in ("utilisation", "p_over"):
        np.testing.assert_allclose(other[column], plain[column], rtol=2e-3, atol=2e-3, err_msg=column)
    assert other["verdict"].tolist() == plain["verdict"].tolist()
    unit = {"m": by, "1/m": 1.0 / by, "kPa": by}
    factor = plain["unit"].map(unit).fillna(1.0)
    for column in ("demand", "limit", "limit_typical", "demand_sd"):
        np.testing.assert_allclose(other[column], factor * plain[column], rtol=2e-3, atol=2e-3, err_msg=column)
    np.testing.assert_allclose(other["at_m"], by * plain["at_m"], atol=0.01)


def raised(vehicle: Envelope, by: float) -> Envelope:
    """Raise the centre of gravity."""
    x, y, z = vehicle.cg_m
    return dataclasses.replace(vehicle, cg_m=(x, y, z + by))


def ranks(tables: Tables) -> pd.Series:
    """Rank the verdicts, worse ones higher."""
    return tables["checks"]["verdict"].map({verdict.value: verdict.rank for verdict in Verdict})


def used(tables: Tables, check: str) -> Floats:
    """Give the utilisation of a check, both ways."""
    return tables["checks"].xs(check, level="check")["utilisation"].to_numpy()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_higher_centre_of_gravity_is_never_steadier(seed: int) -> None:
    """Tipping: on four wheels more of a smaller limit is used up, for every few centimetres more."""
    site = site_in_closed_form(seed, Move())
    found = [tables_of(site, raised(wagon(wheel_travel_m=3.0), by)) for by in (0.0, 0.05, 0.15, 0.4)]
    assert not found[0]["checks"]["reason"].str.contains("in the air").any()
    for check in ("roll", "pitch_over"):
        for lower, higher in pairwise(found):
            assert (used(higher, check) > used(lower, check)).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_on_three_wheels_no_height_of_the_load_helps(seed: int) -> None:
    """With a wheel in the air the balance on the diagonal is nearly gone, however high the centre of gravity lies.

    Demand and limit both fall with it there, so that the utilisation may go either way by a few thousandths.
    """
    site = site_in_closed_form(seed, Move())
    vehicles = [raised(wagon(), by) for by in (0.0, 0.15)]
    rolls = [tables_of(site, one)["checks"].xs("roll", level="check") for one in vehicles]
    for table in rolls:
        on_three = table[table["reason"].str.contains("in the air")]
        assert len(on_three) > 0
        assert (on_three["utilisation"] > 0.9).all()
        assert on_three["verdict"].isin(["spot", "barred"]).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_less_travel_lifts_wheels_sooner_and_learners_pass_less(seed: int) -> None:
    """Twist takes a share of the travel that goes with its inverse; a first-timer's verdicts are never better."""
    site = site_in_closed_form(seed, Move())
    expert, stiff, learner = (
        tables_of(site, one) for one in (wagon(), wagon(wheel_travel_m=0.2), wagon(driver=Driver.FIRST_TIMER))
    )
    assert used(stiff, "articulation") == pytest.approx(1.5 * used(expert, "articulation"), rel=1e-2)
    assert (ranks(stiff) >= ranks(expert)).all()
    assert (ranks(learner) >= ranks(expert)).all()
    assert (ranks(learner) > ranks(expert)).any()


@pytest.mark.parametrize("rmse", [0.08, 0.4])
@pytest.mark.parametrize("seed", SEEDS)
def test_doubt_never_betters(seed: int, rmse: float) -> None:
    """With errors known every verdict is the one without them or worse, and every other figure the same.

    Those that are worse say so; an error of 40 cm turns some.
    """
    site = site_in_closed_form(seed, Move())
    exact = dataclasses.replace(site, measured=TerrainParameters(survey_rmse_m=0.0))
    rough = dataclasses.replace(site, measured=dataclasses.replace(site.measured, dem_rmse_m=rmse))
    before, after = tables_of(exact, wagon()), tables_of(rough, wagon())
    worse = ranks(after) - ranks(before)
    assert (worse >= 0).all()
    told = after["checks"]["reason"].str.contains("chance of being over the limit")
    assert (told == (worse > 0)).all()
    assert told.any() or rmse < 0.4
    for column in ("demand", "limit", "utilisation", "at_m"):
        np.testing.assert_array_equal(after["checks"][column], before["checks"][column])
