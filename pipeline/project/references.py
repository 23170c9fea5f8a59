"""What the tables of a site file say about each other, and what no single key can tell."""

from collections.abc import Collection, Iterator, Mapping

from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.errors import Fault
from pipeline.project.files import KeyPath, entries
from pipeline.settings import Document, did_you_mean, path_text, value_text

__all__ = ["CHANGES", "aim_faults", "reference_faults"]

CHANGES = ("suspension", "loads", "driver", "wetness", "rain_mm")
"""What a comparison may change."""


def reference_faults(document: Document) -> Iterator[Fault]:
    """Yield every fault between the keys of a site file.

    The document is looked at as it was read, so that these faults are found together with those of single keys;
    what has the wrong type is passed over here.
    """
    yield from _crs_faults(document)
    yield from _condition_faults(document)
    for table in ("setups", "loops", "comparisons", "outlooks"):
        yield from _doubled_names(document, table)
    yield from _loop_faults(document)
    yield from _comparison_faults(document)
    yield from _outlook_faults(document)


def aim_faults(document: Document, aims: Collection[str]) -> Iterator[Fault]:
    """Yield the loops' aims that the techniques file does not have."""
    known = sorted(aims)
    for place, entry in entries(document, "loops"):
        aim = entry.get("aim") if isinstance(entry, dict) else None
        if isinstance(aim, str) and aim not in known:
            found = f"{path_text((*place, 'aim'))} = {value_text(aim)}: the techniques file has no such aim"
            allowed = " | ".join(value_text(one) for one in known)
            yield Fault(document.name, document.place(*place, "aim"), found, allowed, did_you_mean(aim, known))


def _crs_faults(document: Document) -> Iterator[Fault]:
    """Yield what is wrong with the working CRS."""
    try:
        text = document.value(("site", "crs"))
    except KeyError:
        return
    if not isinstance(text, str):
        return
    fault = Fault(
        document.name,
        document.place("site", "crs"),
        f"site.crs = {value_text(text)}",
        "a projected CRS in metres, such as EPSG:25832",
        "leave it out to take the network's own, or its UTM zone",
    )
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        yield fault
        return
    if not crs.is_projected or any(axis.unit_name not in {"metre", "meter"} for axis in crs.axis_info[:2]):
        yield fault


def _condition_faults(document: Document) -> Iterator[Fault]:
    """Yield the fault of two statements about how wet the ground is."""
    table = document.data.get("conditions")
    if isinstance(table, dict) and "wetness" in table and "rain_mm" in table:
        yield Fault(
            document.name,
            document.place("conditions", "wetness"),
            f"conditions.wetness = {value_text(table['wetness'])} beside rain_mm",
            "one of the two",
            f"remove it to have the rain of line {document.place('conditions', 'rain_mm')} decide, or remove the rain",
        )


def _doubled_names(document: Document, table: str) -> Iterator[Fault]:
    """Yield names that two entries share."""
    first: dict[str, str] = {}
    for place, entry in entries(document, table):
        name = entry.get("name") if isinstance(entry, dict) else None
        if not isinstance(name, str):
            continue
        line = document.place(*place, "name")
        if name in first:
            found = f"{path_text((*place, 'name'))} = {value_text(name)}"
            yield Fault(document.name, line, found, f"a name of its own; line {first[name]} has this one already")
        first.setdefault(name, line)


def _loop_faults(document: Document) -> Iterator[Fault]:
    """Yield loops without a window, and set-ups that no table describes; no set-up at all is a fault of its own."""
    names = _setup_names(document)
    for place, entry in entries(document, "loops"):
        if not isinstance(entry, dict):
            continue
        if "length_m" not in entry and "time_min" not in entry:
            found = f"{path_text(place)} has neither length_m nor time_min"
            yield Fault(document.name, document.place(*place), found, "at least one of them, as [min, max]")
        for number, name in enumerate(_listed(entry, "setups")):
            yield from _unknown_setup(document, (*place, "setups", number), name, names)
        yield from _bypass_faults(document, place, entry)
        yield from _unknown_outlook(document, place, entry)


def _listed(entry: Mapping[str, object], key: str) -> list[object]:
    """Give a list of an entry; an empty one where there is none."""
    value = entry.get(key)
    return value if isinstance(value, list) else []


