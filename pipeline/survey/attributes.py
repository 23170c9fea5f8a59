"""Understands the attributes of trails and obstacles: names, aliases, units, bounds.

An attribute table says which keys stand for a column, and how a value is
read. :func:`read_row` applies it to one feature. Names are the project's own
(with the unit) and the tags of OpenStreetMap as they are; ``4wd_only`` (a
sign, not a measurement) is not read.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from numbers import Real

from pipeline.errors import Fault
from pipeline.survey import values
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.values import Reading, ValueNotUnderstoodError
from pipeline.terms import ObstacleKind, Status

__all__ = [
    "ID_KEYS",
    "OBSTACLE_ATTRIBUTES",
    "TRAIL_ATTRIBUTES",
    "Attribute",
    "Place",
    "keys_of",
    "own_id",
    "read_row",
    "read_trail",
]

Value = float | int | str | bool | None

ID_KEYS = ("segment_id", "obstacle_id", "id", "osm_id")
"""Attributes that can hold a feature's own id, first choice first."""
_SMOOTHNESS = (
    "excellent", "good", "intermediate", "bad", "very_bad", "horrible", "very_horrible", "impassable",
)  # fmt: skip
_TRACKTYPE = ("grade1", "grade2", "grade3", "grade4", "grade5")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a feature is, for messages."""

    source: str
    feature: str
    own_id: str | None = None
    """The id or name that its surveyor knows it by."""

    @property
    def said(self) -> str:
        """The feature as it is called in faults."""
        return self.feature if self.own_id is None else f"{self.feature} ({self.own_id[:40]})"


def _smallest(readings: Sequence[Value]) -> Value:
    """Take the tightest of several limits."""
    return min(float(value) for value in readings if value is not None)


def _first(readings: Sequence[Value]) -> Value:
    """Take the value of the first key that has one."""
    return readings[0]


@dataclass(frozen=True, slots=True)
class Attribute:
    """One column and the keys that stand for it."""

    column: str
    keys: tuple[str, ...]
    """Plain keys, first choice first."""
    read: Callable[[object], Reading]
    """Reader of one value."""
    join: Callable[[Sequence[Value]], Value] = _first
    """What counts when several keys have a value."""
    absent: Value = None
    """What stands when no key has a value."""


def _metres(low: float, high: float) -> Callable[[object], Reading]:
    """Make a reader of lengths of which the smallest counts."""
    return partial(values.length_m, low=low, high=high)


_text = values.text
_depth = partial(values.length_m, low=0.0, high=5.0, worse=max)


def _surface(value: object) -> Reading:
    """Read a surface word."""
    reading = values.text(value)
    return Reading(reading.value.casefold()) if isinstance(reading.value, str) else reading


TRAIL_ATTRIBUTES = (
    Attribute("name", ("name",), _text),
    Attribute("surveyed_on", ("surveyed_on",), values.date),
    Attribute("surface", ("surface",), _surface),
    Attribute("tracktype", ("tracktype",), partial(values.worst_word, words=_TRACKTYPE)),
    Attribute("smoothness", ("smoothness",), partial(values.worst_word, words=_SMOOTHNESS)),
    Attribute("width_m", ("width_m", "width", "est_width"), _metres(0.3, 100.0)),
    Attribute(
        "max_width_m", ("max_width_m", "maxwidth", "maxwidth_physical", "maxwidth_m"), _metres(0.3, 100.0), _smallest
    ),
    Attribute(
        "max_height_m",
        ("max_height_m", "maxheight", "maxheight_physical", "maxheight_m"),
        _metres(0.3, 100.0),
        _smallest,
    ),
    Attribute("incline_pct", ("incline_pct", "incline"), values.incline_pct),
    Attribute("oneway", ("oneway",), values.oneway, absent=0),
    Attribute("ford", ("ford",), values.flag, absent=False),
    Attribute("depth_m", ("depth_m", "depth"), _depth),
    Attribute("bridge", ("bridge",), values.flag, absent=False),
    Attribute("tunnel", ("tunnel",), values.flag, absent=False),
    Attribute("profile", ("profile",), partial(values.one_word, words=("survey",))),
    Attribute("layer", ("layer",), partial(values.whole, low=-20, high=20), absent=0),
)
"""Attributes of a trail; ``layer`` orders crossings and is dropped afterwards."""

_KINDS = tuple(kind.value for kind in ObstacleKind)
OBSTACLE_ATTRIBUTES = (
    Attribute("kind", ("kind",), partial(values.one_word, words=_KINDS)),
    Attribute("name", ("name",), _text),
    Attribute("offset_m", ("offset_m", "offset"), _metres(-50.0, 50.0)),
    Attribute("height_m", ("height_m", "height"), partial(values.length_m, low=-5.0, high=5.0, worse=max)),
    Attribute("length_m", ("length_m", "length"), partial(values.length_m, low=0.0, high=500.0, worse=max)),
    Attribute("width_m", ("width_m", "width"), partial(values.length_m, low=0.0, high=100.0, worse=max)),
    Attribute("clear_width_m", ("clear_width_m", "clear_width"), _metres(0.3, 100.0)),
    Attribute("clear_height_m", ("clear_height_m", "clear_height"), _metres(0.3, 100.0)),
    Attribute("depth_m", ("depth_m", "depth"), _depth),
    Attribute("flow_m_s", ("flow_m_s", "flow"), partial(values.speed_m_s, high=10.0)),
    Attribute("surveyed_on", ("surveyed_on",), values.date),
    Attribute("note", ("note",), _text),
)
"""Attributes of an obstacle or a named place."""

_STATUS_KEYS = ("status", "access", "vehicle", "motor_vehicle", "highway")
_CLOSED_HIGHWAYS = frozenset({"construction", "steps", "elevator", "corridor", "platform", "via_ferrata"})
"""Kinds of way that no vehicle can drive (OpenStreetMap wiki, "Key:highway")."""
_SEVERITY = (Status.OPEN, Status.PROPOSED, Status.CLOSED)


def keys_of(attributes: Iterable[Attribute], *, trail: bool) -> frozenset[str]:
    """List the plain keys that are understood, ids and (for a *trail*) status included."""
    keys = {key for attribute in attributes for key in attribute.keys}
    return frozenset(keys | set(ID_KEYS) | (set(_STATUS_KEYS) if trail else set()))


def own_id(tags: Mapping[str, object]) -> str | None:
    """Find the feature's own id; ``None`` when it has none."""
    for key in ID_KEYS:
        found = values.text(tags.get(key)).value
        if isinstance(found, str):
            return found
    return None


