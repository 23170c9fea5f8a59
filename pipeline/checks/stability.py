"""Roll and pitch-over: the static tip angles against the slope of the ground."""

from dataclasses import dataclass

import numpy as np

from pipeline.checks.check import Case, Outcome
from pipeline.checks.slopes import both_ways, slopes_unknown
from pipeline.terms import CheckName

__all__ = ["PitchOver", "Roll"]


@dataclass(frozen=True, slots=True)
class Roll:
    """Lean of the vehicle about its own length, degrees: atan(cross · cos pitch), against the static tip angle.

    Statics of a rigid vehicle (tan = half track ÷ height of the centre of gravity, the static stability factor of
    NHTSA); a real one tips earlier, which the drivers' shares allow for.
    """

    name: CheckName = CheckName.ROLL

    def evaluate(self, case: Case) -> Outcome:
        """Hold the worst lean of every segment against the tip angle towards the worse side."""
        demand, at_m, basis = both_ways(case.scene.lean, case.scene.lean)
        limit = np.full(demand.shape, case.envelope.roll_limit_deg)
        unknown = slopes_unknown(case)
        return Outcome.of(np.degrees(demand), limit, "°", at_m=at_m, basis=basis, unknown=unknown)


@dataclass(frozen=True, slots=True)
class PitchOver:
    """Pitch that counts towards tipping lengthwise, degrees: atan(sin pitch ÷ cos of the whole slope).

    Uphill it is held against the static tip angle about the rear axle, downhill about the front axle; the worse of
    the two is kept. On a plane without side slope it is the pitch itself.
    """

    name: CheckName = CheckName.PITCH_OVER

    def evaluate(self, case: Case) -> Outcome:
        """Hold the worst uphill and the worst downhill pitch against their tip angles."""
        scene, unknown = case.scene, slopes_unknown(case)
        up, up_at, up_basis = both_ways(scene.tip_up, scene.tip_down)
        down, down_at, down_basis = both_ways(scene.tip_down, scene.tip_up)
        climbing = np.full(up.shape, case.envelope.climb_tip_deg)
        descending = np.full(up.shape, case.envelope.descent_tip_deg)
        uphill = Outcome.of(np.degrees(up), climbing, "°", at_m=up_at, basis=up_basis, unknown=unknown)
        downhill = Outcome.of(np.degrees(down), descending, "°", at_m=down_at, basis=down_basis, unknown=unknown)
        return uphill.worse_of(downhill)
