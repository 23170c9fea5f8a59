"""The comparisons of a site file: what each changes, and what its vehicle does not have."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from pipeline.errors import Fault
from pipeline.ground.weather import Weather
from pipeline.project.model import ProjectComparison, ProjectSetUp
from pipeline.project.references import CHANGES
from pipeline.project.site_file import Comparison, SetUp, SiteFile
from pipeline.settings import Document, value_text
from pipeline.vehicle.envelope import choice_faults
from pipeline.vehicle.model import SetUpChoice, Vehicle

__all__ = ["comparison_faults", "comparisons_of"]


def comparison_faults(document: Document, site: SiteFile, vehicles: Mapping[Path, Vehicle]) -> Iterator[Fault]:
    """Yield comparisons with their set-up as it is, and suspensions and loads that their vehicle does not have.

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
    setups = {setup.name: setup for setup in site.setups}
    for number, one in enumerate(site.comparisons):
        setup = setups.get(one.setup)
        vehicle = None if setup is None else vehicles.get(folder / setup.vehicle)
        place = partial(document.place, "comparisons", number)
        if setup is not None and _as_it_is(one, setup):
            found = f"comparisons[{number + 1}] changes nothing: {value_text(one.setup)} is like that already"
            yield Fault(document.name, place(), found, f"something else in at least one of {', '.join(CHANGES)}")
        if vehicle is not None and one.suspension is not None:
            asked = SetUpChoice(one.name, one.suspension)
            yield from choice_faults(vehicle, asked, document.name, place("suspension"))
        if vehicle is not None and one.loads is not None:
            yield from choice_faults(vehicle, SetUpChoice(one.name, loads=one.loads), document.name, place("loads"))


def _as_it_is(one: Comparison, setup: SetUp) -> bool:
    """Tell whether all that a comparison names is so already; on which day the ground is how wet may change."""
    choices = ((one.suspension, setup.suspension), (one.driver, setup.driver))
    given = [after == before for after, before in choices if after is not None]
    given += [] if one.loads is None else [set(one.loads) == set(setup.loads)]
    return bool(given) and all(given) and one.wetness is None and one.rain_mm is None


def comparisons_of(site: SiteFile, setups: tuple[ProjectSetUp, ...]) -> tuple[ProjectComparison, ...]:
    """Put the comparisons together.

    Parameters
    ----------
    site
        The site file, found good.
    setups
        The set-ups that they begin from.
    """
    choices = {one.choice.name: one.choice for one in setups}
    return tuple(_comparison(one, choices[one.setup], _weather(one, site)) for one in site.comparisons)


def _weather(one: Comparison, site: SiteFile) -> Weather | None:
    """Give the weather after the change, on the same day; ``None`` where it stays."""
    if one.wetness is None and one.rain_mm is None:
        return None
    return Weather(one.rain_mm or (), one.wetness, site.conditions.date)


def _comparison(one: Comparison, choice: SetUpChoice, weather: Weather | None) -> ProjectComparison:
    """Lay a change over the set-up that it begins from."""
    changes = {name: value for name in ("suspension", "loads", "driver") if (value := getattr(one, name)) is not None}
    return ProjectComparison(one.name, one.setup, replace(choice, **changes), weather, "; ".join(_words(one)))


def _words(one: Comparison) -> Iterator[str]:
    """Yield what is changed of the set-up, in words."""
    if one.suspension is not None:
        yield f"suspension {one.suspension}"
    if one.loads is not None:
        yield f"loads {', '.join(one.loads) or 'none'}"
    if one.driver is not None:
        yield f"driver {one.driver.value}"
