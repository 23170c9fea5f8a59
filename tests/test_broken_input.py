"""One thing broken in the starter site: ``check`` and ``build`` say what, where, how to mend it, and write nothing.

Every case goes through the real command. A case lists the lines that must come, one a fault; `` … `` in a line stands
for anything, ``{line of TEXT}`` for the number of the line of the site file that holds TEXT. Statuses are those of
``sysexits.h`` (BSD): 65 data, 66 no input, 78 configuration.
"""

import hashlib
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import Affine

from pipeline.cli import run
from pipeline.project.starter import write_starter

DATA, NO_INPUT, SETTINGS = 65, 66, 78
UTM = 32632
Spoil = Callable[[Path], object]


@dataclass(frozen=True)
class Case:
    """One kind of broken input."""

    name: str
    spoil: Spoil
    status: int
    said: tuple[str, ...]
    """The lines on stderr, in order."""


# ---- ways to break things


def edit(file: str, old: str, new: str) -> Spoil:
    """Replace a text in a file, once."""

    def spoil(site: Path) -> None:
        text = (site / file).read_text(encoding="utf-8")
        assert old in text
        (site / file).write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


def settings(old: str, new: str) -> Spoil:
    """Replace a text in the site file."""
    return edit("site.toml", old, new)


def every(*spoils: Spoil) -> Spoil:
    """Break several things."""

    def spoil(site: Path) -> None:
        for one in spoils:
            one(site)

    return spoil


def remove(file: str) -> Spoil:
    """Delete a file."""
    return lambda site: (site / file).unlink()


def content(file: str, data: bytes | str) -> Spoil:
    """Write a file anew."""
    return lambda site: (site / file).write_bytes(data if isinstance(data, bytes) else data.encode())


def cut(file: str, share: float = 0.5) -> Spoil:
    """Cut a file off, as a broken copy does."""

    def spoil(site: Path) -> None:
        whole = (site / file).read_bytes()
        (site / file).write_bytes(whole[: int(len(whole) * share)])

    return spoil


def network_in(
    name: str, change: Callable[[gpd.GeoDataFrame], gpd.GeoDataFrame] = lambda frame: frame, layer: str | None = None
) -> Spoil:
    """Hand the trails over in another kind of file."""

    def spoil(site: Path) -> None:
        trails = gpd.read_file(site / "trails.geojson", columns=["id", "name", "width"])
        change(trails).to_file(site / name, layer=layer)
        settings('network = ["trails.geojson"]', f'network = ["{name}"]')(site)

    return spoil


def more_trails(name: str, layer: str) -> Spoil:
    """Add a second layer of lines to a GeoPackage."""

    def spoil(site: Path) -> None:
        gpd.read_file(site / "trails.geojson", columns=["id"]).to_file(site / name, layer=layer, mode="a")

    return spoil


def geojson(file: str, change: Callable[[dict[str, Any]], None]) -> Spoil:
    """Change a GeoJSON file as data."""

    def spoil(site: Path) -> None:
        data = json.loads((site / file).read_text(encoding="utf-8"))
        change(data)
        (site / file).write_text(json.dumps(data), encoding="utf-8")

    return spoil


def shifted(east: float) -> Callable[[dict[str, Any]], None]:
    """Move points to the east, degrees."""

    def change(data: dict[str, Any]) -> None:
        for feature in data["features"]:
            feature["geometry"]["coordinates"][0] += east

    return change


def projected(data: dict[str, Any]) -> None:
    """Write metres where RFC 7946 wants degrees."""
    for feature in data["features"]:
        line = gpd.GeoSeries([shapely.geometry.shape(feature["geometry"])], crs=4326).to_crs(UTM)
        feature["geometry"]["coordinates"] = [list(point) for point in line[0].coords]


def first_line(coordinates: Callable[[list[list[float]]], list[Any]], **properties: str) -> Callable[[Any], None]:
    """Change the points and the attributes of the first feature."""

    def change(data: dict[str, Any]) -> None:
        feature = data["features"][0]
        feature["geometry"]["coordinates"] = coordinates(feature["geometry"]["coordinates"])
        feature["properties"].update(properties)

    return change


