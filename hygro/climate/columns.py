"""Reader of any hourly CSV whose columns the user names.

May import: errors, units, variables, files, cells, humidity, repair, record.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final, Literal

import numpy as np
import pandas as pd

from hygro.climate.cells import numbers, parse_stamps, text_table
from hygro.climate.files import read_text
from hygro.climate.humidity import FloatArray, ice_activity, relative_humidity_from_dew_point
from hygro.climate.record import Climate
from hygro.climate.repair import MAX_GAP_HOURS, finish
from hygro.errors import ClimateError, InputError
from hygro.units import to_si
from hygro.variables import CLIMATE

_DIMENSION: Final[Mapping[str, str]] = {
    "air_temperature": "temperature",
    "dew_point": "temperature",
    "relative_humidity": "fraction",
    "air_pressure": "pressure",
    "wind_speed": "speed",
    "wind_direction": "angle",
    "rain": "length",
    "cloud_cover": "fraction",
}
_IRRADIANCE: Final[Mapping[str, float]] = {  # [W m-2] mean over the hour of one unit
    "W m-2": 1.0,
    "W/m2": 1.0,
    "W/m^2": 1.0,
    "Wh/m2": 1.0,
    "kW/m2": 1000.0,
    "kWh/m2": 1000.0,
    "kJ/m2": 1.0 / 3.6,
    "MJ/m2": 1.0e3 / 3.6,
    "J/cm2": 1.0e1 / 3.6,
}
_CLOUD: Final[Mapping[str, float]] = {"okta": 0.125, "oktas": 0.125, "tenth": 0.1, "tenths": 0.1}
_MILLIMETRES: Final = 1000.0  # [kg m-2] rain one metre deep
_NAMES: Final = ("time", *CLIMATE, "dew_point")


def read_csv(
    path: str | Path,
    columns: Mapping[str, str],
    *,
    latitude: float | str,
    longitude: float | str,
    elevation: float | str,
    utc_offset: float,
    units: Mapping[str, str] | None = None,
    constants: Mapping[str, float] | None = None,
    stamp: Literal["end", "start"] = "end",
    humidity_over: Literal["water", "ice"] = "water",
    missing: Sequence[float] = (),
    time_format: str | None = None,
    delimiter: str = ",",
    decimal: str = ".",
    has_radiation: bool = True,
    title: str | None = None,
    source: str = "not stated",
    max_gap_hours: int = MAX_GAP_HOURS,
) -> Climate:
    """Climate in an hourly CSV file of any origin.

    Parameters
    ----------
    path : str or Path
        The file: one header line, one row an hour; lines that start with ``#`` are passed over.
    columns : mapping of str to str
        Our name to the file's column: ``time`` and the climate variables; ``dew_point`` may stand in for
        ``relative_humidity``.
    latitude, longitude : float or str
        Position, north and east positive. [degree]
    elevation : float or str
        Height above sea level. [m]
    utc_offset : float
        Standard time of the stamps minus UTC. [h]
    units : mapping of str to str, optional
        Unit of a column where it is not ours: ``{"relative_humidity": "%", "air_temperature": "degF"}``.
    constants : mapping of str to float, optional
        One value in our unit for all hours of a variable that the file lacks. [registry]
    stamp : "end" or "start"
        Whether a row's stamp marks the end or the start of its hour.
    humidity_over : "water" or "ice"
        What the file's relative humidity refers to below 0 degC; "ice" is converted to liquid water.
    missing : sequence of float
        Numbers that stand for a missing value. [unit of the column]
    time_format : str, optional
        Pattern of the stamps, as in ``"%d.%m.%Y %H:%M"``; year-month-day is understood without.
    delimiter, decimal : str
        What separates the cells, and the decimals.
    has_radiation : bool
        False leaves sun and sky out.
    title, source : str, optional
        Name of the record (the file's by default), and where it comes from.
    max_gap_hours : int
        Longest run of missing hours that is bridged. [h]

    Returns
    -------
    Climate
        Missing direct and diffuse irradiance is split from the global one, long-wave is computed from cloud and dew
        point, cloud from long-wave or sun; ``notes`` say which.

    Raises
    ------
    ClimateError
        Where a column is not there, a cell is not a number or the weather cannot be used.
    InputError
        Where a unit is not understood.
    """
    for option, given, allowed in (
        ("stamp", stamp, ("end", "start")),
        ("humidity_over", humidity_over, ("water", "ice")),
    ):
        if given not in allowed:
            msg = f"read_csv: {option} is {given!r}; it must be {allowed[0]!r} or {allowed[1]!r}."
            raise ClimateError(msg)
    text = read_text(path)
    name = title or Path(path).name
    table = text_table(text, name, delimiter, decimal)
    _check_map(columns, units or {}, constants or {}, table, name)
    values = _values(table, columns, units or {}, missing, name)
    time = _time(table[columns["time"]], time_format, name)
    if stamp == "start":
        time = time + pd.Timedelta(hours=1)
    stated = {variable: _number(value, name, variable) for variable, value in (constants or {}).items()}
    for variable, constant in stated.items():
        values[variable] = np.full(len(table), constant)
    _humidity(values, humidity_over)
    attrs: dict[str, str | float | int] = {
        "title": name,
        "source": source,
        "latitude": to_si(latitude, "angle", f"Climate {name!r}: latitude"),
        "longitude": to_si(longitude, "angle", f"Climate {name!r}: longitude"),
        "elevation": to_si(elevation, "length", f"Climate {name!r}: elevation"),
        "utc_offset": _number(utc_offset, name, "utc_offset"),
        "has_radiation": int(has_radiation),
        "notes": "; ".join(f"{variable} taken as {value:g}" for variable, value in stated.items()),
    }
    return finish(time, values, attrs, max_gap_hours)


def _check_map(
    columns: Mapping[str, str],
    units: Mapping[str, str],
    constants: Mapping[str, float],
    table: pd.DataFrame,
    name: str,
) -> None:
    """Refuse names that are not ours and columns that are not the file's."""
    if not isinstance(columns, Mapping):
        msg = f"Climate {name!r}: columns is {columns!r}; a mapping of our names to the file's columns is needed."
        raise ClimateError(msg)
    for variable in (*columns, *units, *constants):
        if variable not in _NAMES:
            near = difflib.get_close_matches(variable, _NAMES, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            msg = f"Climate {name!r}: {variable!r} is not a variable; known are {', '.join(_NAMES)}.{hint}"
            raise ClimateError(msg)
    for variable in ("time", "air_temperature"):
        if variable not in columns:
            msg = f"Climate {name!r}: columns does not say which column is {variable!r}. Name it."
            raise ClimateError(msg)
    for variable in constants:
        if variable in columns:
            msg = (
                f"Climate {name!r}: {variable} has both the column {columns[variable]!r} and the one value "
                f"{constants[variable]!r} for all hours; state one of them."
            )
            raise ClimateError(msg)
    headers = list(table.columns)
    other = next((mark for mark in (";", "\t", "|") if len(headers) == 1 and mark in headers[0]), None)
    if other is not None:
        msg = f"Climate {name!r}: its header is one cell, {headers[0][:60]!r}; state delimiter={other!r}."
        raise ClimateError(msg)
    for variable, header in columns.items():
        if header not in headers:
            near = difflib.get_close_matches(header, headers, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            msg = f"Climate {name!r} has no column {header!r} (for {variable}); it has {', '.join(headers)}.{hint}"
            raise ClimateError(msg)


def _values(
    table: pd.DataFrame, columns: Mapping[str, str], units: Mapping[str, str], missing: Sequence[float], name: str
) -> dict[str, FloatArray]:
    codes = [_number(code, name, "a number in missing") for code in _sequence(missing, name)]
    read = numbers(table, [header for variable, header in columns.items() if variable != "time"], name)
    values = {}
    for variable, header in columns.items():
        if variable == "time":
            continue
        array = np.where(np.isin(read[header], codes), np.nan, read[header])
        values[variable] = _converted(array, variable, units[variable], name) if variable in units else array
    return values


def _sequence(missing: Sequence[float], name: str) -> Sequence[float]:
    if isinstance(missing, str) or not isinstance(missing, (Sequence, np.ndarray)):
        msg = f"Climate {name!r}: missing is {missing!r}; a list of numbers, such as [-999], is needed."
        raise ClimateError(msg)
    return missing


def _converted(array: FloatArray, variable: str, unit: str, name: str) -> FloatArray:
    """Column in our unit; every unit that is allowed is a straight line in another."""
    what = f"Climate {name!r}: unit of {variable}"
    if variable not in _DIMENSION:
        if unit not in _IRRADIANCE:
            msg = f"{what} is {unit!r}; one of {', '.join(_IRRADIANCE)} is needed."
            raise ClimateError(msg)
        return array * _IRRADIANCE[unit]
    if variable == "cloud_cover" and unit in _CLOUD:
        return array * _CLOUD[unit]
    dimension = _DIMENSION[variable]
    try:
        zero, one = (to_si(f"{number} {unit}", dimension, what) for number in (0, 1))
    except InputError:
        msg = f"{what} is {unit!r}, which is no unit of {dimension}."
        raise ClimateError(msg) from None
    factor = _MILLIMETRES if variable == "rain" else 1.0
    return (zero + (one - zero) * array) * factor


def _number(value: object, name: str, what: str) -> float:
    """Plain number that the user stated for the whole record."""
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float, np.integer, np.floating))
        or not np.isfinite(value)
    ):
        msg = f"Climate {name!r}: {what} is {value!r}; a finite number without a unit is needed."
        raise ClimateError(msg)
    return float(value)


def _time(column: pd.Series, time_format: str | None, name: str) -> pd.DatetimeIndex:
    if time_format is None:
        return parse_stamps(column, name)
    try:
        return pd.DatetimeIndex(pd.to_datetime(column, format=time_format))
    except (ValueError, TypeError):
        msg = (
            f"Climate {name!r}: the stamps, such as {column.iloc[0]!r}, do not follow time_format {time_format!r}. "
            "Correct the pattern."
        )
        raise ClimateError(msg) from None


def _humidity(values: dict[str, FloatArray], humidity_over: str) -> None:
    """Relative humidity over liquid water, from the dew point where the file has only that."""
    temperature = values["air_temperature"]
    dew = values.pop("dew_point", None)
    if "relative_humidity" in values:
        if humidity_over == "ice":
            values["relative_humidity"] = values["relative_humidity"] * ice_activity(temperature)
    elif dew is not None:
        values["relative_humidity"] = relative_humidity_from_dew_point(temperature, dew)
