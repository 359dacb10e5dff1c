"""Curves of material properties: tables and functions, read at the door and checked before anything runs on them.

A curve is stated as rows or as a function of a numpy array. Rows become a `Table`, which is hashable. Every
complaint names the material, the row and the remedy. May import: errors, units, numpy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from numbers import Real
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hygro.errors import InputError, MaterialError
from hygro.units import to_si

Array: TypeAlias = NDArray[np.float64]
Function: TypeAlias = Callable[[Array], Array]
Rows: TypeAlias = Iterable[Iterable[Any]]
Interpolation: TypeAlias = Literal["linear", "smooth", "log y", "log log", "log x"]

LOWEST_ACTIVITY = 1.0e-6  # below it a curve keeps its value: ln(0) has no business in a material
LOWEST_SUCTION = 1.0  # [Pa] 0.1 mm of water head; below it a curve keeps its value, for the same reason


@dataclass(frozen=True, slots=True)
class Table:
    """Interpolated rows.

    Outside the rows the nearest row's value holds. ``smooth`` is the monotone piecewise cubic: where the rows rise,
    the curve rises, and its slope has no jumps.

    Parameters
    ----------
    x, y : tuple of float, shape (n_row,)
        The rows; `x` rises strictly.
    interpolation : {"linear", "smooth", "log y", "log log", "log x"}
        Which of the two axes is taken as its logarithm between rows; ``"linear"`` and ``"smooth"`` take neither.

    References
    ----------
    Fritsch and Butland (1984), A method for constructing local monotone piecewise cubic interpolants, SIAM Journal on
    Scientific and Statistical Computing 5(2), 300-304.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    interpolation: Interpolation = "linear"

    def __call__(self, at: ArrayLike) -> Array:
        """Value at `at`, any shape."""
        # Not np.clip, which takes longer to begin than the few values of most calls take.
        place = np.minimum(np.maximum(np.asarray(at, dtype=float), self.x[0]), self.x[-1])
        if self.interpolation == "smooth":
            return self._cubic(place)
        x, y = np.array(self.x), np.array(self.y)
        if self.interpolation in ("log x", "log log"):
            x, place = np.log(x), np.log(place)
        if self.interpolation in ("log y", "log log"):
            return np.asarray(np.exp(np.interp(place, x, np.log(y))))
        return np.asarray(np.interp(place, x, y))

    def _cubic(self, place: Array) -> Array:
        x, y, slope = _sloped(self.x, self.y)
        i = np.minimum(np.searchsorted(x, place, side="right") - 1, x.size - 2)
        h = x[i + 1] - x[i]
        t = (place - x[i]) / h
        return np.asarray(
            y[i] * (1.0 + 2.0 * t) * (1.0 - t) ** 2
            + h * slope[i] * t * (1.0 - t) ** 2
            + y[i + 1] * t**2 * (3.0 - 2.0 * t)
            + h * slope[i + 1] * t**2 * (t - 1.0)
        )


@lru_cache(maxsize=256)
def _sloped(x: tuple[float, ...], y: tuple[float, ...]) -> tuple[Array, Array, Array]:
    """Rows and the slopes at them: kept, since the same curve is asked anew for each member of an ensemble."""
    rows = np.array(x), np.array(y)
    return *rows, _monotone_slopes(*rows)


def _monotone_slopes(x: Array, y: Array) -> Array:
    """Slopes at the rows that keep a piecewise cubic monotone (weighted harmonic mean of the neighbours)."""
    h, d = np.diff(x), np.diff(y) / np.diff(x)
    if x.size == 2:
        return np.array([d[0], d[0]])
    slope = np.zeros_like(x)
    same_sign = d[:-1] * d[1:] > 0.0
    w_left, w_right = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    left, right = np.where(same_sign, d[:-1], 1.0), np.where(same_sign, d[1:], 1.0)
    slope[1:-1] = np.where(same_sign, (w_left + w_right) / (w_left / left + w_right / right), 0.0)
    slope[0] = _end_slope(h[0], h[1], d[0], d[1])
    slope[-1] = _end_slope(h[-1], h[-2], d[-1], d[-2])
    return slope


def _end_slope(h_near: float, h_next: float, d_near: float, d_next: float) -> float:
    slope = ((2.0 * h_near + h_next) * d_near - h_near * d_next) / (h_near + h_next)
    if slope * d_near <= 0.0:
        return 0.0
    if d_near * d_next <= 0.0 and abs(slope) > 3.0 * abs(d_near):
        return 3.0 * d_near
    return slope


