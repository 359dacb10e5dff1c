"""Moist air of the peer integration, written out again from the papers: compiled scalar closed forms.

Murphy and Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. (7) and (10), for saturation over ice and over water;
EN ISO 12572 (Schirmer) for the vapour permeability of still air.
"""

from __future__ import annotations

import math

from numba import njit

KELVIN = 273.15  # [K]
VAPOUR_GAS_CONSTANT = 461.5  # [J kg-1 K-1]
LOG_273 = math.log(273.0)
SIGMA_FREE = 0.10536051565782628 * math.exp(-1.1 / (0.9 * 0.10536051565782628))  # [1] -ln(u) at which free water begins
SIGMA_DAMP = 0.10536051565782628 * math.exp(-0.4 / (0.9 * 0.10536051565782628))  # where no liquid moves
FREEZING_SPAN = 0.2  # [K] below 0 degC, over which what is wetter than the ice's suction there is let freeze


@njit(cache=True, error_model="numpy")
def log_over_water(t, log_t):
    """Logarithm of the saturation pressure over water [Pa] at an absolute temperature [K] and its logarithm."""
    cold = 53.878 - 1331.22 / t - 9.44523 * log_t + 0.014025 * t
    return 54.842763 - 6763.22 / t - 4.210 * log_t + 0.000367 * t + math.tanh(0.0415 * (t - 218.8)) * cold


@njit(cache=True, error_model="numpy")
def log_over_ice(t, log_t):
    """Logarithm of the saturation pressure over ice [Pa]."""
    return 9.550426 - 5723.265 / t + 3.53068 * log_t - 0.00728332 * t


@njit(cache=True, error_model="numpy")
def still_air(t, log_t):
    """Vapour permeability of still air at standard pressure [kg m-1 s-1 Pa-1]."""
    return 2.306e-5 * math.exp(1.81 * (log_t - LOG_273)) / (VAPOUR_GAS_CONSTANT * t)


@njit(cache=True, error_model="numpy")
def true_ice_log_sigma(celsius):
    """Logarithm of -ln(u) of water in equilibrium with ice."""
    t = celsius + KELVIN
    log_t = math.log(t)
    return math.log(log_over_water(t, log_t) - log_over_ice(t, log_t))


LOG_FREE, LOG_EDGE = math.log(SIGMA_FREE), true_ice_log_sigma(-FREEZING_SPAN)


@njit(cache=True, error_model="numpy")
def ice_log_sigma(celsius):
    """The same with the span, within which it falls to the free-water mark at 0 degC."""
    if celsius <= -FREEZING_SPAN:
        return true_ice_log_sigma(celsius)
    return LOG_FREE + (LOG_EDGE - LOG_FREE) * (-celsius / FREEZING_SPAN)
