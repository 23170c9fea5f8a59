"""The project: one frozen object that composes the parameters of every stage."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.checks.limits import Limits
from pipeline.ground.surface import Surfaces
from pipeline.ground.weather import Weather
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.rebuild.gates import Gates
from pipeline.survey.model import SurveyInputs, SurveyParameters
from pipeline.technique.settings import Techniques
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.model import SetUpChoice, Vehicle

__all__ = ["Day", "Project", "ProjectComparison", "ProjectOutlook", "ProjectSetUp", "Publication"]


@dataclass(frozen=True, slots=True)
class ProjectSetUp:
    """One vehicle as it will be driven, with its file."""

    vehicle: Vehicle
    choice: SetUpChoice
    vehicle_path: Path
    """The vehicle file, as the site file names it."""


@dataclass(frozen=True, slots=True)
class ProjectComparison:
    """One change whose effect on the verdicts is wanted."""

    name: str
    setup: str
    """The set-up it begins from."""
    choice: SetUpChoice
    """The set-up after the change, under the same name."""
    weather: Weather | None
    """The weather after the change; ``None`` where that stays."""
    words: str
    """What is changed of the set-up, in words; empty when only the weather is."""


@dataclass(frozen=True, slots=True)
class ProjectOutlook:
    """Another weather that the whole site is judged under as well."""

    name: str
    weather: Weather


@dataclass(frozen=True, slots=True)
class Day:
    """The conditions that the verdicts hold for."""

    weather: Weather
    """The day and its rain, or how wet the ground is taken to be."""
    assumed: bool
    """Neither rain nor wetness was given: the wetness is an assumption."""


@dataclass(frozen=True, slots=True)
class Publication:
    """Where the products go."""

    dir: Path
    """Build folder, absolute."""
    keep: int
    """Number of earlier builds kept."""
    hold_if: Gates
    """Quality gates."""


@dataclass(frozen=True, slots=True)
class Project:
    """Everything a build needs to know; every file was read and found good, but for the survey and the DEMs."""

    path: Path
    """The site file, absolute."""
    name: str
    """Name of the training ground."""
    survey: SurveyInputs
    survey_parameters: SurveyParameters
    terrain: TerrainParameters
    setups: tuple[ProjectSetUp, ...]
    """In the order of the site file."""
    surfaces: Surfaces
    techniques: Techniques
    limits: Limits
    """The limits file with the site's overrides."""
    loop_settings: LoopSettings
    requests: tuple[LoopRequest, ...]
    """The loops that are asked for, in the order of the site file."""
    comparisons: tuple[ProjectComparison, ...]
    """In the order of the site file."""
    outlooks: tuple[ProjectOutlook, ...]
    """In the order of the site file."""
    conditions: Day
    publish: Publication
    inputs: tuple[Path, ...]
    """Every file that is read, for the manifest; sorted, absolute."""
    settings: Mapping[str, Any]
    """The site file as understood, defaults included; plain values."""
    warnings: tuple[str, ...]
    """What every product must say about the settings."""

    @property
    def weather(self) -> Weather:
        """The weather that the verdicts hold for."""
        return self.conditions.weather

    @property
    def loop_setups(self) -> dict[str, tuple[str, ...]]:
        """Loop name → the set-ups it is searched for."""
        return {request.name: request.setups for request in self.requests}

    def echo(self) -> dict[str, Any]:
        """Give everything that decides the products, as plain values, for the manifest.

        Where the products go is left out: it changes none of them.
        """
        return {
            "site": {key: value for key, value in self.settings.items() if key != "publish"},
            "vehicles": {one.choice.name: one.vehicle.model_dump(mode="json") for one in self.setups},
            "surfaces": self.surfaces.model_dump(mode="json"),
            "techniques": self.techniques.model_dump(mode="json"),
            "limits": self.limits.model_dump(mode="json"),
            "loops": self.loop_settings.model_dump(mode="json"),
        }
