"""Read a site file and everything it names into a Project; every fault is reported at once."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from pydantic import create_model

from pipeline.checks.limits import Limits
from pipeline.errors import InputMissingError
from pipeline.ground.surface import Surfaces
from pipeline.ground.weather import Weather
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.project.collect import Collected
from pipeline.project.comparisons import comparison_faults, comparisons_of
from pipeline.project.files import (
    CONFIGS,
    absolute,
    config_path,
    file_fault,
    named_configs,
    named_files,
    source,
    with_companions,
)
from pipeline.project.model import Day, Project, ProjectOutlook, ProjectSetUp, Publication
from pipeline.project.references import aim_faults, reference_faults
from pipeline.project.site_file import Loop, Outlook, SetUp, SiteFile
from pipeline.settings import Document, Strict, fill, laid_over, load_document, read_settings
from pipeline.survey.model import SurveyInputs, SurveyParameters
from pipeline.technique.settings import Techniques
from pipeline.terms import Wetness
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope import choice_faults
from pipeline.vehicle.model import SetUpChoice, Vehicle

__all__ = ["read_project"]

Model = TypeVar("Model", bound=Strict)

_ASSUMED_WETNESS = Wetness.WET
"""Taken when the settings say nothing about rain. Judgement: grip of dry ground must be claimed, never assumed."""


def read_project(path: Path) -> Project:
    """Read a site file, the vehicle files and the configs it uses.

    Parameters
    ----------
    path
        The site file.

    Raises
    ------
    SettingsError
        With every fault of all these files, and the missing ones, each with file and line.
    InputMissingError
        When files are missing and nothing else is wrong.
    """
    document = load_document(path)
    found = Collected()
    site = found.attempt(partial(fill, document, SiteFile))
    found.settings.extend(reference_faults(document))
    paths = dict(named_files(document))
    faults = [fault for place, file in paths.items() if (fault := file_fault(document, place, file))]
    found.missing.extend(faults)
    vehicles = _vehicles(paths, found)
    configs = _read_configs(document, found)
    if configs is not None:
        found.settings.extend(aim_faults(document, configs.techniques.practice.aims))
    if site is not None:
        _check_choices(document, site, vehicles, found)
    found.raise_any()
    if site is None or configs is None:
        raise InputMissingError(f"{path}: the settings could not be read")
    used = [path, *paths.values(), *configs.paths]
    return _compose(path, site, vehicles, configs, used)


@dataclass(frozen=True, slots=True)
class _Configs:
    """The four settings files beside the site file."""

    surfaces: Surfaces
    techniques: Techniques
    limits: Limits
    loops: LoopSettings
    paths: tuple[Path, ...]
    """The files."""


def _read_configs(document: Document, found: Collected) -> _Configs | None:
    """Read the four settings files; ``None`` when one has faults, which *found* then holds."""
    paths = {name: config_path(document, name) for name in CONFIGS}
    named = named_configs(document)
    # A missing file that the site file names is reported there, with its line.
    there = {name: path for name, path in paths.items() if path.is_file() or name not in named}
    surfaces = _config(there.get("surfaces"), Surfaces, found)
    techniques = _config(there.get("techniques"), Techniques, found)
    loops = _config(there.get("loops"), LoopSettings, found)
    limits = _config(there.get("limits"), Limits, found)
    if limits is not None:
        limits = found.attempt(partial(_overridden, document, paths["limits"], limits))
    if surfaces is None or techniques is None or loops is None or limits is None:
        return None
    return _Configs(surfaces, techniques, limits, loops, tuple(paths.values()))


def _config(path: Path | None, model: type[Model], found: Collected) -> Model | None:
    """Read one settings file; nothing where there is none to read."""
    return None if path is None else found.attempt(partial(read_settings, path, model))


def _overridden(document: Document, path: Path, limits: Limits) -> Limits:
    """Lay the site's ``[limits]`` over the limits file; faults are reported in the site file."""
    own = document.data.get("limits")
    if not isinstance(own, dict) or not own:
        return limits
    merged = {"limits": laid_over(load_document(path).data, own)}
    wrapper = create_model("SiteLimits", __base__=Strict, limits=(Limits, ...))
    filled: Limits = fill(replace(document, data=merged), wrapper).limits  # type: ignore[attr-defined]
    return filled


def _vehicles(paths: Mapping[tuple[str | int, ...], Path], found: Collected) -> dict[Path, Vehicle]:
    """Read every vehicle file once."""
    named = dict.fromkeys(path for place, path in paths.items() if place[0] == "setups" and path.is_file())
    read = {path: found.attempt(partial(read_settings, path, Vehicle)) for path in named}
    return {path: vehicle for path, vehicle in read.items() if vehicle is not None}


