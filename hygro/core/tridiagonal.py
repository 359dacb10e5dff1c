"""Block tridiagonal systems with 2 x 2 blocks, by block elimination from both ends towards the middle.

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  A block is the (temperature, coordinate)
slopes of the energy equation, then of the water equation. Each row waits for the one before it, so the two halves are
taken at once: a row from the outer end and its twin from the inner end, side by side in a register. The rows stand in
``cell[i]``, columns FACTORED_LOW onwards; factored, the middle block is the inverse pivot and both others are
multiplied by it, so that a right side waits in each row for one product; those of the middle row stay as they were.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel
from hygro.core.bundles import FACTORED_LOW, FACTORED_MID, FACTORED_UPP
from hygro.core.lanes import first_of, fma, second_of, twins

FloatArray = NDArray[np.float64]
Block = tuple[float, float, float, float]
Pair = tuple[float, float]


@kernel
def block(cell: FloatArray, i: int, at: int) -> Block:
    """The block of row i that begins in column ``at``."""
    return cell[i, at], cell[i, at + 1], cell[i, at + 2], cell[i, at + 3]


@kernel
def put_block(cell: FloatArray, i: int, at: int, values: Block) -> None:
    """Write a block of row i."""
    cell[i, at], cell[i, at + 1], cell[i, at + 2], cell[i, at + 3] = values


@kernel
def product(one: Block, other: Block) -> Block:
    """Product of two blocks."""
    a, b, c, d = one
    e, f, g, h = other
    return fma(b, g, a * e), fma(b, h, a * f), fma(d, g, c * e), fma(d, h, c * f)


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


@kernel
def twin_blocks(cell: FloatArray, i: int, at: int, twin: int, at_twin: int) -> Block:
    """A block of row i and one of its twin."""
    return (
        twins(cell[i, at], cell[twin, at_twin]),
        twins(cell[i, at + 1], cell[twin, at_twin + 1]),
        twins(cell[i, at + 2], cell[twin, at_twin + 2]),
        twins(cell[i, at + 3], cell[twin, at_twin + 3]),
    )


@kernel
def put_twin_blocks(cell: FloatArray, i: int, at: int, twin: int, at_twin: int, two: Block) -> None:
    """Write a block of row i and one of its twin."""
    put_block(cell, i, at, first_block(two))
    put_block(cell, twin, at_twin, second_block(two))


@kernel
def twin_pair(r: FloatArray, i: int, twin: int) -> Pair:
    """The right side of row i and that of its twin."""
    return twins(r[i, 0], r[twin, 0]), twins(r[i, 1], r[twin, 1])


@kernel
def put_twin_pair(r: FloatArray, i: int, twin: int, two: Pair) -> None:
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
def factored(back: Block, mid: Block, on: Block, before: Block) -> tuple[Block, Block, Block]:
    """Inverse pivot of a row, and its blocks that point back and on, times it; ``before`` is the row before's on."""
    pivot = less_product(mid, back, before)
    turned, share = adjugate(pivot), 1.0 / determinant(pivot)  # the division runs beside the products
    return scaled(turned, share), scaled(product(turned, back), share), scaled(product(turned, on), share)


