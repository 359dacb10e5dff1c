"""A number that is several numbers: lanes of a vector register, so that one kernel computes them in step.

Lanes are neighbouring cells of one column, slices of a gap side by side, or the same place of several columns. What
concerns neighbours is told by the kinds of the cells: they are whole numbers lane by lane where lanes are neighbours.

The kernel's formulas are written once. Compiled for floats they compute one number at a time; compiled for arrays of
`Lanes` they compute WIDTH of them, with the machine's vector instructions. Where floats would take a branch, lanes may
differ: a formula asks `any_of` before it computes what only some need, and takes it by `where`. For floats,
`any_of(c)` is ``c`` and ``where(c, a, b)`` is ``a if c else b``.

What is defined here as Python serves floats, compiled or not; the second half says what serves lanes instead.

An array of lanes is an ordinary array of floats whose last axis is WIDTH; `as_lanes` views it as one of an axis less.
Only compiled code can compute with lanes.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numba.extending import overload
from numpy.typing import NDArray

from hygro.core._instructions import (
    OneByOne,
    any_lane,
    as_lanes,
    beside,
    choose,
    exponential_less_one,
    fill,
    fused,
    in_line,
    lanes_array,
    largest_lane,
    least_lane,
    nodes_below,
    on_from,
    one_by_one,
    one_of_two,
    opposite,
    pairs_of,
    put_lane,
    rows_of_material,
    rows_of_table,
    scatter,
    sum_of_lanes,
    take_lane,
)  # fmt: skip
from hygro.core._register import LANE_TWINS, LANES, NUMBERS, WHOLES, WIDTH

__all__ = [
    "WIDTH", "all_cells", "all_of", "along", "any_of", "as_lanes", "expm1", "first_of", "fma", "in_one", "inner_of",
    "keep", "lane", "largest", "least_of", "material_row", "neighbours", "no", "node_below", "one_by_one", "outer_of",
    "second_of", "table_row", "total_of", "twins", "type_of_lanes", "type_of_one_by_one", "where", "with_lane",
    "worst_of_cells",
]  # fmt: skip

LAST = WIDTH - 1
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Number = TypeVar("Number", int, float)

# ------------------------------------------------------------------------------------ what a kernel calls; for floats


def where(condition: bool, one: float, other: float) -> float:
    """``one`` where the condition holds, else ``other``."""
    if isinstance(condition, np.ndarray):
        return np.where(condition, one, other)
    return one if condition else other


def any_of(condition: bool) -> bool:
    """Whether the condition holds in any lane."""
    return bool(np.any(condition))


def all_of(condition: bool) -> bool:
    """Whether the condition holds in all lanes."""
    return bool(np.all(condition))


def no(condition: bool) -> bool:
    """Whether the condition does not hold."""
    return ~condition if isinstance(condition, np.ndarray) else not condition


def largest(value: float) -> float:
    """Largest of the lanes; not a number where one is not."""
    return float(value)


def node_below(scaled: float, last: int) -> tuple[int, float]:
    """Whole number below a value, no smaller than 0 and no larger than ``last``, and the value's distance from it."""
    whole = np.floor(scaled)
    return min(max(int(whole), 0), last), scaled - whole


def expm1(value: float) -> float:
    """The exponential less one, from -708 to 709; quicker than that of the compiler's library."""
    return np.expm1(value)  # type: ignore[no-any-return]


def fma(one: float, other: float, rest: float) -> float:
    """``one * other + rest``, rounded once where compiled: on every machine, whether its processor can or not."""
    return one * other + rest


def lane(value: float, at: int) -> float:
    """The number in a lane."""
    return float(value)


def with_lane(value: float, at: int, single: float) -> float:
    """The lanes with another number in a lane."""
    return single


def in_one(value: float, given: float) -> bool:
    """Whether lanes are slices of one column: its values differ from lane to lane, what it is given does not."""
    return False


def total_of(value: float, given: float) -> float:
    """Sum over the lanes where they are slices of one column; else the value as it is."""
    return value


def least_of(value: float, given: float) -> float:
    """Least of the lanes where they are slices of one column; else the value as it is."""
    return value


