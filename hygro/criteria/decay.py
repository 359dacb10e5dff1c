r"""Onset and progress of brown rot in pine sapwood, an indicator after Viitanen et al. 2010.

An activation :math:`\alpha` between 0 and 1 rises by :math:`\Delta t / t_{crit}` in hours above 0 degC and 95 %
relative humidity and falls by :math:`\Delta t / 17520` h otherwise; wood loses mass in such hours once
:math:`\alpha = 1`,

.. math::

    t_{crit} &= 720 \frac{2.3 T + 0.035 RH - 0.024 T RH}{-42.9 + 0.14 T + 0.45 RH} \text{ h} \\
    \frac{dML}{dt} &= -5.96 \cdot 10^{-2} + 1.96 \cdot 10^{-4} T + 6.25 \cdot 10^{-4} RH \text{ percent per hour}

with T in degC and RH in percent. Equations from memory. Above 30 degC, the end of the experiments (from memory),
the value at 30 degC is used; where :math:`t_{crit}` is not positive (just above 0 degC near 95 %) nothing starts.

May import: errors, variables.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from hygro.criteria.select import Array, Face, coordinate, face_cell, values, wrap
from hygro.criteria.spells import spells
from hygro.criteria.verdict import STRUCTURE, Level, Verdict, highest, place_in_words
from hygro.errors import InputError

SOURCE: Final = "Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (equations from memory)"
RECOVERY: Final = 17520.0  # [h] time in which a full activation fades
_WARMEST: Final = 30.0  # [degC] end of the experiments


def critical_time(temperature: npt.ArrayLike, relative_humidity: npt.ArrayLike) -> Array:
    """Time of steady conditions after which decay begins.

    Parameters
    ----------
    temperature : array_like, any shape
        Temperature of the wood. [degC]
    relative_humidity : array_like, same shape
        Relative humidity over liquid water. [1]

    Returns
    -------
    array, same shape
        Time to the onset, infinite where decay does not start. [h]

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    T = np.minimum(np.asarray(temperature, dtype=float), _WARMEST)
    RH = 100.0 * np.minimum(np.asarray(relative_humidity, dtype=float), 1.0)
    above = 2.3 * T + 0.035 * RH - 0.024 * T * RH
    below = -42.9 + 0.14 * T + 0.45 * RH
    starts = (T > 0.0) & (RH >= 95.0) & (above > 0.0) & (below > 0.0)
    return np.where(starts, 720.0 * above / np.where(starts, below, 1.0), np.inf)


def mass_loss_rate(temperature: npt.ArrayLike, relative_humidity: npt.ArrayLike) -> Array:
    """Mass that wood loses in an hour once decay is active.

    Parameters
    ----------
    temperature : array_like, any shape
        Temperature of the wood. [degC]
    relative_humidity : array_like, same shape
        Relative humidity over liquid water. [1]

    Returns
    -------
    array, same shape
        Rate in percent of the dry mass, never negative. [% h-1]

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    T = np.minimum(np.asarray(temperature, dtype=float), _WARMEST)
    RH = 100.0 * np.minimum(np.asarray(relative_humidity, dtype=float), 1.0)
    return np.where((T > 0.0) & (RH >= 95.0), np.maximum(-5.96e-2 + 1.96e-4 * T + 6.25e-4 * RH, 0.0), 0.0)


def decay_series(temperature: npt.ArrayLike, relative_humidity: npt.ArrayLike) -> tuple[Array, Array]:
    """Activation and mass loss at the end of each hour.

    Parameters
    ----------
    temperature : array_like, shape (n_hour, n_slice)
        Temperature of the wood. [degC]
    relative_humidity : array_like, same shape
        Relative humidity over liquid water. [1]

    Returns
    -------
    activation : array, same shape
        Activation, 0 to 1. [1]
    mass_loss : array, same shape
        Mass lost so far. [%]

    Raises
    ------
    InputError
        Where the shapes differ or are not two-dimensional.

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    T, rh = np.asarray(temperature, dtype=float), np.asarray(relative_humidity, dtype=float)
    if T.shape != rh.shape or T.ndim != 2:
        msg = f"Decay: temperature has shape {T.shape} and relative humidity {rh.shape}; both must be (hours, slices)."
        raise InputError(msg)
    time = critical_time(T, rh)
    rising = np.isfinite(time)
    loss = mass_loss_rate(T, rh)
    activation, lost = np.zeros_like(T), np.zeros_like(T)
    for s in np.flatnonzero(rising.any(axis=0)):
        active, total = 0.0, 0.0
        for first, last, rises in spells(rising[:, s]):
            hours = slice(first, last)
            if rises:
                steps = zip((1.0 / time[hours, s]).tolist(), loss[hours, s].tolist(), strict=True)
                for k, (step, rate) in enumerate(steps, start=first):
                    active = min(active + step, 1.0)
                    if active >= 1.0:
                        total = min(total + rate, 100.0)
                    activation[k, s], lost[k, s] = active, total
                continue
            lost[hours, s] = total  # none is lost where the activation falls: it is then below 1
            if active > 0.0:
                fading = np.full(last - first + 1, -1.0 / RECOVERY)
                fading[0] = active
                activation[hours, s] = np.maximum(np.add.accumulate(fading)[1:], 0.0)
                active = float(activation[last - 1, s])
    return activation, lost


