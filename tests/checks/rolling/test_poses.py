"""Set-ups stood at worst places: by hand on planes, a brow and a ledge; what is not known is not made up."""

import dataclasses
import math

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.rolling import poses
from pipeline.checks.rolling.poses import Poses, make_poses
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.checks.verdict import verdicts_table
from pipeline.terrain.model import Profiles
from tests.checks.worlds import LIMITS, envelope, joined, profiles_of, site_on, straight, with_profiles
from tests.worlds import ORIGIN, Surface, crest, network_of, plane, sine_hills

L, R = 2.8, 0.38
SIGN = {"with": 1.0, "against": -1.0}


def asked(site: CheckSite, *rows: tuple[str, float, str], verdict: str = "watch") -> gpd.GeoDataFrame:
    """Write verdicts of the box wagon: check, chainage and direction of each."""
    frame = gpd.GeoDataFrame(rows, columns=["check", "at_m", "direction"])
    return frame.assign(segment_id=site.network.segments["segment_id"].iloc[0], setup="box", verdict=verdict)


def prepared_on(site: CheckSite) -> Prepared:
    """Roll the box wagon over a site."""
    return prepare(site, [envelope()], LIMITS)


def stood(surface: Surface, *rows: tuple[str, float, str], **columns: object) -> Poses:
    """Stand the box wagon on 60 m of trail to the east."""
    site = site_on(straight(**columns), surface)
    return make_poses(prepared_on(site), asked(site, *rows))


def places(found: Poses, row: int = 0) -> NDArray[np.float64]:
    """Places of the heights of one pose, m in travel from below the front axle."""
    return found.first_m[row] + found.step_m * np.arange(found.ground_m.shape[1])


def ledge(rise: float) -> Surface:
    """Level ground whose southern side, beside a trail to the east, lies higher from 30 m on."""
    return Surface(
        height=lambda x, y: 100.0 + np.where((x > ORIGIN[0] + 30.0) & (y < ORIGIN[1] - 0.4), rise, 0.0),
        gradient=lambda x, y: (np.zeros_like(x), np.zeros_like(y)),
    )


@pytest.mark.parametrize("grade", [-0.3, 0.25])
def test_on_a_ramp_the_vehicle_lies_as_the_ramp(grade: float) -> None:
    """Asked about by grip, it stands with its middle at the place, pitched as the ramp, axles L·cos apart (by hand)."""
    found = stood(plane(east=grade), ("climb", 30.0, "with"), ("descent", 30.0, "against")).table
    half = 0.5 * L / math.hypot(1.0, grade)
    assert found["pitch_deg"].to_numpy() == pytest.approx(
        np.degrees(math.atan(grade)) * np.array([1.0, -1.0]), abs=1e-3
    )
    assert found["rear_m"].to_numpy() == pytest.approx([30.0 - half, 30.0 + half], abs=5e-3)
    assert found["front_m"].to_numpy() == pytest.approx([30.0 + half, 30.0 - half], abs=5e-3)
    for front, rear in (("front_left_m", "rear_left_m"), ("front_right_m", "rear_right_m")):
        rise = (found[front] - found[rear]).to_numpy()
        assert rise == pytest.approx(2.0 * half * grade * np.array([1.0, -1.0]), abs=1e-4)
    assert found["roll_deg"].to_numpy() == pytest.approx([0.0, 0.0], abs=1e-3)
    assert found["lifted"].isna().all()


def test_on_a_side_slope_the_right_side_is_down() -> None:
    """Ground that rises to the north puts the right side down going east, the left going back; θ0 − slope is left."""
    found = stood(plane(north=0.2), ("slide", 30.0, "with"), ("slide", 30.0, "against"))
    lean = math.degrees(math.atan(0.2))
    table = found.table
    assert table["roll_deg"].to_numpy() == pytest.approx([lean, -lean], abs=1e-3)
    assert table["stability_deg"].to_numpy() == pytest.approx(
        [math.degrees(math.atan(0.8 / 0.72)) - lean] * 2, abs=1e-3
    )
    on_left = np.nanmean(found.ground_m[:, :, 0] - found.ground_m[:, :, 1], axis=1)
    on_right = np.nanmean(found.ground_m[:, :, 2] - found.ground_m[:, :, 1], axis=1)
    assert on_left == pytest.approx([0.16, -0.16], abs=1e-4)
    assert on_right == pytest.approx([-0.16, 0.16], abs=1e-4)


