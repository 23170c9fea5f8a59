"""Writes the products of a build into a folder."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from pyogrio.errors import DataLayerError, DataSourceError

from pipeline.errors import Fault, OutputError
from pipeline.products.comparison_page import comparison_page
from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.geopackage import write_geopackage
from pipeline.products.gpx import gpx_text
from pipeline.products.map_page import map_page
from pipeline.products.parquet import write_parquet
from pipeline.products.report import report_text
from pipeline.products.sheet_facts import sheets
from pipeline.products.sheet_pdf import can_write_pdf, sheet_pdf

__all__ = ["write_products"]

_SOMETIMES = ("drive_sheet.pdf", "comparisons.html")
"""Files that a build may leave out: those of an older one do not stay behind."""


def write_products(facts: Facts, folder: Path) -> list[Path]:
    """Write every product but the change report and the manifest, which the rebuild owns.

    Parameters
    ----------
    facts
        What the build found out.
    folder
        An existing folder; files of the same names in it are replaced.

    Returns
    -------
    The files written, in the order of the build folder's contract. The same
    facts give the same bytes. ``drive_sheet.pdf`` is among them only where
    the extra ``[pdf]`` is installed, ``comparisons.html`` only where comparisons
    or outlooks were asked for.

    Raises
    ------
    OutputError
        When a file cannot be written.
    """
    try:
        return _write_all(facts, folder)
    except OSError as error:
        raise OutputError(Fault(file=str(error.filename or folder), place="", found=str(error))) from error
    except (DataSourceError, DataLayerError) as error:
        raise OutputError(Fault(file=str(folder / "site.gpkg"), place="", found=str(error))) from error


def _write_all(facts: Facts, folder: Path) -> list[Path]:
    """Write the products; page and PDF are made of the same sheets.

    The PDF is set outside Python, beside the rest.
    """
    made = tuple(sheets(facts))
    texts: tuple[tuple[str, Callable[[Facts], str]], ...] = (
        ("map.html", map_page),
        ("drive_sheet.html", partial(sheet_page, made=made)),
        ("loops.gpx", gpx_text),
        ("report.json", report_text),
    )
    for name in _SOMETIMES:
        (folder / name).unlink(missing_ok=True)
    with ThreadPoolExecutor(1) as beside:
        pdf = beside.submit(sheet_pdf, facts, made) if can_write_pdf() else None
        written = {name: _write_bytes(folder / name, make(facts).encode()) for name, make in texts}
        pages = [written["map.html"], written["drive_sheet.html"]]
        if pdf is not None:
            pages.append(_write_bytes(folder / "drive_sheet.pdf", pdf.result()))
        if facts.compared or facts.outlooked:
            pages.append(_write_bytes(folder / "comparisons.html", comparison_page(facts).encode()))
        package = write_geopackage(facts, folder / "site.gpkg")
        tables = write_parquet(facts, folder)
    return [*pages, written["loops.gpx"], package, *tables, written["report.json"]]


def _write_bytes(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
