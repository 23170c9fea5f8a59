"""Stations and samples along many polylines, against shapely and a plain twin."""

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from pipeline.kernels.stations import (
    Lines,
    Pieces,
    count_stations,
    line_heights,
    line_slopes,
    place_samples,
    place_stations,
    vertex_chainages,
)

pytestmark = pytest.mark.kernel

EAST, NORTH = 500_000.0, 5_400_000.0
CORNER = np.array([EAST, NORTH])


def lines_of(*lines: list[tuple[float, float]]) -> Lines:
    """Lay lines out as flat arrays, far from 0."""
    xy = np.concatenate([np.asarray(line, dtype=np.float64) for line in lines]) + CORNER
    offsets = np.concatenate(([0], np.cumsum([len(line) for line in lines]))).astype(np.int64)
    x, y = np.ascontiguousarray(xy[:, 0]), np.ascontiguousarray(xy[:, 1])
    return Lines(x, y, vertex_chainages(x, y, offsets), offsets)


def crooked(seed: int, count: int) -> list[tuple[float, float]]:
    """Give a crooked line with uneven vertices."""
    rng = np.random.default_rng(seed)
    steps = rng.uniform(0.2, 9.0, count)
    heading = np.cumsum(rng.normal(0.0, 0.7, count))
    return [*zip(np.cumsum(steps * np.cos(heading)), np.cumsum(steps * np.sin(heading)), strict=True)]


@pytest.fixture
def three() -> Lines:
    """Three crooked lines of different lengths."""
    return lines_of(crooked(1, 12), crooked(2, 3), crooked(3, 40))


def shape(lines: Lines, row: int) -> shapely.LineString:
    """Give one line as a shape."""
    part = slice(lines.offsets[row], lines.offsets[row + 1])
    return shapely.LineString(np.stack((lines.x[part], lines.y[part]), axis=1))


def test_chainage_is_the_length_up_to_each_vertex(three: Lines) -> None:
    """Each line starts at 0 and ends at its shapely length."""
    assert three.chainage[three.offsets[:-1]].tolist() == [0.0, 0.0, 0.0]
    for row in range(3):
        assert three.chainage[three.offsets[row + 1] - 1] == pytest.approx(shape(three, row).length, abs=1e-9)


@pytest.mark.parametrize(
    ("length", "spacing", "stations"),
    [(10.0, 0.5, 21), (10.1, 0.5, 22), (9.9, 0.5, 21), (0.2, 0.5, 2), (1.0, 1.0, 2), (0.3, 0.1, 4)],
)
def test_steps_are_whole_and_no_longer_than_the_spacing(length: float, spacing: float, stations: int) -> None:
    """ceil(length ÷ spacing) steps; rounding of the quotient adds none."""
    offsets = count_stations(lines_of([(0.0, 0.0), (length, 0.0)]), spacing)
    assert offsets.tolist() == [0, stations]


def test_stations_lie_where_shapely_puts_them(three: Lines) -> None:
    """Equal steps, ends included; positions as shapely interpolates them (an independent implementation)."""
    offsets = count_stations(three, 0.5)
    chainage, x, y, _ = place_stations(three, offsets)
    for row in range(3):
        part, line = slice(offsets[row], offsets[row + 1]), shape(three, row)
        assert np.diff(chainage[part]) == pytest.approx(np.diff(chainage[part])[0], abs=1e-9)
        assert chainage[part][-1] == three.chainage[three.offsets[row + 1] - 1]
        expected = shapely.get_coordinates(shapely.line_interpolate_point(line, chainage[part]))
        assert np.stack((x[part], y[part]), axis=1) == pytest.approx(expected, abs=1e-8)


def test_bearing_is_that_of_the_piece_and_a_vertex_takes_the_next() -> None:
    """North, east, south-west: clockwise from north; at the vertex the piece that follows counts."""
    lines = lines_of([(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.0, 0.0)])
    offsets = count_stations(lines, 0.25)
    chainage, _, _, bearing = place_stations(lines, offsets)
    degrees = np.degrees(bearing)
    assert degrees[chainage < 0.999] == pytest.approx(0.0)
    inner = (chainage > 1.001) & (chainage < 1.999)
    assert degrees[inner] == pytest.approx(90.0)
    assert degrees[chainage > 2.001] == pytest.approx(225.0)