def test_ground_of_a_ramp_rises_in_travel() -> None:
    """Heights are over the ground below the middle: grade × (place + L/2·cos), and 0.6 m to spare."""
    found = stood(plane(east=0.25), ("climb", 30.0, "with"), ("descent", 30.0, "against"))
    half = 0.5 * L / math.hypot(1.0, 0.25)
    for row, sign in enumerate((1.0, -1.0)):
        x = places(found, row)
        for line in range(3):
            known = ~np.isnan(found.ground_m[row, :, line])
            expected = sign * 0.25 * (x + half)
            assert found.ground_m[row, known, line] == pytest.approx(expected[known], abs=2e-3)
            assert x[known][0] == pytest.approx(-2.0 * half - 1.1 - 0.6, abs=0.1)
            assert x[known][-1] == pytest.approx(0.9 + 0.6, abs=0.1)
            assert x[known][-1] <= 1.5 + 1e-6
    assert (found.first_m < 0.0).all()


def test_on_a_brow_the_worst_pose_is_taken_as_it_was_rolled() -> None:
    """Astride a brow of two planes the axles stand half a wheelbase to both sides, level, nose first (by hand)."""
    found = stood(crest(ORIGIN[0] + 30.0, 0.1, 0.1), ("breakover", 30.0, "with"), ("breakover", 30.0, "against")).table
    assert found["rear_m"].to_numpy() == pytest.approx([28.6, 31.4], abs=2e-3)
    assert found["front_m"].to_numpy() == pytest.approx([31.4, 28.6], abs=2e-3)
    assert found["pitch_deg"].to_numpy() == pytest.approx([0.0, 0.0], abs=0.05)


def test_worst_point_of_another_kind_puts_the_middle_there() -> None:
    """A place that is not the rolled one is not told the rolled pose: the middle stands where the verdict points."""
    found = stood(crest(ORIGIN[0] + 30.0, 0.1, 0.1), ("breakover", 12.0, "with")).table
    assert 0.5 * (found["rear_m"] + found["front_m"]).to_numpy() == pytest.approx([12.0], abs=5e-3)
    assert found["pitch_deg"].to_numpy() == pytest.approx([math.degrees(math.atan(0.1))], abs=0.01)


def test_one_wheel_on_a_ledge_twists_and_rolls() -> None:
    """The right front wheel 0.16 m up: twist −0.16 m, roll −atan(½·0.16/1.6), sin of the pitch ½·0.16/2.8 (by hand).

    Driven back, it is the left rear wheel: the same twist, the roll the other way, tail up.
    """
    found = stood(ledge(0.16), ("width", 30.0, "with"), ("width", 30.0, "against")).table
    assert found["twist_m"].to_numpy() == pytest.approx([-0.16, -0.16], abs=1e-6)
    roll = math.degrees(math.atan(0.5 * 0.16 / 1.6))
    pitch = math.degrees(math.asin(0.5 * 0.16 / L))
    assert found["roll_deg"].to_numpy() == pytest.approx([-roll, roll], abs=0.02)
    assert found["pitch_deg"].to_numpy() == pytest.approx([pitch, -pitch], abs=1e-3)
    wheels = ["front_left_m", "front_right_m", "rear_left_m", "rear_right_m"]
    assert found.loc[0, wheels].to_numpy(float) == pytest.approx([-0.04, 0.12, -0.04, -0.04], abs=1e-6)
    assert found.loc[1, wheels].to_numpy(float) == pytest.approx([-0.04, -0.04, 0.12, -0.04], abs=1e-6)
    assert found["lifted"].isna().all()


def test_high_ledge_lifts_a_wheel_of_the_low_diagonal() -> None:
    """The right front wheel 0.6 m up is beyond the travel of 0.45 m: front left or rear right hangs in the air."""
    found = stood(ledge(0.6), ("width", 30.0, "with")).table
    assert found["lifted"].iloc[0] in {"front left", "rear right"}
    assert found["twist_m"].iloc[0] == pytest.approx(-0.6, abs=1e-6)


