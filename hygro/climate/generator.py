"""Invented hourly weather: seasons, passing air masses, cloud, sun, rain and wind that belong together.

How it hangs together. One slow series stands for high and low pressure. It leans on cloud (highs are clear), wind
(lows are windy) and temperature (winter highs are cold, summer highs warm). Cloud thins the clear-sky sun. The air
is warmed by that sun and cooled by the clear night, each through a lag, so that days, nights, cold spells and fog
follow from the sky and not from a fixed curve. The dew point follows the day's mean temperature at a distance that
shrinks with cloud and rain, and no air holds more vapour than water, or ice below freezing, allows. Only liquid
rain is counted: none at 0 degC and below, all of it from 2 degC on, in proportion between (common practice).

Every value is rounded to what a station reports, so the same seed gives the same bytes.
May import: errors, constants, core formulas, humidity, noise, places, record, sky, sun; scipy on first use.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from hygro.climate.humidity import FloatArray, ice_activity
from hygro.climate.noise import autoregressive, memory, response, running_mean, smooth_autoregressive
from hygro.climate.places import PLACES, Place
from hygro.climate.record import Climate, assemble
from hygro.climate.sky import cloud_transmission, hour_mean, longwave_down, standard_pressure
from hygro.climate.sun import HourlySun, hourly_sun, split_global
from hygro.constants import STANDARD_PRESSURE
from hygro.core.formulas import saturation_pressure_water
from hygro.errors import ClimateError

_DAYS: Final = 365.25
_ICE_EXCESS: Final = 1.03  # [1] air over snow is often a little above ice saturation
_HIGHEST_HUMIDITY: Final = 0.99
_DRIEST: Final = 0.9  # [1] logarithm of the largest dew-point distance over the usual one
_PRESSURE_RIPPLE: Final = 60.0  # [Pa] passing disturbances of a few hours
_PRESSURE_SWING: Final = 1050.0  # [Pa] standard deviation of the pressure at middle latitudes; typical
_DECIMALS: Final[Mapping[str, int]] = {
    "air_temperature": 1,
    "relative_humidity": 2,
    "air_pressure": -1,
    "wind_speed": 1,
    "wind_direction": -1,
    "global_horizontal_irradiance": 0,
    "direct_normal_irradiance": 0,
    "diffuse_horizontal_irradiance": 0,
    "longwave_down": 0,
    "rain": 1,
    "cloud_cover": 1,
}


class _Season(NamedTuple):
    """Where in the year each hour stands, shape (time,)."""

    cold: FloatArray  # [1] 1 in the coldest, -1 in the warmest season

    def between(self, winter: float, summer: float) -> FloatArray:
        """Winter's value in winter, summer's in summer, smooth between."""
        return summer + (winter - summer) * 0.5 * (1.0 + self.cold)


def generate_climate(place: str | Place, seed: int, *, years: int = 1, start_year: int = 2023) -> Climate:
    """Invented hourly climate of an invented place.

    Parameters
    ----------
    place : str or Place
        Name of an invented place, or your own parameters.
    seed : int
        Seed of the random numbers; the same seed gives the same values.
    years : int
        Length in calendar years; every year differs. [a]
    start_year : int
        Calendar year of the first hour. [a]

    Returns
    -------
    Climate
        Hourly record from 1 January of the start year.

    Raises
    ------
    ClimateError
        Where the place is unknown, or seed or years is not a suitable whole number.

    Notes
    -----
    The weather is plausible, not real: it must not be used to judge a building at any place on earth.

    References
    ----------
    Clear sky: Ineichen and Perez (2002), Solar Energy 73, 151-157, by pvlib. Sun through cloud: Kasten and Czeplak
    (1980). Diffuse share: Erbs et al. (1982). Long-wave: Clark and Allen (1978) with Walton (1983). The rest is
    common practice in stochastic weather.
    """
    stated = PLACES[known_place(place)] if isinstance(place, str) else place
    for name, number, lowest in (("seed", seed, 0), ("years", years, 1), ("start_year", start_year, 1900)):
        if isinstance(number, bool) or not isinstance(number, int) or number < lowest:
            msg = f"Generated climate: {name} is {number!r}; a whole number from {lowest} on is needed."
            raise ClimateError(msg)
    time = pd.date_range(f"{start_year}-01-01 01:00", f"{start_year + years}-01-01 00:00", freq="h", unit="ns")
    rng = np.random.Generator(np.random.PCG64(seed))
    values = _weather(stated, time, rng)
    rounded = {name: np.round(array, _DECIMALS[name]) + 0.0 for name, array in values.items()}
    rounded["wind_direction"] %= 360.0
    rounded["longwave_down"] = np.round(_longwave(rounded), _DECIMALS["longwave_down"])
    attrs: dict[str, str | float | int] = {
        "title": stated.title,
        "source": "invented, no real place; made by hygro.climate.generator." + _call(place, seed, years, start_year),
        "latitude": stated.latitude,
        "longitude": stated.longitude,
        "elevation": stated.elevation,
        "utc_offset": stated.utc_offset,
        "has_radiation": 1,
        "notes": "",
    }
    return Climate(assemble(time, rounded, attrs))


def known_place(name: str) -> str:
    """Give the name back if it is one of the invented places.

    Raises
    ------
    ClimateError
        With the nearest spellings, where it is not.
    """
    if name in PLACES:
        return name
    near = difflib.get_close_matches(name, PLACES, n=2, cutoff=0.4)
    nearest = f"Nearest: {', '.join(repr(other) for other in near)}. " if near else ""
    msg = f"No sample climate {name!r}. {nearest}There are {', '.join(repr(other) for other in PLACES)}."
    raise ClimateError(msg)


def _call(place: str | Place, seed: int, years: int, start_year: int) -> str:
    named = f'"{place}"' if isinstance(place, str) else f"Place({place.title!r}, ...)"
    return f"generate_climate({named}, {seed}, years={years}, start_year={start_year})"


def _weather(place: Place, time: pd.DatetimeIndex, rng: np.random.Generator) -> dict[str, FloatArray]:
    """All variables but the long-wave, not yet rounded."""
    n = len(time)
    day = (time.day_of_year.to_numpy() - 1) + time.hour.to_numpy() / 24.0
    season = _Season(-np.cos(2.0 * np.pi * (day - place.warmest_day) / _DAYS))
    sun = hourly_sun(time, place.latitude, place.longitude, place.utc_offset)

    high = 0.75 * smooth_autoregressive(rng, n, 40.0, 10.0) + 0.66 * smooth_autoregressive(rng, n, 170.0, 12.0)
    cloudiness = -0.55 * high + 0.66 * autoregressive(rng, n, memory(16.0)) + 0.51 * autoregressive(rng, n, memory(3.5))
    cloud = np.clip(
        0.5 + 0.75 * (cloudiness + season.between(place.cloudiness_winter, place.cloudiness_summer)), 0.0, 1.0
    )
    wetness = 0.85 * cloudiness + 0.53 * autoregressive(rng, n, memory(2.5))
    precipitation = _precipitation(place, wetness, cloud, season, rng)
    global_sun = _sun_through_cloud(place, sun, cloud, precipitation, rng)
    speed = _wind_speed(place, high, global_sun, season, rng)
    temperature = _temperature(place, season, high, cloud, global_sun, speed, rng)
    humidity = _relative_humidity(place, season, temperature, cloud, precipitation, rng)
    ripple = _PRESSURE_RIPPLE * autoregressive(rng, n, memory(4.0))
    direct, diffuse = split_global(np.round(global_sun), sun)
    return {
        "air_temperature": temperature,
        "relative_humidity": humidity,
        "air_pressure": standard_pressure(place.elevation) + _PRESSURE_SWING * high + ripple,
        "wind_speed": speed,
        "wind_direction": _wind_direction(place, global_sun, rng),
        "global_horizontal_irradiance": global_sun,
        "direct_normal_irradiance": direct,
        "diffuse_horizontal_irradiance": diffuse,
        "rain": precipitation * np.clip(temperature / 2.0, 0.0, 1.0),
        "cloud_cover": cloud,
    }


def _precipitation(
    place: Place, wetness: FloatArray, cloud: FloatArray, season: _Season, rng: np.random.Generator
) -> FloatArray:
    """Rain and snow of each hour; showers of summer are heavier."""
    from scipy.special import ndtr

    threshold = np.quantile(wetness, 1.0 - place.wet_hours)
    is_wet = (wetness > threshold) & (cloud > 0.5)
    burst = (
        0.55 * np.clip((wetness - threshold) / 0.6, 0.0, 3.0)
        - 0.55
        + 0.85 * autoregressive(rng, len(wetness), memory(1.5))
    )
    amount = np.where(is_wet, -np.log1p(-np.minimum(ndtr(burst), 1.0 - 1e-9)), 0.0) ** 1.3
    amount *= season.between(0.8, 1.4)
    yearly = amount.sum() / (len(wetness) / 8766.0)
    scaled: FloatArray = amount * (place.precipitation / yearly)
    return scaled


def _sun_through_cloud(
    place: Place, sun: HourlySun, cloud: FloatArray, precipitation: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Mean global irradiance of each hour."""
    from pvlib import atmosphere, clearsky

    n = len(cloud)
    air_mass = atmosphere.get_relative_airmass(np.minimum(sun.zenith, 89.9), model="kastenyoung1989")
    air_mass = air_mass * standard_pressure(place.elevation) / STANDARD_PRESSURE
    clear = clearsky.ineichen(
        sun.zenith, air_mass, place.turbidity, altitude=place.elevation, dni_extra=sun.extraterrestrial
    )
    broken = 0.12 + 0.5 * cloud * (1.0 - cloud)
    thickness = np.where(cloud > 0.85, 0.35, 0.0)
    flicker = broken * autoregressive(rng, n, memory(1.2)) + thickness * autoregressive(rng, n, memory(7.0))
    darkened = np.where(precipitation > 0.0, 0.7, 1.0)
    index = np.minimum(cloud_transmission(cloud) * np.exp(np.minimum(flicker, 0.4)) * darkened, 1.04)
    return np.where(sun.cos_zenith > 0.0, index * np.asarray(clear["ghi"], dtype=np.float64), 0.0)


