"""Ranges that the indoor models accept, each checked with a message in the user's words.

May import: errors, units.
"""

from __future__ import annotations

from numbers import Real

from hygro.errors import InputError
from hygro.units import to_si


def within(value: object, lowest: float, highest: float, what: str, unit: str) -> float:
    """Check a plain number inside a range.

    Raises
    ------
    InputError
        Where it is no finite number or lies outside.
    """
    if isinstance(value, bool) or not isinstance(value, Real) or not lowest <= float(value) <= highest:
        msg = f"{what} is {value!r}; it must be a number from {lowest:g} to {highest:g} [{unit}]."
        raise InputError(msg)
    return float(value)


def fraction(value: object, what: str) -> float:
    """Check a fraction from 0 to 1; text such as ``"50 %"`` is read.

    Raises
    ------
    InputError
        Where it lies outside; numbers above 1 are taken for percent in the hint.
    """
    number = to_si(value, "fraction", what)
    if not 0.0 <= number <= 1.0:
        meant = 1.0 < number <= 100.0 and "%" not in str(value)
        hint = f' Did you mean "{number:g} %"?' if meant else ""
        msg = f"{what} is {value!r}; it must be a fraction from 0 to 1.{hint}"
        raise InputError(msg)
    return number


def temperature_within(value: object, what: str, lowest: float = -50.0, highest: float = 50.0) -> float:
    """Check a temperature inside a range; text such as ``"68 degF"`` is read.

    Raises
    ------
    InputError
        Where it lies outside.
    """
    number = to_si(value, "temperature", f"{what}: temperature")
    if not lowest <= number <= highest:
        hint = ' Did you mean degF? Write "68 degF".' if number > highest else ""
        msg = f"{what}: temperature is {value!r}; it must be from {lowest:g} to {highest:g} degC.{hint}"
        raise InputError(msg)
    return number
