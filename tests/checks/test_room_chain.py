"""Width, height and turn from the survey to the table: straight gaps in closed form, and what no line may depend on."""

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.checks.prepared import prepare
from pipeline.checks.room.table import lines_table
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.survey.model import Network
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.moved import scaled_limits, scaled_vehicle
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on, straight
from tests.worlds import network_of, plane

MARGIN = LIMITS.side_margin_m
MIRRORS = 2.1
"""Width of the box wagon over its mirrors."""
CORNER = np.array([500_100.0, 5_400_100.0])
HALF_STEP = 0.06
"""Lines are searched on a lattice: a gap of the best of them is short of the best there is by no more than this."""


def thing(kind: str, at: float = 30.0, **columns: object) -> dict[str, Any]:
    """Make a thing on the tiny trail of 60 m."""
    return {"kind": kind, "segment_id": "s", "chainage_m": at, **columns}


def checked(network: Network, vehicle: Envelope | None = None) -> pd.DataFrame:
    """Check one set-up on level ground."""
    prepared = prepare(site_on(network, plane()), [vehicle or envelope()], LIMITS)
    return checks_of(prepared).set_index(["check", "direction"])


@pytest.mark.parametrize("direction", ["with", "against"])
@pytest.mark.parametrize("clear", [2.3, 2.45, 2.8])
def test_a_straight_gap_is_its_clear_width(clear: float, direction: str) -> None:
    """From side to side over the mirrors and the margin, of the clear width: nothing else counts on a straight."""
    row = checked(straight(obstacles=[thing("gap", clear_width_m=clear)])).loc[("width", direction)]
    assert row["demand"] == pytest.approx(MIRRORS + MARGIN)
    assert row["limit"] == pytest.approx(clear, abs=1e-6)
    assert row["at_m"] == pytest.approx(30.0, abs=2.0)
    assert row["basis"] == "surveyed"
    assert row["verdict"] == {2.3: "barred", 2.45: "spot", 2.8: "spot"}[clear]


def test_two_trees_are_as_good_as_their_distance() -> None:
    """Trunks 0.3 m and 0.5 m thick, 1.4 m left and 1.5 m right: 2.5 m between their edges, off the middle.

    Round trunks can be passed a little askew, one mirror after the other: that may give a centimetre or two.
    """
    trees = [thing("tree", offset_m=-1.4, width_m=0.3), thing("tree", offset_m=1.5, width_m=0.5)]
    row = checked(straight(obstacles=trees, width_m=5.0)).loc[("width", "with")]
    assert 2.5 - 1e-3 <= row["limit"] <= 2.53


def test_a_gap_beside_the_middle_is_driven_through_in_its_middle() -> None:
    """A tree right of the line on a wide trail: the line goes to its left as far as anybody wants."""
    row = checked(straight(obstacles=[thing("tree", offset_m=0.9, width_m=0.4)], width_m=6.0)).loc[("width", "with")]
    gap = (row["limit"] - (row["demand"] - MARGIN)) / 2.0
    assert gap >= LIMITS.comfort_gap_m - HALF_STEP
    assert row["verdict"] in ("ample", "watch")


def test_a_straight_trail_has_the_width_of_its_tag() -> None:
    """The tyres of a surveyed one must stay on it, the whole body of one in a wood that nobody has looked at."""
    seen = checked(straight()).loc[("width", "with")]
    assert seen["demand"] == pytest.approx(1.6 + 0.25 + MARGIN)
    assert seen["limit"] == pytest.approx(3.5)
    dark = checked(straight(obstacles_surveyed=False)).loc[("width", "with")]
    assert dark["demand"] == pytest.approx(MIRRORS + MARGIN)
    assert dark["limit"] == pytest.approx(3.5)
    assert dark["basis"] == "tag"
    assert dark["reason"].endswith("the trees beside the trail were not surveyed")


def test_an_unsurveyed_wood_stays_unsurveyed() -> None:
    """Without a tag nothing is known of its width, without a walk nothing of its branches; no line makes it known."""
    dark = checked(straight(obstacles_surveyed=False, width_m=None))
    for name in ("width", "height"):
        row = dark.loc[(name, "with")]
        assert row["verdict"] == "unsurveyed"
        assert np.isnan(row["demand"])
        assert "not surveyed" in row["reason"]


def test_what_is_known_to_be_too_narrow_bars_an_unsurveyed_wood() -> None:
    """One gate that nobody fits through is enough."""
    gate = thing("gap", clear_width_m=2.0)
    row = checked(straight(obstacles=[gate], width_m=None, surveyed_on=None)).loc[("width", "with")]
    assert row["verdict"] == "barred"
    assert "0.40 m of width missing" in row["reason"]


@pytest.mark.parametrize(("clear", "verdict"), [(1.99, "barred"), (2.2, "spot"), (4.0, "ample")])
def test_a_branch_right_across_is_driven_under(clear: float, verdict: str) -> None:
    """1.90 m and the roof margin of 0.10 m."""
    row = checked(straight(obstacles=[thing("branch", clear_height_m=clear)])).loc[("height", "with")]
    assert row["demand"] == pytest.approx(2.0)
    assert row["limit"] == pytest.approx(clear)
    assert row["verdict"] == verdict


