"""How much the ventilator must move to keep the air of the worst cold week within targets.

May import: errors, units, variables.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.errors import HygroWarning, InputError
from hygro.indoor.air import Array, outdoor_values
from hygro.indoor.household import Household, warn_of_flames
from hygro.indoor.limits import fraction, within

_WEEK: Final = 168  # [h]


@dataclass(frozen=True, slots=True)
class WorstWeeks:
    """The worst cold weeks of a household's air.

    Attributes
    ----------
    relative_humidity : float
        Highest weekly mean. [1]
    most_humid : pandas.Timestamp
        Begin of that week.
    carbon_dioxide : float
        Highest weekly mean, by volume. [1e-6]
    stalest : pandas.Timestamp
        Begin of that week.
    stalest_hour : float
        Highest carbon dioxide of an hour in any of the cold weeks; a weekly mean hides the nights. [1e-6]
    """

    relative_humidity: float
    most_humid: pd.Timestamp
    carbon_dioxide: float
    stalest: pd.Timestamp
    stalest_hour: float

    def __str__(self) -> str:
        return (
            f"Most humid week from {self.most_humid:%d %B %Y}: {100.0 * self.relative_humidity:.0f} %; stalest week "
            f"from {self.stalest:%d %B %Y}: {self.carbon_dioxide:.0f} ppm (weekly means), "
            f"{self.stalest_hour:.0f} ppm in the stalest hour."
        )


def worst_weeks(household: Household, outdoor: xr.Dataset, *, colder_than: float = 10.0) -> WorstWeeks:
    """Most humid and stalest of the cold weeks of a household.

    Parameters
    ----------
    household : Household
        The household.
    outdoor : xarray.Dataset
        Hourly record of a week or more; weeks are counted from its start.
    colder_than : float, optional
        Mean outdoor temperature below which a week counts. [degC]

    Returns
    -------
    WorstWeeks
        Weekly means and the begin of the weeks.

    Raises
    ------
    InputError
        Where there is no cold week.

    Warns
    -----
    HygroWarning
        As `Household.conditions`.

    References
    ----------
    `Household.conditions`.
    """
    cold = np.flatnonzero(_cold_weeks(outdoor, colder_than))
    air = household.conditions(outdoor)
    humid, stale = (
        _weeks(air[name].to_numpy())[cold] for name in ("indoor_relative_humidity", "indoor_carbon_dioxide")
    )
    n_weeks = outdoor.sizes["time"] // _WEEK
    begins = outdoor["time"].to_numpy()[::_WEEK][cold] - np.timedelta64(1, "h")
    return WorstWeeks(
        float(humid.max()),
        pd.Timestamp(begins[int(humid.argmax())]),
        float(stale.max()),
        pd.Timestamp(begins[int(stale.argmax())]),
        float(air["indoor_carbon_dioxide"].to_numpy()[: n_weeks * _WEEK].reshape(n_weeks, _WEEK)[cold].max()),
    )


def flow_for_targets(
    household: Household,
    outdoor: xr.Dataset,
    *,
    relative_humidity: float,
    carbon_dioxide: float,
    colder_than: float = 10.0,
    highest_flow: float = 1.0,
) -> float:
    """Least ventilator flow with which the worst cold week keeps two targets.

    Weeks are counted from the start of the record. Those with a mean outdoor temperature below `colder_than` count, as
    the outdoor air of warm weeks can be too humid for any flow.

    Parameters
    ----------
    household : Household
        The household; the flow of its ventilator is what is looked for.
    outdoor : xarray.Dataset
        Hourly record of a week or more.
    relative_humidity : float or str
        Highest weekly mean. [1]
    carbon_dioxide : float
        Highest weekly mean, by volume. [1e-6]
    colder_than : float, optional
        Weeks that count. [degC]
    highest_flow : float, optional
        Where to stop looking. [m3 s-1]

    Returns
    -------
    float
        Flow, to a tenth of a litre a second and never too low. [m3 s-1]

    Raises
    ------
    InputError
        Where there is no ventilator or no cold week, or no flow up to `highest_flow` is enough.

    Warns
    -----
    HygroWarning
        Where a flame burns without a flue: more air does not make it safe.

    References
    ----------
    Bisection on `Household.conditions`.
    """
    target = fraction(relative_humidity, "Target relative humidity")
    within(carbon_dioxide, household.outdoor_carbon_dioxide + 1.0, 1e5, "Target carbon dioxide", "1e-6")
    within(highest_flow, 1e-4, 10.0, "Highest flow", "m3 s-1")
    ventilator = household.ventilator
    if ventilator is None:
        msg = "This household has no ventilator, so there is no flow to look for. Give it a Ventilator."
        raise InputError(msg)
    _cold_weeks(outdoor, colder_than)
    warn_of_flames(household)

    def worst(flow: float) -> tuple[float, float]:
        trial = replace(household, ventilator=replace(ventilator, flow=flow))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", HygroWarning)  # of trials that are not what will be built
            found = worst_weeks(trial, outdoor, colder_than=colder_than)
        return found.relative_humidity, found.carbon_dioxide

    def enough(flow: float) -> bool:
        humid, stale = worst(flow)
        return humid <= target and stale <= carbon_dioxide

    if not enough(highest_flow):
        humid, stale = worst(highest_flow)
        msg = (
            f"Even {1000.0 * highest_flow:.0f} l/s leave the worst cold week at {100.0 * humid:.0f} % and "
            f"{stale:.0f} ppm; wanted: {100.0 * target:.0f} % and {carbon_dioxide:.0f} ppm. Give off less."
        )
        raise InputError(msg)
    low, high = 0.0, highest_flow
    if enough(low):
        return low
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _cold_weeks(outdoor: xr.Dataset, colder_than: float) -> npt.NDArray[np.bool_]:
    cold = _weeks(outdoor_values(outdoor, "air_temperature")) < colder_than
    if not cold.any():
        msg = (
            f"No whole week of the record is colder than {colder_than:g} degC on average. Give a record of a week or "
            "more, or raise colder_than."
        )
        raise InputError(msg)
    return np.asarray(cold)


def _weeks(series: Array) -> Array:
    """Means of the whole weeks of a record."""
    whole = series.size // _WEEK
    return np.asarray(series[: whole * _WEEK].reshape(whole, _WEEK).mean(axis=1))
