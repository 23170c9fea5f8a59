"""What is worked out once for all set-ups."""

import math
from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.scene import make_scene
from pipeline.terms import Basis
from tests.checks.worlds import ground_of, site_on, straight, with_stations
from tests.worlds import plane


def test_combined_slope_by_the_statics_of_a_plane() -> None:
    """Grade 0.5, cross slope 0.2: roll 10.142°, whole slope 28.303°; grade = cross = 0.40825: roll 20.705°, 30°.

    Derived from the statics of a plane and recomputed; tolerance 0.01°.
    """
    for grade, cross, roll, whole in ((0.5, 0.2, 10.142, 28.303), (0.40824829, 0.40824829, 20.705, 30.0)):
        scene = make_scene(site_on(straight(), plane(east=grade, north=cross)))
        needed = math.hypot(scene.slopes.along[0], scene.slopes.across[0])
        assert math.degrees(math.atan(needed)) == pytest.approx(whole, abs=0.01)
        assert math.degrees(math.atan(scene.slopes.across[0])) == pytest.approx(-roll, abs=0.01)


def test_a_scene_on_other_ground_is_that_of_a_site_with_it() -> None:
    """Things grip and roll as that ground does; nothing else about them, and nothing else of the scene, changes."""
    log = {"kind": "log", "segment_id": "s", "chainage_m": 20.0, "height_m": 0.2, "width_m": 2.0}
    site, ground = site_on(straight(obstacles=[log]), plane(east=0.1)), ground_of(1, mu_low=0.3, rolling=0.09)
    before = make_scene(site)
    scene, anew = before.on_ground(ground), make_scene(replace(site, ground=ground))
    for name in type(anew.things).__dataclass_fields__:
        np.testing.assert_array_equal(getattr(scene.things, name), getattr(anew.things, name))
    assert scene.site.ground is ground
    assert scene.site.terrain is before.site.terrain
    assert scene.slopes is before.slopes
    assert (scene.things.rolling.tolist(), before.things.rolling.tolist()) == ([0.09], [0.05])


def test_missing_heights_cells_and_basis() -> None:
    """Missing stations count as length, the coarsest cell under elevation-model stations counts, and the basis."""
    site = site_on(straight(60.0), plane(east=0.1))
    stations = site.terrain.stations
    grade, cross = stations.grade.copy(), stations.cross.copy()
    grade[:12], cross[:12] = np.nan, np.nan
    basis = stations.basis.copy()
    basis[:12], basis[20:] = Basis.NONE, Basis.SURVEYED
    cell = stations.cell_m.copy()
    cell[:12], cell[15], cell[20:] = np.nan, 4.0, 30.0
    scene = make_scene(with_stations(site, grade=grade, cross=cross, basis=basis, cell_m=cell))
    assert scene.missing_m[0] == pytest.approx(60.0 * 12 / 121)
    assert scene.cell_m[0] == 4.0
    assert scene.stations_basis[0] == Basis.DEM


def test_unknown_cell_is_no_fine_cell() -> None:
    """Heights of an elevation model whose cell is not known count as infinitely coarse."""
    site = site_on(straight(), plane())
    scene = make_scene(with_stations(site, cell_m=np.full_like(site.terrain.stations.cell_m, np.nan)))
    assert np.isinf(scene.cell_m[0])


def test_tags() -> None:
    """The narrower of the tagged widths counts; surveyed means obstacle files and a date."""
    scene = make_scene(site_on(straight(width_m=3.0, max_width_m=2.4), plane()))
    assert scene.tags.width_m.tolist() == [2.4]
    assert scene.tags.surveyed.tolist() == [True]
    for columns in ({"surveyed_on": None}, {"obstacles_surveyed": False}):
        assert make_scene(site_on(straight(**columns), plane())).tags.surveyed.tolist() == [False]
