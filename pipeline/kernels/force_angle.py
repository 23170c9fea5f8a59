"""How far a standing vehicle is from tipping over each edge of its support: the force-angle stability measure.

E. Papadopoulos and D. A. Rey, "The force-angle measure of tipover stability margin for mobile manipulators", Vehicle
System Dynamics 33(1), 29–48 (2000). About an edge only what lies across it counts: of the resultant force on the centre
of gravity, and of the arm from the centre of gravity to the edge. The angle between the two is 0 when the vehicle
balances on the edge and negative when it tips.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, kernel

__all__ = ["edge_angles", "edge_sides"]

Float64 = NDArray[np.float64]
Point = tuple[float, float, float]


@bare
def edge_sides(begin: Point, end: Point, cg: Point, force: Point) -> tuple[float, float]:
    """Sine and cosine, both times the same positive number, of the angle by which an edge is not tipped over.

    With the edge e, the arm m from the centre of gravity to it and the force f, projecting m and f on the plane across
    e leaves their triple product with e as it is and takes (f·e)(m·e) ÷ e² off their scalar product.

    Parameters
    ----------
    begin, end
        The edge, clockwise round the support seen from above, m.
    cg
        Centre of gravity, m.
    force
        Resultant force on it; its size does not matter.

    Returns
    -------
    tuple of float
        Positive sine: the force passes inside the edge.
    """
    ex, ey, ez = end[0] - begin[0], end[1] - begin[1], end[2] - begin[2]
    mx, my, mz = end[0] - cg[0], end[1] - cg[1], end[2] - cg[2]
    fx, fy, fz = force
    turn = ex * (my * fz - mz * fy) + ey * (mz * fx - mx * fz) + ez * (mx * fy - my * fx)
    square = ex * ex + ey * ey + ez * ez
    along = (fx * ex + fy * ey + fz * ez) * (mx * ex + my * ey + mz * ez)
    return -turn * math.sqrt(square), (fx * mx + fy * my + fz * mz) * square - along


@kernel
def edge_angles(points: Float64, cg: Float64, force: Float64) -> Float64:
    """Angle of every edge of a support polygon by which it is not tipped over.

    Parameters
    ----------
    points
        Points of contact in their order round the support, clockwise seen from above, shape (n, 3), m; any axes, z up.
    cg
        Centre of gravity, shape (3,), m.
    force
        Resultant of gravity and of what else acts on it, shape (3,); its size does not matter.

    Returns
    -------
    numpy.ndarray
        Shape (n,), rad; entry i belongs to the edge from point i to point i + 1. Positive while the force passes
        inside the edge, 0 in balance on it, negative when the vehicle tips over it.
    """
    count = points.shape[0]
    angles = np.empty(count)
    middle = (cg[0], cg[1], cg[2])
    resultant = (force[0], force[1], force[2])
    for i in range(count):
        k = (i + 1) % count
        begin = (points[i, 0], points[i, 1], points[i, 2])
        end = (points[k, 0], points[k, 1], points[k, 2])
        sine, cosine = edge_sides(begin, end, middle, resultant)
        angles[i] = math.atan2(sine, cosine)
    return angles