def _bypass_faults(document: Document, place: KeyPath, entry: Mapping[str, object]) -> Iterator[Fault]:
    """Yield those in bypass that are not in the loop, and a bypass that leaves nobody on it."""
    setups = [name for name in _listed(entry, "setups") if isinstance(name, str)]
    bypass = _listed(entry, "bypass")
    for number, name in enumerate(bypass):
        if isinstance(name, str) and setups and name not in setups:
            found = f"{path_text((*place, 'bypass', number))} = {value_text(name)}: not among the setups of the loop"
            line = document.place(*place, "bypass", number)
            yield Fault(
                document.name, line, found, " | ".join(value_text(one) for one in setups), did_you_mean(name, setups)
            )
    if bypass and setups and set(setups) <= {name for name in bypass if isinstance(name, str)}:
        found, line = (
            f"{path_text((*place, 'bypass'))} names every set-up of the loop",
            document.place(*place, "bypass"),
        )
        yield Fault(document.name, line, found, "at least one set-up that stays on the loop")


def _unknown_outlook(document: Document, place: KeyPath, entry: Mapping[str, object]) -> Iterator[Fault]:
    """Yield the fault of an outlook that no table describes."""
    name = entry.get("outlook")
    tables = [table for _, table in entries(document, "outlooks") if isinstance(table, dict)]
    known = [word for word in (table.get("name") for table in tables) if isinstance(word, str)]
    if isinstance(name, str) and name not in known:
        found = f"{path_text((*place, 'outlook'))} = {value_text(name)}: no such outlook"
        allowed = " | ".join(value_text(one) for one in known) or "the name of an [[outlooks]] table"
        line = document.place(*place, "outlook")
        yield Fault(document.name, line, found, allowed, did_you_mean(name, known))


def _setup_names(document: Document) -> list[str]:
    """List the names of the set-ups."""
    known = [entry.get("name") for _, entry in entries(document, "setups") if isinstance(entry, dict)]
    return [name for name in known if isinstance(name, str)]


def _unknown_setup(document: Document, where: KeyPath, name: object, names: list[str]) -> Iterator[Fault]:
    """Yield the fault of a set-up that no table describes."""
    if names and isinstance(name, str) and name not in names:
        found = f"{path_text(where)} = {value_text(name)}: no such set-up"
        allowed = " | ".join(value_text(one) for one in names)
        yield Fault(document.name, document.place(*where), found, allowed, did_you_mean(name, names))


def _comparison_faults(document: Document) -> Iterator[Fault]:
    """Yield comparisons that change nothing, say twice how wet it is, or begin from no set-up."""
    names = _setup_names(document)
    for place, entry in entries(document, "comparisons"):
        if not isinstance(entry, dict):
            continue
        yield from _unknown_setup(document, (*place, "setup"), entry.get("setup"), names)
        given = [key for key in CHANGES if key in entry]
        if not given and entry.keys() <= {"name", "setup"}:  # a misspelt key is told as such
            found = f"{path_text(place)} changes nothing"
            yield Fault(document.name, document.place(*place), found, f"at least one of {', '.join(CHANGES)}")
        yield from _said_twice(document, place, entry)


def _outlook_faults(document: Document) -> Iterator[Fault]:
    """Yield outlooks that do not say what the weather is, or say it twice."""
    for place, entry in entries(document, "outlooks"):
        if not isinstance(entry, dict):
            continue
        yield from _said_twice(document, place, entry)
        if entry.keys() <= {"name", "date"}:  # a misspelt key is told as such
            found = f"{path_text(place)} has neither rain_mm nor wetness"
            yield Fault(document.name, document.place(*place), found, "one of the two")


def _said_twice(document: Document, place: KeyPath, entry: Mapping[str, object]) -> Iterator[Fault]:
    """Yield the fault of an entry that says by rain and by a word how wet the ground is."""
    if "wetness" in entry and "rain_mm" in entry:
        found = f"{path_text((*place, 'wetness'))} = {value_text(entry['wetness'])} beside rain_mm"
        yield Fault(document.name, document.place(*place, "wetness"), found, "one of the two")