def test_a_repeated_vertex_does_no_harm() -> None:
    """A vertex given twice neither shifts stations nor gives a false bearing."""
    plain = lines_of([(0.0, 0.0), (2.0, 0.0), (2.0, 3.0)])
    doubled = lines_of([(0.0, 0.0), (0.0, 0.0), (2.0, 0.0), (2.0, 0.0), (2.0, 3.0), (2.0, 3.0)])
    for lines in (plain, doubled):
        offsets = count_stations(lines, 1.0)
        _, x, y, bearing = place_stations(lines, offsets)
        assert (x - EAST).tolist() == [0.0, 1.0, 2.0, 2.0, 2.0, 2.0]
        assert (y - NORTH).tolist() == [0.0, 0.0, 0.0, 1.0, 2.0, 3.0]
        assert np.degrees(bearing[:5]).tolist() == [90.0, 90.0, 0.0, 0.0, 0.0]


def twin_samples(lines: Lines, pieces: Pieces, run: int, along: NDArray[np.float64]) -> NDArray[np.float64]:
    """Place samples plainly: find the piece, turn the run coordinate into a chainage, ask shapely."""
    out = []
    for value in along:
        k = pieces.offsets[run]
        while value > pieces.end[k] + 1e-6 and k + 1 < pieces.offsets[run + 1]:
            k += 1
        point = shape(lines, pieces.segment[k]).interpolate(max((value - pieces.zero[k]) * pieces.sign[k], 0.0))
        out.append((point.x, point.y))
    return np.array(out)


def test_samples_cross_from_line_to_line(three: Lines) -> None:
    """A run backwards over one line, forwards over the next and backwards over a third, as a plain twin has it."""
    lengths = three.chainage[three.offsets[1:] - 1]
    ends = np.array([0.0, lengths[1], lengths[1] + 5.0, lengths[0], lengths[0] + 3.0])
    pieces = Pieces(
        offsets=np.array([0, 3, 5]),
        segment=np.array([0, 1, 2, 0, 2]),
        zero=np.array([0.0, 0.0, lengths[1] + lengths[2], 0.0, lengths[0]]),
        sign=np.array([-1, 1, -1, 1, 1]),
        end=ends,
    )
    start, step, counts = np.array([-20.0, 1.0]), np.array([0.1, 0.25]), np.array([220, 80])
    offsets = np.concatenate(([0], np.cumsum(counts)))
    x, y, segment, chainage = place_samples(three, pieces, offsets, start, step)
    for run in range(2):
        part = slice(offsets[run], offsets[run + 1])
        along = start[run] + step[run] * np.arange(counts[run])
        inside = along <= ends[pieces.offsets[run + 1] - 1]
        expected = twin_samples(three, pieces, run, along[inside])
        assert np.stack((x[part], y[part]), axis=1)[inside] == pytest.approx(expected, abs=1e-7)
        assert ((chainage[part] >= 0.0) & (chainage[part] <= lengths[segment[part]])).all()
    assert segment[0] == 0
    assert segment[219] == 1


def test_own_heights_are_linear_and_slopes_are_means_at_vertices() -> None:
    """Up 10 % for 10 m, then down 20 % for 5 m: at the vertex the mean, −5 %."""
    lines = lines_of([(0.0, 0.0), (10.0, 0.0), (10.0, 5.0)], [(0.0, 0.0), (1.0, 0.0)])
    z = np.array([100.0, 101.0, 100.0, 7.0, np.nan])
    segment = np.array([0, 0, 0, 0, 0, -1, 1])
    chainage = np.array([0.0, 5.0, 10.0, 12.5, 15.0, 3.0, 0.5])
    heights = line_heights(lines, z, segment, chainage)
    assert heights[:5] == pytest.approx([100.0, 100.5, 101.0, 100.5, 100.0])
    assert np.isnan(heights[5:]).all()
    slopes = line_slopes(lines, z, segment, chainage)
    assert slopes[:5] == pytest.approx([0.1, 0.1, -0.05, -0.2, -0.2])
    assert np.isnan(slopes[5:]).all()


def test_a_repeated_vertex_has_no_slope_of_its_own() -> None:
    """The slope at a doubled vertex is that of the pieces that have a length."""
    lines = lines_of([(0.0, 0.0), (10.0, 0.0), (10.0, 0.0)])
    slopes = line_slopes(lines, np.array([0.0, 2.0, 2.0]), np.array([0, 0]), np.array([5.0, 10.0]))
    assert slopes == pytest.approx([0.2, 0.2])


def test_the_piece_is_found_from_anywhere_on_a_long_line() -> None:
    """Heights asked in any order, on a line of a hundred pieces: those numpy interpolates."""
    rng = np.random.default_rng(5)
    lines = lines_of(crooked(6, 101))
    z = rng.normal(100.0, 5.0, 101)
    chainage = rng.uniform(0.0, lines.chainage[-1], 200)
    got = line_heights(lines, z, np.zeros(200, dtype=np.int64), chainage)
    assert got == pytest.approx(np.interp(chainage, lines.chainage, z), abs=1e-4)
