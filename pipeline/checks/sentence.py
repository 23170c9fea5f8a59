"""The verdict in a sentence: what the ground asks, of what, and where; or why it cannot be said."""

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Outcome
from pipeline.terms import CheckName, Driver

__all__ = ["DRIVERS", "STRAIGHT_PER_M", "WORDS", "reasons", "with_chance"]

Float64 = NDArray[np.float64]
Texts = NDArray[np.object_]
Flags = NDArray[np.bool_]

_SLACK = 1e-6
STRAIGHT_PER_M = 1e-3
"""A curvature up to this is called nearly straight: a radius of a kilometre."""

WORDS = {
    CheckName.PITCH_OVER: "tipping over lengthwise",
    CheckName.BELLY: "ground under the belly",
    CheckName.SOFT: "pressure of the tyres",
}
"""How a check is called in a sentence, where its name does not say it."""


DRIVERS = {
    Driver.FIRST_TIMER: "a first-timer",
    Driver.PRACTISED: "a practised driver",
    Driver.EXPERT: "an expert",
}
"""How a driver is called in a sentence."""


def reasons(name: CheckName, outcome: Outcome, effective: Float64, driver: Driver, known: Flags) -> list[str]:
    """Write the sentence of every row of one check.

    Parameters
    ----------
    name
        The check.
    outcome
        What it found, shape (segments, 2).
    effective
        Utilisation ÷ share of the driver, the same shape.
    driver
        Who drives.
    known
        Rows whose numbers count: the others say why they are not known.

    Returns
    -------
    list of str
        One a row, in the order of the arrays. Demands are rounded up, limits down, so that an overrun never reads
        as the limit.
    """
    word = WORDS.get(name, name.value.replace("_", " "))
    who = DRIVERS[driver]
    write = _curve if name is CheckName.TURN else _numbers
    columns = (outcome.demand, outcome.limit, outcome.at_m, effective)
    rows = zip(
        *(column.ravel().tolist() for column in columns),
        outcome.unit.ravel().tolist(),
        outcome.unknown.ravel().tolist(),
        outcome.note.ravel().tolist(),
        outcome.more.ravel().tolist(),
        known.ravel().tolist(),
        strict=True,
    )
    return [
        _sentence(word, write, (demand, limit, at), (share, who), (unit, unknown, note, more, told))
        for demand, limit, at, share, unit, unknown, note, more, told in rows
    ]


def with_chance(told: Sequence[str], p_over: Float64, changed: Flags) -> list[str]:
    """Say in the sentences of the rows whose verdict doubt has worsened how likely it is to be over the limit.

    Parameters
    ----------
    told
        Sentences, one a row.
    p_over
        Probability, in as many rows.
    changed
        Rows whose verdict it has worsened.
    """
    rows = zip(told, p_over.ravel().tolist(), changed.ravel().tolist(), strict=True)
    return [f"{text}; {_chance(p)} chance of being over the limit" if worse else text for text, p, worse in rows]


def _chance(p: float) -> str:
    """Write a probability in whole per cent, never as none or all."""
    return f"{min(max(round(p * 100.0), 1), 99)} %"


def _sentence(
    word: str,
    write: Callable[[float, float, str], str],
    figures: tuple[float, float, float],
    used: tuple[float, str],
    texts: tuple[str, str, str, str, bool],
) -> str:
    """Write one sentence."""
    demand, limit, at = figures
    share, driver = used
    unit, unknown, note, more, told = texts
    if not told:
        return f"{word} not known: {unknown}"
    text = f"{word}: {note}" if note else f"{word} {write(demand, limit, unit)}"
    if at == at:  # noqa: PLR0124 - false for NaN, and ten times as fast as a call for each of millions of rows
        text += f" at {at:.0f} m"
    if share > 1.0 and not note:
        text += f", {math.ceil(share * 100.0 - _SLACK)} % of what {driver} may use"
    if more:
        text += f"; {more}"
    return f"{text}; besides, {unknown}" if unknown else text


def _numbers(demand: float, limit: float, unit: str) -> str:
    """Write demand and limit with their unit; finer where two digits would read as an overrun that is none."""
    if unit == "°":
        asked = math.ceil(demand * 10.0 - _SLACK) / 10.0
        return f"{asked:.1f}° of {math.floor(limit * 10.0 + _SLACK) / 10.0:.1f}°" if limit == limit else f"{asked:.1f}°"  # noqa: PLR0124
    digits = 0 if unit == "kPa" else 2
    asked, allowed = _apart(demand, limit, 10.0**digits)
    if asked >= allowed and demand < limit:
        digits += 1
        asked, allowed = _apart(demand, limit, 10.0**digits)
    return f"{asked:.{digits}f} of {allowed:.{digits}f} {unit}"


def _apart(demand: float, limit: float, parts: float) -> tuple[float, float]:
    """Round a demand up and a limit down to so many parts of the unit."""
    return math.ceil(demand * parts - _SLACK) / parts, math.floor(limit * parts + _SLACK) / parts


def _curve(demand: float, limit: float, _unit: str) -> str:
    """Write curvatures as radii, which is how drivers think of them."""
    needed = math.ceil(10.0 / limit - _SLACK) / 10.0
    if demand <= STRAIGHT_PER_M:
        return f"nearly straight, turning circle radius {needed:.1f} m"
    return f"radius {math.floor(10.0 / demand + _SLACK) / 10.0:.1f} m, turning circle radius {needed:.1f} m"
