"""From columns as read to a checked `Climate`: what is missing and may be put right, and the notes that say so.

Short holes are bridged; sun and sky that a format does not carry are computed from what it does. Every step is
written in the record's ``notes``; what replaces an observation is warned of as well.
May import: errors, constants, variables, check, humidity, record, sky, sun; pvlib on first use.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd

from hygro.climate import check, sky
from hygro.climate.humidity import FloatArray
from hygro.climate.record import Climate, assemble
from hygro.climate.sun import HourlySun, hourly_sun, split_global
from hygro.errors import ClimateError, HygroWarning
from hygro.variables import CLIMATE

MAX_GAP_HOURS: Final = 6
OPAQUE_CLOUD: Final = "opaque_cloud"  # helper column: the part of the cloud that counts for long-wave
_SUN: Final = ("global_horizontal_irradiance", "direct_normal_irradiance", "diffuse_horizontal_irradiance")
_OBSERVED: Final = ("air_temperature", "relative_humidity", "air_pressure", "wind_speed", "wind_direction")
_MOSTLY: Final = 0.5  # a column of which more than this share is missing counts as not given


@dataclass(slots=True)
class _Notes:
    """What was done to the record, in the order it was done."""

    said: list[str] = field(default_factory=list)
    warned: list[str] = field(default_factory=list)

    def say(self, note: str, *, warn: bool) -> None:
        self.said.append(note)
        if warn:
            self.warned.append(note)


def finish(
    time: pd.DatetimeIndex,
    values: Mapping[str, FloatArray],
    attrs: Mapping[str, str | float | int],
    max_gap_hours: int = MAX_GAP_HOURS,
    ignore: Sequence[str] = (),
) -> Climate:
    """Check columns as read, repair what may be repaired, and make a climate of them.

    Parameters
    ----------
    time : DatetimeIndex, shape (time,)
        Ends of the hours. [time]
    values : mapping of str to ndarray, shape (time,)
        Columns by registry name and in its unit, NaN where missing; ``opaque_cloud`` may be among them. [registry]
    attrs : mapping
        Attributes of the record; ``title`` names it in messages.
    max_gap_hours : int
        Longest run of missing hours that is bridged. [h]
    ignore : sequence of str
        Variables of the file that are not to be trusted and count as missing, as ``["rain"]``.

    Returns
    -------
    Climate
        Complete record whose ``notes`` list everything that was done.

    Raises
    ------
    ClimateError
        Where the record cannot be used or has a longer hole.
    """
    if isinstance(max_gap_hours, bool) or not isinstance(max_gap_hours, int) or max_gap_hours < 0:
        msg = f"max_gap_hours is {max_gap_hours!r}; a whole number of hours from 0 on is needed."
        raise ClimateError(msg)
    name = str(attrs["title"])
    for variable in ignore:
        if variable not in CLIMATE:
            msg = f"Climate {name!r}: ignore names {variable!r}, no variable; known are {', '.join(CLIMATE)}."
            raise ClimateError(msg)
    check.check_time(time, name)
    check.check_holes(time, name, max_gap_hours)
    notes = _Notes([note for note in str(attrs.get("notes", "")).split("; ") if note])
    kept = {variable: column for variable, column in values.items() if variable not in ignore}
    whole, columns = _every_hour(time, kept)
    raw = assemble(whole, columns, attrs)
    check.check_units(raw, name)
    check.check_codes(raw, name)
    _require(columns, name)
    _clip_sensor_errors(columns, notes)
    _default_rain(columns, notes)
    _default_pressure(columns, float(attrs["elevation"]), notes)
    for variable in (*_OBSERVED, "rain", *_SUN):
        if variable in columns:
            _bridge(whole, columns, variable, name, max_gap_hours, notes)
    if int(attrs.get("has_radiation", 1)):
        _complete_sun(whole, columns, attrs, name, notes)
        _cloud_from_longwave(columns, notes)
        _bridge(whole, columns, "cloud_cover", name, max_gap_hours, notes)
        _complete_longwave(columns, notes)
    else:
        columns |= dict.fromkeys((*_SUN, "cloud_cover"), np.zeros(len(whole)))
        columns["longwave_down"] = sky.black_body(columns["air_temperature"])
    record = assemble(whole, columns, {**attrs, "notes": "; ".join(notes.said)})
    climate = Climate(record)
    if notes.warned:
        warnings.warn(f"Climate {name!r}: {'; '.join(notes.warned)}.", HygroWarning, stacklevel=4)
    if climate.has_radiation:
        check.warn_sun_clock(record, name)
    return climate


def _every_hour(
    time: pd.DatetimeIndex, values: Mapping[str, FloatArray]
) -> tuple[pd.DatetimeIndex, dict[str, FloatArray]]:
    """Spread the columns over every hour from the first to the last; hours left out become missing values."""
    whole = pd.date_range(time[0], time[-1], freq="h").as_unit("ns")
    at = np.asarray((time - time[0]) // pd.Timedelta(hours=1), dtype=np.int64)
    columns = {}
    for name, column in values.items():
        spread = np.full(len(whole), np.nan)
        spread[at] = column
        if not np.isnan(spread).all():
            columns[name] = spread
    return whole, columns


def _clip_sensor_errors(columns: dict[str, FloatArray], notes: _Notes) -> None:
    """Bring slight excesses, which sensors show, back to what is possible; the rest is left to the range check."""
    limits: list[tuple[str, float, float, Callable[..., FloatArray]]] = [
        ("relative_humidity", 1.0, check.SMALL_EXCESS, np.minimum)
    ]
    limits += [(name, 0.0, check.NIGHT_OFFSET, np.maximum) for name in _SUN]
    for name, limit, tolerated, bound in limits:
        if name not in columns:
            continue
        values = columns[name]
        excess = values > limit if tolerated > limit else values < limit
        slight = excess & (values <= tolerated if tolerated > limit else values >= tolerated)
        if slight.any():
            columns[name] = np.where(slight, bound(values, limit), values)
            side = "above" if tolerated > limit else "below"
            notes.say(
                f"{check.hours(int(slight.sum()))} of {name} slightly {side} {limit:g} set to {limit:g}", warn=True
            )


def _default_rain(columns: dict[str, FloatArray], notes: _Notes) -> None:
    rain = columns.get("rain")
    length = len(columns["air_temperature"])
    missing = length if rain is None else int(np.isnan(rain).sum())
    if rain is None or missing > _MOSTLY * length:
        columns["rain"] = np.zeros(length)
        notes.say(f"rain is missing in {missing} of {length} hours and taken as 0 throughout", warn=True)


def _default_pressure(columns: dict[str, FloatArray], elevation: float, notes: _Notes) -> None:
    if "air_pressure" not in columns:
        pressure = sky.standard_pressure(elevation)
        columns["air_pressure"] = np.full(len(columns["air_temperature"]), pressure)
        notes.say(f"air_pressure is not given and taken as {pressure:.0f} Pa from the elevation", warn=False)


def _require(columns: Mapping[str, FloatArray], name: str) -> None:
    for variable in ("air_temperature", "relative_humidity", "wind_speed", "wind_direction"):
        if variable not in columns:
            msg = (
                f"Climate {name!r} has no {variable} in any hour. Name its column, or state one number for all hours, "
                f"by read_csv with constants={{{variable!r}: ...}}."
            )
            raise ClimateError(msg)


def _bridge(
    time: pd.DatetimeIndex,
    columns: dict[str, FloatArray],
    variable: str,
    name: str,
    max_gap_hours: int,
    notes: _Notes,
) -> None:
    """Fill the short holes of a column; refuse a long one."""
    missing = np.isnan(columns[variable])
    if not missing.any():
        return
    start, length = check.longest_run(missing)
    if length > max_gap_hours:
        raise check.gap_error(name, variable, pd.Timestamp(time[start]), length, max_gap_hours)
    columns[variable] = _filled(variable, columns[variable])
    first = check.when(pd.Timestamp(time[int(np.flatnonzero(missing)[0])]))
    notes.say(f"{check.hours(int(missing.sum()))} of {variable} filled, first {first}", warn=True)


def _filled(variable: str, values: FloatArray) -> FloatArray:
    missing = np.isnan(values)
    if variable == "rain":
        return np.where(missing, 0.0, values)
    if variable == "wind_direction":
        angle = np.radians(values)
        turned = np.degrees(np.arctan2(_interpolated(np.sin(angle)), _interpolated(np.cos(angle)))) % 360.0
        return np.where(missing, turned, values)
    if variable in _SUN:
        # The same hour of the day before and after keeps the sun's course, which a straight line would not.
        padded = np.concatenate((np.full(24, np.nan), values, np.full(24, np.nan)))
        pair = np.stack((padded[:-48], padded[48:]))
        known = ~np.isnan(pair)
        mean = np.where(known, pair, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
        values = np.where(missing & known.any(axis=0), mean, values)
    return _interpolated(values)


def _interpolated(values: FloatArray) -> FloatArray:
    known = np.flatnonzero(~np.isnan(values))
    result: FloatArray = np.interp(np.arange(len(values)), known, values[known])
    return result


def _complete_sun(
    time: pd.DatetimeIndex,
    columns: dict[str, FloatArray],
    attrs: Mapping[str, str | float | int],
    name: str,
    notes: _Notes,
) -> None:
    """Compute the irradiances that are not given from those that are."""
    whole, direct, diffuse = _SUN
    given = [variable for variable in _SUN if variable in columns]
    if len(given) == 3 and "cloud_cover" in columns:
        return
    if not given or given == [direct]:
        msg = (
            f"Climate {name!r} has no {whole}. Name its column, or state has_radiation=False to leave sun and sky out."
        )
        raise ClimateError(msg)
    place = [float(attrs[key]) for key in ("latitude", "longitude", "utc_offset")]
    if not np.isfinite(place).all():
        msg = f"Climate {name!r}: latitude, longitude and utc_offset are needed to place the sun. State them."
        raise ClimateError(msg)
    sun = hourly_sun(time, *place)
    cosine = sun.cos_zenith
    if whole not in columns and direct in columns and diffuse in columns:
        columns[whole] = columns[diffuse] + columns[direct] * cosine
        notes.say(f"{whole} computed from {direct} and {diffuse}", warn=False)
    elif whole in columns and (direct not in columns or diffuse not in columns):
        columns[direct], columns[diffuse] = split_global(np.maximum(columns[whole], 0.0), sun)
        notes.say(f"{direct} and {diffuse} split from {whole} (Erbs et al. 1982)", warn=False)
    if "cloud_cover" not in columns and "longwave_down" not in columns:
        columns["cloud_cover"] = _cloud_from_sun(columns[whole], sun, float(attrs["elevation"]))
        notes.say(
            "cloud_cover and longwave_down are not given; cloud estimated from the sun and carried through the night",
            warn=True,
        )


def _cloud_from_sun(global_irradiance: FloatArray, sun: HourlySun, elevation: float) -> FloatArray:
    """Cloud from the share of the clear sky's sun, by day; the night lies between the days."""
    from pvlib import clearsky

    # Haurwitz's clear sky needs no turbidity, which a plain record does not tell.
    clear = clearsky.haurwitz(pd.Series(sun.zenith))["ghi"].to_numpy() * (1.0 + 3e-5 * elevation)
    is_day = sun.cos_zenith > 0.1
    if not is_day.any():
        return np.full(len(global_irradiance), 0.5)
    share = np.where(is_day, global_irradiance / np.maximum(clear, 1.0), np.nan)
    cloud = np.where(is_day, sky.cloud_from_clearness(np.nan_to_num(share, nan=1.0)), np.nan)
    return _interpolated(cloud)