def far_away(trails: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put one end of the first trail where no map reaches."""
    moved = trails.to_crs(UTM)
    moved.loc[0, "geometry"] = shapely.LineString([(612_060, 5_262_070), (1e300, 5_262_070)])
    return moved


def elevation(change: Callable[[np.ndarray], np.ndarray] = lambda z: z, **profile: object) -> Spoil:
    """Hand the terrain over as a GeoTIFF ``t.tif``."""

    def spoil(site: Path) -> None:
        with rasterio.open(site / "terrain.asc") as source:
            heights = change(source.read(1))
        bands, (rows, columns) = (1 if heights.ndim == 2 else len(heights)), heights.shape[-2:]
        about = {"crs": f"EPSG:{UTM}", "transform": Affine(1, 0, 612_000, 0, -1, 5_262_320), "nodata": -9999} | profile
        with rasterio.open(
            site / "t.tif", "w", driver="GTiff", count=bands, height=rows, width=columns, dtype=heights.dtype, **about
        ) as target:
            target.write(heights.reshape(bands, rows, columns))
        settings("terrain.asc", "t.tif")(site)

    return spoil


HEAD = '<?xml version="1.0"?>\n'
GPX = (
    '<gpx version="1.1" creator="handheld" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>a</name><trkseg>\n'
    + "\n".join(f'<trkpt lat="{47.5 + k * 1e-5:.6f}" lon="{10.5 + k * 1e-5:.6f}"/>' for k in range(50))
    + "\n</trkseg></trk></gpx>\n"
)
BOMB = '<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>\n'
SAME = 'name = "soft"\nsetup = "4x4, practised"\n'


def comparison(text: str) -> Spoil:
    """Add a comparison to the site file."""
    return settings("[publish]", f"[[comparisons]]\n{text}\n[publish]")


def left_out(file: str, table: str) -> Spoil:
    """Take a table out of a settings file."""

    def spoil(site: Path) -> None:
        text = (site / file).read_text(encoding="utf-8")
        gone = re.sub(rf"^\[{re.escape(table)}\]\n(?:(?!\[).*\n)*", "", text, count=1, flags=re.MULTILINE)
        assert gone != text
        (site / file).write_text(gone, encoding="utf-8")

    return spoil


def outlook(text: str) -> Spoil:
    """Add an outlook to the site file, the second one."""
    return settings("[publish]", f"[[outlooks]]\n{text}\n[publish]")


def of_an_older_form(site: Path) -> None:
    """Give the ground one drying for all surfaces, and no bearing capacity, as older files have it."""
    text = (site / "surfaces.toml").read_text(encoding="utf-8")
    text = re.sub(
        r"^(drains_days|dries_days|bearing_kpa|soft_spot|open_twi|hollow_\w+) .*\n", "", text, flags=re.MULTILINE
    )
    text = re.sub(r"^\[runoff\]\n(?:(?!\[).*\n)*", "", text, flags=re.MULTILINE)
    text = re.sub(r"^\[classes\.(?!earth|mud)\w+\]\n(?:(?!\[).*\n)*", "", text, flags=re.MULTILINE)
    text = re.sub(r'^\S+ = "(?!earth|mud)\w+".*\n', "", text, flags=re.MULTILINE)
    (site / "surfaces.toml").write_text(text.replace("[drying]\n", "[drying]\nkeep_per_day = 0.85\n"), encoding="utf-8")


LONG = edit("vehicles/tarn.toml", "wheelbase_m = ", "wheelbase_m = 2850  # ")
KINDS = "allowed: rock | log | step | hole | "
CASES = (
    # ---- the settings
    Case("no site file", remove("site.toml"), NO_INPUT, ("site.toml: no such file",)),
    Case(
        "no TOML", settings("[inputs]", "[inputs"), SETTINGS, ("site.toml:{line of [inputs}:8: … bracket is missing",)
    ),
    Case(
        "not UTF-8",
        content("site.toml", b'\n# \xe4\n[site]\nname = "x"\n'),
        SETTINGS,
        ("site.toml:2: byte 0xe4 … UTF-8",),
    ),
    Case(
        "unknown key",
        settings("snap_m", "snapp_m"),
        SETTINGS,
        ('site.toml:{line of snapp_m}: unknown key terrain.snapp_m = 2.0; did you mean "snap_m"?',),
    ),
    Case(
        "misspelt table",
        settings("[conditions]", "[condtions]"),
        SETTINGS,
        ('site.toml:{line of [condtions]}: unknown table [condtions]; did you mean "conditions"?',),
    ),
    Case(
        "wrong size of unit",
        LONG,
        SETTINGS,
        ("vehicles/tarn.toml: … wheelbase_m = 2850; allowed: … 1.2 to 6 m; metres, not millimetres: 2.85?",),
    ),
    Case(
        "text for a number",
        settings("snap_m = 2.0", 'snap_m = "two"'),
        SETTINGS,
        ('site.toml:{line of "two"}: terrain.snap_m = "two"; allowed: a number above 0 and up to 20 m',),
    ),
    Case(
        "number for a text",
        settings('name = "Starter hill"', "name = 7"),
        SETTINGS,
        ("site.toml:{line of name = 7}: site.name = 7; allowed: … text",),
    ),
    Case(
        "no set-up",
        settings("[[setups]] ", "[[setups_]] "),
        SETTINGS,
        ('site.toml:{line of [[setups_]]}: unknown key setups_ = [a table]; did you mean "setups"?',),
    ),
    Case(
        "a day that is none",
        settings("date = 2026-03-28", "date = 2026-02-30"),
        SETTINGS,
        ("site.toml:{line of 2026-02-30}: … date = 2026-02-30",),
    ),
    Case(
        "a day as text",
        settings("date = 2026-03-28", 'date = "28.3.2026"'),
        SETTINGS,
        ('site.toml:{line of 28.3.2026}: conditions.date = "28.3.2026"; allowed: a date such as 2026-03-28',),
    ),
    Case(
        "rain and wetness",
        settings("date = 2026-03-28", 'date = 2026-03-28\nwetness = "dry"'),
        SETTINGS,
        ('site.toml:{line of wetness}: conditions.wetness = "dry" beside rain_mm; allowed: one of the two; … rain',),
    ),
    Case(
        "geographic working CRS",
        settings("[inputs]", 'crs = "EPSG:4326"\n[inputs]'),
        SETTINGS,
        ('site.toml:{line of crs =}: site.crs = "EPSG:4326"; allowed: a projected CRS in metres, … leave it out',),
    ),
    Case(
        "working CRS in feet",
        settings("[inputs]", 'crs = "EPSG:2264"\n[inputs]'),
        SETTINGS,
        ('site.toml:{line of crs =}: site.crs = "EPSG:2264"; allowed: a projected CRS in metres',),
    ),
    Case(
        "working CRS that is not true to scale",
        settings("[inputs]", 'crs = "EPSG:3857"\n[inputs]'),
        DATA,
        ("site.toml:{line of crs =}: site.crs: WGS 84 / Pseudo-Mercator at … lengths are 48 … % wrong; … leave it",),
    ),
    Case(
        "unknown override of the limits",
        settings("[publish]", "[limits]\nspot_from = 3\n[publish]"),
        SETTINGS,
        ("site.toml:{line of spot_from}: unknown key limits.spot_from = 3; allowed: required_gap_m, ",),
    ),
    # ---- comparisons
    Case(
        "comparison with a misspelt key",
        comparison(SAME + 'load = ["driver"]'),
        SETTINGS,
        ('site.toml:{line of load =}: unknown key comparisons[1].load = ["driver"]; did you mean "loads"?',),
    ),
    Case(
        "comparison of an unknown set-up",
        comparison('name = "soft"\nsetup = "4x4"\nloads = []'),
        SETTINGS,
        ('site.toml:{line of setup = "4x4"}: comparisons[1].setup = "4x4": no such set-up; allowed: "4x4, practised"',),
    ),
    Case(
        "comparison that changes nothing",
        comparison(SAME),
        SETTINGS,
        ("site.toml:{line of [[comparisons]]}: comparisons[1] changes nothing; allowed: at least one of suspension, ",),
    ),
    Case(
        "comparison with what is there already",
        comparison(SAME + 'loads = ["driver"]\ndriver = "practised"'),
        SETTINGS,
        ("site.toml:{line of [[comparisons]]}: comparisons[1] changes nothing: … already; allowed: something else",),
    ),
    Case(
        "comparisons of one name",
        comparison(f'{SAME}loads = []\n[[comparisons]]\n{SAME}driver = "expert"'),
        SETTINGS,
        ('site.toml: … comparisons[2].name = "soft"; allowed: a name of its own; line … has this one already',),
    ),
    Case(
        "comparison with a load and a suspension that the vehicle lacks",
        comparison(SAME + 'suspension = "high"\nloads = ["drivers"]'),
        SETTINGS,
        (
            'site.toml:{line of "high"}: suspension = "high" is unknown to Tarn 4x4; allowed: normal',
            'site.toml:{line of "drivers"}: load "drivers" is unknown to Tarn 4x4; … did you mean "driver"?',
        ),
    ),
    Case(
        "comparison that is wet twice",
        comparison(SAME + 'wetness = "wet"\nrain_mm = [30]'),
        SETTINGS,
        ('site.toml:{line of wetness =}: comparisons[1].wetness = "wet" beside rain_mm; allowed: one of the two',),
    ),
    Case(
        "comparisons as one table",
        settings("[publish]", f"[comparisons]\n{SAME}loads = []\n[publish]"),
        SETTINGS,
        ("site.toml:{line of [comparisons]}: comparisons = a table; allowed: a list, each a table",),
    ),
    # ---- outlooks
    Case(
        "outlook that is wet twice",
        outlook('name = "rain"\nwetness = "wet"\nrain_mm = [30]'),
        SETTINGS,
        ('site.toml:{line of wetness =}: outlooks[2].wetness = "wet" beside rain_mm; allowed: one of the two',),
    ),
    Case(
        "outlook without a weather",
        outlook('name = "rain"\ndate = 2026-06-01'),
        SETTINGS,
        ("site.toml: … outlooks[2] has neither rain_mm nor wetness; allowed: one of the two",),
    ),
    Case(
        "outlook with an odd name, rain, date and key",
        outlook('name = ""\nrain_mm = [3, -1, nan, 2000, "20"]\ndate = "soon"\nsetup = "4x4, practised"'),
        SETTINGS,
        (
            'site.toml: … outlooks[2].name = ""; allowed: 1 to 60 printable characters',
            "site.toml: … outlooks[2].rain_mm[2] = -1; allowed: a number from 0 to 500 mm",
            "site.toml: … outlooks[2].rain_mm[3] = nan; allowed: a number from 0 to 500 mm",
            "site.toml: … outlooks[2].rain_mm[4] = 2000; allowed: a number from 0 to 500 mm",
            'site.toml: … outlooks[2].rain_mm[5] = "20"; … write the number without quotation marks',
            'site.toml:{line of "soon"}: outlooks[2].date = "soon"; allowed: a date such as 2026-03-28',
            'site.toml: … unknown key outlooks[2].setup = "4x4, practised"; it belongs in [comparisons]',
        ),
    ),
    Case(
        "outlook of no day and outlooks of one name",
        every(outlook('name = "a"\nwetness = "moist"'), outlook('name = "a"\nrain_mm = []')),
        SETTINGS,
        (
            'site.toml:{line of moist}: outlooks[2].wetness = "moist"; allowed: "dry" | "damp" | "wet" | "soaked"',
            "site.toml:{line of rain_mm = []}: outlooks[3].rain_mm = []; allowed: a list of 1 to 366, each a number",
            'site.toml: … outlooks[3].name = "a"; allowed: a name of its own; line … has this one already',
        ),
    ),
    # ---- water and ground
    Case(
        "drainage in other units",
        settings(
            "snap_m = 2.0",
            "drainage_cell_m = 3000\ndrainage_reach_m = -1\nstream_catchment_m2 = 2\nhollow_m = 200\nrunoff_mm = 0.05",
        ),
        SETTINGS,
        (
            "site.toml:{line of drainage_cell_m}: terrain.drainage_cell_m = 3000; … metres, not millimetres: 3?",
            "site.toml:{line of drainage_reach_m}: terrain.drainage_reach_m = -1; allowed: a number from 0 to 5000 m",
            "site.toml:{line of stream_catchment_m2}: terrain.stream_catchment_m2 = 2; … from 100 to 1e+07 m²",
            "site.toml:{line of hollow_m}: terrain.hollow_m = 200; … metres, not millimetres: 0.2?",
            "site.toml:{line of runoff_mm}: terrain.runoff_mm = 0.05; … millimetres, not metres: 50?",
        ),
    ),
    Case(
        "surfaces of an older form",
        of_an_older_form,
        SETTINGS,
        (
            "surfaces.toml: soft_spot is missing (class of a soft spot that a survey found)",
            "surfaces.toml: [runoff] is missing",
            *(f"surfaces.toml: … drying.{key} is missing" for key in ("open_twi", "hollow_twi", "hollow_gathers")),
            "surfaces.toml: … drying.hollow_drains is missing",
            "surfaces.toml: … unknown key drying.keep_per_day = 0.85; every class now has drains_days and dries_days",
            *(
                f"surfaces.toml: … classes.{name}{key} is missing"
                for name in ("earth", "mud")
                for key in (".drains_days", ".dries_days", ".bearing_kpa]")
            ),
        ),
    ),
    Case(
        "drying and runoff that cannot be",
        every(
            edit("surfaces.toml", "damp_mm = 2.0", "damp_mm = 20.0"),
            edit("surfaces.toml", "hollow_twi = 5.0", "hollow_twi = 1.0"),
            edit("surfaces.toml", "hollow_gathers = 2.5", "hollow_gathers = 0.5"),
            edit("surfaces.toml", "curve_number = 85.0", "curve_number = 0.85"),
            edit("surfaces.toml", "manning_n = 0.05", "manning_n = 5"),
            edit("surfaces.toml", "catchment_ha = 10.0", "catchment_ha = 100000"),
        ),
        SETTINGS,
        (
            "surfaces.toml: … drying.wet_mm = 10.0: 10 mm is not above damp_mm = 20 mm",
            "surfaces.toml: … drying.hollow_twi = 1.0: 1 is not above open_twi = 2",
            "surfaces.toml: … drying.hollow_gathers = 0.5; allowed: a number from 1 to 10",
            "surfaces.toml: … runoff.curve_number = 0.85; allowed: a number from 30 to 100",
            "surfaces.toml: … runoff.manning_n = 5; allowed: a number above 0.005 and up to 0.3",
            "surfaces.toml: … runoff.catchment_ha = 100000; allowed: a number above 0 and up to 10000 ha",
        ),
    ),
    Case(
        "ground that bears more when wetter",
        edit("surfaces.toml", "wet = [200, 375]", "wet = [300, 375]"),
        SETTINGS,
        ("surfaces.toml: … classes.gravel.bearing_kpa: … wetter ground may not bear more",),
    ),
    Case(
        "soft spot of no class",
        edit("surfaces.toml", 'soft_spot = "mud"', 'soft_spot = "mudd"'),
        SETTINGS,
        ('surfaces.toml: … soft_spot = "mudd": "mudd" is no surface class; did you mean "mud"?',),
    ),
    # ---- errors of measurement
    Case(
        "error of the line below nothing",
        settings("line_rmse_m = 0.5", "line_rmse_m = -0.5"),
        SETTINGS,
        ("site.toml:{line of line_rmse_m}: terrain.line_rmse_m = -0.5; allowed: a number from 0 to 30 m",),
    ),
    Case(
        "error of the line as text",
        settings("line_rmse_m = 0.5", 'line_rmse_m = "0.5"'),
        SETTINGS,
        ("site.toml:{line of line_rmse_m}: terrain.line_rmse_m … 30 m; write the number without quotation marks",),
    ),
    Case(
        "error of the line in millimetres",
        settings("line_rmse_m = 0.5", "line_rmse_m = 500"),
        SETTINGS,
        ("site.toml:{line of line_rmse_m}: terrain.line_rmse_m = 500; … metres, not millimetres: 0.5?",),
    ),
    Case(
        "error of heights measured on the ground in millimetres",
        settings("line_rmse_m = 0.5", "survey_rmse_m = 10"),
        SETTINGS,
        ("site.toml:{line of survey_rmse_m}: terrain.survey_rmse_m = 10; … metres, not millimetres: 0.01?",),
    ),
    Case(
        "error of heights that is no number",
        settings("line_rmse_m = 0.5", "survey_rmse_m = nan"),
        SETTINGS,
        ("site.toml:{line of survey_rmse_m}: terrain.survey_rmse_m = nan; allowed: a number from 0 to 1 m",),
    ),
    # ---- limits and words of the vehicle on the ground
    Case(
        "figures of the springs and tyres in other units",
        every(
            edit("limits.toml", "compliance_share = ", "compliance_share = 20  # "),
            edit("limits.toml", "bounce_hz = ", "bounce_hz = 90  # "),
            edit("limits.toml", "footprint_m = ", "footprint_m = 200  # "),
        ),
        SETTINGS,
        (
            "limits.toml: … compliance_share = 20; allowed: a number from 0 to 0.5",
            "limits.toml: … bounce_hz = 90; allowed: a number above 0.3 and up to 5",
            "limits.toml: … footprint_m = 200; … up to 0.6 m; metres, not millimetres: 0.2?",
        ),
    ),
    Case(
        "doubt that does not rise",
        settings("[publish]", "[limits.doubt]\nwatch = 0.9\nspot = 0.5\nbarred = 0.6\n[publish]"),
        SETTINGS,
        ("site.toml:{line of [limits.doubt]}: limits.doubt: watch 0.9, spot 0.5, barred 0.6; must rise: watch < spot",),
    ),
    Case(
        "room to pass in other units",
        every(
            edit("limits.toml", "comfort_gap_m = ", "comfort_gap_m = 500  # "),
            edit("limits.toml", "edge_slope_deg = ", "edge_slope_deg = 0.26  # "),
            edit("limits.toml", "edge_margin_m = ", "# "),
            edit("limits.toml", "roam_m = ", "roam_m = -0.5  # "),
            edit("limits.toml", "shunt_reverse_m = ", "shunt_reverse_m = 0  # "),
            edit("limits.toml", "steering_deg_s = ", "steering_deg_s = 450  # "),
            edit("limits.toml", "soft = ", "soft = 70  # "),
        ),
        SETTINGS,
        (
            "limits.toml: edge_margin_m is missing (ground that must stay outside the tyres at a drop-off, m)",
            "limits.toml: … comfort_gap_m = 500; … metres, not millimetres: 0.5?",
            "limits.toml: … edge_slope_deg = 0.26; allowed: a number from 1 to 60 °",
            "limits.toml: … roam_m = -0.5; allowed: a number from 0 to 2 m",
            "limits.toml: … shunt_reverse_m = 0; allowed: a number above 0 and up to 10 m",
            "limits.toml: … motion.first-timer.steering_deg_s = 450; allowed: a number from 1 to 90 °/s",
            "limits.toml: … share.first-timer.soft = 70; allowed: a number above 0 and up to 1",
        ),
    ),
    Case(
        "no speeds for a driver",
        left_out("limits.toml", "motion.expert"),
        SETTINGS,
        ("limits.toml: [motion.expert] missing; allowed: a table for every driver: first-timer, practised, expert",),
    ),
    Case(
        "speed of a motorway",
        settings("[publish]", "[limits.motion.expert]\nspeed_kmh = 130\nobstacle_kmh = 0\n[publish]"),
        SETTINGS,
        (
            "site.toml:{line of speed_kmh}: limits.motion.expert.speed_kmh = 130; allowed: … above 0 and up to 40 km/h",
            "site.toml:{line of obstacle_kmh}: limits.motion.expert.obstacle_kmh = 0; … above 0 and up to 20 km/h",
        ),
    ),
    Case(
        "share left out",
        edit("limits.toml", "articulation = ", "# articulation = "),
        SETTINGS,
        ("limits.toml: … share.first-timer.articulation is missing; allowed: a number above 0 and up to 1",),
    ),
    Case(
        "no words for the ways past things",
        left_out("techniques.toml", "passings"),
        SETTINGS,
        ("techniques.toml: [passings] is missing (how the way past a thing is said)",),
    ),
    Case(
        "words for a way past a thing that nothing fills in",
        edit("techniques.toml", "{wheels} {over} it", "{wheel} {over} it"),
        SETTINGS,
        ('techniques.toml: … passings.tread = "{wheel} … it": {wheel} is not filled in; allowed: {over}, {wheels}',),
    ),
    # ---- the vehicle
    Case(
        "vehicle with everything in millimetres or misspelt",
        every(
            edit("vehicles/tarn.toml", "wheelbase_m = ", "cg_left_m = 30\nwheelbase_m = "),
            edit("vehicles/tarn.toml", "wheel_travel_m = ", "wheel_travel_m = 450  # "),
            edit("vehicles/tarn.toml", "people = true", 'people = "yes"'),
        ),
        SETTINGS,
        (
            "vehicles/tarn.toml: … cg_left_m = 30; … from -0.3 to 0.3 m; metres, not millimetres: 0.03?",
            "vehicles/tarn.toml: … wheel_travel_m = 450; … from 0.03 to 1.5 m; metres, not millimetres: 0.45?",
            'vehicles/tarn.toml: … loads.driver.people = "yes"; allowed: true or false',
        ),
    ),
    Case(
        "mirrors, roof and load that fit no vehicle",
        every(
            edit("vehicles/tarn.toml", "mirror_low_m = ", "mirror_low_m = 1.3  # "),
            edit("vehicles/tarn.toml", "mirror_x_m = ", "mirror_x_m = 1.5  # "),
            edit("vehicles/tarn.toml", "roof_width_m = ", "roof_width_m = 2.4  # "),
            edit("vehicles/tarn.toml", "roof_from_m = ", "roof_from_m = 2.2  # "),
            edit("vehicles/tarn.toml", "roof_rear_m = ", "roof_rear_m = -0.5  # "),
            edit("vehicles/tarn.toml", "people = true", "people = true\nwidth_m = 1200"),
        ),
        SETTINGS,
        (
            "vehicles/tarn.toml: … mirror_x_m = 1.5: 1.5 m lies outside the vehicle, from -3.81 to 0.85 m",
            "vehicles/tarn.toml: … mirror_high_m = 1.26: 1.26 m is not above mirror_low_m = 1.3 m",
            "vehicles/tarn.toml: … roof_width_m = 2.4: 2.4 m is more than width_m = 1.88 m",
            "vehicles/tarn.toml: … roof_from_m = 2.2: 2.2 m is not below height_m = 1.87 m",
            "vehicles/tarn.toml: … roof_rear_m = -0.5: -0.5 m is not behind roof_front_m = -0.95 m",
            "vehicles/tarn.toml: … loads.driver.width_m = 1200; … metres, not millimetres: 1.2?",
        ),
    ),
    # ---- names in the settings
    Case(
        "unknown load",
        settings('loads = ["driver"]', 'loads = ["drivers"]'),
        SETTINGS,
        ('site.toml: … load "drivers" is unknown to … allowed: driver | … did you mean "driver"?',),
    ),
    Case(
        "unknown suspension",
        settings('loads = ["driver"]', 'loads = ["driver"]\nsuspension = "hihg"'),
        SETTINGS,
        ('site.toml: … suspension = "hihg" is unknown to … allowed: normal',),
    ),
    Case(
        "unknown driver",
        settings('driver = "practised"', 'driver = "practiced"'),
        SETTINGS,
        ('site.toml:{line of practiced}: setups[1].driver = "practiced"; allowed: … did you mean "practised"?',),
    ),
    Case(
        "loop with an unknown set-up",
        settings('setups = ["4x4, practised"]', 'setups = ["4x4"]'),
        SETTINGS,
        ('site.toml:{line of ["4x4"]}: loops[1].setups[1] = "4x4": no such set-up; allowed: "4x4, practised"',),
    ),
    Case(
        "loop without a window",
        settings("length_m = [400, 1500]\n", ""),
        SETTINGS,
        ("site.toml:{line of [[loops]]}: loops[1] has neither length_m nor time_min; allowed: at least one of them",),
    ),
    Case(
        "loop with a window the wrong way round",
        settings("[400, 1500]", "[1500, 400]"),
        SETTINGS,
        ("site.toml:{line of [1500, 400]}: loops[1].length_m = [1500, 400]; allowed: [min, max] with 0 ≤ min ≤ max",),
    ),
    Case(
        "loop of no length",
        settings("[400, 1500]", "[0, 0]"),
        SETTINGS,
        ("site.toml:{line of [0, 0]}: loops[1].length_m = [0, 0]; allowed: … max above 0",),
    ),
    Case(
        "loop that must take in and avoid the same",
        settings("[400, 1500]", '[400, 1500]\nmust = ["T2"]\navoid = ["T2"]'),
        SETTINGS,
        ('site.toml:{line of must}: loops[1].must: "T2": is in avoid too; allowed: either must or avoid',),
    ),
    Case(
        "loop past things that are not there",
        settings("[400, 1500]", '[400, 1500]\nmust = ["Brwo"]\navoid = ["T2", "zzz"]'),
        SETTINGS,
        (
            'site.toml:{line of must}: loops[1].must: "Brwo": no segment, … allowed: … did you mean "Brow"?',
            'site.toml:{line of avoid}: loops[1].avoid: "zzz": no segment, trail, place or obstacle',
        ),
    ),
    Case(
        "unknown trailhead",
        settings('"Yard"', '"Yrd"'),
        DATA,
        ('site.toml:{line of "Yrd"}: site.trailhead: no place is called … Brow, Top, Yard; did you mean "Yard"?',),
    ),
    Case(
        "trailhead far from the network",
        settings('"Yard"', "[612060.0, 5272070.0]"),
        DATA,
        ("site.toml:{line of 5272070}: site.trailhead: (612060, 5272070) is 9806 m … at most 50 m; the network",),
    ),
    # ---- missing files
    Case(
        "no vehicle file",
        settings("vehicles/tarn.toml", "vehicles/tern.toml"),
        NO_INPUT,
        ('site.toml:{line of tern}: setups[1].vehicle = "vehicles/tern.toml": no such … mean "tarn.toml"?',),
    ),
    Case(
        "no network file",
        settings('"trails.geojson"', '"trail.geojson"'),
        NO_INPUT,
        ('site.toml:{line of trail.}: inputs.network[1] = "trail.geojson": no such … mean "trails.geojson"?',),
    ),
    Case(
        "no elevation model",
        remove("terrain.asc"),
        NO_INPUT,
        ('site.toml:{line of terrain.asc}: inputs.elevation[1] = "terrain.asc": no such file; looked for /',),
    ),
    Case(
        "a folder for a file",
        settings('"terrain.asc"', '"vehicles"'),
        NO_INPUT,
        ('site.toml:{line of "vehicles"}: inputs.elevation[1] = "vehicles": is a folder; allowed: a file',),
    ),
    Case(
        "shapefile without its index",
        every(network_in("t.shp"), remove("t.shx")),
        NO_INPUT,
        ("t.shp: t.shx missing beside it; copy all files of the Shapefile together",),
    ),
    # ---- elevation models
    Case(
        "elevation model without a CRS",
        remove("terrain.prj"),
        DATA,
        ("terrain.asc: no coordinate reference system; allowed: a projected or geographic CRS; … gdal_edit.py -a_srs",),
    ),
    Case(
        "elevation model beside the network",
        edit("terrain.asc", "xllcorner 612000", "xllcorner 712000"),
        DATA,
        ("terrain.asc: lies beside the network: … check its CRS, or take it out of the settings",),
    ),
    Case(
        "elevation model without a height",
        elevation(lambda z: np.full_like(z, -9999.0)),
        DATA,
        ("t.tif: holds no height under any trail: … allowed: heights under the trails; check its CRS and its nodata",),
    ),
    Case(
        "elevation model of unmarked voids",
        elevation(np.zeros_like),
        DATA,
        ("t.tif: every height under the trails is exactly 0; … gdal_edit.py -a_nodata 0",),
    ),
    Case(
        "elevation model that is noise",
        content("terrain.asc", b"\x00\x01noise" * 99),
        DATA,
        ("terrain.asc: cannot be read as an elevation model ( … ); copy it again",),
    ),
    Case(
        "elevation model cut off",
        cut("terrain.asc"),
        DATA,
        ("terrain.asc:columns … rows … damaged or cut off: … again",),
    ),
    Case(
        "raster cut off",
        every(elevation(), cut("t.tif")),
        DATA,
        ("t.tif:columns … rows … damaged or cut off: heights cannot be read ( … ); copy it again",),
    ),
    Case(
        "picture for an elevation model",
        elevation(lambda z: np.zeros((3, *z.shape), dtype=np.uint8), nodata=None),
        DATA,
        ("t.tif: 3 bands; allowed: one band of heights; keep the band with the heights: gdal_translate",),
    ),
    Case(
        "heights in an unsaid unit",
        elevation(crs="EPSG:2263"),
        DATA,
        ("t.tif: a CRS in feet, and no word on the unit of the heights; allowed: a named unit; … -units ft",),
    ),
    # ---- the network
    Case(
        "GeoPackage cut off",
        every(network_in("t.gpkg"), cut("t.gpkg")),
        DATA,
        ("t.gpkg: the file is damaged or cut off ( … ); copy it again",),
    ),
    Case(
        "empty file", every(network_in("t.gpkg"), content("t.gpkg", b"")), DATA, ("t.gpkg: the file is empty; copy it",)
    ),
    Case(
        "several layers of lines, none named",
        every(network_in("t.gpkg", layer="trails"), more_trails("t.gpkg", "fences")),
        DATA,
        ('t.gpkg: 2 layers hold lines; allowed: one … trails ( … ), fences ( … ); name the layer … "t.gpkg:trails"',),
    ),
    Case(
        "misspelt layer",
        every(network_in("t.gpkg", layer="trails"), settings("t.gpkg", "t.gpkg:trials")),
        DATA,
        ("t.gpkg: layer 'trials' is not in the file; allowed: trails ( … ); did you mean \"trails\"?",),
    ),
    Case(
        "GeoJSON with projected coordinates",
        geojson("trails.geojson", projected),
        DATA,
        ("trails.geojson:feature 0: coordinates (612060, 5262070) are not degrees, … allowed: … ogr2ogr -a_srs",),
    ),
    Case(
        "GeoJSON cut off", cut("trails.geojson"), DATA, ("trails.geojson: cannot be read: … At line … ; copy it again",)
    ),
    Case(
        "web page for a file",
        content("trails.geojson", "<html>404</html>"),
        DATA,
        ("trails.geojson: what is in it is not",),
    ),
    Case(
        "shapefile without a CRS",
        every(network_in("t.shp"), remove("t.prj")),
        DATA,
        ("t.shp: the coordinate reference system is not given; … copy t.prj beside it; … ogr2ogr -a_srs",),
    ),
    Case(
        "GPX cut off",
        every(settings("trails.geojson", "t.gpx"), content("t.gpx", (HEAD + GPX)[:900])),
        DATA,
        ("t.gpx:line … column … damaged: … allowed: well-formed XML; export it again",),
    ),
    Case(
        "GPX with entities that blow up",
        every(settings("trails.geojson", "t.gpx"), content("t.gpx", HEAD + BOMB + GPX.replace("<name>a", "<name>&b;"))),
        DATA,
        ("t.gpx:line 2, column … refused: a document type declaration",),
    ),
    Case(
        "unknown kind of file",
        every(settings("trails.geojson", "t.kml"), content("t.kml", "<kml/>")),
        DATA,
        ("t.kml: unknown kind of file '.kml'; allowed: .gpkg | … export it as GeoPackage or GeoJSON",),
    ),
    Case(
        "network without a feature",
        content("trails.geojson", '{"type": "FeatureCollection", "features": []}'),
        DATA,
        ("trails.geojson: no trail is left: it holds no feature; allowed: at least one line",),
    ),
    Case(
        "network of points",
        lambda site: shutil.copy(site / "obstacles.geojson", site / "trails.geojson"),
        DATA,
        ("trails.geojson: no layer holds lines; allowed: one … (Point)",),
    ),
    Case(
        "network of lines without length",
        network_in("t.gpkg", change=lambda trails: trails.set_geometry([shapely.LineString([(10.5, 47.5)] * 2)] * 6)),
        DATA,
        ("t.gpkg: no trail is left: all its points are in one place; allowed: at least one line",),
    ),
    Case(
        "coordinates beyond every map",
        network_in("t.gpkg", change=far_away),
        DATA,
        ("t.gpkg:feature 1: coordinates (1e+300, 5.26207e+06) lie beyond every map … redraw the feature or delete it",),
    ),
    Case(
        "coordinates that are no numbers",
        geojson("trails.geojson", first_line(lambda points: [[float("nan")] * 2, *points[1:]])),
        DATA,
        ("trails.geojson:feature 0: a coordinate that is no number; allowed: finite numbers; redraw",),
    ),
    Case(
        "width that is none",
        edit("trails.geojson", '"width": "3.4"', '"width": "wide"'),
        DATA,
        ("trails.geojson:feature 0 (T1): width = 'wide'; allowed: 0.3 to 100 m, … correct it, or clear it",),
    ),
    Case(
        "width in millimetres",
        edit("trails.geojson", '"width": "3.4"', '"width": 3400'),
        DATA,
        ("trails.geojson:feature 0 (T1): width = '3400'; allowed: 0.3 to 100 m",),
    ),
    Case(
        "date that is none",
        edit("trails.geojson", "2026-03-20", "2026-02-30"),
        DATA,
        ("trails.geojson:feature 0 (T1): surveyed_on = '2026-02-30'; allowed: a date as 2025-05-31; correct it",),
    ),
    Case(
        "survey-grade line without heights",
        geojson("trails.geojson", first_line(lambda points: points, profile="survey")),
        DATA,
        ("trails.geojson:feature 0 (T1): profile = survey, but 39 of 39 vertices have no height … add the heights",),
    ),
    Case(
        "survey-grade line with some heights",
        geojson(
            "trails.geojson",
            first_line(lambda ps: [[*p, 430.0][: 2 + k % 2] for k, p in enumerate(ps)], profile="survey"),
        ),
        DATA,
        ("trails.geojson:feature 0 (T1): profile = survey, but 20 of 39 vertices have no height",),
    ),
    Case(
        "survey-grade heights in millimetres",
        geojson("trails.geojson", first_line(lambda points: [[*p, 430_000.0] for p in points], profile="survey")),
        DATA,
        ("trails.geojson:feature 0 (T1): profile = survey, but heights reach 430000 m; allowed: -500 to 9000 m",),
    ),
    # ---- obstacles
    Case(
        "unknown kind of obstacle",
        edit("obstacles.geojson", '"kind": "rock"', '"kind": "rok"'),
        DATA,
        (f"obstacles.geojson:feature 3 (O4): kind = 'rok'; {KINDS} … did you mean \"rock\"?; correct it",),
    ),
    Case(
        "obstacle without a kind",
        edit("obstacles.geojson", '"kind": "rock", ', ""),
        DATA,
        (f"obstacles.geojson:feature 3 (O4): kind is missing; {KINDS} … say what it is",),
    ),
    Case(
        "trailhead of an unknown kind",
        edit("obstacles.geojson", '"kind": "trailhead"', '"kind": "trialhead"'),
        DATA,
        ("obstacles.geojson:feature 0 (O1): kind = 'trialhead'; … did you mean \"trailhead\"?",),
    ),
    Case(
        "obstacle numbers out of bounds",
        every(
            edit("obstacles.geojson", '"clear_height_m": 2.6', '"clear_height_m": 2600'),
            edit("obstacles.geojson", '"flow_m_s": 0.4', '"flow_m_s": 40'),
        ),
        DATA,
        (
            "obstacles.geojson:feature 5 (O6): flow_m_s = 40; allowed: 0 to 10 m/s, as 0.5",
            "obstacles.geojson:feature 7 (O8): clear_height_m = 2600; allowed: 0.3 to 100 m",
        ),
    ),
    Case(
        "water below nothing and as deep as a word",
        every(
            edit("obstacles.geojson", '"depth_m": 0.25, "flow_m_s": 0.4', '"depth_m": -0.25, "flow_m_s": -0.4'),
            edit("trails.geojson", '"width": "3.4"', '"ford": "yes", "depth": "knee"'),
        ),
        DATA,
        (
            "trails.geojson:feature 0 (T1): depth = 'knee'; allowed: 0 to 5 m, as 2.5, … correct it, or clear it",
            "obstacles.geojson:feature 5 (O6): depth_m = -0.25; allowed: 0 to 5 m, … correct it, or clear it",
            "obstacles.geojson:feature 5 (O6): flow_m_s = -0.4; allowed: 0 to 10 m/s, … correct it, or clear it",
        ),
    ),
    Case(
        "obstacle without a position",
        geojson("obstacles.geojson", lambda data: data["features"][3].update(geometry=None)),
        DATA,
        ("obstacles.geojson:feature 3 (O4): an obstacle without a position; allowed: a point, line or polygon",),
    ),
    Case(
        "obstacles of another ground",
        every(geojson("obstacles.geojson", shifted(1.0)), settings('"Yard"', "[612060.0, 5262070.0]")),
        DATA,
        ("obstacles.geojson: none of its 5 obstacles is near a trail; the nearest is 75 … allowed: … check its CRS",),
    ),
    Case(
        "GPX for obstacles",
        every(settings("obstacles.geojson", "t.gpx"), content("t.gpx", HEAD + GPX)),
        DATA,
        ("t.gpx: a .gpx file cannot bring obstacles; allowed: .gpkg | .geojson | .shp",),
    ),
    # ---- several at once
    Case(
        "faults in two survey files",
        every(
            edit("trails.geojson", '"width": "3.4"', '"width": "wide"'),
            edit("obstacles.geojson", '"kind": "rock"', '"kind": "rok"'),
        ),
        DATA,
        ("trails.geojson:feature 0 (T1): width = 'wide'", "obstacles.geojson:feature 3 (O4): kind = 'rok'"),
    ),
    Case(
        "faults in the survey and the elevation model",
        every(edit("trails.geojson", '"width": "3.4"', '"width": "wide"'), remove("terrain.prj")),
        DATA,
        ("trails.geojson:feature 0 (T1): width = 'wide'", "terrain.asc: no coordinate reference system"),
    ),
    Case(
        "faults in two settings files and a missing file",
        every(
            settings("snap_m", "snapp_m"),
            settings("terrain.asc", "terain.asc"),
            LONG,
        ),
        SETTINGS,
        (
            "site.toml:{line of snapp_m}: unknown key terrain.snapp_m",
            "vehicles/tarn.toml: … wheelbase_m = 2850",
            'site.toml:{line of terain.asc}: inputs.elevation[1] = "terain.asc": no such … mean "terrain.asc"?',
        ),
    ),
)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a starter site, to be copied."""
    folder = tmp_path_factory.mktemp("starter") / "site"
    write_starter(folder)
    return folder


@pytest.fixture
def site(starter: Path, tmp_path: Path) -> Path:
    """Give a starter site to break."""
    return Path(shutil.copytree(starter, tmp_path / "site"))


def tree(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield every path below *folder* with a hash of what is in it."""
    for path in sorted(folder.rglob("*")):
        inside = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
        yield str(path.relative_to(folder)), inside


def pattern(said: str, site: Path) -> re.Pattern[str]:
    """Make the pattern of an expected line; the path of the site folder may stand before it."""
    written = (site / "site.toml").read_text(encoding="utf-8", errors="replace") if "{line of" in said else ""

    def number(match: re.Match[str]) -> str:
        return str(next(n for n, line in enumerate(written.splitlines(), 1) if match[1] in line))

    parts = re.sub(r"\{line of (.+?)\}(?=[:;])", number, said).split(" … ")
    return re.compile(f"{re.escape(str(site))}/" + ".*".join(re.escape(part.strip()) for part in parts))


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_broken_input(case: Case, site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status, one line a fault with file, place and the way out, nothing on stdout, and not a byte written."""
    case.spoil(site)
    before = list(tree(site.parent))
    for command in ("check", "build"):
        assert run([command, str(site / "site.toml"), "--quiet"]) == case.status
        out, err = capsys.readouterr()
        assert out == ""
        lines = err.splitlines()
        assert len(lines) == len(case.said), err
        for line, said in zip(lines, case.said, strict=True):
            assert pattern(said, site).match(line), f"{line}\n{said}"
        assert list(tree(site.parent)) == before


@pytest.mark.parametrize(
    ("spoil", "arguments", "status", "said"),
    [
        (
            edit("limits.toml", "compliance_share = ", "compliance_share = 20  # "),
            ["tarn.toml", "--limits", "limits.toml"],
            SETTINGS,
            "limits.toml: … compliance_share = 20; allowed: a number from 0 to 0.5",
        ),
        (
            left_out("limits.toml", "share.practised"),
            ["tarn.toml", "--json", "--limits", "limits.toml"],
            SETTINGS,
            "limits.toml: [share.practised] missing; allowed: a table for every driver",
        ),
        (remove("limits.toml"), ["tarn.toml", "--limits", "limits.toml"], NO_INPUT, "limits.toml: no such file"),
        (remove("terrain.asc"), ["tarn.toml", "--limits", "."], NO_INPUT, ": is a folder; allowed: a TOML file"),
        (LONG, ["tarn.toml", "--measure"], SETTINGS, "vehicles/tarn.toml: … 2850; … metres, not millimetres: 2.85?"),
        (
            remove("vehicles/tarn.toml"),
            ["tarn.toml", "--measure"],
            NO_INPUT,
            "vehicles/tarn.toml: no such file",
        ),
    ],
    ids=["limits", "limits, JSON", "no limits", "a folder for limits", "sheet of a broken file", "sheet of no file"],
)
def test_broken_input_of_the_vehicle_command(
    spoil: Spoil, arguments: list[str], status: int, said: str, site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """So for `vehicle`: status, one line, no half report, no half sheet."""
    spoil(site)
    files = {"tarn.toml": site / "vehicles" / "tarn.toml", "limits.toml": site / "limits.toml", ".": site}
    before = list(tree(site))
    assert run(["vehicle", *(str(files.get(argument, argument)) for argument in arguments)]) == status
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert re.match(pattern(said, site).pattern.replace(f"{re.escape(str(site))}/:", f"{re.escape(str(site))}:"), line)
    assert list(tree(site)) == before


def test_the_sheet_takes_no_limits(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sheet with an option of the report is a misuse of the command (status 2, as of the shell's own)."""
    assert run(["vehicle", "--measure", "--limits", str(site / "limits.toml")]) == 2
    assert "--measure prints a page of its own" in capsys.readouterr().err


def test_the_cases_are_all_different() -> None:
    """No kind of fault is counted twice, and there are more kinds than the promised fifteen."""
    assert len({case.name for case in CASES}) == len(CASES) >= 24


def test_nothing_broken(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same site unbroken has no fault: what the cases see comes from what they break."""
    before = list(tree(site))
    assert run(["check", str(site / "site.toml")]) == 0
    assert "no faults found" in capsys.readouterr().out
    assert list(tree(site)) == before
