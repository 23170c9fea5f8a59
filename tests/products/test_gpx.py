"""``loops.gpx`` against the rules of the GPX 1.1 schema, and against the tables it comes from."""

from dataclasses import replace

import gpxpy
import numpy as np
import pytest
from lxml import etree

from pipeline.products.facts import Facts
from pipeline.products.gpx import gpx_text, loop_title
from pipeline.products.lines import lon_lat
from pipeline.products.plain import CAUTION, clean
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, mixed, no_loops

NAMESPACE = "http://www.topografix.com/GPX/1/1"

# GPX 1.1 schema (http://www.topografix.com/GPX/1/1/gpx.xsd): each type is an xsd:sequence, so that children
# "must appear in this order"; the lists are the sequences of gpxType, metadataType, wptType, trkType, trksegType.
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"],
    "wpt": [
        *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat"),
        *("hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
    ],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
}
ORDER["trkpt"] = ORDER["wpt"]
MANY = {"wpt", "rte", "trk", "trkseg", "trkpt", "link"}
"""Children that may stand more than once (maxOccurs unbounded)."""


def _tree(facts: Facts) -> etree._Element:
    return etree.fromstring(gpx_text(facts).encode())


def _check(element: etree._Element) -> None:
    """Hold one element, and all below it, against the sequence of its type."""
    name = etree.QName(element)
    assert name.namespace == NAMESPACE
    if name.localname not in ORDER:
        assert len(element) == 0
        return
    order = ORDER[name.localname]
    children = [etree.QName(child).localname for child in element]
    places = [order.index(child) for child in children]
    assert places == sorted(places), f"{name.localname}: {children}"
    for child in set(children) - MANY:
        assert children.count(child) == 1, f"{name.localname} has {child} more than once"
    for child in element:
        _check(child)


@pytest.mark.parametrize(
    "facts", [make_facts(), hostile_facts(), no_loops(make_facts())], ids=["plain", "hostile", "none"]
)
def test_every_element_stands_where_the_schema_wants_it(facts: Facts) -> None:
    """Order, number and namespace of all elements; root attributes fixed by gpxType."""
    root = _tree(facts)
    assert root.get("version") == "1.1"
    assert root.get("creator")
    _check(root)


def test_points_keep_the_ranges_of_the_schema() -> None:
    """LatitudeType is −90…90, longitudeType −180 inclusive…180 exclusive, ele a decimal; NaN is none of them."""
    root = _tree(make_facts())
    points = root.findall(f".//{{{NAMESPACE}}}trkpt")
    assert len(points) > 100
    for point in points:
        assert -90 <= float(point.get("lat")) <= 90
        assert -180 <= float(point.get("lon")) < 180
        assert "e" not in point.get("lat").lower()
    assert all(np.isfinite(float(ele.text)) for ele in root.iter(f"{{{NAMESPACE}}}ele"))


def test_a_point_without_height_has_no_ele() -> None:
    """Heights that are not known are left out, not written as zero or NaN."""
    facts = make_facts()
    facts.stations.loc[facts.stations["segment_id"] == "s2", "z_m"] = np.nan
    segments = _tree(facts).find(f"{{{NAMESPACE}}}trk").findall(f"{{{NAMESPACE}}}trkseg")
    counts = [len(segment.findall(f".//{{{NAMESPACE}}}ele")) for segment in segments]
    assert counts[0] > 0
    assert counts[1] == 0
    assert counts[2] > 0


def test_no_routes() -> None:
    """Handhelds route an ``rte`` anew: none may be in the file."""
    assert not _tree(make_facts()).findall(f".//{{{NAMESPACE}}}rte")


