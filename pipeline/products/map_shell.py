"""The map's shell, built by folium from vendored Leaflet: the map, its layers and the layer control.

branca renders what it is given once more as a template, and folium writes
names into script text. So nothing that a person outside this package wrote
passes through here: the shell is made of fixed words and of the relief
picture alone, and all data joins later, in the page's own JSON block.
"""

import base64
from dataclasses import dataclass
from typing import Any, Self

import folium
from folium.template import Template

from pipeline.products.facts import Relief
from pipeline.products.templating import vendored

__all__ = ["LAYER_NAMES", "Shell", "shell"]

LAYER_NAMES = {
    "trails": "Trails",
    "course": "Loop and calls",
    "room": "Lines past tight places",
    "things": "Obstacles and places",
}
"""Id of each layer → what the layer control calls it; the page's script finds it as ``feature_group_<id>``."""
RELIEF_OPACITY = 0.55
"""Any more and the pale end of the ramp drowns in the shading."""


def _data_uri(name: str, media_type: str) -> str:
    return f"data:{media_type};base64,{base64.b64encode(vendored(name)).decode('ascii')}"


class _Fixed:
    """Gives a folium element a fixed id: folium's own are random, and the page must be the same every time."""

    def with_id(self, identity: str) -> Self:
        """Set the id; the script name becomes ``<kind>_<identity>``."""
        self._id = identity
        return self


class _Group(_Fixed, folium.FeatureGroup):
    """A layer that the page's script fills."""


class _Overlay(_Fixed, folium.raster_layers.ImageOverlay):
    """The relief picture."""


class _Control(_Fixed, folium.LayerControl):
    """The list of layers."""


class SiteMap(_Fixed, folium.Map):
    """A folium map that needs nothing but itself: Leaflet rides along, jQuery and Bootstrap stay out."""

    _template = Template(
        """
        {% macro html(this, kwargs) %}
        <div class="folium-map" id="{{ this.get_name() }}" role="application" aria-label="Map of the trails"></div>
        {% endmacro %}
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {{ this.options|tojavascript }});
        {% endmacro %}
        """
    )
    default_js = [  # noqa: RUF012 — folium reads it from the class, and declares it as it is
        ("leaflet", _data_uri("leaflet/leaflet.js", "text/javascript"))
    ]
    default_css = [  # noqa: RUF012 — the same
        ("leaflet_css", _data_uri("leaflet/leaflet.css", "text/css"))
    ]


@dataclass(frozen=True, slots=True)
class Shell:
    """The three parts of the page that folium makes."""

    header: str
    html: str
    script: str


def shell(relief: Relief | None, *, canvas: bool) -> Shell:
    """Build the shell.

    Parameters
    ----------
    relief
        Shaded relief in EPSG:3857; ``None`` for a plain ground.
    canvas
        Draw on a canvas: faster for thousands of lines, but they cannot take the focus.
    """
    site = SiteMap(
        location=[0.0, 0.0],
        tiles=None,
        prefer_canvas=canvas,
        zoom_snap=0.25,
        zoom_delta=0.5,
        max_zoom=22,
        attribution_control=False,
    ).with_id("site")
    if relief is not None:
        _overlay(relief).add_to(site)
    for key, name in LAYER_NAMES.items():
        _Group(name=name).with_id(key).add_to(site)
    _Control(collapsed=True, position="topright").with_id("site").add_to(site)
    figure: Any = site.get_root()
    figure.render()
    return Shell(figure.header.render(), figure.html.render(), figure.script.render())


def _overlay(relief: Relief) -> _Overlay:
    """Lay the relief down by its corners."""
    uri = f"data:{relief.media_type};base64,{base64.b64encode(relief.image).decode('ascii')}"
    bounds = [[relief.south, relief.west], [relief.north, relief.east]]
    return _Overlay(uri, bounds, pixelated=False, opacity=RELIEF_OPACITY, name="Relief").with_id("relief")