def _cloud_from_longwave(columns: dict[str, FloatArray], notes: _Notes) -> None:
    """Compute cloud from long-wave in the hours that have only this."""
    air, humidity = columns["air_temperature"], columns["relative_humidity"]
    empty = np.full(len(air), np.nan)
    longwave, cloud = columns.get("longwave_down", empty), columns.get("cloud_cover", empty)
    lacking = np.isnan(cloud) & ~np.isnan(longwave)
    if lacking.any():
        cloud = np.where(lacking, sky.cloud_from_longwave(air, humidity, np.nan_to_num(longwave)), cloud)
        notes.say(f"{check.hours(int(lacking.sum()))} of cloud_cover computed from longwave_down", warn=False)
    columns["cloud_cover"] = cloud


def _complete_longwave(columns: dict[str, FloatArray], notes: _Notes) -> None:
    """Compute long-wave from cloud and dew point in the hours that lack it."""
    cloud = columns["cloud_cover"]
    opaque = columns.pop(OPAQUE_CLOUD, cloud)
    opaque = np.where(np.isnan(opaque), cloud, opaque)
    longwave = columns.get("longwave_down", np.full(len(cloud), np.nan))
    lacking = np.isnan(longwave)
    if lacking.any():
        ends = (columns["air_temperature"], columns["relative_humidity"], opaque)
        longwave = np.where(lacking, sky.longwave_down(*(sky.hour_mean(part) for part in ends)), longwave)
        notes.say(
            f"{check.hours(int(lacking.sum()))} of longwave_down computed from cloud and dew point (Clark and Allen "
            "1978, Walton 1983)",
            warn=False,
        )
    columns["longwave_down"] = longwave
