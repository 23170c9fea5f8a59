"""One block: survey-grade lines, bends through nodes, sources joined."""

import numpy as np
import pytest

from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.block import Block, Measured, measure_block
from pipeline.terrain.joins import find_joins
from pipeline.terrain.lines import centre_lines
from pipeline.terrain.model import TerrainParameters
from pipeline.terrain.runs import make_runs
from tests.worlds import at, network_of


def measured(network: Network, **parameters: float) -> Measured:
    """Measure a network without elevation models, as one block."""
    centre = centre_lines(network)
    settings = TerrainParameters(**parameters)
    runs = make_runs(find_joins(network, centre), centre.length_m, settings.profile_reach_m)
    return measure_block(Block((), network.crs.to_wkt(), centre, len(network.segments), runs, settings))


def high(points: list[tuple[float, float]], heights: list[float]) -> list[tuple[float, float, float]]:
    """Give points their surveyed heights."""
    return [(x, y, z) for (x, y), z in zip(points, heights, strict=True)]


@pytest.fixture
def surveyed() -> Network:
    """Give a surveyed line of 20 m: up 10 % for 10 m, then down 20 %."""
    line = high(at((0, 0), (10, 0), (20, 0)), [50.0, 51.0, 49.0])
    return network_of({"a": line}, profile="survey")


def test_a_surveyed_line_brings_its_own_heights_and_grades(surveyed: Network) -> None:
    """Piecewise linear heights; the grade of the piece, at the vertex the mean of both; no side slope."""
    got = measured(surveyed)
    assert got.z[[0, 10, 20, 30, 40]] == pytest.approx([50.0, 50.5, 51.0, 50.0, 49.0])
    assert got.grade[[0, 10, 20, 30, 40]] == pytest.approx([0.1, 0.1, -0.05, -0.2, -0.2])
    assert np.isnan(got.cross).all()
    assert (got.basis == Basis.SURVEYED).all()
    assert np.isnan(got.cell_m).all()


def test_a_surveyed_profile_has_its_corners(surveyed: Network) -> None:
    """Every 0.1 m, from chainage 0: the brow at 10 m is sharp."""
    got = measured(surveyed)
    assert got.sample_counts.tolist() == [201]
    assert got.start_m.tolist() == [0.0]
    assert got.sample_z[[0, 99, 100, 101, 200]] == pytest.approx([50.0, 50.99, 51.0, 50.98, 49.0], abs=1e-5)
    assert (got.sample_basis == Basis.SURVEYED).all()


def test_a_surveyed_vertex_without_height_leaves_a_gap() -> None:
    """Heights end where the survey has none: nothing is guessed."""
    line = high(at((0, 0), (10, 0), (20, 0)), [50.0, 51.0, np.nan])
    got = measured(network_of({"a": line}, profile="survey"))
    assert np.isnan(got.z[21:]).all()
    assert (got.basis[21:] == Basis.NONE).all()
    assert (got.basis[:20] == Basis.SURVEYED).all()


def test_without_models_a_line_on_the_map_has_no_heights() -> None:
    """NaN everywhere, basis none; places and bends are known all the same."""
    got = measured(network_of({"a": at((0, 0), (20, 0))}))
    for values in (got.z, got.grade, got.cross, got.sample_z):
        assert np.isnan(values).all()
    assert (got.basis == Basis.NONE).all()
    assert (got.sample_basis == Basis.NONE).all()
    assert (got.curvature == 0.0).all()
    assert got.x.size == 41


def test_a_bend_split_at_its_apex_is_seen_from_both_halves() -> None:
    """Two quarter turns of 6 m that meet at a node of two ends: full curvature up to the node."""
    turn = np.radians(np.arange(0, 91, 5))
    first = [(30 + 6 * np.sin(t), 6 - 6 * np.cos(t)) for t in turn]
    second = [(30 + 6 * np.cos(t), 6 + 6 * np.sin(t)) for t in turn]
    network = network_of({"a": at((0, 0), *first), "b": at(*second, (0, 12))})
    got = measured(network)
    last_of_a, first_of_b = got.station_counts[0] - 1, got.station_counts[0]
    assert 1.0 / got.curvature[last_of_a] == pytest.approx(6.0, rel=0.05)
    assert 1.0 / got.curvature[first_of_b] == pytest.approx(6.0, rel=0.05)


def test_a_bend_at_a_junction_is_the_junctions_not_the_segments() -> None:
    """Where three ends meet, which way is driven is open: a straight that ends there stays straight."""
    network = network_of({"a": at((0, 0), (30, 0)), "b": at((30, 0), (30, 30)), "c": at((30, 0), (30, -30))})
    assert (measured(network).curvature == 0.0).all()


def test_a_corner_at_a_node_of_two_ends_is_a_bend_of_both() -> None:
    """Two straights that meet at a right angle: the corner is sharp, though no segment has it inside."""
    got = measured(network_of({"a": at((0, 0), (30, 0)), "b": at((30, 0), (30, 30))}))
    assert got.curvature[got.station_counts[0] - 1] == pytest.approx(np.pi / 2 / 4.0, rel=0.2)
    assert got.curvature[0] == 0.0


def test_two_surveys_of_different_datums_meet_without_a_cliff() -> None:
    """Two surveyed lines of one ramp, 12 m apart: each run goes on at the ramp's grade, at its own segment's level."""
    lines = {
        "a": high(at((0, 0), (20, 0)), [50.0, 51.0]),
        "b": high(at((20, 0), (40, 0)), [63.0, 64.0]),
    }
    got = measured(network_of(lines, profile="survey"))
    first, second = np.split(got.sample_z, [got.sample_counts[0]])
    assert np.diff(first) == pytest.approx(0.005, abs=1e-4)
    assert np.diff(second) == pytest.approx(0.005, abs=1e-4)
    assert (first[0], second[100]) == pytest.approx((50.0, 63.0), abs=1e-3)
    assert got.sample_counts.tolist() == [301, 301]
    assert got.start_m.tolist() == [0.0, -10.0]
