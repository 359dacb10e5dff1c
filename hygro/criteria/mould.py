r"""Mould index of a surface, the growth model of Hukka and Viitanen with the later classes of sensitivity.

With :math:`T` in degC, :math:`RH` in percent and :math:`M` the index,

.. math::

    \frac{dM}{dt} &= \frac{k_1 k_2}{7\,t_m} \text{ per day, where } RH \ge RH_{crit},\ 0 < T < 50 \\
    RH_{crit} &= \max(-0.00267 T^3 + 0.160 T^2 - 3.13 T + 100,\ RH_{min}) \text{ up to 20 degC, else } RH_{min} \\
    t_m &= \exp(-0.68 \ln T - 13.9 \ln RH + 0.14 W - 0.33 SQ + 66.02) \text{ weeks} \\
    t_v &= \exp(-0.74 \ln T - 12.72 \ln RH + 0.06 W + 61.50) \text{ weeks} \\
    k_2 &= \max(1 - \exp(2.3 (M - M_{max})),\ 0),\quad M_{max} = A + B r - C r^2,\quad
    r = \frac{RH_{crit} - RH}{RH_{crit} - 100}

W is 0 for pine and 1 for spruce, SQ 0 for a resawn and 1 for a kiln-dried surface. In every other hour the index
falls: by 0.00133 an hour in the first 6 hours, not at all up to the 24th, then by 0.000667 an hour, each times the
decline coefficient of the surface. Hours of frost count as such hours (from memory of the standard's wording).

A trait of the published model to know: a short favourable spell restarts the count of dry hours, so two dry spells
of 6 hours cost the index more than one of 12.

References: Hukka and Viitanen 1999, Wood Science and Technology 33:475-485; Viitanen and Ojanen 2007; Ojanen et al.
2010 (classes). A, B, C and the growth equations agree with a public reimplementation; class growth rates, lowest
humidities, decline coefficients and the limit of 3.0 are quoted from memory.

May import: errors, variables.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.criteria.select import Array, Face, coordinate, face_cell, layer_number, values, wrap
from hygro.criteria.spells import spells
from hygro.criteria.verdict import HEALTH, Level, Verdict, highest, place_in_words
from hygro.errors import InputError

LIMIT: Final = 3.0  # [1] ASHRAE 160-2016 (threshold from memory): growth that the eye can see
NOTICEABLE: Final = 1.0  # [1] first growth that a microscope shows, definition of the index
SOURCE: Final = "ASHRAE 160-2016, mould index at most 3.0 (from memory); Hukka and Viitanen 1999; Ojanen et al. 2010"

_HOURS_PER_WEEK: Final = 168.0
_WARM: Final = 25.0  # [degC] within the range in which the critical humidity is at its lowest
_FAST_DECLINE: Final = 0.00133  # [h-1] first 6 hours, Hukka and Viitanen 1999
_SLOW_DECLINE: Final = 0.000667  # [h-1] after 24 hours, Hukka and Viitanen 1999


@dataclass(frozen=True, slots=True)
class MouldSensitivity:
    """How readily mould grows on a surface.

    Parameters
    ----------
    name : str
        Name of the class.
    early_rate : float
        Growth rate below an index of 1, relative to that of pine sapwood. [1]
    late_rate : float or None
        The same at and above 1; None takes 2 / (t_v / t_m - 1), the original model for wood. [1]
    ceiling : tuple of 3 floats
        A, B and C of the highest index. [1]
    lowest_relative_humidity : float
        Relative humidity below which nothing grows at any temperature. [1]
    spruce : bool
        Whether W is 1 (spruce) instead of 0 (pine).
    kiln_dried : bool, optional
        Whether SQ is 1 (kiln-dried surface) instead of 0 (resawn).
    decline : float, optional
        Decline relative to pine in the original experiments: 1 strong, 0.5 significant, 0.25 relatively low, 0.1
        almost none (from memory). The default of 0.1 is the cautious one. [1]
    """

    name: str
    early_rate: float
    late_rate: float | None
    ceiling: tuple[float, float, float]
    lowest_relative_humidity: float
    spruce: bool
    kiln_dried: bool = False
    decline: float = 0.1

    def __post_init__(self) -> None:
        if not 0.0 <= self.decline <= 1.0:
            msg = f"Mould sensitivity '{self.name}': decline is {self.decline:g}; write 0 (none) to 1 (pine)."
            raise InputError(msg)
        if not 0.5 <= self.lowest_relative_humidity < 1.0:
            msg = (
                f"Mould sensitivity '{self.name}': lowest relative humidity is {self.lowest_relative_humidity:g}; "
                'write a fraction from 0.5 to below 1, for instance 0.8 for "80 %".'
            )
            raise InputError(msg)
        for what, rate in (("early", self.early_rate), ("late", self.late_rate)):
            if rate is not None and not 0.0 < rate < 100.0:
                msg = f"Mould sensitivity '{self.name}': {what} growth rate is {rate:g}; it must be above 0."
                raise InputError(msg)


PINE_SAPWOOD: Final = MouldSensitivity("pine sapwood", 1.0, None, (1.0, 7.0, 2.0), 0.80, spruce=False, decline=1.0)
VERY_SENSITIVE: Final = MouldSensitivity("very sensitive", 1.0, 2.0, (1.0, 7.0, 2.0), 0.80, spruce=False)
SENSITIVE: Final = MouldSensitivity("sensitive", 0.578, 0.386, (0.3, 6.0, 1.0), 0.80, spruce=True)
MEDIUM_RESISTANT: Final = MouldSensitivity("medium resistant", 0.072, 0.097, (0.0, 5.0, 1.5), 0.85, spruce=True)
RESISTANT: Final = MouldSensitivity("resistant", 0.033, 0.014, (0.0, 3.0, 1.0), 0.85, spruce=True)

CLASSES: Final[Mapping[str, MouldSensitivity]] = MappingProxyType(
    {one.name: one for one in (VERY_SENSITIVE, SENSITIVE, MEDIUM_RESISTANT, RESISTANT, PINE_SAPWOOD)}
)


def critical_relative_humidity(temperature: npt.ArrayLike, sensitivity: MouldSensitivity = VERY_SENSITIVE) -> Array:
    """Relative humidity at which mould begins to grow.

    Parameters
    ----------
    temperature : array_like, any shape
        Surface temperature. [degC]
    sensitivity : MouldSensitivity, optional
        Class of the surface; it sets the lowest value.

    Returns
    -------
    array, same shape
        Critical relative humidity. [1]

    References
    ----------
    Hukka and Viitanen 1999, Wood Science and Technology 33:475-485.
    """
    T = np.asarray(temperature, dtype=float)
    lowest = 100.0 * sensitivity.lowest_relative_humidity
    curve = -0.00267 * T**3 + 0.160 * T**2 - 3.13 * T + 100.0
    return np.where(T <= 20.0, np.maximum(curve, lowest), lowest) / 100.0


def mould_index_series(
    temperature: npt.ArrayLike,
    relative_humidity: npt.ArrayLike,
    sensitivity: MouldSensitivity,
    *,
    start: float = 0.0,
) -> Array:
    """Mould index at the end of each hour of an hourly surface climate.

    Parameters
    ----------
    temperature : array_like, shape (n_hour,) or (n_hour, n_slice)
        Surface temperature. [degC]
    relative_humidity : array_like, same shape
        Surface relative humidity over liquid water. [1]
    sensitivity : MouldSensitivity
        Class of the surface.
    start : float, optional
        Index before the first hour. [1]

    Returns
    -------
    array, same shape
        Mould index, 0 to 6. [1]

    Raises
    ------
    InputError
        Where the shapes differ, a value is not finite, the humidity is no fraction or `start` is not from 0 to 6.

    References
    ----------
    Hukka and Viitanen 1999, Wood Science and Technology 33:475-485; Ojanen et al. 2010.
    """
    T, rh = np.asarray(temperature, dtype=float), np.asarray(relative_humidity, dtype=float)
    if T.shape != rh.shape or T.ndim not in (1, 2) or not T.size:
        msg = (
            f"Mould index: temperature has shape {T.shape} and relative humidity {rh.shape}; both must be "
            "(hours,) or (hours, slices)."
        )
        raise InputError(msg)
    if not (np.isfinite(T).all() and np.isfinite(rh).all()):
        msg = "Mould index: a temperature or relative humidity is not a number; every hour is needed. Fill the gaps."
        raise InputError(msg)
    if rh.min() < 0.0 or rh.max() > 1.5:
        msg = (
            f"Mould index: relative humidity runs from {rh.min():g} to {rh.max():g}; it must be a fraction "
            "(0.8, not 80)."
        )
        raise InputError(msg)
    if not 0.0 <= start <= 6.0:
        msg = f"Mould index: the starting index is {start:g}; it lies between 0 (none) and 6 (covered)."
        raise InputError(msg)
    early, late, ceiling = _growth(T.reshape(len(T), -1), np.minimum(rh, 1.0).reshape(len(T), -1), sensitivity)
    index = np.empty_like(early)
    for s in range(early.shape[1]):
        index[:, s] = _march(early[:, s], late[:, s], ceiling[:, s], sensitivity.decline, start)
    return index.reshape(T.shape)


def _growth(T: Array, rh: Array, sensitivity: MouldSensitivity) -> tuple[Array, Array, Array]:
    """Growth per hour below and above an index of 1, and the highest index; 0 where nothing grows."""
    percent = 100.0 * rh
    # The curve of the critical humidity is dear: it is asked only where it is above its lowest value, as when warm.
    lowest = 100.0 * critical_relative_humidity(_WARM, sensitivity)
    grows = (percent >= lowest) & (T > 0.0) & (T < 50.0)
    critical = 100.0 * critical_relative_humidity(T[grows], sensitivity)
    damp = percent[grows] >= critical
    grows[grows] = damp
    early, late, ceiling = np.zeros_like(T), np.zeros_like(T), np.zeros_like(T)
    critical, T, percent = critical[damp], T[grows], percent[grows]
    log_T, log_rh = np.log(T), np.log(percent)
    W, SQ = float(sensitivity.spruce), float(sensitivity.kiln_dried)
    t_m = np.exp(-0.68 * log_T - 13.9 * log_rh + 0.14 * W - 0.33 * SQ + 66.02)
    pace = 1.0 / (_HOURS_PER_WEEK * t_m)
    if sensitivity.late_rate is None:
        t_v = np.exp(-0.74 * log_T - 12.72 * log_rh + 0.06 * W + 61.50)
        late[grows] = pace * 2.0 / (t_v / t_m - 1.0)
    else:
        late[grows] = pace * sensitivity.late_rate
    A, B, C = sensitivity.ceiling
    r = (critical - percent) / np.minimum(critical - 100.0, -1e-9)
    early[grows], ceiling[grows] = pace * sensitivity.early_rate, A + B * r - C * r**2
    return early, late, ceiling


def _march(early: Array, late: Array, ceiling: Array, decline: float, start: float) -> Array:
    falls = np.full(len(early), _SLOW_DECLINE * decline)  # in each hour of a spell without growth
    falls[:24] = 0.0
    falls[:6] = _FAST_DECLINE * decline
    index, result, growing = start, np.zeros(len(early)), early > 0.0
    # Plain floats: three times faster than numpy scalars, and what grows depends on what has grown.
    steps = zip(*(one[growing].tolist() for one in (early, late, ceiling)), strict=True)
    for first, last, grows in spells(growing):
        if grows:
            grown = []
            for below, above, highest in islice(steps, last - first):
                if index < highest:
                    index += (below if index < 1.0 else above) * (1.0 - math.exp(2.3 * (index - highest)))
                grown.append(index)
            result[first:last] = grown
        elif index > 0.0:
            left = np.subtract.accumulate(np.concatenate([[index], falls[: last - first]]))
            result[first:last] = np.maximum(left[1:], 0.0)
            index = float(result[last - 1])
    return result


def sensitivity_of(run: xr.Dataset, layer: str) -> MouldSensitivity:
    """Class of sensitivity that a run states for a layer in its coordinate ``layer_mould_sensitivity``.

    Raises
    ------
    InputError
        Where the run states none or one that is unknown.
    """
    number = layer_number(run, layer)
    stated = ""
    if "layer_mould_sensitivity" in run.coords:
        stated = str(coordinate(run, "layer_mould_sensitivity")[number])
    known = ", ".join(f"'{name}'" for name in CLASSES)
    if not stated:
        msg = f"Layer '{layer}' has no mould sensitivity in this run. Pass sensitivity=..., one of {known}."
        raise InputError(msg)
    return _class_named(stated, f"Layer '{layer}'", known)


def _class_named(name: str, where: str, known: str) -> MouldSensitivity:
    if name not in CLASSES:
        near = get_close_matches(name, CLASSES, n=1, cutoff=0.4)
        hint = f"Nearest: '{near[0]}'. " if near else ""
        msg = f"{where}: no mould sensitivity '{name}'. {hint}Known: {known}."
        raise InputError(msg)
    return CLASSES[name]


def mould_index(
    run: xr.Dataset, layer: str, face: Face = "outer", sensitivity: MouldSensitivity | str | None = None
) -> xr.DataArray:
    """Mould index at a face of a layer.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    face : {"outer", "inner"}, optional
        Face of the layer.
    sensitivity : MouldSensitivity or str, optional
        Class of the surface; without it the class that the run states for the layer.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Mould index, 0 to 6. [1]

    Raises
    ------
    InputError
        Where layer, face or class are unknown or the run lacks what is needed.

    References
    ----------
    Hukka and Viitanen 1999, Wood Science and Technology 33:475-485; Ojanen et al. 2010.
    """
    index, surface = index_at(run, layer, face, sensitivity)
    return wrap(run, "mould_index", index, layer=layer, face=face, sensitivity=surface.name, decline=surface.decline)


def index_at(
    run: xr.Dataset, layer: str, face: Face = "outer", sensitivity: MouldSensitivity | str | None = None
) -> tuple[Array, MouldSensitivity]:
    """Numbers of `mould_index` alone, shape (n_hour, n_slice) [1], and the class: for who judges run after run."""
    cell = face_cell(run, layer, face)
    if sensitivity is None:
        sensitivity = sensitivity_of(run, layer)
    elif isinstance(sensitivity, str):
        sensitivity = _class_named(sensitivity, "sensitivity", ", ".join(f"'{name}'" for name in CLASSES))
    index = mould_index_series(values(run, "temperature", cell), values(run, "relative_humidity", cell), sensitivity)
    return index, sensitivity


def mould_verdict(
    run: xr.Dataset, layer: str, face: Face = "outer", sensitivity: MouldSensitivity | str | None = None
) -> Verdict:
    """Whether mould stays below the limit at a face of a layer.

    Fine below an index of 1, caution up to 3.0, fails above.

    Parameters
    ----------
    run, layer, face, sensitivity
        As for `mould_index`.

    Returns
    -------
    Verdict
        With the hour of the highest index.

    Raises
    ------
    InputError
        As `mould_index`.

    References
    ----------
    ASHRAE 160-2016 (limit from memory).
    """
    index, surface = index_at(run, layer, face, sensitivity)
    return verdict_on_index(run, layer, face, index, surface)


def verdict_on_index(run: xr.Dataset, layer: str, face: Face, index: Array, sensitivity: MouldSensitivity) -> Verdict:
    """The same of an index that `index_at` has found."""
    value, when, place = highest("mould_index", index, coordinate(run, "time"))
    if value > LIMIT:
        level, because = Level.FAILS, "Mould would be seen by eye."
    elif value >= NOTICEABLE:
        level, because = Level.CAUTION, "Mould would be found under a microscope but not yet seen by eye."
    else:
        level, because = Level.FINE, "Mould would not start, or only in traces."
    return Verdict(
        criterion="mould index",
        level=level,
        value=value,
        unit="1",
        limit=LIMIT,
        when=when if value > 0.0 else None,
        where=place_in_words(layer, f"{face} face", place, index.shape[1]),
        because=f"{because} Surface taken as '{sensitivity.name}'.",
        source=SOURCE,
        caution="" if level is Level.FINE else HEALTH,
    )
