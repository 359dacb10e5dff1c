"""Random series with a memory, from which invented weather is made. May import: humidity (types only)."""

from __future__ import annotations

import math

import numpy as np

from hygro.climate.humidity import FloatArray


def memory(hours: float) -> float:
    """Hour-to-hour correlation of a series that forgets with a time constant in hours."""
    return math.exp(-1.0 / hours)


def autoregressive(rng: np.random.Generator, n: int, correlation: float, deviation: float = 1.0) -> FloatArray:
    r"""Stationary first-order autoregressive series.

    .. math:: e_k = \rho e_{k-1} + \sigma \sqrt{1 - \rho^2} z_k

    Parameters
    ----------
    rng : Generator
        Source of the standard normal numbers z.
    n : int
        Length. [h]
    correlation : float
        Hour-to-hour correlation rho. [1]
    deviation : float
        Standard deviation sigma. [any]

    Returns
    -------
    ndarray, shape (n,)
        Series with mean 0. [as deviation]

    References
    ----------
    Standard definition; Box and Jenkins, Time Series Analysis, chapter 3.
    """
    shocks = rng.standard_normal(n) * math.sqrt(1.0 - correlation**2)
    value = float(shocks[0]) / math.sqrt(1.0 - correlation**2)
    series = np.empty(n)
    for k, shock in enumerate(shocks.tolist()):
        value = value if k == 0 else correlation * value + shock
        series[k] = value
    return deviation * series


def smooth_autoregressive(rng: np.random.Generator, n: int, slow: float, fast: float) -> FloatArray:
    """Autoregressive series filtered once more, so that it has a slope: pressure, air masses.

    Parameters
    ----------
    rng : Generator
        Source of the standard normal numbers.
    n : int
        Length. [h]
    slow, fast : float
        Time constants of the memory and of the smoothing. [h]

    Returns
    -------
    ndarray, shape (n,)
        Series with mean 0 and standard deviation 1. [1]

    References
    ----------
    Two first-order filters in a row are an AR(2) process; its variance from Box and Jenkins, chapter 3.
    """
    first, second = memory(slow), memory(fast)
    phi_1, phi_2 = first + second, -first * second
    variance = (1.0 - phi_2) / ((1.0 + phi_2) * ((1.0 - phi_2) ** 2 - phi_1**2))
    warm_up = int(5 * (slow + fast))
    shocks = rng.standard_normal(n + warm_up) / math.sqrt(variance)
    before, value = 0.0, 0.0
    series = np.empty(n + warm_up)
    for k, shock in enumerate(shocks.tolist()):
        before, value = value, phi_1 * value + phi_2 * before + shock
        series[k] = value
    return series[warm_up:]


def response(drive: FloatArray, hours: float) -> FloatArray:
    """First-order response to a drive, with a time constant in hours, started at its mean."""
    keep = memory(hours)
    value = float(drive.mean())
    series = np.empty(len(drive))
    for k, driven in enumerate(drive.tolist()):
        value = keep * value + (1.0 - keep) * driven
        series[k] = value
    return series


def running_mean(series: FloatArray, hours: int) -> FloatArray:
    """Centred running mean; the ends are continued with their last value."""
    half = hours // 2
    padded = np.concatenate((np.full(half, series[0]), series, np.full(hours - half, series[-1])))
    total = np.cumsum(np.concatenate(([0.0], padded)))
    result: FloatArray = (total[hours:] - total[:-hours])[: len(series)] / hours
    return result
