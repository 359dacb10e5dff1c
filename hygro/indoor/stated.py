"""Indoor air that the user states: a constant, or one value for each hour.

May import: errors, units, variables.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from hygro.errors import InputError
from hygro.indoor.air import indoor_air, require_hourly
from hygro.indoor.limits import fraction, temperature_within


@dataclass(frozen=True, slots=True)
class ConstantIndoor:
    """The same indoor air in every hour.

    Parameters
    ----------
    temperature : float or str
        Indoor temperature. [degC]
    relative_humidity : float or str
        Indoor relative humidity. [1]
    """

    temperature: float
    relative_humidity: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "temperature", temperature_within(self.temperature, "Constant indoor air"))
        object.__setattr__(
            self, "relative_humidity", fraction(self.relative_humidity, "Constant indoor air: relative humidity")
        )

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record; only its hours are used.

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1].

        Raises
        ------
        InputError
            Where the record is not hourly.
        """
        require_hourly(outdoor)
        return indoor_air(outdoor, self.temperature, self.relative_humidity, self)


@dataclass(frozen=True, slots=True, repr=False)
class IndoorArrays:
    """Indoor air stated for each hour, for instance measured.

    Parameters
    ----------
    temperature : sequence of float, length n_hour
        Indoor temperature. [degC]
    relative_humidity : sequence of float, length n_hour
        Indoor relative humidity. [1]
    """

    temperature: tuple[float, ...]
    relative_humidity: tuple[float, ...]

    def __post_init__(self) -> None:
        for name, lowest, highest, unit in (
            ("temperature", -60.0, 60.0, "degC"),
            ("relative_humidity", 0.0, 1.0, "fraction, 0.5 for 50 %"),
        ):
            numbers = _numbers(getattr(self, name), name)
            wrong = np.flatnonzero(~((numbers >= lowest) & (numbers <= highest)))
            if wrong.size:
                msg = (
                    f"Stated indoor air: {name.replace('_', ' ')} is {numbers[wrong[0]]:g} in hour {wrong[0] + 1}; it "
                    f"must be a number from {lowest:g} to {highest:g} ({unit}). Correct that hour."
                )
                raise InputError(msg)
            object.__setattr__(self, name, tuple(numbers.tolist()))
        if len(self.temperature) != len(self.relative_humidity):
            msg = (
                f"Stated indoor air: {len(self.temperature)} temperatures but {len(self.relative_humidity)} relative "
                "humidities; give one of each for every hour."
            )
            raise InputError(msg)

    def __repr__(self) -> str:
        return f"IndoorArrays({len(self.temperature)} hours)"

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record of as many hours as were stated.

        Returns
        -------
        xarray.Dataset, dims (time,)
            ``indoor_temperature`` [degC] and ``indoor_relative_humidity`` [1].

        Raises
        ------
        InputError
            Where the record is not hourly or has another number of hours.
        """
        require_hourly(outdoor)
        if len(self.temperature) != outdoor.sizes["time"]:
            msg = (
                f"Stated indoor air has {len(self.temperature)} hours, the outdoor record {outdoor.sizes['time']}; "
                "they must be the same hours. Cut one to the other."
            )
            raise InputError(msg)
        return indoor_air(outdoor, self.temperature, self.relative_humidity, self)


def _numbers(values: Iterable[float], name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    try:
        numbers = np.asarray(tuple(values), dtype=float)
    except (TypeError, ValueError) as error:
        msg = f"Stated indoor air: {name.replace('_', ' ')} is {values!r}; give a list of numbers, one for each hour."
        raise InputError(msg) from error
    if numbers.ndim != 1 or not numbers.size:
        msg = f"Stated indoor air: {name.replace('_', ' ')} has shape {numbers.shape}; give one number for each hour."
        raise InputError(msg)
    return numbers
