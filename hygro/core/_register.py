"""The types of lanes, as the compiler knows them: what fits a vector register, and its arithmetic."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba.core import cgutils
from numba.core import types as numba_types
from numba.core.typeconv import Conversion
from numba.core.typing.templates import AbstractTemplate, ConcreteTemplate, infer_global, signature
from numba.extending import lower_builtin, lower_cast, models, register_model

WIDTH = 8  # as many doubles as the widest vector registers hold; on narrower ones the compiler splits them

types: Any = numba_types  # made at run time, unknown to a type checker
DOUBLE, BIT, INTEGER = ir.DoubleType(), ir.IntType(1), ir.IntType(64)
DOUBLES, BITS, INTEGERS = (ir.VectorType(one, WIDTH) for one in (DOUBLE, BIT, INTEGER))
TWO, TWICE = ir.VectorType(DOUBLE, 2), ir.VectorType(DOUBLE, 2 * WIDTH)
TWO_BITS, TWICE_BITS = ir.VectorType(BIT, 2), ir.VectorType(BIT, 2 * WIDTH)


class Several(numba_types.Type):
    """Values of one kind in a register; a single value of the kind counts for all.

    The compiler keeps types on disk beside machine code, and must find the classes below again by their names.
    """

    single: type[types.Type] | tuple[type[types.Type], ...]
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

    single, vector = types.Number, DOUBLES


class Truths(Several):
    """Whether something holds."""

    single, vector = types.Boolean, BITS


class Wholes(Several):
    """Whole numbers."""

    single, vector = types.Integer, INTEGERS


class Twins(Several):
    """Two numbers, of two places in a column."""

    single, vector = types.Number, TWO


class LaneTwins(Several):
    """The numbers of two places in the columns of all lanes; two numbers count for all lanes."""

    single, vector = (types.Number, Twins), TWICE


class TwinTruths(Several):
    """Whether something holds for each of two numbers."""

    single, vector = types.Boolean, TWO_BITS


class LaneTwinTruths(Several):
    """The same of two numbers in all lanes."""

    single, vector = (types.Boolean, TwinTruths), TWICE_BITS


LANES, TRUTHS, WHOLES, TWINS, LANE_TWINS = Lanes(), Truths(), Wholes(), Twins(), LaneTwins()
NUMBERS = {LANES: TRUTHS, TWINS: TwinTruths(), LANE_TWINS: LaneTwinTruths()}  # and whether something holds for them


@register_model(Lanes)
@register_model(Truths)
@register_model(Wholes)
@register_model(Twins)
@register_model(LaneTwins)
@register_model(TwinTruths)
@register_model(LaneTwinTruths)
class _InRegister(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager: Any, of: Several) -> None:
        super().__init__(manager, of, of.vector)


def index(value: int) -> ir.Constant:
    return ir.Constant(ir.IntType(32), value)


@lower_cast(types.Number, LANES)
@lower_cast(types.Number, TWINS)
@lower_cast(types.Number, LANE_TWINS)
def _number_for_all(context: Any, builder: Any, given: types.Type, kind: Any, value: Any) -> Any:
    return spread(builder, context.cast(builder, value, given, types.float64), kind.vector)


@lower_cast(TWINS, LANE_TWINS)
@lower_cast(NUMBERS[TWINS], NUMBERS[LANE_TWINS])
def _twins_for_all(_context: Any, builder: Any, given: Any, _kind: types.Type, value: Any) -> Any:
    each = ir.Constant(ir.VectorType(ir.IntType(32), 2 * WIDTH), [0] * WIDTH + [1] * WIDTH)
    return builder.shuffle_vector(value, ir.Constant(given.vector, ir.Undefined), each)


@lower_cast(types.Boolean, TRUTHS)
@lower_cast(types.Boolean, NUMBERS[TWINS])
@lower_cast(types.Boolean, NUMBERS[LANE_TWINS])
def _truth_for_all(_context: Any, builder: Any, _given: types.Type, kind: Any, value: Any) -> Any:
    return spread(builder, cgutils.as_bool_bit(builder, value), kind.vector)


@lower_cast(types.Integer, WHOLES)
def _whole_for_all(context: Any, builder: Any, given: types.Type, _kind: types.Type, value: Any) -> Any:
    return spread(builder, context.cast(builder, value, given, types.int64), INTEGERS)


def spread(builder: Any, value: Any, vector: ir.VectorType) -> Any:
    first = builder.insert_element(ir.Constant(vector, ir.Undefined), value, ir.Constant(ir.IntType(32), 0))
    same = ir.Constant(ir.VectorType(ir.IntType(32), vector.count), [0] * vector.count)
    return builder.shuffle_vector(first, ir.Constant(vector, ir.Undefined), same)


# ------------------------------------------------------------------------------------------------------- operators


# The compiler tries all that it has been told of an operator, one after another: first what is for this very kind of
# processor, then what is for any. What numpy, lists and strings would make of a sum takes longer to ask than the rest.
ASKED_FIRST = {"target": "cpu"}
_RESULTS: dict[Any, dict[Any, Any]] = {}


def tell(function: Any, kind: Any, result: Any) -> None:
    """Tell the compiler what an operator makes of values of a kind."""
    results = _RESULTS.setdefault(function, {})
    if not results:

        @infer_global(function)
        class _Typing(AbstractTemplate):  # type: ignore[misc]
            metadata = ASKED_FIRST

            def generic(self, given: Any, _named: Any) -> Any:
                for kind, result in results.items():
                    if kind in given and all(one == kind or kind.can_convert_from(None, one) for one in given):
                        return signature(result, *[kind] * len(given))
                return None

    results[kind] = result


def _operator(function: Any, kind: Several, result: Several, emit: Callable[[Any, Any, Any], Any]) -> None:
    tell(function, kind, result)

    @lower_builtin(function, kind, kind)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return emit(builder, *values)


def _extreme(function: Any, sign: str) -> None:
    tell(function, LANES, LANES)

    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        found, *others = values
        for one in others:
            found = builder.select(builder.fcmp_ordered(sign, one, found), one, found)
        return found

    for count in (2, 3):
        lower_builtin(function, *[LANES] * count)(lowered)


def _of_one(function: Any, kind: Several, emit: Callable[[Any, Any], Any]) -> None:
    tell(function, kind, kind)

    @lower_builtin(function, kind)
    def lowered(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return emit(builder, values[0])


def vector_function(builder: Any, name: str, kind: Any = DOUBLES) -> Any:
    """A function of one number that compilers know, for numbers of a kind."""
    of = f"v{kind.count}f64" if isinstance(kind, ir.VectorType) else "f64"
    return cgutils.get_or_insert_function(builder.module, ir.FunctionType(kind, [kind]), f"llvm.{name}.{of}")


def _with_intrinsic(function: Any, name: str) -> None:
    _of_one(function, LANES, lambda builder, value: builder.call(vector_function(builder, name), [value]))


def _arithmetic(function: Any, name: str) -> None:
    for kind in NUMBERS:
        _operator(function, kind, kind, lambda builder, a, b: getattr(builder, name)(a, b))


def _comparison(function: Any, sign: str, kept: str = "fcmp_ordered") -> None:
    for kind, truths in NUMBERS.items():
        _operator(function, kind, truths, lambda builder, a, b: getattr(builder, kept)(sign, a, b))


def _comparison_of_wholes(function: Any, sign: str) -> None:
    _operator(function, WHOLES, TRUTHS, lambda builder, a, b: builder.icmp_signed(sign, a, b))


for _function, _name in (
    (operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul"), (operator.truediv, "fdiv"),
    (operator.iadd, "fadd"), (operator.isub, "fsub"), (operator.imul, "fmul"),
):  # fmt: skip
    tell(_function, types.float64, types.float64)
    _arithmetic(_function, _name)
for _function, _sign in (
    (operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="), (operator.eq, "=="),
):  # fmt: skip
    tell(_function, types.float64, types.boolean)
    _comparison(_function, _sign)
_comparison(operator.ne, "!=", "fcmp_unordered")
for _function, _sign in ((operator.eq, "=="), (operator.ne, "!="), (operator.lt, "<"), (operator.ge, ">=")):
    _comparison_of_wholes(_function, _sign)
for _truths in NUMBERS.values():
    _operator(operator.and_, _truths, _truths, lambda builder, a, b: builder.and_(a, b))
    _operator(operator.or_, _truths, _truths, lambda builder, a, b: builder.or_(a, b))
_extreme(min, "<")
_extreme(max, ">")
for _kind in NUMBERS:
    _of_one(operator.neg, _kind, lambda builder, value: builder.fneg(value))
_with_intrinsic(abs, "fabs")
_with_intrinsic(math.sqrt, "sqrt")


def constant(value: float, kind: Any = DOUBLES) -> Any:
    """A number, for each lane of a kind that has several."""
    return ir.Constant(kind, [value] * kind.count if isinstance(kind, ir.VectorType) else value)


def whole(value: int) -> Any:
    return constant(value, INTEGERS)


def _polynomial(builder: Any, coefficients: list[float], powers: list[Any]) -> Any:
    """Sum of coefficients times rising powers, given the first, second, fourth ... power; halves side by side."""
    if len(coefficients) == 1:
        return constant(coefficients[0], powers[0].type)
    level = (len(coefficients) - 1).bit_length() - 1
    low = _polynomial(builder, coefficients[: 1 << level], powers)
    return builder.fadd(low, builder.fmul(_polynomial(builder, coefficients[1 << level :], powers), powers[level]))


def exponential(builder: Any, value: Any, less_one: bool) -> Any:
    """The exponential or, less one, without the loss of digits about zero; compilers know none for vectors.

    x = k ln 2 + r, so that e^x = 2^k e^r with |r| < 0.35, where the series of e^r - 1 is short. Good to two units in
    the last place from -708 to 709, beyond which it stays.
    """
    kind, several = value.type, isinstance(value.type, ir.VectorType)
    wholes = ir.VectorType(INTEGER, kind.count) if several else INTEGER

    def number(given: float) -> Any:
        return constant(given, kind)

    x = builder.select(builder.fcmp_ordered("<", value, number(-708.0)), number(-708.0), value)
    x = builder.select(builder.fcmp_ordered(">", x, number(709.0)), number(709.0), x)
    k = builder.call(vector_function(builder, "nearbyint", kind), [builder.fmul(x, number(1.0 / math.log(2.0)))])
    r = builder.fsub(x, builder.fmul(k, number(_LN_2_HIGH)))
    r = builder.fsub(r, builder.fmul(k, number(_LN_2_LOW)))
    powers = [r]
    for _ in range(3):
        powers.append(builder.fmul(powers[-1], powers[-1]))
    series = _polynomial(builder, [1.0 / math.factorial(n) for n in range(2, 14)], powers)
    risen = builder.fadd(r, builder.fmul(powers[1], series))
    power = builder.shl(builder.add(builder.fptosi(k, wholes), constant(1023, wholes)), constant(52, wholes))
    power = builder.bitcast(power, kind)
    rest = builder.fsub(power, number(1.0)) if less_one else power
    return builder.fadd(builder.fmul(power, risen), rest)


def _logarithm(function: Any) -> None:
    """The natural logarithm of normal positive numbers; compilers know none for vectors.

    x = 2^k m with m between sqrt(1/2) and sqrt(2), so that ln x = k ln 2 + 2 artanh((m - 1) / (m + 1)), whose series is
    short. Good to two units in the last place.
    """

    def emit(builder: Any, value: Any) -> Any:
        bits = builder.bitcast(value, INTEGERS)
        from_root = builder.add(bits, whole((1 << 52) - _ROOT_OF_HALF))  # rises past a power of two at each sqrt(2)
        k = builder.sub(builder.ashr(from_root, whole(52)), whole(1))
        part = builder.add(builder.and_(from_root, whole((1 << 52) - 1)), whole(_ROOT_OF_HALF))
        m, k = builder.bitcast(part, DOUBLES), builder.sitofp(k, DOUBLES)
        s = builder.fdiv(builder.fsub(m, constant(1.0)), builder.fadd(m, constant(1.0)))
        z, series = builder.fmul(s, s), constant(1.0 / 21.0)
        for n in range(19, 1, -2):
            series = builder.fadd(builder.fmul(series, z), constant(1.0 / n))
        twice = builder.fadd(s, s)
        rest = builder.fadd(builder.fmul(builder.fmul(twice, z), series), builder.fmul(k, constant(_LN_2_LOW)))
        return builder.fadd(builder.fmul(k, constant(_LN_2_HIGH)), builder.fadd(twice, rest))

    _of_one(function, LANES, emit)


_ROOT_OF_HALF = 0x3FE6A09E00000000  # bits of about sqrt(1/2)
_LN_2_HIGH, _LN_2_LOW = 0x2C5C85FD / 2**30, 8.893134238886677e-10  # ln 2: k times its first thirty bits is exact
_of_one(math.exp, LANES, lambda builder, value: exponential(builder, value, less_one=False))
_logarithm(math.log)


@infer_global(math.pow)
class _Power(ConcreteTemplate):  # type: ignore[misc]
    cases = (signature(LANES, LANES, LANES),)


@lower_builtin(math.pow, LANES, LANES)
def _lowered_pow(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
    kind = ir.FunctionType(DOUBLES, [DOUBLES, DOUBLES])
    return builder.call(cgutils.get_or_insert_function(builder.module, kind, f"llvm.pow.v{WIDTH}f64"), values)
