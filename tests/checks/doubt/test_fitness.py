"""What the elevation model can carry."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.doubt.fitness import fitness_table
from pipeline.checks.prepared import prepare
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis
from pipeline.terrain.model import TerrainParameters
from tests.checks.doubt.worlds import GOOD, measured
from tests.checks.worlds import LIMITS, envelope, site_on, with_profiles, with_stations
from tests.worlds import at, bowl, network_of, sine_hills

VIEW = ["approach", "breakover", "departure", "belly", "articulation"]
CHECKS = {*VIEW, "roll", "pitch_over", "slide", "climb", "descent"}

TRAILS = network_of(
    {
        "long": at(*((0.5 * k, 3.0) for k in range(121))),
        "short": at((0.0, 20.0), (20.0, 22.0)),
        "shorter": at((0.0, 40.0), (10.0, 41.0)),
    },
    width_m=3.5,
    surveyed_on="2026-04-18",
)


def on_hills(cells: dict[str, float] | None = None, errors: TerrainParameters = GOOD) -> CheckSite:
    """Lay three trails over hills; *cells* other than 1 m by trail."""
    site = measured(site_on(TRAILS, sine_hills(25.0, 0.5)), errors)
    cell, offsets = site.terrain.stations.cell_m.copy(), site.terrain.stations.offsets
    for name, size in (cells or {}).items():
        row = list(TRAILS.segments["segment_id"]).index(name)
        cell[offsets[row] : offsets[row + 1]] = size
    return with_stations(site, cell_m=cell)


def surveyed(site: CheckSite, row: int) -> CheckSite:
    """Let one trail be of survey grade, with nothing of a model beside it."""
    stations, profiles = site.terrain.stations, site.terrain.profiles
    here = slice(stations.offsets[row], stations.offsets[row + 1])
    cell, basis = stations.cell_m.copy(), stations.basis.copy()
    cell[here], basis[here] = np.nan, Basis.SURVEYED
    samples = profiles.basis.copy()
    samples[profiles.offsets[row] : profiles.offsets[row + 1]] = Basis.SURVEYED
    return with_profiles(with_stations(site, cell_m=cell, basis=basis), basis=samples)


def judged(site: CheckSite, **vehicle: object) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Give the fitness by check and cell, and the checks."""
    prepared = prepare(site, [envelope(**vehicle)], LIMITS)
    checks = checks_of(prepared)
    return fitness_table(prepared, checks).set_index(["check", "cell_m"]), checks


def test_a_fine_model_with_a_stated_error_carries_its_checks() -> None:
    """One row a check that rests on it, with cell, length, and a figure beside its limit."""
    table, _ = judged(on_hills())
    assert set(table.index) == {(check, 1.0) for check in CHECKS}
    assert table["length_m"].to_numpy() == pytest.approx(TRAILS.segments["length_m"].sum())
    roll = table.loc[("roll", 1.0)]
    assert roll["support"] == "supports"
    assert roll["reason"] == (
        f"a 1.0 m cell shows a lean over a track of 1.60 m; ±{roll['demand_sd']:.1f}° of {roll['limit']:.1f}°, "
        "the line's position taken as exact"
    )
    needed = table["needed_cell_m"].droplevel("cell_m")
    assert needed[VIEW].to_numpy() == pytest.approx(1.4)
    assert needed[["roll", "pitch_over"]].tolist() == pytest.approx([1.6, 2.8])
    assert needed[["slide", "climb", "descent"]].to_numpy() == pytest.approx(5.0)


def test_figures_are_medians_by_length() -> None:
    """Plainly: the value at which half of the length of trail, both directions counted, is reached."""
    table, checks = judged(on_hills())
    rows = checks[checks["check"] == "breakover"].sort_values("demand_sd")
    length = rows["segment_id"].map(TRAILS.segments.set_index("segment_id")["length_m"]).to_numpy()
    known = rows["demand_sd"].notna().to_numpy()
    reached, half = 0.0, length[known].sum() / 2.0
    for value, metres in zip(rows["demand_sd"][known], length[known], strict=True):
        reached += metres
        if reached >= half:
            assert table.loc[("breakover", 1.0), "demand_sd"] == value
            break
    else:
        pytest.fail("no median")


def told(column: str, values: dict[str, float], **parts: object) -> pd.Series:
    """Give the fitness of the climb at 1 m with one column of the checks made up by trail; *parts* go into others."""
    prepared = prepare(on_hills(), [envelope()], LIMITS)
    checks = checks_of(prepared)
    climb = checks["check"] == "climb"
    checks.loc[climb, column] = checks.loc[climb, "segment_id"].map(values)
    for name, value in parts.items():
        checks.loc[climb & (checks["segment_id"] == "long"), name] = value
    return fitness_table(prepared, checks).set_index(["check", "cell_m"]).loc[("climb", 1.0)]


