"""Instructions on lanes: to choose between them, reduce them, hand along them, and read tables lane by lane."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba.core import cgutils
from numba.core.imputils import impl_ret_borrowed
from numba.extending import intrinsic
from numba.np.arrayobj import populate_array

from hygro.core._register import (
    DOUBLE,
    DOUBLES,
    INTEGER,
    INTEGERS,
    LANES,
    TRUTHS,
    WHOLES,
    WIDTH,
    index,
    spread,
    types,
    vector_function,
)  # fmt: skip


@intrinsic
def choose(_typing: Any, condition: Any, one: Any, other: Any) -> Any:
    several = LANES in (one, other) or condition == TRUTHS
    result, chosen_by = (LANES, TRUTHS) if several else (types.float64, types.boolean)

    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        chosen, one, other = values
        if not several:
            chosen = cgutils.as_bool_bit(builder, chosen)
        return builder.select(chosen, one, other)

    return result(chosen_by, result, result), emit


@intrinsic
def any_lane(_typing: Any, condition: Any) -> Any:
    def emit(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        bits = builder.bitcast(values[0], ir.IntType(WIDTH))
        found = builder.icmp_unsigned("!=", bits, ir.Constant(bits.type, 0))
        return context.cast(builder, found, types.boolean, types.boolean)

    return types.boolean(TRUTHS), emit


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

    return TRUTHS(TRUTHS), emit


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
def sum_of_lanes(_typing: Any, value: Any) -> Any:
    def emit(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return _reduced(builder, values[0], builder.fadd)

    return types.float64(LANES), emit


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


def _columns(context: Any, builder: Any, base: Any, rows: list[Any]) -> Any:
    """The columns of numbered rows of WIDTH numbers, a row for each lane."""
    read = []
    for row in rows:
        at = builder.gep(base, [builder.mul(row, ir.Constant(INTEGER, WIDTH))])
        read.append(builder.load(builder.bitcast(at, DOUBLES.as_pointer()), align=8))
    return context.make_tuple(builder, types.UniTuple(LANES, WIDTH), _transposed(builder, read))


def _node(builder: Any, lane: int, count: Any, nodes: Any, table: Any, k: Any) -> Any:
    """Number of node k of a table among the nodes of all lanes' tables, ``count`` of ``nodes`` each."""
    before = builder.add(builder.mul(ir.Constant(INTEGER, lane), count), table)
    return builder.add(builder.mul(before, nodes), k)


@intrinsic
def rows_of_table(_typing: Any, table: Any, k: Any) -> Any:
    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        rows = [builder.extract_element(values[1], index(lane)) for lane in range(WIDTH)]
        return _columns(context, builder, array.data, rows)

    return types.UniTuple(LANES, WIDTH)(table, WHOLES), emit


@intrinsic
def rows_of_material(_typing: Any, tables: Any, m: Any, k: Any) -> Any:
    own = tables.ndim == 4  # else all lanes read the same tables

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        *_, count, nodes, _ = cgutils.unpack_tuple(builder, array.shape)
        rows = []
        for lane in range(WIDTH):
            k = builder.extract_element(values[2], index(lane))
            rows.append(_node(builder, lane if own else 0, count, nodes, values[1], k))
        return _columns(context, builder, array.data, rows)

    return types.UniTuple(LANES, WIDTH)(tables, types.int64, WHOLES), emit


@intrinsic
def pairs_of(_typing: Any, tables: Any, row: Any, k: Any) -> Any:
    kind = types.UniTuple(LANES, 2)
    own = tables.ndim == 3  # else all lanes read the same tables

    def emit(context: Any, builder: Any, sig: Any, values: Any) -> Any:
        array = context.make_array(sig.args[0])(context, builder, values[0])
        *_, count, nodes = cgutils.unpack_tuple(builder, array.shape)
        pair = [ir.Constant(DOUBLES, ir.Undefined)] * 2
        for lane in range(WIDTH):
            k = builder.extract_element(values[2], index(lane))
            first = _node(builder, lane if own else 0, count, nodes, values[1], k)
            for which in range(2):
                at = builder.gep(array.data, [builder.add(first, ir.Constant(INTEGER, which))])
                pair[which] = builder.insert_element(pair[which], builder.load(at), index(lane))
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
