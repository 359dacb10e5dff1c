"""Instructions on lanes: to choose between them, reduce them, hand along them, and read tables lane by lane."""

from __future__ import annotations

import operator
from collections.abc import Callable
from functools import partial
from typing import Any

from llvmlite import ir
from numba.core import cgutils
from numba.core import types as numba_types
from numba.core.imputils import impl_ret_borrowed
from numba.core.typing.arraydecl import GetItemBuffer, SetItemBuffer
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, register_model
from numba.np.arrayobj import populate_array

from hygro.core._register import (
    ASKED_FIRST,
    BITS,
    DOUBLE,
    DOUBLES,
    INTEGER,
    INTEGERS,
    LANE_TWINS,
    LANES,
    NUMBERS,
    TWICE,
    TWINS,
    TWO,
    WHOLES,
    WIDTH,
    exponential,
    index,
    spread,
    types,
    vector_function,
)  # fmt: skip


@intrinsic
def choose(_typing: Any, condition: Any, one: Any, other: Any) -> Any:
    several = next((k for k, truths in reversed(NUMBERS.items()) if k in (one, other) or condition == truths), None)
    result, chosen_by = (several, NUMBERS[several]) if several else (types.float64, types.boolean)

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        chosen, one, other = values
        if not several:
            chosen = cgutils.as_bool_bit(builder, chosen)
        return builder.select(chosen, one, other)

    return result(chosen_by, result, result), emit


@intrinsic
def any_lane(_typing: Any, condition: Any) -> Any:
    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        bits = builder.bitcast(values[0], ir.IntType(condition.vector.count))
        found = builder.icmp_unsigned("!=", bits, ir.Constant(bits.type, 0))
        return context.cast(builder, found, types.boolean, types.boolean)

    return types.boolean(condition), emit