def test_a_branch_on_one_side_is_driven_round() -> None:
    """1.50 m high over the left half of a wide trail: the roof asks nothing, the room beside it is the width's."""
    limb = thing("branch", clear_height_m=1.5, offset_m=-2.0, width_m=2.0)
    found = checked(straight(obstacles=[limb], width_m=6.0))
    assert found.loc[("height", "with"), "verdict"] == "ample"
    assert "leads round a branch" in found.loc[("height", "with"), "reason"]
    assert found.loc[("width", "with"), "basis"] == "surveyed"


def bend(radius: float, turn_deg: float = 90.0, **columns: object) -> Network:
    """Make a trail of 20 m, a bend to the left and 20 m again; a vertex every half metre."""
    turn = np.radians(turn_deg)
    angle = np.linspace(0.0, turn, max(int(radius * turn / 0.5), 8))
    arc = np.column_stack([radius * np.sin(angle), radius * (1.0 - np.cos(angle))])
    lead = np.column_stack([np.arange(-20.0, 0.0, 0.5), np.zeros(40)])
    away = arc[-1] + np.outer(np.arange(0.5, 20.5, 0.5), [np.cos(turn), np.sin(turn)])
    points = np.concatenate([lead, arc, away]) + CORNER
    columns.setdefault("surveyed_on", "2026-04-18")
    columns.setdefault("obstacles_surveyed", True)
    columns.setdefault("width_m", 3.5)
    return network_of({"s": points.tolist()}, **columns)


def measured(network: Network) -> CheckSite:
    """Stand a network on level ground, with the bends that the terrain stage sees."""
    site = site_on(network, plane())
    curvature = measure_terrain(network, TerrainParameters()).stations.curvature
    stations = dataclasses.replace(site.terrain.stations, curvature=curvature)
    terrain = dataclasses.replace(site.terrain, stations=stations)
    return CheckSite(network, terrain, ground_of(len(network.segments)))


