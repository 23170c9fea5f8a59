"""Places where flow paths cross trails, on land laid out by hand: one stream southwards through a grid of 20 by 20."""

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import pytest

from pipeline.terrain.dem_land import Land
from pipeline.terrain.drainage_lines import place_points
from pipeline.terrain.drainage_model import FlowCrossings
from pipeline.terrain.flow_crossings import Streams, Trails, find_crossings
from pipeline.terrain.hollows import Hollows
from pipeline.terrain.lines import centre_lines
from tests.worlds import ORIGIN, at, network_of

SIDE, CELL_M = 20, 3.0
COLUMN = 9
LAND = Land(np.zeros((SIDE, SIDE), dtype=np.float32), ORIGIN[0], ORIGIN[1] + SIDE * CELL_M, CELL_M)
STREAM_X = (COLUMN + 0.5) * CELL_M
Line = Sequence[tuple[float, float]]


def dry() -> Hollows:
    """Lay out no hollow."""
    none, cells = np.zeros(0), SIDE * SIDE
    rows = none.astype(np.int64)
    return Hollows(
        of_cell=np.full(cells, -1),
        depth_m=np.zeros(cells),
        flooded=np.zeros(cells, dtype=bool),
        exit=rows,
        bottom=rows,
        deepest_m=none,
        catchment_m2=none,
        keeps=none.astype(bool),
    )


def one_stream(**changes: object) -> Streams:
    """Lead a stream down one column; 1,000 m² more come to it in every cell."""
    down = np.arange(SIDE * SIDE)
    stream = COLUMN + SIDE * np.arange(SIDE)
    down[stream[:-1]] = stream[1:]
    area, runs = np.zeros(SIDE * SIDE), np.zeros(SIDE * SIDE, dtype=bool)
    area[stream] = 1000.0 * np.arange(1, SIDE + 1)
    runs[stream] = True
    made = Streams(LAND, down, area, np.zeros(SIDE * SIDE, dtype=bool), runs, dry())
    return replace(made, **changes)  # type: ignore[arg-type]


def found(streams: Streams, *lines: Line, deck: Sequence[bool] = (), spans: Line = ()) -> FlowCrossings:
    """Find the crossings of lines given in metres from the origin."""
    network = network_of({f"s{k}": at(*line) for k, line in enumerate(lines)})
    points = place_points(centre_lines(network), LAND)
    decks = np.array(deck or [False] * len(lines))
    ends = np.array(at(*spans)).reshape(-1, 2)
    return find_crossings(streams, Trails(network.segments.geometry.to_numpy(), decks, points, ends))


def test_a_line_across_meets_the_stream_where_it_runs() -> None:
    """In the middle of the stream's cells; the water is that of the cell it comes from."""
    got = found(one_stream(), ((5.0, 31.0), (50.0, 31.0)))
    assert got.at_m == pytest.approx([STREAM_X - 5.0])
    assert (got.x[0] - ORIGIN[0], got.y[0] - ORIGIN[1]) == (pytest.approx(STREAM_X), pytest.approx(31.0))
    assert got.catchment_m2.tolist() == [10_000.0]
    assert got.hollow.tolist() == [False]
    assert got.least.tolist() == [False]


def test_a_line_that_comes_back_crosses_twice() -> None:
    """Twelve metres apart along the stream, far apart along the line; sorted by chainage."""
    got = found(one_stream(), ((5.0, 31.0), (50.0, 31.0), (50.0, 19.0), (5.0, 19.0)))
    assert got.at_m == pytest.approx([STREAM_X - 5.0, 45.0 + 12.0 + 50.0 - STREAM_X])
    assert got.catchment_m2.tolist() == [10_000.0, 14_000.0]


def test_a_line_along_the_stream_is_one_place_with_the_most_water() -> None:
    """It wavers over it, the last time at y = 25 m, in the twelfth cell; told from end to end."""
    got = found(one_stream(), ((28.0, 50.0), (29.0, 40.0), (28.0, 30.0), (29.0, 20.0)))
    assert got.row.size == 1
    assert got.from_m[0] < 1.0
    assert got.to_m[0] == pytest.approx(30.1, abs=0.2)
    assert got.catchment_m2[0] == 12_000.0


def test_a_line_beside_the_middle_of_the_stream_runs_along_it() -> None:
    """It never crosses, but lies in the stream's cells for longer than touching would take."""
    along = found(one_stream(), ((29.5, 50.0), (29.5, 20.0)))
    assert along.row.size == 1
    assert (along.from_m[0], along.to_m[0]) == pytest.approx((0.0, 30.0))
    assert along.catchment_m2[0] == 14_000.0
    touching = found(one_stream(), ((29.9, 34.0), (29.0, 31.0), (31.0, 28.0)))
    assert touching.row.size == 0


