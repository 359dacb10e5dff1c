"""Air that leaks through the build-up: how much each hour, and which way.

May import: units, constants, errors, core formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hygro.constants import GRAVITY
from hygro.core.formulas import air_density
from hygro.errors import InputError
from hygro.units import to_si

FloatArray = NDArray[np.float64]

TEST_PRESSURE: Final = 50.0  # [Pa] reference of airtightness tests, ISO 9972


@dataclass(frozen=True, slots=True, init=False)
class AirLeak:
    """Leaks of an assembly, driven by the warmth of the house, by wind and by a fan.

    Parameters
    ----------
    q50 : str or float
        Air permeability of the assembly at 50 Pa, per area, for instance ``"1.0 m3/(m2 hour)"``. [m3 m-2 h-1]
    height : str or float
        Height of the assembly above the level at which indoor and outdoor pressure are equal; half the height of the
        heated room for a roof, as much below (negative) for a floor. [m]
    into : str or None
        Label of the layer at whose inner face the leaking air arrives by a short path, leaving its moisture there.
        None: the air seeps through all layers.
    exponent : float
        Of the pressure difference. [1]
    fan_pressure : str or float
        Pressure that a fan keeps indoors; positive pushes air out. [Pa]
    pressure_coefficient : float
        Wind pressure coefficient outside the assembly less that indoors; negative sucks air out. [1]

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    q50: float
    height: float
    into: str | None
    exponent: float
    fan_pressure: float
    pressure_coefficient: float

    def __init__(
        self,
        q50: str | float,
        *,
        height: str | float,
        into: str | None,
        exponent: float = 0.65,
        fan_pressure: str | float = 0.0,
        pressure_coefficient: float = 0.0,
    ) -> None:
        rate = to_si(q50, "air permeability", "Air leak: q50")
        if not 0.0 <= rate <= 100.0:
            msg = f"Air leak: q50 is {rate:g} m3/(m2 h); it must lie between 0 and 100."
            raise InputError(msg)
        rise = _number(height, "length", "height", -50.0, 50.0, "m")
        power = _number(exponent, "fraction", "exponent", 0.5, 1.0, "(turbulent 0.5, laminar 1)")
        object.__setattr__(self, "q50", rate)
        object.__setattr__(self, "height", rise)
        object.__setattr__(self, "into", into)
        object.__setattr__(self, "exponent", power)
        object.__setattr__(self, "fan_pressure", _number(fan_pressure, "pressure", "fan_pressure", -100.0, 100.0, "Pa"))
        coefficient = _number(pressure_coefficient, "fraction", "pressure_coefficient", -3.0, 3.0, "")
        object.__setattr__(self, "pressure_coefficient", coefficient)

    def air_flow(
        self,
        outdoor_temperature: FloatArray,
        indoor_temperature: FloatArray,
        wind_speed: FloatArray,
        pressure: FloatArray,
    ) -> FloatArray:
        """Air that leaks out, negative when it leaks in.

        Parameters
        ----------
        outdoor_temperature, indoor_temperature : ndarray, shape (n_hours,)
            Air temperatures. [degC]
        wind_speed : ndarray, shape (n_hours,)
            Wind speed. [m s-1]
        pressure : ndarray, shape (n_hours,)
            Air pressure. [Pa]

        Returns
        -------
        ndarray, shape (n_hours,)
            rho C |dp|^n sign(dp). [kg m-2 s-1]

        Notes
        -----
        dp = (rho_e - rho_i) g height + fan - 1/2 rho_e v^2 C_p; C from q50. Power law: ISO 9972.
        """
        dense, light = air_density(outdoor_temperature, pressure), air_density(indoor_temperature, pressure)
        wind = 0.5 * dense * wind_speed**2 * self.pressure_coefficient
        drive = (dense - light) * GRAVITY * self.height + self.fan_pressure - wind
        volume = leak_volume_flow(self.q50 / 3600.0, drive, self.exponent)
        return np.asarray(volume * np.where(drive > 0.0, light, dense))

    def describe(self) -> str:
        """The leak in words."""
        way = "seeping through all layers" if self.into is None else f"by a short path to the inside of {self.into!r}"
        return f"q50 {self.q50:g} m3/(m2 h), exponent {self.exponent:g}, {self.height:g} m above neutral, {way}"


def leak_volume_flow(at_test: float, drive: FloatArray, exponent: float) -> FloatArray:
    """Flow through a leak by the power law of ISO 9972, with the sign of the pressure that drives it.

    Parameters
    ----------
    at_test : float
        Flow at 50 Pa. [m3 s-1 or m3 m-2 s-1]
    drive : ndarray, any shape
        Pressure difference. [Pa]
    exponent : float
        Of the pressure difference. [1]

    Returns
    -------
    ndarray, same shape
        Flow in the unit of `at_test`. [m3 s-1 or m3 m-2 s-1]

    References
    ----------
    ISO 9972.
    """
    return np.asarray(np.sign(drive) * at_test * (np.abs(drive) / TEST_PRESSURE) ** exponent)


def _number(value: object, dimension: str, name: str, lowest: float, highest: float, unit: str) -> float:
    number = to_si(value, dimension, f"Air leak: {name}")
    if not lowest <= number <= highest:
        msg = f"Air leak: {name} is {number:g}; it must lie between {lowest:g} and {highest:g} {unit}."
        raise InputError(msg.replace(" .", "."))
    return number
