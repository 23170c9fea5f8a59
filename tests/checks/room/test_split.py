"""One tight place for each thing that leaves little room."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.prepared import prepare
from pipeline.checks.room.split import TOGETHER_M
from pipeline.checks.room.table import lines_table
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import plane


def lines(*trees: tuple[float, float], width_m: float = 3.0) -> pd.DataFrame:
    """Find the lines of one set-up on a straight trail past trees at (chainage, offset)."""
    placed = [
        {"kind": "tree", "obstacle_id": f"t{k}", "segment_id": "s", "chainage_m": at, "offset_m": offset}
        for k, (at, offset) in enumerate(trees)
    ]
    network = straight(120.0, obstacles=placed, width_m=width_m)
    return lines_table(prepare(site_on(network, plane()), [envelope()], LIMITS))


def things(table: pd.DataFrame, direction: str = "with") -> list[set[str]]:
    """Name what is near in every place, in travel."""
    own = table[table["direction"] == direction]
    return [set(row.dropna()) for _, row in own[["left_thing", "right_thing"]].iterrows()]


def test_every_tree_has_its_place() -> None:
    """Three trees 20 m apart on a narrow trail are searched at once and told one by one, both ways."""
    table = lines((40.0, -1.3), (60.0, 1.3), (80.0, -1.25))
    assert things(table) == [{"t0"}, {"t1"}, {"t2"}]
    assert things(table, "against") == [{"t2"}, {"t1"}, {"t0"}]
    assert table.loc[table["direction"] == "with", "place"].tolist() == [1, 2, 3]


def test_places_follow_each_other_without_a_hole() -> None:
    """Each begins where the one before ends, halfway between the trees; so does the way driven."""
    table = lines((40.0, -1.3), (60.0, 1.3), (80.0, -1.25))
    own = table[table["direction"] == "with"]
    assert own["from_m"].tolist()[1:] == own["to_m"].tolist()[:-1]
    assert own["to_m"].tolist()[:2] == pytest.approx([50.0, 70.0], abs=3.0)
    ways = [np.array(line.coords) for line in own.geometry]
    assert all((one[-1] == other[0]).all() for one, other in pairwise(ways))
    assert ((own["at_m"] >= own["from_m"]) & (own["at_m"] <= own["to_m"])).all()


@pytest.mark.parametrize(("apart", "places"), [(TOGETHER_M - 1.0, 1), (TOGETHER_M + 2.0, 2)])
def test_what_is_passed_at_once_is_one_place(apart: float, places: int) -> None:
    """Within the length of a vehicle a driver minds both at once."""
    assert len(things(lines((40.0, -1.3), (40.0 + apart, 1.3)))) == places


def test_between_two_edges_all_is_one_place() -> None:
    """A narrow trail without a thing is one place from end to end."""
    table = lines(width_m=2.1)
    assert things(table) == [set()]
    assert table["to_m"].max() - table["from_m"].min() > 100.0


def test_no_tight_place_is_none() -> None:
    """A wide trail has nothing to tell."""
    assert lines(width_m=6.0).empty
