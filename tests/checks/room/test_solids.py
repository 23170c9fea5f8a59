"""What stands beside a set-up: trunks, sides of gaps, branches it does not fit under, what it goes round."""

from typing import Any

import numpy as np
import pytest

from pipeline.checks.room.solids import CHUNK_M, PIT_M, WALL_M, solids_of
from pipeline.checks.scene import Scene
from pipeline.kernels.plan_records import Solids
from pipeline.terms import Passing
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.room.worlds import chosen, hairpin, network, scene_of, straight_scene, tracks_of
from tests.checks.worlds import LIMITS, envelope
from tests.worlds import ORIGIN, plane

TREE = {"kind": "tree", "chainage_m": 20.0, "offset_m": 1.6, "width_m": 0.4}


def solids(*things: dict[str, Any], vehicle: Envelope | None = None, **columns: Any) -> Solids:  # noqa: ANN401 - as of network_of
    """Give the solids on a straight segment to the east."""
    return laid(straight_scene(things, **columns), vehicle)


def laid(scene: Scene, vehicle: Envelope | None = None) -> Solids:
    """Give the solids of a scene."""
    vehicle = vehicle or envelope()
    return solids_of(scene, tracks_of(scene), chosen(scene, vehicle), vehicle, LIMITS)


def ends(found: Solids, k: int) -> list[float]:
    """Give both ends of a capsule, from the origin: metres east and to the right."""
    return [
        found.ax[k] - ORIGIN[0],
        ORIGIN[1] - found.ay[k],
        found.bx[k] - ORIGIN[0],
        ORIGIN[1] - found.by[k],
    ]


def test_a_tree_is_a_trunk_on_both_tracks() -> None:
    """At its offset, of its radius, from the ground without end; the same place in the world both ways."""
    found = solids(TREE)
    assert found.offsets.tolist() == [0, 1, 2]
    for k in (0, 1):
        assert ends(found, k) == pytest.approx([20.0, 1.6, 20.0, 1.6], abs=1e-6)
    assert found.radius.tolist() == found.half.tolist() == [0.2, 0.2]
    assert (found.low.tolist(), found.high.tolist()) == ([0.0, 0.0], [np.inf, np.inf])
    assert found.thing.tolist() == [0, 0]


def test_place_along_the_track_counts_from_its_first_point() -> None:
    """20 m of chainage from one end, 40 from the other, and each track's way before its own part."""
    scene = straight_scene([TREE])
    site = tracks_of(scene)
    found = laid(scene)
    assert found.at - site.tracks.own_from == pytest.approx([20.0, 40.0], abs=1e-6)


def test_what_is_not_told_of_a_trunk() -> None:
    """No width: a line; no offset: in the middle; a stump of known height can be passed over by what is higher."""
    found = solids({"kind": "post", "chainage_m": 20.0, "offset_m": None, "height_m": 0.4})
    assert ends(found, 0) == pytest.approx([20.0, 0.0, 20.0, 0.0], abs=1e-6)
    assert (found.radius[0], found.high[0]) == (0.0, 0.4)


def test_sides_of_a_gap() -> None:
    """A gap of 2.4 m, 0.2 m right of the middle: walls from its edges outwards, and none without a width."""
    found = solids({"kind": "gap", "chainage_m": 30.0, "offset_m": 0.2, "clear_width_m": 2.4})
    assert ends(found, 0) == pytest.approx([30.0, -1.0 - WALL_M, 30.0, -1.0], abs=1e-6)
    assert ends(found, 1) == pytest.approx([30.0, 1.4, 30.0, 1.4 + WALL_M], abs=1e-6)
    assert (found.radius[:2] == 0.0).all()
    assert solids({"kind": "gap", "chainage_m": 30.0}).ax.size == 0


