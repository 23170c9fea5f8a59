"""The height of the centre of gravity from scales, by raising one axle: why it works, and how finely it must be read.

Level, the rear axle carries m_r of the mass m: moments about the front wheel centres, l_f the distance of the centre
of gravity behind them and L the wheelbase, give m·l_f = m_r·L. With the front wheel centres raised by h the vehicle
stands nose up by α, sin α = h ÷ L. The ground still pushes straight up through every wheel centre, because only one
axle is held, so that it is the height of the wheel centres, the static loaded radius r, that counts and not the ground.
The centre of gravity, e above the line of the wheel centres, now stands l_f·cos α + e·sin α behind the front ones, and
the rear axle carries m_r': m·(l_f·cos α + e·sin α) = m_r'·L·cos α. Less the level case times cos α:

    e = L·(m_r' − m_r) ÷ (m·tan α), and the height above level ground is r + e.

Method of ISO 10392 (conditions read in a preview of the 1992 and an extract of the 2011 edition): suspension blocked,
tank full, gearbox in neutral, parking brake off, wedges at one axle only, the axle raised and lowered in steps.
"""

import numpy as np

__all__ = ["height_per_kg"]


def height_per_kg(mass_kg: float, raise_m: float, wheelbase_m: float) -> float:
    """Give by how many metres one kilogram on the raised reading moves the height: L ÷ (m·tan α).

    Parameters
    ----------
    mass_kg
        Mass of the vehicle.
    raise_m
        How much higher the front wheel centres stand than the rear ones; above 0, below the wheelbase.
    wheelbase_m
        Distance of the wheel centres.
    """
    return float(wheelbase_m / (mass_kg * np.tan(np.arcsin(raise_m / wheelbase_m))))
