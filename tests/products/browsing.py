"""Headless Chromium for tests of pages: started once, each page with the network cut and every complaint noted."""

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from tests.tools import need

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ARTEFACTS = Path(__file__).parents[1] / "artefacts"
PHONE = {"width": 390, "height": 844}


@contextmanager
def chromium() -> Iterator["Browser"]:
    """Start Chromium; the folder for pictures is there."""
    need(find_spec("playwright") is not None, "playwright is not installed")
    path = "/usr/bin/chromium" if Path("/usr/bin/chromium").exists() else shutil.which("chromium")
    need(path is not None, "Chromium is not installed")
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 — only where it is there

    ARTEFACTS.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@contextmanager
def watched_page(browser: "Browser", height: int) -> Iterator["Page"]:
    """Give a page with the network cut; at the end nothing was asked for and nothing complained of."""
    context = browser.new_context(viewport={"width": 1280, "height": height}, offline=True)
    context.set_default_timeout(8000)
    context.route(re.compile(r"^(?!file:|data:)"), lambda route: route.abort())
    made = context.new_page()
    complaints: list[str] = []
    asked: list[str] = []
    made.on("console", lambda message: complaints.append(message.text))
    made.on("pageerror", lambda error: complaints.append(str(error)))
    made.on("dialog", lambda dialog: (complaints.append(dialog.message), dialog.dismiss()))
    made.on("request", lambda request: asked.append(request.url))
    yield made
    context.close()
    assert complaints == []
    assert [one for one in asked if not one.startswith(("file:", "data:"))] == []
