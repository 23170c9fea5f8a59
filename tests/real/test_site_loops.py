"""The loops of the sample site, held against its tables and its survey by an audit of its own."""

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.analysis import drain, judge
from pipeline.loops.search import find_loops
from pipeline.project import read_project
from pipeline.searching import loop_inputs
from pipeline.survey.network import read_survey
from pipeline.technique.inventory import technique_table
from pipeline.terrain.measure import measure_terrain
from tests.real.audit import FIT, Audit
from tests.real.built import ROOT, Built

CONFIGS = ROOT / "configs"
LOOPS = [
    ("Gentle round", 1),
    ("Practice round", 1),
    ("Practice round", 2),
    ("Guests' convoy", 1),
    ("First day", 1),
    ("Wet day", 1),
    ("Mixed group", 1),
]
RAIN = "after 20 mm of rain"


def audit(built: Built, loop: str, rank: int) -> Audit:
    """Take one loop of the sample site."""
    return Audit(built.tables, ROOT / "sample_data" / "site", CONFIGS, loop, rank)


@pytest.mark.parametrize(("loop", "rank"), LOOPS)
def test_a_loop_stands_up_to_the_audit(site_built: Built, loop: str, rank: int) -> None:
    """Closed walk, each way once, room where it turns, rules and windows kept, every figure worked out again."""
    assert list(audit(site_built, loop, rank).faults()) == []


def test_every_loop_asked_for_is_there_and_proven(site_built: Built) -> None:
    """The six requests of the site and the one alternative, each proven best with no gap."""
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


def _group_worth(*, bypass: bool) -> float:
    """Find the mixed group's loop again, with or without the key, and give its proven points."""
    project = read_project(CONFIGS / "site.toml")
    network = read_survey(project.survey, project.survey_parameters)
    measured = drain(project, network, measure_terrain(network, project.terrain))
    judged = judge(project, network, measured)
    inputs = loop_inputs(project, judged, technique_table(network, measured.terrain, project.techniques))
    request = next(one for one in project.requests if one.name == "Mixed group")
    found = find_loops(inputs, [request if bypass else replace(request, bypass=())]).loops.iloc[0]
    assert found["proven"]
    return float(found["value"])


def test_going_round_is_worth_something_to_the_mixed_group(site_built: Built) -> None:
    """Without the key the best loop has fewer points: proven both, so no other loop makes up for it."""
    value = audit(site_built, "Mixed group", 1).row["value"]
    without = _group_worth(bypass=False)
    assert value == pytest.approx(886.0)
    assert without == pytest.approx(845.0)
    assert f"has {without:.1f} points" in (ROOT / "docs" / "loops.md").read_text(encoding="utf-8")


def test_who_goes_round_stays_on_the_network_and_meets_the_others(site_built: Built) -> None:
    """From the node where it leaves to that where it comes back; what it goes round is barred for it; waits add up."""
    mixed = audit(site_built, "Mixed group", 1)
    assert len(mixed.rounds)
    segments = site_built.tables["segments"].set_index("segment_id")
    verdicts = site_built.tables["verdicts"].set_index(["setup", "segment_id", "direction"])["verdict"]
    for row in mixed.rounds.itertuples():
        at = row.split_node
        for segment_id, direction in (leg.split(" ") for leg in row.way.split("; ")):
            ends = segments.loc[segment_id, ["node_a", "node_b"]].tolist()[:: 1 if direction == "with" else -1]
            assert ends[0] == at
            at = ends[1]
        assert at == row.meet_node
        inside = mixed.legs[mixed.legs["start_m"].between(row.split_m - 0.1, row.meet_m - 0.1)]
        nodes = inside[["node_a", "node_b"]].to_numpy()
        assert row.split_node in nodes[0]
        assert row.meet_node in nodes[-1]
        words = [verdicts[row.setup, leg.segment_id, leg.direction] for leg in inside.itertuples()]
        assert {words[0], words[-1]} <= {"barred", "unsurveyed"}
        lengths = [segments.loc[leg.split(" ")[0], "length_m"] for leg in row.way.split("; ")]
        assert sum(lengths) == pytest.approx(row.length_m)
        assert row.waits_min == pytest.approx(row.others_min - row.time_min)
        session = _session(site_built, "Mixed group", 1).set_index("stop")["start_min"]
        assert session["meet"] - session["split"] == pytest.approx(max(row.others_min, row.time_min))


def _session(built: Built, loop: str, rank: int) -> pd.DataFrame:
    session = built.tables["session"]
    return session[(session["loop"] == loop) & (session["rank"] == rank)].sort_values("seq")


