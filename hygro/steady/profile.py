r"""Vapour pressures through a chain of resistances, with condensation planes.

The vapour flux between two points is :math:`g = \delta_0 \Delta p / s_d`. Where the straight line between both airs
would lie above saturation it is replaced by tangents to the saturation curve. On the axis of :math:`s_d` the tangents
are the lower convex hull of the end points and the saturation pressures; a plane that still holds water keeps its
saturation pressure and parts the hull in two.

May import: nothing of ours.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

AIR_PERMEABILITY: Final = 2.0e-10  # [kg m-1 s-1 Pa-1] ISO 13788:2012, a constant of the method (from memory)

Array = npt.NDArray[np.float64]


class VapourProfile(NamedTuple):
    """Vapour pressures and the net flux to each point, both of shape (n,)."""

    pressure: Array  # [Pa]
    gain: Array  # [kg m-2 s-1] what arrives less what leaves; 0 but at planes with water


def vapour_profile(
    place: Array, ceiling: Array, wet: npt.NDArray[np.bool_], outer: float, inner: float
) -> VapourProfile:
    """Vapour pressures between two airs.

    Parameters
    ----------
    place : array, shape (n,)
        Position of each point on the axis of s_d, rising, the outer surface first. [m]
    ceiling : array, shape (n,)
        Saturation pressure at each point. [Pa]
    wet : array of bool, shape (n,)
        Whether the point holds water from before, so that it stays saturated while it dries.
    outer, inner : float
        Vapour pressure of both airs. [Pa]

    Returns
    -------
    VapourProfile
        Pressures and gains.

    References
    ----------
    ISO 13788:2012, clause 6 (from memory); the tangents as a convex hull are this package's wording of it.
    """
    height = ceiling.copy()
    height[0], height[-1] = min(outer, ceiling[0]), min(inner, ceiling[-1])
    held = [0, *(np.flatnonzero(wet[1:-1]) + 1).tolist(), len(place) - 1]
    touching: list[int] = [0]
    for first, last in pairwise(held):
        touching += _hull(place, height, first, last)[1:]
    corners = np.array(touching)
    pressure = np.interp(place, place[corners], height[corners])
    slope = np.diff(height[corners]) / np.diff(place[corners])
    gain = np.zeros(len(place))
    gain[corners[1:-1]] = AIR_PERMEABILITY * np.diff(slope)
    return VapourProfile(pressure, gain)


def _hull(x: Array, y: Array, first: int, last: int) -> list[int]:
    """Corners of the lower convex hull from one point to another."""
    corners = [first]
    for point in range(first + 1, last + 1):
        while len(corners) > 1:
            a, b = corners[-2], corners[-1]
            if (y[b] - y[a]) * (x[point] - x[a]) < (y[point] - y[a]) * (x[b] - x[a]):
                break  # the last corner lies below the chord: it stays
            corners.pop()
        corners.append(point)
    return corners
