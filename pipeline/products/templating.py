"""The templates of the pages: every value is escaped, and a name that is not there is an error."""

from functools import cache
from importlib import resources

import jinja2

__all__ = ["render", "source", "vendored"]


def source(name: str) -> str:
    """Read a template file as it stands."""
    return (resources.files("pipeline.products") / "templates" / name).read_text(encoding="utf-8")


def vendored(name: str) -> bytes:
    """Read a vendored file, such as ``leaflet/leaflet.js``."""
    return (resources.files("pipeline.products") / "templates" / "vendor" / name).read_bytes()


def render(name: str, **values: object) -> str:
    """Fill the template *name*; only values marked as markup by this package go in unescaped."""
    return _environment().get_template(name).render(**values)


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FunctionLoader(source),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
