"""How air is driven through a vent gap: one small frozen object per way.

Each says its loss coefficient, its speed where that is fixed, and the wind pressure over its ends; see `GapFlow`.
May import: errors, units, core formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from hygro.core.formulas import screen_loss_woven
from hygro.errors import InputError
from hygro.units import to_si

FloatArray = NDArray[np.float64]

ENTRY_LOSS: Final = 0.5  # [1] sharp-edged entry; ASHRAE Handbook Fundamentals, duct fittings (from memory)
EXIT_LOSS: Final = 1.0  # [1] all dynamic pressure is lost
ORIFICE_LOSS: Final = 1.0 / 0.6**2  # [1] sharp opening, discharge coefficient 0.6, referred to its own speed
STRONGEST: Final = 3.0  # [1] wind pressure coefficients of buildings stay below it
SHUT: Final = 1e12  # [1] loss coefficient of an opening that passes nothing


@dataclass(frozen=True, slots=True)
class Exposure:
    """How open a low building stands to the wind.

    Wind pressure coefficients on its windward, side and leeward walls and on a roof of low pitch, and the wind at the
    openings as a share of the wind at 10 m.
    """

    name: str
    windward: float
    side: float
    leeward: float
    roof: float
    speed_share: float

    def pressure_coefficient(self, angle: FloatArray) -> FloatArray:
        """Pressure coefficient [1] of a wall met by wind under an angle [degree]; 0 is straight on.

        The first two cosine harmonics through the three stated values.
        """
        theta = np.radians(angle)
        mean = 0.25 * (self.windward + self.leeward) + 0.5 * self.side
        first = 0.5 * (self.windward - self.leeward)
        second = 0.25 * (self.windward + self.leeward) - 0.5 * self.side
        return np.asarray(mean + first * np.cos(theta) + second * np.cos(2.0 * theta))

    def pressure_difference(self, angle: FloatArray) -> FloatArray:
        """Pressure coefficient [1] of a wall less that of the one opposite, where the second harmonic is the same."""
        return np.asarray((self.windward - self.leeward) * np.cos(np.radians(angle)))

    @property
    def mean_coefficient(self) -> float:
        """Mean pressure coefficient [1] of the four walls: that indoors, and under the floor, where all leak alike."""
        return 0.25 * (self.windward + self.leeward) + 0.5 * self.side


# Coefficients: AIVC data for low buildings (from memory: walls medium, roofs low); speed shares: power law of the wind
# profile from 10 m down to 3 m with common exponents (common practice).
OPEN = Exposure("open", 0.7, -0.5, -0.2, -0.75, (3.0 / 10.0) ** 0.14)
SEMI_SHELTERED = Exposure("semi-sheltered", 0.4, -0.3, -0.2, -0.55, (3.0 / 10.0) ** 0.22)
SHELTERED = Exposure("sheltered", 0.2, -0.25, -0.25, -0.45, (3.0 / 10.0) ** 0.30)


class GapFlow(Protocol):
    """A way of driving air through a gap."""

    def loss_coefficient(self, thickness: float) -> float:
        """Local loss coefficients [1], referred to the speed in the gap."""

    def fixed_speed(self, length: float) -> float:
        """Speed [m s-1] where it does not follow from pressure; -1 otherwise."""

    def wind_pressure(
        self, speed: FloatArray, direction: FloatArray, density: FloatArray, azimuth: float
    ) -> FloatArray:
        """Wind pressure at the inlet less that at the outlet. [Pa]."""

    def describe(self) -> str:
        """What the flow is, in words."""


@dataclass(frozen=True, slots=True, init=False)
class ByWindAndBuoyancy:
    """Wind and warmth drive the air, openings and screens resist.

    Parameters
    ----------
    inlet, outlet : str or float
        Open area per metre across the flow, screen not yet taken off; ``"200 cm^2/m"`` or 0.02. [m2 m-1]
    screen : str or float
        Free share of the insect screen at both ends; 1 for none. [1]
    blocked : str or float
        Share of both openings blocked by snow, nests or dirt. [1]
    exposure : Exposure
        `OPEN`, `SEMI_SHELTERED` or `SHELTERED`.
    inlet_bearing : float
        Where the wall with the inlet looks to, as an angle from the outer face's azimuth. [degree]
    outlet_bearing : float, optional
        The same for the outlet; it is on the wall opposite the inlet's where nothing is stated, and 0 where both are in
        the wall that the gap is in. [degree]
    inlet_coefficient, outlet_coefficient : float, optional
        Wind pressure coefficient at that opening from wherever the wind blows, as at a ridge, instead of that of its
        wall under the wind's angle. [1]

    Raises
    ------
    InputError
        Where a value cannot be.

    Notes
    -----
    An area of 0 leaves no way through, and the air stands still. A gap open at one end only exchanges some air through
    that end all the same: state it as `FixedAirChange`, 15 to 25 per hour behind cladding (field hut, British Columbia,
    read as an abstract).

    Behind cladding both openings are in one wall, under nearly the same wind pressure. Over the openings of opposite
    walls, as nothing else is stated, the air is about twice as fast as measured there; ``outlet_bearing=0`` leaves
    buoyancy alone, a quarter of the measured speed, and is the cautious choice.
    """

    inlet: float
    outlet: float
    screen: float
    blocked: float
    exposure: Exposure
    inlet_bearing: float
    outlet_bearing: float | None
    inlet_coefficient: float | None
    outlet_coefficient: float | None

    def __init__(
        self,
        *,
        inlet: str | float,
        outlet: str | float,
        screen: str | float = 1.0,
        blocked: str | float = 0.0,
        exposure: Exposure = SEMI_SHELTERED,
        inlet_bearing: str | float = 0.0,
        outlet_bearing: str | float | None = None,
        inlet_coefficient: float | None = None,
        outlet_coefficient: float | None = None,
    ) -> None:
        for name, stated in (("inlet", inlet), ("outlet", outlet)):
            area = to_si(stated, "area per width", f"Gap opening: {name}")
            if not 0.0 <= area <= 1.0:
                msg = f'Gap opening: {name} is {area:g} m2 per metre; it must lie between 0 and 1. Write "200 cm^2/m".'
                raise InputError(msg)
            object.__setattr__(self, name, area)
        free = to_si(screen, "fraction", "Gap opening: free share of the screen")
        if not 0.05 <= free <= 1.0:
            msg = f"Gap opening: the screen's free share is {free:g}; it must lie between 0.05 and 1 (no screen)."
            raise InputError(msg)
        shut = to_si(blocked, "fraction", "Gap opening: blocked share")
        if not 0.0 <= shut <= 1.0:
            msg = f"Gap opening: the blocked share is {shut:g}; it must lie between 0 and 1."
            raise InputError(msg)
        if not isinstance(exposure, Exposure):
            msg = f"Gap opening: exposure is {exposure!r}; give OPEN, SEMI_SHELTERED, SHELTERED or an Exposure."
            raise InputError(msg)
        object.__setattr__(self, "screen", free)
        object.__setattr__(self, "blocked", shut)
        object.__setattr__(self, "exposure", exposure)
        object.__setattr__(self, "inlet_bearing", to_si(inlet_bearing, "angle", "Gap opening: inlet_bearing"))
        if outlet_bearing is not None:
            outlet_bearing = to_si(outlet_bearing, "angle", "Gap opening: outlet_bearing")
        object.__setattr__(self, "outlet_bearing", outlet_bearing)
        for name, coefficient in (("inlet", inlet_coefficient), ("outlet", outlet_coefficient)):
            object.__setattr__(self, f"{name}_coefficient", _coefficient(coefficient, name))

    def loss_coefficient(self, thickness: float) -> float:
        """Entry, openings with screens, and exit in series [1]; an opening's loss grows with (gap/opening)^2.

        Sharp opening: discharge coefficient 0.6. Screen: woven wire, `screen_loss_woven`, referred to the opening.
        """
        total = ENTRY_LOSS + EXIT_LOSS
        per_opening = ORIFICE_LOSS + screen_loss_woven(self.screen)
        for area in (self.inlet, self.outlet):
            open_area = area * (1.0 - self.blocked)
            if open_area <= 1e-7:
                return SHUT
            total += per_opening * (thickness / open_area) ** 2
        return min(total, SHUT)

    def fixed_speed(self, length: float) -> float:
        """Not fixed."""
        return -1.0

    def wind_pressure(
        self, speed: FloatArray, direction: FloatArray, density: FloatArray, azimuth: float
    ) -> FloatArray:
        """Dynamic pressure at the openings times the difference of their pressure coefficients. [Pa]."""
        difference = self._coefficient_difference(direction - azimuth)
        local = self.exposure.speed_share * speed
        return np.asarray(0.5 * density * local**2 * difference)

    def _coefficient_difference(self, angle: FloatArray) -> FloatArray:
        """Pressure coefficient [1] at the inlet less that at the outlet, by the wind's angle [degree] to the face."""
        if self.outlet_bearing is None and self.inlet_coefficient is None and self.outlet_coefficient is None:
            return self.exposure.pressure_difference(angle - self.inlet_bearing)
        opposite = self.inlet_bearing + 180.0 if self.outlet_bearing is None else self.outlet_bearing
        at_inlet, at_outlet = (
            self.exposure.pressure_coefficient(angle - bearing) if stated is None else np.full_like(angle, stated)
            for bearing, stated in ((self.inlet_bearing, self.inlet_coefficient), (opposite, self.outlet_coefficient))
        )
        return np.asarray(at_inlet - at_outlet)

    def describe_wind(self) -> str:
        """What the wind does at each opening, in words."""
        words = [
            f"{name} under a pressure coefficient of {stated:g} from every side"
            if stated is not None
            else f"{name} in a wall that looks {bearing:g} degrees from the face"
            for name, stated, bearing in (
                ("inlet", self.inlet_coefficient, self.inlet_bearing),
                ("outlet", self.outlet_coefficient, self.outlet_bearing),
            )
            if stated is not None or bearing is not None
        ]
        return ", ".join([*words, *([] if len(words) == 2 else ["outlet in the wall opposite"])])

    def describe(self) -> str:
        """Openings in words."""
        screen = "no screen" if self.screen >= 1.0 else f"screen {100 * self.screen:.0f} % free"
        blocked = f", {100 * self.blocked:.0f} % blocked" if self.blocked else ""
        return (
            f"driven by wind and buoyancy; openings {1e4 * self.inlet:.0f} and {1e4 * self.outlet:.0f} cm² per m, "
            f"{screen}{blocked}, {self.exposure.name} site"
        )


