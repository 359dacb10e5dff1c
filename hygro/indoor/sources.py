"""What gives off vapour and carbon dioxide indoors, each over the hours of a week.

Hours of the day are those of the record's clock; hour 7 is from 07:00 to 08:00. Day 0 is Monday. Figures marked "looked
up" come from public tables of household moisture (pints of 0.473 l) and vary by a factor of two between homes; measured
values tend to be lower.

May import: errors, constants.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Protocol

import numpy as np

from hygro.errors import InputError
from hygro.indoor.air import Array
from hygro.indoor.limits import within

EVERY_DAY: Final = (0, 1, 2, 3, 4, 5, 6)
SHOWER: Final = 0.24  # [kg] 5 minutes, 0.5 pint, Angell and Olson 1988 (looked up)
FAMILY_DINNER: Final = 0.57  # [kg] 1.2 pints, Angell and Olson 1988 (looked up); gas adds 0.76 kg, see Flame instead
LAUNDRY_LOAD: Final = 2.2  # [kg] dried indoors, 4.7 pints, Angell and Olson 1988 (looked up)
POTTED_PLANT: Final = 0.010  # [kg h-1] 7 to 15 g/h each (looked up)
CARBON_MONOXIDE: Final = (
    "Caution: an unvented flame can kill by carbon monoxide, which this balance does not compute, and uses up oxygen. "
    "Fit an alarm, follow the appliance's instructions and local codes, and ask a licensed fitter."
)

_SECONDS: Final = 3600.0


class Source(Protocol):
    """Anything that gives off vapour and carbon dioxide over a week."""

    def vapour(self) -> Array:
        """Vapour in each hour of the week, shape (7, 24). [kg s-1]."""
        ...

    def carbon_dioxide(self) -> Array:
        """Carbon dioxide in each hour of the week at room temperature, shape (7, 24). [m3 s-1]."""
        ...


@dataclass(frozen=True, slots=True)
class People:
    """People at home.

    Parameters
    ----------
    count : float
        Number of people. [1]
    asleep : tuple of int, optional
        Hours of the day in which they sleep.
    away : tuple of int, optional
        Hours of the day in which they are out.
    vapour_awake, vapour_asleep : float, optional
        Vapour of one person. Sedentary people give off 0.04 to 0.06 (looked up); asleep the lower end is taken, by
        common practice. [kg h-1]
    activity_awake, activity_asleep : float, optional
        Metabolic rate, which sets the carbon dioxide. [met]
    """

    count: float
    asleep: tuple[int, ...] = (22, 23, 0, 1, 2, 3, 4, 5)
    away: tuple[int, ...] = ()
    vapour_awake: float = 0.05
    vapour_asleep: float = 0.04
    activity_awake: float = 1.2
    activity_asleep: float = 0.8

    def __post_init__(self) -> None:
        within(self.count, 0.0, 100.0, "People: count", "1")
        _hours(self.asleep, "People: hours asleep")
        _hours(self.away, "People: hours away")
        both = sorted(set(self.asleep) & set(self.away))
        if both:
            msg = f"People: hours {both} are both asleep and away; each hour can be one of them. Take them out of one."
            raise InputError(msg)
        for name in ("vapour_awake", "vapour_asleep"):
            within(getattr(self, name), 0.0, 1.0, f"People: {name.replace('_', ' ')}", "kg h-1")
        for name in ("activity_awake", "activity_asleep"):
            within(getattr(self, name), 0.5, 10.0, f"People: {name.replace('_', ' ')}", "met")

    def _week(self, awake: float, asleep: float) -> Array:
        day = np.full(24, awake)
        day[list(self.asleep)] = asleep
        day[list(self.away)] = 0.0
        return np.tile(self.count * day, (7, 1))

    def vapour(self) -> Array:
        """Vapour in each hour of the week, shape (7, 24). [kg s-1]."""
        return self._week(self.vapour_awake / _SECONDS, self.vapour_asleep / _SECONDS)

    def carbon_dioxide(self) -> Array:
        """Carbon dioxide in each hour of the week, shape (7, 24). [m3 s-1]."""
        return self._week(person_carbon_dioxide(self.activity_awake), person_carbon_dioxide(self.activity_asleep))


def person_carbon_dioxide(activity: float, *, body_surface: float = 1.8, respiratory_quotient: float = 0.83) -> float:
    r"""Carbon dioxide that one person breathes out.

    .. math:: V_{CO_2} = RQ \frac{0.00276 A_D M}{0.23 RQ + 0.77}

    Parameters
    ----------
    activity : float
        Metabolic rate M: 0.8 asleep, 1.2 at light office work. [met]
    body_surface : float, optional
        Body surface. [m2]
    respiratory_quotient : float, optional
        Carbon dioxide given off per oxygen taken in. [1]

    Returns
    -------
    float
        Volume flow. [m3 s-1]

    References
    ----------
    ASTM D6245 and ASHRAE 62.1 (from memory).

    Notes
    -----
    Persily and de Jonge 2017, Indoor Air 27:868-879 (from memory) start from the energy of a resting body. At 1.2 met
    and 20 degC that is 5 % less for a man of 40 and 87 kg, and 16 % less for the mean of him and a woman of 76 kg: this
    equation errs on the stale side. Asleep, where they take 0.95 met in place of 0.8, both agree.
    """
    oxygen = 0.00276 * body_surface * activity / (0.23 * respiratory_quotient + 0.77)  # [l s-1]
    return 1e-3 * respiratory_quotient * oxygen


@dataclass(frozen=True, slots=True)
class MoistureEvent:
    """Vapour from an activity at fixed hours: a shower, cooking, laundry, plants.

    Parameters
    ----------
    name : str
        What it is.
    amount : float
        Vapour given off each time, spread over the hours; constants of this module list usual amounts. [kg]
    hours : tuple of int
        Hours of the day over which it is given off.
    days : tuple of int, optional
        Days of the week, 0 for Monday.
    """

    name: str
    amount: float
    hours: tuple[int, ...]
    days: tuple[int, ...] = EVERY_DAY

    def __post_init__(self) -> None:
        within(self.amount, 0.0, 50.0, f"Moisture event '{self.name}': amount", "kg")
        _hours(self.hours, f"Moisture event '{self.name}': hours", empty=False)
        if not self.days or not set(self.days) <= set(EVERY_DAY) or len(set(self.days)) != len(self.days):
            msg = f"Moisture event '{self.name}': days are {self.days!r}; write numbers from 0 (Monday) to 6 (Sunday)."
            raise InputError(msg)

    def vapour(self) -> Array:
        """Vapour in each hour of the week, shape (7, 24). [kg s-1]."""
        week = np.zeros((7, 24))
        week[np.ix_(list(self.days), list(self.hours))] = self.amount / (len(self.hours) * _SECONDS)
        return week

    def carbon_dioxide(self) -> Array:
        """None, shape (7, 24). [m3 s-1]."""
        return np.zeros((7, 24))


def showers(count: float, hours: tuple[int, ...]) -> MoistureEvent:
    """Showers of five minutes.

    Parameters
    ----------
    count : float
        How many a day; two of ten minutes count as four. [1]
    hours : tuple of int
        Hours of the day over which they are spread.

    Returns
    -------
    MoistureEvent
        0.24 kg each.

    References
    ----------
    Angell and Olson 1988 (looked up); measured values tend to be lower.
    """
    return MoistureEvent("showers", _times(count, SHOWER, "Showers: count"), hours)


def cooking(meals: float, hours: tuple[int, ...]) -> MoistureEvent:
    """Cooking of family dinners, without what a gas flame adds (see `Flame`).

    Parameters
    ----------
    meals : float
        Dinners for four a day; a breakfast is about a third of one by common practice. [1]
    hours : tuple of int
        Hours of the day over which they are spread.

    Returns
    -------
    MoistureEvent
        0.57 kg each.

    References
    ----------
    Angell and Olson 1988 (looked up).
    """
    return MoistureEvent("cooking", _times(meals, FAMILY_DINNER, "Cooking: meals"), hours)


def drying_laundry(loads: float, hours: tuple[int, ...], days: tuple[int, ...]) -> MoistureEvent:
    """Laundry hung up indoors.

    Parameters
    ----------
    loads : float
        Loads on each of the days. [1]
    hours : tuple of int
        Hours of the day over which it dries.
    days : tuple of int
        Days of the week, 0 for Monday.

    Returns
    -------
    MoistureEvent
        2.2 kg each.

    References
    ----------
    Angell and Olson 1988 (looked up); well spun laundry gives off less.
    """
    return MoistureEvent("drying laundry", _times(loads, LAUNDRY_LOAD, "Drying laundry: loads"), hours, days)


def plants(count: float) -> MoistureEvent:
    """Potted plants, day and night.

    Parameters
    ----------
    count : float
        How many of middle size. [1]

    Returns
    -------
    MoistureEvent
        10 g/h each.

    References
    ----------
    7 to 15 g/h in public tables of household moisture (looked up); Angell and Olson 1988 (looked up) have about 3 g/h,
    so that this is on the damp side.
    """
    return MoistureEvent("plants", _times(count, 24.0 * POTTED_PLANT, "Plants: count"), tuple(range(24)))


def _times(count: float, each: float, what: str) -> float:
    return each * within(count, 0.0, 100.0, what, "1")


@dataclass(frozen=True, slots=True)
class Fuel:
    """What burning a fuel gives off.

    Parameters
    ----------
    name : str
        Name of the fuel.
    water : float
        Water per mass of fuel. [kg kg-1]
    carbon_dioxide : float
        Carbon dioxide per mass of fuel. [kg kg-1]
    heat : float
        Lower heating value. [J kg-1]
    """

    name: str
    water: float
    carbon_dioxide: float
    heat: float


# Water and carbon dioxide by stoichiometry; propane's heating value from a handbook, the others from memory.
FUELS: Final[Mapping[str, Fuel]] = MappingProxyType(
    {
        one.name: one
        for one in (
            Fuel("propane", 1.634, 2.994, 46.35e6),
            Fuel("butane", 1.550, 3.029, 45.7e6),
            Fuel("methane", 2.246, 2.743, 50.0e6),
            Fuel("ethanol", 1.173, 1.911, 26.8e6),
            Fuel("kerosene", 1.375, 3.100, 43.0e6),
        )
    }
)
_CARBON_DIOXIDE_DENSITY: Final = 1.829  # [kg m-3] 44.01e-3 kg/mol at 20 degC and 101325 Pa, ideal gas


@dataclass(frozen=True, slots=True)
class Flame:
    """A flame without a flue: cooker, heater or lamp.

    Parameters
    ----------
    fuel : str
        One of the names in ``FUELS``.
    power : float
        Heat given off, by the lower heating value. [W]
    hours : tuple of int
        Hours of the day in which it burns.
    """

    fuel: str
    power: float
    hours: tuple[int, ...]

    def __post_init__(self) -> None:
        if self.fuel not in FUELS:
            known = ", ".join(f"'{name}'" for name in FUELS)
            msg = f"Flame: no fuel {self.fuel!r}. Known: {known}."
            raise InputError(msg)
        within(self.power, 0.0, 1e5, f"Flame of {self.fuel}: power", "W")
        _hours(self.hours, f"Flame of {self.fuel}: hours", empty=False)

    def _week(self, each: float) -> Array:
        week = np.zeros((7, 24))
        week[:, list(self.hours)] = each * self.power / FUELS[self.fuel].heat
        return week

    def vapour(self) -> Array:
        """Vapour in each hour of the week, shape (7, 24). [kg s-1]."""
        return self._week(FUELS[self.fuel].water)

    def carbon_dioxide(self) -> Array:
        """Carbon dioxide in each hour of the week, shape (7, 24). [m3 s-1]."""
        return self._week(FUELS[self.fuel].carbon_dioxide / _CARBON_DIOXIDE_DENSITY)


def _hours(hours: tuple[int, ...], what: str, *, empty: bool = True) -> None:
    if (
        not isinstance(hours, tuple)
        or (not hours and not empty)
        or not all(isinstance(hour, int) and 0 <= hour <= 23 for hour in hours)
        or len(set(hours)) != len(hours)
    ):
        msg = f"{what} are {hours!r}; write hours of the day once each, such as (7, 8) for 07:00 to 09:00."
        raise InputError(msg)
