"""Searches: the smallest, or the largest, value of an input with which a layer still passes.

A measure is first tried at a few values between the stated ends, which shows whether it goes one way, and then closed
in on between a value that passes and its neighbour that does not, by halving and by the line through both. Every value
tried is kept. May import: case, inputs, measures, spread_out, study and all above it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from hygro.climate import Climate
from hygro.errors import InputError
from hygro.study import Variant
from hygro.vary.case import Case
from hygro.vary.inputs import Input, as_input
from hygro.vary.measures import WETTEST, Measure
from hygro.vary.spread_out import each

PROBES: Final = 5  # values tried before closing in; a choice of this package
_DECADE: Final = 8.0  # from this ratio of the ends on, steps are shares rather than differences
_NOISE: Final = 1e-3  # [1] of the span of values: less than this is no turn
_MOST_STEPS: Final = 40


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a search found.

    Parameters
    ----------
    sought : Input
        The input.
    measure : Measure
        What has to stay within its limit.
    smallest : bool
        Whether the smallest value was sought; else the largest.
    value : float or None
        The value found, which passes; None where all values pass or none does. [unit of the input]
    trail : DataFrame
        Every value tried, in the order of trying: ``value``, the measure, ``passes``.
    goes_one_way : bool
        Whether the measure rose all the way or fell all the way over the values tried.
    answer : str
        The finding in words.
    """

    sought: Input
    measure: Measure
    smallest: bool
    value: float | None
    trail: pd.DataFrame
    goes_one_way: bool
    answer: str

    def table(self) -> pd.DataFrame:
        """The trail in words of the trade, sorted by value.

        Returns
        -------
        DataFrame
            Columns: the input, the measure with its unit, and whether it passes.
        """
        ordered = self.trail.sort_values("value")
        return pd.DataFrame(
            {
                "tried": ordered.index,
                self.sought.name: [self.sought.say(value) for value in ordered["value"]],
                f"{self.measure.words} [{self.measure.unit}]": [f"{value:.3g}" for value in ordered[self.measure.name]],
                "passes": ["yes" if passes else "no" for passes in ordered["passes"]],
            }
        ).set_index("tried")

    def __repr__(self) -> str:
        return f"{self.answer}\n{self.table().to_string()}"


def find_smallest(
    base: Variant,
    sought: str | Input,
    between: tuple[Any, Any],
    climate: Climate,
    *,
    layer: str,
    start: str,
    years: int,
    measure: Measure = WETTEST,
    closeness: float = 0.02,
    executor: Any = None,
) -> Found:
    """Smallest value of an input that still passes, such as of ``"gap.thickness"`` or ``"gap.opening"``.

    Parameters
    ----------
    base : Variant
        What stays as it is.
    sought : str or Input
        The input.
    between : pair
        Lowest and highest value to try, as they would be stated.
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer that is judged.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]
    measure : Measure, optional
        What has to stay within its limit.
    closeness : float, optional
        How close to close in, as a share of the range, or of the value where the range spans much. [1]
    executor : executor or dask client, optional
        Where the first values are tried; threads on all cores by default.

    Returns
    -------
    Found
        The value, the trail, and the answer in words.

    Raises
    ------
    InputError
        Where the input does not exist or is no number, or the ends are no range.
    ConvergenceError
        Where the solver cannot go on.
    """
    case = Case(base, climate, layer, start, years)
    return _find(case, as_input(sought), between, measure, True, closeness, executor)


def find_largest(
    base: Variant,
    sought: str | Input,
    between: tuple[Any, Any],
    climate: Climate,
    *,
    layer: str,
    start: str,
    years: int,
    measure: Measure = WETTEST,
    closeness: float = 0.02,
    executor: Any = None,
) -> Found:
    """Largest value of an input that still passes, such as of ``"leak.q50"`` or a retarder's permeance.

    Parameters
    ----------
    base, sought, between, climate, layer, start, years, measure, closeness, executor
        As for `find_smallest`. [1]

    Returns
    -------
    Found
        As of `find_smallest`.

    Raises
    ------
    InputError
        As `find_smallest`.
    ConvergenceError
        Where the solver cannot go on.
    """
    case = Case(base, climate, layer, start, years)
    return _find(case, as_input(sought), between, measure, False, closeness, executor)