def test_rock_under_the_body_stands_in_the_middle_line_alone() -> None:
    """A rock between the wheels is in the ground of the middle, at its own place, and under no wheel."""
    rock = {"kind": "rock", "segment_id": "s", "chainage_m": 30.0, "height_m": 0.12, "width_m": 0.4, "length_m": 0.6}
    found = stood(plane(), ("belly", 30.0, "with"), ("width", 29.0, "against"), obstacles=[rock | {"offset_m": 0.0}])
    for row, sign in enumerate((1.0, -1.0)):
        top = int(np.nanargmax(found.ground_m[row, :, 1]))
        at_m = found.table["front_m"].iloc[row] + sign * places(found, row)[top]
        assert at_m == pytest.approx(30.0, abs=0.051)
        assert found.ground_m[row, top, 1] == pytest.approx(0.12, abs=1e-6)
        assert np.nanmax(np.abs(found.ground_m[row][:, [0, 2]])) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("at_m", "rear"), [(0.0, [0.0, 2.8]), (60.0, [57.2, 60.0])])
def test_at_a_dead_end_it_stands_as_close_as_it_can(at_m: float, rear: list[float]) -> None:
    """At the very end of a trail that goes on nowhere the vehicle stands with an axle on it, and no ground beyond."""
    found = stood(plane(), ("slide", at_m, "with"), ("slide", at_m, "against"))
    assert found.table["rear_m"].to_numpy() == pytest.approx(rear, abs=1e-6)
    for row, sign in enumerate((1.0, -1.0)):
        along = found.table["front_m"].iloc[row] + sign * places(found, row)
        beyond = (along < -1e-6) | (along > 60.0 + 1e-6)
        assert beyond.any()
        assert np.isnan(found.ground_m[row, beyond]).all()


def test_trail_shorter_than_the_wheelbase_has_no_pose() -> None:
    """Where the vehicle does not fit there is nothing to draw."""
    site = site_on(straight(2.5), plane())
    found = make_poses(prepared_on(site), asked(site, ("slide", 1.0, "with")))
    assert found.table.empty
    assert found.ground_m.shape[0] == found.first_m.size == 0


def blinded(site: CheckSite, *columns: int) -> CheckSite:
    """Take away the strip's heights at some places across."""
    rise = site.terrain.profiles.strip.rise_m.copy()
    rise[:, list(columns)] = np.nan
    return with_profiles(site, strip=dataclasses.replace(site.terrain.profiles.strip, rise_m=rise))


def test_what_four_wheels_tell_is_missing_where_one_side_is_not_known() -> None:
    """Without ground under the right wheels the side view still stands; roll, twist and wheels stay missing."""
    site = blinded(site_on(straight(), crest(ORIGIN[0] + 30.0, 0.1, 0.2)), 7, 8, 9, 10)
    found = make_poses(prepared_on(site), asked(site, ("breakover", 30.0, "with"), ("slide", 30.0, "with")))
    assert found.table["check"].tolist() == ["breakover"]
    row = found.table.iloc[0]
    assert row[["roll_deg", "twist_m", "front_left_m", "rear_right_m", "stability_deg", "lifted"]].isna().all()
    # The mean of a rise of 10 % and a fall of 20 %: nose down by their difference, halved by the wheelbase (by hand).
    across = row["front_m"] - row["rear_m"]
    fall = -0.2 * (row["front_m"] - 30.0) - 0.1 * (row["rear_m"] - 30.0)
    assert row["pitch_deg"] == pytest.approx(math.degrees(math.acos(across / L)) * np.sign(fall), abs=1e-6)
    assert row["pitch_deg"] == pytest.approx(math.degrees(math.atan(fall / across)), abs=0.5)
    assert np.isnan(found.ground_m[0, :, 2]).all()
    under = np.interp([-across, 0.0], places(found), found.ground_m[0, :, 1])
    assert under.mean() == pytest.approx(0.0, abs=1e-3)


