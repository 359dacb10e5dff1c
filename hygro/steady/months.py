"""Twelve months of outdoor and indoor air: from a climate and an indoor model, or as stated.

May import: climate, indoor, units, errors, core formulas.
"""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from hygro.climate import Climate
from hygro.core.formulas import saturation_pressure_iso, saturation_pressure_water
from hygro.errors import ClimateError, InputError
from hygro.indoor import IndoorModel
from hygro.indoor.curves import class_excess
from hygro.units import to_si

MONTHS: Final = tuple(calendar.month_abbr[1:])
DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)  # [day]
FEWEST_HOURS: Final = 24 * 28  # [h] of a month; what a February has

Array = npt.NDArray[np.float64]
Monthly = Sequence[float | str] | float | str


@dataclass(frozen=True, slots=True)
class MonthlyAir:
    """Monthly means of the air on both sides, January first.

    Parameters
    ----------
    title : str
        Where they come from.
    outdoor_temperature : tuple of 12 float
        Of the air. [degC]
    outdoor_vapour_pressure : tuple of 12 float
        Of the air. [Pa]
    indoor_temperature : tuple of 12 float
        Of the air. [degC]
    indoor_vapour_pressure : tuple of 12 float
        Of the air. [Pa]

    Raises
    ------
    InputError
        Where there are not twelve, or a value cannot be.
    """

    title: str
    outdoor_temperature: tuple[float, ...]
    outdoor_vapour_pressure: tuple[float, ...]
    indoor_temperature: tuple[float, ...]
    indoor_vapour_pressure: tuple[float, ...]

    def __post_init__(self) -> None:
        for name in ("outdoor_temperature", "indoor_temperature", "outdoor_vapour_pressure", "indoor_vapour_pressure"):
            values = getattr(self, name)
            low, high, unit = (-60.0, 60.0, "degC") if name.endswith("temperature") else (0.0, 2e4, "Pa")
            if len(values) != 12:
                msg = f"Monthly air: {name.replace('_', ' ')} has {len(values)} values; give twelve, January first."
                raise InputError(msg)
            for month, value in zip(MONTHS, values, strict=True):
                if not low <= value <= high:
                    msg = (
                        f"Monthly air: {name.replace('_', ' ')} in {month} is {value:g}; it must lie between {low:g} "
                        f"and {high:g} {unit}."
                    )
                    raise InputError(msg)

    @property
    def outdoor_relative_humidity(self) -> tuple[float, ...]:
        """Outdoor relative humidity by the saturation pressures of ISO 13788, over ice below 0 degC. [1]."""
        return _humidity(self.outdoor_vapour_pressure, self.outdoor_temperature)

    @property
    def indoor_relative_humidity(self) -> tuple[float, ...]:
        """Indoor relative humidity by the saturation pressures of ISO 13788. [1]."""
        return _humidity(self.indoor_vapour_pressure, self.indoor_temperature)


def monthly_means(climate: Climate, indoor: IndoorModel) -> MonthlyAir:
    """Monthly means of a climate and of the indoor air of a model in it.

    Parameters
    ----------
    climate : Climate
        Outdoor weather that covers every month; months of several years are taken together.
    indoor : indoor model
        One of ``hygro.indoor``; `HumidityClass` is the standard's own.

    Returns
    -------
    MonthlyAir
        Means over the hours of each month; vapour pressures are averaged, not humidities.

    Raises
    ------
    InputError
        Where one is of another kind.
    ClimateError
        Where a month is not covered.
    """
    if not isinstance(climate, Climate):
        msg = f"Monthly means need a Climate; got {type(climate).__name__}. Read one, or use monthly_values(...)."
        raise InputError(msg)
    if isinstance(indoor, type) or not callable(getattr(indoor, "conditions", None)):
        msg = f"Monthly means need an indoor model such as HumidityClass(2); got {indoor!r}."
        raise InputError(msg)
    data = climate.data
    room = indoor.conditions(data)
    month = (climate.time - pd.Timedelta(hours=1)).month.to_numpy()
    hours = np.bincount(month, minlength=13)[1:]
    if (hours < FEWEST_HOURS).any():
        short = ", ".join(name for name, count in zip(MONTHS, hours, strict=True) if count < FEWEST_HOURS)
        msg = (
            f"Climate {climate.title!r} does not cover the whole of {short}; the monthly method needs all twelve "
            "months. Give a record of a year or more, or state the months with monthly_values(...)."
        )
        raise ClimateError(msg)

    def mean(hourly: npt.ArrayLike) -> tuple[float, ...]:
        return tuple((np.bincount(month, weights=np.asarray(hourly, dtype=float), minlength=13)[1:] / hours).tolist())

    outdoors, indoors = data["air_temperature"].to_numpy(), room["indoor_temperature"].to_numpy()
    return MonthlyAir(
        f"monthly means of {climate.title!r} with {indoor!r}",
        mean(outdoors),
        mean(data["relative_humidity"].to_numpy() * saturation_pressure_water(outdoors)),
        mean(indoors),
        mean(room["indoor_relative_humidity"].to_numpy() * saturation_pressure_water(indoors)),
    )


