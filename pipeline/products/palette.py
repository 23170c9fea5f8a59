"""One way to draw a verdict, shared by every product: colour by utilisation, pattern and width by verdict.

Colour is cividis, read dark for demanding: a perceptually uniform ramp that
reads the same with every common colour deficiency and in grey. Pattern and
width carry the verdict on their own, so a black-and-white print says the same.

Source of the ramp: J. R. Nuñez, C. R. Anderton and R. S. Renslow, "Optimizing
colormaps with consideration for color vision deficiency to enable accurate
interpretation of scientific data", PLoS ONE 13(7): e0199239, 2018.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.terms import ObstacleKind, Verdict

__all__ = ["INK", "LOOP", "PATTERNS", "RAMP", "SIGNS", "UNKNOWN", "WORDS", "Pattern", "colour"]

RAMP = (
    "#fee838",
    "#e1cc55",
    "#c3b369",
    "#a59c74",
    "#8a8779",
    "#707173",
    "#575d6d",
    "#3b496c",
    "#123570",
    "#00224e",
)
"""Cividis sampled at ten even steps, from utilisation 0 (pale) to 1 and over (dark); values from memory of the
published table, checked in the tests for even steps of lightness."""

INK = "#1a1a1a"
"""Colour of what is barred, of text and of outlines."""
UNKNOWN = "#6b6b6b"
"""Outline of what is not surveyed."""
LOOP = "#d55e00"
"""Colour of a loop: the vermilion of the Okabe–Ito set, which no step of the ramp comes near."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """How the line of one verdict is drawn."""

    width: float
    """Width in screen pixels (and tenths of a millimetre ×3 on paper)."""
    dash: tuple[float, ...]
    """Dash and gap lengths; empty for an unbroken line."""
    words: str
    """The pattern in words, for the legend."""


PATTERNS: Mapping[Verdict, Pattern] = {
    Verdict.AMPLE: Pattern(3.0, (), "thin unbroken line"),
    Verdict.WATCH: Pattern(4.5, (13.0, 5.0), "long dashes"),
    Verdict.SPOT: Pattern(7.0, (4.0, 5.0), "broad short dashes"),
    Verdict.UNSURVEYED: Pattern(7.0, (), "hollow line"),
    Verdict.BARRED: Pattern(3.0, (), "line with cross bars"),
}

WORDS: Mapping[Verdict, str] = {
    Verdict.AMPLE: "well inside the limits",
    Verdict.WATCH: "inside the limits; the driver must attend to it",
    Verdict.SPOT: "near a limit: spotter outside the vehicle",
    Verdict.UNSURVEYED: "not enough is known to say",
    Verdict.BARRED: "over what this driver may use of a limit",
}
"""What each verdict means, in a line."""

SIGNS: Mapping[ObstacleKind, str] = {
    ObstacleKind.ROCK: "R",
    ObstacleKind.LOG: "L",
    ObstacleKind.STEP: "S",
    ObstacleKind.HOLE: "H",
    ObstacleKind.DITCH: "D",
    ObstacleKind.RUT: "U",
    ObstacleKind.TREE: "T",
    ObstacleKind.POST: "P",
    ObstacleKind.BRANCH: "B",
    ObstacleKind.GAP: "G",
    ObstacleKind.WATER: "W",
    ObstacleKind.SOFT: "F",
    ObstacleKind.TURNROUND: "turn",
    ObstacleKind.TRAILHEAD: "start",
    ObstacleKind.MUSTER: "muster",
    ObstacleKind.EXIT: "exit",
    ObstacleKind.NOTE: "n",
}
"""What stands on the map for each kind: a letter for a thing, a word for a place."""


def colour(utilisation: float | None) -> str:
    """Give the colour of a utilisation (0 and below pale, 1 and above darkest); grey where it is not known."""
    if utilisation is None or utilisation != utilisation:  # noqa: PLR0124 — NaN is not itself
        return UNKNOWN
    step = int(min(max(utilisation, 0.0), 0.999) * len(RAMP))
    return RAMP[step]