def test_tracks_say_what_the_tables_say() -> None:
    """One track a loop, one segment a leg, ends where the legs' lines end, heights as the stations have them."""
    facts = make_facts()
    gpx = gpxpy.parse(gpx_text(facts))
    assert [track.name for track in gpx.tracks] == ["Hill round", "Hill round, alternative 1"]
    lines = facts.segments.set_index("segment_id").geometry
    for track, rank in zip(gpx.tracks, (1, 2), strict=True):
        legs = facts.legs[facts.legs["rank"] == rank]
        assert len(track.segments) == len(legs)
        for segment, leg in zip(track.segments, legs.itertuples(), strict=True):
            line = np.array(lines[leg.segment_id].coords)
            ends = line[[0, -1]] if leg.direction == "with" else line[[-1, 0]]
            written = [(point.longitude, point.latitude) for point in (segment.points[0], segment.points[-1])]
            assert np.allclose(written, lon_lat(ends, facts.crs), atol=1e-7)
            stations = facts.stations[facts.stations["segment_id"] == leg.segment_id]
            first = stations["z_m"].iloc[0 if leg.direction == "with" else -1]
            assert segment.points[0].elevation == pytest.approx(first, abs=0.006)


def test_track_length_agrees_with_the_table() -> None:
    """Length on the ellipsoid by gpxpy against plan length in UTM: the scale factor of UTM is within 0.1 %."""
    facts = make_facts()
    gpx = gpxpy.parse(gpx_text(facts))
    measured = sum(segment.length_2d() for segment in gpx.tracks[0].segments)
    assert measured == pytest.approx(facts.loops["length_m"].iloc[0], rel=5e-3)


def test_calls_are_waypoints_at_their_places() -> None:
    """Each call: number, distance, what to do, the spotter, at the place of the table."""
    facts = make_facts()
    gpx = gpxpy.parse(gpx_text(facts))
    assert len(gpx.waypoints) == len(facts.calls)
    for waypoint, call in zip(gpx.waypoints, facts.calls.itertuples(), strict=True):
        assert waypoint.name == f"Hill round {call.call}"
        assert clean(call.coming) in waypoint.description
        assert ("Spotter" in waypoint.description) == call.spotter
        place = lon_lat(np.array([[call.geometry.x, call.geometry.y]]), facts.crs)[0]
        assert np.allclose([waypoint.longitude, waypoint.latitude], place, atol=1e-7)


def test_hostile_names_come_back_as_they_were() -> None:
    """Markup in a name stays text; what XML cannot carry is U+FFFD."""
    gpx = gpxpy.parse(gpx_text(hostile_facts()))
    assert gpx.name == HOSTILE[0]
    assert clean(HOSTILE[1]) in gpx.waypoints[1].description


def test_the_caution_is_in_the_file() -> None:
    """In the file's description and on every track."""
    gpx = gpxpy.parse(gpx_text(make_facts()))
    assert gpx.description == CAUTION
    assert all(track.comment == CAUTION for track in gpx.tracks)


def test_a_way_round_is_a_track_of_its_own() -> None:
    """After its loop, named after who drives it, with the ends of its legs, the caution, and who it is for."""
    facts = mixed(make_facts())
    gpx = gpxpy.parse(gpx_text(facts))
    names = ["Hill round", "Hill round, bypass 1, Long wagon", "Hill round, alternative 1"]
    assert [track.name for track in gpx.tracks] == names
    track = gpx.tracks[1]
    assert track.comment == CAUTION
    assert track.description.startswith("Long wagon only: leaves the loop at 287 m, comes back at 478 m")
    line = np.array(facts.segments.set_index("segment_id").geometry["s4"].coords)
    ends = [(point.longitude, point.latitude) for point in (track.segments[0].points[0], track.segments[-1].points[-1])]
    assert np.allclose(ends, lon_lat(line[[0, -1]], facts.crs), atol=1e-7)


def test_those_who_wait_have_no_track() -> None:
    """They drive nothing."""
    facts = mixed(make_facts())
    gpx = gpxpy.parse(gpx_text(replace(facts, bypasses=facts.bypasses.assign(way=""))))
    assert len(gpx.tracks) == 2


def test_a_track_says_its_laps_weather_and_proof() -> None:
    """A handheld shows the track once; its words say that it is driven twice, and for which weather."""
    facts = make_facts()
    loops = facts.loops.assign(laps=2, outlook="After rain")
    told = gpxpy.parse(gpx_text(replace(facts, loops=loops))).tracks[0].description
    for words in ("the track 2 times over, together 936 m", "bound 41.5", "searched under After rain: ground wet"):
        assert words in told


def test_alternatives_are_named() -> None:
    """Rank 1 bears the loop's own name."""
    assert loop_title("Round", 1) == "Round"
    assert loop_title("Round", 3) == "Round, alternative 2"