def _find(
    case: Case,
    sought: Input,
    between: tuple[Any, Any],
    measure: Measure,
    smallest: bool,
    closeness: float,
    executor: Any,
) -> Found:
    low, high = _ends(sought, between, lambda value: case.put(sought, value))
    if not isinstance(measure, Measure) or not math.isfinite(measure.limit):
        msg = f"A search needs a Measure with a limit to stay within; got {measure!r}."
        raise InputError(msg)
    if not 1e-6 <= closeness <= 0.5:
        msg = f"closeness is {closeness!r}; it must lie between 0.000001 and 0.5."
        raise InputError(msg)
    by_share = low > 0.0 and high / low >= _DECADE
    ends = (math.log(low), math.log(high)) if by_share else (low, high)
    scale = math.exp if by_share else float
    # The ends themselves are tried as they were stated: a logarithm and back may leave the range by a rounding.
    probes = [low, *(scale(x) for x in np.linspace(*ends, PROBES)[1:-1]), high]
    values = dict(each(_value, (case, sought, measure), probes, executor))
    tried = [(probe, values[probe]) for probe in probes]
    one_way = _one_way([value for _, value in tried])
    bracket = _bracket(tried, measure, smallest)
    if bracket is not None:
        width = closeness if by_share else closeness * (high - low)
        good, bad = _close_in(case, sought, measure, bracket, width, by_share, tried)
        answer = _answer(sought, measure, smallest, good, bad, case)
    else:
        good = None
        answer = _all_or_none(sought, measure, tried, smallest, case)
    if not one_way:
        answer += (
            f" The {measure.words} does not go one way between {sought.say(low)} and {sought.say(high)}: look at the "
            "trail, and search a narrower range."
        )
    trail = pd.DataFrame(
        {
            "value": [value for value, _ in tried],
            measure.name: [value for _, value in tried],
            "passes": [measure.passes(value) for _, value in tried],
        },
        index=pd.RangeIndex(1, len(tried) + 1, name="tried"),
    )
    return Found(sought, measure, smallest, None if good is None else good[0], trail, one_way, answer)


def check_ends(variant: Variant, sought: str | Input, between: Sequence[Any]) -> None:
    """Refuse ends of a range that a search could not try, without any weather.

    Parameters
    ----------
    variant : Variant
        What is to be varied.
    sought : str or Input
        The input.
    between : sequence
        Lowest and highest value to try, as they would be stated.

    Raises
    ------
    InputError
        Where the input does not exist or is no number, or the ends are no range.
    """
    one = as_input(sought)
    _ends(one, between, lambda value: one.put(variant, value))


def _ends(sought: Input, between: Sequence[Any], put: Callable[[Any], object]) -> tuple[float, float]:
    if isinstance(between, str) or len(between) != 2:
        msg = f"Search over {sought.name!r}: between is {between!r}; give the lowest and the highest value to try."
        raise InputError(msg)
    low, high = (sought.number(end) for end in between)
    for end in (low, high):
        put(end)
    if not low < high:
        msg = (
            f"Search over {sought.name!r}: between {sought.say(low)} and {sought.say(high)} is no range. State the "
            "lower end first."
        )
        raise InputError(msg)
    return low, high


def _value(shared: tuple[Case, Input, Measure], at: float) -> float:
    case, sought, measure = shared
    return measure.of(case.put(sought, at).run(), case.layer)


def _one_way(values: list[float]) -> bool:
    steps = np.diff(values)
    slack = _NOISE * (max(values) - min(values))
    return bool((steps >= -slack).all() or (steps <= slack).all())


Tried = tuple[float, float]