def test_long_trails_weigh_more() -> None:
    """60 m, 20 m and 10 m: the long one alone is more than half, whichever place its value has among the others."""
    assert told("demand_sd", {"long": 3.0, "short": 1.0, "shorter": 2.0})["demand_sd"] == 3.0
    assert told("demand_sd", {"long": 1.0, "short": 3.0, "shorter": 2.0})["demand_sd"] == 1.0


def test_edges_that_are_climbed_on_to_do_not_count() -> None:
    """They are told in metres and measured with a tape: nothing of theirs is the model's."""
    row = told("demand_sd", {"long": 0.03, "short": 1.0, "shorter": 2.0}, unit="m")
    assert row["demand_sd"] == 1.0
    assert row["unit"] == "°"


def test_each_cell_has_its_own_rows() -> None:
    """Trails on a 3 m model: the side view, twist, roll and pitch are hidden; slopes are shown."""
    table, _ = judged(on_hills({"short": 3.0, "shorter": 3.0}))
    coarse, fine = table.xs(3.0, level="cell_m"), table.xs(1.0, level="cell_m")
    short = TRAILS.segments["length_m"].iloc[1:].sum()
    assert coarse["length_m"].to_numpy() == pytest.approx(short)
    assert fine["length_m"].to_numpy() == pytest.approx(60.0)
    assert set(coarse.index[coarse["support"] == "cannot"]) == {*VIEW, "roll", "pitch_over"}
    assert coarse.loc["breakover", "reason"] == "a 3.0 m cell hides a wheelbase of 2.80 m: at most 1.40 m"
    assert coarse.loc["climb", "support"] == "supports"


def test_cells_that_differ_by_a_hair_are_one() -> None:
    """A model in degrees has cells that vary from place to place: one row all the same."""
    table, _ = judged(on_hills({"short": 1.003, "shorter": 0.998}))
    assert set(table.index.get_level_values("cell_m")) == {1.0}


def test_no_stated_error_no_support() -> None:
    """Nobody can say what such a model carries; a coarse one is refused for its cell first."""
    table, _ = judged(on_hills({"short": 9.0}, TerrainParameters()))
    fine, coarse = table.xs(1.0, level="cell_m"), table.xs(9.0, level="cell_m")
    assert (fine["support"] == "cannot").all()
    assert set(fine["reason"]) == {"the error of the elevation model was not given"}
    assert coarse["reason"].str.startswith("a 9.0 m cell hides").all()


def test_an_unknown_cell_cannot_carry_anything() -> None:
    """Its size is not known: refused, in words."""
    table, _ = judged(on_hills({"long": np.nan, "short": np.nan, "shorter": np.nan}))
    assert set(table["support"]) == {"cannot"}
    assert table["reason"].str.startswith("a cell of unknown size hides").all()


@pytest.mark.parametrize(("rmse", "support"), [(0.05, "supports"), (0.12, "doubtful")])
def test_a_large_error_is_doubtful(rmse: float, support: str) -> None:
    """More than the step from ``watch`` to ``barred``, 15 % of the limit, in one deviation: it says so."""
    table, _ = judged(on_hills(errors=dataclasses.replace(GOOD, dem_rmse_m=rmse, line_rmse_m=0.1)))
    row = table.loc[("breakover", 1.0)]
    assert row["support"] == support
    assert (row["demand_sd"] > 0.15 * row["limit"]) == (support == "doubtful")
    assert row["reason"].endswith("more than 15 % blurs the verdicts") == (support == "doubtful")
    assert "exact" not in row["reason"]


def test_an_error_beyond_the_limit_has_no_figure() -> None:
    """Hundreds of degrees are no angle: the closed form is one of small errors."""
    table, _ = judged(on_hills(errors=dataclasses.replace(GOOD, dem_rmse_m=20.0)))
    row = table.loc[("roll", 1.0)]
    assert row["support"] == "doubtful"
    assert f"; one standard deviation is more than all of {row['limit']:.1f}°" in row["reason"]
    assert "±" not in row["reason"]


def test_lines_of_survey_grade_are_cell_0() -> None:
    """A trail whose own heights were surveyed every half a metre, beside two on the model."""
    table, _ = judged(surveyed(on_hills(), 0))
    survey = table.xs(0.0, level="cell_m")
    assert survey["length_m"].to_numpy() == pytest.approx(60.0)
    assert survey["reason"].str.startswith("heights of survey grade show ").all()
    assert survey.loc["breakover", "support"] == "supports"
    assert not survey["reason"].str.contains("position").any(), "what was measured there has no other place"
    assert set(table.index.get_level_values("cell_m")) == {0.0, 1.0}


def test_sparse_survey_says_why_it_cannot() -> None:
    """Heights 20 m apart: the reason of the check itself."""
    table, checks = judged(surveyed(on_hills(), 1))
    row = table.loc[("breakover", 0.0)]
    assert row["support"] == "cannot"
    assert row["reason"] in set(checks["reason"])
    assert "apart" in row["reason"]


