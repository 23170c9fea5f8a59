"""The shell of the map: folium's parts, without anything from outside and without anything random."""

import base64
import re

from pipeline.products.map_shell import LAYER_NAMES, SiteMap, shell
from tests.products.worlds import GREY_PNG, Picture

PICTURE = Picture(GREY_PNG, "image/png", 8.7, 50.0, 8.8, 50.1)


def test_nothing_is_fetched() -> None:
    """Leaflet rides along as data; folium's jQuery, Bootstrap and icon sheets stay out."""
    parts = shell(PICTURE, canvas=False)
    sources = re.findall(r'(?:src|href)="([^"]{0,40})', parts.header)
    assert len(sources) == 2
    assert all(one.startswith("data:text/") for one in sources)
    for word in ("jquery", "bootstrap", "http:", "https:"):
        assert word not in parts.header.lower().replace("data:text", "")
        assert word not in parts.script.lower()


def test_the_same_shell_every_time() -> None:
    """Folium's random ids are replaced by fixed ones."""
    assert shell(PICTURE, canvas=False) == shell(PICTURE, canvas=False)


def test_layers_have_the_names_the_script_reaches_for() -> None:
    """The page's own script fills them by these names."""
    parts = shell(PICTURE, canvas=False)
    for key, name in LAYER_NAMES.items():
        assert f"var feature_group_{key} = " in parts.script
        assert f'"{name}" : feature_group_{key}' in parts.script
    assert "var map_site = L.map(" in parts.script
    assert 'id="map_site"' in parts.html


def test_the_relief_lies_where_it_belongs() -> None:
    """South-west and north-east corner, as latitude and longitude; the picture inside the page."""
    parts = shell(PICTURE, canvas=False)
    assert "[[50.0, 8.7], [50.1, 8.8]]" in parts.script
    assert "data:image/png;base64," + base64.b64encode(GREY_PNG).decode() in parts.script


def test_no_relief_no_picture() -> None:
    """A site without elevation has a plain ground."""
    parts = shell(None, canvas=False)
    assert "imageOverlay" not in parts.script
    assert "Relief" not in parts.script


def test_canvas_is_asked_for_in_large_networks() -> None:
    """Leaflet's preferCanvas."""
    assert '"preferCanvas": true' in shell(None, canvas=True).script
    assert '"preferCanvas": false' in shell(None, canvas=False).script


def test_foliums_own_lists_are_left_alone() -> None:
    """The class-level lists belong to every map of the process."""
    assert SiteMap.default_js is not SiteMap.__mro__[2].default_js
    assert any("jquery" in name for name, _ in SiteMap.__mro__[2].default_js)