def test_a_long_gap_keeps_its_edges_all_along() -> None:
    """A gap 5 m long: no part of its walls comes nearer than half of its width, in pieces of at most 3 m."""
    found = solids({"kind": "gap", "chainage_m": 30.0, "offset_m": 0.0, "clear_width_m": 2.4, "length_m": 5.0})
    first = slice(found.offsets[0], found.offsets[1])
    assert found.ax[first].size == 4
    assert (2.0 * found.half[first] <= CHUNK_M).all()
    sides = np.array([ends(found, k) for k in range(4)])
    inner = np.abs(sides[:, [1, 3]]).min(axis=1) - found.radius[first]
    assert inner == pytest.approx(1.2)
    reach = np.concatenate([sides[:, 0] - found.radius[first], sides[:, 2] + found.radius[first]])
    assert (reach.min(), reach.max()) == pytest.approx((27.5, 32.5), abs=1e-6)


def test_branch_that_the_set_up_does_not_fit_under() -> None:
    """Height 1.9 m and margin 0.1: one at 1.99 m hangs in its way from 1.89 on, one at 2.0 m does not."""
    branch = {"kind": "branch", "chainage_m": 30.0, "offset_m": 1.0, "width_m": 1.2, "length_m": 0.4}
    found = solids({**branch, "clear_height_m": 1.99})
    assert found.ax.size == 2
    assert ends(found, 0) == pytest.approx([30.0, 0.6, 30.0, 1.4], abs=1e-6)
    assert (found.radius[0], found.low[0], found.high[0]) == (pytest.approx(0.2), pytest.approx(1.89), np.inf)
    assert solids({**branch, "clear_height_m": 2.0}).ax.size == 0
    assert solids({**branch, "clear_height_m": 2.0}, vehicle=envelope(height_m=1.91)).ax.size == 2
    assert solids(branch).ax.size == 0


def test_branch_of_unknown_extent_hangs_over_all_the_trail() -> None:
    """Without a width it reaches beyond both edges of the trail, so that no line leads round it; 0.3 m thick."""
    for width, least in ((3.5, 1.75), (None, LIMITS.roam_m + 1.05)):
        found = solids({"kind": "branch", "chainage_m": 30.0, "clear_height_m": 1.5}, width_m=width)
        _, left, _, right = ends(found, 0)
        assert left - found.radius[0] < -least
        assert right + found.radius[0] > least
        assert found.radius[0] == 0.15


def test_a_rock_gone_round_is_solid_as_high_as_it_is() -> None:
    """Too high to drive over, with room beside it: a capsule of its size; it stands in both tracks."""
    rock = {"kind": "rock", "chainage_m": 30.0, "offset_m": 1.3, "height_m": 0.6, "length_m": 1.2, "width_m": 0.8}
    scene = straight_scene([rock], width_m=6.0)
    assert (chosen(scene).passing == list(Passing).index(Passing.ROUND)).all()
    found = laid(scene)
    assert ends(found, 0) == pytest.approx([29.8, 1.3, 30.2, 1.3], abs=1e-6)
    assert (found.radius[0], found.half[0], found.high[0]) == pytest.approx((0.4, 0.6, 0.6))
    assert found.offsets.tolist() == [0, 1, 2]


def test_what_is_driven_over_is_no_solid() -> None:
    """Straddled, trodden on or barred in the middle of the trail: other checks speak of it."""
    rock = {"kind": "rock", "chainage_m": 30.0, "offset_m": 0.0, "length_m": 0.6, "width_m": 0.4}
    for height in (0.15, 0.23, 1.2):
        scene = straight_scene([{**rock, "height_m": height}], width_m=2.6)
        assert not chosen(scene).gone_round.any()
        assert laid(scene).ax.size == 0


