"""The working CRS, and bringing layers into it.

Outside check: UTM zones as geopandas.estimate_utm_crs finds them; coordinates of EPSG guidance.
"""

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import CRS

from pipeline.survey.crs import bounds_of, check_coordinates, is_metric, to_working, working_crs
from pipeline.survey.findings import Findings
from tests.survey.worlds import UTM, at, found, layer, objects, repaired

DEGREES = "EPSG:4326"


def lonlat(longitude: float, latitude: float) -> shapely.LineString:
    """Draw a short line in degrees."""
    return shapely.LineString([(longitude, latitude), (longitude + 0.001, latitude + 0.001)])


@pytest.mark.parametrize(
    ("code", "metric"), [(32632, True), (25832, True), (27700, True), (4326, False), (2263, False), (3857, True)]
)
def test_metric(code: int, metric: bool) -> None:  # noqa: FBT001 — the expected answer
    """Projected in metres is metric; degrees and US survey feet are not."""
    assert is_metric(CRS.from_epsg(code)) is metric


def test_the_wanted_crs_counts() -> None:
    """A CRS of the settings is taken whatever the files say; its height part is left off."""
    findings = Findings()
    chosen = working_crs("EPSG:25833+5783", [layer([at((0, 0), (9, 0))])], findings)
    assert chosen is not None
    assert chosen.to_epsg() == 25833
    assert not findings.faults


@pytest.mark.parametrize(
    ("wanted", "message"),
    [("EPSG:4326", "not projected in metres"), ("EPSG:2263", "not projected in metres"), ("EPSG:1", "no CRS")],
)
def test_unfit_crs(wanted: str, message: str) -> None:
    """A CRS in degrees or feet, or one that does not exist, is a fault of the setting."""
    findings = Findings()
    assert working_crs(wanted, [layer([at((0, 0), (9, 0))])], findings) is None
    assert message in found(findings)
    assert "[site] crs" in found(findings)


def test_first_metric_crs_of_the_network() -> None:
    """Without a wish the first metric CRS of the network is taken, though a file in degrees comes first."""
    layers = [layer([lonlat(9, 48)], crs=DEGREES), layer([at((0, 0), (9, 0))], crs="EPSG:25832")]
    chosen = working_crs(None, layers, Findings())
    assert chosen is not None
    assert chosen.to_epsg() == 25832


@pytest.mark.parametrize(
    ("longitude", "latitude"), [(9.0, 48.0), (-122.3, 37.8), (151.2, -33.9), (5.3, 60.4), (15.6, 78.2), (179.9, -17.0)]
)
def test_zone_against_geopandas(longitude: float, latitude: float) -> None:
    """A network in degrees is worked in its UTM zone, Norway's and Svalbard's odd ones too."""
    shape = lonlat(longitude, latitude)
    chosen = working_crs(None, [layer([shape], crs=DEGREES)], Findings())
    assert chosen == gpd.GeoSeries([shape], crs=DEGREES).estimate_utm_crs()


def test_no_zone_at_the_pole() -> None:
    """Where no zone reaches, a CRS must be named."""
    findings = Findings()
    assert working_crs(None, [layer([lonlat(0, 89)], crs=DEGREES)], findings) is None
    assert "name a CRS" in found(findings)


def test_projected_coordinates_taken_for_degrees() -> None:
    """A GeoJSON in metres without a CRS member reads as degrees (RFC 7946): refused with the way out."""
    findings = Findings()
    assert not check_coordinates(layer([at((0, 0), (9, 0))], crs=DEGREES, source="t.geojson"), findings)
    text = found(findings)
    assert "t.geojson:feature 1: coordinates (500000, 5400000) are not degrees" in text
    assert "ogr2ogr -a_srs" in text


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_coordinates_that_are_no_numbers(bad: float) -> None:
    """NaN and infinity are faults of their features."""
    findings = Findings()
    with np.errstate(invalid="ignore"):
        shapes = [at((0, 0), (9, 0)), shapely.LineString([(0, 0), (bad, 1), (2, 2)])]
    assert not check_coordinates(layer(shapes), findings)
    assert "feature 2: a coordinate that is no number" in found(findings)


