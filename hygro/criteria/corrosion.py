"""Whether fasteners in a layer would rust: an indicator, not a rate.

May import: errors, variables.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr

from hygro.criteria.select import Face, wrap
from hygro.criteria.thirty_day import relative_humidity_30_day
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, peak, place_in_words
from hygro.criteria.wood import CORROSION_ONSET, moisture_content

HUMIDITY_LIMIT: Final = 0.80  # [1] ASHRAE 160-2009, 30-day mean
SOURCE: Final = (
    "ASHRAE 160-2009, 30-day mean relative humidity below 80 %; untreated wood above 18 % moisture content after "
    "Zelinka (from memory)"
)


def corrosive(run: xr.Dataset, layer: str, face: Face = "outer", *, wood: bool = True) -> xr.DataArray:
    """Hours in which fasteners at a face of a layer would rust.

    Parameters
    ----------
    run : xarray.Dataset
        A run of at least 30 days.
    layer : str
        Label of the layer.
    face : {"outer", "inner"}, optional
        Face of the layer.
    wood : bool, optional
        Whether the layer is wood, so that a moisture content above 18 % counts too.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        1 where the 30-day mean humidity is at least 80 % or the wood holds more than 18 %, else 0. [1]

    Raises
    ------
    InputError
        Where layer or face are unknown, or the run is too short.

    References
    ----------
    ASHRAE 160-2009; moisture content after Zelinka (from memory).
    """
    rusts = relative_humidity_30_day(run, layer, face).to_numpy() >= HUMIDITY_LIMIT
    if wood:
        rusts |= moisture_content(run, layer, face).to_numpy() > CORROSION_ONSET.value
    return wrap(run, "corrosive", rusts.astype(float), layer=layer, face=face)


def corrosion_verdict(run: xr.Dataset, layer: str, face: Face = "outer", *, wood: bool = True) -> Verdict:
    """Whether fasteners at a face of a layer need protection.

    Fine or caution; no source gives a time after which plain steel fails, so any hour is a caution and none fails a
    layer.

    Parameters
    ----------
    run, layer, face, wood
        As for `corrosive`.

    Returns
    -------
    Verdict
        Its value is the share of hours; its hour is the most humid.

    Raises
    ------
    InputError
        As `corrosive`.

    References
    ----------
    ASHRAE 160-2009; moisture content after Zelinka (from memory).
    """
    rusts = corrosive(run, layer, face, wood=wood).to_numpy()
    place = int(np.argmax(rusts.mean(axis=0)))
    share = float(rusts[:, place].mean())
    humidity = relative_humidity_30_day(run, layer, face).isel(slice=[place])
    value, when, _ = peak(humidity)
    wet = share > 0.0
    return Verdict(
        criterion="share of hours in which fasteners rust",
        level=Level.CAUTION if wet else Level.FINE,
        value=100.0 * share,
        unit="%",
        limit=0.0,
        when=when if wet else None,
        where=place_in_words(layer, f"{face} face", place, rusts.shape[1]),
        because=(
            f"The 30-day mean humidity reaches {100.0 * value:.0f} %; "
            + ("use fasteners made for wet places." if wet else "plain steel stays dry enough.")
        ),
        source=SOURCE,
        caution=STRUCTURE if wet else "",
    )
