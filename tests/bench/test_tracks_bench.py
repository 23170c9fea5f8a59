"""How fast the ways of a site are laid in plan, and what a set-up adds to them."""

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.checks.room.solids import solids_of
from pipeline.checks.room.tracks import for_set_up, make_tracks
from pipeline.checks.scene import Scene
from tests.checks.room.worlds import chosen, network, scene_of
from tests.checks.worlds import LIMITS, envelope
from tests.worlds import plane


@pytest.fixture(scope="module")
def scene() -> Scene:
    """Make 24 km of winding trail in 140 segments with a tree every 20 m."""
    s = np.linspace(0.0, 171.0, 90)
    lines = {f"t{k:03d}": list(zip(s, 200.0 * k + 6.0 * np.sin(s / 9.0 + k), strict=True)) for k in range(140)}
    trees = [
        {"segment_id": name, "kind": "tree", "chainage_m": at, "offset_m": side * 1.9, "width_m": 0.3}
        for name in lines
        for at, side in zip(np.arange(10.0, 170.0, 20.0), (1, -1, 1, 1, -1, -1, 1, -1), strict=True)
    ]
    return scene_of(network(lines, obstacles=trees), plane(0.02, 0.1))


def test_tracks_of_a_site(benchmark: BenchmarkFixture, scene: Scene) -> None:
    """Both directions of all segments in well under 60 ms."""
    site = benchmark(make_tracks, scene, LIMITS)
    assert site.tracks.offsets.size == 281


def test_one_set_up_on_them(benchmark: BenchmarkFixture, scene: Scene) -> None:
    """Solids, edges and what holds the line in under 10 ms."""
    site, choice, vehicle = make_tracks(scene, LIMITS), chosen(scene), envelope()

    def both() -> int:
        for_set_up(site, scene, choice, vehicle, LIMITS)
        return int(solids_of(scene, site, choice, vehicle, LIMITS).ax.size)

    assert benchmark(both) == 2 * 140 * 8