def test_reprojection_keeps_heights() -> None:
    """Only the plane is moved; 9° E on the equator is the zone's central meridian: x = 500 000 m, y = 0."""
    shapes = [shapely.LineString([(9, 0, 321.0), (9, 0.001, 322.0)]), lonlat(9, 0), None]
    moved = to_working(layer(shapes, crs=DEGREES), CRS.from_epsg(32632), Findings())
    assert moved is not None
    assert moved.shapes[0].coords[0] == pytest.approx((500_000.0, 0.0, 321.0), abs=1e-3)
    assert not moved.shapes[1].has_z
    assert moved.shapes[2] is None


def test_height_part_of_a_crs_is_left_alone() -> None:
    """A layer in the same plane CRS with heights is not moved at all."""
    shape = at((0, 0, 100), (9, 0, 101))
    moved = to_working(layer([shape], crs="EPSG:25832+5783"), CRS.from_epsg(25832), Findings())
    assert moved is not None
    assert moved.shapes[0].equals_exact(shape, 0.0)


def test_outside_the_area() -> None:
    """Coordinates that the working CRS cannot hold are a fault of the file."""
    findings = Findings()
    assert to_working(layer([lonlat(9, 90)], crs=DEGREES), CRS.from_epsg(3857), findings) is None
    assert "coordinates outside the area" in found(findings)


def test_rough_datum_shift_is_recorded() -> None:
    """NAD 27 to WGS 84 without the shift grid is good to metres only: that is on the record; WGS 84 to UTM is exact."""
    findings = Findings()
    moved = to_working(layer([lonlat(-100, 40)], crs="EPSG:4267"), CRS.from_epsg(32614), findings)
    assert moved is not None
    assert repaired(findings) == ["rough datum shift"]
    assert "NAD27" in findings.repairs[0].detail
    exact = Findings()
    to_working(layer([lonlat(9, 48)], crs=DEGREES), CRS.from_user_input(UTM), exact)
    assert not exact.repairs


def test_bounds() -> None:
    """Bounds of nothing are none."""
    assert bounds_of(objects([None])) is None
    assert bounds_of(objects([])) is None


def test_mercator_of_the_web_is_not_worked_in() -> None:
    """It is metric by name only: 1 / cos(latitude) too long. Wanted it is a fault, met in a file it is left for UTM.

    Source of the scale: Snyder, Map Projections: A Working Manual (USGS 1395), spherical Mercator, h = k = sec φ.
    """
    shapes = gpd.GeoSeries([lonlat(9, 48)], crs=DEGREES).to_crs(3857)
    chosen = working_crs(None, [layer(list(shapes), crs="EPSG:3857")], Findings())
    assert chosen is not None
    assert chosen.to_epsg() == 32632
    findings = Findings()
    assert working_crs("EPSG:3857", [layer([lonlat(9, 48)], crs=DEGREES)], findings) is None
    (fault,) = findings.faults
    off = float(fault.found.split("lengths are ")[1].split(" %")[0])
    assert off == pytest.approx(100.0 * (1.0 / math.cos(math.radians(48.0)) - 1.0), abs=0.6)  # on the ellipsoid


def test_zone_of_another_country_is_refused() -> None:
    """Six zones away lengths are several per cent wrong; the neighbouring zone is true enough (UTM: k₀ = 0.9996)."""
    network = [layer([lonlat(9, 48)], crs=DEGREES)]
    assert working_crs("EPSG:32633", network, Findings()) is not None
    findings = Findings()
    assert working_crs("EPSG:32638", network, findings) is None
    assert "where the network lies: lengths are" in found(findings)


def test_coordinates_beyond_every_map() -> None:
    """Metres with too many digits are a fault of the feature, not a network a million kilometres long."""
    findings = Findings()
    assert not check_coordinates(layer([at((0, 0), (9, 0)), shapely.LineString([(0, 0), (1e12, 5e6)])]), findings)
    (fault,) = findings.faults
    assert fault.place == "feature 2"
    assert "(1e+12, 5e+06) lie beyond every map" in fault.found


def test_wild_degrees_of_a_handheld() -> None:
    """A GPX file has no other CRS that it could be told to be in."""
    findings = Findings()
    assert not check_coordinates(
        layer([shapely.LineString([(9, 148), (9, 48)])], crs=DEGREES, source="t.gpx"), findings
    )
    assert "longitude 9, latitude 148" in found(findings)
    assert "ogr2ogr" not in found(findings)