def _wind_speed(
    place: Place, high: FloatArray, global_sun: FloatArray, season: _Season, rng: np.random.Generator
) -> FloatArray:
    """Weibull wind speed: windier in lows, in winter on open ground, and under the day's sun."""
    from scipy.special import ndtr

    n = len(high)
    latent = -0.40 * high + 0.80 * autoregressive(rng, n, memory(18.0)) + 0.447 * autoregressive(rng, n, memory(2.5))
    rank = np.clip(ndtr(latent), 1e-9, 1.0 - 1e-9)
    speed = place.wind_scale * (-np.log1p(-rank)) ** (1.0 / place.wind_shape)
    seasonal = season.between(0.85, 1.0) if place.is_valley else season.between(1.12, 0.88)
    mixing = response(global_sun, 1.5) / 100.0
    speed = speed * seasonal * (0.9 + 0.1 * mixing)
    return np.where(speed < 0.35, 0.0, speed)


def _wind_direction(place: Place, global_sun: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Direction the wind comes from: scattered about the prevailing one, or along the valley's axis."""
    n = len(global_sun)
    along = 0.85 * autoregressive(rng, n, memory(14.0)) + 0.53 * autoregressive(rng, n, memory(2.0))
    across = 0.85 * autoregressive(rng, n, memory(14.0)) + 0.53 * autoregressive(rng, n, memory(2.0))
    if place.is_valley:
        # Air drains down the valley at night and climbs it in the sun.
        along = along + place.wind_steadiness * np.where(global_sun > 150.0, -1.0, 0.6)
        across = 0.4 * across
    else:
        along = along + place.wind_steadiness
    return (place.wind_from + np.degrees(np.arctan2(across, along))) % 360.0


def _temperature(
    place: Place,
    season: _Season,
    high: FloatArray,
    cloud: FloatArray,
    global_sun: FloatArray,
    speed: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Air temperature: season, air masses, and what sun and sky do to the air on the spot."""
    n = len(high)
    masses = (
        0.55 * smooth_autoregressive(rng, n, 110.0, 8.0)
        + 0.62 * smooth_autoregressive(rng, n, 26.0, 3.0)
        + 0.14 * autoregressive(rng, n, memory(2.0))
        + season.between(-0.55, 0.30) * high
    )
    shelter = 1.0 / (1.0 + (speed / 7.0) ** 2)
    clear = 1.0 - 0.85 * cloud**2
    drive = (place.sun_warming * global_sun / 100.0 - place.night_cooling * clear) * shelter
    local = 0.6 * response(drive, 2.5) + 0.4 * response(drive, 9.0)
    # Still air pools in a hollow only while the sun of the day cannot break it up.
    darkness = np.clip(1.0 - running_mean(global_sun, 24) / 70.0, 0.0, 1.0)
    pool = -place.cold_pool * response(clear * darkness * np.exp(-speed / 3.0), 30.0) * 2.0
    smooth = place.mean_temperature - place.seasonal_swing * season.cold
    swing = season.between(place.weather_swing_winter, place.weather_swing_summer)
    return smooth + swing * masses + _without_season(local + pool, season)


def _without_season(series: FloatArray, season: _Season) -> FloatArray:
    """Take mean and season out of a series, so that the place's own mean and swing hold."""
    turn = np.gradient(season.cold)
    basis = np.column_stack((np.ones_like(series), season.cold, turn / np.abs(turn).max()))
    weights = np.linalg.lstsq(basis, series, rcond=None)[0]
    result: FloatArray = series - basis @ weights
    return result


def _relative_humidity(
    place: Place,
    season: _Season,
    temperature: FloatArray,
    cloud: FloatArray,
    precipitation: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Relative humidity over liquid water."""
    n = len(temperature)
    scatter = 0.40 * autoregressive(rng, n, memory(30.0)) + 0.10 * autoregressive(rng, n, memory(3.0))
    dryness = season.between(place.dryness_winter, place.dryness_summer)
    # Rain moistens the air for a few hours.
    wet = response((precipitation > 0.0).astype(np.float64), 2.0)
    spread = np.exp(np.minimum(scatter - 0.8 * (response(cloud, 3.0) - 0.6), _DRIEST))
    depression = dryness * spread * (1.0 - 0.65 * wet)
    anchor = 0.75 * running_mean(temperature, 24) + 0.25 * temperature
    humidity = saturation_pressure_water(anchor - depression) / saturation_pressure_water(temperature)
    return np.clip(humidity, 0.12, np.minimum(_HIGHEST_HUMIDITY, _ICE_EXCESS * ice_activity(temperature)))


def _longwave(values: Mapping[str, FloatArray]) -> FloatArray:
    """Long-wave of each hour."""
    ends = (values[name] for name in ("air_temperature", "relative_humidity", "cloud_cover"))
    return longwave_down(*(hour_mean(part) for part in ends))
