"""What practice of a technique is worth: aims of a course, and which intensity fits which driver."""

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from pipeline.settings import Strict
from pipeline.terms import Driver, Technique

__all__ = ["ALL_ROUND", "Band", "Practice"]

ALL_ROUND = "all-round"
"""The aim of a loop that names none."""

Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Band(Strict):
    """How much of its credit a run gives one kind of driver, by its intensity: linear between the points named.

    That learning is best at a middle difficulty, and at a harder one for the more skilled, is the challenge point
    framework of Guadagnoli and Lee (Journal of Motor Behavior 36, 2004, 212–224; from memory, not verified); it
    gives no figures. The figures are common practice, no source.
    """

    easy_share: Share
    """Share at intensity 0."""
    best_from: Share
    """Intensity from which the whole credit is given."""
    best_to: Share
    """Intensity up to which it is, not below ``best_from``."""
    hard_share: Share
    """Share at intensity 1, where that is above ``best_to``."""

    @field_validator("best_to")
    @classmethod
    def _rises(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a range that ends before it begins."""
        if "best_from" in info.data and value < info.data["best_from"]:
            msg = f"{value:g} is below best_from = {info.data['best_from']:g}"
            raise ValueError(msg)
        return value

    def share(self, intensity: float) -> float:
        """Give the share of the credit, 0–1, of a run of an *intensity*, 0–1."""
        if intensity < self.best_from:
            return self.easy_share + (1.0 - self.easy_share) * intensity / self.best_from
        if intensity <= self.best_to:
            return 1.0
        return 1.0 - (1.0 - self.hard_share) * (intensity - self.best_to) / (1.0 - self.best_to)


class Practice(Strict):
    """``[practice]`` of the techniques file."""

    repeat_share: Share
    """Share of the credit that a feature gives when it is driven once more."""
    spread: Annotated[float, Field(ge=0.0, le=10.0)]
    """Full practice is at least this many times what an average loop as long as may be gives; 0: never more than the
    saturation of the loop settings."""
    band: dict[Annotated[Driver, Field(strict=False)], Band]
    """Fitting intensity for each kind of driver."""
    aims: dict[str, dict[Annotated[Technique, Field(strict=False)], Annotated[int, Field(ge=0, le=20)]]]
    """Aim → worth of full practice of each technique against the others; full practice gives 100 points a unit."""

    @field_validator("band")
    @classmethod
    def _everybody(cls, value: dict[Driver, Band]) -> dict[Driver, Band]:
        """Refuse bands that leave a driver out."""
        missing = [driver for driver in Driver if driver not in value]
        if missing:
            msg = f"no band for {', '.join(missing)}"
            raise ValueError(msg)
        return value

    @field_validator("aims")
    @classmethod
    def _all_round(cls, value: dict[str, dict[Technique, int]]) -> dict[str, dict[Technique, int]]:
        """Refuse aims without the one that is taken where none is named."""
        if ALL_ROUND not in value:
            msg = f'the aim "{ALL_ROUND}" is missing: it is taken where a loop names none'
            raise ValueError(msg)
        return value

    @field_validator("aims")
    @classmethod
    def _weighed(cls, value: dict[str, dict[Technique, int]]) -> dict[str, dict[Technique, int]]:
        """Refuse aims by which every loop is worth nothing."""
        empty = [name for name, weights in value.items() if not any(weights.values())]
        if empty:
            msg = f'the aim "{empty[0]}" looks for nothing: at least one technique with a weight above 0'
            raise ValueError(msg)
        return value