def decay_activation(run: xr.Dataset, layer: str, face: Face = "outer") -> xr.DataArray:
    """How near a face of a wooden layer is to decay.

    Parameters
    ----------
    run : xarray.Dataset
        A run.
    layer : str
        Label of the layer.
    face : {"outer", "inner"}, optional
        Face of the layer.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Activation, 1 from where wood loses mass. [1]

    Raises
    ------
    InputError
        Where layer or face are unknown.

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    return wrap(run, "decay_activation", _at_face(run, layer, face)[0], layer=layer, face=face)


def decay_mass_loss(run: xr.Dataset, layer: str, face: Face = "outer") -> xr.DataArray:
    """Mass that a face of a wooden layer has lost to decay.

    Parameters
    ----------
    run, layer, face
        As for `decay_activation`.

    Returns
    -------
    xarray.DataArray, dims (time, slice)
        Mass lost so far. [%]

    Raises
    ------
    InputError
        Where layer or face are unknown.

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    return wrap(run, "decay_mass_loss", _at_face(run, layer, face)[1], layer=layer, face=face)


def _at_face(run: xr.Dataset, layer: str, face: Face) -> tuple[Array, Array]:
    cell = face_cell(run, layer, face)
    return decay_series(values(run, "temperature", cell), values(run, "relative_humidity", cell))


def decay_verdict(run: xr.Dataset, layer: str, face: Face = "outer") -> Verdict:
    """Whether decay would start at a face of a wooden layer.

    Fine below half the activation, caution up to 1, fails where wood loses mass. The half is a choice of this
    package; no source states one.

    Parameters
    ----------
    run, layer, face
        As for `decay_activation`.

    Returns
    -------
    Verdict
        With the hour of the highest activation.

    Raises
    ------
    InputError
        As `decay_activation`.

    References
    ----------
    Viitanen et al. 2010, Eur. J. Wood Prod. 68:303-313 (from memory).
    """
    activation, loss = _at_face(run, layer, face)
    value, when, place = highest("decay_activation", activation, coordinate(run, "time"))
    lost = float(loss[-1].max())
    if lost > 0.0:
        level, because = Level.FAILS, f"Wood would have lost {lost:.2g} % of its mass to decay by the end of the run."
    elif value >= 0.5:
        level, because = Level.CAUTION, "Decay has not started, but wet and warm spells have brought it near."
    else:
        level, because = Level.FINE, "Wet and warm spells are too short for decay to start."
    return Verdict(
        criterion="decay activation",
        level=level,
        value=value,
        unit="1",
        limit=1.0,
        when=when if value > 0.0 else None,
        where=place_in_words(layer, f"{face} face", place, activation.shape[1]),
        because=because,
        source=SOURCE,
        caution="" if level is Level.FINE else STRUCTURE,
    )