def tables(site: CheckSite, vehicle: Envelope | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Give width, height and turn, and the lines."""
    prepared = prepare(site, [vehicle or envelope()], LIMITS)
    checks = checks_of(prepared)
    own = checks[checks["check"].isin(["turn", "width", "height"])]
    return own.set_index(["segment_id", "check", "direction"]).sort_index(), lines_table(prepared)


def test_a_wide_bend_is_driven_on_its_middle() -> None:
    """A radius of 25 m asks less than half of the turning circle; the rear cuts inside by R − √(R² − L²) at most."""
    checks, _ = tables(measured(bend(25.0)))
    turn = checks.loc[("s", "turn", "with")]
    assert 1.0 / turn["demand"] == pytest.approx(25.8, abs=1.5)
    cut = 25.0 - np.sqrt(25.0**2 - 2.8**2)
    width = checks.loc[("s", "width", "with")]
    assert width["limit"] == pytest.approx(3.5, abs=2.0 * cut + 0.1)


def test_a_bend_beyond_full_lock_is_barred() -> None:
    """A hairpin of 3 m on a trail of 2.6 m: no lock holds it, and the sentence says so."""
    checks, _ = tables(measured(bend(3.0, 150.0, width_m=2.6)))
    turn = checks.loc[("s", "turn", "with")]
    assert turn["verdict"] == "barred"
    assert "full lock" in turn["reason"]


def test_room_opens_a_bend() -> None:
    """The same hairpin on ever wider trails asks ever less of the steering, or as much as it may."""
    asked = [
        tables(measured(bend(5.0, 120.0, width_m=width)))[0].loc[("s", "turn", "with"), "utilisation"]
        for width in (2.6, 4.0, 6.0)
    ]
    assert asked[0] > asked[-1]
    assert np.all(np.diff(asked) <= 0.02)


TREES: tuple[Mapping[str, Any], ...] = (
    {"kind": "tree", "chainage_m": 22.0, "offset_m": 1.0, "width_m": 0.4},
    {"kind": "tree", "chainage_m": 34.0, "offset_m": -1.1, "width_m": 0.3},
    {"kind": "post", "chainage_m": 44.0, "offset_m": 1.2, "width_m": 0.1},
    {"kind": "branch", "chainage_m": 12.0, "offset_m": -1.4, "width_m": 1.2, "clear_height_m": 1.6},
    {"kind": "gap", "chainage_m": 54.0, "offset_m": 0.2, "clear_width_m": 2.7},
)


def slalom(*, mirrored: bool = False, backwards: bool = False, by: float = 1.0) -> CheckSite:
    """Make a winding trail with :data:`TREES`; mirrored, digitised from its other end, scaled."""
    x = np.arange(0.0, 60.0, 0.5)
    points = np.column_stack([x, 3.0 * np.sin(x / 9.0)]) * by
    length = float(shapely.LineString(points).length)
    points = points * [1.0, -1.0 if mirrored else 1.0]
    sign = (-1.0 if mirrored else 1.0) * (-1.0 if backwards else 1.0)
    placed = []
    for k, one in enumerate(TREES):
        scaled = {name: value * by if name.endswith("_m") else value for name, value in one.items()}
        at_m = length - scaled["chainage_m"] if backwards else scaled["chainage_m"]
        placed.append(
            {
                **scaled,
                "obstacle_id": f"o{k}",
                "segment_id": "s",
                "chainage_m": at_m,
                "offset_m": sign * scaled["offset_m"],
            }
        )
    moved = points[:: -1 if backwards else 1] + CORNER
    tags = {"width_m": 3.6 * by, "surveyed_on": "2026-04-18", "obstacles_surveyed": True}
    return measured(network_of({"s": moved.tolist()}, obstacles=placed, **tags))


def test_the_slalom_is_tight() -> None:
    """The world of the next tests is none where nothing is asked."""
    checks, lines = tables(slalom())
    assert sorted(lines["direction"].unique()) == ["against", "with"]
    assert (lines["offset_m"].abs() > 0.1).any()
    assert lines[["left_thing", "right_thing"]].notna().any(axis=None)
    assert (checks.xs("width", level="check")["utilisation"] > 0.7).all()
    assert (checks.xs("turn", level="check")["utilisation"] > 0.3).all()


def swapped(lines: pd.DataFrame) -> pd.DataFrame:
    """Swap left and right."""
    other = {f"left_{name}": lines[f"right_{name}"] for name in ("m", "part", "x_m", "at_m", "thing")}
    other |= {f"right_{name}": lines[f"left_{name}"] for name in ("m", "part", "x_m", "at_m", "thing")}
    turned = lines["advice"].str.replace("left", "·").str.replace("right", "left").str.replace("·", "right")
    return lines.assign(**other, offset_m=-lines["offset_m"], advice=turned)


FIGURES = ("offset_m", "left_m", "right_m", "swept_width_m", "offtracking_m", "tail_swing_m", "lock_share", "missing_m")
WORDS = ("left_part", "right_part", "left_thing", "right_thing")


def assert_same(found: pd.DataFrame, expected: pd.DataFrame, places: pd.Series, *, by: float = 1.0) -> None:
    """Hold lines against each other; *places* are the chainages that are expected."""
    assert len(found) == len(expected)
    for name in FIGURES:
        scale = 1.0 if name == "lock_share" else by
        np.testing.assert_allclose(found[name], scale * expected[name], atol=5e-3 * by, rtol=1e-3, err_msg=name)
    for name in WORDS:
        assert found[name].fillna("").tolist() == expected[name].fillna("").tolist(), name
    np.testing.assert_allclose(found["at_m"], places, atol=0.01 * by)


def assert_checks(found: pd.DataFrame, expected: pd.DataFrame) -> None:
    """Hold the checks against each other."""
    np.testing.assert_allclose(found["utilisation"], expected["utilisation"], atol=2e-3, rtol=1e-3)
    assert found["verdict"].tolist() == expected["verdict"].tolist()
    assert found["basis"].tolist() == expected["basis"].tolist()


def test_mirrored() -> None:
    """Left and right change places, in figures and words; nothing else does."""
    (plain, lines), (other, found) = tables(slalom()), tables(slalom(mirrored=True))
    assert_checks(other, plain)
    assert_same(swapped(found), lines, lines["at_m"])
    assert swapped(found)["advice"].tolist() == lines["advice"].tolist()


def test_digitised_from_the_other_end() -> None:
    """With is against, right of the line left of it: what a driver meets stays what it is."""
    site = slalom()
    length = float(site.network.segments["length_m"].iloc[0])
    (plain, lines), (other, found) = tables(site), tables(slalom(backwards=True))
    turned = other.rename(index={"with": "against", "against": "with"}, level="direction").sort_index()
    assert_checks(turned, plain)
    found = found.assign(direction=found["direction"].map({"with": "against", "against": "with"}))
    found = found.sort_values(["direction", "place"], ascending=[False, True]).reset_index(drop=True)
    lines = lines.sort_values(["direction", "place"], ascending=[False, True]).reset_index(drop=True)
    assert_same(found, lines, length - lines["at_m"])
    assert found["advice"].tolist() == lines["advice"].tolist()


def test_scaled() -> None:
    """Everything twice as long, margins and what is worth minding too: the same gaps, twice as wide.

    Lines are searched on a lattice of fixed width, so they agree to a few centimetres only.
    """
    by = 2.0
    prepared = prepare(slalom(by=by), [scaled_vehicle(envelope(), by)], scaled_limits(by))
    found, (_, lines) = lines_table(prepared), tables(slalom())
    for way in ("with", "against"):
        ours, theirs = (one[one["direction"] == way][["left_m", "right_m"]].min(axis=None) for one in (found, lines))
        assert ours == pytest.approx(by * theirs, abs=0.06 * by)
