r"""Snow on a roof, off by default: a blanket that insulates, bleaches and keeps wind and sun from the sheet below.

`LyingSnow` is a blanket of stated depth between two dates. `FallingSnow` is the temperature-index model, the simplest
published one of a snow cover (reviewed by Hock 2003, J. Hydrology 282:104-115; from memory): precipitation in frost
gathers, and melts by degree days,

.. math:: dW/dt = c P - m \max(T_a, 0)                                                                        (1)
.. math:: d = W/\rho_s, \qquad R = d/\lambda_s(\rho_s)                                                        (2)

with the depth that a mean density gives it and the conductivity of ISO 10456 table 3 (from memory). What is ours is the
way in which the roof meets it: the snow stores no heat; its surface balances sun, sky and wind as the roof's would,
linearised about air temperature, and is no warmer than melting ice; through the snow the roof then meets

.. math:: \frac{T_s - T}{1/(h + h_r) + R}, \qquad T_s = \min\Bigl(T_a + \frac{\alpha_s I + \varepsilon_s (E_{down} -
          \sigma T_a^4)}{h + h_r},\ 0\Bigr)                                                                   (3)

Left out: melting from below, water held in the snow and ice at the eaves, settling, drifts, snow before the openings
(state `blocked`). Melt water runs off. May import: surfaces, and all above them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hygro import constants as c
from hygro import materials
from hygro.assembly import Assembly
from hygro.climate import Climate
from hygro.core.formulas import MoistAir
from hygro.errors import InputError
from hygro.rain import SNOW_BELOW
from hygro.surfaces import Outdoor, Surface, outdoor
from hygro.units import to_si

FloatArray = NDArray[np.float64]

MELT: Final = 3.0  # [kg m-2 d-1 K-1] degree-day factor of open snow, 2 to 6; Hock 2003 (from memory)
CAUGHT: Final = 0.8  # [1] of the snow on the ground that lies on a low roof; EN 1991-1-3, shape factor (from memory)
SETTLED: Final = 250.0  # [kg m-3] density of snow that has lain for some weeks; common practice
SNOW_FINISH: Final = "snow"
_LEAST: Final = 1e-3  # [m] thinner snow is none

# Density [kg m-3] and conductivity [W m-1 K-1] of fresh, soft, slightly compacted and compacted snow; ISO 10456 table 3
# (from memory).
_DENSITIES: Final = (100.0, 200.0, 300.0, 500.0)
_CONDUCTIVITIES: Final = (0.05, 0.12, 0.23, 0.60)


class Snow(Protocol):
    """A way of stating snow on a roof."""

    @property
    def density(self) -> float:
        """Density of the snow. [kg m-3]."""

    def depth(self, climate: Climate) -> FloatArray:
        """Depth of the snow at the ends of the hours, the start first. [m], shape (n_hours + 1,)."""

    def describe(self) -> str:
        """The snow in words."""


@dataclass(frozen=True, slots=True, init=False)
class LyingSnow:
    """Snow of one depth between two dates of every winter.

    Parameters
    ----------
    depth : str or float
        Depth of the snow on the roof. [m]
    since, until : str
        Days from and to which it lies, such as ``"1 December"`` and ``"1 April"``.
    density : float
        Density of the snow, which sets its conductivity. [kg m-3]

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    thickness: float
    since: str
    until: str
    density: float

    def __init__(self, depth: str | float, *, since: str, until: str, density: float = SETTLED) -> None:
        object.__setattr__(self, "thickness", _within(depth, "length", "depth", 0.0, 5.0, "m"))
        object.__setattr__(self, "since", since)
        object.__setattr__(self, "until", until)
        object.__setattr__(self, "density", _density(density))
        if _day(since, "since") == _day(until, "until"):
            msg = f"Snow: it lies since and until {since!r}; state two different days, such as '1 December'."
            raise InputError(msg)

    def depth(self, climate: Climate) -> FloatArray:
        """Depth of the snow.

        Parameters
        ----------
        climate : Climate
            Outdoor weather; its dates count.

        Returns
        -------
        ndarray, shape (n_hours + 1,)
            At the ends of the hours, the start first. [m]

        References
        ----------
        As stated.
        """
        ends = pd.date_range(climate.start, periods=len(climate) + 1, freq="h")
        day = np.asarray(ends.month * 100 + ends.day)
        first, last = _day(self.since, "since"), _day(self.until, "until")
        lies = (day >= first) & (day < last) if first < last else (day >= first) | (day < last)
        return np.where(lies, self.thickness, 0.0)

    def describe(self) -> str:
        """The snow in words."""
        return f"{100 * self.thickness:g} cm of snow, {self.density:g} kg/m3, from {self.since} to {self.until}"