def test_what_lies_beside_the_middle_line() -> None:
    """A rock that no line was worked out for: solid above the required gap; a hole is no higher than a tyre feels."""
    rock = {"kind": "rock", "chainage_m": 30.0, "offset_m": 2.0, "length_m": 0.6, "width_m": 0.4}
    assert chosen(straight_scene([{**rock, "height_m": 0.3}], width_m=6.0)).things.row.size == 0
    assert solids({**rock, "height_m": 0.3}, width_m=6.0).high.tolist() == [0.3, 0.3]
    assert solids({**rock, "height_m": LIMITS.required_gap_m}, width_m=6.0).high.size == 0
    assert solids(rock, width_m=6.0).high.tolist() == [np.inf, np.inf]
    hole = {**rock, "kind": "hole", "height_m": -0.3}
    assert solids(hole, width_m=6.0).high.tolist() == [PIT_M, PIT_M]


def test_gone_round_one_way_only() -> None:
    """Each direction has its own way past: a thing that is trodden going up and gone round coming down."""
    rock = {"kind": "rock", "chainage_m": 30.0, "offset_m": 1.3, "height_m": 0.6, "length_m": 1.2, "width_m": 0.8}
    scene = straight_scene([rock], width_m=6.0)
    choice = chosen(scene)
    choice.passing[0, 0] = list(Passing).index(Passing.TREAD)
    site = tracks_of(scene)
    assert solids_of(scene, site, choice, envelope(), LIMITS).offsets.tolist() == [0, 0, 1]


def test_offsets_in_a_bend_are_those_of_the_survey() -> None:
    """A tree 2 m outside a bend of 8 m stands 10 m from its centre; it keeps its offset where the line is smoothed."""
    middle = 30.0 + np.pi * 4.0
    tree = {"segment_id": "a", "kind": "tree", "chainage_m": middle, "offset_m": 2.0, "width_m": 0.3}
    scene = scene_of(network({"a": hairpin(8.0, step=1.0)}, obstacles=[tree]), plane())
    site, found = tracks_of(scene), laid(scene)
    x, y = found.ax[0] - ORIGIN[0] - 30.0, found.ay[0] - ORIGIN[1] - 8.0
    assert np.hypot(x, y) == pytest.approx(10.0, abs=0.06)
    ahead = slice(0, int(site.tracks.offsets[1]))
    away = np.hypot(site.tracks.x[ahead] - found.ax[0], site.tracks.y[ahead] - found.ay[0]).min()
    assert away == pytest.approx(2.0, abs=0.01)


def test_things_of_the_neighbour_stand_in_the_way_too() -> None:
    """A tree 3 m beyond the node, right of a segment digitised towards us, is on our left."""
    lines = {"a": [(0.0, 0.0), (40.0, 0.0)], "b": [(80.0, 0.0), (40.0, 0.0)]}
    scene = scene_of(network(lines, obstacles=[{**TREE, "segment_id": "b", "chainage_m": 37.0}]))
    found = laid(scene)
    assert np.diff(found.offsets).tolist() == [1, 1, 1, 1]
    for k in range(4):
        assert ends(found, k) == pytest.approx([43.0, -1.6, 43.0, -1.6], abs=1e-6)


def test_sorted_along_each_track() -> None:
    """Whatever the order of kinds: by place in travel on every track, and all there."""
    things = [
        {**TREE, "chainage_m": at, "kind": kind, "height_m": 0.5, "offset_m": 2.2, "length_m": 0.5}
        for at, kind in ((50.0, "tree"), (10.0, "rock"), (30.0, "post"), (20.0, "rock"))
    ]
    found = solids(*things, width_m=6.0)
    assert found.offsets.tolist() == [0, 4, 8]
    for k in (0, 1):
        track = slice(found.offsets[k], found.offsets[k + 1])
        assert (np.diff(found.at[track]) > 0.0).all()
        assert sorted(found.thing[track].tolist()) == [0, 1, 2, 3]


def test_nothing_there() -> None:
    """No things, no solids, on as many tracks."""
    found = solids()
    assert found.offsets.tolist() == [0, 0, 0]
    assert found.ax.size == 0
