"""The page of the measuring sheet as text: complete by itself, escaped, filled in only where nothing is measured."""

import json
from html import unescape
from html.parser import HTMLParser

import pytest

from pipeline.terms import CAUTION
from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.sheet import measuring_sheet
from pipeline.vehicle.sheet_rows import GROUPS, PLATE
from tests.vehicle.worlds import EXTRAS, PUBLISHED, box

HOSTILE = "</title></script><img src=x onerror=alert(1)>\"' {{7*7}} {% raw %}"


class Page(HTMLParser):
    """The elements of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.data: dict[str, str] = {}
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        given = {name: value or "" for name, value in attrs}
        self.tags.append((tag, given))
        self._inside = given.get("id") or tag

    def handle_data(self, data: str) -> None:
        """Note the text of an element."""
        self.data[self._inside] = self.data.get(self._inside, "") + data

    def inputs(self) -> dict[str, dict[str, str]]:
        """Give the boxes by id."""
        return {given["id"]: given for tag, given in self.tags if tag == "input" and "id" in given}


@pytest.mark.parametrize("vehicle", [None, box(EXTRAS), box(PUBLISHED), box(name=HOSTILE)])
def test_nothing_is_asked_from_outside(vehicle: Vehicle | None) -> None:
    """No element that loads anything, a policy that would forbid it, one script and one block of data."""
    page = Page(measuring_sheet(vehicle))
    kinds = [tag for tag, _ in page.tags]
    assert not {"img", "link", "iframe", "object", "embed", "base"} & set(kinds)
    assert kinds.count("script") == 2
    assert not any("src" in given or "srcset" in given for _, given in page.tags)
    policy = next(given["content"] for tag, given in page.tags if given.get("http-equiv"))
    assert policy.startswith("default-src 'none'")
    assert "url(" not in page.data["style"]


def test_page_is_ascii() -> None:
    """Whatever the locale of the shell that it is printed in, the bytes are the same; names keep their letters."""
    text = measuring_sheet(box(name="Höhe − 1"))
    assert text.isascii()
    assert Page(text).inputs()["name"]["value"] == "Höhe − 1"


def test_hostile_name_is_text() -> None:
    """Markup in a name is shown, never taken for markup; templates are not filled."""
    text = measuring_sheet(box(name=HOSTILE))
    page = Page(text)
    assert page.inputs()["name"]["value"] == HOSTILE
    assert page.data["title"].startswith(f"Measuring sheet: {HOSTILE}")
    assert "onerror=alert(1)>" not in text.replace("&gt;", "")


def test_only_what_is_not_measured_is_filled_in() -> None:
    """Name, rated mass and fording depth stand in their boxes; every measured box is empty."""
    boxes = Page(measuring_sheet(box(gvm_kg=2900.0))).inputs()
    filled = {name: given["value"] for name, given in boxes.items() if given.get("value")}
    assert filled == {"name": "Box", "gvm": "2900", "ford": "600"}
    measured = {row.letter for group in GROUPS for row in group} - {row.letter for row in PLATE}
    assert measured <= set(boxes)


def test_choices_are_those_of_the_file() -> None:
    """Driven wheels, low range and changes are ticked as the file has them, and not at all without one."""
    vehicle = box(drive="2wd-rear", low_range=False, modified=True, source="maker")
    ticked = [given for tag, given in Page(measuring_sheet(vehicle)).tags if tag == "input" and "checked" in given]
    assert [(given["name"], given["value"]) for given in ticked] == [
        ("drive", "2wd-rear"),
        ("low", "false"),
        ("modified", "true"),
    ]
    assert not any("checked" in given for _, given in Page(measuring_sheet(None)).tags)


def test_caution_and_law_stand_on_it() -> None:
    """The caution with the site's rules, local law and a qualified instructor; nothing is called safe."""
    text = measuring_sheet(None)
    assert CAUTION.replace("'", "&#39;") in text
    assert "work for a workshop" in text
    assert "safe" not in text.lower().replace("unsafe-inline", "")


def test_old_figures_stand_beside_their_boxes() -> None:
    """In grey and in the unit of the box: whole millimetres, metres of the circle, rows of hard points."""
    text = unescape(measuring_sheet(box()))
    for shown in ("2800", "380", "12", "450", "1100", "900, 450", "−3900, 350"):
        assert f'<td class="was">{shown}</td>' in text
    assert 'class="was"' not in measuring_sheet(None)


def test_data_block_is_json() -> None:
    """The script's bounds and tables can be read, with no markup in them."""
    page = Page(measuring_sheet(box('[loads."</script>"]\nmass_kg = 9\nat_m = [-1, 0, 1]\n')))
    spec = json.loads(page.data["spec"])
    assert spec["tables"][0]["toml"].startswith('[loads."</script>"]\nmass_kg = 9.0\n')
    assert next(row for row in spec["rows"] if row["id"] == "A")["low"] == 1200


def test_the_sheet_warns_of_what_the_old_file_warns_of() -> None:
    """Maker's figures on a modified vehicle stand in grey on the sheet: it says that they are no measurement."""
    words = "was modified but its figures are the maker's: measure it as it stands."
    assert words in unescape(measuring_sheet(box(EXTRAS, modified=True, source="maker")))
    assert words not in unescape(measuring_sheet(box(EXTRAS, modified=True, source="measured")))
    assert words not in unescape(measuring_sheet(None))
