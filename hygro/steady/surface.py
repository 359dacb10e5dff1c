r"""Temperature factor of the inner surface and what humidity it bears: ISO 13788's check against mould at surfaces.

.. math:: f_{Rsi} = \frac{\theta_{si} - \theta_e}{\theta_i - \theta_e} = 1 - \frac{R_{si}}{R_T}

May import: assembly, errors, core formulas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from hygro.assembly import Assembly
from hygro.core.formulas import saturation_pressure_iso
from hygro.errors import InputError
from hygro.steady.months import MONTHS, MonthlyAir
from hygro.steady.path import chain

SURFACE_RESISTANCE: Final = 0.25  # [m2 K W-1] ISO 13788:2012, opaque parts, for the check of the surface (from memory)
MOULD_HUMIDITY: Final = 0.80  # [1] ISO 13788, monthly mean at the surface (from memory)
SOURCE: Final = "ISO 13788:2012, clause 5 (from memory)"
LIMITS: Final = (
    "Steady and in one dimension, through the middle of the build-up: studs, corners, edges and furniture make colder "
    "places, which need a two- or three-dimensional calculation. Mould can harm health; local codes and a licensed "
    "professional decide."
)


def saturation_temperature(pressure: float) -> float:
    """Temperature at which a vapour pressure is saturated, by the formulas of ISO 13788.

    Parameters
    ----------
    pressure : float
        Vapour pressure, above 0. [Pa]

    Returns
    -------
    float
        Dew point, or frost point below 0 degC. [degC]

    Raises
    ------
    InputError
        Where the pressure is not above 0.

    References
    ----------
    ISO 13788:2012, annex E.
    """
    if not 0.0 < pressure < 1e5:
        msg = f"A vapour pressure of {pressure:g} Pa has no dew point here; it must lie above 0 and below 100000 Pa."
        raise InputError(msg)
    logarithm = math.log(pressure / 610.5)
    if logarithm >= 0.0:
        return 237.3 * logarithm / (17.269 - logarithm)
    return 265.5 * logarithm / (21.875 - logarithm)


@dataclass(frozen=True, slots=True)
class SurfaceNeed:
    """How warm a surface has to be.

    Attributes
    ----------
    temperature : float
        Lowest surface temperature that keeps the humidity at the surface. [degC]
    factor : float
        The same as a temperature factor; infinite where indoors is no warmer than outdoors and too humid. [1]
    """

    temperature: float
    factor: float


def surface_need(
    outdoor_temperature: float,
    indoor_temperature: float,
    indoor_vapour_pressure: float,
    *,
    humidity: float = MOULD_HUMIDITY,
) -> SurfaceNeed:
    """Lowest surface temperature and temperature factor that keep a humidity at the surface.

    Parameters
    ----------
    outdoor_temperature, indoor_temperature : float
        Air temperatures. [degC]
    indoor_vapour_pressure : float
        Of the indoor air. [Pa]
    humidity : float
        Highest relative humidity at the surface: 0.8 against mould, 0.6 against corrosion, 1 against condensation. [1]

    Returns
    -------
    SurfaceNeed
        Temperature and factor.

    Raises
    ------
    InputError
        Where a value cannot be.

    References
    ----------
    ISO 13788:2012, clause 5 (from memory).
    """
    if not 0.0 < humidity <= 1.0:
        hint = f' Did you mean "{humidity:g} %"?' if 1.0 < humidity <= 100.0 else ""
        msg = f"The humidity allowed at the surface is {humidity:g}; it must be a fraction such as 0.8.{hint}"
        raise InputError(msg)
    lowest = saturation_temperature(indoor_vapour_pressure / humidity)
    span = indoor_temperature - outdoor_temperature
    if span > 0.0:
        return SurfaceNeed(lowest, (lowest - outdoor_temperature) / span)
    return SurfaceNeed(lowest, math.inf if lowest > indoor_temperature else 0.0)


@dataclass(frozen=True, slots=True)
class SurfaceCheck:
    """Result of the check of the inner surface; prints as its table.

    Attributes
    ----------
    assembly : str
        Name of the build-up.
    air : MonthlyAir
        Air on both sides.
    factor : float
        Temperature factor of the build-up. [1]
    humidity : float
        Highest relative humidity allowed at the surface. [1]
    needed : tuple of SurfaceNeed
        What each month needs, January first.
    temperatures : tuple of float
        Of the surface in each month. [degC]
    humidities : tuple of float
        At the surface in each month, 1 where it is wet. [1]
    notes : tuple of str
        What was left out or assumed.
    """

    assembly: str
    air: MonthlyAir
    factor: float
    humidity: float
    needed: tuple[SurfaceNeed, ...]
    temperatures: tuple[float, ...]
    humidities: tuple[float, ...]
    notes: tuple[str, ...]

    @property
    def critical_month(self) -> str:
        """Month that needs the warmest surface."""
        return MONTHS[max(range(12), key=lambda month: self.needed[month].factor)]

    @property
    def needed_factor(self) -> float:
        """Temperature factor that the critical month needs. [1]."""
        return max(one.factor for one in self.needed)

    @property
    def passes(self) -> bool:
        """Whether the surface stays at or below the allowed humidity in every month."""
        return all(warm >= need.temperature for warm, need in zip(self.temperatures, self.needed, strict=True))

    @property
    def verdict(self) -> str:
        """The outcome in one sentence."""
        need = f"{self.needed_factor:.3f} in {self.critical_month}"
        month = max(range(12), key=lambda m: self.humidities[m])
        worst = f"{100.0 * self.humidities[month]:.0f} % in {MONTHS[month]} (limit {100.0 * self.humidity:.0f} %)"
        word = "Enough" if self.passes else "Too cold"
        return f"{word}: temperature factor {self.factor:.3f}, needed {need}; the surface reaches at most {worst}."

    def __str__(self) -> str:
        head = f"{'month':<6}{'outdoors':>10}{'indoors':>16}{'needed at surface':>20}{'surface':>18}"
        lines = [
            f"{self.assembly}: inner surface.",
            head,
            f"{'':<6}{'°C':>10}{'°C    %':>16}{'°C   f_Rsi':>20}{'°C    %':>18}",
        ]
        for m, month in enumerate(MONTHS):
            warm, humid = self.air.indoor_temperature[m], 100.0 * self.air.indoor_relative_humidity[m]
            lines.append(
                f"{month:<6}{self.air.outdoor_temperature[m]:>10.1f}{warm:>11.1f}{humid:>5.0f}"
                f"{self.needed[m].temperature:>13.1f}{self.needed[m].factor:>7.2f}"
                f"{self.temperatures[m]:>13.1f}{100.0 * self.humidities[m]:>5.0f}"
            )
        return "\n".join([*lines, self.verdict, *self.notes, LIMITS])

    __repr__ = __str__


def surface_check(
    assembly: Assembly,
    air: MonthlyAir,
    *,
    humidity: float = MOULD_HUMIDITY,
    surface_resistance: float = SURFACE_RESISTANCE,
) -> SurfaceCheck:
    """Humidity at the inner surface, month by month, against what is allowed.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    air : MonthlyAir
        Monthly means on both sides.
    humidity : float
        Highest relative humidity at the surface: 0.8 against mould, 0.6 against corrosion, 1 against condensation. [1]
    surface_resistance : float
        Of the inner surface; 0.25 for opaque parts, 0.13 for glazing. [m2 K W-1]

    Returns
    -------
    SurfaceCheck
        Table and outcome.

    Raises
    ------
    InputError
        Where an argument cannot be.

    References
    ----------
    ISO 13788:2012, clause 5 (from memory).
    """
    if not isinstance(air, MonthlyAir):
        msg = (
            f"The check of the surface needs MonthlyAir; got {type(air).__name__}. Use monthly_means or monthly_values."
        )
        raise InputError(msg)
    path = chain(assembly, inner_resistance=surface_resistance)
    months = list(zip(air.outdoor_temperature, air.indoor_temperature, air.indoor_vapour_pressure, strict=True))
    warm = tuple(path.temperatures(outdoor, indoor)[-1] for outdoor, indoor, _ in months)
    humid = np.array(air.indoor_vapour_pressure) / saturation_pressure_iso(np.array(warm))
    return SurfaceCheck(
        assembly.name,
        air,
        1.0 - path.inner_resistance / path.resistance,
        humidity,
        tuple(surface_need(outdoor, indoor, pressure, humidity=humidity) for outdoor, indoor, pressure in months),
        warm,
        tuple(np.minimum(humid, 1.0).tolist()),
        (
            f"Air: {air.title}.",
            *filter(None, [path.gap_note]),
            f"Inner surface resistance {surface_resistance:g} m2 K/W ({SOURCE}).",
        ),
    )
