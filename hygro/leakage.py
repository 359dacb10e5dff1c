r"""Air that leaks through the build-up: how much each hour, and which way.

.. math:: m = \rho\,\frac{q_{50}}{3600} \left(\frac{|\Delta p|}{50}\right)^n \mathrm{sign}(\Delta p), \qquad
          \Delta p = (\rho_e - \rho_i) g z + \Delta p_{fan} - \tfrac12 \rho_e v_{10}^2 C                            (1)

positive outwards, with the density of the air that moves. Power law: ISO 9972.
May import: gapflow, units, constants, errors, core formulas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hygro.constants import GRAVITY
from hygro.core.formulas import air_density
from hygro.errors import InputError
from hygro.gapflow import SEMI_SHELTERED, Exposure
from hygro.units import to_si

FloatArray = NDArray[np.float64]

TEST_PRESSURE: Final = 50.0  # [Pa] reference of airtightness tests, ISO 9972
EXPONENT: Final = 0.65  # [1] of leaks in buildings, 0.6 to 0.7; common practice
AREA_PRESSURE: Final = 4.0  # [Pa] at which leakage areas are stated; ASHRAE Handbook Fundamentals (from memory)
DISCHARGE: Final = 0.6  # [1] discharge coefficient of a sharp-edged hole
HOLE_DENSITY: Final = 1.2  # [kg m-3] of air at 20 degC, at which tests are stated
_ROOF_BELOW, _FLOOR_ABOVE = 60.0, 120.0  # [degree] tilt at which a wall begins and ends


@dataclass(frozen=True, slots=True, init=False)
class AirLeak:
    """Leaks of an assembly, driven by the warmth of the house, by wind and by a fan.

    Parameters
    ----------
    q50 : str or float
        Air permeability of the assembly at 50 Pa, per area, for instance ``"1.0 m3/(m2 hour)"``; see `q50_from_n50`
        and `q50_from_leakage_area` for other ways to state it. [m3 m-2 h-1]
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
    pressure_coefficient : float, optional
        Wind pressure coefficient outside the assembly less that indoors, over the wind at 10 m; negative sucks air
        out, 0 leaves wind out. By default it follows from `exposure`, hour by hour. [1]
    exposure : Exposure
        How open the building stands to the wind: ``OPEN``, ``SEMI_SHELTERED`` or ``SHELTERED`` of ``hygro.gapflow``.

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
    pressure_coefficient: float | None
    exposure: Exposure

    def __init__(
        self,
        q50: str | float,
        *,
        height: str | float,
        into: str | None,
        exponent: float = EXPONENT,
        fan_pressure: str | float = 0.0,
        pressure_coefficient: float | None = None,
        exposure: Exposure = SEMI_SHELTERED,
    ) -> None:
        if into is not None and not isinstance(into, str):
            msg = f"Air leak: into is {into!r}; give the label of a layer, or None for air that seeps through all."
            raise InputError(msg)
        rate = to_si(q50, "air permeability", "Air leak: q50")
        if not 0.0 <= rate <= 100.0:
            msg = f"Air leak: q50 is {rate:g} m3/(m2 h); it must lie between 0 and 100."
            raise InputError(msg)
        if not isinstance(exposure, Exposure):
            msg = f"Air leak: exposure is {exposure!r}; give OPEN, SEMI_SHELTERED, SHELTERED or an Exposure."
            raise InputError(msg)
        rise = _number(height, "length", "height", -50.0, 50.0, "m")
        power = _number(exponent, "fraction", "exponent", 0.5, 1.0, "(turbulent 0.5, laminar 1)")
        if pressure_coefficient is not None:
            pressure_coefficient = _number(pressure_coefficient, "fraction", "pressure_coefficient", -3.0, 3.0, "")
        object.__setattr__(self, "q50", rate)
        object.__setattr__(self, "height", rise)
        object.__setattr__(self, "into", into)
        object.__setattr__(self, "exponent", power)
        object.__setattr__(self, "fan_pressure", _number(fan_pressure, "pressure", "fan_pressure", -100.0, 100.0, "Pa"))
        object.__setattr__(self, "pressure_coefficient", pressure_coefficient)
        object.__setattr__(self, "exposure", exposure)

    def wind_coefficient(self, wind_direction: FloatArray, tilt: float, azimuth: float) -> FloatArray:
        """Wind pressure coefficient outside an assembly less that indoors, over the wind at 10 m.

        Parameters
        ----------
        wind_direction : ndarray
            Where the wind comes from, clockwise from north. [degree]
        tilt, azimuth : float
            Orientation of the outer face. [degree]

        Returns
        -------
        ndarray
            C in (1): as stated, or of a wall met under the wind's angle, of a low roof, and 0 of a floor, each less
            the mean of the four walls. [1]

        References
        ----------
        AIVC data for low buildings (from memory). Indoor pressure the mean of the walls: leaks spread evenly, common
        practice.
        """
        if self.pressure_coefficient is not None:
            return np.full_like(wind_direction, self.pressure_coefficient)
        site = self.exposure
        if tilt < _ROOF_BELOW:
            outside = np.full_like(wind_direction, site.roof)
        elif tilt <= _FLOOR_ABOVE:
            outside = site.pressure_coefficient(wind_direction - azimuth)
        else:
            outside = np.full_like(wind_direction, site.mean_coefficient)
        return np.asarray(site.speed_share**2 * (outside - site.mean_coefficient))

    def air_flow(
        self,
        outdoor_temperature: FloatArray,
        indoor_temperature: FloatArray,
        wind_speed: FloatArray,
        pressure: FloatArray,
        coefficient: FloatArray,
    ) -> FloatArray:
        """Air that leaks out, negative when it leaks in.

        Parameters
        ----------
        outdoor_temperature, indoor_temperature : ndarray, shape (n_hours,)
            Air temperatures. [degC]
        wind_speed : ndarray, shape (n_hours,)
            Wind speed at 10 m. [m s-1]
        pressure : ndarray, shape (n_hours,)
            Air pressure. [Pa]
        coefficient : ndarray, shape (n_hours,)
            From `wind_coefficient`. [1]

        Returns
        -------
        ndarray, shape (n_hours,)
            (1). [kg m-2 s-1]

        References
        ----------
        ISO 9972.
        """
        dense, light = air_density(outdoor_temperature, pressure), air_density(indoor_temperature, pressure)
        wind = 0.5 * dense * wind_speed**2 * coefficient
        drive = (dense - light) * GRAVITY * self.height + self.fan_pressure - wind
        volume = leak_volume_flow(self.q50 / 3600.0, drive, self.exponent)
        return np.asarray(volume * np.where(drive > 0.0, light, dense))

    def describe(self) -> str:
        """The leak in words."""
        way = "seeping through all layers" if self.into is None else f"by a short path to the inside of {self.into!r}"
        wind = f"{self.exposure.name} site"
        if self.pressure_coefficient is not None:
            wind = f"wind coefficient {self.pressure_coefficient:g}" if self.pressure_coefficient else "wind left out"
        fan = f", fan {self.fan_pressure:g} Pa" if self.fan_pressure else ""
        rate = f"q50 {self.q50:g} m³/(m² h), exponent {self.exponent:g}, {self.height:g} m above neutral"
        return f"{rate}, {wind}{fan}, {way}"


