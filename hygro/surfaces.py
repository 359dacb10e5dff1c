"""From weather and orientation to the hourly boundary conditions of a surface.

Hour convention: air states are stated at the ends of the hours and run straight between them. Irradiance and long-wave
are means of the hours; the value at an end is the mean of the two hours that meet there, so that sums are kept. The
first hour starts with the state at its own end.
May import: climate, materials, units, errors, constants, core formulas. pvlib is loaded on first use.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hygro import constants as c
from hygro.climate import Climate
from hygro.core.formulas import (
    MoistAir,
    air_density,
    film_coefficient_wind,
    vapour_film_coefficient,
)
from hygro.errors import InputError
from hygro.materials import Finish
from hygro.units import to_si

FloatArray = NDArray[np.float64]

GROUND_ALBEDO: Final = 0.2  # [1] grass and bare ground; common practice
GROUND_EMISSIVITY: Final = 0.95  # [1] soil, grass and snow alike; common practice
INDOOR_RESISTANCE: Final = {"up": 0.10, "horizontal": 0.13, "down": 0.17}  # [m2 K W-1] ISO 6946 table 7
INDOOR_CONVECTION: Final = {"up": 5.0, "horizontal": 2.5, "down": 0.7}  # [W m-2 K-1] ISO 6946 annex C
FLOOR_WIND_SHARE: Final = 0.3  # [1] the same under a raised floor between skids or skirts; common practice
SURFACE_WIND_SHARE: Final = 0.7  # [1] wind beside a low building's surface as a share of that at 10 m; common practice


@dataclass(frozen=True, slots=True)
class Weathered:
    """An outer surface in the weather: sun, sky, wind. The default.

    Parameters
    ----------
    wind_share : float
        Wind beside the surface as a share of that at 10 m. [1]
    ground_albedo : float
        Share of the sun that the ground reflects. [1]
    """

    wind_share: float = SURFACE_WIND_SHARE
    ground_albedo: float = GROUND_ALBEDO


@dataclass(frozen=True, slots=True)
class Underfloor:
    """The underside of a floor over open, ventilated air: no sun, no sky, little wind. The default of a floor.

    The air under it is outdoor air; ground and all else that the underside sees is as warm as that air.

    Parameters
    ----------
    wind_share : float
        Wind under the floor as a share of that at 10 m. [1]

    Raises
    ------
    InputError
        Where the share is below 0 or above 1.
    """

    wind_share: float = FLOOR_WIND_SHARE

    def __post_init__(self) -> None:
        share = to_si(self.wind_share, "fraction", "Under the floor: wind_share")
        if not 0.0 <= share <= 1.0:
            msg = f"Under the floor: wind_share is {share:g}; it must lie between 0 (no wind) and 1 (that at 10 m)."
            raise InputError(msg)
        object.__setattr__(self, "wind_share", share)


@dataclass(frozen=True, slots=True, init=False)
class FixedFilm:
    """A surface with fixed film coefficients; outdoors it sees neither sun nor sky.

    Parameters
    ----------
    film : float or str
        Heat film coefficient, radiation included. [W m-2 K-1]
    vapour_film : float or str
        Vapour film coefficient. [kg m-2 s-1 Pa-1]

    Raises
    ------
    InputError
        Where a coefficient is not positive.
    """

    film: float
    vapour_film: float

    def __init__(self, film: str | float, vapour_film: str | float) -> None:
        for name, value, kind in (("film", film, "film coefficient"), ("vapour_film", vapour_film, "permeance")):
            number = to_si(value, kind, f"Surface: {name}")
            if number < 0.0 or (name == "film" and number == 0.0):
                msg = f"Surface: {name} is {value}; a film coefficient must be positive."
                raise InputError(msg)
            object.__setattr__(self, name, number)


@dataclass(frozen=True, slots=True)
class Outdoor:
    """Outer boundary at the ends of the hours, the start first, shape (n_hours + 1,).

    Attributes
    ----------
    temperature, vapour_pressure, relative_humidity : ndarray
        Of the outdoor air. [degC, Pa, 1]
    film, vapour_film : ndarray
        Film coefficients. [W m-2 K-1, kg m-2 s-1 Pa-1]
    absorbed, emissivity : ndarray
        Sun and long-wave taken up, and the long-wave emissivity of the surface. [W m-2, 1]
    pressure, density : ndarray
        Of the outdoor air. [Pa, kg m-3]
    wind_speed, wind_direction : ndarray
        At 10 m. [m s-1, degree]
    """

    temperature: FloatArray
    vapour_pressure: FloatArray
    relative_humidity: FloatArray
    film: FloatArray
    vapour_film: FloatArray
    absorbed: FloatArray
    emissivity: FloatArray
    pressure: FloatArray
    density: FloatArray
    wind_speed: FloatArray
    wind_direction: FloatArray


def at_ends(at_stamps: FloatArray) -> FloatArray:
    """Values at the n + 1 ends of n hours, from the values at their stamps."""
    return np.concatenate([at_stamps[:1], at_stamps])


def means_at_ends(means: FloatArray) -> FloatArray:
    """Values at the n + 1 ends of n hours, from the means of the hours."""
    return np.concatenate([means[:1], 0.5 * (means[:-1] + means[1:]), means[-1:]])


Surface = Weathered | Underfloor | FixedFilm


@lru_cache(maxsize=16)
def outdoor(climate: Climate, tilt: float, azimuth: float, finish: Finish, surface: Surface, air: MoistAir) -> Outdoor:
    """Boundary conditions of an outer surface.

    Parameters
    ----------
    climate : Climate
        Outdoor weather.
    tilt, azimuth : float
        Orientation of the surface; azimuth clockwise from north. [degree]
    finish : Finish
        Absorptance and emissivity.
    surface : Weathered, Underfloor or FixedFilm
        What the surface meets.
    air : MoistAir
        Saturation curve.

    Returns
    -------
    Outdoor
        Values at the ends of the hours.

    Notes
    -----
    Absorbed radiation is alpha I + eps (F L_sky + (1 - F) eps_g sigma T_a^4) with F = (1 + cos tilt)/2; the surface
    emits eps sigma T_s^4 in the solver. Film 4 + 4 v (ISO 6946 annex C), vapour film by the Lewis relation. Under a
    floor the absorbed radiation is eps sigma T_a^4: what encloses it is large and at air temperature.
    """
    data = climate.data
    temperature = at_ends(data["air_temperature"].data)
    saturated = air.over_water(temperature)
    vapour = at_ends(data["relative_humidity"].data) * saturated
    pressure = at_ends(data["air_pressure"].data)
    wind = at_ends(data["wind_speed"].data)
    n = len(temperature)
    absorbed, emissivity = np.zeros(n), np.zeros(n)
    if isinstance(surface, FixedFilm):
        film, vapour_film = np.full(n, surface.film), np.full(n, surface.vapour_film)
    else:
        film = film_coefficient_wind(surface.wind_share * wind)
        vapour_film = vapour_film_coefficient(film, temperature)
        if isinstance(surface, Underfloor):
            absorbed = finish.emissivity * c.STEFAN_BOLTZMANN * (temperature + c.ZERO_CELSIUS) ** 4
            emissivity = np.full(n, finish.emissivity)
        elif climate.has_radiation:
            sun = plane_irradiance(climate, tilt, azimuth, surface.ground_albedo)
            sky_view = 0.5 * (1.0 + np.cos(np.radians(tilt)))
            ground = GROUND_EMISSIVITY * c.STEFAN_BOLTZMANN * (temperature + c.ZERO_CELSIUS) ** 4
            longwave = sky_view * means_at_ends(data["longwave_down"].data) + (1.0 - sky_view) * ground
            absorbed = finish.absorptance * means_at_ends(sun) + finish.emissivity * longwave
            emissivity = np.full(n, finish.emissivity)
    outer = Outdoor(
        temperature=temperature,
        vapour_pressure=vapour,
        relative_humidity=np.minimum(vapour / saturated, 1.0),
        film=film,
        vapour_film=vapour_film,
        absorbed=absorbed,
        emissivity=emissivity,
        pressure=pressure,
        density=air_density(temperature, pressure),
        wind_speed=wind,
        wind_direction=at_ends(data["wind_direction"].data),
    )
    for one in fields(outer):  # kept for the next run in the same weather, which must find them as they are
        getattr(outer, one.name).flags.writeable = False
    return outer


@lru_cache(maxsize=64)
def plane_irradiance(climate: Climate, tilt: float, azimuth: float, albedo: float) -> FloatArray:
    """Global irradiance on a tilted plane.

    Parameters
    ----------
    climate : Climate
        Irradiance on the horizontal and normal to the beam.
    tilt, azimuth : float
        Orientation; azimuth clockwise from north. [degree]
    albedo : float
        Reflectance of the ground. [1]

    Returns
    -------
    ndarray, shape (n_hours,)
        Mean of each hour. [W m-2]

    References
    ----------
    Hay and Davies 1980 sky model and solar position at mid-hour as implemented by pvlib.
    """
    import pvlib

    data = climate.data
    middle = (climate.time - pd.Timedelta(hours=0.5 + climate.utc_offset)).tz_localize("UTC")
    sun = pvlib.solarposition.get_solarposition(middle, climate.latitude, climate.longitude, method="nrel_numpy")
    total = pvlib.irradiance.get_total_irradiance(
        surface_tilt=tilt,
        surface_azimuth=azimuth,
        solar_zenith=sun["zenith"].to_numpy(),
        solar_azimuth=sun["azimuth"].to_numpy(),
        dni=np.where(sun["zenith"].to_numpy() < 90.0, data["direct_normal_irradiance"].data, 0.0),
        ghi=data["global_horizontal_irradiance"].data,
        dhi=data["diffuse_horizontal_irradiance"].data,
        dni_extra=pvlib.irradiance.get_extra_radiation(middle.day_of_year.to_numpy()),
        albedo=albedo,
        model="haydavies",
    )
    return np.asarray(np.nan_to_num(np.maximum(np.asarray(total["poa_global"], dtype=float), 0.0)))


def indoor_film(heat_flow: str, surface: FixedFilm | None) -> tuple[float, float]:
    """Heat [W m-2 K-1] and vapour [kg m-2 s-1 Pa-1] film coefficient of the inner surface.

    The reciprocal of ISO 6946's surface resistance, and the Lewis relation on its convective part, unless stated.
    """
    if surface is not None:
        return surface.film, surface.vapour_film
    convection = INDOOR_CONVECTION[heat_flow]
    return 1.0 / INDOOR_RESISTANCE[heat_flow], float(vapour_film_coefficient(convection, 20.0))