@dataclass(frozen=True, slots=True, init=False)
class FixedAirChange:
    """A stated air change rate, whatever the weather.

    Parameters
    ----------
    rate : str or float
        Air changes of the gap's volume. [h-1]

    Raises
    ------
    InputError
        Where the rate is negative or absurd.
    """

    rate: float

    def __init__(self, rate: str | float) -> None:
        value = to_si(rate, "air change rate", "Gap air change rate")
        if not 0.0 <= value <= 2e4:
            msg = f"Gap air change rate is {value:g} per hour; it must lie between 0 and 20000."
            raise InputError(msg)
        object.__setattr__(self, "rate", value)

    def loss_coefficient(self, thickness: float) -> float:
        """Of no account."""
        return 0.0

    def fixed_speed(self, length: float) -> float:
        """Speed that changes the air at the stated rate. [m s-1]."""
        return self.rate * length / 3600.0

    def wind_pressure(
        self, speed: FloatArray, direction: FloatArray, density: FloatArray, azimuth: float
    ) -> FloatArray:
        """Of no account."""
        return np.zeros_like(speed)

    def describe(self) -> str:
        """Rate in words."""
        return f"{self.rate:g} air changes per hour, fixed"


def _coefficient(value: object, opening: str) -> float | None:
    if value is None:
        return None
    number = to_si(value, "fraction", f"Gap opening: {opening}_coefficient")
    if not abs(number) <= STRONGEST:
        msg = (
            f"Gap opening: {opening}_coefficient is {number:g}; a wind pressure coefficient lies between "
            f"-{STRONGEST:g} and {STRONGEST:g}."
        )
        raise InputError(msg)
    return number


@dataclass(frozen=True, slots=True)
class Closed:
    """No opening: still air."""

    def loss_coefficient(self, thickness: float) -> float:
        """Shut."""
        return SHUT

    def fixed_speed(self, length: float) -> float:
        """No flow."""
        return 0.0

    def wind_pressure(
        self, speed: FloatArray, direction: FloatArray, density: FloatArray, azimuth: float
    ) -> FloatArray:
        """Of no account."""
        return np.zeros_like(speed)

    def describe(self) -> str:
        """Still air in words."""
        return "closed, still air"
