"""Block tridiagonal systems with 2 x 2 blocks, by block elimination from both ends towards the middle.

Row i of the system reads  back[i] y[i-1] + own[i] y[i] + on[i] y[i+1] = r[i].  A block is the (temperature, coordinate)
slopes of the energy equation, then of the water equation; they are those of  dx M' - c F'.  Each row waits for the one
before it, so the two halves are taken at once: a row of the outer half and its twin, as far from the inner end, side by
side in a register, in which what points back is what points outwards and inwards, respectively. With an even number of
rows the outermost one is alone, and goes before. Factored, a row keeps the inverse pivot and both other blocks
multiplied by it, so that a right side waits in each row for one product; the middle row, whose both sides are those of
the system, follows from its neighbours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel
from hygro.core.bundles import BACK, DX, ENTHALPY_T, INVERSE, LOW, MID, ON, UPP
from hygro.core.lanes import first_of, fma, second_of, twins

FloatArray = NDArray[np.float64]
Block = tuple[float, float, float, float]
Pair = tuple[float, float]


@kernel
def less_product(rest: Block, one: Block, other: Block) -> Block:
    """A block less the product of two."""
    a, b, c, d = one
    e, f, g, h = other
    return (
        fma(-b, g, fma(-a, e, rest[0])),
        fma(-b, h, fma(-a, f, rest[1])),
        fma(-d, g, fma(-c, e, rest[2])),
        fma(-d, h, fma(-c, f, rest[3])),
    )


@kernel
def product(one: Block, other: Block) -> Block:
    """Product of two blocks."""
    a, b, c, d = one
    e, f, g, h = other
    return fma(b, g, a * e), fma(b, h, a * f), fma(d, g, c * e), fma(d, h, c * f)


@kernel
def adjugate(one: Block) -> Block:
    """Inverse of a block, times its determinant."""
    a, b, c, d = one
    return d, -b, -c, a


@kernel
def determinant(one: Block) -> float:
    """Determinant of a block."""
    a, b, c, d = one
    return fma(a, d, -(b * c))


@kernel
def scaled(one: Block, by: float) -> Block:
    """A block times a number."""
    return one[0] * by, one[1] * by, one[2] * by, one[3] * by


@kernel
def applied(one: Block, pair: Pair) -> Pair:
    """A block times a pair."""
    a, b, c, d = one
    return fma(b, pair[1], a * pair[0]), fma(d, pair[1], c * pair[0])


@kernel
def less_applied(rest: Pair, one: Block, pair: Pair) -> Pair:
    """A pair less a block times another."""
    a, b, c, d = one
    return fma(-b, pair[1], fma(-a, pair[0], rest[0])), fma(-d, pair[1], fma(-c, pair[0], rest[1]))


# ------------------------------------------------------------------------------------ rows of the system, and two twins


@kernel
def block(cell: FloatArray, i: int, at: int) -> Block:
    """The block of row i that begins in column ``at``."""
    return cell[i, at], cell[i, at + 1], cell[i, at + 2], cell[i, at + 3]


@kernel
def two_blocks(cell: FloatArray, i: int, at: int, twin: int, at_twin: int) -> Block:
    """The same of row i and of its twin."""
    return (
        twins(cell[i, at], cell[twin, at_twin]),
        twins(cell[i, at + 1], cell[twin, at_twin + 1]),
        twins(cell[i, at + 2], cell[twin, at_twin + 2]),
        twins(cell[i, at + 3], cell[twin, at_twin + 3]),
    )


@kernel
def two_pairs(r: FloatArray, i: int, twin: int) -> Pair:
    """The right side of row i and that of its twin."""
    return twins(r[i, 0], r[twin, 0]), twins(r[i, 1], r[twin, 1])


@kernel
def put_two_pairs(r: FloatArray, i: int, twin: int, two: Pair) -> None:
    """Write the right side of row i and that of its twin."""
    r[i, 0], r[i, 1], r[twin, 0], r[twin, 1] = first_of(two[0]), first_of(two[1]), second_of(two[0]), second_of(two[1])


@kernel
def first_block(two: Block) -> Block:
    """The first of two blocks."""
    return first_of(two[0]), first_of(two[1]), first_of(two[2]), first_of(two[3])


@kernel
def second_block(two: Block) -> Block:
    """The second of two blocks."""
    return second_of(two[0]), second_of(two[1]), second_of(two[2]), second_of(two[3])


@kernel
def beside_nothing(one: Block) -> Block:
    """A block that has no twin."""
    zero = 0.0 * one[0]
    return twins(one[0], zero), twins(one[1], zero), twins(one[2], zero), twins(one[3], zero)


@kernel
def kept(rows: FloatArray, i: int, at: int) -> Block:
    """A block of factored row i and its twin."""
    return (
        twins(rows[i, at], rows[i, at + 1]),
        twins(rows[i, at + 2], rows[i, at + 3]),
        twins(rows[i, at + 4], rows[i, at + 5]),
        twins(rows[i, at + 6], rows[i, at + 7]),
    )


@kernel
def kept_first(rows: FloatArray, i: int, at: int) -> Block:
    """A block of factored row i."""
    return rows[i, at], rows[i, at + 2], rows[i, at + 4], rows[i, at + 6]


@kernel
def keep_row(rows: FloatArray, i: int, at: int, two: Block) -> None:
    """Write a block of factored row i and its twin."""
    for_one, for_twin = first_block(two), second_block(two)
    rows[i, at], rows[i, at + 1] = for_one[0], for_twin[0]
    rows[i, at + 2], rows[i, at + 3] = for_one[1], for_twin[1]
    rows[i, at + 4], rows[i, at + 5] = for_one[2], for_twin[2]
    rows[i, at + 6], rows[i, at + 7] = for_one[3], for_twin[3]


# ---------------------------------------------------------------------------------------------------------- elimination


@kernel
def own_slopes(c: float, dx: float, held: Block, gained: Block) -> Block:
    """The block  dx M' - c F'  of a row's own state."""
    return (
        fma(-c, gained[0], dx * held[0]),
        fma(-c, gained[1], dx * held[1]),
        fma(-c, gained[2], dx * held[2]),
        fma(-c, gained[3], dx * held[3]),
    )


