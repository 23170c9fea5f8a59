"""General flood-hazard classes H1 to H6, told beside the limits of a ford; nothing is decided by them."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["hazard_class"]

_LIMITS = ((0.3, 0.3, 2.0), (0.6, 0.5, 2.0), (0.6, 1.2, 2.0), (1.0, 2.0, 2.0), (4.0, 4.0, 4.0))
"""Depth × speed, m²/s; depth, m; speed, m/s. Australian Institute for Disaster Resilience, Guideline 7-3 "Flood Hazard"
(2017), table 2, after Smith, Davey and Cox (2014), read in secondary copies."""
_ROUNDING = 1e-9


def hazard_class(depth_m: ArrayLike, flow_m_s: ArrayLike) -> NDArray[np.object_]:
    """Give the lowest class whose three limits all hold; a value at its limit counts as inside.

    H1 is generally without danger for vehicles, H2 dangerous for small ones, H3 and above for all. The boundary of H2
    at 0.6 m²/s is another criterion than the limit of the same size for large four-wheel drives.

    Parameters
    ----------
    depth_m
        Depth, m.
    flow_m_s
        Speed, m/s; NaN counts as still water.
    """
    depth, flow = np.asarray(depth_m, dtype=np.float64), np.nan_to_num(np.asarray(flow_m_s, dtype=np.float64), nan=0.0)
    inside = [
        (depth * flow <= product + _ROUNDING) & (depth <= deep + _ROUNDING) & (flow <= fast + _ROUNDING)
        for product, deep, fast in _LIMITS
    ]
    names = [f"H{number + 1}" for number in range(len(_LIMITS))]
    return np.asarray(np.select(inside, names, default=f"H{len(_LIMITS) + 1}"), dtype=object)