def q50_from_n50(n50: str | float, *, volume: float, envelope: float) -> float:
    """Air permeability of an envelope from its measured air change rate.

    Parameters
    ----------
    n50 : str or float
        Air changes of the whole house at 50 Pa. [h-1]
    volume : float
        Air inside. [m3]
    envelope : float
        Area of the walls, roof and floor that enclose it. [m2]

    Returns
    -------
    float
        n50 V / A_E, for `AirLeak`: every part of the envelope leaks alike. [m3 m-2 h-1]

    Raises
    ------
    InputError
        Where a value cannot be.

    References
    ----------
    ISO 9972.
    """
    rate = _number(n50, "air change rate", "n50", 0.0, 100.0, "per hour")
    inside, around = (
        _number(volume, "factor", "volume", 1.0, 1e6, "m3"),
        _number(envelope, "factor", "envelope", 1.0, 1e6, "m2"),
    )
    if around < 4.8 * inside ** (2.0 / 3.0):
        msg = (
            f"Air leak: an envelope of {around:g} m2 cannot enclose {inside:g} m3; a sphere has "
            f"{4.836 * inside ** (2 / 3):.0f} m2. Check volume and envelope: the envelope counts walls, roof and floor."
        )
        raise InputError(msg)
    return rate * inside / around


def q50_from_leakage_area(
    area: str | float,
    *,
    exponent: float = EXPONENT,
    at: str | float = AREA_PRESSURE,
    discharge: float = DISCHARGE,
) -> float:
    """Air permeability from the area of the holes.

    Parameters
    ----------
    area : str or float
        Open area of the leaks per area of the assembly, for instance ``"1 cm^2/m^2"``. [1]
    exponent : float
        That of the leak: it carries the flow from `at` to 50 Pa. [1]
    at : str or float
        Pressure difference at which the area is stated. [Pa]
    discharge : float
        Discharge coefficient: 0.6 for the area of real sharp-edged holes; 1 for an effective leakage area. [1]

    Returns
    -------
    float
        C_d A sqrt(2 dp/rho) (50/dp)^n, for `AirLeak`. [m3 m-2 h-1]

    Raises
    ------
    InputError
        Where a value cannot be.

    References
    ----------
    Orifice equation; ASHRAE Handbook Fundamentals, effective leakage area (from memory).
    """
    share = _number(area, "fraction", "leakage area", 0.0, 0.1, "")
    power = _number(exponent, "fraction", "exponent", 0.5, 1.0, "(turbulent 0.5, laminar 1)")
    reference = _number(at, "pressure", "pressure of the leakage area", 0.1, 100.0, "Pa")
    coefficient = _number(discharge, "fraction", "discharge", 0.1, 1.0, "")
    flow = coefficient * share * math.sqrt(2.0 * reference / HOLE_DENSITY)
    return float(3600.0 * flow * (TEST_PRESSURE / reference) ** power)


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
