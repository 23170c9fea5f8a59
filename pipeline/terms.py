"""The closed vocabularies of the tables and settings, and the caution that everything handed out carries.

Each is a ``StrEnum``: the value is what stands in files and tables.
Where the order matters (verdicts, drivers, wetness) the members are listed
from mild to severe and ``rank`` gives that order as an integer.
"""

from enum import IntEnum, StrEnum

__all__ = [
    "CAUTION",
    "Basis",
    "CheckName",
    "Direction",
    "Drive",
    "Driver",
    "Objective",
    "ObstacleKind",
    "Part",
    "Passing",
    "Status",
    "Stop",
    "Support",
    "Technique",
    "Verdict",
    "Wetness",
    "Wheel",
]


CAUTION = (
    "A planning aid from measured and assumed data. Walk the trail, measure the vehicle as it stands, use a spotter, "
    "and follow the site's rules, local law and a qualified instructor's judgement."
)
"""What every product says."""


class _Ranked(StrEnum):
    """A vocabulary whose members are listed from mild to severe."""

    @property
    def rank(self) -> int:
        """Position in the order of definition, from 0."""
        return list(type(self)).index(self)


class Verdict(_Ranked):
    """What may be done on a segment by one set-up in one direction."""

    AMPLE = "ample"
    """Well inside the limits."""
    WATCH = "watch"
    """Inside the limits; the driver must attend to it."""
    SPOT = "spot"
    """Near the limit: a spotter outside the vehicle."""
    UNSURVEYED = "unsurveyed"
    """Not enough is known to say."""
    BARRED = "barred"
    """Over what this driver may use of the limit."""


class Basis(IntEnum):
    """Where a demand came from; the worst (smallest) one of its parts counts."""

    NONE = 0
    ASSUMED = 1
    TAG = 2
    DEM = 3
    SURVEYED = 4

    @property
    def word(self) -> str:
        """The word that stands in tables."""
        return self.name.lower()


class Direction(StrEnum):
    """Direction of travel against the digitised direction of a segment."""

    WITH = "with"
    AGAINST = "against"

    @property
    def sign(self) -> int:
        """+1 for ``with``, −1 for ``against``."""
        return 1 if self is Direction.WITH else -1


class CheckName(StrEnum):
    """The limits that a segment can press on."""

    APPROACH = "approach"
    BREAKOVER = "breakover"
    DEPARTURE = "departure"
    BELLY = "belly"
    ROLL = "roll"
    PITCH_OVER = "pitch_over"
    SLIDE = "slide"
    CLIMB = "climb"
    DESCENT = "descent"
    ARTICULATION = "articulation"
    TURN = "turn"
    WIDTH = "width"
    HEIGHT = "height"
    FORD = "ford"
    SOFT = "soft"


class Driver(_Ranked):
    """How used a driver is to this kind of ground, most careful first."""

    FIRST_TIMER = "first-timer"
    PRACTISED = "practised"
    EXPERT = "expert"


class Drive(StrEnum):
    """Which axles are driven."""

    FOUR_WHEEL = "4wd"
    REAR = "2wd-rear"
    FRONT = "2wd-front"


class Wetness(_Ranked):
    """How wet the ground is."""

    DRY = "dry"
    DAMP = "damp"
    WET = "wet"
    SOAKED = "soaked"


class Status(StrEnum):
    """Whether a segment may be driven at all."""

    OPEN = "open"
    CLOSED = "closed"
    PROPOSED = "proposed"


class Objective(StrEnum):
    """What a loop is chosen for."""

    SAFEST = "safest"
    TRAINING_RICH = "training-rich"


class Stop(StrEnum):
    """What a line of a loop's session plan is about."""

    START = "start"
    """The loop begins."""
    COACHING = "coaching"
    """The group stands and talks before a call."""
    PLACE = "place"
    """A named place is passed."""
    TURN_ROUND = "turn-round"
    """There is room to turn a vehicle round."""
    WAY_OUT = "way out"
    """From here a way home is shorter than the rest of the loop."""
    LAST_TURN = "last turn"
    """The last place where giving up saves time."""
    SPLIT = "split"
    """Some set-ups leave the loop for a way round."""
    MEET = "meet"
    """They come back to it."""
    LAP = "lap"
    """The next lap begins."""
    FINISH = "finish"
    """The loop ends."""


class ObstacleKind(StrEnum):
    """Surveyed things on or beside a trail, and the named places of a site."""

    ROCK = "rock"
    LOG = "log"
    STEP = "step"
    HOLE = "hole"
    DITCH = "ditch"
    RUT = "rut"
    TREE = "tree"
    POST = "post"
    BRANCH = "branch"
    GAP = "gap"
    WATER = "water"
    SOFT = "soft"
    TURNROUND = "turnround"
    TRAILHEAD = "trailhead"
    MUSTER = "muster"
    EXIT = "exit"
    NOTE = "note"


class Passing(StrEnum):
    """What a driver does about a thing in the way."""

    STRADDLE = "straddle"
    """Take it between the wheels."""
    TREAD = "tread"
    """Put a wheel on it, or through it."""
    ROUND = "go round"
    """Pass beside it."""
    BARRED = "barred"
    """None of these can be done."""
    UNSURVEYED = "unsurveyed"
    """Not enough is known of it to say."""


class Support(StrEnum):
    """What an elevation model can carry of a check of a set-up."""

    SUPPORTS = "supports"
    """The error of the demand is small beside the limit."""
    DOUBTFUL = "doubtful"
    """It blurs the verdict: only clear cases can be told apart."""
    CANNOT = "cannot"
    """The model does not show what the check asks for."""


class Wheel(IntEnum):
    """The four wheels, in the order of all arrays."""

    FRONT_LEFT = 0
    FRONT_RIGHT = 1
    REAR_LEFT = 2
    REAR_RIGHT = 3

    @property
    def word(self) -> str:
        """The word that stands in tables and sentences."""
        return self.name.lower().replace("_", " ")


class Part(IntEnum):
    """Parts of the body that can touch something beside the trail, from low to high."""

    WHEEL = 0
    """A tyre, the front ones as they are steered."""
    SILL = 1
    """The body from its underside to its roof line: bumpers, sills, wings, doors."""
    MIRROR = 2
    """A mirror."""
    ROOF = 3
    """The roof and what it carries."""

    @property
    def word(self) -> str:
        """The word that stands in tables and sentences."""
        return "body" if self is Part.SILL else self.name.lower()


class Technique(StrEnum):
    """Driving skills that a stretch of trail exercises."""

    CLIMB = "climb"
    DESCENT = "descent"
    SIDE_SLOPE = "side slope"
    CREST = "crest"
    DIP = "dip"
    CROSS_AXLE = "cross-axle"
    TIGHT_TURN = "tight turn"
    GAP = "gap"
    OVERHEAD = "overhead"
    WATER = "water"
    SOFT_GROUND = "soft ground"
    RUTS = "ruts"
    ROCK = "rock"
    LOG = "log"
