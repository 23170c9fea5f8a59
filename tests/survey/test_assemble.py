"""Tables of the survey made from a joined network."""

import numpy as np
import pytest
from pyproj import CRS

from pipeline.survey.assemble import NodeNumbers, network_table, nodes_table, repairs_table
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.joining import Joined, join
from pipeline.survey.topology import Stop
from pipeline.tables import NETWORK, NODES, REPAIRS, validate
from tests.survey.worlds import UTM, X, Y, at, line, spot

CRS_UTM = CRS.from_user_input(UTM)


@pytest.fixture
def network() -> Joined:
    """Join two trails that cross at (20, 0), drawn from east to west and from north to south."""
    lines = [line(at((50, 0), (0, 0)), "A", name="Long lane"), line(at((20, 30), (20, -30)), "B")]
    return join(lines, [Stop(X + 50, Y, 15.0)], 2.0, Findings())


def test_nodes_are_numbered_by_x_then_y(network: Joined) -> None:
    """Node numbers go from west to east, then from south to north."""
    numbers = NodeNumbers(network)
    assert (numbers.xy - [X, Y]).tolist() == [[0, 0], [20, -30], [20, 0], [20, 30], [50, 0]]
    table = network_table(network, ["A-1", "A-2", "B-1", "B-2"], numbers, CRS_UTM)
    assert table[["node_a", "node_b"]].to_numpy().tolist() == [[4, 2], [2, 0], [3, 2], [2, 1]]


def test_network_table(network: Joined) -> None:
    """Segments carry the attributes of their line, their plan length and their file."""
    table = validate(network_table(network, ["A-1", "A-2", "B-1", "B-2"], NodeNumbers(network), CRS_UTM), NETWORK)
    assert table["length_m"].tolist() == [30.0, 20.0, 30.0, 30.0]
    assert table["name"].iloc[:2].tolist() == ["Long lane", "Long lane"]
    assert table["name"].iloc[2:].isna().all()
    assert table["source"].unique().tolist() == ["trails.gpkg"]


def test_nodes_table(network: Joined) -> None:
    """Nodes count the ends that meet there, and know where a vehicle can turn round."""
    table = validate(nodes_table(network, NodeNumbers(network), [], [4], 2.0, CRS_UTM), NODES)
    assert table["degree"].tolist() == [1, 1, 4, 1, 1]
    assert table["turn_round"].tolist() == [False, False, False, False, True]


def test_unused_nodes_have_no_number(network: Joined) -> None:
    """A node that no segment ends at any more has no number."""
    numbers = NodeNumbers(network)
    used = np.unique(network.parts.nodes)
    assert (numbers.of(used) >= 0).all()
    assert len(numbers.xy) == len(used)


def test_repairs_name_the_segment_that_carries_them(network: Joined) -> None:
    """A repair of a line is carried by its nearest part, that of a feature likewise; a dropped one by none."""
    ids = ["A-1", "A-2", "B-1", "B-2"]
    repairs = [
        Repair("snapped", "trails.gpkg", "feature A", "d", spot(1, 0), 0.5, line=0),
        Repair("value read", "trails.gpkg", "feature B", "d", spot(20, -20)),
        Repair("dropped", "trails.gpkg", "feature A", "d", spot(1, 0)),
        Repair("rough datum shift", "trails.gpkg", "all", "d"),
        Repair("shortened", "trails.gpkg", "feature A", "d"),
    ]
    table = validate(repairs_table(repairs, network, ids, CRS_UTM), REPAIRS)
    assert table["segment_id"].iloc[[0, 1, 4]].tolist() == ["A-2", "B-2", "A-1"]
    assert table["segment_id"].iloc[[2, 3]].isna().all()
    assert table.geometry.iloc[3].bounds == (X, Y - 30, X + 50, Y + 30)
    assert table["amount_m"].iloc[0] == 0.5


def test_no_repairs(network: Joined) -> None:
    """A survey without a fault has an empty table of repairs that fits its contract."""
    assert len(validate(repairs_table([], network, ["A-1", "A-2", "B-1", "B-2"], CRS_UTM), REPAIRS)) == 0
