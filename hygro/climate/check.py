"""What a weather record must be before anything is computed with it. Pure functions: each looks, none changes.

Every check raises one `ClimateError` that names the variable, the first hour and how many hours are concerned.
May import: errors, variables, humidity, sun.
"""

from __future__ import annotations

import warnings
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro.climate.sun import solar_noon
from hygro.errors import ClimateError, HygroWarning
from hygro.variables import CLIMATE

BoolArray = NDArray[np.bool_]

RADIATION: Final = (
    "global_horizontal_irradiance",
    "direct_normal_irradiance",
    "diffuse_horizontal_irradiance",
    "longwave_down",
)
SMALL_EXCESS: Final = 1.05  # [1] relative humidity up to here is sensor error and may be clipped
NIGHT_OFFSET: Final = -10.0  # [W m-2] irradiance down to here is a pyranometer's night offset and may be clipped
NOON_TOLERANCE: Final = 0.75  # [h] disagreement between sun and clock that is reported
_HIGHEST_OF_FRACTIONS: Final = 0.0106  # [1] a fraction, with a sensor's excess, once more divided by a hundred
_FAINTEST_SUN: Final = 5.0  # [W m-2] a year's highest irradiance is far above this at any latitude
_STRONGEST_SUN: Final = 1500.0  # [W m-2]
_YEAR: Final = 8760  # [h]
_HOUR: Final = pd.Timedelta(hours=1)

# Numbers that public weather formats write for "no observation".
CODES: Final = (-9900.0, -9999.0, -999.0, -99.0, 999.0, 9999.0, 99999.0, 999999.0, 999.9, 99.9, 99.0, 9999.9)


def when(stamp: pd.Timestamp) -> str:
    """How an hour is written in a message: ``12 March 2023 03:00``."""
    return f"{stamp.day} {stamp:%B %Y %H:%M}"


def hours(count: int) -> str:
    """Count of hours in words: ``1 hour``, ``31 hours``."""
    return f"{count} hour" if count == 1 else f"{count} hours"


def check_time(time: pd.DatetimeIndex, name: str) -> None:
    """Refuse stamps that are not naive, whole hours in rising order without repeats.

    Parameters
    ----------
    time : DatetimeIndex, shape (time,)
        Stamps as read. [time]
    name : str
        What to call the record in a message.

    Raises
    ------
    ClimateError
        At the first stamp that breaks the rule.
    """
    where = f"Climate {name!r}"
    if len(time) < 2:
        msg = f"{where} holds {hours(len(time))}; at least two hourly rows are needed. Check that the file is complete."
        raise ClimateError(msg)
    if time.tz is not None:
        msg = (
            f"{where}: the stamps carry a time zone ({time[0]}); local standard time without a zone is expected. "
            "Convert them (no summer time), drop the zone, and state it as utc_offset."
        )
        raise ClimateError(msg)
    if bool(time.isna().any()):
        row = int(np.flatnonzero(time.isna())[0]) + 1
        msg = f"{where}: row {row} has no readable time stamp. Repair or delete that row."
        raise ClimateError(msg)
    repeats = time.duplicated()
    if repeats.any():
        first = time[int(np.flatnonzero(repeats)[0])]
        msg = (
            f"{where}: the stamp {when(first)} occurs more than once ({int(repeats.sum())} repeated rows); each hour "
            "may occur once. An hour repeated in autumn means summer time: write the record in standard time."
        )
        raise ClimateError(msg)
    steps = np.diff(time.to_numpy(dtype="datetime64[ns]")).astype("timedelta64[s]").astype(np.int64)
    if (steps < 0).any():
        first = time[int(np.flatnonzero(steps < 0)[0]) + 1]
        msg = f"{where}: the stamp {when(first)} comes after a later one; stamps must rise. Sort the rows by time."
        raise ClimateError(msg)
    seconds = time.hour * 3600 + time.minute * 60 + time.second
    usual = float(np.median(steps)) / 60.0
    if usual != 60.0:
        msg = (
            f"{where}: the stamps are {usual:g} minutes apart; hourly values are needed. "
            "Average (sum the rain) to whole hours first."
        )
        raise ClimateError(msg)
    off = np.asarray(seconds) % 3600 != 0
    if off.any():
        first = time[int(np.flatnonzero(off)[0])]
        msg = (
            f"{where}: the stamp {when(first)} is not a whole hour ({hours(int(off.sum()))} are not); whole hours "
            "are needed. Move the stamps to the end of their hour."
        )
        raise ClimateError(msg)


