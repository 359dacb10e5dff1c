"""A number that is several numbers: lanes of a vector register, so that one kernel computes several columns in step.

The kernel's formulas are written once. Compiled for floats they compute one column; compiled for arrays of `Lanes` they
compute WIDTH of them, with the machine's vector instructions. Where floats would take a branch, lanes may differ: a
formula asks `any_of` before it computes what only some need, and takes it by `where`. For floats, `any_of(c)` is ``c``
and ``where(c, a, b)`` is ``a if c else b``.

An array of lanes is an ordinary array of floats whose last axis is WIDTH; `as_lanes` views it as one of an axis less.
Only compiled code can compute with lanes.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from typing import Any

import numpy as np
from llvmlite import ir
from numba.core import cgutils
from numba.core import types as numba_types
from numba.core.imputils import impl_ret_borrowed
from numba.core.typeconv import Conversion
from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, lower_cast, models, overload, register_model
from numba.np.arrayobj import populate_array
from numpy.typing import NDArray

WIDTH = 8  # as many doubles as the widest vector registers hold; on narrower ones the compiler splits them

FloatArray = NDArray[np.float64]
types: Any = numba_types  # made at run time, unknown to a type checker
_DOUBLE, _BIT, _WHOLE = ir.DoubleType(), ir.IntType(1), ir.IntType(64)
_DOUBLES, _BITS, _WHOLES = (ir.VectorType(one, WIDTH) for one in (_DOUBLE, _BIT, _WHOLE))


class Several(numba_types.Type):
    """WIDTH values of one kind in a register; a single value of the kind counts for all.

    The compiler keeps types on disk beside machine code, and must find the classes below again by their names.
    """

    single: type[types.Type]
    vector: ir.VectorType

    def __init__(self) -> None:
        super().__init__(name=f"{type(self).__name__.lower()}x{WIDTH}")

    def can_convert_from(self, _typing: Any, other: types.Type) -> Any:
        """A single value counts for all lanes."""
        return Conversion.safe if isinstance(other, self.single) else None

    def unify(self, _typing: Any, other: types.Type) -> types.Type | None:
        """A variable that is now a single value and then lanes is lanes."""
        return self if isinstance(other, self.single) else None


class Lanes(Several):
    """Numbers."""

    single, vector = types.Number, _DOUBLES


class Truths(Several):
    """Whether something holds."""

    single, vector = types.Boolean, _BITS


class Wholes(Several):
    """Whole numbers."""

    single, vector = types.Integer, _WHOLES


LANES, TRUTHS, WHOLES = Lanes(), Truths(), Wholes()


@register_model(Lanes)
@register_model(Truths)
@register_model(Wholes)
class _InRegister(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager: Any, of: Several) -> None:
        super().__init__(manager, of, of.vector)


def _i32(value: int) -> ir.Constant:
    return ir.Constant(ir.IntType(32), value)


@lower_cast(types.Number, LANES)
def _number_for_all(context: Any, builder: Any, given: types.Type, _kind: types.Type, value: Any) -> Any:
    return _spread(builder, context.cast(builder, value, given, types.float64), _DOUBLES)


@lower_cast(types.Boolean, TRUTHS)
def _truth_for_all(_context: Any, builder: Any, _given: types.Type, _kind: types.Type, value: Any) -> Any:
    return _spread(builder, cgutils.as_bool_bit(builder, value), _BITS)


@lower_cast(types.Integer, WHOLES)
def _whole_for_all(context: Any, builder: Any, given: types.Type, _kind: types.Type, value: Any) -> Any:
    return _spread(builder, context.cast(builder, value, given, types.int64), _WHOLES)


def _spread(builder: Any, value: Any, vector: ir.VectorType) -> Any:
    first = builder.insert_element(ir.Constant(vector, ir.Undefined), value, ir.Constant(ir.IntType(32), 0))
    same = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), [0] * WIDTH)
    return builder.shuffle_vector(first, ir.Constant(vector, ir.Undefined), same)


# ------------------------------------------------------------------------------------------------------- operators


def _operator(function: Any, kind: Several, result: Several, emit: Callable[[Any, Any, Any], Any]) -> None:
    @infer_global(function)
    class _Typing(ConcreteTemplate):  # type: ignore[misc]
        cases = (signature(result, kind, kind),)

    @lower_builtin(function, kind, kind)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return emit(builder, *values)


def _extreme(function: Any, sign: str) -> None:
    @infer_global(function)
    class _Typing(ConcreteTemplate):  # type: ignore[misc]
        cases = tuple(signature(LANES, *[LANES] * count) for count in (2, 3))

    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        found, *others = values
        for one in others:
            found = builder.select(builder.fcmp_ordered(sign, one, found), one, found)
        return found

    for count in (2, 3):
        lower_builtin(function, *[LANES] * count)(lowered)


def _negated(function: Any) -> None:
    @infer_global(function)
    class _Typing(ConcreteTemplate):  # type: ignore[misc]
        cases = (signature(LANES, LANES),)

    @lower_builtin(function, LANES)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.fneg(values[0])


def _vector_function(builder: Any, name: str) -> Any:
    kind = ir.FunctionType(_DOUBLES, [_DOUBLES])
    return cgutils.get_or_insert_function(builder.module, kind, f"llvm.{name}.v{WIDTH}f64")


def _with_intrinsic(function: Any, name: str) -> None:
    @infer_global(function)
    class _Typing(ConcreteTemplate):  # type: ignore[misc]
        cases = (signature(LANES, LANES),)

    @lower_builtin(function, LANES)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.call(_vector_function(builder, name), values)


def _arithmetic(function: Any, name: str) -> None:
    _operator(function, LANES, LANES, lambda builder, a, b: getattr(builder, name)(a, b))


def _comparison(function: Any, sign: str, kept: str = "fcmp_ordered") -> None:
    _operator(function, LANES, TRUTHS, lambda builder, a, b: getattr(builder, kept)(sign, a, b))


for _function, _name in (
    (operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul"), (operator.truediv, "fdiv"),
    (operator.iadd, "fadd"), (operator.isub, "fsub"), (operator.imul, "fmul"),
):  # fmt: skip
    _arithmetic(_function, _name)
for _function, _sign in (
    (operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="), (operator.eq, "=="),
):  # fmt: skip
    _comparison(_function, _sign)
_comparison(operator.ne, "!=", "fcmp_unordered")
_operator(operator.and_, TRUTHS, TRUTHS, lambda builder, a, b: builder.and_(a, b))
_operator(operator.or_, TRUTHS, TRUTHS, lambda builder, a, b: builder.or_(a, b))
_extreme(min, "<")
_extreme(max, ">")
_negated(operator.neg)
_with_intrinsic(abs, "fabs")
_with_intrinsic(math.sqrt, "sqrt")
_with_intrinsic(math.log, "log")


def _exponential(function: Any, less_one: bool) -> None:
    """The exponential or, less one, without the loss of digits about zero; compilers know none for vectors.

    x = k ln 2 + r, so that e^x = 2^k e^r with |r| < 0.35, where the series of e^r - 1 is short. Good to two units in
    the last place from -708 to 709, beyond which it stays.
    """

    @infer_global(function)
    class _Typing(ConcreteTemplate):  # type: ignore[misc]
        cases = (signature(LANES, LANES),)

    @lower_builtin(function, LANES)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        def constant(value: float) -> Any:
            return ir.Constant(_DOUBLES, [value] * WIDTH)

        def whole(value: int) -> Any:
            return ir.Constant(_WHOLES, [value] * WIDTH)

        x = builder.select(builder.fcmp_ordered("<", values[0], constant(-708.0)), constant(-708.0), values[0])
        x = builder.select(builder.fcmp_ordered(">", x, constant(709.0)), constant(709.0), x)
        k = builder.call(_vector_function(builder, "nearbyint"), [builder.fmul(x, constant(1.0 / math.log(2.0)))])
        r = builder.fsub(x, builder.fmul(k, constant(_LN_2_HIGH)))
        r = builder.fsub(r, builder.fmul(k, constant(_LN_2_LOW)))
        series = constant(1.0 / math.factorial(13))
        for n in range(12, 0, -1):
            series = builder.fadd(builder.fmul(series, r), constant(1.0 / math.factorial(n)))
        risen = builder.fmul(series, r)
        power = builder.shl(builder.add(builder.fptosi(k, _WHOLES), whole(1023)), whole(52))
        power = builder.bitcast(power, _DOUBLES)
        rest = builder.fsub(power, constant(1.0)) if less_one else power
        return builder.fadd(builder.fmul(power, risen), rest)


_LN_2_HIGH, _LN_2_LOW = 0x2C5C85FD / 2**30, 8.893134238886677e-10  # ln 2: k times its first thirty bits is exact
_exponential(math.exp, less_one=False)
_exponential(math.expm1, less_one=True)


@infer_global(math.pow)
class _Power(ConcreteTemplate):  # type: ignore[misc]
    cases = (signature(LANES, LANES, LANES),)


@lower_builtin(math.pow, LANES, LANES)
def _lowered_pow(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
    kind = ir.FunctionType(_DOUBLES, [_DOUBLES, _DOUBLES])
    return builder.call(cgutils.get_or_insert_function(builder.module, kind, f"llvm.pow.v{WIDTH}f64"), values)


# ------------------------------------------------------------------------------------------- what floats can do too


def where(condition: bool, one: float, other: float) -> float:
    """``one`` where the condition holds, else ``other``."""
    return one if condition else other


def any_of(condition: bool) -> bool:
    """Whether the condition holds in any lane."""
    return bool(condition)


def all_of(condition: bool) -> bool:
    """Whether the condition holds in all lanes."""
    return bool(condition)


def no(condition: bool) -> bool:
    """Whether the condition does not hold."""
    return not condition


def largest(value: float) -> float:
    """Largest of the lanes; not a number where one is not."""
    return float(value)


def node_below(scaled: float, last: int) -> tuple[int, float]:
    """Whole number below a value, no smaller than 0 and no larger than ``last``, and the value's distance from it."""
    whole = np.floor(scaled)
    return min(max(int(whole), 0), last), scaled - whole


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
    """Write a value into a field of results; lanes into fields of their own, along its first axis."""
    field[k, s, i] = value


