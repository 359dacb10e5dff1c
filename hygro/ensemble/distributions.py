"""How an uncertain input is spread: small frozen objects, each a function from a share of all cases to a value.

May import: errors, units, vary.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any, Final, Protocol, Self

import numpy as np

from hygro.errors import InputError
from hygro.units import to_si
from hygro.vary import Input

_NORMAL: Final = NormalDist()
_MOST_SCATTER: Final = 1.0  # [1] a coefficient of variation above it says that nothing is known
_MOST_FACTOR: Final = 100.0  # [1]


class Distribution(Protocol):
    """How an input is spread."""

    def read(self, one: Input) -> Self:
        """Read what was stated as text in the unit of an input."""
        ...

    def at(self, share: float, now: Any) -> Any:
        """Value that the stated share of cases stays below, from the value that the variant has now."""
        ...

    def describe(self, one: Input) -> str:
        """Say the distribution in words of the trade."""
        ...


@dataclass(frozen=True, slots=True)
class Uniform:
    """Anything between two values, each as likely.

    Parameters
    ----------
    low, high : float or str
        The ends. [unit of the input]

    Raises
    ------
    InputError
        Where the ends are no range.
    """

    low: float | str
    high: float | str

    def __post_init__(self) -> None:
        _rising((self.low, self.high), "Uniform: low and high")

    def read(self, one: Input) -> Uniform:
        """Uniform distribution with numbers in the unit of an input."""
        return Uniform(one.number(self.low), one.number(self.high))

    def at(self, share: float, now: Any) -> float:
        """Low + share (high - low), in the unit of the input."""
        low, high = float(self.low), float(self.high)
        return low + share * (high - low)

    def describe(self, one: Input) -> str:
        """Say the ends."""
        return f"anything from {one.say(self.low)} to {one.say(self.high)}"


@dataclass(frozen=True, slots=True)
class Triangular:
    """Between two values, one in between the likeliest.

    Parameters
    ----------
    low, likeliest, high : float or str
        Ends and peak. [unit of the input]

    Raises
    ------
    InputError
        Where they do not rise.
    """

    low: float | str
    likeliest: float | str
    high: float | str

    def __post_init__(self) -> None:
        _rising((self.low, self.likeliest, self.high), "Triangular: low, likeliest and high")

    def read(self, one: Input) -> Triangular:
        """Triangular distribution with numbers in the unit of an input."""
        return Triangular(one.number(self.low), one.number(self.likeliest), one.number(self.high))

    def at(self, share: float, now: Any) -> float:
        """Inverse of the triangular distribution function, in the unit of the input."""
        low, peak, high = float(self.low), float(self.likeliest), float(self.high)
        if share * (high - low) < peak - low:
            return low + math.sqrt(share * (high - low) * (peak - low))
        return high - math.sqrt((1.0 - share) * (high - low) * (high - peak))

    def describe(self, one: Input) -> str:
        """Say ends and peak."""
        return f"from {one.say(self.low)} to {one.say(self.high)}, likeliest {one.say(self.likeliest)}"


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal distribution, cut off at ends where stated.

    Parameters
    ----------
    mean : float or str
        Mean before it is cut. [unit of the input]
    deviation : float or str
        Standard deviation before it is cut. [unit of the input]
    low, high : float or str, optional
        Nothing lies beyond. [unit of the input]

    Raises
    ------
    InputError
        Where the deviation is not positive, or the mean lies outside the ends.
    """

    mean: float | str
    deviation: float | str
    low: float | str | None = None
    high: float | str | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.deviation, str) and not 0.0 < float(self.deviation) < math.inf:
            msg = f"Normal: deviation is {self.deviation!r}; it must be above 0."
            raise InputError(msg)
        ends = [end for end in (self.low, self.mean, self.high) if end is not None]
        if len(ends) > 1:
            _rising(tuple(ends), "Normal: low, mean and high")

    def read(self, one: Input) -> Normal:
        """Normal distribution with numbers in the unit of an input."""
        low, high = (None if end is None else one.number(end) for end in (self.low, self.high))
        return Normal(one.number(self.mean), one.number(self.deviation), low, high)

    def at(self, share: float, now: Any) -> float:
        """Inverse of the (cut) normal distribution function, in the unit of the input."""
        mean, deviation = float(self.mean), float(self.deviation)
        below = 0.0 if self.low is None else _NORMAL.cdf((float(self.low) - mean) / deviation)
        until = 1.0 if self.high is None else _NORMAL.cdf((float(self.high) - mean) / deviation)
        return mean + deviation * _NORMAL.inv_cdf(below + share * (until - below))

    def describe(self, one: Input) -> str:
        """Say mean, deviation and ends."""
        if self.low is None and self.high is None:
            return f"{one.say(self.mean)}, standard deviation {one.say(self.deviation)}"
        ends = [
            f"{word} {one.say(end)}"
            for word, end in (("at least", self.low), ("at most", self.high))
            if end is not None
        ]
        return f"{one.say(self.mean)}, standard deviation {one.say(self.deviation)}, {' and '.join(ends)}"


