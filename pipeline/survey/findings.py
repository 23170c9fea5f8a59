"""What reading a survey found: faults to report, and repairs that were made.

One :class:`Findings` travels through the stage and collects; nothing is
raised before every file was looked at.
"""

from dataclasses import dataclass, field, replace

import shapely

from pipeline.errors import DataError, Fault, InputMissingError

__all__ = ["SITE_SETTINGS", "Findings", "Repair"]

SITE_SETTINGS = "site settings"
"""Stands for the site file in faults, which this stage does not know; places are ``[table] key``."""


@dataclass(frozen=True, slots=True)
class Repair:
    """One change made to what a survey file said."""

    repair: str
    """What was done, in a word or two: ``snapped``, ``split``, ``dropped``."""
    source: str
    """File, and layer, of the feature."""
    feature: str
    """The feature's id in its source."""
    detail: str
    """The repair in a sentence."""
    geometry: shapely.Geometry | None = None
    """Where, in the working CRS; ``None`` when the feature has no place, which then reads as the whole network."""
    amount_m: float | None = None
    """How far something moved, or how much was dropped, m."""
    line: int | None = None
    """Number of the survey line that carries the repair; ``None`` when nothing was kept."""


@dataclass(slots=True)
class Findings:
    """Collects the faults and repairs of a whole survey."""

    faults: list[Fault] = field(default_factory=list)
    """What is wrong in the data."""
    missing: list[Fault] = field(default_factory=list)
    """Files that are missing or cannot be opened."""
    repairs: list[Repair] = field(default_factory=list)
    """What was changed."""

    def locate_since(self, mark: int, where: shapely.Geometry) -> None:
        """Put *where* at the repairs from number *mark* on that have no place yet."""
        for number in range(mark, len(self.repairs)):
            if self.repairs[number].geometry is None:
                self.repairs[number] = replace(self.repairs[number], geometry=where)

    def stop_if_faulty(self) -> None:
        """Raise all faults so far.

        Raises
        ------
        DataError
            When any data is wrong; missing files are listed with it.
        InputMissingError
            When files are missing or cannot be opened, and nothing else is wrong.
        """
        if self.faults:
            raise DataError([*self.missing, *self.faults])
        if self.missing:
            raise InputMissingError(self.missing)