def test_missing_places_are_left_out() -> None:
    """A verdict without a place, or on ground without heights, has no row."""
    site = site_on(straight(), plane())
    z = site.terrain.profiles.z.copy()
    z[200:260] = np.nan
    site = with_profiles(site, z=z)
    table = asked(site, ("slide", 22.0, "with"), ("slide", np.nan, "with"), ("slide", 40.0, "against"))
    assert make_poses(prepared_on(site), table).table["at_m"].tolist() == [40.0]


def across_a_junction() -> Profiles:
    """Make a flat segment whose worst brow, at 10 m, is on a run across a junction only."""
    x = np.arange(0.0, 60.05, 0.1)
    brow = dataclasses.replace(profiles_of(-0.1 * np.abs(x - 30.0)), start_m=np.array([-20.0]), own_from_m=np.zeros(1))
    return joined(profiles_of(np.zeros(601)), brow, segments=[0, 0])


def test_pose_stands_on_the_run_that_it_was_found_on() -> None:
    """A brow of a run across a junction is drawn with the ground of that run, in chainages of the segment."""
    site = site_on(straight(), plane())
    profiles = across_a_junction()
    site = with_profiles(site, **{f.name: getattr(profiles, f.name) for f in dataclasses.fields(profiles)})
    found = make_poses(prepared_on(site), asked(site, ("breakover", 10.0, "with"), ("slide", 10.0, "against")))
    assert found.table["rear_m"].to_numpy() == pytest.approx([8.6, 11.4], abs=2e-3)
    assert np.nanmin(found.ground_m[0, :, 1]) == pytest.approx(-0.1 * (1.4 + 1.1 + 0.6 - 1.4), abs=0.012)
    assert np.nanmin(found.ground_m[1, :, 1]) == pytest.approx(0.0, abs=1e-9)


def test_large_networks_have_poses_of_what_needs_a_spotter_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Above the size that is drawn everywhere only spot and barred have rows."""
    site = site_on(straight(), plane())
    prepared = prepared_on(site)
    tables = {word: asked(site, ("slide", 30.0, "with"), verdict=word) for word in ("ample", "watch", "spot", "barred")}
    assert all(len(make_poses(prepared, table).table) == 1 for table in tables.values())
    monkeypatch.setattr(poses, "LARGE", 0)
    rows = {word: len(make_poses(prepared, table).table) for word, table in tables.items()}
    assert rows == {"ample": 0, "watch": 0, "spot": 1, "barred": 1}


def test_every_verdict_with_a_place_has_its_pose_in_order() -> None:
    """Over two segments and two set-ups of different length the table keeps the order of the verdicts, key and all."""
    east, north = ORIGIN
    network = network_of(
        {"a": [(east, north), (east + 40.0, north)], "b": [(east + 40.0, north), (east + 40.0, north + 35.0)]},
        surveyed_on="2026-04-18",
        obstacles_surveyed=True,
        width_m=8.0,
    )
    site = site_on(network, sine_hills(17.0, 0.5))
    prepared = prepare(site, [envelope(), envelope(setup="long", wheelbase_m=3.4)], LIMITS)
    verdicts = verdicts_table(checks_of(prepared), network, LIMITS)
    found = make_poses(prepared, verdicts)
    key = ["segment_id", "setup", "direction", "check"]
    placed = verdicts[verdicts["at_m"].notna()]
    assert len(placed) == 8
    assert found.table[key].to_numpy().tolist() == placed[key].to_numpy().tolist()
    assert found.ground_m.shape[0] == found.first_m.size == 8
    assert np.isnan(found.ground_m[found.table["setup"] == "box", -1]).all()
    apart = (found.table["front_m"] - found.table["rear_m"]).to_numpy()
    long = (found.table["setup"] == "long").to_numpy()
    assert (np.abs(apart[long]) > 3.2).all()
    assert (np.abs(apart[~long]) < 2.8 + 1e-9).all()
    assert (np.sign(apart) == found.table["direction"].map(SIGN)).all()


def test_no_verdicts_make_no_poses() -> None:
    """An empty table is a table."""
    site = site_on(straight(), plane())
    found = make_poses(prepared_on(site), asked(site).iloc[:0])
    assert found.table.empty
    assert found.ground_m.shape == (0, 0, 3)
