"""Moist air on whole arrays: what a weather record needs to move between dew point and relative humidity.

May import: core formulas.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from hygro.core import formulas
from hygro.core.formulas import saturation_pressure_ice, saturation_pressure_water

FloatArray = NDArray[np.float64]

_LOWEST: Final = -90.0  # [degC] records hold stranger numbers until they are checked; the formulas stay above it


def ice_activity(temperature: FloatArray) -> FloatArray:
    """Relative humidity over liquid water of air that is saturated over ice; 1 at and above 0 degC.

    Parameters
    ----------
    temperature : ndarray, any shape
        Temperature. [degC]

    Returns
    -------
    ndarray, same shape
        Ratio of the saturation pressures over ice and over water, never above 1. [1]

    References
    ----------
    Murphy and Koop (2005), Q. J. R. Meteorol. Soc. 131, 1539-1565, eqs. 7 and 10.
    """
    below = np.clip(temperature, _LOWEST, 0.0)
    ratio = saturation_pressure_ice(below) / saturation_pressure_water(below)
    result: FloatArray = np.where(np.asarray(temperature) < 0.0, np.minimum(ratio, 1.0), 1.0)
    return result


def relative_humidity_from_dew_point(temperature: FloatArray, dew_point: FloatArray) -> FloatArray:
    """Relative humidity over liquid water from air temperature and dew point.

    Parameters
    ----------
    temperature, dew_point : ndarray, same shape
        Air temperature, and dew point over liquid water. [degC]

    Returns
    -------
    ndarray, same shape
        Relative humidity over liquid water. [1]

    References
    ----------
    Definition; saturation pressure of Murphy and Koop (2005), eq. 10.
    """
    dew, air = np.maximum(dew_point, _LOWEST), np.maximum(temperature, _LOWEST)
    return saturation_pressure_water(dew) / saturation_pressure_water(air)


def dew_point(temperature: FloatArray, relative_humidity: FloatArray) -> FloatArray:
    """Dew point over liquid water.

    Parameters
    ----------
    temperature : ndarray, any shape
        Air temperature. [degC]
    relative_humidity : ndarray, same shape
        Relative humidity over liquid water; below 0.01 it is taken as 0.01. [1]

    Returns
    -------
    ndarray, same shape
        Dew point. [degC]

    References
    ----------
    Numerical inverse of Murphy and Koop (2005), eq. 10.
    """
    air = np.maximum(temperature, _LOWEST)
    return formulas.dew_point(np.maximum(relative_humidity, 0.01) * saturation_pressure_water(air))