@pytest.mark.parametrize(("loop", "rank"), LOOPS)
def test_a_session_fits_the_time_and_ends_when_the_loop_does(site_built: Built, loop: str, rank: int) -> None:
    """From start to finish in order of time and way; the last line is the end of the loop, inside the window."""
    one = audit(site_built, loop, rank)
    session = _session(site_built, loop, rank)
    assert session["stop"].iloc[0] == "start"
    assert session["stop"].iloc[-1] == "finish"
    assert session["start_min"].is_monotonic_increasing
    assert session["at_m"].is_monotonic_increasing
    assert session["start_min"].iloc[-1] == pytest.approx(one.row["time_min"])
    assert session["at_m"].iloc[-1] == pytest.approx(one.row["length_m"])
    assert session["start_min"].iloc[-1] <= one.asked["time_min"][1]
    assert set(session["stop"]) & {"way out", "last turn"}


@pytest.mark.parametrize(("loop", "rank"), LOOPS)
def test_a_group_drives_one_at_a_time_where_a_spotter_stands(site_built: Built, loop: str, rank: int) -> None:
    """Wherever somebody needs a spotter the next waits; who goes round is not in the order."""
    one = audit(site_built, loop, rank)
    convoy = site_built.tables["convoy"]
    own = convoy[(convoy["loop"] == loop) & (convoy["rank"] == rank)]
    assert own.loc[own["spotter_m"].notna(), "one_at_a_time"].all()
    assert own["spotter_m"].dropna().between(0.0, one.row["length_m"]).all()
    spotted = one.of_driven("verdicts").query("verdict == 'spot'")
    assert set(own.dropna(subset="spotter_m")["segment_id"]) >= set(spotted["segment_id"])
    for row in own.itertuples():
        inside = one.legs[(one.legs["start_m"] <= row.from_m + 0.1)].iloc[-1]
        assert inside["segment_id"] == row.segment_id
        absent = {setup for setup, seq in one.aside if seq == inside["seq"]}
        assert set(row.order.split("; ")) == set(one.drivers) - absent


def test_the_loop_for_wet_days_is_that_of_the_rain(site_built: Built) -> None:
    """Every leg may be driven after 20 mm; the practice round of the day may not, nor is it the same loop."""
    wet, day = audit(site_built, "Wet day", 1), audit(site_built, "Practice round", 1)
    outlooks = site_built.tables["outlooks"].query("outlook == @RAIN and setup == '4x4, practised'")
    verdicts = outlooks.set_index(["segment_id", "direction"])["verdict"]
    assert wet.row["outlook"] == RAIN
    assert set(verdicts.loc[list(zip(wet.legs["segment_id"], wet.legs["direction"], strict=True))]) <= FIT
    assert "barred" in set(verdicts.loc[list(zip(day.legs["segment_id"], day.legs["direction"], strict=True))])
    assert set(wet.legs["segment_id"]) != set(day.legs["segment_id"])


@pytest.mark.parametrize(("loop", "rank"), LOOPS)
def test_no_other_order_of_the_legs_begins_more_gently(site_built: Built, loop: str, rank: int) -> None:
    """Of all orders in which the same legs can be driven, the first third has the least mean utilisation."""
    one = audit(site_built, loop, rank)
    worst = one.of_driven("checks").groupby("move")["utilisation"].max().to_numpy()
    lengths = one.legs["length_m"].groupby(one.moves.to_numpy()).sum().to_numpy()

    def roughness(order: list[int]) -> float:
        ends = np.minimum(np.cumsum(lengths[order]), one.row["length_m"] / 3.0)
        return float((worst[order] * np.diff(ends, prepend=0.0)).sum())

    orders = one.orders()
    assert list(range(len(worst))) in orders
    assert roughness(list(range(len(worst)))) <= min(map(roughness, orders)) + 0.05


def test_some_loop_could_be_driven_in_another_order(site_built: Built) -> None:
    """Else the order would have been compared with nothing."""
    assert max(len(audit(site_built, loop, rank).orders()) for loop, rank in LOOPS) > 1


def test_the_audit_sees_a_bypass_left_out(site_built: Built) -> None:
    """Without its row somebody would drive what is barred for them."""
    good = audit(site_built, "Mixed group", 1)
    bad = replace(good, tables={**good.tables, "bypasses": good.tables["bypasses"].iloc[:0]})
    assert next(bad.faults()) == "a set-up may not drive a leg"


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
