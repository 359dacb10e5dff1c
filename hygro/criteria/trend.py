"""Whether a layer comes back to the same water each year, or collects more year by year.

The water of the layer is compared at the same date in successive years, counted back from the end of the run. A layer
counts as collecting where the last yearly gain is

- more than 0.005 kg/m2 and more than 1 % of what the layer takes up and gives off within the last year, and
- more than 0.7 of the gain of the year before (a start that was too dry settles faster), and,
- where the run has three years or more, preceded by a year that gained too (so that one wet year is no trend).

The three thresholds are choices of this package; no source states any.

May import: errors, variables.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.criteria.condensation import stated_bound_water
from hygro.criteria.select import (
    HOURS_PER_YEAR,
    Array,
    coordinate,
    layer_cells,
    layer_number,
    layer_property,
    require_run,
    values,
)
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, place_in_words
from hygro.errors import InputError
from hygro.variables import CRITERION

SMALLEST_GAIN: Final = 0.005  # [kg m-2 year-1]
SMALLEST_SHARE: Final = 0.01  # [1] of the swing within the last year
SETTLING: Final = 0.7  # [1] of the gain of the year before
YEARS_AHEAD: Final = 10.0  # [year] how far a gain is carried forward before it fails a layer
SOURCE: Final = "comparison of the same date in successive years; thresholds chosen by this package"

_SLACK: Final = np.timedelta64(48, "h")  # leap days and the missing stamp of the start


def _anchors(run: xr.Dataset) -> list[int]:
    """Positions in time of the same date in successive years, the oldest first."""
    stamps = coordinate(run, "time")
    end, found = pd.Timestamp(stamps[-1]), [len(stamps) - 1]
    while True:
        date = (end - pd.DateOffset(years=len(found))).to_datetime64()
        if date < stamps[0] - _SLACK:
            return found[::-1]
        found.append(int(np.argmin(np.abs(stamps - date))))


def years(run: xr.Dataset) -> int:
    """Whole years that a run covers."""
    require_run(run)
    return len(_anchors(run)) - 1


def yearly_gain(run: xr.Dataset, layer: str) -> xr.DataArray:
    """Change of a layer's water from each date to the same date a year later.

    Parameters
    ----------
    run : xarray.Dataset
        A run of a year or more.
    layer : str
        Label of the layer.

    Returns
    -------
    xarray.DataArray, dims (year, slice)
        Gain (a loss is negative), with the end of each year as coordinate ``year_end``. [kg m-2 year-1]

    Raises
    ------
    InputError
        Where the layer is unknown or holds no water, or the run is shorter than a year.

    References
    ----------
    Definition.
    """
    gains, hours, _ = _yearly(run, layer)
    coords = {
        "year": np.arange(1, len(hours)),
        "year_end": ("year", coordinate(run, "time")[hours[1:]]),
        "slice": run["slice"].to_numpy(),
    }
    attrs = CRITERION["yearly_gain"].attrs() | {"layer": layer}
    return xr.DataArray(gains, dims=("year", "slice"), coords=coords, name="yearly_gain", attrs=attrs)


def yearly_gains(run: xr.Dataset, layer: str) -> Array:
    """Numbers of `yearly_gain` alone, shape (n_year, n_slice): for who judges run after run. [kg m-2 year-1]."""
    return _yearly(run, layer)[0]


def _yearly(run: xr.Dataset, layer: str) -> tuple[Array, list[int], Array]:
    """Yearly gains, the hours between which they are, and the water in every hour."""
    layer_cells(run, layer)
    number = layer_number(run, layer)
    hours = _anchors(run)
    if len(hours) < 2:
        days = run.sizes["time"] / 24.0
        msg = f"The run holds {days:.0f} days; a change from year to year needs a year or more. Run two years or more."
        raise InputError(msg)
    water = values(run, "layer_water", number)
    return np.diff(water[hours], axis=0), hours, water


def collects(run: xr.Dataset, layer: str) -> npt.NDArray[np.bool_]:
    """Whether a layer collects water year by year, by the rule at the head of this module.

    Parameters
    ----------
    run : xarray.Dataset
        A run of two years or more.
    layer : str
        Label of the layer.

    Returns
    -------
    array of bool, shape (n_slice,)
        One answer for each slice.

    Raises
    ------
    InputError
        Where the layer is unknown or the run is shorter than two years.

    References
    ----------
    None; a choice of this package.
    """
    return trend_of(run, layer).collects


@dataclass(frozen=True, slots=True, eq=False)
class Trend:
    """What the water of a layer did from year to year.

    Parameters
    ----------
    gains : array, shape (n_year, n_slice)
        Change of each year, of two years or more. [kg m-2 year-1]
    last_year : array, shape (n_hour, n_slice)
        Water in each hour of the last year. [kg m-2]
    """

    gains: Array
    last_year: Array

    @property
    def least(self) -> Array:
        """Gain that counts as one, shape (n_slice,). [kg m-2 year-1]."""
        return np.asarray(np.maximum(SMALLEST_GAIN, SMALLEST_SHARE * np.ptp(self.last_year, axis=0)))

    @property
    def collects(self) -> npt.NDArray[np.bool_]:
        """Whether it collects year by year, by the rule at the head of this module, shape (n_slice,)."""
        gain, least = self.gains, self.least
        found = (gain[-1] > least) & (gain[-1] > SETTLING * gain[-2])
        if len(gain) > 2:
            found &= gain[-2] > least
        return np.asarray(found, dtype=bool)

    @property
    def settled(self) -> Array:
        """First year that repeats itself, see `settled_year`, shape (n_slice,). [year]."""
        still = np.abs(self.gains) <= self.least
        lasting = np.cumprod(still[::-1], axis=0)[::-1].astype(bool)
        return np.where(lasting.any(axis=0), lasting.argmax(axis=0) + 1.0, np.inf)


def trend_of(run: xr.Dataset, layer: str) -> Trend:
    """Trend of a layer, with one look at the run.

    Raises
    ------
    InputError
        As `collects`.
    """
    gains, _, water = _yearly(run, layer)
    if len(gains) < 2:
        msg = (
            f"The run covers {run.sizes['time'] / HOURS_PER_YEAR:.1f} years; whether a layer collects water can be "
            "told from two years or more, because the first year also shows the start. Run two years or more."
        )
        raise InputError(msg)
    return Trend(gains, water[-HOURS_PER_YEAR:])


def settled_year(run: xr.Dataset, layer: str) -> xr.DataArray:
    """Year from which on a layer holds the same water at the same date each year: the periodic steady state.

    Parameters
    ----------
    run : xarray.Dataset
        A run of two years or more.
    layer : str
        Label of the layer.

    Returns
    -------
    xarray.DataArray, dims (slice,)
        Number of the first year, counted from 1, whose change and that of every later year is no larger than 0.005
        kg/m2 or 1 % of the swing within the last year; infinite where the last year still changed by more. [year]

    Raises
    ------
    InputError
        As `collects`.

    References
    ----------
    Definition; the thresholds are a choice of this package.
    """
    return xr.DataArray(
        trend_of(run, layer).settled,
        dims="slice",
        coords={"slice": run["slice"].to_numpy()},
        name="settled_year",
        attrs={"units": "year", "long_name": "first year that repeats itself", "layer": layer},
    )


def trend_verdict(run: xr.Dataset, layer: str) -> Verdict:
    """Whether a layer collects water year by year.

    Fine where it does not; where it does, caution if what the material binds lasts for more than ten years at this
    pace, else fails (also where the run does not state what the material binds).

    Parameters
    ----------
    run : xarray.Dataset
        A run of two years or more.
    layer : str
        Label of the layer.

    Returns
    -------
    Verdict
        Its value is the gain of the last year in the slice that gains most, its limit the gain that counts as one, its
        hour the end of that year. It tells from which year on the layer repeats itself.

    Raises
    ------
    InputError
        As `collects`.

    References
    ----------
    None; a choice of this package.
    """
    return verdict_on_trend(run, layer, trend_of(run, layer))


def verdict_on_trend(run: xr.Dataset, layer: str, trend: Trend) -> Verdict:
    """The same of a trend that `trend_of` has found."""
    found, gain = trend.collects, trend.gains
    place = int(np.argmax(np.where(found, gain[-1], -math.inf) if found.any() else gain[-1]))
    value = float(gain[-1, place])
    level, because = (
        (Level.FINE, _steady(gain[:, place], float(trend.settled.max())))
        if not found.any()
        else _ahead(run, layer, float(trend.last_year[:, place].max()), value)
    )
    return Verdict(
        criterion="yearly gain of water",
        level=level,
        value=value,
        unit="kg m-2 year-1",
        limit=float(trend.least[place]),
        when=pd.Timestamp(coordinate(run, "time")[-1]),
        where=place_in_words(layer, "whole", place, gain.shape[1]),
        because=because,
        source=SOURCE,
        caution="" if level is Level.FINE else STRUCTURE,
    )


def _steady(gain: npt.NDArray[np.float64], settled: float) -> str:
    if math.isfinite(settled):
        return f"At the same date it holds the same water each year, from year {settled:.0f} on."
    if gain[-1] < -SMALLEST_GAIN:
        return "It is drying from year to year, and has not come to rest."
    if gain[-1] > SMALLEST_GAIN and gain[-1] > SETTLING * gain[-2]:
        return "It gained in the last year, but too little, or not in the year before: no trend. Run more years."
    if gain[-1] > SMALLEST_GAIN:
        return "It gained less than in the year before: it is settling, not collecting."
    return "Not all of its slices have come to rest yet. Run more years."


def _ahead(run: xr.Dataset, layer: str, most: float, value: float) -> tuple[Level, str]:
    thickness = layer_property(run, layer, "layer_thickness")
    binds = stated_bound_water(run, layer)
    density = layer_property(run, layer, "layer_density")
    percent = f" ({100.0 * value / (density * thickness):.2g} % of its dry mass)" if density * thickness > 0.0 else ""
    text = f"It ends each year with more water than the last{percent}"
    if binds is None:
        return Level.FAILS, f"{text}."
    left = max(binds * thickness - most, 0.0) / value
    if left > YEARS_AHEAD:
        return Level.CAUTION, f"{text}; at this pace its material can bind it for about {left:.0f} years."
    if left > 0.0:
        return Level.FAILS, f"{text}; at this pace it is full in about {left:.1g} years."
    return Level.FAILS, f"{text}, and already holds more than its material can bind."
