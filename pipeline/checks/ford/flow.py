"""How a stream rises: what runs off a catchment, and how deep and fast that runs through a ford.

A ford is taken as a wide natural bed in the form of a parabola, which stands for small and medium channels (Chow,
Open-Channel Hydraulics, 1959, table 2-1; memory): its mean depth is two thirds of the deepest, which is the depth that
a survey gives, and its hydraulic radius is its mean depth. The bed keeps the width that was surveyed, so that a rise is
rather too high than too low.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["MEAN_OF_DEEPEST", "discharge", "manning_speed", "pool_depth", "risen"]

Float64 = NDArray[np.float64]

MEAN_OF_DEEPEST = 2.0 / 3.0
"""Mean depth of a parabola ÷ its deepest."""
POOL_SHARE = 0.05
"""Water that runs slower than at this share of the assumed conveyance, on a 400th of the assumed grade, is a pool that
something holds up: it rises as much as runs over that, not as if all of its length ran as slowly. Judgement, no
source."""


def discharge(runoff_mm: float, hours: float, catchment_m2: ArrayLike) -> Float64:
    """Give what runs off a catchment, m³/s: depth × area ÷ time, the form of the rational method Q = C·i·A.

    Parameters
    ----------
    runoff_mm
        What runs off everywhere, mm.
    hours
        Time in which it does, h.
    catchment_m2
        The catchment, m².
    """
    return np.asarray(runoff_mm / 1000.0 / (hours * 3600.0) * np.asarray(catchment_m2, dtype=np.float64))


def manning_speed(radius_m: ArrayLike, grade: float, manning_n: float) -> Float64:
    """Give the mean speed of uniform flow, m/s: Manning's V = R^(2/3)·√S ÷ n.

    Parameters
    ----------
    radius_m
        Hydraulic radius, m; the mean depth of a wide bed.
    grade
        Grade of the bed, rise over run.
    manning_n
        Roughness, s·m^(−1/3).
    """
    return np.asarray(np.asarray(radius_m, dtype=np.float64) ** (2.0 / 3.0) * np.sqrt(grade) / manning_n)


def risen(depth_m: Float64, flow_m_s: Float64, more_m2_s: Float64, conveyance: float) -> tuple[Float64, Float64]:
    """Give depth and speed of water that was surveyed, now that more runs through it.

    Where its speed was surveyed, the bed carries what it carried then, and more: by Manning's formula the discharge a
    metre of width goes with depth^(5/3), in the bed's own proportion, which the survey gives; the speed with
    depth^(2/3). Where nobody timed it, it is taken to have stood, and what runs through now stands on top of it as it
    would in an empty bed: the most that it can rise, as (a + b)^(3/5) ≤ a^(3/5) + b^(3/5). Its speed is then what must
    run through, over its whole depth; NaN where nothing more does.

    Parameters
    ----------
    depth_m
        Deepest place as surveyed, m; 0 for a bed that was dry; NaN gives NaN.
    flow_m_s
        Speed as surveyed; NaN where nobody timed it.
    more_m2_s
        What runs through besides, m²/s: discharge a metre of width, 0 or more.
    conveyance
        √S ÷ n of a bed whose own proportion is not known.

    Returns
    -------
    tuple of ndarray
        Deepest place now, m, and mean speed now, m/s. Never less deep than surveyed.
    """
    mean = MEAN_OF_DEEPEST * depth_m
    own = np.divide(flow_m_s, mean ** (2.0 / 3.0), out=np.zeros(mean.shape), where=mean > 0.0)
    timed = own >= POOL_SHARE * conveyance
    through = np.nan_to_num(flow_m_s * mean, nan=0.0) + more_m2_s
    held_up = mean + (more_m2_s / conveyance) ** 0.6
    deep = np.where(timed, (through / np.where(timed, own, conveyance)) ** 0.6, held_up)
    rises = more_m2_s > 0.0
    speed = np.divide(through, deep, out=flow_m_s.astype(np.float64), where=rises & (deep > 0.0))
    return np.where(rises, deep / MEAN_OF_DEEPEST, depth_m), speed


def pool_depth(volume_m3: Float64, deepest_m: Float64, length_m: Float64) -> Float64:
    """Give how deep water stands in a hollow, m: as deep as it lets it before it runs over, if there is enough.

    The hollow is a round bowl in the form of a paraboloid, whose volume π/8·ℓ²·h grows with the square of the depth.

    Parameters
    ----------
    volume_m3
        What has run into it.
    deepest_m
        Depth h below its rim, m.
    length_m
        Length ℓ across the rim, m.
    """
    full = np.pi / 8.0 * length_m**2 * deepest_m
    share = np.divide(volume_m3, full, out=np.ones(np.shape(deepest_m)), where=full > 0.0)
    return np.asarray(deepest_m * np.sqrt(np.clip(share, 0.0, 1.0)))