@intrinsic
def largest_lane(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        def larger(a: Any, b: Any) -> Any:
            stays = builder.or_(builder.fcmp_ordered(">=", a, b), builder.fcmp_unordered("uno", a, a))
            return builder.select(stays, a, b)

        return _reduced(builder, values[0], larger)

    return types.float64(LANES), emit


@intrinsic
def opposite(_typing: Any, condition: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.not_(values[0])

    return condition(condition), emit


@intrinsic
def take_lane(_typing: Any, value: Any, at: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.extract_element(*values)

    return types.float64(LANES, types.int64), emit


@intrinsic
def put_lane(_typing: Any, value: Any, at: Any, single: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.insert_element(values[0], values[2], values[1])

    return LANES(LANES, types.int64, types.float64), emit


def _reduced(builder: Any, value: Any, step: Callable[[Any, Any], Any]) -> Any:
    found = builder.extract_element(value, index(0))
    for at in range(1, WIDTH):
        found = step(found, builder.extract_element(value, index(at)))
    return found


@intrinsic
def beside(_typing: Any, one: Any, other: Any) -> Any:
    several = LANES in (one, other)

    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        if several:
            mask = ir.Constant(ir.VectorType(ir.IntType(32), 2 * WIDTH), list(range(2 * WIDTH)))
            return builder.shuffle_vector(*values, mask)
        found = builder.insert_element(ir.Constant(TWO, ir.Undefined), values[0], index(0))
        return builder.insert_element(found, values[1], index(1))

    single = LANES if several else types.float64
    return (LANE_TWINS if several else TWINS)(single, single), emit


@intrinsic(prefer_literal=True)
def one_of_two(_typing: Any, twins: Any, which: Any) -> Any:
    """The first (0) or second (1) of two numbers; of a tuple of such, a tuple."""
    number, row = which.literal_value, isinstance(twins, types.BaseTuple)
    singles = [LANES if two == LANE_TWINS else types.float64 for two in (twins if row else [twins])]
    kind = types.Tuple(singles) if row else singles[0]

    def taken(builder: Any, two: Any, single: Any) -> Any:
        if single != LANES:
            return builder.extract_element(two, index(number))
        mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), list(range(number * WIDTH, (number + 1) * WIDTH)))
        return builder.shuffle_vector(two, ir.Constant(TWICE, ir.Undefined), mask)

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        if not row:
            return taken(builder, values[0], kind)
        given = cgutils.unpack_tuple(builder, values[0])
        return context.make_tuple(builder, kind, list(map(partial(taken, builder), given, singles)))

    return kind(twins, which), emit


@intrinsic
def fused(_typing: Any, one: Any, other: Any, rest: Any) -> Any:
    """Product plus rest, rounded once."""
    kind = next((several for several in reversed(NUMBERS) if several in (one, other, rest)), types.float64)

    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        vector = values[0].type
        of = f"v{vector.count}f64" if isinstance(vector, ir.VectorType) else "f64"
        function = ir.FunctionType(vector, [vector] * 3)
        return builder.call(cgutils.get_or_insert_function(builder.module, function, f"llvm.fma.{of}"), values)

    return kind(kind, kind, kind), emit


@intrinsic
def sum_of_lanes(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return _reduced(builder, values[0], builder.fadd)

    return types.float64(LANES), emit


@intrinsic
def exponential_less_one(_typing: Any, value: Any) -> Any:
    """Written into its callers, where a library's would be called."""

    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return exponential(builder, values[0], less_one=True)

    kind = value if value in NUMBERS else types.float64
    return kind(kind), emit


@intrinsic
def least_lane(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        def lesser(a: Any, b: Any) -> Any:
            return builder.select(builder.fcmp_ordered("<", b, a), b, a)

        return _reduced(builder, values[0], lesser)

    return types.float64(LANES), emit


@intrinsic
def in_line(_typing: Any, start: Any, gain: Any, source: Any, backwards: Any) -> Any:
    kind = types.Tuple((LANES, types.float64))

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        state, gain, source, backwards = values
        turned = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), list(range(WIDTH - 1, -1, -1)))
        turns = cgutils.as_bool_bit(builder, backwards)

        def in_order(vector: Any) -> Any:
            return builder.select(
                turns, builder.shuffle_vector(vector, ir.Constant(DOUBLES, ir.Undefined), turned), vector
            )

        gain, source, reach = in_order(gain), in_order(source), ir.Constant(DOUBLES, ir.Undefined)
        for at in range(WIDTH):
            reach = builder.insert_element(reach, state, index(at))
            grown = builder.fmul(builder.extract_element(gain, index(at)), state)
            state = builder.fadd(grown, builder.extract_element(source, index(at)))
        return context.make_tuple(builder, kind, [in_order(reach), state])

    return kind(types.float64, LANES, LANES, types.boolean), emit


@intrinsic
def nodes_below(_typing: Any, scaled: Any, last: Any) -> Any:
    kind = types.Tuple((WHOLES, LANES))

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        scaled, last = values
        whole = builder.call(vector_function(builder, "floor"), [scaled])
        least, most = ir.Constant(DOUBLES, [0.0] * WIDTH), spread(builder, builder.sitofp(last, DOUBLE), DOUBLES)
        kept = builder.select(builder.fcmp_ordered(">", whole, least), whole, least)  # not-a-numbers go to 0
        kept = builder.select(builder.fcmp_ordered("<", kept, most), kept, most)
        return context.make_tuple(builder, kind, [builder.fptosi(kept, INTEGERS), builder.fsub(scaled, whole)])

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


def _columns(context: Any, builder: Any, base: Any, rows: Any) -> Any:
    """The columns of numbered rows of WIDTH numbers, a row for each lane."""
    read = []
    for lane in range(WIDTH):
        row = builder.extract_element(rows, index(lane))
        at = builder.gep(base, [builder.mul(row, ir.Constant(INTEGER, WIDTH))])
        read.append(builder.load(builder.bitcast(at, DOUBLES.as_pointer()), align=8))
    return context.make_tuple(builder, types.UniTuple(LANES, WIDTH), _transposed(builder, read))


def _nodes(builder: Any, own: bool, count: Any, nodes: Any, table: Any, k: Any) -> Any:
    """Numbers of nodes k of tables among those of all, ``count`` of ``nodes`` each; ``own``: each lane has so many."""
    table = _for_all(builder, table)
    if own:
        lanes = ir.Constant(INTEGERS, list(range(WIDTH)))
        table = builder.add(builder.mul(lanes, spread(builder, count, INTEGERS)), table)
    return builder.add(builder.mul(table, spread(builder, nodes, INTEGERS)), k)


def _for_all(builder: Any, value: Any) -> Any:
    """A number for each lane, where it is not one for each already."""
    return value if isinstance(value.type, ir.VectorType) else spread(builder, value, INTEGERS)


@intrinsic
def rows_of_table(_typing: Any, table: Any, k: Any) -> Any:
    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        return _columns(context, builder, array.data, values[1])

    return types.UniTuple(LANES, WIDTH)(table, WHOLES), emit


@intrinsic
def rows_of_material(_typing: Any, tables: Any, m: Any, k: Any) -> Any:
    own = tables.ndim == 4  # else all lanes read the same tables

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        *_, count, nodes, _ = cgutils.unpack_tuple(builder, array.shape)
        return _columns(context, builder, array.data, _nodes(builder, own, count, nodes, values[1], values[2]))

    return types.UniTuple(LANES, WIDTH)(tables, WHOLES if m == WHOLES else types.int64, WHOLES), emit


@intrinsic
def pairs_of(_typing: Any, tables: Any, row: Any, k: Any) -> Any:
    kind = types.UniTuple(LANES, 2)
    own = tables.ndim == 3  # else all lanes read the same tables

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        *_, count, nodes = cgutils.unpack_tuple(builder, array.shape)
        row, first = _for_all(builder, values[1]), ir.Constant(INTEGERS, [0] * WIDTH)
        row = builder.select(builder.icmp_signed("<", row, first), first, row)
        at = _nodes(builder, own, count, nodes, row, values[2])
        pair = [ir.Constant(DOUBLES, ir.Undefined)] * 2
        for lane in range(WIDTH):
            here = builder.extract_element(at, index(lane))
            for which in range(2):
                place = builder.gep(array.data, [builder.add(here, ir.Constant(INTEGER, which))])
                pair[which] = builder.insert_element(pair[which], builder.load(place), index(lane))
        return context.make_tuple(builder, kind, pair)

    return kind(tables, WHOLES if row == WHOLES else types.int64, WHOLES), emit


def lanes_array(of: Any, dimensions: int) -> Any:
    """Type of an array of lanes, whose numbers may begin anywhere."""
    return types.Array(of, dimensions, "C", aligned=False)


@intrinsic
def as_lanes(_typing: Any, array: Any) -> Any:
    """View an array of numbers whose last axis is WIDTH as an array of lanes without that axis."""
    view = lanes_array(WHOLES if isinstance(array.dtype, types.Integer) else LANES, array.ndim - 1)

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


@intrinsic
def scatter(_typing: Any, field: Any, k: Any, s: Any, i: Any, value: Any) -> Any:
    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        shape = cgutils.unpack_tuple(builder, array.shape)
        place = ir.Constant(INTEGER, 0)
        for at, size in zip(values[1:4], shape[1:], strict=True):
            place = builder.add(builder.mul(place, size), at)
        each = builder.mul(builder.mul(shape[1], shape[2]), shape[3])
        for at in range(WIDTH):
            one = builder.gep(array.data, [builder.add(place, builder.mul(each, ir.Constant(INTEGER, at)))])
            builder.store(builder.extract_element(values[4], index(at)), one)
        return context.get_dummy_value()

    return types.void(field, types.int64, types.int64, types.int64, LANES), emit


@intrinsic
def fill(_typing: Any, field: Any, k: Any, s: Any, i: Any, value: Any) -> Any:
    """Write the i-th WIDTH numbers of a row of a field, or as many of them as the row has left."""

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        _, n_slices, n = cgutils.unpack_tuple(builder, array.shape)
        first = builder.mul(values[3], ir.Constant(INTEGER, WIDTH))
        row = builder.mul(builder.add(builder.mul(values[1], n_slices), values[2]), n)
        at = builder.bitcast(builder.gep(array.data, [builder.add(row, first)]), DOUBLES.as_pointer())
        lanes = ir.Constant(INTEGERS, list(range(WIDTH)))
        there = builder.icmp_signed("<", lanes, spread(builder, builder.sub(n, first), INTEGERS))
        kind = ir.FunctionType(ir.VoidType(), [DOUBLES, at.type, ir.IntType(32), BITS])
        name = f"llvm.masked.store.v{WIDTH}f64.p0"
        store = cgutils.get_or_insert_function(builder.module, kind, name)
        builder.call(store, [values[4], at, ir.Constant(ir.IntType(32), 8), there])
        return context.get_dummy_value()

    return types.void(field, types.int64, types.int64, types.int64, LANES), emit


@intrinsic(prefer_literal=True)
def on_from(_typing: Any, one: Any, other: Any, first: Any) -> Any:
    """WIDTH lanes of two times as many, from a lane of the first on."""
    kind = WHOLES if one == WHOLES else LANES

    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), list(range(first_lane, first_lane + WIDTH)))
        return builder.shuffle_vector(values[0], values[1], mask)

    first_lane = first.literal_value
    return kind(kind, kind, first), emit