@kernel
def factor(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Factor n rows in place, and carry a right side of shape (n, 2) along."""
    zero = 0.0 * r[0, 0]
    none = twins(zero, zero)
    both, two = (none, none, none, none), (none, none)
    for i in range((n - 1) // 2):
        twin = n - 1 - i
        inverse, back, both = factored(
            twin_blocks(cell, i, FACTORED_LOW, twin, FACTORED_UPP),
            twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID),
            twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW),
            both,
        )
        two = less_applied(applied(inverse, twin_pair(r, i, twin)), back, two)
        put_twin_blocks(cell, i, FACTORED_LOW, twin, FACTORED_UPP, back)
        put_twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID, inverse)
        put_twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW, both)
        put_twin_pair(r, i, twin, two)
    above, below = first_block(both), second_block(both)
    middle = n // 2
    if n % 2 == 0:  # the row before the middle has no twin
        i = middle - 1
        inverse, back_1, above = factored(
            block(cell, i, FACTORED_LOW), block(cell, i, FACTORED_MID), block(cell, i, FACTORED_UPP), above
        )
        put_block(cell, i, FACTORED_LOW, back_1)
        put_block(cell, i, FACTORED_MID, inverse)
        put_block(cell, i, FACTORED_UPP, above)
        r[i, 0], r[i, 1] = less_applied(
            applied(inverse, (r[i, 0], r[i, 1])), back_1, (first_of(two[0]), first_of(two[1]))
        )
    rest = less_product(block(cell, middle, FACTORED_MID), block(cell, middle, FACTORED_LOW), above)
    pivot = less_product(rest, block(cell, middle, FACTORED_UPP), below)
    put_block(cell, middle, FACTORED_MID, scaled(adjugate(pivot), 1.0 / determinant(pivot)))
    solve_middle(n, cell, r)


@kernel
def solve_middle(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Carry the right side from both halves on to the middle row, which is solved thereby."""
    m = n // 2
    rest = (r[m, 0], r[m, 1])
    if m > 0:
        rest = less_applied(rest, block(cell, m, FACTORED_LOW), (r[m - 1, 0], r[m - 1, 1]))
    if m < n - 1:
        rest = less_applied(rest, block(cell, m, FACTORED_UPP), (r[m + 1, 0], r[m + 1, 1]))
    r[m, 0], r[m, 1] = applied(block(cell, m, FACTORED_MID), rest)


@kernel
def substitute(n: int, cell: FloatArray, r: FloatArray, q: FloatArray | None) -> None:
    """Solve in place for a right side, or two, that are carried along to the middle."""
    middle = n // 2
    two = (twins(r[middle, 0], r[middle, 0]), twins(r[middle, 1], r[middle, 1]))
    if q is not None:
        other = (twins(q[middle, 0], q[middle, 0]), twins(q[middle, 1], q[middle, 1]))
    for k in range(1, (n - 1) // 2 + 1):
        i, twin = middle - k, middle + k
        on = twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW)
        two = less_applied(twin_pair(r, i, twin), on, two)
        put_twin_pair(r, i, twin, two)
        if q is not None:
            other = less_applied(twin_pair(q, i, twin), on, other)
            put_twin_pair(q, i, twin, other)
    if n % 2 == 0:
        on_1 = block(cell, 0, FACTORED_UPP)
        r[0, 0], r[0, 1] = less_applied((r[0, 0], r[0, 1]), on_1, (r[1, 0], r[1, 1]))
        if q is not None:
            q[0, 0], q[0, 1] = less_applied((q[0, 0], q[0, 1]), on_1, (q[1, 0], q[1, 1]))


@kernel
def solve(n: int, cell: FloatArray, r: FloatArray, q: FloatArray | None) -> None:
    """Solve in place for a right side of shape (n, 2), or two, given n factored rows.

    A row waits for the one before it, which leaves time for a second right side beside the first.
    """
    zero = 0.0 * r[0, 0]
    two = (twins(zero, zero), twins(zero, zero))
    other = two
    for i in range((n - 1) // 2):
        twin = n - 1 - i
        inverse = twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID)
        back = twin_blocks(cell, i, FACTORED_LOW, twin, FACTORED_UPP)
        two = less_applied(applied(inverse, twin_pair(r, i, twin)), back, two)
        put_twin_pair(r, i, twin, two)
        if q is not None:
            other = less_applied(applied(inverse, twin_pair(q, i, twin)), back, other)
            put_twin_pair(q, i, twin, other)
    if n % 2 == 0:
        i = n // 2 - 1
        inverse_1, back_1 = block(cell, i, FACTORED_MID), block(cell, i, FACTORED_LOW)
        own = applied(inverse_1, (r[i, 0], r[i, 1]))
        r[i, 0], r[i, 1] = less_applied(own, back_1, (first_of(two[0]), first_of(two[1])))
        if q is not None:
            own = applied(inverse_1, (q[i, 0], q[i, 1]))
            q[i, 0], q[i, 1] = less_applied(own, back_1, (first_of(other[0]), first_of(other[1])))
    solve_middle(n, cell, r)
    if q is not None:
        solve_middle(n, cell, q)
    substitute(n, cell, r, q)