@dataclass(frozen=True, slots=True)
class Scaled:
    """A curve times a number: how a curve by mass becomes one by volume."""

    curve: Function
    factor: float

    def __call__(self, at: Array) -> Array:
        """Value at `at`, any shape."""
        return np.asarray(self.factor * self.curve(at))


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of a stated table: what it is called, its kind of quantity and its bounds."""

    name: str
    dimension: str
    lowest: float = 0.0
    highest: float = math.inf
    lowest_allowed: bool = True


ACTIVITY = Axis("relative humidity", "fraction", 0.0, 1.0)
SUCTION = Axis("suction", "pressure", 0.0, lowest_allowed=False)


def number(value: object, dimension: str, what: str) -> float:
    """SI number behind a statement; what `units.to_si` refuses is a `MaterialError`."""
    try:
        return to_si(value, dimension, what)
    except InputError as error:
        raise MaterialError(str(error)) from error.__cause__
    except (TypeError, ValueError, OverflowError) as error:  # objects that only look like numbers
        msg = f"{what} is {value!r:.60}, which is not a number that can be used. Write a number or text with a unit."
        raise MaterialError(msg) from error


def numbers(value: ArrayLike, what: str) -> Array:
    """Float array behind what was passed to a closed form; anything else is a `MaterialError`."""
    try:
        return np.asarray(value, dtype=float)
    except (TypeError, ValueError, OverflowError) as error:
        msg = f"{what} is {value!r:.60}, which is not a number or an array of numbers."
        raise MaterialError(msg) from error


def is_number(stated: object) -> bool:
    """Whether a statement is one number of any kind (a numpy scalar as well)."""
    if isinstance(stated, np.ndarray):
        return stated.shape == () and stated.dtype.kind in "iuf"
    return isinstance(stated, Real)


def read_rows(rows: object, x: Axis, y: Axis, what: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Rows as two SI tuples, `x` rising strictly.

    Parameters
    ----------
    rows : iterable of pairs
        ``[(x, y), ...]``, SI numbers or text with units; an array or a data frame of two columns will do.
    x, y : Axis
        What the columns are.
    what : str
        How to name the curve in an error.

    Returns
    -------
    tuple of tuple of float
        The two columns. [SI units of the axes]

    Raises
    ------
    MaterialError
        Naming the row, for anything that is not a pair of numbers within bounds in rising order.
    """
    for converter in ("to_numpy", "tolist"):
        if hasattr(rows, converter):
            rows = getattr(rows, converter)()
    if isinstance(rows, str) or not isinstance(rows, Iterable):
        msg = f"{what} is {rows!r}; give rows [({x.name}, {y.name}), ...] or a function of a numpy array."
        raise MaterialError(msg)
    pairs: list[tuple[float, float]] = []
    for n, row in enumerate(rows, start=1):
        cells = list(row) if isinstance(row, Iterable) and not isinstance(row, str) else [row]
        if len(cells) != 2:
            msg = f"{what}: row {n} is {row!r}; each row is a pair ({x.name}, {y.name})."
            raise MaterialError(msg)
        pairs.append(tuple(_cell(cell, axis, f"{what}: row {n}") for cell, axis in zip(cells, (x, y), strict=True)))  # type: ignore[arg-type]
    if len(pairs) < 2:
        msg = f"{what} has {len(pairs)} row(s); a curve needs at least two."
        raise MaterialError(msg)
    for n, (before, after) in enumerate(pairwise(pairs), start=2):
        if after[0] <= before[0]:
            msg = (
                f"{what}: {x.name} goes from {before[0]:g} to {after[0]:g} in row {n}; it must rise from row to row. "
                "Sort the rows and drop doubles."
            )
            raise MaterialError(msg)
    return tuple(p[0] for p in pairs), tuple(p[1] for p in pairs)


def _cell(cell: object, axis: Axis, what: str) -> float:
    value = number(cell, axis.dimension, f"{what}: {axis.name}")
    if axis.dimension == "fraction" and axis.highest == 1.0 < value <= 100.0:
        msg = f'{what}: {axis.name} {value:g} is above 1. Give fractions (0.8) or text with the unit ("80 %").'
        raise MaterialError(msg)
    too_low = value < axis.lowest or (value == axis.lowest and not axis.lowest_allowed)
    if too_low or value > axis.highest:
        bound = "at least" if axis.lowest_allowed else "above"
        upper = f" and at most {axis.highest:g}" if math.isfinite(axis.highest) else ""
        msg = f"{what}: {axis.name} {value:g} cannot be; it must be {bound} {axis.lowest:g}{upper}. Check the row."
        raise MaterialError(msg)
    return value


def evaluate(function: Function, at: Array) -> Array:
    """Value of a function that the user wrote; a pole on the way is no reason for a warning."""
    with np.errstate(divide="ignore", over="ignore", under="ignore"):
        values = function(at)
    if np.iscomplexobj(values):
        msg = "it returns complex numbers"
        raise TypeError(msg)
    return np.asarray(values, dtype=float)


def checked_function(function: Function, grid: Array, x: Axis, what: str, *, infinite_allowed: bool = False) -> Array:
    """Values of the user's function on `grid`, after proving that they are numbers.

    Parameters
    ----------
    function : callable
        Takes and returns a float array, any shape.
    grid : array, shape (n,)
        Where to try it. [SI unit of the axis]
    x : Axis
        The argument, for the error.
    what : str
        How to name the curve in an error.
    infinite_allowed : bool
        Whether plus infinity is a value.

    Returns
    -------
    array, shape (n,)
        The function's values. [SI unit of the curve]

    Raises
    ------
    MaterialError
        Where the function fails, returns another shape or returns something that is not a number.
    """
    advice = f"The function takes a numpy array of {x.name} and returns an array of the same shape; use numpy in it."
    try:
        values = evaluate(function, grid)
        single = evaluate(function, np.asarray(grid[grid.size // 2]))
    except Exception as error:  # the user's function may raise anything
        msg = f"{what} failed with {type(error).__name__}: {error}. {advice}"
        raise MaterialError(msg) from error
    if values.shape != grid.shape or single.shape != ():
        msg = f"{what} returned shape {values.shape} for an argument of shape {grid.shape}. {advice}"
        raise MaterialError(msg)
    bad = np.isnan(values) | (values == -np.inf) if infinite_allowed else ~np.isfinite(values)
    if bad.any():
        at = grid[np.argmax(bad)]
        msg = f"{what} returned {values[np.argmax(bad)]} at {x.name} {at:g}, where it must be a number. Check it."
        raise MaterialError(msg)
    return values
