"""The warm and the cold half of the year, found from the run itself so that both hemispheres work.

May import: errors, variables.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.criteria.select import HOUR, Array, require_run, values
from hygro.errors import InputError


def warm_months(run: xr.Dataset, months: Collection[int] | None = None) -> tuple[int, ...]:
    """Months of the warm half of the year.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    months : collection of int, optional
        The months (1 to 12), where the user states them; without, the six in a row that are warmest outdoors.

    Returns
    -------
    tuple of int
        Months in the order of the season. [1]

    Raises
    ------
    InputError
        Where a month is no month, or the run is too short to find them.
    """
    require_run(run)
    if months is not None:
        chosen = set(months)
        if not chosen or not chosen <= set(range(1, 13)) or len(chosen) == 12:
            msg = (
                f"Warm months are {sorted(chosen)}; write some but not all of 1 (January) to 12, such as (5, 6, 7, 8)."
            )
            raise InputError(msg)
        starts = [month for month in chosen if (month - 2) % 12 + 1 not in chosen]
        if len(starts) != 1:
            msg = (
                f"Warm months are {sorted(chosen)}; they must follow each other without a gap, such as (11, 12, 1, 2)."
            )
            raise InputError(msg)
        return tuple((starts[0] - 1 + step) % 12 + 1 for step in range(len(chosen)))
    month = _hour_begins(run).month.to_numpy()
    missing = sorted(set(range(1, 13)) - set(month.tolist()))
    if missing:
        msg = (
            f"The run has no hours in the months {missing}, so its warm half year cannot be found. "
            "State months=..., such as (5, 6, 7, 8, 9), or run a whole year."
        )
        raise InputError(msg)
    temperature = _outdoors(run)
    mean = np.array([temperature[month == m].mean() for m in range(1, 13)])
    start = int(np.argmax([np.roll(mean, -m)[:6].mean() for m in range(12)]))
    return tuple((start + step) % 12 + 1 for step in range(6))


def seasons(run: xr.Dataset, months: Collection[int] | None = None) -> npt.NDArray[np.str_]:
    """Season of each hour, for instance ``"winter 2021/22"`` or ``"summer 2022"``.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    months : collection of int, optional
        Warm months, as for `warm_months`.

    Returns
    -------
    array of str, shape (n_hour,)
        Label of the half year that the hour belongs to.

    Raises
    ------
    InputError
        As `warm_months`.
    """
    warm = warm_months(run, months)
    cold = tuple((warm[-1] + step) % 12 + 1 for step in range(12 - len(warm)))
    begins = _hour_begins(run)
    month, year = begins.month.to_numpy(), begins.year.to_numpy()
    labels = np.empty(len(begins), dtype="U14")
    for kind, block in (("summer", warm), ("winter", cold)):
        crosses = block[0] > block[-1]
        first_year = np.where(crosses & (month < block[0]), year - 1, year)
        inside = np.isin(month, block)
        for start in np.unique(first_year[inside]):
            name = f"{kind} {start}/{(start + 1) % 100:02d}" if crosses else f"{kind} {start}"
            labels[inside & (first_year == start)] = name
    return labels


def is_warm(run: xr.Dataset, months: Collection[int] | None = None) -> npt.NDArray[np.bool_]:
    """Whether each hour lies in the warm half of the year, shape (n_hour,)."""
    return np.isin(_hour_begins(run).month.to_numpy(), warm_months(run, months))


def _hour_begins(run: xr.Dataset) -> pd.DatetimeIndex:
    # A stamp is the end of its hour; the hour belongs to the month in which it begins.
    return pd.DatetimeIndex(run["time"].to_numpy() - HOUR)


def _outdoors(run: xr.Dataset) -> Array:
    if "outdoor_temperature" in run.data_vars:
        return values(run, "outdoor_temperature")
    return np.asarray(values(run, "temperature", 0).mean(axis=1))
