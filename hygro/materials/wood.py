"""Moisture and heat in wood: closed forms of the wood-engineering handbook. May import: errors, numpy.

Moisture content is the mass of water per dry mass of wood [kg kg-1]; the handbook writes it in per cent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hygro.errors import MaterialError
from hygro.materials.curve import Array, number, numbers


def equilibrium_moisture_content(relative_humidity: ArrayLike, temperature: ArrayLike = 20.0) -> Array:
    r"""Equilibrium moisture content of wood.

    .. math::
        u = \frac{18}{W} \left[\frac{K h}{1 - K h}
            + \frac{K_1 K h + 2 K_1 K_2 K^2 h^2}{1 + K_1 K h + K_1 K_2 K^2 h^2}\right]

    Parameters
    ----------
    relative_humidity : float or array, any shape
        Relative humidity over liquid water, 0 to 1. [1]
    temperature : float or array, broadcastable
        Temperature, 20 degC unless stated: the temperature at which sorption curves are stated. [degC]

    Returns
    -------
    array
        Moisture content of the dry mass. [kg kg-1]

    Raises
    ------
    MaterialError
        Where a relative humidity is outside 0 to 1, or a temperature outside -60 to 160 degC.

    Notes
    -----
    :math:`h` is the relative humidity, :math:`W, K, K_1, K_2` are quadratics in the temperature. Fitted from about -1
    to 100 degC; below that it extrapolates. Mean of adsorption and desorption.

    References
    ----------
    Two-hydrate sorption model of Hailwood and Horrobin (1946), coefficients of Simpson (1973) as printed in the Wood
    Handbook (USDA Forest Products Laboratory), chapter 4. Coefficients stated from memory.

    Examples
    --------
    >>> round(float(equilibrium_moisture_content(0.65, 20.0)), 3)
    0.12
    """
    h = numbers(relative_humidity, "Relative humidity of wood")
    if not np.all((h >= 0.0) & (h <= 1.0)):
        msg = f"Relative humidity of wood is {_first_outside(h):g}; it must be between 0 and 1. Write 0.8 for 80 %."
        raise MaterialError(msg)
    t = numbers(temperature, "Temperature of wood")
    if not np.all((t >= -60.0) & (t <= 160.0)):
        msg = "Temperature of wood must be a number between -60 and 160 degC."
        raise MaterialError(msg)
    try:
        np.broadcast_shapes(h.shape, t.shape)
    except ValueError as error:
        msg = f"Relative humidity of shape {h.shape} and temperature of shape {t.shape} do not go together."
        raise MaterialError(msg) from error
    return _two_hydrates(h, t)


def _two_hydrates(h: Array, temperature: Array) -> Array:
    t = temperature
    molar = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k_1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k_2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    dissolved = kh / (1.0 - kh)
    hydrated = (k_1 * kh + 2.0 * k_1 * k_2 * kh**2) / (1.0 + k_1 * kh + k_1 * k_2 * kh**2)
    return np.asarray(18.0 / molar * (dissolved + hydrated))


def _first_outside(h: Array) -> float:
    flat = h.ravel()
    return float(flat[np.argmin((flat >= 0.0) & (flat <= 1.0))])


def relative_humidity_of_wood(moisture_content: float, temperature: float = 20.0) -> float:
    """Relative humidity at which wood keeps a moisture content: the inverse of `equilibrium_moisture_content`.

    Parameters
    ----------
    moisture_content : float
        Moisture content of the dry mass. [kg kg-1]
    temperature : float
        Temperature. [degC]

    Returns
    -------
    float
        Relative humidity over liquid water. [1]

    Raises
    ------
    MaterialError
        Where the moisture content is negative or above what the air can bring it to.

    References
    ----------
    See `equilibrium_moisture_content`.

    Examples
    --------
    >>> round(relative_humidity_of_wood(0.16, 20.0), 2)
    0.8
    """
    moisture_content = number(moisture_content, "fraction", "Moisture content of wood")
    temperature = number(temperature, "temperature", "Temperature of wood")
    highest = float(equilibrium_moisture_content(1.0, temperature))
    if not 0.0 <= moisture_content <= highest:
        msg = (
            f"Moisture content of wood is {moisture_content:g}; humid air brings it from 0 to at most {highest:.3g} at "
            f"{temperature:g} degC. Write 0.16 for 16 %."
        )
        raise MaterialError(msg)
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(equilibrium_moisture_content(middle, temperature)) < moisture_content:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class WoodSorption:
    """Sorption of wood at 20 degC: the handbook's equilibrium moisture content times the dry density.

    Parameters
    ----------
    density : float
        Dry density of the wood in the product. [kg m-3]

    References
    ----------
    See `equilibrium_moisture_content`.
    """

    density: float

    def __call__(self, activity: ArrayLike) -> Array:
        """Water content [kg m-3] at a relative humidity [1], any shape."""
        h = np.asarray(activity, dtype=float)
        return np.asarray(self.density * _two_hydrates(h, np.asarray(20.0)))


def wood_conductivity(specific_gravity: ArrayLike, moisture_content: ArrayLike) -> Array:
    r"""Thermal conductivity of wood across the grain.

    .. math:: \lambda = G (0.1941 + 0.4064\,u) + 0.01864

    Parameters
    ----------
    specific_gravity : float or array, any shape
        Oven-dry mass over volume at the moisture content, relative to water. [1]
    moisture_content : float or array, broadcastable
        Moisture content of the dry mass, below 0.25. [kg kg-1]

    Returns
    -------
    array
        Thermal conductivity. [W m-1 K-1]

    References
    ----------
    Wood Handbook (USDA Forest Products Laboratory), chapter 4. Stated from memory.

    Examples
    --------
    >>> round(float(wood_conductivity(0.42, 0.12)), 3)
    0.121
    """
    gravity, u = np.asarray(specific_gravity, dtype=float), np.asarray(moisture_content, dtype=float)
    return np.asarray(gravity * (0.1941 + 0.4064 * u) + 0.01864)


def wood_specific_heat(temperature: ArrayLike, moisture_content: ArrayLike) -> Array:
    r"""Specific heat of moist wood per mass of wood and water.

    .. math:: c = \frac{c_{p0} + 0.0419\,M}{1 + 0.01\,M} + M (-0.06191 + 2.36 \times 10^{-4} T - 1.33 \times 10^{-4} M)

    Parameters
    ----------
    temperature : float or array, any shape
        Temperature, 7 to 147 degC. [degC]
    moisture_content : float or array, broadcastable
        Moisture content of the dry mass, below fibre saturation. [kg kg-1]

    Returns
    -------
    array
        Specific heat. [J kg-1 K-1]

    Notes
    -----
    :math:`M = 100 u` in per cent, :math:`T` in kelvin, :math:`c_{p0} = 0.1031 + 0.003867\,T`, all in kJ kg-1 K-1.

    References
    ----------
    Wood Handbook (USDA Forest Products Laboratory), chapter 4. Stated from memory.

    Examples
    --------
    >>> round(float(wood_specific_heat(26.85, 0.12)), -1)
    1660.0
    """
    kelvin = np.asarray(temperature, dtype=float) + 273.15
    m = 100.0 * np.asarray(moisture_content, dtype=float)
    dry = 0.1031 + 0.003867 * kelvin
    bound = m * (-0.06191 + 2.36e-4 * kelvin - 1.33e-4 * m)
    return np.asarray(1000.0 * ((dry + 0.0419 * m) / (1.0 + 0.01 * m) + bound))
