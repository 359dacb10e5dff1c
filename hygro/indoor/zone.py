r"""Vapour and carbon dioxide of one well-mixed zone, hour by hour, each hour solved exactly.

.. math::

    a \frac{dp}{dt} &= G + q (p_e - p) + h (p_b - p) \quad (1) \\
    c \frac{dp_b}{dt} &= h (p - p_b) \quad (2) \\
    V \frac{dC}{dt} &= S + Q (C_e - C) \quad (3)

with :math:`a = V / (R_v T)`, :math:`q = Q_v / (R_v T)`, the vapour pressures p of the air and
:math:`p_b = \varphi_b p_{sat}` of the buffering surfaces, and :math:`c = C_b / p_{sat}`. Air is taken as let in
and out at room temperature, which keeps its partial pressures. Where the air would end above saturation, the hour is
cut into twelve and the surplus condensed at the end of each.

May import: constants, core formulas.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from hygro.constants import GAS_CONSTANT_VAPOUR, ZERO_CELSIUS
from hygro.core.formulas import saturation_pressure_water
from hygro.indoor.air import Array

HOUR: Final = 3600.0  # [s]
_PARTS: Final = 12


class ZoneForcing(NamedTuple):
    """What drives a zone, each of shape (n_hour,)."""

    temperature: Array  # [degC]
    outdoor_pressure: Array  # [Pa] vapour
    vapour: Array  # [kg s-1] given off indoors
    vapour_flow: Array  # [m3 s-1] outdoor air as far as it exchanges vapour
    air_flow: Array  # [m3 s-1] outdoor air
    carbon_dioxide: Array  # [m3 s-1] given off indoors


class Buffering(NamedTuple):
    """Buffering surfaces, lumped."""

    conductance: float  # [kg s-1 Pa-1]
    capacity: float  # [kg] from 0 to 100 % relative humidity


class Drying(NamedTuple):
    """A dehumidifier."""

    set_point: float  # [1]
    capacity: float  # [kg s-1]


class ZoneAir(NamedTuple):
    """What comes out, hourly means of shape (n_hour,) and the stores at start and end."""

    pressure: Array  # [Pa] vapour
    removed: Array  # [kg s-1]
    condensed: Array  # [kg s-1]
    stored: tuple[float, float]  # [kg] vapour and buffered water at the start, at the end
    expelled: Array  # [kg] vapour carried in and out by air within the hour, positive outwards, with warming


def vapour_step(
    p: float, p_b: float, source: float, p_e: float, q: float, a: float, h: float, c: float, dt: float
) -> tuple[float, float]:
    """Vapour pressures after `dt` of equations (1) and (2), exactly.

    Parameters
    ----------
    p, p_b : float
        Vapour pressure of the air and of the buffer at the start. [Pa]
    source : float
        Vapour given off. [kg s-1]
    p_e : float
        Outdoor vapour pressure. [Pa]
    q, h : float
        Conductances to outdoors (above 0) and to the buffer. [kg s-1 Pa-1]
    a, c : float
        Capacities of air and buffer. [kg Pa-1]
    dt : float
        Time. [s]

    Returns
    -------
    tuple of 2 floats
        Vapour pressures at the end. [Pa]
    """
    steady = p_e + source / q
    x, y = p - steady, p_b - steady
    if h == 0.0:
        return steady + x * math.exp(-q / a * dt), p_b
    A11, A12, A21 = -(q + h) / a, h / a, h / c
    half = 0.5 * (A11 - A21)
    root = math.sqrt((0.5 * (A11 + A21)) ** 2 + A12 * A21)  # never 0: the coupling is positive
    slow, fast = half + root, half - root
    e, f = math.exp(slow * dt), math.exp(fast * dt)
    on_A, on_I = (e - f) / (slow - fast), (slow * f - fast * e) / (slow - fast)
    return (
        steady + on_A * (A11 * x + A12 * y) + on_I * x,
        steady + on_A * (A21 * x - A21 * y) + on_I * y,
    )


def zone_air(forcing: ZoneForcing, volume: float, buffering: Buffering, drying: Drying | None) -> ZoneAir:
    """Vapour of a zone over all hours.

    Starts in balance with the means of the first day.

    Parameters
    ----------
    forcing : ZoneForcing
        What drives the zone.
    volume : float
        Air volume. [m3]
    buffering : Buffering
        Lumped surfaces; a conductance of 0 for none.
    drying : Drying or None
        A dehumidifier.

    Returns
    -------
    ZoneAir
        Hourly means; for every hour what is given off equals what is removed, condensed, expelled and stored.
    """
    RT = GAS_CONSTANT_VAPOUR * (forcing.temperature + ZERO_CELSIUS)
    highest = saturation_pressure_water(forcing.temperature)
    a, q = volume / RT, forcing.vapour_flow / RT
    p_e, given = forcing.outdoor_pressure, forcing.vapour
    h, store = buffering.conductance, buffering.capacity
    steps = _steps(given, p_e, q, a, h, store / highest)
    p = float(min(p_e[:24].mean() + given[:24].mean() / np.mean(q[:24]), highest[0]))
    n, wetness = len(a), p / highest[0]  # relative humidity of the buffer: what it keeps when the room warms
    start = float(a[0] * p + wetness * store)
    removed, condensed = np.zeros(n), np.zeros(n)
    ends, ends_b = [p] * (n + 1), [0.0] * n
    # Plain floats: four times faster in the loop than numpy scalars.
    top, wetness = highest.tolist(), float(wetness)
    for k, (steady, m_11, m_12, m_21, m_22) in enumerate(zip(*(one.tolist() for one in steps), strict=True)):
        p_b = wetness * top[k]
        end = steady + m_11 * (p - steady) + m_12 * (p_b - steady)
        if drying is None and end <= top[k] and p <= top[k]:
            p_b = steady + m_21 * (p - steady) + m_22 * (p_b - steady)
            p = end
        else:
            box = (float(p_e[k]), float(q[k]), float(a[k]), h, store / top[k])
            if drying is not None:
                removed[k] = _drying(p, p_b, float(given[k]), box, drying, top[k])
            p, p_b, condensed[k] = _hour(p, p_b, float(given[k] - removed[k]), box, top[k])
        ends[k + 1], ends_b[k] = p, p_b
        wetness = p_b / top[k]
    # The mean follows from the balance itself, so that nothing is lost.
    pressure = np.array(ends)
    held = store * np.concatenate([pressure[:1] / highest[0], np.array(ends_b) / highest])
    gained = a * np.diff(pressure) + np.diff(held)
    expelled = (given - removed - condensed) * HOUR - gained
    mean = p_e + expelled / (q * HOUR)
    expelled[:-1] += (a[:-1] - a[1:]) * pressure[
        1:-1
    ]  # warmer air of the same partial pressure expands out of the zone
    stored = (start, float(a[-1] * p + wetness * store))
    return ZoneAir(np.minimum(mean, highest), removed, condensed, stored, expelled)


def _steps(
    source: Array, p_e: Array, q: Array, a: Array, h: float, c: Array
) -> tuple[Array, Array, Array, Array, Array]:
    """`vapour_step` over every hour as the pressures at rest [Pa] and a matrix on the distance from them [1]."""
    steady = p_e + source / q
    if h == 0.0:
        nothing = np.zeros_like(q)
        return steady, np.exp(-q / a * HOUR), nothing, nothing, nothing + 1.0
    A11, A12, A21 = -(q + h) / a, h / a, h / c
    half = 0.5 * (A11 - A21)
    root = np.sqrt((0.5 * (A11 + A21)) ** 2 + A12 * A21)
    slow, fast = half + root, half - root
    e, f = np.exp(slow * HOUR), np.exp(fast * HOUR)
    on_A, on_I = (e - f) / (slow - fast), (slow * f - fast * e) / (slow - fast)
    return steady, on_A * A11 + on_I, on_A * A12, on_A * A21, on_I - on_A * A21


def _hour(
    p: float, p_b: float, source: float, box: tuple[float, float, float, float, float], top: float
) -> tuple[float, float, float]:
    """Vapour pressures at the end of an hour [Pa] and what condensed [kg s-1]."""
    p_e, q, a, h, c = box
    end, end_b = vapour_step(p, p_b, source, p_e, q, a, h, c, HOUR)
    if end <= top and p <= top:
        return end, end_b, 0.0
    surplus = 0.0
    for _ in range(_PARTS):
        p, p_b = vapour_step(p, p_b, source, p_e, q, a, h, c, HOUR / _PARTS)
        surplus += a * max(p - top, 0.0)
        p = min(p, top)
    return p, p_b, surplus / HOUR


def _drying(
    p: float, p_b: float, source: float, box: tuple[float, float, float, float, float], drying: Drying, top: float
) -> float:
    """Vapour that a dehumidifier removes so that the hour ends at its set point, as far as it can. [kg s-1]."""
    p_e, q, a, h, c = box
    wanted = drying.set_point * top
    without = vapour_step(p, p_b, source, p_e, q, a, h, c, HOUR)[0]
    if without <= wanted or drying.capacity == 0.0:
        return 0.0
    full = vapour_step(p, p_b, source - drying.capacity, p_e, q, a, h, c, HOUR)[0]
    return drying.capacity * min((without - wanted) / (without - full), 1.0)  # the step is linear in the source


def zone_carbon_dioxide(source: Array, flow: Array, volume: float, outdoor: float) -> Array:
    """Hourly mean of carbon dioxide by equation (3), from balance with the first day.

    Parameters
    ----------
    source : array, shape (n_hour,)
        Carbon dioxide given off. [m3 s-1]
    flow : array, shape (n_hour,)
        Outdoor air, above 0. [m3 s-1]
    volume : float
        Air volume. [m3]
    outdoor : float
        Outdoor fraction by volume. [1]

    Returns
    -------
    array, shape (n_hour,)
        Fraction by volume. [1]
    """
    now = outdoor + float(source[:24].mean() / flow[:24].mean())
    changes = flow * HOUR / volume
    steady, kept = outdoor + source / flow, np.exp(-changes)
    away = [0.0] * source.size
    for k, (rest, share) in enumerate(zip(steady.tolist(), kept.tolist(), strict=True)):
        away[k] = now - rest
        now = rest + away[k] * share
    return np.asarray(steady + np.array(away) * (1.0 - kept) / changes)
