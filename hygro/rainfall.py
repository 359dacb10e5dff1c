"""Published relations for rain driven by wind: over open country, by height and obstruction, and by the size of drops.

Functions of numbers; what the user states stands in ``rain``. May import: nothing of ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_LIGHTEST: Final = 0.01  # [mm h-1] drops of lighter rain are taken as those of this
_CLEARANCES: Final = (8.0, 15.0, 25.0, 40.0, 60.0, 80.0, 100.0, 120.0)  # [m] upper ends of the rows for obstructions

# Terrain factor [1], roughness length [m] and least height [m] by terrain category; EN ISO 15927-3 (from memory).
TERRAIN: Final[Mapping[int, tuple[float, float, float]]] = MappingProxyType(
    {1: (0.17, 0.01, 2.0), 2: (0.19, 0.05, 4.0), 3: (0.22, 0.3, 8.0), 4: (0.24, 1.0, 16.0)}
)


def airfield_term(rain: FloatArray, wind: FloatArray) -> FloatArray:
    """Rain through open air, upright and across the wind, in an hour.

    Parameters
    ----------
    rain : ndarray
        Rain on the horizontal. [mm h-1]
    wind : ndarray
        Wind at 10 m straight across the plane. [m s-1]

    Returns
    -------
    ndarray
        (2/9) v r^(8/9). [mm h-1]

    References
    ----------
    EN ISO 15927-3 (from memory).
    """
    return np.asarray(2.0 / 9.0 * wind * rain ** (8.0 / 9.0))


def roughness_coefficient(height: float, terrain: int) -> float:
    """Wind at a height over a terrain as a share of that at the airfield.

    Parameters
    ----------
    height : float
        Height above ground; taken as the terrain's least height below that. [m]
    terrain : int
        Category, 1 to 4. [1]

    Returns
    -------
    float
        K_R ln(z/z_0). [1]

    References
    ----------
    EN ISO 15927-3 (from memory).
    """
    factor, length, least = TERRAIN[terrain]
    return float(factor * np.log(max(height, least) / length))


def obstruction_factor(distance: float) -> float:
    """Share of the driven rain that passes the nearest obstruction.

    Parameters
    ----------
    distance : float
        Of the obstruction, from 4 m on. [m]

    Returns
    -------
    float
        0.2 close by, 1 beyond 120 m. [1]

    References
    ----------
    EN ISO 15927-3 (from memory).
    """
    return 0.2 + 0.1 * int(np.searchsorted(_CLEARANCES, distance, side="left"))


def drop_diameter(rain: FloatArray) -> FloatArray:
    """Median diameter of raindrops.

    Parameters
    ----------
    rain : ndarray
        Rain on the horizontal. [mm h-1]

    Returns
    -------
    ndarray
        1.238 r^0.182. [mm]

    References
    ----------
    Laws and Parsons 1943, fit (from memory).
    """
    return np.asarray(1.238 * np.maximum(rain, _LIGHTEST) ** 0.182)


def fall_speed(diameter: FloatArray) -> FloatArray:
    """Speed at which a raindrop falls in still air.

    Parameters
    ----------
    diameter : ndarray
        Of the drop. [mm]

    Returns
    -------
    ndarray
        Cubic fit to measured drops. [m s-1]

    References
    ----------
    Dingle and Lee 1972, fit (from memory).
    """
    d = diameter
    return np.asarray(-0.166033 + 4.91844 * d - 0.888016 * d**2 + 0.054888 * d**3)