# ------------------------------------------------------------------------------------- lanes, looked at one by one


class OneByOne(numba_types.Type):
    """Rows of so many numbers, of which WIDTH stand side by side in lanes; element (i, m) is number m of row i."""

    def __init__(self, columns: int) -> None:
        self.columns = columns
        super().__init__(name=f"one_by_one({columns})")


@register_model(OneByOne)
class _FirstNumber(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager: Any, of: OneByOne) -> None:
        super().__init__(manager, of, DOUBLE.as_pointer())


@intrinsic(prefer_literal=True)
def one_by_one(_typing: Any, array: Any, columns: Any) -> Any:
    """Look one by one at an array of lanes with so many columns; it has one slice, which stands for itself."""

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        given = context.make_array(sig.args[0])(context, builder, values[0])
        return builder.bitcast(given.data, DOUBLE.as_pointer())

    return OneByOne(columns.literal_value)(array, columns), emit


def _place(builder: Any, columns: int, values: Any) -> Any:
    first, (i, m) = values[0], cgutils.unpack_tuple(builder, values[1])
    group = builder.ashr(i, ir.Constant(INTEGER, WIDTH.bit_length() - 1))
    row = builder.add(builder.mul(group, ir.Constant(INTEGER, columns)), m)
    lane = builder.and_(i, ir.Constant(INTEGER, WIDTH - 1))
    return builder.gep(first, [builder.add(builder.mul(row, ir.Constant(INTEGER, WIDTH)), lane)])