def along(start: float, gain: float, source: float, backwards: bool) -> tuple[float, float]:
    """What reaches each lane, and what leaves the last, where each hands on ``gain`` times that plus ``source``.

    Lanes are in line where they are slices of one column, and ``start``, a single number, reaches the first, or the
    last where it goes backwards. Else each lane is a line of its own.
    """
    return start, gain * start + source


def keep(field: FloatArray, k: int, s: int, i: int, value: float) -> None:
    """Write a value into a field of results.

    Lanes go into fields of their own, along its first axis, or next to each other where the field has no such axis.
    """
    field[k, s, i] = value


def table_row(table: FloatArray, k: int) -> tuple[float, ...]:
    """The eight columns of row k of a table."""
    return (
        table[k, 0], table[k, 1], table[k, 2], table[k, 3], table[k, 4], table[k, 5], table[k, 6], table[k, 7],
    )  # fmt: skip


def material_row(tables: FloatArray, m: int, k: int) -> tuple[float, ...]:
    """The eight columns of row k of the table of material m; of lanes, each has its own tables."""
    return (
        tables[m, k, 0], tables[m, k, 1], tables[m, k, 2], tables[m, k, 3],
        tables[m, k, 4], tables[m, k, 5], tables[m, k, 6], tables[m, k, 7],
    )  # fmt: skip


def neighbours(tables: FloatArray, row: int, k: int) -> tuple[float, float]:
    """Values at nodes k and k + 1 of a row of tables (the first for -1); of lanes, each has its own tables or row."""
    return tables[max(row, 0), k], tables[max(row, 0), k + 1]


def twins(one: float, other: float) -> Any:
    """Two numbers side by side, to be computed with as one."""
    return np.array([one, other])


def first_of(two: Any) -> Any:
    """The first of two numbers side by side; of a tuple of such, a tuple."""
    return tuple(map(first_of, two)) if isinstance(two, tuple) else float(two[0])


def second_of(two: Any) -> Any:
    """The second of two numbers side by side; of a tuple of such, a tuple."""
    return tuple(map(second_of, two)) if isinstance(two, tuple) else float(two[1])


def inner_of(kinds: IntArray, here: Number, after: Number) -> Number:
    """What the next cell has, of cells here and after; the next neighbours where lanes are cells."""
    return after


def outer_of(kinds: IntArray, before: Number, here: Number) -> Number:
    """What the cell before has, of cells before and here; the neighbours before where lanes are cells."""
    return before


def all_cells(kinds: IntArray, condition: bool) -> bool:
    """Whether the condition holds in all lanes where lanes are cells; else the condition as it is."""
    return condition


def worst_of_cells(kinds: IntArray, value: float) -> float:
    """Largest of the lanes where lanes are cells, not a number where one is not; else the value as it is."""
    return value


# ------------------------------------------------------------------------------------------------ what they are called


def type_of_lanes(dimensions: int, wholes: bool = False) -> Any:
    """Type of an array of lanes, as the compiler sees it."""
    return lanes_array(WHOLES if wholes else LANES, dimensions)


def type_of_one_by_one(columns: int) -> Any:
    """Type of an array of lanes with so many columns that is looked at one by one."""
    return OneByOne(columns)


# ------------------------------------------------------------------------------------------------ the same, for lanes

_TRUTHS = NUMBERS.values()


@overload(where, strict=False)
def _where(condition: Any, one: Any, other: Any) -> Any:
    return lambda condition, one, other: choose(condition, one, other)


@overload(any_of, strict=False)
def _any_of(condition: Any) -> Any:
    if condition in _TRUTHS:
        return lambda condition: any_lane(condition)
    return lambda condition: bool(condition)


@overload(all_of, strict=False)
def _all_of(condition: Any) -> Any:
    if condition in _TRUTHS:
        return lambda condition: not any_lane(opposite(condition))
    return lambda condition: bool(condition)


@overload(no, strict=False)
def _not(condition: Any) -> Any:
    if condition in _TRUTHS:
        return lambda condition: opposite(condition)
    return lambda condition: not condition