@dataclass(frozen=True, slots=True, init=False)
class FallingSnow:
    """Snow by the temperature-index model: it gathers from precipitation in frost and melts by degree days (1).

    Parameters
    ----------
    snowfall : sequence of float, optional
        Water of the snow that falls in each hour of the run. None: precipitation of the climate at or below 0 °C; many
        climate records count rain alone and hold none. [kg m-2]
    caught : float
        Share of it that stays on the roof. [1]
    melt : float
        Degree-day factor. [kg m-2 d-1 K-1]
    density : float
        Density of the snow that lies, which sets its conductivity. [kg m-3]

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    snowfall: tuple[float, ...] | None
    caught: float
    melt: float
    density: float

    def __init__(
        self,
        snowfall: Sequence[float] | None = None,
        *,
        caught: float = CAUGHT,
        melt: float = MELT,
        density: float = SETTLED,
    ) -> None:
        fall = None if snowfall is None else tuple(float(value) for value in snowfall)
        if fall is not None and not all(0.0 <= value <= 100.0 for value in fall):
            msg = "Snow: snowfall holds a value below 0, above 100 or not a number; give kg/m2 of water for each hour."
            raise InputError(msg)
        object.__setattr__(self, "snowfall", fall)
        object.__setattr__(self, "caught", _within(caught, "fraction", "caught", 0.0, 2.0, ""))
        object.__setattr__(self, "melt", _within(melt, "factor", "melt", 0.1, 20.0, "kg/(m2 d K)"))
        object.__setattr__(self, "density", _density(density))

    def depth(self, climate: Climate) -> FloatArray:
        """Depth of the snow by (1) and (2).

        Parameters
        ----------
        climate : Climate
            Outdoor weather.

        Returns
        -------
        ndarray, shape (n_hours + 1,)
            At the ends of the hours, bare at the start. [m]

        Raises
        ------
        InputError
            Where no snow falls, or its hours are not those of the run.

        References
        ----------
        Hock 2003, J. Hydrology 282:104-115, temperature-index model (from memory): (1), threshold and base 0 degC.
        """
        warmth = climate.data["air_temperature"].data
        if self.snowfall is None:
            fall = np.where(warmth <= SNOW_BELOW, climate.data["rain"].data, 0.0)
            if not (fall > 0.0).any():
                msg = (
                    f"Snow: climate {climate.title!r} has no precipitation at or below 0 degC; like many records it "
                    "counts rain alone. State snowfall=..., or LyingSnow(depth, since=..., until=...)."
                )
                raise InputError(msg)
        else:
            fall = np.asarray(self.snowfall)
            if len(fall) != len(warmth):
                msg = f"Snow: snowfall has {len(fall)} hours, but the run has {len(warmth)}; give one value for each."
                raise InputError(msg)
        held = np.zeros(len(warmth) + 1)
        change = self.caught * fall - self.melt / 24.0 * np.maximum(warmth, 0.0)
        for hour, more in enumerate(change):
            held[hour + 1] = max(held[hour] + more, 0.0)
        return held / self.density

    def describe(self) -> str:
        """The snow in words."""
        fall = "precipitation in frost" if self.snowfall is None else "stated snowfall"
        return (
            f"snow from {fall}, {100 * self.caught:g} % caught, melting by {self.melt:g} kg/(m2 d K), "
            f"{self.density:g} kg/m3"
        )


def snow_conductivity(density: float) -> float:
    """Thermal conductivity of snow.

    Parameters
    ----------
    density : float
        Of the snow, 100 to 500. [kg m-3]

    Returns
    -------
    float
        Straight between the logarithms of the table's rows. [W m-1 K-1]

    References
    ----------
    ISO 10456:2007 table 3 (from memory).
    """
    return float(np.exp(np.interp(np.log(density), np.log(_DENSITIES), np.log(_CONDUCTIVITIES))))


def under_snow(
    bare: Outdoor, snow: Snow, climate: Climate, assembly: Assembly, surface: Surface, air: MoistAir
) -> tuple[Outdoor, FloatArray]:
    """Outer boundary of a roof under snow by (3).

    Parameters
    ----------
    bare : Outdoor
        The same roof without snow.
    snow : Snow
        What lies on it.
    climate : Climate
        Outdoor weather.
    assembly : Assembly
        The roof.
    surface : Weathered, Underfloor or FixedFilm
        What the snow meets.
    air : MoistAir
        Saturation curve and permeability.

    Returns
    -------
    Outdoor
        Film, absorbed radiation and emissivity as the roof meets them.
    ndarray, shape (n_hours + 1,)
        Depth of the snow. [m]

    Raises
    ------
    InputError
        Where the assembly is no roof.

    References
    ----------
    Own derivation; film and sky as in ``hygro.surfaces``. Vapour passes the snow as it passes still air.
    """
    if assembly.kind != "roof":
        msg = f"Snow on {assembly.name!r}: it is a {assembly.kind}, and snow lies on roofs. Leave snow out."
        raise InputError(msg)
    depth = snow.depth(climate)
    finish = materials.finish(SNOW_FINISH)
    top = outdoor(climate, assembly.tilt, assembly.azimuth, finish, surface, air)
    absolute = top.temperature + c.ZERO_CELSIUS
    radiative = 4.0 * top.emissivity * c.STEFAN_BOLTZMANN * absolute**3
    # Where sun and sky are left out, the film stands for all exchange.
    gained = np.where(top.emissivity > 0.0, top.absorbed - 0.25 * radiative * absolute, 0.0)
    over = top.film + radiative
    warmth = np.minimum(top.temperature + gained / over, 0.0)
    film = 1.0 / (1.0 / over + depth / snow_conductivity(snow.density))
    vapour_film = np.zeros_like(film)
    passes = bare.vapour_film > 0.0
    permeability = air.air_permeability(top.temperature)
    vapour_film[passes] = 1.0 / (1.0 / bare.vapour_film[passes] + depth[passes] / permeability[passes])
    lies = depth >= _LEAST
    covered = replace(
        bare,
        film=np.where(lies, film, bare.film),
        vapour_film=np.where(lies, vapour_film, bare.vapour_film),
        absorbed=np.where(lies, film * (warmth - top.temperature), bare.absorbed),
        emissivity=np.where(lies, 0.0, bare.emissivity),
    )
    return covered, np.where(lies, depth, 0.0)


def _density(value: object) -> float:
    return _within(value, "density", "density", _DENSITIES[0], _DENSITIES[-1], "kg/m3")


def _day(text: object, name: str) -> int:
    """Month and day as one number."""
    if isinstance(text, str):
        for form in ("%Y %d %B", "%Y %d %b", "%Y %B %d", "%Y %m-%d"):
            try:
                moment = datetime.strptime(f"2024 {text.strip()}", form)
            except ValueError:
                continue
            return moment.month * 100 + moment.day
    msg = f"Snow: {name} is {text!r}; give a day of the year such as '1 December' or '12-01'."
    raise InputError(msg)


def _within(value: object, dimension: str, name: str, lowest: float, highest: float, unit: str) -> float:
    number = to_si(value, dimension, f"Snow: {name}")
    if not lowest <= number <= highest:
        msg = f"Snow: {name} is {number:g}; it must lie between {lowest:g} and {highest:g} {unit}."
        raise InputError(msg.replace(" .", "."))
    return number
