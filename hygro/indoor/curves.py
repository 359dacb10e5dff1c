"""Indoor air that standards draw as curves over the outdoor temperature.

May import: errors, units, variables.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from hygro.errors import InputError
from hygro.indoor.air import (
    Array,
    from_vapour_pressure,
    indoor_air,
    outdoor_values,
    outdoor_vapour_pressure,
    running_mean,
)
from hygro.indoor.limits import fraction, temperature_within, within

DAY: Final = 24  # [h]
CLASS_LIMITS: Final = (270.0, 540.0, 810.0, 1080.0)  # [Pa] ISO 13788:2012 annex A, classes 1 to 4 (from memory)


@dataclass(frozen=True, slots=True)
class StandardCurves:
    """Indoor air of dwellings and offices after EN 15026:2007 annex C, from the running mean of the last 24 hours.

    The temperature is 20 degC up to 10 degC outdoors, 25 degC from 20 degC outdoors, linear between; the relative
    humidity rises linearly from -10 to 20 degC outdoors, from 30 to 60 % with normal occupancy and 40 to 70 % with high
    occupancy. The standard speaks of the daily mean; here it is the mean of the last 24 hours, in the first day of the
    record that of the hours so far.

    Parameters
    ----------
    high_occupancy : bool, optional
        Whether the occupancy is high.
    """

    high_occupancy: bool = False

    def __post_init__(self) -> None:
        if not isinstance(self.high_occupancy, bool):
            msg = f"Standard curves: high_occupancy is {self.high_occupancy!r}; write True or False."
            raise InputError(msg)

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature`` [degC].

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1].

        Raises
        ------
        InputError
            Where the record is not hourly or lacks the temperature.

        References
        ----------
        EN 15026:2007, annex C (from memory).
        """
        mean = running_mean(outdoor_values(outdoor, "air_temperature"), DAY)
        lowest = 0.40 if self.high_occupancy else 0.30
        return indoor_air(
            outdoor,
            np.interp(mean, [10.0, 20.0], [20.0, 25.0]),
            np.interp(mean, [-10.0, 20.0], [lowest, lowest + 0.30]),
            self,
        )


@dataclass(frozen=True, slots=True)
class HumidityClass:
    """Indoor vapour pressure of a humidity class after ISO 13788:2012 annex A.

    The excess over outdoors is constant up to 0 degC outdoors and falls linearly to 0 at 20 degC. Class 1 is for
    unoccupied buildings and dry storage; 2 for offices and dwellings with normal occupancy and ventilation; 3 for
    buildings with unknown occupancy; 4 for sports halls, kitchens and canteens. Class 5 has no upper limit and cannot
    be used here.

    Parameters
    ----------
    number : int
        Class, 1 to 4.
    temperature : float or str, optional
        Indoor temperature. [degC]
    share_of_limit : float, optional
        Excess as a share of the upper limit of the class. [1]
    averaging_days : float or None, optional
        Outdoor temperature and vapour pressure are averaged over the last so many days; None averages over each
        calendar month, as the standard does. [day]
    """

    number: int
    temperature: float = 20.0
    share_of_limit: float = 1.0
    averaging_days: float | None = None

    def __post_init__(self) -> None:
        if self.number == 5:
            msg = (
                "Humidity class 5 (laundry, brewery, swimming pool) has no upper limit of vapour pressure. State the "
                "indoor air with IndoorArrays, or a balance with IntermediateDesign or Household."
            )
            raise InputError(msg)
        if isinstance(self.number, bool) or self.number not in (1, 2, 3, 4):
            msg = f"Humidity class is {self.number!r}; it must be 1, 2, 3 or 4 (dwellings are 2 or 3)."
            raise InputError(msg)
        object.__setattr__(self, "temperature", temperature_within(self.temperature, "Humidity class", 0.0, 40.0))
        object.__setattr__(self, "share_of_limit", fraction(self.share_of_limit, "Humidity class: share of the limit"))
        if self.averaging_days is not None:
            within(self.averaging_days, 1.0, 366.0, "Humidity class: days of averaging (None for months)", "day")

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature`` [degC] and ``relative_humidity`` over liquid water [1].

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1], held at 1 with a warning.

        Raises
        ------
        InputError
            Where the record is not hourly or lacks a variable.

        Notes
        -----
        Saturation pressures are those of the package, not the standard's own; they differ by 0.1 % at 20 degC.

        References
        ----------
        ISO 13788:2012, annex A (from memory).
        """
        temperature = self._mean(outdoor, outdoor_values(outdoor, "air_temperature"))
        pressure = self._mean(outdoor, outdoor_vapour_pressure(outdoor))
        excess = self.share_of_limit * class_excess(self.number, temperature)
        indoor = np.full(temperature.shape, self.temperature)
        return from_vapour_pressure(outdoor, indoor, pressure + excess, self)

    def _mean(self, outdoor: xr.Dataset, series: Array) -> Array:
        if self.averaging_days is not None:
            return running_mean(series, round(24 * self.averaging_days))
        # A stamp is the end of its hour; the hour belongs to the month in which it begins.
        month = (outdoor["time"].data - np.timedelta64(1, "h")).astype("datetime64[M]")
        _, place = np.unique(month, return_inverse=True)
        return np.asarray((np.bincount(place, weights=series) / np.bincount(place))[place])


def class_excess(number: int, outdoor_temperature: float | Array) -> Array:
    """Upper limit of a humidity class's vapour pressure excess.

    Parameters
    ----------
    number : int
        Class, 1 to 4.
    outdoor_temperature : float or array, any shape
        Mean outdoor temperature. [degC]

    Returns
    -------
    array, same shape
        Excess of the indoor over the outdoor vapour pressure. [Pa]

    References
    ----------
    ISO 13788:2012, annex A (from memory).
    """
    return np.asarray(np.interp(outdoor_temperature, [0.0, 20.0], [CLASS_LIMITS[number - 1], 0.0]))


@dataclass(frozen=True, slots=True)
class SimplifiedDesign:
    """Design indoor air after the simplified method of ASHRAE 160, from the running mean of the last 24 hours.

    Relative humidity is 40 % up to -10 degC outdoors, 70 % from 20 degC, linear between. Without cooling the
    temperature is 21.1 degC up to 18.3 degC outdoors and 2.8 K above outdoors beyond; cooling holds it to 23.9 degC.

    Parameters
    ----------
    cooling : bool, optional
        Whether the building is cooled in summer.
    """

    cooling: bool = False

    def __post_init__(self) -> None:
        if not isinstance(self.cooling, bool):
            msg = f"Simplified design: cooling is {self.cooling!r}; write True or False."
            raise InputError(msg)

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature`` [degC].

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1].

        Raises
        ------
        InputError
            Where the record is not hourly or lacks the temperature.

        References
        ----------
        ASHRAE 160, simplified method and design temperatures (from memory).
        """
        mean = running_mean(outdoor_values(outdoor, "air_temperature"), DAY)
        humidity = np.interp(mean, [-10.0, 20.0], [0.40, 0.70])
        return indoor_air(outdoor, design_temperature(mean, self.cooling), humidity, self)


def design_temperature(mean: Array, cooling: bool) -> Array:
    """Design indoor temperature for a running mean outdoors, shape of `mean`. [degC]; ASHRAE 160 (from memory)."""
    indoor = np.where(mean <= 18.3, 21.1, mean + 2.8)
    return np.minimum(indoor, 23.9) if cooling else indoor
