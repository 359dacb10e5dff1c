"""Plain outdoor boundaries: constant air, or arrays, with sun and sky left out unless given.

May import: errors, constants, units, variables, check, record, sky.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from hygro.climate.check import RADIATION
from hygro.climate.record import Climate, assemble
from hygro.climate.sky import black_body
from hygro.constants import STANDARD_PRESSURE
from hygro.errors import ClimateError
from hygro.units import to_si
from hygro.variables import CLIMATE

_CALM: Final = {"air_pressure": STANDARD_PRESSURE, "wind_speed": 0.0, "wind_direction": 0.0, "rain": 0.0}


def constant_climate(
    temperature: float | str,
    relative_humidity: float | str,
    *,
    hours: int = 8760,
    start: str = "2023-01-01",
    wind_speed: float | str = 0.0,
    title: str = "constant outdoor air",
) -> Climate:
    """Outdoor air that never changes; no sun, no sky, no rain.

    Parameters
    ----------
    temperature : float or str
        Air temperature. [degC]
    relative_humidity : float or str
        Relative humidity over liquid water. [1]
    hours : int
        Length of the record. [h]
    start : str
        Begin of the first hour.
    wind_speed : float or str
        Wind speed at 10 m. [m s-1]
    title : str
        Name of the record.

    Returns
    -------
    Climate
        Record with ``has_radiation`` 0.

    Raises
    ------
    InputError
        Where a value cannot be read.
    ClimateError
        Where a value cannot be weather.
    """
    if isinstance(hours, bool) or not isinstance(hours, int) or hours < 2:
        msg = f"Climate {title!r}: hours is {hours!r}; a whole number from 2 on is needed."
        raise ClimateError(msg)
    where = f"Climate {title!r}:"
    return climate_from_arrays(
        np.full(hours, to_si(temperature, "temperature", f"{where} temperature")),
        np.full(hours, to_si(relative_humidity, "fraction", f"{where} relative humidity")),
        start=start,
        wind_speed=to_si(wind_speed, "speed", f"{where} wind speed"),
        title=title,
    )


def climate_from_arrays(
    temperature: ArrayLike,
    relative_humidity: ArrayLike,
    *,
    start: str = "2023-01-01",
    title: str = "outdoor air from arrays",
    source: str = "arrays stated by the user",
    latitude: float = float("nan"),
    longitude: float = float("nan"),
    elevation: float = 0.0,
    utc_offset: float = float("nan"),
    **others: ArrayLike,
) -> Climate:
    """Outdoor air given as hourly arrays; sun, sky, wind and rain are none unless given.

    Parameters
    ----------
    temperature : array, shape (time,)
        Air temperature at the end of each hour. [degC]
    relative_humidity : array, shape (time,)
        Relative humidity over liquid water at the end of each hour. [1]
    start : str
        Begin of the first hour; the first stamp is one hour later.
    title, source : str
        Name of the record, and where it comes from.
    latitude, longitude : float
        Position, north and east positive; needed with a sun. [degree]
    elevation : float
        Height above sea level. [m]
    utc_offset : float
        Local standard time minus UTC; needed with a sun. [h]
    **others : array, shape (time,), or float
        Any other variable of the climate registry by its name and in its unit. The three irradiances and
        ``longwave_down`` are given together or not at all. [registry]

    Returns
    -------
    Climate
        Record whose ``has_radiation`` is 0 where no irradiance is given: sun and sky are then left out, and
        ``longwave_down`` only holds the black-body irradiance at air temperature.

    Raises
    ------
    ClimateError
        Where arrays differ in length, a name is unknown or a value cannot be weather.
    """
    unknown = sorted(set(others) - set(CLIMATE))
    if unknown:
        msg = f"Climate {title!r}: no variable {unknown[0]!r}; known are {', '.join(CLIMATE)}. Use one of these names."
        raise ClimateError(msg)
    values: dict[str, ArrayLike] = {**_CALM, "cloud_cover": 0.0, **others}
    values["air_temperature"], values["relative_humidity"] = temperature, relative_humidity
    length = _common_length(values, title)
    given = [name for name in RADIATION if name in others]
    if given and len(given) < len(RADIATION):
        missing = ", ".join(name for name in RADIATION if name not in others)
        msg = f"Climate {title!r}: {given[0]} is given without {missing}; give all of them or none (no sun, no sky)."
        raise ClimateError(msg)
    if not given:
        values |= dict.fromkeys(RADIATION, 0.0) | {
            "longwave_down": black_body(np.asarray(temperature, dtype=np.float64))
        }
    attrs: dict[str, str | float | int] = {
        "title": title,
        "source": source,
        "latitude": latitude,
        "longitude": longitude,
        "elevation": elevation,
        "utc_offset": utc_offset,
        "has_radiation": int(bool(given)),
        "notes": "; ".join(f"{name} taken as {_CALM[name]:g}" for name in _CALM if name not in others),
    }
    try:
        begin = pd.Timestamp(start)
    except ValueError:
        msg = f"Climate {title!r}: start is {start!r}; a date such as '2023-01-01' is needed."
        raise ClimateError(msg) from None
    time = pd.date_range(begin + pd.Timedelta(hours=1), periods=length, freq="h", unit="ns")
    return Climate(assemble(time, values, attrs))


def _common_length(values: dict[str, ArrayLike], title: str) -> int:
    """Length of the arrays; turns everything into float arrays of one or no dimension on the way."""
    lengths: dict[str, int] = {}
    for name, value in values.items():
        try:
            array = np.asarray(value, dtype=np.float64)
        except (TypeError, ValueError):
            msg = f"Climate {title!r}: {name} holds something that is not a number. Give an array of numbers."
            raise ClimateError(msg) from None
        if array.ndim > 1 or (array.ndim == 0 and name in ("air_temperature", "relative_humidity")):
            msg = f"Climate {title!r}: {name} has {array.ndim} dimensions; one value per hour is needed."
            raise ClimateError(msg)
        if array.ndim == 1:
            lengths[name] = len(array)
    length = lengths["air_temperature"]
    for name, other in lengths.items():
        if other != length:
            msg = f"Climate {title!r}: {name} has {other} values but air_temperature has {length}; give as many."
            raise ClimateError(msg)
    return length
