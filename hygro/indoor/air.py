"""What every indoor model shares: reading the outdoor record, its running means, saturation, and the result.

May import: errors, variables, core formulas.
"""

from __future__ import annotations

import warnings
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.core.formulas import saturation_pressure_water
from hygro.errors import HygroWarning, InputError
from hygro.variables import CLIMATE, RUN

Array = npt.NDArray[np.float64]

_HOUR: Final = np.timedelta64(1, "h")


class IndoorModel(Protocol):
    """Anything that can say what the air indoors is like, hour by hour."""

    def conditions(self, outdoor: xr.Dataset) -> xr.Dataset:
        """Indoor air for each hour of an outdoor record."""
        ...


def outdoor_values(outdoor: xr.Dataset, name: str) -> Array:
    """Outdoor variable as numbers, checked against the registry.

    Parameters
    ----------
    outdoor : xarray.Dataset
        Hourly record with dimension ``time``, stamps at the end of the hour.
    name : str
        Registered name, for instance ``"air_temperature"``.

    Returns
    -------
    array, shape (n_hour,)
        Values in the registry's unit.

    Raises
    ------
    InputError
        Where the record is not hourly, or the variable is missing, incomplete or out of its range.
    """
    require_hourly(outdoor)
    if name not in outdoor.data_vars:
        msg = (
            f"The outdoor record has no '{name}' ({CLIMATE[name].long_name}), which this indoor model needs. "
            "Pass the data of a climate."
        )
        raise InputError(msg)
    numbers = np.asarray(outdoor[name].data, dtype=float)
    if numbers.shape != (outdoor.sizes["time"],):
        msg = f"The outdoor '{name}' has the dimensions {outdoor[name].dims}; an indoor model needs ('time',) alone."
        raise InputError(msg)
    entry = CLIMATE[name]
    wrong = np.flatnonzero(~((numbers >= entry.lowest) & (numbers <= entry.highest)))
    if wrong.size:
        hour = str(np.datetime_as_string(outdoor["time"].data[wrong[0]], unit="m")).replace("T", " ")
        msg = (
            f"The outdoor '{name}' is {numbers[wrong[0]]:g} at {hour}; it must be a number from {entry.lowest:g} to "
            f"{entry.highest:g} [{entry.unit}]. Repair the climate first."
        )
        raise InputError(msg)
    return numbers


def require_hourly(outdoor: xr.Dataset) -> None:
    """Refuse anything that is not an hourly record.

    Raises
    ------
    InputError
        Where `outdoor` is no Dataset with hourly time stamps.
    """
    if not isinstance(outdoor, xr.Dataset) or "time" not in outdoor.coords:
        msg = (
            "An indoor model needs the outdoor record as an xarray.Dataset over 'time'; "
            f"got {type(outdoor).__name__}. Pass the data of a climate."
        )
        raise InputError(msg)
    stamps = np.asarray(outdoor["time"].data)
    if stamps.size < 1 or not np.issubdtype(stamps.dtype, np.datetime64) or (np.diff(stamps) != _HOUR).any():
        msg = (
            f"The outdoor record's {stamps.size} time stamps are not one hour apart; an indoor model needs every hour."
        )
        raise InputError(msg)


def running_mean(series: Array, hours: int) -> Array:
    """Mean of the last `hours` values; of all values so far in the first hours of the record."""
    total = np.concatenate([[0.0], np.cumsum(series)])
    end = np.arange(1, series.size + 1)
    start = np.maximum(end - hours, 0)
    return np.asarray((total[end] - total[start]) / (end - start), dtype=float)


def indoor_air(
    outdoor: xr.Dataset, temperature: npt.ArrayLike, relative_humidity: npt.ArrayLike, model: object
) -> xr.Dataset:
    """Put an indoor model's result together, with the registry's attributes and the model's own words.

    Parameters
    ----------
    outdoor : xarray.Dataset
        Record whose hours are taken over.
    temperature : array_like, scalar or shape (n_hour,)
        Indoor temperature. [degC]
    relative_humidity : array_like, scalar or shape (n_hour,)
        Indoor relative humidity. [1]
    model : object
        The model, whose ``repr`` is kept as the record of what was assumed.

    Returns
    -------
    xarray.Dataset, dims (time,)
        ``indoor_temperature`` and ``indoor_relative_humidity``.
    """
    shape = (outdoor.sizes["time"],)
    fields = {"indoor_temperature": temperature, "indoor_relative_humidity": relative_humidity}
    data = {
        name: RUN[name].holding(np.broadcast_to(np.asarray(value, dtype=float), shape).copy())
        for name, value in fields.items()
    }
    return xr.Dataset(data, coords={"time": outdoor["time"]}, attrs={"indoor_model": repr(model)})


def from_vapour_pressure(outdoor: xr.Dataset, temperature: Array, pressure: Array, model: object) -> xr.Dataset:
    """Put the result of a model that finds a vapour pressure together, held at saturation where it would be above.

    What is above saturation would condense on windows and walls. It is reported, never dropped silently: in the
    attributes ``hours_at_saturation`` and ``largest_surplus_vapour_pressure`` [Pa], and by a warning.

    Parameters
    ----------
    outdoor : xarray.Dataset
        Record whose hours are taken over.
    temperature : array, shape (n_hour,)
        Indoor temperature. [degC]
    pressure : array, shape (n_hour,)
        Indoor vapour pressure before any condensation. [Pa]
    model : object
        The model.

    Returns
    -------
    xarray.Dataset, dims (time,)
        As `indoor_air`.
    """
    highest = saturation_pressure_water(temperature)
    surplus = np.maximum(pressure - highest, 0.0)
    result = indoor_air(outdoor, temperature, np.minimum(pressure / highest, 1.0), model)
    hours = int((surplus > 0.0).sum())
    result.attrs |= {"hours_at_saturation": hours, "largest_surplus_vapour_pressure": float(surplus.max())}
    if hours:
        msg = (
            f"{type(model).__name__}: the indoor air would be above saturation in {hours} of {surplus.size} hours, by "
            f"up to {surplus.max():.0f} Pa. Held at 100 %; the surplus condenses on cold surfaces. Ventilate more."
        )
        warnings.warn(msg, HygroWarning, stacklevel=3)
    return result


def outdoor_vapour_pressure(outdoor: xr.Dataset) -> Array:
    """Outdoor vapour pressure of each hour, shape (n_hour,). [Pa]."""
    temperature = outdoor_values(outdoor, "air_temperature")
    return outdoor_values(outdoor, "relative_humidity") * saturation_pressure_water(temperature)
