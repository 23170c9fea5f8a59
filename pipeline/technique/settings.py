"""Settings of the techniques: what counts as one, how hard it is, what a call says (``configs/techniques.toml``)."""

from collections.abc import Iterator, Sequence
from string import Formatter
from typing import Annotated

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from pipeline.settings import Strict
from pipeline.technique.practice import Practice
from pipeline.terms import ObstacleKind, Technique

__all__ = ["Advice", "Bend", "Calls", "PassingTexts", "Slope", "Techniques", "Thing", "TightPlace", "Turn", "thing_key"]

_PLACES = ("length", "low", "side", "size")
_PLACES_OF_WAYS = {"tread": ("over", "wheels"), "beside": ("side",), "keep": ("shift", "side"), "pace": ("speed",)}
_SIZED = (
    ObstacleKind.ROCK,
    ObstacleKind.LOG,
    ObstacleKind.STEP,
    ObstacleKind.HOLE,
    ObstacleKind.DITCH,
    ObstacleKind.RUT,
    ObstacleKind.BRANCH,
    ObstacleKind.GAP,
    ObstacleKind.WATER,
    ObstacleKind.SOFT,
)
"""Kinds of obstacle that can exercise a technique; trees and posts do so as pairs, by making a gap."""


def _fills(text: str, places: Sequence[str] = _PLACES) -> str:
    """Refuse a text with braces that nothing fills."""
    try:
        names = [name for _, name, _, _ in Formatter().parse(text) if name is not None]
    except ValueError as error:
        msg = f"braces do not match: {error}"
        raise ValueError(msg) from error
    odd = [name for name in names if name not in places]
    if odd:
        allowed = ", ".join(f"{{{place}}}" for place in places) or "none"
        msg = f"{{{odd[0]}}} is not filled in; allowed: {allowed}"
        raise ValueError(msg)
    return text


Text = Annotated[str, Field(min_length=3, max_length=300), AfterValidator(_fills)]
Line = Annotated[str, Field(min_length=3, max_length=90), AfterValidator(_fills)]
Short = Annotated[str, Field(min_length=3, max_length=60)]
Besides = Annotated[Short, AfterValidator(lambda text: _fills(text, ()))]
"""A text that nothing fills."""
Metres = Annotated[float, Field(ge=0.0, le=200.0)]
Degrees = Annotated[float, Field(gt=0.0, lt=90.0)]


class Advice(Strict):
    """What a call says about a technique."""

    weight: int = Field(ge=0, le=10)
    """Which features a call gives advice on when it has many: intensity × weight decides."""
    coming: Text
    """What is coming, with its size."""
    before: Line
    """What to do before it: one line of a sheet that is read at a glance."""
    source: str = Field(min_length=3)
    """Where the advice comes from."""


