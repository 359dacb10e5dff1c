"""Moist air on whole arrays: what a weather record needs to move between dew point and relative humidity.

May import: constants.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from hygro.constants import ZERO_CELSIUS

FloatArray = NDArray[np.float64]

_LOWEST: Final = -90.0  # [degC] below this neither formula is used


def saturation_pressure_water(temperature: FloatArray) -> FloatArray:
    r"""Saturation vapour pressure over liquid water, supercooled below 0 degC.

    .. math:: \ln p = 54.842763 - 6763.22/T - 4.210 \ln T + 0.000367 T
              + \tanh(0.0415 (T - 218.8)) (53.878 - 1331.22/T - 9.44523 \ln T + 0.014025 T)

    Parameters
    ----------
    temperature : ndarray, any shape
        Temperature. [degC]

    Returns
    -------
    ndarray, same shape
        Saturation vapour pressure. [Pa]

    Notes
    -----
    T in kelvin. Valid from -150 to 59 degC.

    References
    ----------
    Murphy and Koop (2005), Q. J. R. Meteorol. Soc. 131, 1539-1565, eq. 10.
    """
    T = np.maximum(temperature, _LOWEST) + ZERO_CELSIUS
    log_T = np.log(T)
    cold = 53.878 - 1331.22 / T - 9.44523 * log_T + 0.014025 * T
    result: FloatArray = np.exp(
        54.842763 - 6763.22 / T - 4.210 * log_T + 0.000367 * T + np.tanh(0.0415 * (T - 218.8)) * cold
    )
    return result


def saturation_pressure_ice(temperature: FloatArray) -> FloatArray:
    r"""Saturation vapour pressure over ice.

    .. math:: \ln p = 9.550426 - 5723.265/T + 3.53068 \ln T - 0.00728332 T

    Parameters
    ----------
    temperature : ndarray, any shape
        Temperature, at or below 0 degC. [degC]

    Returns
    -------
    ndarray, same shape
        Saturation vapour pressure. [Pa]

    Notes
    -----
    T in kelvin. Valid from -163 to 0 degC.

    References
    ----------
    Murphy and Koop (2005), Q. J. R. Meteorol. Soc. 131, 1539-1565, eq. 7.
    """
    T = np.maximum(temperature, _LOWEST) + ZERO_CELSIUS
    result: FloatArray = np.exp(9.550426 - 5723.265 / T + 3.53068 * np.log(T) - 0.00728332 * T)
    return result


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
    below = np.minimum(temperature, 0.0)
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
    return saturation_pressure_water(dew_point) / saturation_pressure_water(temperature)


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
    pressure = np.maximum(relative_humidity, 0.01) * saturation_pressure_water(temperature)
    # The curve is smooth: interpolating its logarithm on a 0.5 K table is exact to 0.001 K.
    table = np.arange(_LOWEST, 80.0, 0.5)
    result: FloatArray = np.interp(np.log(pressure), np.log(saturation_pressure_water(table)), table)
    return result
