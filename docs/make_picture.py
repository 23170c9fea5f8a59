"""Make the picture of the map that the README shows, ``docs/map.png``, from the sample site.

Run from the root of the repository, with Chromium and the extra ``[test]`` installed::

    python docs/make_picture.py

The sample site is built into a temporary folder, so no build of yours is touched. The picture shows the practice
loop, and how its first set-up stands on the segment of the loop where it stands most askew.
"""

# ruff: noqa: INP001 — a script, no package

import argparse
import tempfile
import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Page, sync_playwright
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile

from pipeline.build import BuildOptions, build
from pipeline.project import read_project

ROOT = Path(__file__).resolve().parents[1]
COLOURS = 256
GLIDE_MS = 1000
"""The map glides to a new view, and takes no other while it does."""
MOST_ASKEW_OF_LOOP = """number => {
    const driven = [...new Set(SITE.loops[number].legs.map(leg => leg[0]))];
    const askew = segment => {
        const pose = poseOf(segment, worst(segment).key);
        return pose ? Math.abs(pose.roll ?? 0) + Math.abs(pose.pitch) + 10 * (pose.lifted >= 0) : 0;
    };
    return driven.reduce((best, segment) => (askew(segment) > askew(best) ? segment : best));
}"""
"""A wheel in the air counts as much as ten degrees."""


def main() -> None:
    """Build the sample site, open its map and take the picture."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=ROOT / "docs" / "map.png", help="where the picture goes")
    parser.add_argument("--loop", type=int, default=1, help="number of the loop in the map's list, from 0")
    parser.add_argument("--chromium", default="/usr/bin/chromium", help="the browser to use")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        target = Path(folder) / "out"
        build(read_project(ROOT / "configs" / "site.toml"), BuildOptions(out=target), lambda _stage: None)
        browser = playwright.chromium.launch(executable_path=options.chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1400, "height": 1240})
        page.goto((target / "map.html").as_uri())
        open_segment(page, options.loop)
        options.out.write_bytes(lighter(page.screenshot()))
        browser.close()


def open_segment(page: Page, loop: int) -> None:
    """Choose a loop, show the pose on one segment of it, and keep the whole network in view."""
    page.select_option("#loop", str(loop))
    page.wait_for_timeout(GLIDE_MS)
    segment = page.evaluate(MOST_ASKEW_OF_LOOP, loop)
    page.evaluate("segment => { pick(segment, true); bringUp(document.querySelector('#panel .pose')); }", segment)
    page.wait_for_timeout(GLIDE_MS)
    page.evaluate("showAll()")
    page.wait_for_timeout(GLIDE_MS)


def lighter(picture: bytes) -> bytes:
    """Give a PNG of 256 colours, which packs into half the bytes."""
    with warnings.catch_warnings(), MemoryFile(picture) as file:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)  # a picture lies nowhere on the earth
        with file.open() as source:
            pixels = source.read()[:3].astype(np.int64)
        colours, place, count = np.unique(pixels.reshape(3, -1), axis=1, return_inverse=True, return_counts=True)
        palette = common_colours(colours.T, count)
        apart = ((colours.T[:, None, :] - palette[None, :, :]) ** 2).sum(axis=2)
        index = apart.argmin(axis=1)[place].reshape(1, *pixels.shape[1:]).astype(np.uint8)
        _, height, width = index.shape
        with MemoryFile() as out:
            with out.open(driver="PNG", count=1, height=height, width=width, dtype="uint8", zlevel=9) as target:
                target.write(index)
                target.write_colormap(1, {k: tuple(colour) for k, colour in enumerate(palette.tolist())})
            return bytes(out.read())


def common_colours(colours: NDArray[np.int64], count: NDArray[np.int64]) -> NDArray[np.int64]:
    """Choose the palette: of each small cube of colours that occurs most, its commonest colour."""
    order = np.argsort(-count, kind="stable")
    cube = (colours[order] // 8) @ np.array([1024, 32, 1])
    _, first, member = np.unique(cube, return_index=True, return_inverse=True)
    total = np.bincount(member, weights=count[order])
    return colours[order][first[np.argsort(-total, kind="stable")[:COLOURS]]]


if __name__ == "__main__":
    main()