def table_row(table: FloatArray, k: int) -> tuple[float, ...]:
    """The eight columns of row k of a table."""
    return tuple(table[k])


def material_row(tables: FloatArray, m: int, k: int) -> tuple[float, ...]:
    """The eight columns of row k of the table of material m; of lanes, each has its own tables."""
    return tuple(tables[m, k])


def neighbours(tables: FloatArray, row: int, k: int) -> tuple[float, float]:
    """Values at nodes k and k + 1 of a row of tables; of lanes, each has its own tables."""
    return tables[row, k], tables[row, k + 1]


def nodes_of(tables: FloatArray) -> int:
    """How many nodes the rows of tables have."""
    return int(tables.shape[1])


@intrinsic
def _select(_typing: Any, condition: Any, one: Any, other: Any) -> Any:
    several = LANES in (one, other) or condition == TRUTHS
    result, chosen_by = (LANES, TRUTHS) if several else (types.float64, types.boolean)

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        chosen, one, other = values
        if not several:
            chosen = cgutils.as_bool_bit(builder, chosen)
        return builder.select(chosen, one, other)

    return result(chosen_by, result, result), emit


@intrinsic
def _any(_typing: Any, condition: Any) -> Any:
    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        bits = builder.bitcast(values[0], ir.IntType(WIDTH))
        found = builder.icmp_unsigned("!=", bits, ir.Constant(bits.type, 0))
        return context.cast(builder, found, types.boolean, types.boolean)

    return types.boolean(TRUTHS), emit


