"""Surface classes: their grip, rolling resistance and bearing capacity, and the words of a survey that lead to them."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated

import pandas as pd
from pydantic import Field, ValidationInfo, field_validator, model_validator

from pipeline.ground.runoff import Runoff
from pipeline.ground.wetness import DryingModel
from pipeline.settings import Strict, did_you_mean
from pipeline.survey.model import Network
from pipeline.terms import Wetness

__all__ = ["Bearings", "Grip", "SurfaceClass", "Surfaces", "surface_classes", "unknown_words"]

Coefficient = Annotated[float, Field(gt=0.0, le=1.5)]
Pressure = Annotated[float, Field(ge=5.0, le=10_000.0)]
Days = Annotated[float, Field(ge=0.02, le=365.0)]


def _in_order(values: tuple[float, ...]) -> tuple[float, ...]:
    """Refuse a spread that is not in order."""
    if list(values) != sorted(values):
        msg = f"{list(values)} is not in ascending order: low first, high last"
        raise ValueError(msg)
    return values


def _not_better(
    name: str, dry: tuple[Wetness, tuple[float, ...]], wet: tuple[Wetness, tuple[float, ...]], better: str
) -> None:
    """Refuse a spread of wetter ground that lies above that of drier."""
    if any(after > before for before, after in zip(dry[1], wet[1], strict=True)):
        msg = (
            f"{name} when {wet[0]} {list(wet[1])} is above that when {dry[0]} {list(dry[1])}; "
            f"wetter ground may not {better}"
        )
        raise ValueError(msg)


class Grip(Strict):
    """Adhesion and rolling resistance of one surface at one wetness."""

    adhesion: tuple[Coefficient, Coefficient, Coefficient]
    """Coefficient of adhesion: low, typical and high value of the published spread."""
    rolling: tuple[Coefficient, Coefficient]
    """Rolling resistance coefficient, low and high."""

    @field_validator("adhesion", "rolling")
    @classmethod
    def _ascending(cls, values: tuple[float, ...]) -> tuple[float, ...]:
        """Refuse a spread that is not in order."""
        return _in_order(values)


class Bearings(Strict):
    """Pressure that one surface bears under a tyre, kPa, low and typical, dry to soaked."""

    dry: tuple[Pressure, Pressure]
    """Values when dry."""
    damp: tuple[Pressure, Pressure]
    """Values when damp."""
    wet: tuple[Pressure, Pressure]
    """Values when wet."""
    soaked: tuple[Pressure, Pressure]
    """Values when soaked."""

    @field_validator("dry", "damp", "wet", "soaked")
    @classmethod
    def _ascending(cls, values: tuple[float, ...]) -> tuple[float, ...]:
        """Refuse a spread that is not in order."""
        return _in_order(values)

    @model_validator(mode="after")
    def _wetter_is_not_firmer(self) -> "Bearings":
        """Refuse a bearing capacity that rises as the ground gets wetter."""
        for drier, wetter in pairwise(Wetness):
            _not_better("bearing_kpa", (drier, self.at(drier)), (wetter, self.at(wetter)), "bear more")
        return self

    def at(self, wetness: Wetness) -> tuple[float, float]:
        """Give the values at one wetness."""
        return {Wetness.DRY: self.dry, Wetness.DAMP: self.damp, Wetness.WET: self.wet}.get(wetness, self.soaked)


class SurfaceClass(Strict):
    """One surface, dry to soaked, and how fast it gets rid of water."""

    drains_days: Days
    """Days in which half of its water drains, in any season."""
    dries_days: Days
    """Days in which half of it dries off in the open at midsummer."""
    bearing_kpa: Bearings
    """What it bears."""
    dry: Grip
    """Values when dry."""
    damp: Grip
    """Values when damp."""
    wet: Grip
    """Values when wet."""
    soaked: Grip
    """Values when soaked."""

    @model_validator(mode="after")
    def _wetter_is_not_better(self) -> "SurfaceClass":
        """Refuse an adhesion that rises as the ground gets wetter."""
        for drier, wetter in pairwise(Wetness):
            dry, wet = self.at(drier).adhesion, self.at(wetter).adhesion
            _not_better("adhesion", (drier, dry), (wetter, wet), "grip better")
        return self

    def at(self, wetness: Wetness) -> Grip:
        """Give the values at one wetness."""
        return {Wetness.DRY: self.dry, Wetness.DAMP: self.damp, Wetness.WET: self.wet}.get(wetness, self.soaked)


class Surfaces(Strict):
    """The surfaces file: classes, and the words of a survey that lead to them."""

    classes: dict[str, SurfaceClass] = Field(min_length=1)
    """Surface classes by name."""
    default: str
    """Class of a trail without a known surface."""
    soft_spot: str
    """Class of a soft spot that a survey found."""
    drying: DryingModel
    """From which rain index the ground is damp, wet and soaked, and how much wetter low ground is."""
    runoff: Runoff
    """How streams rise with the index."""
    surface: dict[str, str]
    """Surface words → class."""
    tracktype: dict[str, str] = Field(default_factory=dict)
    """Firmness words → class, where no surface is known."""
    smoothness: dict[str, str] = Field(default_factory=dict)
    """Evenness words → class, where neither is known; the class then counts as assumed."""

    @field_validator("default", "soft_spot")
    @classmethod
    def _default_known(cls, value: str, info: ValidationInfo) -> str:
        """Refuse a default that is no class."""
        return _known(value, info)

    @field_validator("surface", "tracktype", "smoothness")
    @classmethod
    def _classes_known(cls, value: dict[str, str], info: ValidationInfo) -> dict[str, str]:
        """Refuse a word that leads to no class."""
        for name in value.values():
            _known(name, info)
        return value


def _known(name: str, info: ValidationInfo) -> str:
    """Refuse a name that is none of the classes."""
    classes = info.data.get("classes")
    if classes is not None and name not in classes:
        near = did_you_mean(name, classes)
        msg = f'"{name}" is no surface class; {near or "allowed: " + ", ".join(classes)}'
        raise ValueError(msg)
    return name


def surface_classes(network: Network, surfaces: Surfaces) -> tuple[list[tuple[str, ...]], list[bool]]:
    """Find the surface classes of every segment, and whether they are an assumption.

    The surface word counts first, then the firmness, then the evenness (assumed: it says nothing about the
    material), then the default (assumed). A list of words gives all their classes: a wheel may stand on any of them.

    Parameters
    ----------
    network
        Segments with the words as tagged.
    surfaces
        The surfaces file.

    Returns
    -------
    tuple[list[tuple[str, ...]], list[bool]]
        Class names, one at least, as the words stand, and assumptions, parallel to the segments.
    """
    found = pd.Series(None, index=network.segments.index, dtype=object)
    assumed = pd.Series(data=True, index=network.segments.index)
    for column, words, assumption in (
        ("surface", surfaces.surface, False),
        ("tracktype", surfaces.tracktype, False),
        ("smoothness", surfaces.smoothness, True),
    ):
        tagged = network.segments[column]
        classes = {word: _classes(word, words) for word in tagged.dropna().unique()}
        taken = found.isna() & tagged.map(classes).notna()
        found = found.where(~taken, tagged.map(classes))
        assumed = assumed.where(~taken, assumption)
    default = (surfaces.default,)
    return [one if isinstance(one, tuple) else default for one in found], assumed.tolist()


def _classes(text: str, words: Mapping[str, str]) -> tuple[str, ...] | None:
    """Give the classes of the words in *text*, each once; ``None`` when no word is known."""
    return tuple(dict.fromkeys(words[part] for part in _parts(text) if part in words)) or None


def _parts(text: str) -> list[str]:
    """Take a list of words apart."""
    return [part.strip().casefold().replace(" ", "_") for part in text.split(";")]


def unknown_words(network: Network, surfaces: Surfaces) -> dict[str, int]:
    """Count the segments of every surface word that leads to no class; they go by their other words, or the default.

    Parameters
    ----------
    network
        Segments with surface as tagged.
    surfaces
        The surfaces file.
    """
    words = [part for text in network.segments["surface"].dropna() for part in dict.fromkeys(_parts(text))]
    return {word: words.count(word) for word in sorted(set(words)) if word and word not in surfaces.surface}