@kernel
def factored(back: Block, own: Block, on: Block, before: Block) -> tuple[Block, Block, Block]:
    """A row's block that points back, inverse pivot, and block that points on; ``before`` is the row before's on."""
    pivot = less_product(own, back, before)
    turned, share = adjugate(pivot), 1.0 / determinant(pivot)  # the division runs beside the products
    return scaled(product(turned, back), share), scaled(turned, share), scaled(product(turned, on), share)


@kernel
def factor(n: int, c: float, data: FloatArray, cell: FloatArray, rows: FloatArray, r: FloatArray) -> None:
    """Factor the n rows  dx M' - c F'  into ``rows``, and carry a right side of shape (n, 2) along to the middle."""
    middle, alone = n // 2, 1 - n % 2
    zero = 0.0 * r[0, 0]
    none = twins(zero, zero)
    both, two = (none, none, none, none), (none, none)
    if alone:
        own = own_slopes(c, data[0, DX], block(cell, 0, ENTHALPY_T), block(cell, 0, MID))
        nothing = (zero, zero, zero, zero)
        _, inverse_1, on_1 = factored(nothing, own, scaled(block(cell, 0, UPP), -c), nothing)
        r[0, 0], r[0, 1] = applied(inverse_1, (r[0, 0], r[0, 1]))
        both, two = beside_nothing(on_1), (twins(r[0, 0], zero), twins(r[0, 1], zero))
        keep_row(rows, 0, INVERSE, beside_nothing(inverse_1))
        keep_row(rows, 0, ON, both)
    for i in range(alone, middle):
        twin = n - 1 + alone - i
        held, gained = two_blocks(cell, i, ENTHALPY_T, twin, ENTHALPY_T), two_blocks(cell, i, MID, twin, MID)
        back, inverse, both = factored(
            scaled(two_blocks(cell, i, LOW, twin, UPP), -c),
            own_slopes(c, twins(data[i, DX], data[twin, DX]), held, gained),
            scaled(two_blocks(cell, i, UPP, twin, LOW), -c),
            both,
        )
        two = less_applied(applied(inverse, two_pairs(r, i, twin)), back, two)
        keep_row(rows, i, BACK, back)
        keep_row(rows, i, INVERSE, inverse)
        keep_row(rows, i, ON, both)
        put_two_pairs(r, i, twin, two)
    m = middle
    own = own_slopes(c, data[m, DX], block(cell, m, ENTHALPY_T), block(cell, m, MID))
    outwards, inwards = scaled(block(cell, m, LOW), -c), scaled(block(cell, m, UPP), -c)
    pivot = less_product(less_product(own, outwards, first_block(both)), inwards, second_block(both))
    keep_row(rows, m, BACK, beside_nothing(outwards))
    keep_row(rows, m, INVERSE, beside_nothing(scaled(adjugate(pivot), 1.0 / determinant(pivot))))
    keep_row(rows, m, ON, beside_nothing(inwards))
    solve_middle(m, rows, r, two)


