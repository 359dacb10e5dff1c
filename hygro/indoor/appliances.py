"""What moves, dries or buffers the indoor air of a household.

May import: errors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hygro.errors import InputError
from hygro.indoor.air import Array
from hygro.indoor.limits import fraction, within


@dataclass(frozen=True, slots=True)
class Preheat:
    """Frost protection that warms the outdoor air so that the exhaust does not freeze.

    Parameters
    ----------
    exhaust_above : float, optional
        Temperature below which the leaving exhaust air may not fall. [degC]
    """

    exhaust_above: float = 0.0

    def __post_init__(self) -> None:
        within(self.exhaust_above, -10.0, 10.0, "Preheat: lowest exhaust temperature", "degC")

    def apply(self, outdoor: Array, indoor: Array, effectiveness: float) -> tuple[Array, Array]:
        """Temperature of the air that enters the exchanger [degC] and share of the time it runs [1]."""
        if effectiveness == 0.0:
            return outdoor, np.ones_like(outdoor)
        needed = indoor - (indoor - self.exhaust_above) / effectiveness
        return np.maximum(outdoor, np.minimum(needed, indoor)), np.ones_like(outdoor)


@dataclass(frozen=True, slots=True)
class Recirculate:
    """Frost protection that stops the outdoor air for a share of the time and thaws with room air.

    Parameters
    ----------
    share : float or str
        Share of the time without outdoor air while the exhaust would freeze. [1]
    exhaust_above : float, optional
        Temperature of the leaving exhaust air below which it starts. [degC]
    """

    share: float
    exhaust_above: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", fraction(self.share, "Recirculate: share of the time"))
        within(self.exhaust_above, -10.0, 10.0, "Recirculate: lowest exhaust temperature", "degC")

    def apply(self, outdoor: Array, indoor: Array, effectiveness: float) -> tuple[Array, Array]:
        """Temperature of the air that enters the exchanger [degC] and share of the time it runs [1]."""
        exhaust = indoor - effectiveness * (indoor - outdoor)
        return outdoor, np.where(exhaust < self.exhaust_above, 1.0 - self.share, 1.0)


@dataclass(frozen=True, slots=True)
class Ventilator:
    """A balanced ventilator with recovery of heat and, if it can, of moisture.

    Parameters
    ----------
    flow : float
        Outdoor air supplied, at room temperature; 0.01 is 10 l/s. [m3 s-1]
    heat_recovery : float or str
        Sensible effectiveness, 0 for none. [1]
    moisture_recovery : float or str
        Effectiveness for moisture, 0 for a plain heat exchanger. [1]
    frost_protection : Preheat or Recirculate or None, optional
        What it does when the exhaust would freeze; None lets it run on, as if it never iced up.
    schedule : tuple of 24 float, optional
        Share of the flow in each hour of the day, the first from 00:00 to 01:00; always all of it without. [1]
    """

    flow: float
    heat_recovery: float
    moisture_recovery: float
    frost_protection: Preheat | Recirculate | None = None
    schedule: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        within(self.flow, 0.0, 10.0, "Ventilator: flow (10 l/s is 0.01)", "m3 s-1")
        for name in ("heat_recovery", "moisture_recovery"):
            number = fraction(getattr(self, name), f"Ventilator: {name.replace('_', ' ')}")
            object.__setattr__(self, name, number)
        if self.frost_protection is not None and not isinstance(self.frost_protection, (Preheat, Recirculate)):
            msg = (
                f"Ventilator: frost protection is {self.frost_protection!r}; write Preheat(), Recirculate(...) or None."
            )
            raise InputError(msg)
        if not isinstance(self.schedule, tuple) or len(self.schedule) not in (0, 24):
            msg = (
                f"Ventilator: schedule is {self.schedule!r}; give 24 shares of the flow, one for each hour of the day."
            )
            raise InputError(msg)
        shares = tuple(fraction(share, f"Ventilator: schedule at {h}:00") for h, share in enumerate(self.schedule))
        object.__setattr__(self, "schedule", shares)

    def day(self) -> Array:
        """Share of the flow in each hour of the day, shape (24,). [1]."""
        return np.array(self.schedule) if self.schedule else np.ones(24)

    def entering(self, outdoor: Array, indoor: Array) -> tuple[Array, Array]:
        """Temperature of the air that enters the exchanger [degC] and share of the time it runs [1]."""
        if self.frost_protection is None:
            return outdoor, np.ones_like(outdoor)
        return self.frost_protection.apply(outdoor, indoor, self.heat_recovery)


@dataclass(frozen=True, slots=True)
class ExtractFan:
    """A fan that blows indoor air out; outdoor air leaks in for it.

    Parameters
    ----------
    flow : float
        Air extracted; 0.025 is 25 l/s. [m3 s-1]
    hours : tuple of int
        Hours of the day in which it runs.
    """

    flow: float
    hours: tuple[int, ...]

    def __post_init__(self) -> None:
        within(self.flow, 0.0, 10.0, "Extract fan: flow (25 l/s is 0.025)", "m3 s-1")
        if not all(isinstance(hour, int) and 0 <= hour <= 23 for hour in self.hours):
            msg = f"Extract fan: hours are {self.hours!r}; write hours of the day from 0 to 23, such as (7, 18)."
            raise InputError(msg)


@dataclass(frozen=True, slots=True)
class Dehumidifier:
    """A dehumidifier that holds a relative humidity as far as its capacity allows.

    Parameters
    ----------
    set_point : float or str
        Relative humidity that it holds. [1]
    capacity : float
        Water that it can remove, taken as constant. [kg h-1]
    """

    set_point: float
    capacity: float

    def __post_init__(self) -> None:
        set_point = fraction(self.set_point, "Dehumidifier: set point")
        object.__setattr__(self, "set_point", within(set_point, 0.2, 1.0, "Dehumidifier: set point", "1"))
        within(self.capacity, 0.0, 20.0, "Dehumidifier: capacity", "kg h-1")


@dataclass(frozen=True, slots=True)
class Buffer:
    """Surfaces that take up and give off vapour: bare wood, plaster, furnishings.

    Parameters
    ----------
    area : float
        Area that the air reaches. [m2]
    capacity : float
        Water taken up from 0 to 100 % relative humidity, by the depth that a day reaches. A material with a moisture
        buffer value of 1 g/(m2 %RH) takes 0.1. [kg m-2]
    conductance : float, optional
        Vapour conductance from the air to the depth that takes part. The default is that of a bare surface in calm air
        (3 W m-2 K-1, by the Lewis relation). [kg m-2 s-1 Pa-1]
    """

    area: float
    capacity: float
    conductance: float = 2e-8

    def __post_init__(self) -> None:
        within(self.area, 0.0, 1e4, "Buffer: area", "m2")
        within(self.capacity, 1e-4, 100.0, "Buffer: capacity", "kg m-2")
        within(self.conductance, 1e-12, 1e-6, "Buffer: conductance", "kg m-2 s-1 Pa-1")
