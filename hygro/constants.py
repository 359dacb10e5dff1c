"""Physical constants, one per line: value, unit, source. This module imports nothing."""

from __future__ import annotations

GAS_CONSTANT_VAPOUR = 461.5  # [J kg-1 K-1] R / M_water = 8.314462618 / 18.015268e-3, as rounded by EN ISO 13788
GAS_CONSTANT_AIR = 287.04  # [J kg-1 K-1] R / M_air = 8.314462618 / 28.966e-3
ZERO_CELSIUS = 273.15  # [K] definition of the Celsius scale
REFERENCE_TEMPERATURE = 293.15  # [K] 20 degC, at which suction-based retention curves are stated
STANDARD_PRESSURE = 101325.0  # [Pa] standard atmosphere, ISO 2533
GRAVITY = 9.80665  # [m s-2] standard gravity, ISO 80000-3
STEFAN_BOLTZMANN = 5.670374e-8  # [W m-2 K-4] CODATA 2018
WATER_DENSITY = 1000.0  # [kg m-3] liquid water, rounded as in EN 15026
SPECIFIC_HEAT_WATER = 4190.0  # [J kg-1 K-1] ISO 10456 table 4, water at 10 degC
SPECIFIC_HEAT_ICE = 2000.0  # [J kg-1 K-1] ISO 10456 table 4, ice at 0 degC
SPECIFIC_HEAT_VAPOUR = 1860.0  # [J kg-1 K-1] ASHRAE Handbook Fundamentals, psychrometrics chapter
SPECIFIC_HEAT_AIR = 1006.0  # [J kg-1 K-1] ASHRAE Handbook Fundamentals, psychrometrics chapter
LATENT_HEAT_EVAPORATION = 2.501e6  # [J kg-1] at 0 degC, ASHRAE Handbook Fundamentals
LATENT_HEAT_FUSION = 3.336e5  # [J kg-1] at 0 degC, handbook value
AIR_CONDUCTIVITY = 0.025  # [W m-1 K-1] ISO 10456 table 4 and ISO 6946 annex
AIR_MOLAR_RATIO = 0.621945  # [1] M_water / M_air, ASHRAE Handbook Fundamentals
