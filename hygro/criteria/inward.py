"""Summer condensation: damp driven inwards by the sun that meets a vapour retarder from outside.

May import: errors, variables.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
import xarray as xr

from hygro.criteria.seasons import is_warm
from hygro.criteria.select import face_cell, values, wrap
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, peak, place_in_words
from hygro.errors import InputError

LIMIT: Final = 0.95  # [1] a choice of this package: as good as condensing
SOURCE: Final = "humidity above 95 % counted as condensing, a choice of this package"


def retarder_relative_humidity(run: xr.Dataset, facing: str) -> xr.DataArray:
    """Relative humidity just outside a vapour retarder.

    A run does not list sheets, so the layer that lies against the outside of the retarder is stated.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    facing : str
        Label of the layer against the outside of the retarder; its inner face is looked at.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Relative humidity over liquid water. [1]

    Raises
    ------
    InputError
        Where the label is unknown or the layer has no cells.

    References
    ----------
    Definition.
    """
    humidity = values(run, "relative_humidity", face_cell(run, facing, "inner"))
    return wrap(run, "retarder_relative_humidity", humidity, layer=facing, face="inner")


def inward_verdict(run: xr.Dataset, facing: str, warm: Collection[int] | None = None) -> Verdict:
    """Whether damp condenses on the outside of a vapour retarder in the warm half of the year.

    Fine or caution; no source gives a time after which it does harm. Look at the moisture content of the layers
    around it for that.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    facing : str
        Label of the layer against the outside of the retarder.
    warm : collection of int, optional
        Warm months (1 to 12); without, the six in a row that are warmest outdoors.

    Returns
    -------
    Verdict
        Its value is the highest humidity of the warm half years.

    Raises
    ------
    InputError
        As `retarder_relative_humidity`, and where the warm months cannot be found.

    References
    ----------
    None; a choice of this package.
    """
    humidity = retarder_relative_humidity(run, facing)
    summer = humidity.isel(time=np.flatnonzero(is_warm(run, warm)))
    if not summer.sizes["time"]:
        msg = f"The run has no hour in the warm months {sorted(warm or ())}. State other months or run a whole year."
        raise InputError(msg)
    value, when, place = peak(summer)
    hours = int((summer.transpose("time", "slice").to_numpy()[:, place] > LIMIT).sum())
    wet = value > LIMIT
    return Verdict(
        criterion="summer relative humidity outside the vapour retarder",
        level=Level.CAUTION if wet else Level.FINE,
        value=100.0 * value,
        unit="%",
        limit=100.0 * LIMIT,
        when=when,
        where=place_in_words(facing, "inner face", place, humidity.sizes["slice"]),
        because=(
            f"Damp driven inwards condenses there in {hours} hours of the warm half year; a retarder that opens "
            "when humid would let it through."
            if wet
            else "Damp driven inwards does not condense there."
        ),
        source=SOURCE,
        caution=STRUCTURE if wet else "",
    )