@kernel
def solve_middle(m: int, rows: FloatArray, r: FloatArray, two: Pair) -> None:
    """Solve the middle row, given the right sides that both halves have carried along to it."""
    rest = less_applied((r[m, 0], r[m, 1]), kept_first(rows, m, BACK), (first_of(two[0]), first_of(two[1])))
    rest = less_applied(rest, kept_first(rows, m, ON), (second_of(two[0]), second_of(two[1])))
    r[m, 0], r[m, 1] = applied(kept_first(rows, m, INVERSE), rest)


@kernel
def substitute(n: int, rows: FloatArray, r: FloatArray, q: FloatArray | None) -> None:
    """Solve in place for a right side, or two, that are carried along to the middle, which is solved."""
    middle, alone = n // 2, 1 - n % 2
    two = (twins(r[middle, 0], r[middle, 0]), twins(r[middle, 1], r[middle, 1]))
    if q is not None:
        other = (twins(q[middle, 0], q[middle, 0]), twins(q[middle, 1], q[middle, 1]))
    for k in range(1, middle + 1 - alone):
        i, twin = middle - k, middle + k
        on = kept(rows, i, ON)
        two = less_applied(two_pairs(r, i, twin), on, two)
        put_two_pairs(r, i, twin, two)
        if q is not None:
            other = less_applied(two_pairs(q, i, twin), on, other)
            put_two_pairs(q, i, twin, other)
    if alone:
        on_1 = kept_first(rows, 0, ON)
        r[0, 0], r[0, 1] = less_applied((r[0, 0], r[0, 1]), on_1, (r[1, 0], r[1, 1]))
        if q is not None:
            q[0, 0], q[0, 1] = less_applied((q[0, 0], q[0, 1]), on_1, (q[1, 0], q[1, 1]))


@kernel
def solve(n: int, rows: FloatArray, r: FloatArray, q: FloatArray | None) -> None:
    """Solve in place for a right side of shape (n, 2), or two, given n factored rows.

    A row waits for the one before it, which leaves time for a second right side beside the first.
    """
    middle, alone = n // 2, 1 - n % 2
    zero = 0.0 * r[0, 0]
    two = (twins(zero, zero), twins(zero, zero))
    other = two
    if alone:
        inverse_1 = kept_first(rows, 0, INVERSE)
        r[0, 0], r[0, 1] = applied(inverse_1, (r[0, 0], r[0, 1]))
        two = (twins(r[0, 0], zero), twins(r[0, 1], zero))
        if q is not None:
            q[0, 0], q[0, 1] = applied(inverse_1, (q[0, 0], q[0, 1]))
            other = (twins(q[0, 0], zero), twins(q[0, 1], zero))
    for i in range(alone, middle):
        twin = n - 1 + alone - i
        inverse, back = kept(rows, i, INVERSE), kept(rows, i, BACK)
        two = less_applied(applied(inverse, two_pairs(r, i, twin)), back, two)
        put_two_pairs(r, i, twin, two)
        if q is not None:
            other = less_applied(applied(inverse, two_pairs(q, i, twin)), back, other)
            put_two_pairs(q, i, twin, other)
    solve_middle(middle, rows, r, two)
    if q is not None:
        solve_middle(middle, rows, q, other)
    substitute(n, rows, r, q)