def read_row(
    tags: Mapping[str, object], attributes: Sequence[Attribute], place: Place, findings: Findings
) -> dict[str, Value]:
    """Read the attributes of one feature.

    Parameters
    ----------
    tags
        Attributes by plain key, as the file gave them.
    attributes
        The columns wanted.
    place
        Where the feature is, for messages.
    findings
        Collects a fault for each value that is not understood, and a repair for each that was bent.
    """
    row: dict[str, Value] = {}
    for attribute in attributes:
        found = [
            reading.value
            for key in attribute.keys
            if key in tags
            and (reading := _read(tags[key], key, attribute.read, place, findings)) is not None
            and reading.value is not None
        ]
        row[attribute.column] = attribute.join(found) if found else attribute.absent
    return row


def _read(
    value: object, key: str, read: Callable[[object], Reading], place: Place, findings: Findings
) -> Reading | None:
    """Read one value; a fault gives ``None``."""
    try:
        reading = read(value)
    except ValueNotUnderstoodError as fault:
        shown = f"{float(value):.10g}" if isinstance(value, Real) else repr(str(value)[:80])
        findings.faults.append(
            Fault(place.source, place.said, f"{key} = {shown}", str(fault), "correct it, or clear it")
        )
        return None
    if reading.note:
        findings.repairs.append(Repair("value read", place.source, place.feature, f"{key}: {reading.note}"))
    return reading


def read_trail(tags: Mapping[str, object], place: Place, findings: Findings) -> dict[str, Value]:
    """Read all attributes of one trail feature: :data:`TRAIL_ATTRIBUTES` and its ``status``.

    ``highway = ford``, an obsolete way to tag a ford (OpenStreetMap wiki, "Key:ford"), is understood. So is a depth of
    water alone: where there is water on a trail, it is forded.
    """
    row = read_row(tags, TRAIL_ATTRIBUTES, place, findings)
    row["status"] = _read_status(tags, place, findings)
    deep = row["depth_m"]
    wet = isinstance(deep, float) and deep > 0.0
    row["ford"] = bool(row["ford"]) or wet or _small(tags.get("highway")) == "ford"
    return row


def _read_status(tags: Mapping[str, object], place: Place, findings: Findings) -> str:
    """Find out whether a trail may be driven; the most severe of what its attributes say counts.

    ``status`` as it stands; ``access = no`` (or ``no`` for vehicles) is closed; ``highway = proposed`` is proposed;
    kinds of way that no vehicle can drive are closed.
    """
    words = partial(values.worst_word, words=tuple(status.value for status in _SEVERITY))
    said = _read(tags["status"], "status", words, place, findings) if "status" in tags else None
    found = [Status(str(said.value))] if said is not None and said.value is not None else [Status.OPEN]
    access = next((word for key in ("motor_vehicle", "vehicle", "access") if (word := _small(tags.get(key)))), "")
    highway = _small(tags.get("highway"))
    if access == "no" or highway in _CLOSED_HIGHWAYS:
        found.append(Status.CLOSED)
    if highway == "proposed":
        found.append(Status.PROPOSED)
    return max(found, key=_SEVERITY.index).value


def _small(value: object) -> str:
    """Read a word in small letters; empty when there is none."""
    reading = values.text(value)
    return str(reading.value).casefold() if reading.value is not None else ""
