r"""Rain that wind drives onto a wall, and the share of it that a defect lets in: what the user states.

Two published relations, one frozen object each, that turn hourly rain on the horizontal and wind into rain on a face:
`DrivingRain` (ASHRAE 160) and `AirfieldRain` (EN ISO 15927-3). Rain falls on a face of any tilt as

.. math:: r_{face} = \max(r \cos\beta + r_d \sin\beta,\ 0)                                                     (1)

with r on the horizontal, tilt :math:`\beta` and r_d what the wind drives onto a wall of that azimuth: geometry alone,
and on a wall r_d itself. Precipitation at or below 0 degC is taken for snow and wets nothing.
May import: rainfall, errors, units.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from hygro.errors import InputError
from hygro.rainfall import (
    TERRAIN,
    airfield_term,
    drop_diameter,
    fall_speed,
    obstruction_factor,
    roughness_coefficient,
)
from hygro.units import to_si

FloatArray = NDArray[np.float64]

RAIN_FACTOR: Final = 0.2  # [kg s m-3 mm-1] rain driven by wind, per mm of rain; ASHRAE 160, 4.6 (from memory)
DEFECT: Final = 0.01  # [1] share of the rain on a face that gets behind the cladding; ASHRAE 160, 4.6 (from memory)
SNOW_BELOW: Final = 0.0  # [degC] air temperature up to which precipitation is snow; common practice
_HOUR: Final = 3600.0  # [s]

# Share of the driven rain that lands, by what shelters or feeds the wall; ASHRAE 160, 4.6 (from memory).
BELOW_STEEP_ROOF: Final = 0.35
BELOW_LOW_SLOPE_ROOF: Final = 0.5
UNDER_RUN_OFF: Final = 1.0

_HEIGHTS: Final = (10.0, 15.0, 20.0, 30.0, 40.0, 50.0)  # [m] upper ends of the rows of the exposure table


@dataclass(frozen=True, slots=True)
class RainSite:
    """How open a site lies to driving rain: the exposure factor by height of the building.

    Parameters
    ----------
    name : str
        What to call it.
    factors : tuple of float
        Exposure factors below 10, 15, 20, 30, 40 and 50 m, and above. [1]
    """

    name: str
    factors: tuple[float, ...]

    def exposure(self, height: str | float) -> float:
        """Exposure factor of a building.

        Parameters
        ----------
        height : str or float
            Height of the building. [m]

        Returns
        -------
        float
            Factor for `DrivingRain`. [1]

        Raises
        ------
        InputError
            Where the height is not that of a building.

        References
        ----------
        ASHRAE 160, 4.6, exposure factors (from memory).
        """
        metres = _within(height, "length", "height of the building", 0.0, 300.0, "m")
        return self.factors[int(np.searchsorted(_HEIGHTS, metres, side="right"))]


SEVERE: Final = RainSite("severe", (1.3, 1.3, 1.4, 1.5, 1.5, 1.5, 1.5))
MEDIUM: Final = RainSite("medium", (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.5))
SHELTERED_SITE: Final = RainSite("sheltered", (0.7, 0.8, 0.9, 1.1, 1.2, 1.3, 1.5))


class RainLoad(Protocol):
    """A way of turning rain and wind into rain on a face."""

    @property
    def defect(self) -> float:
        """Share of the rain on the face that a defect lets in. [1]."""

    @property
    def into(self) -> str | None:
        """Label of the layer that the defect wets; None where none does."""

    @property
    def is_none(self) -> bool:
        """Whether no rain can ever reach the face."""

    def driven(self, rain: FloatArray, wind: FloatArray) -> FloatArray:
        """Rain [mm h-1, kg m-2 h-1] on a wall from rain on the horizontal and the wind straight onto it [m s-1]."""

    def describe(self) -> str:
        """The rain in words."""


@dataclass(frozen=True, slots=True, init=False)
class DrivingRain:
    """Rain on a wall by the published design standard.

    Parameters
    ----------
    exposure : float
        Exposure factor: of `MEDIUM` site and up to 10 m high by default; see `RainSite.exposure`. [1]
    deposition : float
        Deposition factor: `BELOW_LOW_SLOPE_ROOF` by default, `BELOW_STEEP_ROOF`, `UNDER_RUN_OFF`, or 0 for a face that
        no rain reaches. [1]
    into : str, optional
        Label of the layer that a defect wets at its outer face, as the layer behind the water-resistive membrane.
        None: nothing gets in.
    defect : str or float
        Share of the rain on the face that gets in where `into` is given; 1 % by default. [1]
    by_drop_size : bool
        Whether rain is driven by the speed at which its drops fall, rather than by one factor for all rain.

    Raises
    ------
    InputError
        Where a value cannot be.

    References
    ----------
    ASHRAE 160, 4.6 (from memory). Drops: see `drop_diameter` and `fall_speed`.
    """

    exposure: float
    deposition: float
    into: str | None
    defect: float
    by_drop_size: bool

    def __init__(
        self,
        *,
        exposure: float = MEDIUM.factors[0],
        deposition: float = BELOW_LOW_SLOPE_ROOF,
        into: str | None = None,
        defect: str | float = DEFECT,
        by_drop_size: bool = False,
    ) -> None:
        object.__setattr__(self, "exposure", _within(exposure, "fraction", "exposure", 0.1, 3.0, ""))
        object.__setattr__(self, "deposition", _within(deposition, "fraction", "deposition", 0.0, 2.0, ""))
        if not isinstance(by_drop_size, bool):
            msg = f"Driving rain: by_drop_size is {by_drop_size!r}; it must be True or False."
            raise InputError(msg)
        object.__setattr__(self, "by_drop_size", by_drop_size)
        _set_defect(self, into, defect)

    @property
    def is_none(self) -> bool:
        """Whether no rain can ever reach the face."""
        return self.deposition == 0.0

    def driven(self, rain: FloatArray, wind: FloatArray) -> FloatArray:
        """Rain that wind drives onto a wall.

        Parameters
        ----------
        rain : ndarray
            Rain on the horizontal. [kg m-2 h-1]
        wind : ndarray
            Wind at 10 m straight onto the wall; negative away from it. [m s-1]

        Returns
        -------
        ndarray
            F_E F_D F_L U cos(theta) r, or with 1/V_t in place of F_L. [kg m-2 h-1]

        References
        ----------
        ASHRAE 160, 4.6 (from memory).
        """
        factor = 1.0 / fall_speed(drop_diameter(rain)) if self.by_drop_size else RAIN_FACTOR
        return np.asarray(self.exposure * self.deposition * factor * wind * rain)

    def describe(self) -> str:
        """The rain in words."""
        return f"driving rain (ASHRAE 160), exposure {self.exposure:g}, deposition {self.deposition:g}{_leaks(self)}"


@dataclass(frozen=True, slots=True, init=False)
class AirfieldRain:
    """Rain on a wall by the European standard: the airfield index of every hour, brought to the wall.

    Parameters
    ----------
    wall_factor : float
        W of the standard: rain on the wall over rain through the open air in its place. [1]
    terrain : int
        Terrain category, 1 (sea, open flat country) to 4 (town). [1]
    height : str or float
        Height above ground. [m]
    obstruction : str or float
        Distance of the nearest obstruction as high as the wall; beyond 120 m it is none. [m]
    topography : float
        Factor for crests of hills and valleys. [1]
    into : str, optional
        Label of the layer that a defect wets at its outer face. None: nothing gets in.
    defect : str or float
        Share of the rain on the face that gets in where `into` is given. [1]

    Raises
    ------
    InputError
        Where a value cannot be.

    Notes
    -----
    The standard sums the index over spells and years. Taking its hourly terms for the rain of that hour is ours.

    References
    ----------
    EN ISO 15927-3 (from memory).
    """

    wall_factor: float
    terrain: int
    height: float
    obstruction: float
    topography: float
    into: str | None
    defect: float

    def __init__(
        self,
        *,
        wall_factor: float,
        terrain: int,
        height: str | float,
        obstruction: str | float = 200.0,
        topography: float = 1.0,
        into: str | None = None,
        defect: str | float = DEFECT,
    ) -> None:
        object.__setattr__(self, "wall_factor", _within(wall_factor, "fraction", "wall_factor", 0.0, 1.5, ""))
        if isinstance(terrain, bool) or terrain not in TERRAIN:
            msg = f"Driving rain: terrain is {terrain!r}; it must be 1, 2, 3 or 4 (sea or open country to town)."
            raise InputError(msg)
        object.__setattr__(self, "terrain", terrain)
        object.__setattr__(self, "height", _within(height, "length", "height", 0.0, 300.0, "m"))
        away = _within(obstruction, "length", "obstruction", 4.0, 1e6, "m")
        object.__setattr__(self, "obstruction", away)
        object.__setattr__(self, "topography", _within(topography, "fraction", "topography", 0.5, 2.0, ""))
        _set_defect(self, into, defect)

    @property
    def is_none(self) -> bool:
        """Whether no rain can ever reach the face."""
        return self.wall_factor == 0.0

    def driven(self, rain: FloatArray, wind: FloatArray) -> FloatArray:
        """Rain that wind drives onto a wall.

        Parameters
        ----------
        rain : ndarray
            Rain on the horizontal. [kg m-2 h-1]
        wind : ndarray
            Wind at 10 m straight onto the wall; negative away from it. [m s-1]

        Returns
        -------
        ndarray
            (2/9) v r^(8/9) cos(theta) C_R C_T O W. [kg m-2 h-1]

        References
        ----------
        EN ISO 15927-3 (from memory).
        """
        site = roughness_coefficient(self.height, self.terrain) * self.topography * obstruction_factor(self.obstruction)
        return np.asarray(airfield_term(rain, wind) * site * self.wall_factor)

    def describe(self) -> str:
        """The rain in words."""
        return (
            f"driving rain (EN ISO 15927-3), terrain {self.terrain}, {self.height:g} m high, obstruction at "
            f"{self.obstruction:g} m, topography {self.topography:g}, wall factor {self.wall_factor:g}{_leaks(self)}"
        )


def rain_on_face(
    load: RainLoad,
    rain: FloatArray,
    temperature: FloatArray,
    wind_speed: FloatArray,
    wind_direction: FloatArray,
    tilt: float,
    azimuth: float,
) -> FloatArray:
    """Rain on a face, from hourly weather (1).

    Parameters
    ----------
    load : RainLoad
        The relation for driven rain.
    rain : ndarray, shape (n_hours,)
        Rain on the horizontal in the hour. [kg m-2]
    temperature, wind_speed, wind_direction : ndarray, shape (n_hours + 1,)
        Of the outdoor air at the ends of the hours; wind at 10 m, direction clockwise from north. [degC, m s-1, degree]
    tilt, azimuth : float
        Orientation of the face. [degree]

    Returns
    -------
    ndarray, shape (n_hours,)
        Mean of the hour. [kg m-2 s-1]

    References
    ----------
    Geometry.
    """
    onto = wind_speed * np.cos(np.radians(wind_direction - azimuth))
    wind = 0.5 * (onto[:-1] + onto[1:])
    liquid = np.where(0.5 * (temperature[:-1] + temperature[1:]) > SNOW_BELOW, rain, 0.0)
    slope = np.radians(tilt)
    onto_face = liquid * np.cos(slope) + load.driven(liquid, wind) * np.sin(slope)
    # The cosine of 90 degrees is 6e-17 in floating point: such rain is none.
    return np.where(onto_face > 1e-12, onto_face, 0.0) / _HOUR


def _leaks(load: RainLoad) -> str:
    return "" if load.into is None else f"; {100 * load.defect:g} % of it gets to the outer face of {load.into!r}"


def _set_defect(load: RainLoad, into: object, defect: str | float) -> None:
    if into is not None and (not isinstance(into, str) or not into.strip()):
        msg = f"Driving rain: into is {into!r}; give the label of the layer that the defect wets, or nothing."
        raise InputError(msg)
    object.__setattr__(load, "into", into)
    object.__setattr__(load, "defect", _within(defect, "fraction", "defect", 0.0, 1.0, ""))


def _within(value: object, dimension: str, name: str, lowest: float, highest: float, unit: str) -> float:
    number = to_si(value, dimension, f"Driving rain: {name}")
    if not lowest <= number <= highest:
        msg = f"Driving rain: {name} is {number:g}; it must lie between {lowest:g} and {highest:g} {unit}."
        raise InputError(msg.replace(" .", "."))
    return number
