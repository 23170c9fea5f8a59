"""Templates: everything is escaped, nothing is silently empty."""

import hashlib
from pathlib import Path

import jinja2
import pytest

from pipeline.products.templating import render, source, vendored

TEMPLATES = Path(__file__).parents[2] / "pipeline" / "products" / "templates"


def test_a_missing_value_is_an_error() -> None:
    """StrictUndefined: a renamed fact breaks the build instead of leaving a hole in the sheet."""
    with pytest.raises(jinja2.UndefinedError):
        render("sheet.html.j2", site="x")


@pytest.mark.parametrize("name", sorted(path.name for path in TEMPLATES.glob("*.*")))
def test_templates_reach_for_nothing_outside(name: str) -> None:
    """No template names a host: the pages must open with no network."""
    text = source(name).replace("http://www.w3.org/2000/svg", "")
    assert "http://" not in text
    assert "https://" not in text
    assert "//cdn" not in text


def test_scripts_never_write_markup() -> None:
    """Texts of the data go in by textContent and text nodes; no sink that parses HTML or code is used."""
    for path in TEMPLATES.glob("*.js"):
        script = path.read_text(encoding="utf-8")
        for sink in (
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "document.write",
            "eval(",
            "new Function",
            "bindPopup",
        ):
            assert sink not in script, f"{path.name} uses {sink}"


def test_leaflet_is_vendored_as_published() -> None:
    """Npm leaflet 1.9.4, dist/leaflet.js: bytes as published, licence beside it.

    The digest was taken from the package as npm delivers it.
    """
    script = vendored("leaflet/leaflet.js")
    assert b"Leaflet 1.9.4" in script
    assert len(script) == 147552
    assert hashlib.sha256(script).hexdigest() == "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a"
    assert b"BSD 2-Clause License" in vendored("leaflet/LICENSE")
