"""How long a layer takes to dry after a wetting.

Two ways to ask: until the moisture content is back below a stated value, or until the water that a wetting added,
counted against a run without it, is all but gone. Either must hold until the end of the run.

May import: errors, variables.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.criteria.select import layer_cells, layer_number, require_run, values, wrap
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, place_in_words
from hygro.criteria.wood import Part, moisture_content
from hygro.errors import InputError

SOURCE: Final = "the limit and the time allowed are the user's own"


def drying_time(
    run: xr.Dataset, layer: str, *, below: float, since: str | pd.Timestamp | None = None, part: Part = "mean"
) -> xr.DataArray:
    """Hours from a wetting until the moisture content is below a value for good.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    below : float
        Moisture content that counts as dry. [%]
    since : str or pandas.Timestamp, optional
        When the wetting ended; without it the start of the run.
    part : {"mean", "outer", "inner"}, optional
        Part of the layer.

    Returns
    -------
    xarray.DataArray, dims (slice,)
        Time, 0 where it was dry throughout, infinite where it is still wet at the end of the run. [h]

    Raises
    ------
    InputError
        Where an argument is out of its range or the date lies outside the run.

    References
    ----------
    Definition.
    """
    if not (math.isfinite(below) and below > 0.0):
        msg = f"Layer '{layer}': dry below {below:g} % cannot be reached; write a moisture content such as 18."
        raise InputError(msg)
    content = moisture_content(run, layer, part).to_numpy()
    return _lasting(run, content >= below, since, layer)


def excess_water(run: xr.Dataset, reference: xr.Dataset, layer: str) -> xr.DataArray:
    """Water of a layer above what it holds in a run without the wetting.

    Parameters
    ----------
    run : xarray.Dataset
        The run with the wetting.
    reference : xarray.Dataset
        The same run without it.
    layer : str
        Label of the layer in both runs.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Excess. [kg m-2]

    Raises
    ------
    InputError
        Where the runs differ in their hours or slices, or one lacks the layer.

    References
    ----------
    Definition.
    """
    layer_cells(run, layer)
    layer_cells(reference, layer)
    mine, other = run["time"].to_numpy(), reference["time"].to_numpy()
    if mine.shape != other.shape or (mine != other).any() or run.sizes["slice"] != reference.sizes["slice"]:
        msg = (
            f"The run has {mine.size} hours and {run.sizes['slice']} slices, the reference {other.size} and "
            f"{reference.sizes['slice']}, or their dates differ. Run both with the same climate and slices."
        )
        raise InputError(msg)
    wet = values(run, "layer_water", layer_number(run, layer))
    dry = values(reference, "layer_water", layer_number(reference, layer))
    return wrap(run, "excess_water", wet - dry, layer=layer)


def drying_time_of_excess(
    run: xr.Dataset,
    reference: xr.Dataset,
    layer: str,
    *,
    remaining: float = 0.1,
    since: str | pd.Timestamp | None = None,
) -> xr.DataArray:
    """Hours from a wetting until only a share of the water that it added is left, for good.

    Parameters
    ----------
    run, reference, layer
        As for `excess_water`.
    remaining : float, optional
        Share that may be left. [1]
    since : str or pandas.Timestamp, optional
        When the wetting ended; without it the start of the run.

    Returns
    -------
    xarray.DataArray, dims (slice,)
        Time, infinite where more is left at the end of the run. [h]

    Raises
    ------
    InputError
        As `excess_water`; where the share is not between 0 and 1; where the wetting added nothing.

    References
    ----------
    Definition.
    """
    if not 0.0 < remaining < 1.0:
        msg = f"Layer '{layer}': the share that may be left is {remaining:g}; write a fraction such as 0.1."
        raise InputError(msg)
    excess = excess_water(run, reference, layer).to_numpy()
    added = excess[_first_hour(run, since, layer)]
    if (added <= 0.0).any():
        msg = (
            f"Layer '{layer}' holds {added.min():.3g} kg/m2 more than in the reference at the start of the drying; "
            "it must hold more than 0. State since=... as the end of the wetting, and pass the wetted run first."
        )
        raise InputError(msg)
    return _lasting(run, excess > remaining * added, since, layer)


def drying_verdict(
    run: xr.Dataset,
    layer: str,
    *,
    below: float,
    within: float,
    since: str | pd.Timestamp | None = None,
    part: Part = "mean",
) -> Verdict:
    """Whether a layer dries in the time that the user allows.

    Parameters
    ----------
    run, layer, below
        As for `drying_time`.
    within : float
        Time allowed. [h]
    since, part
        As for `drying_time`.

    Returns
    -------
    Verdict
        Fine or fails; its value is the drying time of the slowest slice.

    Raises
    ------
    InputError
        As `drying_time`, and where `within` is not above 0.

    References
    ----------
    None; the limits are the user's own.
    """
    if not within > 0.0:
        msg = f"Layer '{layer}': the time allowed for drying is {within:g} h; write hours above 0, such as 2160."
        raise InputError(msg)
    time = drying_time(run, layer, below=below, since=since, part=part).to_numpy()
    place = int(np.argmax(time))
    value = float(time[place])
    when = None
    if math.isfinite(value):
        when = pd.Timestamp(run["time"].to_numpy()[_first_hour(run, since, layer)]) + pd.Timedelta(hours=value)
        because = f"It falls below {below:g} % for good after {value / 24.0:.0f} days."
    else:
        because = f"It is still at or above {below:g} % at the end of the run."
    level = Level.FINE if value <= within else Level.FAILS
    return Verdict(
        criterion="drying time",
        level=level,
        value=value,
        unit="h",
        limit=within,
        when=when,
        where=place_in_words(layer, "mean" if part == "mean" else f"{part} face", place, time.size),
        because=because,
        source=SOURCE,
        caution="" if level is Level.FINE else STRUCTURE,
    )


def _first_hour(run: xr.Dataset, since: str | pd.Timestamp | None, layer: str) -> int:
    require_run(run)
    if since is None:
        return 0
    stamps = run["time"].to_numpy()
    try:
        date = pd.Timestamp(since).to_datetime64()
    except (ValueError, TypeError) as error:
        msg = f"Layer '{layer}': {since!r} is no date; write it such as \"2021-05-01 00:00\"."
        raise InputError(msg) from error
    if not stamps[0] <= date <= stamps[-1]:
        msg = (
            f"Layer '{layer}': the wetting is said to end on {pd.Timestamp(since)}, outside the run, which goes from "
            f"{pd.Timestamp(stamps[0])} to {pd.Timestamp(stamps[-1])}."
        )
        raise InputError(msg)
    return int(np.searchsorted(stamps, date))


def _lasting(run: xr.Dataset, wet: npt.NDArray[np.bool_], since: str | pd.Timestamp | None, layer: str) -> xr.DataArray:
    """Hours until the condition is false for the rest of the run."""
    first = _first_hour(run, since, layer)
    tail = wet[first:]
    # The last wet hour counts from the end; one hour later it is dry.
    since_last = np.argmax(tail[::-1], axis=0)
    hours = np.where(tail.any(axis=0), len(tail) - since_last, 0).astype(float)
    hours[tail[-1]] = np.inf
    return xr.DataArray(
        hours,
        dims="slice",
        coords={"slice": run["slice"].to_numpy()},
        name="drying_time",
        attrs={"units": "h", "long_name": "time until dry", "layer": layer},
    )
