"""Free water, frost and drips season by season, and what they mean.

May import: errors, variables.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro.criteria.condensation import (
    RUN_OFF,
    TRACE,
    by_season,
    condensate,
    drip_by_season,
    frost,
    frost_by_winter,
)
from hygro.criteria.select import values
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, peak, place_in_words

DRIP_SOURCE: Final = "0.2 kg/m2 in a half year, the amount from which ISO 13788:2012 sees run-off (from memory)"
FROST_SOURCE: Final = (
    "no source limits ice; held against the 0.2 kg/m2 from which ISO 13788:2012 sees run-off (from memory), as it may "
    "melt at once: a choice of this package"
)


def condensate_by_season(
    run: xr.Dataset, layer: str, warm: Collection[int] | None = None, bound_water: float | None = None
) -> xr.DataArray:
    """Most free water and ice that a layer held in each half year.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    warm : collection of int, optional
        Warm months (1 to 12); without, the six in a row that are warmest outdoors.
    bound_water : float, optional
        As for `condensate`. [kg m-3]

    Returns
    -------
    xarray.DataArray, dims (season, slice)
        Largest amount, with the number of hours of the season that the run covers as a coordinate. [kg m-2]

    Raises
    ------
    InputError
        As `condensate`, and where the warm months cannot be found.

    References
    ----------
    Definition.
    """
    free = condensate(run, layer, bound_water).to_numpy()
    return by_season(run, "condensate_peak", "season", free, warm, "max", layer=layer)


def drip_verdict(run: xr.Dataset, warm: Collection[int] | None = None) -> Verdict:
    """Whether condensate drips within the build-up.

    Fine up to 0.01 kg/m2 in a half year (a choice of this package), caution up to 0.2 kg/m2, fails above.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    warm : collection of int, optional
        Warm months (1 to 12); without, the six in a row that are warmest outdoors.

    Returns
    -------
    Verdict
        Its value is what dripped in the worst half year; its hour is that of the strongest drip.

    Raises
    ------
    InputError
        Where the run has no drip or the warm months cannot be found.

    References
    ----------
    ISO 13788:2012 for 0.2 kg/m2 (from memory).
    """
    total = drip_by_season(run, warm)
    worst, place = np.unravel_index(int(total.to_numpy().argmax()), total.shape)
    value, season = float(total.to_numpy()[worst, place]), str(total["season"].to_numpy()[worst])
    hourly = values(run, "drip")[:, place]
    if value > RUN_OFF:
        level, because = Level.FAILS, "It runs into places where this calculation does not follow it."
    elif value > TRACE:
        level, because = (
            Level.CAUTION,
            "It drips now and then; the water goes where this calculation does not follow it.",
        )
    else:
        level, because = Level.FINE, "Nothing drips to speak of."
    return Verdict(
        criterion="condensate that drips in half a year",
        level=level,
        value=value,
        unit="kg m-2",
        limit=RUN_OFF,
        when=pd.Timestamp(run["time"].to_numpy()[int(hourly.argmax())]) if value > 0.0 else None,
        where=place_in_words("the build-up", "inside", int(place), total.sizes["slice"]).replace("'", ""),
        because=because if level is Level.FINE else f"{because} The worst half year is {season}.",
        source=DRIP_SOURCE,
        caution="" if level is Level.FINE else STRUCTURE,
    )


def frost_verdict(run: xr.Dataset, layer: str, warm: Collection[int] | None = None) -> Verdict:
    """Whether a layer gathers so much ice that it would drip when it melts.

    Fine up to 0.2 kg/m2, caution above; ice by itself does no harm that a source puts a number on.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    warm : collection of int, optional
        Warm months (1 to 12); without, the six in a row that are warmest outdoors.

    Returns
    -------
    Verdict
        Its value is the most ice in any hour, which is in the `because` of the worst winter.

    Raises
    ------
    InputError
        Where the layer is unknown or the warm months cannot be found.

    References
    ----------
    None; a choice of this package.
    """
    ice = frost(run, layer)
    value, when, place = peak(ice)
    winters = frost_by_winter(run, layer, warm).isel(slice=place)
    told = ", ".join(
        f"{name} {amount:.2g}"
        for name, amount in zip(winters["winter"].to_numpy(), winters.to_numpy(), strict=True)
        if amount > TRACE
    )
    much = value > RUN_OFF
    because = "No frost to speak of." if not told else f"Most ice by winter in kg/m²: {told}."
    return Verdict(
        criterion="ice",
        level=Level.CAUTION if much else Level.FINE,
        value=value,
        unit="kg m-2",
        limit=RUN_OFF,
        when=when if value > 0.0 else None,
        where=place_in_words(layer, "inside", place, ice.sizes["slice"]),
        because=f"{because} It would run off when it melts." if much else because,
        source=FROST_SOURCE,
        caution=STRUCTURE if much else "",
    )
