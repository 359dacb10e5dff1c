"""Moisture content of a layer in percent of its dry mass, against the limits used for wood.

May import: errors, sums, variables.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.criteria.select import FACES, Array, Face, cell_thickness, coordinate, dry_mass, layer_cells, values, wrap
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, highest, place_in_words, spoken
from hygro.errors import InputError
from hygro.sums import over_cells

Part = Literal["mean", "outer", "inner"]
SKIN: Final = 0.003  # [m] depth of a face, see `moisture_content`; a choice of this package
SKIN_SHARE: Final = 1.0 / 3.0  # [1] of the layer, where that is less; a choice of this package


@dataclass(frozen=True, slots=True)
class MoistureLimit:
    """A limit on the moisture content of wood.

    Parameters
    ----------
    value : float
        Limit in percent of the dry mass. [%]
    name : str
        What the limit is for.
    source : str
        Where it comes from, and how sure that is.
    """

    value: float
    name: str
    source: str

    def __post_init__(self) -> None:
        if not 0.0 < self.value < 500.0:
            msg = f"Moisture limit '{self.name}' is {self.value:g} %; it must lie between 0 and 500 % of the dry mass."
            raise InputError(msg)


MOULD_FREE: Final = MoistureLimit(16.0, "no mould expected at room temperature", "rule of thumb (from memory)")
CORROSION_ONSET: Final = MoistureLimit(18.0, "fasteners begin to rust", "15 to 18 % after Zelinka (from memory)")
DRY_LUMBER: Final = MoistureLimit(19.0, "dry lumber in North America", "National Building Code of Canada (from memory)")
DECAY_SAFETY: Final = MoistureLimit(20.0, "design limit for safety from decay", "common design limit (from memory)")
DECAY_ONSET: Final = MoistureLimit(26.0, "decay begins to grow", "rule of thumb (from memory)")
FIBRE_SATURATION: Final = MoistureLimit(28.0, "fibre saturation, 28 to 30 %", "rule of thumb (from memory)")
LIMITS: Final = (MOULD_FREE, CORROSION_ONSET, DRY_LUMBER, DECAY_SAFETY, DECAY_ONSET, FIBRE_SATURATION)


def moisture_content(run: xr.Dataset, layer: str, part: Part = "mean") -> xr.DataArray:
    r"""Moisture content of a layer or of one of its faces, without condensate films that cling to it.

    .. math:: u = 100 \, w / \rho

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    part : {"mean", "outer", "inner"}, optional
        The mean over the thickness, or the mean over the 3 mm at a face (a third of the layer, if that is less).

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Water, ice included, per dry mass. [%]

    Raises
    ------
    InputError
        Where layer or part are unknown, or the run states no density.

    Notes
    -----
    The depth of a face is a choice of this package. Hoarfrost or a film of melt water lifts the outermost half
    millimetre far above fibre saturation while the wood behind it is dry; that skin is neither what decays nor what a
    fastener sits in, and the pins of a moisture meter reach several millimetres. Over 3 mm the water still counts in
    full, ice and free water included: nothing is left out, it is only set against the wood that takes it up. A finer
    grid does not change the depth. Mould grows on the skin itself, and `mould_index` reads the outermost cell.

    References
    ----------
    Definition of moisture content by oven-dry mass, as in ISO 13061-1.
    """
    (content,) = moisture_contents(run, layer, part)
    return wrap(run, "moisture_content", content, layer=layer, part=part)


def moisture_contents(run: xr.Dataset, layer: str, *parts: Part) -> tuple[Array, ...]:
    """Numbers of `moisture_content` alone, shape (n_hour, n_slice) for each part: for who judges run after run. [%]."""
    density = dry_mass(run, layer)
    for part in parts:
        if part not in ("mean", *FACES):
            msg = f'Layer \'{layer}\': there is no part {part!r}. Write "mean", "outer" or "inner".'
            raise InputError(msg)
    cells = layer_cells(run, layer)
    thickness = cell_thickness(run, cells)
    water = values(run, "water_content", cells)  # a copy, since it picks
    # From one cell outwards, so that rounding lifts no evenly moist layer over the limit that it just meets.
    first = water[..., 0].copy()
    water -= first[..., None]
    weights = [thickness if part == "mean" else _within_skin(thickness, part) for part in parts]
    return tuple(100.0 * (first + over_cells(water, weight) / weight.sum()) / density for weight in weights)


def _within_skin(thickness: Array, face: Face) -> Array:
    """How much of each cell lies within the skin at a face, shape (n,). [m]."""
    depth = min(SKIN, SKIN_SHARE * float(thickness.sum()))
    inwards = thickness if face == "outer" else thickness[::-1]
    ends = np.minimum(np.cumsum(inwards), depth)
    within = np.diff(ends, prepend=0.0)
    return within if face == "outer" else within[::-1]


def hours_above(
    run: xr.Dataset, layer: str, part: Part = "mean", limits: Iterable[MoistureLimit] = LIMITS
) -> xr.DataArray:
    """Hours in which the moisture content is above each limit.

    Parameters
    ----------
    run, layer, part
        As for `moisture_content`.
    limits : iterable of MoistureLimit, optional
        The limits to count against.

    Returns
    -------
    xarray.DataArray, dims (limit, slice)
        Number of hours, with the limits' values [%] and names as coordinates. [h]

    Raises
    ------
    InputError
        As `moisture_content`.

    References
    ----------
    Each limit names its own source.
    """
    content = moisture_content(run, layer, part)
    chosen = tuple(limits)
    hours = np.array([(content > one.value).sum("time").to_numpy() for one in chosen], dtype=float)
    return xr.DataArray(
        hours.reshape(len(chosen), content.sizes["slice"]),
        dims=("limit", "slice"),
        coords={"limit": [one.value for one in chosen], "limit_name": ("limit", [one.name for one in chosen])},
        name="hours_above",
        attrs={"units": "h", "long_name": "hours above the limit", "layer": layer, "part": part},
    )


def moisture_content_verdict(
    run: xr.Dataset, layer: str, part: Part = "mean", limit: MoistureLimit = DECAY_SAFETY
) -> Verdict:
    """Whether a wooden layer stays below a limit of moisture content.

    Fine up to the limit, caution above it, fails where decay can begin to grow (26 %, or the limit if that is
    higher). The step between caution and fails is a reading of the rules of thumb, not of a standard.

    Parameters
    ----------
    run, layer, part
        As for `moisture_content`.
    limit : MoistureLimit, optional
        The limit to hold the layer to.

    Returns
    -------
    Verdict
        With the hour of the highest moisture content.

    Raises
    ------
    InputError
        As `moisture_content`.

    References
    ----------
    The limit names its own source.
    """
    (content,) = moisture_contents(run, layer, part)
    return verdict_on_content(run, layer, part, content, limit)


def verdict_on_content(
    run: xr.Dataset, layer: str, part: Part, content: Array, limit: MoistureLimit = DECAY_SAFETY
) -> Verdict:
    """The same of a content that `moisture_contents` has found."""
    stamps = coordinate(run, "time")
    value, when, place = highest("moisture_content", content, stamps)
    above = content[:, place] > limit.value
    if value > max(limit.value, DECAY_ONSET.value):
        level = Level.FAILS
    else:
        level = Level.CAUTION if value > limit.value else Level.FINE
    where = place_in_words(layer, "mean" if part == "mean" else f"{part} face", place, content.shape[1])
    return Verdict(
        criterion="moisture content",
        level=level,
        value=value,
        unit="%",
        limit=limit.value,
        when=when,
        where=where,
        because=_because(above, stamps, limit),
        source=limit.source,
        caution="" if level is Level.FINE else STRUCTURE,
    )


def _because(above: npt.NDArray[np.bool_], stamps: Array, limit: MoistureLimit) -> str:
    """How long it is above the limit, and the day after which it no longer is: what somebody asks who built it wet."""
    held = f"{limit.value:g} % ({limit.name})"
    if not above.any():
        return f"It is never above {held}."
    last = (
        "at the end still"
        if above[-1]
        else f"for the last time on {spoken(pd.Timestamp(stamps[np.flatnonzero(above)[-1]]))}"
    )
    return f"It is above {held} in {int(above.sum())} of {len(above)} hours, {last}."
