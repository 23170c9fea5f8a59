"""Sites with stated errors, and their doubts."""

import dataclasses

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome
from pipeline.checks.doubt.demand import demand_sd
from pipeline.checks.run import ALL_CHECKS
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis, CheckName
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, case_of

Float64 = NDArray[np.float64]

GOOD = TerrainParameters(dem_rmse_m=0.05, dem_correlation_m=5.0)
"""A bare-earth model of good lidar."""
CHECK = {check.name: check for check in ALL_CHECKS}


def measured(site: CheckSite, errors: TerrainParameters = GOOD, basis: Basis | None = None) -> CheckSite:
    """State the errors of a site; *basis* replaces what all its heights rest on."""
    site = dataclasses.replace(site, measured=errors)
    if basis is None:
        return site
    parts = {
        name: dataclasses.replace(part, basis=np.full(part.basis.size, basis, dtype=np.uint8))
        for name, part in (("stations", site.terrain.stations), ("profiles", site.terrain.profiles))
    }
    return dataclasses.replace(site, terrain=dataclasses.replace(site.terrain, **parts))


def doubts(site: CheckSite, name: CheckName, vehicle: Envelope | None = None) -> tuple[Case, Outcome, Float64]:
    """Make one check and give the standard deviation of its demand."""
    case = case_of(site, vehicle, LIMITS)
    outcome = CHECK[name].evaluate(case)
    return case, outcome, demand_sd(name, case, outcome)


def sd(site: CheckSite, name: CheckName, vehicle: Envelope | None = None) -> float:
    """Give the standard deviation of the first segment, with the direction."""
    return float(doubts(site, name, vehicle)[2][0, 0])
