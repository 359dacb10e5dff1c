"""Closed forms of moist air, radiation and surface exchange, on numpy arrays or floats.

Temperatures are in degC, pressures in Pa, everything else in SI. This module imports numpy and the constants.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hygro import constants as c

FloatArray = NDArray[np.float64]


def saturation_pressure_water(temperature: ArrayLike) -> FloatArray:
    r"""Saturation vapour pressure over liquid water, supercooled below 0 degC.

    Parameters
    ----------
    temperature : array_like
        Temperature. [degC]

    Returns
    -------
    ndarray
        Saturation pressure. [Pa]

    Notes
    -----
    ln p = 54.842763 - 6763.22/T - 4.210 ln T + 0.000367 T + tanh(0.0415 (T - 218.8))
    (53.878 - 1331.22/T - 9.44523 ln T + 0.014025 T), T in K. Stated for 123 K to 332 K; checked here against the
    IAPWS table: within 0.04 % up to 60 degC, 0.2 % at 80 degC. Coefficients recalled from the paper and
    confirmed by that table.

    References
    ----------
    Murphy and Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. (10).
    """
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    smooth = np.tanh(0.0415 * (t - 218.8)) * (53.878 - 1331.22 / t - 9.44523 * np.log(t) + 0.014025 * t)
    return np.asarray(np.exp(54.842763 - 6763.22 / t - 4.210 * np.log(t) + 0.000367 * t + smooth))


def saturation_pressure_ice(temperature: ArrayLike) -> FloatArray:
    r"""Saturation vapour pressure over ice.

    Parameters
    ----------
    temperature : array_like
        Temperature. [degC]

    Returns
    -------
    ndarray
        Saturation pressure. [Pa]

    Notes
    -----
    ln p = 9.550426 - 5723.265/T + 3.53068 ln T - 0.00728332 T, T in K, for T > 110 K. Meets the curve over water of
    the same paper at the triple point.

    References
    ----------
    Murphy and Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. (7).
    """
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    return np.asarray(np.exp(9.550426 - 5723.265 / t + 3.53068 * np.log(t) - 0.00728332 * t))


def saturation_pressure_iso(temperature: ArrayLike) -> FloatArray:
    """Saturation vapour pressure of the standards: over water from 0 degC up, over ice below.

    Parameters
    ----------
    temperature : array_like
        Temperature. [degC]

    Returns
    -------
    ndarray
        Saturation pressure. [Pa]

    References
    ----------
    EN ISO 13788:2012, annex E; also EN 15026.
    """
    t = np.asarray(temperature, dtype=float)
    water = 17.269 * t / (237.3 + t)
    ice = 21.875 * t / (265.5 + t)
    return np.asarray(610.5 * np.exp(np.where(t >= 0.0, water, ice)))


def saturation_pressure_hamstad(temperature: ArrayLike) -> FloatArray:
    """Saturation vapour pressure as the HAMSTAD benchmark series states it.

    Parameters
    ----------
    temperature : array_like
        Temperature. [degC]

    Returns
    -------
    ndarray
        Saturation pressure. [Pa]

    References
    ----------
    Hagentoft et al. 2004, J. Thermal Envelope and Building Science 27:327-352 (from memory).
    """
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    return np.asarray(np.exp(65.8094 - 7066.27 / t - 5.976 * np.log(t)))


def air_permeability_schirmer(temperature: ArrayLike, pressure: ArrayLike = c.STANDARD_PRESSURE) -> FloatArray:
    """Vapour permeability of still air.

    Parameters
    ----------
    temperature : array_like
        Air temperature. [degC]
    pressure : array_like
        Air pressure. [Pa]

    Returns
    -------
    ndarray
        Vapour permeability for vapour pressure. [kg m-1 s-1 Pa-1]

    Notes
    -----
    2.306e-5 (p0/p) (T/273)^1.81 / (R_v T), T in K.

    References
    ----------
    EN ISO 12572:2016 (the Schirmer relation).
    """
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    diffusivity = 2.306e-5 * (c.STANDARD_PRESSURE / np.asarray(pressure, dtype=float)) * (t / 273.0) ** 1.81
    return np.asarray(diffusivity / (c.GAS_CONSTANT_VAPOUR * t))


class MoistAir(NamedTuple):
    """Which published curves a run uses, and whether pore water freezes.

    The default is one consistent pair over water and ice. The standards' pair serves their own benchmarks.

    Parameters
    ----------
    name : str
        What the run says about it.
    over_water : callable
        Saturation pressure [Pa] over liquid water at a temperature [degC].
    over_ice : callable or None
        The same over ice; None where pore water does not freeze.
    air_permeability : callable
        Vapour permeability of still air [kg m-1 s-1 Pa-1] at a temperature [degC].
    gas_constant : float
        Gas constant of vapour. [J kg-1 K-1]
    latent_heat, fusion_heat : float
        Latent heat of evaporation and of fusion at 0 degC. [J kg-1]
    specific_heat_vapour, specific_heat_water, specific_heat_ice : float
        Specific heats. [J kg-1 K-1]
    """

    name: str = "Murphy and Koop 2005"
    over_water: Callable[[ArrayLike], FloatArray] = saturation_pressure_water
    over_ice: Callable[[ArrayLike], FloatArray] | None = saturation_pressure_ice
    air_permeability: Callable[[ArrayLike], FloatArray] = air_permeability_schirmer
    gas_constant: float = c.GAS_CONSTANT_VAPOUR
    latent_heat: float = c.LATENT_HEAT_EVAPORATION
    fusion_heat: float = c.LATENT_HEAT_FUSION
    specific_heat_vapour: float = c.SPECIFIC_HEAT_VAPOUR
    specific_heat_water: float = c.SPECIFIC_HEAT_WATER
    specific_heat_ice: float = c.SPECIFIC_HEAT_ICE


def humidity_ratio(vapour_pressure: ArrayLike, pressure: ArrayLike = c.STANDARD_PRESSURE) -> FloatArray:
    """Humidity ratio [kg kg-1] of air at a vapour pressure [Pa]; ASHRAE Handbook Fundamentals, psychrometrics."""
    p_v = np.asarray(vapour_pressure, dtype=float)
    return np.asarray(c.AIR_MOLAR_RATIO * p_v / (np.asarray(pressure, dtype=float) - p_v))


def dew_point(vapour_pressure: ArrayLike) -> FloatArray:
    """Dew point over liquid water.

    Parameters
    ----------
    vapour_pressure : array_like
        Vapour pressure. [Pa]

    Returns
    -------
    ndarray
        Dew point, held between -90 and 79.5. [degC]

    Notes
    -----
    The first guess interpolates the logarithm of the saturation pressure on a table of 0.5 K; two steps of Newton's
    method follow.

    References
    ----------
    Numerical inverse of Murphy and Koop 2005, eq. (10).
    """
    table = np.arange(-90.0, 80.0, 0.5)
    pressure = np.maximum(np.asarray(vapour_pressure, dtype=float), 1e-3)
    wanted = np.log(pressure)
    t = np.interp(wanted, np.log(saturation_pressure_water(table)), table)
    for _ in range(2):
        slope = (np.log(saturation_pressure_water(t + 0.01)) - np.log(saturation_pressure_water(t - 0.01))) / 0.02
        t = t - (np.log(saturation_pressure_water(t)) - wanted) / slope
    return np.asarray(np.clip(t, table[0], table[-1]))


def air_density(temperature: ArrayLike, pressure: ArrayLike = c.STANDARD_PRESSURE) -> FloatArray:
    """Density of dry air [kg m-3] at a temperature [degC] and pressure [Pa]; ideal gas."""
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    return np.asarray(np.asarray(pressure, dtype=float) / (c.GAS_CONSTANT_AIR * t))


def film_coefficient_wind(wind_speed: ArrayLike) -> FloatArray:
    """Convective film coefficient of an outdoor surface.

    Parameters
    ----------
    wind_speed : array_like
        Wind speed beside the surface. [m s-1]

    Returns
    -------
    ndarray
        4 + 4 v. [W m-2 K-1]

    References
    ----------
    ISO 6946:2017, annex C.
    """
    return np.asarray(4.0 + 4.0 * np.asarray(wind_speed, dtype=float))


def vapour_film_coefficient(film_coefficient: ArrayLike, temperature: ArrayLike = 10.0) -> FloatArray:
    """Vapour film coefficient from the convective one by the Lewis relation, Lewis number 1.

    Parameters
    ----------
    film_coefficient : array_like
        Convective film coefficient. [W m-2 K-1]
    temperature : array_like
        Film temperature. [degC]

    Returns
    -------
    ndarray
        h / (rho c_p R_v T) with rho c_p = 1207 J m-3 K-1. [kg m-2 s-1 Pa-1]

    References
    ----------
    EN 15026:2007, surface transfer coefficients (Lewis relation).
    """
    t = np.asarray(temperature, dtype=float) + c.ZERO_CELSIUS
    capacity = 1.2 * c.SPECIFIC_HEAT_AIR
    return np.asarray(np.asarray(film_coefficient, dtype=float) / (capacity * c.GAS_CONSTANT_VAPOUR * t))


def screen_loss_woven(free_area_ratio: float) -> float:
    """Pressure-loss coefficient of a woven-wire screen, referred to the speed in front of it.

    1.3 (1 - f) + (1/f - 1)^2 with f the free-area ratio [1]. I. E. Idelchik, Handbook of Hydraulic Resistance
    (from memory).
    """
    return 1.3 * (1.0 - free_area_ratio) + (1.0 / free_area_ratio - 1.0) ** 2


def unventilated_film_coefficient(thickness: float, direction: str) -> float:
    """Conduction and convection coefficient across a still air layer, temperature difference up to 5 K.

    Parameters
    ----------
    thickness : float
        Thickness of the air layer. [m]
    direction : {"up", "horizontal", "down"}
        Direction of the heat flow.

    Returns
    -------
    float
        Coefficient h_a. [W m-2 K-1]

    References
    ----------
    ISO 6946:2017, annex D.
    """
    convection = {"up": 1.95, "horizontal": 1.25, "down": 0.12 * thickness**-0.44}[direction]
    return float(max(convection, c.AIR_CONDUCTIVITY / thickness))