@dataclass(frozen=True, slots=True)
class LogNormal:
    r"""Lognormal distribution: above zero, with a long tail upwards, as leaks have.

    .. math:: x = m f^z, \quad z \text{ standard normal}

    Parameters
    ----------
    median : float or str
        Half of all cases lie below. [unit of the input]
    factor : float
        Two thirds of all cases lie between the median divided by it and the median times it. [1]

    Raises
    ------
    InputError
        Where the median is not positive or the factor not above 1.
    """

    median: float | str
    factor: float

    def __post_init__(self) -> None:
        if not isinstance(self.median, str) and not 0.0 < float(self.median) < math.inf:
            msg = f"LogNormal: median is {self.median!r}; it must be above 0."
            raise InputError(msg)
        if isinstance(self.factor, bool | str) or not 1.0 < float(self.factor) <= _MOST_FACTOR:
            msg = f"LogNormal: factor is {self.factor!r}; it must be a number above 1 and at most {_MOST_FACTOR:g}."
            raise InputError(msg)

    def read(self, one: Input) -> LogNormal:
        """Lognormal distribution with a number in the unit of an input."""
        return LogNormal(one.number(self.median), self.factor)

    def at(self, share: float, now: Any) -> float:
        """Median times the factor to the power of the normal deviate, in the unit of the input."""
        return float(self.median) * math.exp(math.log(self.factor) * _NORMAL.inv_cdf(share))

    def describe(self, one: Input) -> str:
        """Say median and the middle two thirds."""
        median = float(self.median)
        return (
            f"half below {one.say(median)}, two thirds between {one.say(median / self.factor)} and "
            f"{one.say(median * self.factor)}"
        )


@dataclass(frozen=True, slots=True)
class Scatter:
    r"""Scatter around the value that the variant states, which stays the mean.

    .. math:: x = x_0 \exp(s z - s^2/2), \quad s^2 = \ln(1 + v^2)

    Lognormal, so that nothing turns negative.

    Parameters
    ----------
    variation : float or str
        Coefficient of variation v: standard deviation over mean. [1]
    source : str, optional
        Where it comes from, and how sure that is.

    Raises
    ------
    InputError
        Where it is not above 0 and at most 1.
    """

    variation: float | str
    source: str = "stated by the user"

    def __post_init__(self) -> None:
        number = to_si(self.variation, "fraction", "Scatter: coefficient of variation")
        if not 0.0 < number <= _MOST_SCATTER:
            guess = f' Did you mean "{number:g} %"?' if 1.0 < number <= 100.0 else ""
            msg = (
                f"Scatter: the coefficient of variation is {self.variation!r}; it must be above 0 and at most 1.{guess}"
            )
            raise InputError(msg)
        object.__setattr__(self, "variation", number)

    def read(self, one: Input) -> Scatter:
        """Scatter has no unit."""
        return replace(self)

    def at(self, share: float, now: Any) -> float:
        """The value now times a lognormal factor with mean 1, in the unit of the input."""
        if isinstance(now, bool) or not isinstance(now, int | float):
            msg = f"Scatter needs a number to scatter around; the variant has {now!r}. Use another distribution."
            raise InputError(msg)
        if now <= 0.0:
            msg = f"Scatter is a share of the value, which is {now:g}; it needs a value above 0. Use Normal instead."
            raise InputError(msg)
        spread = math.sqrt(math.log1p(float(self.variation) ** 2))
        return float(now) * math.exp(spread * _NORMAL.inv_cdf(share) - 0.5 * spread**2)

    def describe(self, one: Input) -> str:
        """Say the coefficient of variation and its source."""
        return f"scatters by {100.0 * float(self.variation):.3g} % around what is stated ({self.source})"


@dataclass(frozen=True, slots=True, init=False)
class Choice:
    """One of several: materials, finishes, or numbers; climates in Python.

    Parameters
    ----------
    values : sequence
        At least two that differ.
    weights : sequence of float, optional
        How likely each is, in any unit; the same by default. [1]

    Raises
    ------
    InputError
        Where there are fewer than two different values, or a weight is not positive.
    """

    values: tuple[Any, ...]
    weights: tuple[float, ...]

    def __init__(self, values: Sequence[Any], weights: Sequence[float] | None = None) -> None:
        listed = tuple(values) if not isinstance(values, str) else (values,)
        if len(listed) < 2 or any(one == other for at, one in enumerate(listed) for other in listed[:at]):
            msg = f"Choice: values are {listed!r:.200}; list at least two that differ from each other."
            raise InputError(msg)
        shares = (1.0,) * len(listed) if weights is None else tuple(float(weight) for weight in weights)
        if len(shares) != len(listed) or not all(0.0 < share < math.inf for share in shares):
            msg = f"Choice: weights are {weights!r}; give one number above 0 for each of the {len(listed)} values."
            raise InputError(msg)
        object.__setattr__(self, "values", listed)
        object.__setattr__(self, "weights", shares)

    def read(self, one: Input) -> Choice:
        """Values are put as they are stated."""
        return self

    def place(self, share: float) -> int:
        """Number of the value, counted from 0, that a share of cases falls on."""
        ends = np.cumsum(self.weights) / sum(self.weights)
        return min(int(np.searchsorted(ends, share, side="right")), len(self.values) - 1)

    def at(self, share: float, now: Any) -> Any:
        """Value that a share of cases falls on."""
        return self.values[self.place(share)]

    def describe(self, one: Input) -> str:
        """Say the values and how likely they are."""
        total = sum(self.weights)
        pairs = zip(self.values, self.weights, strict=True)
        return "one of " + ", ".join(f"{one.say(value)} ({100 * weight / total:.3g} %)" for value, weight in pairs)


def _rising(values: tuple[float | str, ...], what: str) -> None:
    """Refuse numbers that do not rise; text is judged once its unit is known."""
    if any(isinstance(value, str) for value in values):
        return
    numbers = [float(value) for value in values]
    if not all(math.isfinite(number) for number in numbers) or any(np.diff(numbers) <= 0.0):
        msg = f"{what} are {', '.join(f'{number:g}' for number in numbers)}; they must be numbers that rise."
        raise InputError(msg)