def monthly_values(
    outdoor_temperature: Monthly,
    outdoor_humidity: Monthly,
    *,
    indoor_temperature: Monthly,
    indoor_humidity: Monthly | None = None,
    humidity_class: int | None = None,
    humidity_over: Literal["ice", "water"] = "ice",
    title: str = "monthly values as stated",
) -> MonthlyAir:
    """Monthly air as stated.

    Parameters
    ----------
    outdoor_temperature : 12 float or str, or one for all
        Outdoor air temperature. [degC]
    outdoor_humidity : 12 float or str, or one for all
        Outdoor relative humidity. [1]
    indoor_temperature : 12 float or str, or one for all
        Indoor air temperature. [degC]
    indoor_humidity : 12 float or str, or one for all, optional
        Indoor relative humidity; or state `humidity_class`. [1]
    humidity_class : int, optional
        Humidity class 1 to 4; its upper limit is added to the outdoor vapour pressure.
    humidity_over : {"ice", "water"}
        What the outdoor relative humidity refers to below 0 degC: the standard's saturation pressure is that over ice,
        a weather station's relative humidity that over liquid water.
    title : str
        Where the values come from.

    Returns
    -------
    MonthlyAir
        With the saturation pressures of ISO 13788.

    Raises
    ------
    InputError
        Where a value cannot be, or not exactly one of `indoor_humidity` and `humidity_class` is given.

    References
    ----------
    ISO 13788:2012, annex A and annex E (from memory).
    """
    if (indoor_humidity is None) == (humidity_class is None):
        msg = "Monthly values: state either indoor_humidity or humidity_class, and not both."
        raise InputError(msg)
    if humidity_class is not None and humidity_class not in (1, 2, 3, 4):
        msg = f"Monthly values: humidity_class is {humidity_class!r}; it must be 1, 2, 3 or 4. Class 5 has no limit."
        raise InputError(msg)
    if humidity_over not in ("ice", "water"):
        msg = f"Monthly values: humidity_over is {humidity_over!r}; it must be 'ice' or 'water'."
        raise InputError(msg)
    outdoors = _twelve(outdoor_temperature, "temperature", "outdoor_temperature")
    indoors = _twelve(indoor_temperature, "temperature", "indoor_temperature")
    humid = _twelve(outdoor_humidity, "fraction", "outdoor_humidity")
    highest = saturation_pressure_iso(outdoors) if humidity_over == "ice" else _over_water(outdoors)
    outside = humid * highest
    if humidity_class is not None:
        inside = outside + class_excess(humidity_class, outdoors)
    else:
        inside = _twelve(indoor_humidity, "fraction", "indoor_humidity") * saturation_pressure_iso(indoors)
    return MonthlyAir(title, *(tuple(values.tolist()) for values in (outdoors, outside, indoors, inside)))


def _over_water(temperature: Array) -> Array:
    # The water branch of the standard's formula carried on below 0 degC, so that both branches belong together.
    return np.asarray(610.5 * np.exp(17.269 * temperature / (237.3 + temperature)))


def _twelve(stated: object, dimension: str, name: str) -> Array:
    values = [stated] * 12 if isinstance(stated, (int, float, str)) or not hasattr(stated, "__iter__") else [*stated]
    if len(values) != 12:
        msg = (
            f"Monthly values: {name} has {len(values)} values; give one for each month, January first, or one for all."
        )
        raise InputError(msg)
    numbers = np.array(
        [to_si(v, dimension, f"Monthly values: {name} in {m}") for m, v in zip(MONTHS, values, strict=True)]
    )
    if dimension == "fraction":
        for month, value in zip(MONTHS, numbers.tolist(), strict=True):
            if not 0.0 <= value <= 1.0:
                hint = f' Did you mean "{value:g} %"?' if 1.0 < value <= 100.0 else ""
                msg = f"Monthly values: {name} in {month} is {value:g}; it must be a fraction from 0 to 1.{hint}"
                raise InputError(msg)
    return numbers


def _humidity(pressure: tuple[float, ...], temperature: tuple[float, ...]) -> tuple[float, ...]:
    return tuple((np.array(pressure) / saturation_pressure_iso(np.array(temperature))).tolist())
