"""Block tridiagonal systems with 2 x 2 blocks, by block elimination from both ends towards the middle.

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  A block is the (temperature, coordinate)
slopes of the energy equation, then of the water equation. Each row waits for the one before it, so the two halves are
taken at once: a row from the outer end and its twin from the inner end, side by side in a register. The rows stand in
``cell[i]``, columns FACTORED_LOW onwards; factored, the middle block is the inverse pivot, the block that points to the
middle row is multiplied by it, and the one that points away is as it was.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel
from hygro.core.bundles import FACTORED_LOW, FACTORED_MID, FACTORED_UPP
from hygro.core.lanes import first_of, second_of, twins

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
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h


@kernel
def less(one: Block, other: Block) -> Block:
    """Difference of two blocks."""
    return one[0] - other[0], one[1] - other[1], one[2] - other[2], one[3] - other[3]


@kernel
def adjugate(one: Block) -> Block:
    """Inverse of a block, times its determinant."""
    a, b, c, d = one
    return d, -b, -c, a


@kernel
def determinant(one: Block) -> float:
    """Determinant of a block."""
    a, b, c, d = one
    return a * d - b * c


@kernel
def scaled(one: Block, by: float) -> Block:
    """A block times a number."""
    return one[0] * by, one[1] * by, one[2] * by, one[3] * by


@kernel
def applied(one: Block, pair: Pair) -> Pair:
    """A block times a pair."""
    a, b, c, d = one
    return a * pair[0] + b * pair[1], c * pair[0] + d * pair[1]


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
def first_block(two: Block) -> Block:
    """The first of two blocks."""
    return first_of(two[0]), first_of(two[1]), first_of(two[2]), first_of(two[3])


@kernel
def second_block(two: Block) -> Block:
    """The second of two blocks."""
    return second_of(two[0]), second_of(two[1]), second_of(two[2]), second_of(two[3])


@kernel
def factored(back: Block, mid: Block, on: Block, before: Block) -> tuple[Block, Block]:
    """Inverse pivot of a row, and its block that points on, times it; ``before`` is that of the row before."""
    pivot = less(mid, product(back, before))
    turned, share = adjugate(pivot), 1.0 / determinant(pivot)
    return scaled(turned, share), scaled(product(turned, on), share)  # the division runs beside the product


@kernel
def carried(back: Block, inverse: Block, r: Pair, before: Pair) -> Pair:
    """Right side of a row, once that of the row before is carried on to it."""
    brought = applied(back, before)
    return applied(inverse, (r[0] - brought[0], r[1] - brought[1]))


@kernel
def factor(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Factor n rows in place, and carry a right side of shape (n, 2) along."""
    zero = 0.0 * r[0, 0]
    none = twins(zero, zero)
    both, two = (none, none, none, none), (none, none)
    for i in range((n - 1) // 2):
        twin = n - 1 - i
        back = twin_blocks(cell, i, FACTORED_LOW, twin, FACTORED_UPP)
        on = twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW)
        inverse, both = factored(back, twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID), on, both)
        two = carried(back, inverse, (twins(r[i, 0], r[twin, 0]), twins(r[i, 1], r[twin, 1])), two)
        put_twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID, inverse)
        put_twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW, both)
        r[i, 0], r[i, 1], r[twin, 0], r[twin, 1] = (
            first_of(two[0]),
            first_of(two[1]),
            second_of(two[0]),
            second_of(two[1]),
        )
    above, below = first_block(both), second_block(both)
    middle = n // 2
    if n % 2 == 0:  # the row before the middle has no twin
        i = middle - 1
        back, on = block(cell, i, FACTORED_LOW), block(cell, i, FACTORED_UPP)
        inverse, above = factored(back, block(cell, i, FACTORED_MID), on, above)
        r[i, 0], r[i, 1] = carried(back, inverse, (r[i, 0], r[i, 1]), (first_of(two[0]), first_of(two[1])))
        put_block(cell, i, FACTORED_MID, inverse)
        put_block(cell, i, FACTORED_UPP, above)
    rest = less(block(cell, middle, FACTORED_MID), product(block(cell, middle, FACTORED_LOW), above))
    pivot = less(rest, product(block(cell, middle, FACTORED_UPP), below))
    put_block(cell, middle, FACTORED_MID, scaled(adjugate(pivot), 1.0 / determinant(pivot)))
    solve_middle(n, cell, r)


@kernel
def solve_middle(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Carry the right side from both halves on to the middle row, which is solved thereby."""
    m = n // 2
    s, t = r[m, 0], r[m, 1]
    if m > 0:
        brought = applied(block(cell, m, FACTORED_LOW), (r[m - 1, 0], r[m - 1, 1]))
        s, t = s - brought[0], t - brought[1]
    if m < n - 1:
        brought = applied(block(cell, m, FACTORED_UPP), (r[m + 1, 0], r[m + 1, 1]))
        s, t = s - brought[0], t - brought[1]
    r[m, 0], r[m, 1] = applied(block(cell, m, FACTORED_MID), (s, t))


@kernel
def substitute(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side that `factor` has carried along."""
    middle = n // 2
    two = (twins(r[middle, 0], r[middle, 0]), twins(r[middle, 1], r[middle, 1]))
    for k in range(1, (n - 1) // 2 + 1):
        i, twin = middle - k, middle + k
        taken = applied(twin_blocks(cell, i, FACTORED_UPP, twin, FACTORED_LOW), two)
        two = (twins(r[i, 0], r[twin, 0]) - taken[0], twins(r[i, 1], r[twin, 1]) - taken[1])
        r[i, 0], r[i, 1], r[twin, 0], r[twin, 1] = (
            first_of(two[0]),
            first_of(two[1]),
            second_of(two[0]),
            second_of(two[1]),
        )
    if n % 2 == 0:
        taken = applied(block(cell, 0, FACTORED_UPP), (r[1, 0], r[1, 1]))
        r[0, 0], r[0, 1] = r[0, 0] - taken[0], r[0, 1] - taken[1]


@kernel
def solve(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side of shape (n, 2), given n factored rows."""
    zero = 0.0 * r[0, 0]
    two = (twins(zero, zero), twins(zero, zero))
    for i in range((n - 1) // 2):
        twin = n - 1 - i
        back = twin_blocks(cell, i, FACTORED_LOW, twin, FACTORED_UPP)
        inverse = twin_blocks(cell, i, FACTORED_MID, twin, FACTORED_MID)
        two = carried(back, inverse, (twins(r[i, 0], r[twin, 0]), twins(r[i, 1], r[twin, 1])), two)
        r[i, 0], r[i, 1], r[twin, 0], r[twin, 1] = (
            first_of(two[0]),
            first_of(two[1]),
            second_of(two[0]),
            second_of(two[1]),
        )
    if n % 2 == 0:
        i = n // 2 - 1
        back, before = block(cell, i, FACTORED_LOW), (first_of(two[0]), first_of(two[1]))
        r[i, 0], r[i, 1] = carried(back, block(cell, i, FACTORED_MID), (r[i, 0], r[i, 1]), before)
    solve_middle(n, cell, r)
    substitute(n, cell, r)
