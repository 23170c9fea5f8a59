"""``map.html``: the whole site on one page that opens from a file, with no network.

folium makes the shell (:mod:`pipeline.products.map_shell`); the data joins it
in one JSON block that the page's script reads and shows as text. The page's
policy forbids it to load or send anything: scripts and styles are admitted
by their hashes, pictures only from the page itself.
"""

import base64
import hashlib

from markupsafe import Markup

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE
from pipeline.products.map_data import map_data
from pipeline.products.map_shell import shell
from pipeline.products.overview import loop_table, overview, verdict_table
from pipeline.products.plain import CAUTION, clean, json_block, stamp
from pipeline.products.sheet_facts import conditions_text
from pipeline.products.templating import render, source, vendored

__all__ = ["map_page"]

_PARTS = ("read", "draw", "profile", "pose", "plan", "water", "checks", "weather", "course", "panel", "start")
_SCRIPTS = tuple(f"map_{part}.js" for part in _PARTS)
"""The page's own script, in the order it is read."""


def map_page(facts: Facts) -> str:
    """Write the map page."""
    parts = shell(facts.hillshade, canvas=len(facts.segments) > LARGE)
    style = "\n" + source("map.css")
    scripts = ("\n" + parts.script + "\n", "\n" + "\n".join(source(name) for name in _SCRIPTS))
    return render(
        "map.html.j2",
        site=clean(facts.site),
        built=stamp(facts.built_at),
        conditions=conditions_text(facts),
        caution=CAUTION,
        warnings=[clean(warning) for warning in facts.warnings],
        setup_warnings=setup_warnings(facts),
        compared=bool(facts.compared or facts.outlooked),
        policy=_policy(scripts, style),
        style=Markup(style),  # noqa: S704 — our own file
        head=Markup(parts.header),  # noqa: S704 — folium's words and ours, none from data
        shell=Markup(parts.html),  # noqa: S704 — the same
        shell_script=Markup(scripts[0]),  # noqa: S704 — the same
        script=Markup(scripts[1]),  # noqa: S704 — our own files
        data=Markup(json_block(map_data(facts))),  # noqa: S704 — every character that HTML knows is escaped in it
        outline=Markup(overview(facts)),  # noqa: S704 — numbers and fixed words only
        table=verdict_table(facts),
        loops=loop_table(facts),
        licence=vendored("leaflet/LICENSE").decode("utf-8").strip(),
    )


def _policy(scripts: tuple[str, ...], style: str) -> str:
    """Admit our scripts and style by hash, the vendored Leaflet as ``data:``, and nothing else at all."""
    hashes = " ".join(_hash(script) for script in scripts)
    return (
        f"default-src 'none'; script-src data: {hashes}; style-src data: {_hash(style)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(content: str) -> str:
    digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode("ascii")
    return f"'sha256-{digest}'"