@overload(node_below, strict=False)
def _node(scaled: Any, last: Any) -> Any:
    if scaled == LANES:
        return lambda scaled, last: nodes_below(scaled, last)
    return node_below


@overload(table_row, strict=False)
def _row_of_table(table: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda table, k: rows_of_table(table, k)
    return table_row


@overload(material_row, strict=False)
def _row_of_material(tables: Any, m: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda tables, m, k: rows_of_material(tables, m, k)
    return material_row


@overload(neighbours, strict=False)
def _pair(tables: Any, row: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda tables, row, k: pairs_of(tables, row, k)
    return neighbours


@overload(largest, strict=False)
def _worst(value: Any) -> Any:
    if value == LANES:
        return lambda value: largest_lane(value)
    return largest


@overload(expm1, strict=False)
def _exponential_less_one(value: Any) -> Any:
    return lambda value: exponential_less_one(value)


@overload(fma, strict=False)
def _rounded_once(one: Any, other: Any, rest: Any) -> Any:
    return lambda one, other, rest: fused(one, other, rest)


@overload(lane, strict=False)
def _one_lane(value: Any, at: Any) -> Any:
    if value == LANES:
        return lambda value, at: take_lane(value, at)
    return lane


@overload(with_lane, strict=False)
def _other_lane(value: Any, at: Any, single: Any) -> Any:
    if value == LANES:
        return lambda value, at, single: put_lane(value, at, single)
    return with_lane


def _slices(value: Any, given: Any) -> bool:
    return bool(value == LANES and given != LANES)


@overload(in_one, strict=False)
def _are_slices(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: True
    return in_one


@overload(total_of, strict=False)
def _total(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: sum_of_lanes(value)
    return total_of


@overload(least_of, strict=False)
def _least_one(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: least_lane(value)
    return least_of


@overload(along, strict=False)
def _handed_along(start: Any, gain: Any, source: Any, backwards: Any) -> Any:
    if _slices(gain, start):
        return lambda start, gain, source, backwards: in_line(start, gain, source, backwards)
    if gain == LANE_TWINS and start != LANE_TWINS:
        return _both_in_line
    return along


def _both_in_line(start: Any, gain: Any, source: Any, backwards: Any) -> Any:
    reach_1, left_1 = in_line(first_of(start), first_of(gain), first_of(source), backwards)
    reach_2, left_2 = in_line(second_of(start), second_of(gain), second_of(source), backwards)
    return twins(reach_1, reach_2), twins(left_1, left_2)


@overload(keep, strict=False)
def _kept(field: Any, k: Any, s: Any, i: Any, value: Any) -> Any:
    if value == LANES and field.ndim == 3:
        return lambda field, k, s, i, value: fill(field, k, s, i, value)
    if value == LANES:
        return lambda field, k, s, i, value: scatter(field, k, s, i, value)
    return keep


@overload(twins, strict=False)
def _twins(one: Any, other: Any) -> Any:
    return lambda one, other: beside(one, other)


@overload(first_of, strict=False)
def _first(two: Any) -> Any:
    return lambda two: one_of_two(two, 0)


@overload(second_of, strict=False)
def _second(two: Any) -> Any:
    return lambda two: one_of_two(two, 1)


def _are_cells(kinds: Any) -> bool:
    return bool(kinds.dtype == WHOLES)


@overload(inner_of, strict=False)
def _next_inwards(kinds: Any, here: Any, after: Any) -> Any:
    if _are_cells(kinds):
        return lambda kinds, here, after: on_from(here, after, 1)
    return inner_of


@overload(outer_of, strict=False)
def _next_outwards(kinds: Any, before: Any, here: Any) -> Any:
    if _are_cells(kinds):
        return lambda kinds, before, here: on_from(before, here, LAST)
    return outer_of


@overload(all_cells, strict=False)
def _in_all_cells(kinds: Any, condition: Any) -> Any:
    if _are_cells(kinds):
        return lambda kinds, condition: all_of(condition)
    return all_cells


@overload(worst_of_cells, strict=False)
def _worst_cell(kinds: Any, value: Any) -> Any:
    if _are_cells(kinds):
        return lambda kinds, value: largest(value)
    return worst_of_cells