class Slope(Advice):
    """A stretch on which an angle is at least some size."""

    from_deg: Degrees
    """Angle from which the stretch counts; intensity 0."""
    full_deg: Degrees
    """Angle of intensity 1."""
    min_length_m: Metres
    """Shorter stretches do not count."""
    join_m: Metres
    """Stretches closer than this are one."""

    @field_validator("full_deg")
    @classmethod
    def _above(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a range that does not rise."""
        if "from_deg" in info.data and value <= info.data["from_deg"]:
            msg = f"{value:g}° is not above from_deg = {info.data['from_deg']:g}°"
            raise ValueError(msg)
        return value


class Bend(Slope):
    """A place where an angle changes by at least some amount within a window along the trail."""

    window_m: float = Field(ge=0.5, le=20.0)
    """Length of trail over which the change is measured."""


class Turn(Advice):
    """A stretch whose plan radius is at most some size."""

    from_m: float = Field(gt=1.0, le=200.0)
    """Radius from which the turn counts; intensity 0."""
    full_m: float = Field(gt=1.0, le=200.0)
    """Radius of intensity 1, the smaller one."""
    min_length_m: Metres
    """Shorter arcs do not count."""
    join_m: Metres
    """Arcs to the same side closer than this are one."""
    besides: Besides | None = None
    """What to do besides, where the line through it was worked out: it then stands in place of ``before``."""

    @field_validator("full_m")
    @classmethod
    def _below(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a range that does not fall."""
        if "from_m" in info.data and value >= info.data["from_m"]:
            msg = f"{value:g} m is not below from_m = {info.data['from_m']:g} m: the tighter turn is the harder one"
            raise ValueError(msg)
        return value


class Thing(Advice):
    """A surveyed obstacle that exercises a technique."""

    technique: Technique
    """The technique."""
    from_m: Metres
    """Size from which it counts; intensity 0. Above ``full_m`` where the smaller thing is the harder one."""
    full_m: Metres
    """Size of intensity 1."""
    unknown_intensity: float = Field(ge=0.0, le=1.0)
    """Intensity of one whose size was not surveyed."""
    besides: Besides | None = None
    """What to do besides, where the way past it was worked out: it then stands in place of ``before``."""

    @field_validator("full_m")
    @classmethod
    def _differs(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a range without width."""
        if value == info.data.get("from_m"):
            msg = f"{value:g} m equals from_m: intensity cannot rise from one to the other"
            raise ValueError(msg)
        return value


class TightPlace(Strict):
    """What a call says of a thing beside the trail that leaves little room; the line past it is worked out."""

    from_m: float = Field(gt=0.0, le=2.0)
    """Gap from which it is called; intensity 0."""
    full_m: float = Field(ge=0.0, le=2.0)
    """Gap of intensity 1, the smaller one."""
    weight: int = Field(ge=0, le=10)
    """As of :class:`Advice`."""
    coming: Annotated[str, Field(min_length=3, max_length=60), AfterValidator(lambda text: _fills(text, ("size",)))]
    """What is coming: {size} is the gap."""
    source: str = Field(min_length=3)
    """Where the advice comes from."""

    @field_validator("full_m")
    @classmethod
    def _below(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a range that does not fall."""
        if "from_m" in info.data and value >= info.data["from_m"]:
            msg = f"{value:g} m is not below from_m = {info.data['from_m']:g} m: the smaller gap is the harder one"
            raise ValueError(msg)
        return value


class Calls(Strict):
    """How the lines of a drive sheet are put together."""

    lead_m: float = Field(ge=0.0, le=200.0)
    """Distance before a feature at which the driver acts on its call."""
    merge_m: float = Field(ge=0.0, le=100.0)
    """What begins within this distance of a call's place is told without a distance of its own."""
    spacing_m: float = Field(ge=0.0, le=500.0)
    """What begins within this distance of a call's place belongs to it; a spotter or a turn-round has its own call."""
    from_intensity: float = Field(ge=0.0, le=1.0)
    """Stretches of ground of less intensity are not called."""
    thing_from_intensity: float = Field(ge=0.0, le=1.0)
    """Surveyed things of less intensity are not called."""
    named: int = Field(ge=1, le=5)
    """Features that one call gives advice on, the most demanding ones; further ones are counted only."""

    @field_validator("spacing_m")
    @classmethod
    def _holds_the_merged(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a spacing below the merging distance."""
        if "merge_m" in info.data and value < info.data["merge_m"]:
            msg = f"{value:g} m is less than merge_m = {info.data['merge_m']:g} m"
            raise ValueError(msg)
        return value


class PassingTexts(Strict):
    """How a call says the way past a thing that was worked out for the set-ups of a loop."""

    straddle: Short
    """Between the wheels."""
    tread: Short
    """{wheels} on it, {over} it."""
    square: Short
    """Added where both wheels of an axle meet it at once."""
    angled: Short
    """Added where they meet it one after the other."""
    beside: Short
    """Past it, on the {side}."""
    barred: Short
    """No way past it."""
    unsurveyed: Short
    """Not enough is known of it."""
    clear: Short
    """Of a set-up that it is not in the way of, beside others that it is."""
    keep: Short
    """Added where the line is shifted: by {shift} to the {side}."""
    pace: Short
    """Added where the springs ask for less than walking pace: {speed}."""
    creep: Short
    """Added where they have nothing to give."""

    @field_validator("*")
    @classmethod
    def _fill_their_own(cls, value: str, info: ValidationInfo) -> str:
        """Refuse a text with braces that its place on the sheet does not fill."""
        return _fills(value, _PLACES_OF_WAYS.get(str(info.field_name), ()))


class Techniques(Strict):
    """The techniques file."""

    reach_m: float = Field(ge=0.0, le=10.0)
    """Things whose near edge is farther than this from the centre line lie beside the trail."""
    pair_m: float = Field(ge=0.0, le=10.0)
    """Trees and posts left and right within this distance along the trail make a gap."""
    practice: Practice
    """What practice of the techniques is worth to a loop."""
    calls: Calls
    """How calls are put together."""
    climb: Slope
    """Uphill stretches."""
    descent: Slope
    """Downhill stretches."""
    side_slope: Slope
    """Stretches across a slope."""
    crest: Bend
    """Places where the ground breaks away."""
    dip: Bend
    """Places where the ground turns up."""
    cross_axle: Bend
    """Places where the ground twists from axle to axle."""
    tight_turn: Turn
    """Tight turns."""
    tight_place: TightPlace | None = None
    """Things beside the trail that leave little room; without it they have no calls of their own."""
    passings: PassingTexts
    """How the way past a thing is said."""
    things: dict[ObstacleKind, Thing]
    """Kinds of obstacle that exercise a technique; a kind that is not listed exercises none."""

    @field_validator("things")
    @classmethod
    def _kinds_with_size(cls, value: dict[ObstacleKind, Thing]) -> dict[ObstacleKind, Thing]:
        """Refuse kinds that are places or notes."""
        odd = [kind for kind in value if kind not in _SIZED]
        if odd:
            msg = f"{', '.join(odd)} cannot exercise a technique; allowed: {', '.join(_SIZED)}"
            raise ValueError(msg)
        return value

    def advice(self) -> dict[str, Advice]:
        """Give the advice by key: the name of a stretch's technique, or ``thing`` and the kind of obstacle."""
        return dict(self._advice())

    def _advice(self) -> Iterator[tuple[str, Advice]]:
        """Yield each key with its advice."""
        yield Technique.CLIMB, self.climb
        yield Technique.DESCENT, self.descent
        yield Technique.SIDE_SLOPE, self.side_slope
        yield Technique.CREST, self.crest
        yield Technique.DIP, self.dip
        yield Technique.CROSS_AXLE, self.cross_axle
        yield Technique.TIGHT_TURN, self.tight_turn
        for kind, thing in self.things.items():
            yield thing_key(kind), thing


def thing_key(kind: str) -> str:
    """Give the key of the advice on a kind of obstacle."""
    return f"thing {kind}"
