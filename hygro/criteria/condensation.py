"""Free water and ice in a layer: how much, when, and how much dripped or froze in each season.

May import: errors, sums, variables.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Final

import numpy as np
import xarray as xr

from hygro.criteria.seasons import seasons
from hygro.criteria.select import (
    Array,
    cell_thickness,
    coordinate,
    is_film,
    layer_cells,
    layer_property,
    require_run,
    values,
    wrap,
)
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, highest, place_in_words
from hygro.errors import InputError
from hygro.sums import over_cells
from hygro.variables import CRITERION

RUN_OFF: Final = 0.2  # [kg m-2] ISO 13788:2012, run-off from materials that do not absorb (from memory)
TRACE: Final = 0.01  # [kg m-2] a choice of this package: a film thinner than 0.01 mm counts as none
SOURCE: Final = "ISO 13788:2012, risk of run-off above 200 g/m2 from materials that do not absorb (from memory)"

_SECONDS: Final = 3600.0


def condensate(run: xr.Dataset, layer: str, bound_water: float | None = None) -> xr.DataArray:
    """Free water and ice in a layer past what its material binds.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    bound_water : float, optional
        What the material binds at a relative humidity of 1; without it the run's ``layer_bound_water``, where ``nan``
        stands for a material that binds none. A film that clings to the layer binds none either. [kg m-3]

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Water past the bound water, summed over the cells that hold more. [kg m-2]

    Raises
    ------
    InputError
        Where the layer is unknown, or neither the run nor the call states what it binds.

    References
    ----------
    Definition: the sum over cells of max(w - w_bound, 0) times thickness.
    """
    free, bound = _free_and_bound(run, layer, bound_water)
    return wrap(run, "condensate", free, layer=layer, bound_water=bound)


def free_water(run: xr.Dataset, layer: str, bound_water: float | None = None) -> Array:
    """Numbers of `condensate` alone, shape (n_hour, n_slice): for who judges run after run. [kg m-2]."""
    return _free_and_bound(run, layer, bound_water)[0]


def _free_and_bound(run: xr.Dataset, layer: str, bound_water: float | None) -> tuple[Array, float]:
    """Free water [kg m-2], and what the layer binds before there is any [kg m-3]."""
    cells = layer_cells(run, layer, films=True)
    bound = stated_bound_water(run, layer) if bound_water is None else float(bound_water)
    if bound is None or not 0.0 <= bound < math.inf:
        given = "not stated" if bound is None else f"{bound:g}"
        msg = (
            f"Layer '{layer}': what it binds at a relative humidity of 1 is {given}; "
            "condensate needs 0 or more kg m-3. Pass bound_water=..., for instance 0 for a metal sheet."
        )
        raise InputError(msg)
    held = np.where(is_film(run)[cells], 0.0, bound)
    free = values(run, "water_content", cells)  # a copy, since it picks
    free -= held
    return over_cells(np.maximum(free, 0.0, out=free), cell_thickness(run, cells)), bound


def stated_bound_water(run: xr.Dataset, layer: str) -> float | None:
    """Read what a layer binds at a relative humidity of 1 [kg m-3]; None where the run does not say."""
    if "layer_bound_water" not in run.coords:
        return None
    bound = layer_property(run, layer, "layer_bound_water")
    return 0.0 if math.isnan(bound) else bound


def frost(run: xr.Dataset, layer: str) -> xr.DataArray:
    """Ice in a layer.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Ice, by the run's own account. [kg m-2]

    Raises
    ------
    InputError
        Where the layer is unknown.

    References
    ----------
    Definition: the sum over cells of ice content times thickness.
    """
    cells = layer_cells(run, layer, films=True)
    ice = over_cells(values(run, "ice_content", cells), cell_thickness(run, cells))
    return wrap(run, "frost", ice, layer=layer)


def frost_by_winter(run: xr.Dataset, layer: str, warm: Collection[int] | None = None) -> xr.DataArray:
    """Most ice that a layer held in each winter.

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
    xarray.DataArray, dims (winter, slice)
        Largest amount, with the number of hours of the winter that the run covers as a coordinate. [kg m-2]

    Raises
    ------
    InputError
        Where the layer is unknown or the warm months cannot be found.

    References
    ----------
    Definition.
    """
    ice = frost(run, layer)
    return by_season(run, "frost_peak", "winter", ice.to_numpy(), warm, "max", layer=layer)


def drip_by_season(run: xr.Dataset, warm: Collection[int] | None = None) -> xr.DataArray:
    """Condensate that dripped in each half year.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    warm : collection of int, optional
        Warm months (1 to 12); without, the six in a row that are warmest outdoors.

    Returns
    -------
    xarray.DataArray, dims (season, slice)
        Total, with the number of hours of the season that the run covers as a coordinate. [kg m-2]

    Raises
    ------
    InputError
        Where the run has no drip or the warm months cannot be found.

    References
    ----------
    Definition: the sum of hourly means times 3600 s.
    """
    require_run(run)
    return by_season(run, "drip_total", "season", _SECONDS * values(run, "drip"), warm, "sum")


def by_season(
    run: xr.Dataset, name: str, dim: str, hourly: Array, warm: Collection[int] | None, how: str, **attrs: str
) -> xr.DataArray:
    """Largest value or sum of an hourly array, shape (n_hour, n_slice), in each season or winter."""
    label = seasons(run, warm)
    names = [one for one in dict.fromkeys(label.tolist()) if dim == "season" or one.startswith(dim)]
    parts = [hourly[label == one] for one in names]
    rows = [part.max(axis=0) if how == "max" else part.sum(axis=0) for part in parts]
    coords = {
        dim: names,
        "hours": (dim, [int((label == one).sum()) for one in names]),
        "slice": run["slice"].to_numpy(),
    }
    return xr.DataArray(
        np.array(rows), dims=(dim, "slice"), coords=coords, name=name, attrs=CRITERION[name].attrs() | attrs
    )


def condensate_verdict(run: xr.Dataset, layer: str, bound_water: float | None = None) -> Verdict:
    """Whether a layer holds free water or ice.

    Fine up to 0.01 kg/m2 (a choice of this package), caution up to 0.2 kg/m2, fails above.

    Parameters
    ----------
    run, layer, bound_water
        As for `condensate`.

    Returns
    -------
    Verdict
        With the hour of the largest amount.

    Raises
    ------
    InputError
        As `condensate`.

    References
    ----------
    ISO 13788:2012 for 0.2 kg/m2 (from memory).
    """
    return verdict_on_free_water(run, layer, free_water(run, layer, bound_water))


def verdict_on_free_water(run: xr.Dataset, layer: str, free: Array) -> Verdict:
    """The same of free water that `free_water` has found."""
    value, when, place = highest("condensate", free, coordinate(run, "time"))
    if value > RUN_OFF:
        level, because = Level.FAILS, "That is enough to run off and drip."
    elif value > TRACE:
        level, because = Level.CAUTION, "It is wet at times, but not enough to run off."
    else:
        level, because = Level.FINE, "No free water or ice to speak of."
    hours = int((free[:, place] > TRACE).sum())
    return Verdict(
        criterion="free water and ice",
        level=level,
        value=value,
        unit="kg m-2",
        limit=RUN_OFF,
        when=when if value > 0.0 else None,
        where=place_in_words(layer, "inside", place, free.shape[1]),
        because=because if level is Level.FINE else f"{because} Wet in {hours} of {len(free)} hours.",
        source=SOURCE,
        caution="" if level is Level.FINE else STRUCTURE,
    )