_ELEMENT = types.UniTuple(types.int64, 2)


@infer_global(operator.getitem)
class _ElementOrSlice(AbstractTemplate):  # type: ignore[misc]
    metadata = ASKED_FIRST

    def generic(self, arguments: Any, _named: Any) -> Any:
        rows, at = arguments
        if not isinstance(rows, OneByOne):
            return None
        return signature(rows, rows, at) if isinstance(at, types.Integer) else signature(types.float64, rows, _ELEMENT)


@infer_global(operator.setitem)
class _Element(AbstractTemplate):  # type: ignore[misc]
    metadata = ASKED_FIRST

    def generic(self, arguments: Any, _named: Any) -> Any:
        rows, _, _ = arguments
        return signature(types.none, rows, _ELEMENT, types.float64) if isinstance(rows, OneByOne) else None


@infer_global(operator.getitem)
class _ElementOfArray(GetItemBuffer):  # type: ignore[misc]
    metadata = ASKED_FIRST


@infer_global(operator.setitem)
class _ElementIntoArray(SetItemBuffer):  # type: ignore[misc]
    metadata = ASKED_FIRST


@lower_builtin(operator.getitem, OneByOne, types.Integer)
def _slice(_context: Any, _builder: Any, _signature: Any, values: Any) -> Any:
    return values[0]


@lower_builtin(operator.getitem, OneByOne, types.UniTuple)
def _read(_context: Any, builder: Any, sig: Any, values: Any) -> Any:
    return builder.load(_place(builder, sig.args[0].columns, values))


@lower_builtin(operator.setitem, OneByOne, types.UniTuple, types.Float)
def _write(context: Any, builder: Any, sig: Any, values: Any) -> Any:
    builder.store(values[2], _place(builder, sig.args[0].columns, values))
    return context.get_dummy_value()
