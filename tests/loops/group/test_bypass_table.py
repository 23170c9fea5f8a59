"""The table of ways round, worked out by hand."""

import pytest
from shapely import LineString

from pipeline.loops.plan import make_plan
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest
from tests.loops.group.hand import BARRED, asked, round_trip, tables_of
from tests.loops.worlds import Trail, World


def test_split_meet_and_wait(settings: LoopSettings) -> None:
    """Where it leaves and comes back, by which way, and who waits must be as worked out from the paces."""
    row = tables_of(round_trip(), settings, asked(500.0)).bypasses.iloc[0]
    wagon, truck = settings.pace["first-timer"], settings.pace["practised"]
    took = (120.0 + 90.0) / (wagon.ample_kmh / 3.6) / 60.0
    others = 200.0 / (truck.ample_kmh / 3.6) / 60.0
    assert row["way"] == "s002 with; s003 with"
    assert (row["bypass"], row["setup"], row["split_node"], row["meet_node"]) == (1, "wagon", 1, 8)
    assert (row["split_m"], row["meet_m"], row["length_m"]) == (100.0, 300.0, 210.0)
    assert row["time_min"] == pytest.approx(took)
    assert row["others_min"] == pytest.approx(others)
    assert row["waits_min"] == pytest.approx(others - took)
    assert row["waits_min"] < 0
    assert row["worst_utilisation"] == 0.7
    assert row["reason"] == "s001 with: barred (roll, utilisation 1.20)"
    assert isinstance(row["geometry"], LineString)
    assert row["geometry"].coords[0] == (500_100.0, 5_000_000.0)
    assert row["geometry"].coords[-1] == (500_100.0, 5_000_100.0)


def test_waits_where_the_loop_comes_back(settings: LoopSettings) -> None:
    """At a place with room the wagon must wait while the others drive a lobe; without room there is no loop."""
    trails = [Trail(0, 1, 100.0), Trail(1, 0, 100.0)]
    trails += [Trail(1, 2, 100.0, verdict=BARRED), Trail(2, 8, 100.0), Trail(8, 1, 100.0, verdict=BARRED)]
    world = World(trails, turn_round={1})
    frame = tables_of(world, settings, asked(500.0)).bypasses
    assert frame[["way", "length_m", "time_min", "worst_utilisation"]].to_numpy().tolist() == [["", 0.0, 0.0, 0.0]]
    assert frame["waits_min"].iloc[0] == frame["others_min"].iloc[0] > 0.0
    assert frame.geometry.iloc[0].length == 0.0
    bare = make_plan(World(trails).inputs(settings), asked(500.0))
    assert not any(one.path == () for move in bare.moves for one in move.rounds)
    assert safest(bare.quest) is None