def test_a_line_that_ends_at_the_stream_meets_it() -> None:
    """A junction on the stream: every segment has the water."""
    middle = (STREAM_X, 31.0)
    got = found(one_stream(), ((5.0, 31.0), middle), (middle, (50.0, 31.0)))
    assert got.row.tolist() == [0, 1]
    assert got.at_m == pytest.approx([STREAM_X - 5.0, 0.0])


def test_decks_and_the_ends_of_bridges_are_left_out() -> None:
    """No ford on a bridge or in a tunnel, none within two cells of where a bridge ends."""
    line = ((5.0, 31.0), (50.0, 31.0))
    assert found(one_stream(), line, deck=[True]).row.size == 0
    assert found(one_stream(), line, spans=[(STREAM_X + 5.9, 31.0)]).row.size == 0
    assert found(one_stream(), line, spans=[(STREAM_X + 8.5, 31.0)]).row.size == 1


def test_a_cut_off_catchment_is_said_to_be() -> None:
    """The flag of the cell that the water comes from."""
    least = np.zeros(SIDE * SIDE, dtype=bool)
    least[COLUMN + SIDE * 9] = True
    assert found(one_stream(least=least), ((5.0, 31.0), (50.0, 31.0))).least.tolist() == [True]
    assert found(one_stream(least=least), ((5.0, 25.0), (50.0, 25.0))).least.tolist() == [False]


def with_pool(rows: slice, exit_row: int, area_m2: float) -> Hollows:
    """Lay a pool 0.8 m deep, three cells wide, over rows of the stream."""
    of_cell = np.full((SIDE, SIDE), -1)
    of_cell[rows, COLUMN - 1 : COLUMN + 2] = 0
    of_cell = of_cell.ravel()
    return replace(
        dry(),
        of_cell=of_cell,
        depth_m=np.where(of_cell == 0, 0.8, 0.0),
        flooded=of_cell == 0,
        exit=np.array([COLUMN + SIDE * exit_row]),
        bottom=np.array([COLUMN + SIDE * exit_row]),
        deepest_m=np.array([0.8]),
        catchment_m2=np.array([area_m2]),
        keeps=np.array([False]),
    )


def test_a_trail_through_a_pool_has_a_hollow_and_no_ford_in_it() -> None:
    """Nine metres of it lie in the pool."""
    got = found(one_stream(hollows=with_pool(slice(8, 12), 11, 12_000.0)), ((5.0, 31.0), (50.0, 31.0)))
    assert got.hollow.tolist() == [True]
    assert got.hollow_m.tolist() == [0.8]
    assert (got.from_m[0], got.to_m[0]) == pytest.approx((3.0 * 8 - 5.0, 3.0 * 11 - 5.0), abs=1.0)
    assert got.catchment_m2.tolist() == [12_000.0]
    assert got.dammed_m.tolist() == [0.0]


def test_a_bridge_over_a_pool_or_along_a_stream_stays_dry() -> None:
    """What lies under it does not matter, however long it is."""
    pool = one_stream(hollows=with_pool(slice(8, 12), 11, 12_000.0))
    assert found(pool, ((5.0, 31.0), (50.0, 31.0)), deck=[True]).row.size == 0
    assert found(one_stream(), ((29.5, 50.0), (29.5, 20.0)), deck=[True]).row.size == 0


@pytest.mark.parametrize(("exit_row", "area_m2", "dammed"), [(8, 9000.0, 0.8), (8, 4000.0, 0.0), (4, 9000.0, 0.0)])
def test_water_that_stands_behind_the_trail_is_told(exit_row: int, area_m2: float, dammed: float) -> None:
    """Where the pool pours out over the trail, and brings most of the water; not where its rim is far from it."""
    hollows = with_pool(slice(exit_row - 2, exit_row + 1), exit_row, area_m2)
    got = found(one_stream(hollows=hollows), ((5.0, 31.0), (50.0, 31.0)))
    assert got.dammed_m.tolist() == [dammed]


def test_no_water_gives_no_places() -> None:
    """Nor do lines beside the land."""
    assert found(one_stream(runs=np.zeros(SIDE * SIDE, dtype=bool)), ((5.0, 31.0), (50.0, 31.0))).row.size == 0
    assert found(one_stream(), ((500.0, 31.0), (550.0, 31.0))).row.size == 0


def test_some_of_the_places_can_be_taken() -> None:
    """All arrays are cut alike."""
    got = found(one_stream(), ((5.0, 31.0), (50.0, 31.0), (50.0, 19.0), (5.0, 19.0)))
    last = got.of(np.array([False, True]))
    assert [getattr(last, one.name).tolist() for one in fields(got)] == [
        getattr(got, one.name)[1:].tolist() for one in fields(got)
    ]
