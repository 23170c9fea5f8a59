"""``drive_sheet.html``: one sheet a loop, for paper: A4, black and white, no network, no script."""

from collections.abc import Sequence

from markupsafe import Markup

from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, WATER_CAUTION, clean
from pipeline.products.sheet_facts import BEFORE_START, Sheet, build_warnings, conditions_text, missing, sheets
from pipeline.products.sheet_ground import CANNOT_STOP
from pipeline.products.templating import render, source

__all__ = ["sheet_page"]


def sheet_page(facts: Facts, made: Sequence[Sheet] | None = None) -> str:
    """Write the page with the sheets of all loops, and the reasons for those not found; *made*: the sheets at hand."""
    return render(
        "sheet.html.j2",
        style=Markup(source("sheet.css")),  # noqa: S704 — our own file
        svg=Markup,  # the pictures are built by pipeline.products.svg, which escapes every text
        site=clean(facts.site),
        caution=CAUTION,
        water_caution=WATER_CAUTION,
        conditions=conditions_text(facts),
        before_start=BEFORE_START,
        cannot_stop=CANNOT_STOP,
        warnings=build_warnings(facts),
        sheets=list(sheets(facts) if made is None else made),
        missing=missing(facts),
    )