def _check_choices(document: Document, site: SiteFile, vehicles: Mapping[Path, Vehicle], found: Collected) -> None:
    """Note suspensions and loads that a vehicle does not have."""
    folder = Path(document.name).parent
    for number, setup in enumerate(site.setups):
        vehicle = vehicles.get(folder / setup.vehicle)
        if vehicle is not None:
            place = document.place("setups", number, "name")
            found.settings.extend(choice_faults(vehicle, _choice(setup), document.name, place))
    found.settings.extend(comparison_faults(document, site, vehicles))


def _choice(setup: SetUp) -> SetUpChoice:
    return SetUpChoice(name=setup.name, suspension=setup.suspension, loads=setup.loads, driver=setup.driver)


def _terrain(folder: Path, site: SiteFile) -> TerrainParameters:
    """Say how the terrain is measured and water led over it."""
    return TerrainParameters(
        elevation=tuple(absolute(folder / entry) for entry in site.inputs.elevation),
        station_spacing_m=site.terrain.station_spacing_m,
        dem_rmse_m=site.terrain.dem_rmse_m,
        dem_correlation_m=site.terrain.dem_correlation_m,
        line_rmse_m=site.terrain.line_rmse_m,
        survey_rmse_m=site.terrain.survey_rmse_m,
        drainage_cell_m=site.terrain.drainage_cell_m,
        drainage_reach_m=site.terrain.drainage_reach_m,
        stream_catchment_m2=site.terrain.stream_catchment_m2,
        hollow_m=site.terrain.hollow_m,
        runoff_mm=site.terrain.runoff_mm,
    )


def _compose(
    path: Path, site: SiteFile, vehicles: Mapping[Path, Vehicle], configs: _Configs, used: list[Path]
) -> Project:
    """Put the project together from parts that were all found good."""
    folder = path.parent
    day = _day(site)
    setups = tuple(
        ProjectSetUp(vehicles[folder / one.vehicle], _choice(one), folder / one.vehicle) for one in site.setups
    )
    return Project(
        path=absolute(path),
        name=site.site.name,
        survey=SurveyInputs(
            network=tuple(source(folder, entry) for entry in site.inputs.network),
            obstacles=tuple(source(folder, entry) for entry in site.inputs.obstacles),
            trailhead=site.site.trailhead,
        ),
        survey_parameters=SurveyParameters(
            snap_m=site.terrain.snap_m, crs=site.site.crs, attach_m=site.terrain.attach_m
        ),
        terrain=_terrain(folder, site),
        setups=setups,
        surfaces=configs.surfaces,
        techniques=configs.techniques,
        limits=configs.limits,
        loop_settings=configs.loops,
        requests=tuple(_request(loop) for loop in site.loops),
        comparisons=comparisons_of(site, setups),
        outlooks=tuple(_outlook(one, site) for one in site.outlooks),
        conditions=day,
        publish=Publication(absolute(folder / site.publish.dir), site.publish.keep, site.publish.hold_if),
        inputs=tuple(sorted({absolute(file) for one in used for file in with_companions(one)})),
        settings=site.model_dump(mode="json"),
        warnings=tuple(_warnings(site, day)),
    )


def _request(loop: Loop) -> LoopRequest:
    """Hand a loop's keys over to the search."""
    return LoopRequest(**{name: getattr(loop, name) for name in type(loop).model_fields})


def _outlook(one: Outlook, site: SiteFile) -> ProjectOutlook:
    """Give the weather of an outlook, on its own day or on that of the conditions."""
    return ProjectOutlook(one.name, Weather(one.rain_mm or (), one.wetness, one.date or site.conditions.date))


def _day(site: SiteFile) -> Day:
    """Take the weather of the day; ground of which nothing is said is taken to be wet."""
    table = site.conditions
    assumed = table.wetness is None and table.rain_mm is None
    wetness = _ASSUMED_WETNESS if assumed else table.wetness
    return Day(Weather(table.rain_mm or (), wetness, table.date), assumed)


def _warnings(site: SiteFile, day: Day) -> list[str]:
    """List what the settings leave open."""
    warnings = []
    if day.assumed:
        warnings.append(f"No rain and no wetness were given: the ground is taken to be {_ASSUMED_WETNESS.value}.")
    rain = [site.conditions.rain_mm, *(one.rain_mm for one in site.comparisons)]
    rain += [one.rain_mm for one in site.outlooks if one.date is None]
    if site.conditions.date is None and any(rain):
        warnings.append("No date was given: the ground is taken to dry as slowly as in midwinter.")
    if not site.inputs.elevation:
        warnings.append("No elevation model was given: slopes are known only where the survey brings heights.")
    if not site.inputs.obstacles:
        warnings.append("No obstacles were surveyed: what stands on, beside or over the trail is not known.")
    if site.inputs.elevation and site.terrain.dem_rmse_m is None:
        warnings.append("The error of the elevation model was not given: no probabilities are stated.")
    if site.terrain.dem_rmse_m is not None and site.terrain.line_rmse_m is None:
        warnings.append("The error of the trail lines' position was not given: probabilities take it as exact.")
    return warnings
