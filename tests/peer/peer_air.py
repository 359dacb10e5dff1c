"""Moist air of the peer integration, written out again from the papers: compiled scalar closed forms.

Murphy and Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. (7) and (10), for saturation over ice and over water;
EN ISO 12572 (Schirmer) for the vapour permeability of still air.
"""

from __future__ import annotations

import math

from numba import njit

KELVIN = 273.15  # [K]
VAPOUR_GAS_CONSTANT = 461.5  # [J kg-1 K-1]
SIGMA_FREE = 0.10536051565782628 * math.exp(-1.1 / (0.9 * 0.10536051565782628))  # [1] -ln(u) at which free water begins
SIGMA_DAMP = 0.10536051565782628 * math.exp(-0.4 / (0.9 * 0.10536051565782628))  # where no liquid moves
FREEZING_SPAN = 0.2  # [K] below 0 degC, over which what is wetter than the ice's suction there is let freeze


@njit(cache=True, error_model="numpy")
def over_water(celsius):
    """Saturation pressure over water [Pa]."""
    t = celsius + KELVIN
    log_t = math.log(t)
    bend = math.tanh(0.0415 * (t - 218.8))
    cold = 53.878 - 1331.22 / t - 9.44523 * log_t + 0.014025 * t
    return math.exp(54.842763 - 6763.22 / t - 4.210 * log_t + 0.000367 * t + bend * cold)


@njit(cache=True, error_model="numpy")
def over_ice(celsius):
    """Saturation pressure over ice [Pa]."""
    t = celsius + KELVIN
    return math.exp(9.550426 - 5723.265 / t + 3.53068 * math.log(t) - 0.00728332 * t)


@njit(cache=True, error_model="numpy")
def still_air(celsius):
    """Vapour permeability of still air at standard pressure [kg m-1 s-1 Pa-1]."""
    t = celsius + KELVIN
    return 2.306e-5 * (t / 273.0) ** 1.81 / (VAPOUR_GAS_CONSTANT * t)


@njit(cache=True, error_model="numpy")
def ice_log_sigma(celsius):
    """Logarithm of -ln(u) of water in equilibrium with ice; within the span it falls to the free-water mark at 0 degC."""
    if celsius <= -FREEZING_SPAN:
        return math.log(math.log(over_water(celsius) / over_ice(celsius)))
    edge = math.log(math.log(over_water(-FREEZING_SPAN) / over_ice(-FREEZING_SPAN)))
    free = math.log(SIGMA_FREE)
    return free + (edge - free) * (-celsius / FREEZING_SPAN)
