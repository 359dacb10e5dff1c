"""Running means over 30 days: the humidity criterion for mould that came before the mould index.

May import: errors, variables.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr

from hygro.criteria.select import Array, Face, face_cell, values, wrap
from hygro.criteria.verdict import HEALTH, Level, Verdict, peak, place_in_words
from hygro.errors import InputError

WINDOW: Final = 720  # [h] 30 days
LIMIT: Final = 0.80  # [1] ASHRAE 160-2009, 30-day running mean of the surface humidity
LOWEST_TEMPERATURE: Final = 5.0  # [degC] ASHRAE 160-2009
HIGHEST_TEMPERATURE: Final = 40.0  # [degC] ASHRAE 160-2009
SOURCE: Final = "ASHRAE 160-2009, 30-day mean below 80 % where the 30-day mean temperature is 5 to 40 degC"


def running_mean(series: Array, window: int = WINDOW) -> Array:
    """Mean of the last `window` values along the first axis; ``nan`` before there are so many."""
    result = np.full(series.shape, np.nan)
    if len(series) >= window:
        total = np.cumsum(np.concatenate([np.zeros((1, *series.shape[1:])), series]), axis=0)
        result[window - 1 :] = (total[window:] - total[:-window]) / window
    return result


def _mean_of(run: xr.Dataset, layer: str, face: Face, variable: str, name: str) -> xr.DataArray:
    cell = face_cell(run, layer, face)
    if run.sizes["time"] < WINDOW:
        msg = (
            f"The run holds {run.sizes['time']} hours; a mean over 30 days needs at least {WINDOW}. "
            "Run a longer time, best two years or more."
        )
        raise InputError(msg)
    return wrap(run, name, running_mean(values(run, variable, cell)), layer=layer, face=face)


def relative_humidity_30_day(run: xr.Dataset, layer: str, face: Face = "outer") -> xr.DataArray:
    """Mean relative humidity of the last 30 days at a face of a layer.

    Parameters
    ----------
    run : xarray.Dataset
        A run of at least 30 days.
    layer : str
        Label of the layer.
    face : {"outer", "inner"}, optional
        Face of the layer.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Running mean, ``nan`` in the first 719 hours. [1]

    Raises
    ------
    InputError
        Where layer or face are unknown or the run is too short.

    References
    ----------
    ASHRAE 160-2009.
    """
    return _mean_of(run, layer, face, "relative_humidity", "relative_humidity_30_day")


def temperature_30_day(run: xr.Dataset, layer: str, face: Face = "outer") -> xr.DataArray:
    """Mean temperature of the last 30 days at a face of a layer.

    Parameters
    ----------
    run, layer, face
        As for `relative_humidity_30_day`.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Running mean, ``nan`` in the first 719 hours. [degC]

    Raises
    ------
    InputError
        Where layer or face are unknown or the run is too short.

    References
    ----------
    ASHRAE 160-2009.
    """
    return _mean_of(run, layer, face, "temperature", "temperature_30_day")


def thirty_day_verdict(run: xr.Dataset, layer: str, face: Face = "outer") -> Verdict:
    """Whether the 30-day mean humidity stays below 80 % while it is warm enough for mould.

    The standard knows pass and fail only, so there is no caution in between. The later mould index is less strict.

    Parameters
    ----------
    run, layer, face
        As for `relative_humidity_30_day`.

    Returns
    -------
    Verdict
        With the hour that ends the most humid 30 days that count; the highest value of all where none counts.

    Raises
    ------
    InputError
        As `relative_humidity_30_day`.

    References
    ----------
    ASHRAE 160-2009.
    """
    humidity = relative_humidity_30_day(run, layer, face)
    warmth = temperature_30_day(run, layer, face)
    counts = (warmth >= LOWEST_TEMPERATURE) & (warmth <= HIGHEST_TEMPERATURE)
    any_counts = bool(counts.any())
    value, when, place = peak(humidity.where(counts) if any_counts else humidity)
    fails = any_counts and value >= LIMIT
    if not any_counts:
        because = "No 30 days had a mean temperature between 5 and 40 °C, so mould had no chance to grow."
    elif fails:
        hours = int((counts & (humidity >= LIMIT)).sum("time").max())
        because = f"{hours} hours end 30 days that were too humid while between 5 and 40 °C."
    else:
        because = "Whenever 30 days were between 5 and 40 °C on average, they stayed below 80 % on average."
    return Verdict(
        criterion="30-day mean relative humidity",
        level=Level.FAILS if fails else Level.FINE,
        value=100.0 * value,
        unit="%",
        limit=100.0 * LIMIT,
        when=when,
        where=place_in_words(layer, f"{face} face", place, humidity.sizes["slice"]),
        because=because,
        source=SOURCE,
        caution=HEALTH if fails else "",
    )
