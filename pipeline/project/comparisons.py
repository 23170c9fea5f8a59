"""The comparisons of a site file: what each changes, and what its vehicle does not have."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from pipeline.errors import Fault
from pipeline.ground.surface import Surfaces
from pipeline.ground.wetness import wetness_from_rain
from pipeline.project.model import ProjectComparison, ProjectSetUp
from pipeline.project.site_file import Comparison, SiteFile
from pipeline.settings import Document
from pipeline.terms import Wetness
from pipeline.vehicle.envelope import choice_faults
from pipeline.vehicle.model import SetUpChoice, Vehicle

__all__ = ["comparison_faults", "comparisons_of"]


def comparison_faults(document: Document, site: SiteFile, vehicles: Mapping[Path, Vehicle]) -> Iterator[Fault]:
    """Yield suspensions and loads of comparisons that their vehicle does not have.

    Parameters
    ----------
    document
        The site file as it was read, for the lines.
    site
        The same, understood.
    vehicles
        Vehicle files that could be read, by path.
    """
    folder = Path(document.name).parent
    files = {setup.name: folder / setup.vehicle for setup in site.setups}
    for number, one in enumerate(site.comparisons):
        vehicle = vehicles.get(files.get(one.setup, folder))
        if vehicle is None:
            continue
        asked = SetUpChoice(one.name, one.suspension or "normal", one.loads or ())
        yield from choice_faults(vehicle, asked, document.name, document.place("comparisons", number, "name"))


def comparisons_of(
    site: SiteFile, setups: tuple[ProjectSetUp, ...], surfaces: Surfaces
) -> tuple[ProjectComparison, ...]:
    """Put the comparisons together.

    Parameters
    ----------
    site
        The site file, found good.
    setups
        The set-ups that they begin from.
    surfaces
        How rain makes the ground wet.
    """
    choices = {one.choice.name: one.choice for one in setups}
    return tuple(_comparison(one, choices[one.setup], _wetness(one, surfaces)) for one in site.comparisons)


def _wetness(one: Comparison, surfaces: Surfaces) -> Wetness | None:
    """Decide how wet the ground is taken to be after the change."""
    return one.wetness if one.rain_mm is None else wetness_from_rain(one.rain_mm, surfaces.drying)


def _comparison(one: Comparison, choice: SetUpChoice, wetness: Wetness | None) -> ProjectComparison:
    """Lay a change over the set-up that it begins from."""
    changes = {name: value for name in ("suspension", "loads", "driver") if (value := getattr(one, name)) is not None}
    return ProjectComparison(one.name, one.setup, replace(choice, **changes), wetness, "; ".join(_words(one, wetness)))


def _words(one: Comparison, wetness: Wetness | None) -> Iterator[str]:
    """Yield what is changed, in words."""
    if one.suspension is not None:
        yield f"suspension {one.suspension}"
    if one.loads is not None:
        yield f"loads {', '.join(one.loads) or 'none'}"
    if one.driver is not None:
        yield f"driver {one.driver.value}"
    if wetness is not None:
        rain = ", ".join(f"{day:g}" for day in one.rain_mm or ())
        yield f"ground {wetness.value}" + (f" (rain in mm, oldest day first: {rain})" if rain else "")