def check_units(data: xr.Dataset, name: str) -> None:
    """Refuse values that are plainly in another unit: percent, kelvin, Fahrenheit, hectopascal, zero to ten cloud.

    Parameters
    ----------
    data : Dataset, dims (time)
        Record with registry names; values may be missing. [any]
    name : str
        What to call the record in a message.

    Raises
    ------
    ClimateError
        With a guess at the unit that was meant.
    """
    guesses = (
        ("relative_humidity", 1.5, np.inf, "percent", "a fraction from 0 to 1", "%"),
        ("air_temperature", 150.0, 400.0, "kelvin", "degrees Celsius", "K"),
        ("air_temperature", 45.0, 150.0, "degrees Fahrenheit", "degrees Celsius", "degF"),
        ("air_pressure", 300.0, 1200.0, "hectopascal", "pascal", "hPa"),
        ("air_pressure", 30.0, 120.0, "kilopascal", "pascal", "kPa"),
        ("cloud_cover", 1.05, 8.0, "oktas", "a fraction from 0 to 1", "okta"),
        ("cloud_cover", 10.0, np.inf, "percent", "a fraction from 0 to 1", "%"),
    )
    for variable, low, high, looks, needed, unit in guesses:
        if variable not in data:
            continue
        values = data[variable].data
        # A missing-value code must not pass for a unit: judge by the middle of the data.
        middle = float(np.nanmedian(values)) if np.isfinite(values).any() else np.nan
        if low < middle < high and abs(middle) not in CODES:
            msg = (
                f"Climate {name!r}: {variable} is around {middle:.4g}, which looks like {looks}; {needed} is needed. "
                f"Convert it, or state it to read_csv: units={{{variable!r}: {unit!r}}}."
            )
            raise ClimateError(msg)
    _check_too_small(data, name)


def _check_too_small(data: xr.Dataset, name: str) -> None:
    """Refuse fractions taken for percent, and sun in kilowatt or megajoule: nothing else keeps so low all the time."""
    driest, humidity = _extremes(data, "relative_humidity")
    if driest < humidity and 0.0 < humidity < _HIGHEST_OF_FRACTIONS:  # the air of a desiccator does not vary
        msg = (
            f"Climate {name!r}: relative_humidity is never above {humidity:.2g}, which looks like fractions taken for "
            "percent. Multiply the column by 100, or read it by read_csv without stating percent."
        )
        raise ClimateError(msg)
    _, sun = _extremes(data, "global_horizontal_irradiance")
    if data.sizes["time"] >= _YEAR and 0.0 < sun < _FAINTEST_SUN:
        unit, code = ("kilowatt", "kW/m2") if sun < _STRONGEST_SUN / 1000.0 else ("megajoule an hour", "MJ/m2")
        msg = (
            f"Climate {name!r}: global_horizontal_irradiance is never above {sun:.3g} W m-2 in a year, which looks "
            f"like {unit} per square metre. Convert the column, or read it by read_csv with "
            f"units={{'global_horizontal_irradiance': {code!r}}}."
        )
        raise ClimateError(msg)


def _extremes(data: xr.Dataset, variable: str) -> tuple[float, float]:
    """Lowest and highest value; not a number where there is none."""
    values = data[variable].data if variable in data else np.empty(0)
    known = values[~np.isnan(values)]
    return (float(known.min()), float(known.max())) if known.size else (np.nan, np.nan)


def check_codes(data: xr.Dataset, name: str) -> None:
    """Refuse missing-value codes left as numbers.

    Parameters
    ----------
    data : Dataset, dims (time)
        Record with registry names; values may be missing. [any]
    name : str
        What to call the record in a message.

    Raises
    ------
    ClimateError
        Naming the code, where it first occurs and how often.
    """
    for variable, row in CLIMATE.items():
        if variable not in data:
            continue
        values = data[variable].data
        outside = (values < row.lowest) | (values > row.highest)
        for code in CODES:
            hit = outside & (values == code)
            if hit.any():
                first = _stamp(data, hit)
                msg = (
                    f"Climate {name!r}: {variable} is {code:g} in {hours(int(hit.sum()))}, first {when(first)}; "
                    "that is a code for a missing value, not weather. Empty those cells, or read the file by read_csv "
                    f"with missing=[{code:g}]."
                )
                raise ClimateError(msg)


def check_range(data: xr.Dataset, name: str) -> None:
    """Refuse values outside the plausible range of their variable.

    Parameters
    ----------
    data : Dataset, dims (time)
        Record with registry names and units; missing values are passed over. [any]
    name : str
        What to call the record in a message.

    Raises
    ------
    ClimateError
        Naming the first value outside, its hour and the range.
    """
    for variable, row in CLIMATE.items():
        if variable not in data or (variable == "longwave_down" and not int(data.attrs.get("has_radiation", 1))):
            continue
        values = data[variable].data
        outside: BoolArray = (values < row.lowest) | (values > row.highest) | np.isinf(values)
        if not outside.any():
            continue
        first = _stamp(data, outside)
        value = float(values[int(np.flatnonzero(outside)[0])])
        unit = "" if row.unit == "1" else f" {row.unit}"
        remedy = " A file's rain that cannot be trusted is left out by ignore=['rain']." if variable == "rain" else ""
        msg = (
            f"Climate {name!r}: {variable} is {value:g}{unit} at {when(first)} ({hours(int(outside.sum()))} outside); "
            f"{row.lowest:g} to {row.highest:g}{unit} is plausible. Check the column, its unit and the sensor.{remedy}"
        )
        raise ClimateError(msg)