@intrinsic
def _largest(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        def larger(a: Any, b: Any) -> Any:
            stays = builder.or_(builder.fcmp_ordered(">=", a, b), builder.fcmp_unordered("uno", a, a))
            return builder.select(stays, a, b)

        return _reduced(builder, values[0], larger)

    return types.float64(LANES), emit


@intrinsic
def _no(_typing: Any, condition: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.not_(values[0])

    return TRUTHS(TRUTHS), emit


@intrinsic
def _lane(_typing: Any, value: Any, at: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.extract_element(*values)

    return types.float64(LANES, types.int64), emit


@intrinsic
def _with_lane(_typing: Any, value: Any, at: Any, single: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.insert_element(values[0], values[2], values[1])

    return LANES(LANES, types.int64, types.float64), emit


def _reduced(builder: Any, value: Any, step: Callable[[Any, Any], Any]) -> Any:
    found = builder.extract_element(value, _i32(0))
    for at in range(1, WIDTH):
        found = step(found, builder.extract_element(value, _i32(at)))
    return found


@intrinsic
def _sum(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return _reduced(builder, values[0], builder.fadd)

    return types.float64(LANES), emit


@intrinsic
def _least(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        def lesser(a: Any, b: Any) -> Any:
            return builder.select(builder.fcmp_ordered("<", b, a), b, a)

        return _reduced(builder, values[0], lesser)

    return types.float64(LANES), emit


@intrinsic
def _in_line(_typing: Any, start: Any, gain: Any, source: Any, backwards: Any) -> Any:
    kind = types.Tuple((LANES, types.float64))

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        state, gain, source, backwards = values
        turned = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), list(range(WIDTH - 1, -1, -1)))
        turns = cgutils.as_bool_bit(builder, backwards)

        def in_order(vector: Any) -> Any:
            return builder.select(
                turns, builder.shuffle_vector(vector, ir.Constant(_DOUBLES, ir.Undefined), turned), vector
            )

        gain, source, reach = in_order(gain), in_order(source), ir.Constant(_DOUBLES, ir.Undefined)
        for at in range(WIDTH):
            reach = builder.insert_element(reach, state, _i32(at))
            grown = builder.fmul(builder.extract_element(gain, _i32(at)), state)
            state = builder.fadd(grown, builder.extract_element(source, _i32(at)))
        return context.make_tuple(builder, kind, [in_order(reach), state])

    return kind(types.float64, LANES, LANES, types.boolean), emit


@intrinsic
def _node_below(_typing: Any, scaled: Any, last: Any) -> Any:
    kind = types.Tuple((WHOLES, LANES))

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        scaled, last = values
        whole = builder.call(_vector_function(builder, "floor"), [scaled])
        least, most = ir.Constant(_DOUBLES, [0.0] * WIDTH), _spread(builder, builder.sitofp(last, _DOUBLE), _DOUBLES)
        kept = builder.select(builder.fcmp_ordered(">", whole, least), whole, least)  # not-a-numbers go to 0
        kept = builder.select(builder.fcmp_ordered("<", kept, most), kept, most)
        return context.make_tuple(builder, kind, [builder.fptosi(kept, _WHOLES), builder.fsub(scaled, whole)])

    return kind(LANES, types.int64), emit


def _transposed(builder: Any, rows: list[Any]) -> list[Any]:
    """Columns of a square of vectors: neighbours at distance 4, 2 and 1 exchange halves."""
    half = WIDTH // 2
    while half:
        low = [i if i & half == 0 else WIDTH + i - half for i in range(WIDTH)]
        high = [i + half if i & half == 0 else WIDTH + i for i in range(WIDTH)]
        masks = [ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), mask) for mask in (low, high)]
        for i in range(WIDTH):
            if i & half == 0:
                a, b = rows[i], rows[i + half]
                rows[i] = builder.shuffle_vector(a, b, masks[0])
                rows[i + half] = builder.shuffle_vector(a, b, masks[1])
        half //= 2
    return rows


def _rows(context: Any, builder: Any, base: Any, offsets: list[Any]) -> Any:
    rows = []
    for offset in offsets:
        at = builder.bitcast(builder.gep(base, [offset]), _DOUBLES.as_pointer())
        rows.append(builder.load(at, align=8))
    return _transposed(builder, rows)


@intrinsic
def _table_row(_typing: Any, table: Any, k: Any) -> Any:
    kind = types.UniTuple(LANES, WIDTH)

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        offsets = []
        for lane in range(WIDTH):
            at = builder.extract_element(values[1], _i32(lane))
            offsets.append(builder.mul(at, ir.Constant(_WHOLE, WIDTH)))
        return context.make_tuple(builder, kind, _rows(context, builder, array.data, offsets))

    return kind(table, WHOLES), emit


@intrinsic
def _material_row(_typing: Any, tables: Any, m: Any, k: Any) -> Any:
    kind = types.UniTuple(LANES, WIDTH)

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        shape = cgutils.unpack_tuple(builder, array.shape)
        own = sig.args[0].ndim == 4
        offsets = []
        for lane in range(WIDTH):
            row = builder.extract_element(values[2], _i32(lane))
            place = builder.add(builder.mul(ir.Constant(_WHOLE, lane if own else 0), shape[-3]), values[1])
            place = builder.add(builder.mul(place, shape[-2]), row)
            offsets.append(builder.mul(place, ir.Constant(_WHOLE, WIDTH)))
        return context.make_tuple(builder, kind, _rows(context, builder, array.data, offsets))

    return kind(tables, types.int64, WHOLES), emit


@intrinsic
def _neighbours(_typing: Any, tables: Any, row: Any, k: Any) -> Any:
    kind = types.UniTuple(LANES, 2)

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        shape = cgutils.unpack_tuple(builder, array.shape)
        own = sig.args[0].ndim == 3
        pair = [ir.Constant(_DOUBLES, ir.Undefined)] * 2
        for lane in range(WIDTH):
            node = builder.extract_element(values[2], _i32(lane))
            place = builder.add(builder.mul(ir.Constant(_WHOLE, lane if own else 0), shape[-2]), values[1])
            place = builder.add(builder.mul(place, shape[-1]), node)
            for which in range(2):
                at = builder.gep(array.data, [builder.add(place, ir.Constant(_WHOLE, which))])
                pair[which] = builder.insert_element(pair[which], builder.load(at), _i32(lane))
        return context.make_tuple(builder, kind, pair)

    return kind(tables, types.int64, WHOLES), emit


@intrinsic
def as_lanes(_typing: Any, array: Any) -> Any:
    """View an array of floats, whose last axis is WIDTH, as an array of lanes without that axis."""
    view = types.Array(LANES, array.ndim - 1, "C", aligned=False)

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        given = context.make_array(sig.args[0])(context, builder, values[0])
        made = context.make_array(view)(context, builder)
        shape = cgutils.unpack_tuple(builder, given.shape)[:-1]
        strides = cgutils.unpack_tuple(builder, given.strides)[:-1]
        populate_array(
            made,
            data=builder.bitcast(given.data, made.data.type),
            shape=shape,
            strides=strides,
            itemsize=8 * WIDTH,
            meminfo=given.meminfo,
            parent=given.parent,
        )
        return impl_ret_borrowed(context, builder, view, made._getvalue())

    return view(array), emit


def _node_of_float(scaled: Any, last: Any) -> Any:
    whole = np.floor(scaled)
    return min(max(int(whole), 0), last), scaled - whole


@overload(where, inline="always", strict=False)
def _where(condition: Any, one: Any, other: Any) -> Any:
    return lambda condition, one, other: _select(condition, one, other)


@overload(any_of, inline="always", strict=False)
def _any_of(condition: Any) -> Any:
    if condition == TRUTHS:
        return lambda condition: _any(condition)
    return lambda condition: condition


@overload(all_of, inline="always", strict=False)
def _all_of(condition: Any) -> Any:
    if condition == TRUTHS:
        return lambda condition: not _any(_no(condition))
    return lambda condition: condition


@overload(no, inline="always", strict=False)
def _not(condition: Any) -> Any:
    if condition == TRUTHS:
        return lambda condition: _no(condition)
    return lambda condition: not condition


@overload(node_below, inline="always", strict=False)
def _node(scaled: Any, last: Any) -> Any:
    if scaled == LANES:
        return lambda scaled, last: _node_below(scaled, last)
    return _node_of_float


@overload(table_row, inline="always", strict=False)
def _row_of_table(table: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda table, k: _table_row(table, k)
    return lambda table, k: (
        table[k, 0], table[k, 1], table[k, 2], table[k, 3], table[k, 4], table[k, 5], table[k, 6], table[k, 7],
    )  # fmt: skip


@overload(material_row, inline="always", strict=False)
def _row_of_material(tables: Any, m: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda tables, m, k: _material_row(tables, m, k)
    return lambda tables, m, k: (
        tables[m, k, 0], tables[m, k, 1], tables[m, k, 2], tables[m, k, 3],
        tables[m, k, 4], tables[m, k, 5], tables[m, k, 6], tables[m, k, 7],
    )  # fmt: skip


@overload(neighbours, inline="always", strict=False)
def _pair(tables: Any, row: Any, k: Any) -> Any:
    if k == WHOLES:
        return lambda tables, row, k: _neighbours(tables, row, k)
    return lambda tables, row, k: (tables[row, k], tables[row, k + 1])


@overload(nodes_of, inline="always", strict=False)
def _nodes(tables: Any) -> Any:
    if tables.ndim == 3:  # each lane has its own
        return lambda tables: tables.shape[2]
    return lambda tables: tables.shape[1]


@overload(largest, inline="always", strict=False)
def _worst(value: Any) -> Any:
    if value == LANES:
        return lambda value: _largest(value)
    return lambda value: value


@overload(lane, inline="always", strict=False)
def _one_lane(value: Any, at: Any) -> Any:
    if value == LANES:
        return lambda value, at: _lane(value, at)
    return lambda value, at: value


@overload(with_lane, inline="always", strict=False)
def _other_lane(value: Any, at: Any, single: Any) -> Any:
    if value == LANES:
        return lambda value, at, single: _with_lane(value, at, single)
    return lambda value, at, single: single


def _slices(value: Any, given: Any) -> bool:
    return bool(value == LANES and given != LANES)


@overload(in_one, inline="always", strict=False)
def _are_slices(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: True
    return lambda value, given: False


@overload(total_of, inline="always", strict=False)
def _total(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: _sum(value)
    return lambda value, given: value


@overload(least_of, inline="always", strict=False)
def _least_one(value: Any, given: Any) -> Any:
    if _slices(value, given):
        return lambda value, given: _least(value)
    return lambda value, given: value


@overload(along, inline="always", strict=False)
def _handed_along(start: Any, gain: Any, source: Any, backwards: Any) -> Any:
    if _slices(gain, start):
        return lambda start, gain, source, backwards: _in_line(start, gain, source, backwards)
    return lambda start, gain, source, backwards: (start, gain * start + source)


@intrinsic
def _scatter(_typing: Any, field: Any, k: Any, s: Any, i: Any, value: Any) -> Any:
    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        shape = cgutils.unpack_tuple(builder, array.shape)
        place = ir.Constant(_WHOLE, 0)
        for at, size in zip(values[1:4], shape[1:], strict=True):
            place = builder.add(builder.mul(place, size), at)
        each = builder.mul(builder.mul(shape[1], shape[2]), shape[3])
        for at in range(WIDTH):
            one = builder.gep(array.data, [builder.add(place, builder.mul(each, ir.Constant(_WHOLE, at)))])
            builder.store(builder.extract_element(values[4], _i32(at)), one)
        return context.get_dummy_value()

    return types.void(field, types.int64, types.int64, types.int64, LANES), emit


@overload(keep, inline="always", strict=False)
def _kept(field: Any, k: Any, s: Any, i: Any, value: Any) -> Any:
    if value == LANES:
        return lambda field, k, s, i, value: _scatter(field, k, s, i, value)

    def one(field: Any, k: Any, s: Any, i: Any, value: Any) -> None:
        field[k, s, i] = value

    return one
