"""``drive_sheet.pdf``: the drive sheet as a PDF, where the extra ``[pdf]`` is installed.

The same texts and pictures as the page go to a Typst template as JSON, so no
name can become markup. Typst brings its own fonts and needs no system
library: the same facts give the same bytes on any machine. Its fonts hold
Latin, Greek and Cyrillic letters; names in other scripts are for the page,
which takes the fonts of the machine that prints it.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from importlib.util import find_spec
from typing import Any, cast

from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, WATER_CAUTION, clean
from pipeline.products.sheet_facts import BEFORE_START, Sheet, build_warnings, conditions_text, missing, sheets
from pipeline.products.sheet_ground import CANNOT_STOP
from pipeline.products.templating import source

__all__ = ["can_write_pdf", "sheet_pdf"]


def can_write_pdf() -> bool:
    """Tell whether the library of the extra ``[pdf]`` can be imported."""
    return find_spec("typst") is not None


def sheet_pdf(facts: Facts, made: Sequence[Sheet] | None = None) -> bytes:
    """Write the drive sheets of all loops as one PDF, A4, black and white; *made*: the sheets at hand.

    Raises
    ------
    ModuleNotFoundError
        When the extra ``[pdf]`` is not installed; ask :func:`can_write_pdf` first.
    """
    import typst  # noqa: PLC0415 — an extra: may be absent

    compiler = typst.Compiler(
        source("sheet.typ").encode(),
        ignore_system_fonts=True,
        sys_inputs={"facts": json.dumps(_document(facts, sheets(facts) if made is None else made), ensure_ascii=False)},
    )
    moment = datetime.fromisoformat(facts.built_at).astimezone(UTC)
    return cast("bytes", compiler.compile(format="pdf", timestamp=moment))


def _document(facts: Facts, made: Iterable[Sheet]) -> Mapping[str, Any]:
    """Everything the template prints."""
    return {
        "site": clean(facts.site),
        "caution": CAUTION,
        "water_caution": WATER_CAUTION,
        "conditions": conditions_text(facts),
        "before_start": BEFORE_START,
        "cannot_stop": CANNOT_STOP,
        "warnings": build_warnings(facts),
        "sheets": [asdict(sheet) for sheet in made],
        "missing": missing(facts),
    }