def test_what_is_asked_nowhere_is_not_held_against_the_model() -> None:
    """A dome asks nothing of the bumpers: supported by its cell, without a figure."""
    table, _ = judged(measured(site_on(TRAILS, bowl(*at((30.0, 20.0))[0], -0.01))))
    row = table.loc[("approach", 1.0)]
    assert row["support"] == "supports"
    assert np.isnan(row["demand_sd"])
    assert "nothing is asked of it here" in row["reason"]


def test_trails_without_heights_are_in_no_row() -> None:
    """No heights, no cell: nothing to judge."""
    site = on_hills()
    stations = site.terrain.stations
    blank = np.full(stations.x.size, np.nan, dtype=np.float32)
    none = np.full(stations.x.size, Basis.NONE, dtype=np.uint8)
    table, _ = judged(with_stations(site, z=blank, grade=blank, cross=blank, cell_m=blank, basis=none))
    assert table.empty


def half_blind(site: CheckSite, row: int, part: slice = slice(None, None)) -> CheckSite:
    """Take the heights away along a part of one trail, slopes and profile too."""
    stations, profiles = site.terrain.stations, site.terrain.profiles
    gone = np.arange(stations.offsets[row], stations.offsets[row + 1])[part]
    arrays = {name: getattr(stations, name).copy() for name in ("z", "grade", "cross", "cell_m")}
    for values in arrays.values():
        values[gone] = np.nan
    basis, z = stations.basis.copy(), profiles.z.copy()
    basis[gone] = Basis.NONE
    here = np.arange(profiles.offsets[row], profiles.offsets[row + 1])
    at_m = (here - here[0]) * profiles.step_m
    lost = stations.chainage_m[gone]
    z[here[(at_m >= lost[0] - 1e-6) & (at_m <= lost[-1] + 1e-6)]] = np.nan
    return with_profiles(with_stations(site, **arrays, basis=basis), z=z)


def test_trails_with_holes_in_the_model_are_told() -> None:
    """A third of the long trail is void: it is not known there, and the rows that stand on the others say how much."""
    table, checks = judged(half_blind(on_hills(), 0, slice(40, 80)))
    roll = table.loc[("roll", 1.0)]
    assert roll["support"] == "supports"
    assert ", but not along 60 of 90 m; ±" in roll["reason"]
    long = checks[(checks["segment_id"] == "long") & (checks["check"] == "roll")]
    assert set(long["verdict"]) == {"unsurveyed"}


def test_a_known_overrun_carries_nothing() -> None:
    """Barred for the part that was measured, unsurveyed elsewhere: no word of a model that supports the check."""
    row = told("demand_sd", {}, verdict="barred")
    assert row["support"] == "supports", "all known, and barred: nothing is missing"
    prepared = prepare(on_hills(), [envelope()], LIMITS)
    checks = checks_of(prepared)
    climb = checks["check"] == "climb"
    checks.loc[climb, ["verdict", "reason"]] = ["unsurveyed", "climb not known: 5.0 m without heights"]
    checks.loc[climb & (checks["segment_id"] == "short"), "verdict"] = "barred"
    checks.loc[climb, "demand_sd"] = np.nan
    row = fitness_table(prepared, checks).set_index(["check", "cell_m"]).loc[("climb", 1.0)]
    assert (row["support"], row["reason"]) == ("cannot", "climb not known: 5.0 m without heights")


def test_surveyed_lines_without_ground_beside_them_cannot_carry_what_leans() -> None:
    """No model: heights along the line alone show no side slope, and the table says so instead of nothing."""
    site = surveyed(on_hills(), 0)
    cross = np.full_like(site.terrain.stations.cross, np.nan)
    table, _ = judged(with_stations(site, cross=cross))
    row = table.loc[("slide", 0.0)]
    assert row["support"] == "cannot"
    assert row["reason"] == "slide not known: no heights beside it"
    assert row["length_m"] == pytest.approx(60.0)


@pytest.mark.parametrize("cell", [0.9, 1.5, 1.7, 2.9, 5.1])
def test_what_the_model_cannot_carry_is_unsurveyed(cell: float) -> None:
    """Table and verdicts say the same: a check is made where, and only where, the cell shows what it looks at."""
    table, checks = judged(on_hills(dict.fromkeys(("long", "short", "shorter"), cell)))
    refused = set(table.index[table["support"] == "cannot"].droplevel("cell_m"))
    open_ = checks[checks["check"].isin(CHECKS)].groupby("check")["verdict"].agg(lambda v: (v == "unsurveyed").all())
    assert refused == set(open_.index[open_])


def test_set_ups_stand_in_their_order() -> None:
    """Rows by set-up as given, then check, then cell."""
    prepared = prepare(on_hills({"short": 3.0}), [envelope(setup="z"), envelope(setup="a")], LIMITS)
    table = fitness_table(prepared, checks_of(prepared))
    assert table["setup"].tolist() == ["z"] * 20 + ["a"] * 20
    assert table["check"].tolist()[:4] == ["approach", "approach", "breakover", "breakover"]
    assert table["cell_m"].tolist()[:2] == [1.0, 3.0]
    none = prepare(on_hills(), [], LIMITS)
    assert fitness_table(none, checks_of(none)).empty
