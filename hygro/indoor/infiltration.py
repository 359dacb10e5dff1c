r"""Outdoor air that leaks into a dwelling, hour by hour, from warmth, wind and fans together.

Leaks are spread over four walls, ceiling and floor. The pressure indoors is the one at which as much air comes in as
goes out; with :math:`z` the height above the floor and :math:`p_0` the pressure indoors at the floor,

.. math::

    \Delta p_j = \tfrac12 \rho_e v^2 C_{p,j} - (\rho_e - \rho_i) g z_j - p_0, \qquad
    \sum_j \rho_j C_j |\Delta p_j|^n \mathrm{sign}(\Delta p_j) = \rho_i Q_{extract}

so that a fan that blows out takes its air through the same leaks.

May import: errors, constants, leakage, gapflow, core formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from hygro.constants import GRAVITY
from hygro.core.formulas import air_density
from hygro.errors import InputError
from hygro.gapflow import SEMI_SHELTERED, Exposure
from hygro.indoor.air import Array, outdoor_values
from hygro.indoor.limits import fraction, within
from hygro.leakage import TEST_PRESSURE, leak_volume_flow

HOUR: Final = 3600.0  # [s]
_LEVELS: Final = 6  # heights at which the leaks of a wall are looked at
_HALVINGS: Final = 48  # of the bracket about the pressure indoors: to a billionth of a pascal


@dataclass(frozen=True, slots=True)
class Infiltration:
    """Leaks of a whole dwelling by its airtightness test.

    Parameters
    ----------
    n50 : float
        Air changes at 50 Pa, as an airtightness test gives; with q50 of the envelope it is q50 area / volume. [h-1]
    height : float
        From floor to ceiling. [m]
    azimuth : float, optional
        Where one of the four walls looks to, clockwise from north. [degree]
    exposure : Exposure, optional
        How open the site is to the wind: `OPEN`, `SEMI_SHELTERED` or `SHELTERED` of ``hygro.gapflow``.
    ceiling_share, floor_share : float or str, optional
        Share of the leaks in ceiling and floor; the walls have the rest. A choice of this package. [1]
    exponent : float, optional
        Of the pressure difference. [1]
    """

    n50: float
    height: float
    azimuth: float = 0.0
    exposure: Exposure = SEMI_SHELTERED
    ceiling_share: float = 0.3
    floor_share: float = 0.2
    exponent: float = 0.65

    def __post_init__(self) -> None:
        within(self.n50, 0.01, 100.0, "Infiltration: n50 (no house is fully tight)", "h-1")
        within(self.height, 0.5, 30.0, "Infiltration: height", "m")
        within(self.azimuth, 0.0, 360.0, "Infiltration: azimuth", "degree")
        within(self.exponent, 0.5, 1.0, "Infiltration: exponent (turbulent 0.5, laminar 1)", "1")
        for name in ("ceiling_share", "floor_share"):
            share = fraction(getattr(self, name), f"Infiltration: {name.replace('_', ' ')}")
            object.__setattr__(self, name, share)
        if self.ceiling_share + self.floor_share > 1.0 + 1e-9:
            both = self.ceiling_share + self.floor_share
            msg = f"Infiltration: ceiling and floor have {both:g} of the leaks; together they can have at most 1."
            raise InputError(msg)
        if not isinstance(self.exposure, Exposure):
            msg = (
                f"Infiltration: exposure is {self.exposure!r}; give OPEN, SEMI_SHELTERED or SHELTERED of hygro.gapflow."
            )
            raise InputError(msg)

    def air_flow(self, outdoor: xr.Dataset, indoor_temperature: Array, volume: float, extracted: Array) -> Array:
        """Outdoor air that comes in through the leaks.

        Parameters
        ----------
        outdoor : xarray.Dataset
            Hourly record with ``air_temperature``, ``air_pressure``, ``wind_speed`` and ``wind_direction``.
        indoor_temperature : array, shape (n_hour,)
            Of the room. [degC]
        volume : float
            Air volume. [m3]
        extracted : array, shape (n_hour,)
            Air that a fan blows out, at room temperature. [m3 s-1]

        Returns
        -------
        array, shape (n_hour,)
            At room temperature, what replaces the fan's air included. [m3 s-1]

        Raises
        ------
        InputError
            Where the record lacks a variable.

        References
        ----------
        Power law: ISO 9972. Wall pressure coefficients: see `Exposure`; a low-pitched roof is in suction as a side wall
        is, and no wind presses on a floor: choices of this package.
        """
        pressure = outdoor_values(outdoor, "air_pressure")
        cold = air_density(outdoor_values(outdoor, "air_temperature"), pressure)
        warm = air_density(indoor_temperature, pressure)
        drive, share = self._leaks(outdoor, cold, warm)
        tightness = self.n50 * volume / HOUR  # [m3 s-1] at 50 Pa

        def arriving(inside: Array) -> Array:
            flow = leak_volume_flow(tightness, drive - inside, self.exponent) * share[:, None]
            return flow * np.where(flow > 0.0, cold, warm)  # [kg s-1]

        # At the upper end all air goes out; at the lower, more comes in than the fan takes.
        needed = TEST_PRESSURE * (np.max(warm / cold) * extracted / tightness) ** (1.0 / self.exponent)
        low, high = drive.min(axis=0) - needed - 1.0, drive.max(axis=0)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            too_low = arriving(middle).sum(axis=0) > warm * extracted
            low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
        inward = np.maximum(arriving(0.5 * (low + high)), 0.0).sum(axis=0)
        return np.asarray(inward / warm)

    def _leaks(self, outdoor: xr.Dataset, cold: Array, warm: Array) -> tuple[Array, Array]:
        """Pressure outdoors over that indoors but for p0, shape (n_leak, n_hour) [Pa], and share of each leak [1]."""
        speed = self.exposure.speed_share * outdoor_values(outdoor, "wind_speed")
        direction = outdoor_values(outdoor, "wind_direction")
        stagnation = 0.5 * cold * speed**2
        stack = (cold - warm) * GRAVITY
        drive = [np.zeros_like(stack), stagnation * self.exposure.side - stack * self.height]
        share = [self.floor_share, self.ceiling_share]
        walls = 1.0 - self.floor_share - self.ceiling_share
        for turn in (0.0, 90.0, 180.0, 270.0):
            wind = stagnation * self.exposure.pressure_coefficient(direction - self.azimuth - turn)
            for level in range(_LEVELS):
                drive.append(wind - stack * self.height * (level + 0.5) / _LEVELS)
                share.append(walls / (4 * _LEVELS))
        return np.array(drive), np.array(share)