def check_complete(data: xr.Dataset, name: str, max_gap_hours: int = 0) -> None:
    """Refuse holes longer than may be filled.

    Parameters
    ----------
    data : Dataset, dims (time)
        Record with every hour present; missing values are NaN. [any]
    name : str
        What to call the record in a message.
    max_gap_hours : int
        Longest run of missing hours that is allowed. [h]

    Raises
    ------
    ClimateError
        Naming the variable, where its longest hole starts and how long it is.
    """
    for variable in CLIMATE:
        if variable not in data:
            msg = f"Climate {name!r} has no {variable}; all of {', '.join(CLIMATE)} are needed. Add the column."
            raise ClimateError(msg)
        start, length = longest_run(np.isnan(data[variable].data))
        if length > max_gap_hours:
            raise gap_error(name, variable, pd.Timestamp(data["time"].data[start]), length, max_gap_hours)


def check_holes(time: pd.DatetimeIndex, name: str, max_gap_hours: int) -> None:
    """Refuse rows left out in a longer stretch than may be filled; a leap day left out is named as such.

    Parameters
    ----------
    time : DatetimeIndex, shape (time,)
        Stamps that passed `check_time`. [time]
    name : str
        What to call the record in a message.
    max_gap_hours : int
        Longest run of missing hours that is allowed. [h]

    Raises
    ------
    ClimateError
        Naming the first hole.
    """
    stamps = time.to_numpy(dtype="datetime64[ns]")
    missing = (np.diff(stamps) // np.timedelta64(1, "h")).astype(int) - 1
    for at in np.flatnonzero(missing > max_gap_hours):
        first = time[int(at)] + _HOUR
        length = int(missing[at])
        if length == 24 and (first - _HOUR).month == 2 and (first - _HOUR).day == 29:
            msg = (
                f"Climate {name!r} leaves out 29 February {first.year}, a leap day. "
                "Put the record on a year without one (such as 2023), or add the day."
            )
            raise ClimateError(msg)
        msg = (
            f"Climate {name!r}: {hours(length)} missing in a row from {when(first)}; at most {max_gap_hours} are "
            f"filled. Add the rows, or read with max_gap_hours={length} to bridge them."
        )
        raise ClimateError(msg)


def warn_sun_clock(data: xr.Dataset, name: str) -> None:
    """Warn where the sun in the record and the clock disagree: wrong stamps, time zone or longitude.

    The centre of the day's irradiance, averaged over the record, should fall on solar noon. An hour's difference is
    the mark of stamps taken for the end of the hour that mean its start, or of summer time.

    Parameters
    ----------
    data : Dataset, dims (time)
        Complete record. [any]
    name : str
        What to call the record in a message.
    """
    sun = data["global_horizontal_irradiance"].data
    if float(np.nansum(sun)) <= 0.0:
        if len(sun) >= _YEAR:
            msg = (
                f"Climate {name!r}: global_horizontal_irradiance is 0 in all of {len(sun)} hours. Check its column, or "
                "leave sun and sky out by read_csv with has_radiation=False."
            )
            warnings.warn(msg, HygroWarning, stacklevel=3)
        return
    attrs = data.attrs
    noon = solar_noon(float(attrs["longitude"]), float(attrs["utc_offset"]))
    middle = (pd.DatetimeIndex(data["time"].data).hour.to_numpy() - 0.5) / 24.0 * 2.0 * np.pi
    # The mean direction on the 24 h dial, so that a record in another zone cannot wrap round midnight.
    centre = float(np.angle(np.nansum(sun * np.exp(1j * middle))) / (2.0 * np.pi) * 24.0) % 24.0
    difference = (centre - noon + 12.0) % 24.0 - 12.0
    if abs(difference) > NOON_TOLERANCE:
        msg = (
            f"Climate {name!r}: the sun's irradiance is centred at {_clock(centre)} but the sun is highest at "
            f"{_clock(noon)} there, {abs(difference):.1f} h apart. Check utc_offset and longitude, whether the stamps "
            'mark the start or the end of the hour (stamp="start"), and summer time.'
        )
        warnings.warn(msg, HygroWarning, stacklevel=3)


def gap_error(name: str, variable: str, first: pd.Timestamp, length: int, max_gap_hours: int) -> ClimateError:
    """Error that names a hole of a variable: its first hour, its length and what would be allowed."""
    allowed = f"at most {max_gap_hours} are filled" if max_gap_hours else "none may be missing"
    msg = (
        f"Climate {name!r}: {hours(length)} of {variable} missing in a row from {when(first)}; {allowed}. "
        f"Fill the hole from a neighbouring station, or read with max_gap_hours={length} to bridge it."
    )
    return ClimateError(msg)


def longest_run(flags: BoolArray) -> tuple[int, int]:
    """Start and length of the longest run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    if len(starts) == 0:
        return 0, 0
    longest = int(np.argmax(stops - starts))
    return int(starts[longest]), int(stops[longest] - starts[longest])


def _stamp(data: xr.Dataset, flags: BoolArray) -> pd.Timestamp:
    return pd.Timestamp(data["time"].data[int(np.flatnonzero(flags)[0])])


def _clock(hour: float) -> str:
    minutes = round(hour * 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