def _bracket(tried: list[Tried], measure: Measure, smallest: bool) -> tuple[Tried, Tried] | None:
    """A value that passes and its neighbour on the sought side that does not; None where there is no such pair.

    Seen from the safe end (the largest value where the smallest is sought): the first that passes, and from there the
    first that does not. So nothing beyond a value that fails is ever recommended.
    """
    ordered = tried[::-1] if smallest else tried
    passes = [measure.passes(value) for _, value in ordered]
    if not any(passes):
        return None
    first = passes.index(True)
    for at in range(first + 1, len(ordered)):
        if not passes[at]:
            return ordered[at - 1], ordered[at]
    return None


def _close_in(
    case: Case,
    sought: Input,
    measure: Measure,
    bracket: tuple[Tried, Tried],
    width: float,
    by_share: bool,
    tried: list[Tried],
) -> tuple[Tried, Tried]:
    """Narrow a bracket until it is no wider than `width`, alternating the line through both ends with halving."""
    good, bad = bracket
    there, back = (math.log, math.exp) if by_share else (float, float)
    for step in range(_MOST_STEPS):
        x_good, x_bad = there(good[0]), there(bad[0])
        if abs(x_good - x_bad) <= width:
            break
        share = 0.5
        if step % 2 == 0 and bad[1] != good[1]:
            # Never so close to an end that the bracket would hardly shrink.
            share = min(max((measure.limit - good[1]) / (bad[1] - good[1]), 0.1), 0.9)
        at = back(x_good + share * (x_bad - x_good))
        point = (at, _value((case, sought, measure), at))
        tried.append(point)
        good, bad = (point, bad) if measure.passes(point[1]) else (good, point)
    return good, bad


def _answer(sought: Input, measure: Measure, smallest: bool, good: Tried, bad: Tried, case: Case) -> str:
    which = "smallest" if smallest else "largest"
    return (
        f"{case.layer!r}: the {which} {sought.name} that passes is {sought.say(good[0])} ({measure.words} "
        f"{_said(good[1], measure)}, limit {measure.limit:g}); {sought.say(bad[0])} does not ({bad[1]:.4g})."
    )


def _all_or_none(sought: Input, measure: Measure, tried: list[Tried], smallest: bool, case: Case) -> str:
    low, high = tried[0], tried[-1]
    best = min(tried, key=lambda one: one[1])
    if not measure.passes(best[1]):
        if max(value for _, value in tried) == best[1]:
            return (
                f"{case.layer!r}: nothing passes between {sought.say(low[0])} and {sought.say(high[0])}, where the "
                f"{measure.words} stays at {_said(best[1], measure)} (limit {measure.limit:g}). Change something else."
            )
        return (
            f"{case.layer!r}: nothing passes between {sought.say(low[0])} and {sought.say(high[0])}. The best is "
            f"{sought.say(best[0])} ({measure.words} {_said(best[1], measure)}, limit {measure.limit:g}). Change "
            "something else."
        )
    if all(measure.passes(value) for _, value in tried):
        end, further = (low, "smaller") if smallest else (high, "larger")
        return (
            f"{case.layer!r}: everything passes from {sought.say(low[0])} to {sought.say(high[0])}, "
            f"{sought.say(end[0])} too ({measure.words} {_said(end[1], measure)}, limit {measure.limit:g}). "
            f"Try {further} values if you wish."
        )
    end, other = (high, low) if smallest else (low, high)
    return (
        f"{case.layer!r}: passing goes the other way. {sought.say(other[0])} passes ({measure.words} "
        f"{_said(other[1], measure)}, limit {measure.limit:g}) and {sought.say(end[0])} does not ({end[1]:.4g}). "
        f"Search for the {'largest' if smallest else 'smallest'} value instead."
    )


def _said(value: float, measure: Measure) -> str:
    # Four figures tell what just passes from the limit.
    return f"{value:.4g} {measure.unit}" if measure.unit != "1" else f"{value:.4g}"
