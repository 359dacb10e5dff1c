"""The sky over the site: long-wave from cloud and dew point, cloud from the sky or the sun, pressure by height.

May import: constants, humidity.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from hygro.climate.humidity import FloatArray, dew_point
from hygro.constants import STANDARD_PRESSURE, STEFAN_BOLTZMANN, ZERO_CELSIUS

_TENTHS: Final = np.linspace(0.0, 10.0, 101)


def cloud_factor(cloud_cover: FloatArray) -> FloatArray:
    r"""By how much cloud raises the long-wave irradiance of a clear sky.

    .. math:: 1 + 0.0224 N - 0.0035 N^2 + 0.00028 N^3

    Parameters
    ----------
    cloud_cover : ndarray, any shape
        Opaque cloud cover. [1]

    Returns
    -------
    ndarray, same shape
        Factor on the clear sky's emissivity. [1]

    Notes
    -----
    N is the cover in tenths.

    References
    ----------
    Walton (1983), NBSIR 83-2655; polynomial from memory, agrees to 0.3 W m-2 with a public hourly year that carries
    its own long-wave column.
    """
    tenths = 10.0 * cloud_cover
    return 1.0 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3


def clear_sky_emissivity(dew_point_temperature: FloatArray) -> FloatArray:
    r"""Emissivity of a cloudless sky.

    .. math:: 0.787 + 0.764 \ln(T_{dp} / 273)

    Parameters
    ----------
    dew_point_temperature : ndarray, any shape
        Dew point over liquid water. [degC]

    Returns
    -------
    ndarray, same shape
        Emissivity. [1]

    References
    ----------
    Clark and Allen (1978), Proc. 2nd National Passive Solar Conference, 675-678; from memory.
    """
    result: FloatArray = 0.787 + 0.764 * np.log((dew_point_temperature + ZERO_CELSIUS) / 273.0)
    return result


def longwave_down(air_temperature: FloatArray, relative_humidity: FloatArray, cloud_cover: FloatArray) -> FloatArray:
    """Downward long-wave irradiance on the horizontal.

    Parameters
    ----------
    air_temperature : ndarray, any shape
        Air temperature. [degC]
    relative_humidity : ndarray, same shape
        Relative humidity over liquid water. [1]
    cloud_cover : ndarray, same shape
        Opaque cloud cover. [1]

    Returns
    -------
    ndarray, same shape
        Long-wave irradiance. [W m-2]

    References
    ----------
    Clark and Allen (1978) for the clear sky, Walton (1983) for cloud.
    """
    emissivity = clear_sky_emissivity(dew_point(air_temperature, relative_humidity)) * cloud_factor(cloud_cover)
    return emissivity * STEFAN_BOLTZMANN * (air_temperature + ZERO_CELSIUS) ** 4


def cloud_from_longwave(air_temperature: FloatArray, relative_humidity: FloatArray, longwave: FloatArray) -> FloatArray:
    """Cloud cover that explains a measured long-wave irradiance.

    Parameters
    ----------
    air_temperature : ndarray, any shape
        Air temperature. [degC]
    relative_humidity : ndarray, same shape
        Relative humidity over liquid water. [1]
    longwave : ndarray, same shape
        Downward long-wave irradiance. [W m-2]

    Returns
    -------
    ndarray, same shape
        Cloud cover from 0 to 1. [1]

    References
    ----------
    Inverse of Walton (1983); the polynomial rises throughout 0 to 10 tenths.
    """
    clear = longwave_down(air_temperature, relative_humidity, np.zeros_like(longwave))
    result: FloatArray = np.interp(longwave / clear, cloud_factor(_TENTHS / 10.0), _TENTHS / 10.0)
    return result


def cloud_transmission(cloud_cover: FloatArray) -> FloatArray:
    r"""Share of the clear sky's global irradiance that comes through cloud.

    .. math:: 1 - 0.75 N^{3.4}

    Parameters
    ----------
    cloud_cover : ndarray, any shape
        Cloud cover. [1]

    Returns
    -------
    ndarray, same shape
        Share. [1]

    References
    ----------
    Kasten and Czeplak (1980), Solar Energy 24, 177-189; from memory.
    """
    return 1.0 - 0.75 * cloud_cover**3.4


def cloud_from_clearness(clear_sky_index: FloatArray) -> FloatArray:
    """Cloud cover that explains the share of the clear sky's irradiance.

    Parameters
    ----------
    clear_sky_index : ndarray, any shape
        Global irradiance over that of a clear sky. [1]

    Returns
    -------
    ndarray, same shape
        Cloud cover from 0 to 1. [1]

    References
    ----------
    Inverse of Kasten and Czeplak (1980).
    """
    lost = np.clip(1.0 - clear_sky_index, 0.0, 0.75) / 0.75
    result: FloatArray = lost ** (1.0 / 3.4)
    return result


def black_body(air_temperature: FloatArray) -> FloatArray:
    """Long-wave irradiance of surroundings at air temperature: no net exchange with a surface as warm as the air.

    Parameters
    ----------
    air_temperature : ndarray, any shape
        Air temperature. [degC]

    Returns
    -------
    ndarray, same shape
        Long-wave irradiance. [W m-2]

    References
    ----------
    Stefan-Boltzmann law.
    """
    return STEFAN_BOLTZMANN * (air_temperature + ZERO_CELSIUS) ** 4


def hour_mean(ends: FloatArray) -> FloatArray:
    """Mean of each hour from the values at its two ends; the first hour takes its end."""
    result: FloatArray = 0.5 * (ends + np.concatenate((ends[:1], ends[:-1])))
    return result


def standard_pressure(elevation: float) -> float:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    elevation : float
        Height above sea level. [m]

    Returns
    -------
    float
        Air pressure. [Pa]

    References
    ----------
    ISO 2533, troposphere.
    """
    return float(STANDARD_PRESSURE * (1.0 - 2.25577e-5 * elevation) ** 5.25588)
