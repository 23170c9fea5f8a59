"""Settings of the checks: margins, what counts as known, shares of the limits, thresholds (``configs/limits.toml``)."""

import json
from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import Field, ValidationError, model_validator

from pipeline.errors import Fault, SettingsError
from pipeline.settings import Strict, laid_over
from pipeline.terms import CheckName, Driver

__all__ = ["Doubt", "Limits", "Motion", "Shares", "Thresholds"]

Share = Annotated[float, Field(gt=0.0, le=1.0)]


class _Rising(Strict):
    """Steps in the order of their fields, each above the one before."""

    @model_validator(mode="after")
    def _rise(self) -> Self:
        steps = self.model_dump()
        if any(low >= high for low, high in pairwise(steps.values())):
            found = ", ".join(f"{name} {value:g}" for name, value in steps.items())
            msg = f"{found}; must rise: {' < '.join(steps)}"
            raise ValueError(msg)
        return self


class Thresholds(_Rising):
    """Where one verdict ends and the next begins, as utilisation ÷ share of the driver."""

    ample: float = Field(gt=0.0, lt=1.0)
    """Up to here ``ample``."""
    watch: float = Field(gt=0.0, lt=1.0)
    """Up to here ``watch``."""
    spot: float = Field(gt=0.0, le=1.0)
    """Up to here ``spot``; above it ``barred``."""


class Shares(Strict):
    """Share of each static limit that one kind of driver may use, 0–1."""

    approach: Share
    breakover: Share
    departure: Share
    belly: Share
    roll: Share
    pitch_over: Share
    slide: Share
    climb: Share
    descent: Share
    articulation: Share
    turn: Share
    width: Share
    height: Share
    ford: Share
    soft: Share


class Doubt(_Rising):
    """Probability of being over a limit from which a verdict is worsened; it never improves one."""

    watch: float = Field(gt=0.0, le=1.0)
    """From here on at least ``watch``."""
    spot: float = Field(gt=0.0, le=1.0)
    """From here on at least ``spot``."""
    barred: float = Field(gt=0.0, le=1.0)
    """From here on ``barred``."""


class Motion(Strict):
    """How one kind of driver drives the trail, for what depends on speed."""

    speed_kmh: float = Field(gt=0.0, le=40.0)
    """Speed between obstacles: sideways force in bends, stopping distance."""
    obstacle_kmh: float = Field(gt=0.0, le=20.0)
    """Speed on to an obstacle: how far the springs give."""
    reaction_s: float = Field(ge=0.0, le=5.0)
    """Time before the brakes bite, s."""
    steering_deg_s: float = Field(ge=1.0, le=90.0)
    """How fast the front wheels are turned while it rolls at its obstacle speed, degrees of wheel angle a second."""


class Limits(Strict):
    """Everything about the checks that is a judgement rather than a formula."""

    required_gap_m: float = Field(ge=0.0, le=0.3)
    """Air that must stay under the body, m."""
    side_margin_m: float = Field(ge=0.0, le=2.0)
    """Room beside the mirrors, both sides together, m."""
    roof_margin_m: float = Field(ge=0.0, le=1.0)
    """Room over the roof, m."""
    step_fade_m: float = Field(gt=0.0, le=5.0)
    """How far a surveyed step sharpens the ground to either side, m."""
    comfort_gap_m: float = Field(gt=0.0, le=2.0)
    """Room beside the body beyond which nobody looks for more, m."""
    edge_slope_deg: float = Field(ge=1.0, le=60.0)
    """Side slope from which the edge of a trail is a bank on its upper and a drop-off on its lower side."""
    edge_margin_m: float = Field(ge=0.0, le=1.0)
    """Ground that must stay outside the tyres at a drop-off, m."""
    roam_m: float = Field(ge=0.0, le=2.0)
    """How far from the digitised line a driver may look for room where no width is tagged, m."""
    shunt_reverse_m: float = Field(gt=0.0, le=10.0)
    """Longest that a vehicle reverses in a shunt, m."""
    max_cell_of_wheelbase: float = Field(gt=0.0, le=1.0)
    """Coarsest elevation cell for angles and clearances, as a share of the wheelbase."""
    max_cell_slope_m: float = Field(gt=0.0, le=30.0)
    """Coarsest elevation cell for slopes, m."""
    max_flow_m_s: float = Field(gt=0.0, le=5.0)
    """Fastest water that may be forded at any depth, m/s."""
    engine_braking_share_high_range: float = Field(gt=0.0, le=1.0)
    """Share of the crawl grade that engine braking holds without low range."""
    compliance_share: float = Field(ge=0.0, le=0.5)
    """Share of the static arm between centre of gravity and tipping edge that springs and tyres take."""
    bounce_hz: float = Field(gt=0.3, le=5.0)
    """Natural frequency of the body on its springs, Hz."""
    footprint_m: float = Field(gt=0.0, le=0.6)
    """Length of a tyre's contact patch, m."""
    accept_unsurveyed: tuple[CheckName, ...] = ()
    """Checks whose ``unsurveyed`` does not decide a segment."""
    thresholds: Thresholds
    """Where verdicts begin and end."""
    doubt: Doubt
    """Where doubt worsens a verdict."""
    motion: dict[Annotated[Driver, Field(strict=False)], Motion]
    """Speeds of each kind of driver; all of them must be there."""
    share: dict[Annotated[Driver, Field(strict=False)], Shares]
    """Shares of each kind of driver; all of them must be there."""

    @model_validator(mode="after")
    def _all_drivers(self) -> Self:
        tables: dict[str, Mapping[Driver, Strict]] = {"motion": self.motion, "share": self.share}
        missing = [
            f"[{name}.{driver.value}]" for name, table in tables.items() for driver in Driver if driver not in table
        ]
        if missing:
            every = ", ".join(driver.value for driver in Driver)
            msg = f"{', '.join(missing)} missing; allowed: a table for every driver: {every}"
            raise ValueError(msg)
        return self

    def shares(self, driver: Driver, checks: ArrayLike) -> NDArray[np.float64]:
        """Give the share that *driver* may use of each of *checks* (names); 1 for checks without a share."""
        names = np.asarray(checks, dtype=object)
        by_name = self.share[driver].model_dump()
        return np.array([by_name.get(str(name), 1.0) for name in names.ravel()], dtype=np.float64).reshape(names.shape)

    def merged(self, overrides: Mapping[str, object]) -> "Limits":
        """Lay *overrides* over these limits, key by key, and check the whole again.

        Raises
        ------
        SettingsError
            With one fault for each key that is unknown or out of its bounds.
        """
        data = laid_over(self.model_dump(mode="json"), overrides)
        try:
            return Limits.model_validate_json(json.dumps(data))
        except ValidationError as error:
            raise SettingsError(
                Fault(
                    file="limits",
                    place=".".join(map(str, one["loc"])),
                    found=f"{one['input']!r}: {one['msg']}" if one["loc"] else one["msg"],
                    mend="compare with configs/limits.toml",
                )
                for one in error.errors(include_url=False)
            ) from error
