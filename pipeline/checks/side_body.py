"""A set-up in side view: what the sweeps need out of an envelope."""

import numpy as np

from pipeline.checks.limits import Limits
from pipeline.kernels.pose_records import Body
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["body_of"]


def body_of(envelope: Envelope, limits: Limits, lowered_m: float = 0.0) -> Body:
    """Take what the side view needs out of an envelope.

    Parameters
    ----------
    envelope
        The set-up.
    limits
        Required gap.
    lowered_m
        How far the springs give, m: the body hangs lower by it, the axle housings do not.
    """
    return Body.of(
        envelope.underbody[::-1] - np.array([0.0, lowered_m]),
        float(envelope.wheelbase_m),
        float(envelope.tyre_radius_m),
        float(limits.required_gap_m),
        (float(envelope.front_axle_clearance_m), float(envelope.rear_axle_clearance_m)),
    )
