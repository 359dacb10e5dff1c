"""Block tridiagonal systems with 2 x 2 blocks, by block elimination from both ends towards the middle.

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  A block is the (temperature, coordinate)
slopes of the energy equation, then of the water equation. Each row waits for the one before it: the two halves, which
do not, are taken side by side, and the processor works on both. The rows stand in ``cell[i]``, columns FACTORED_LOW
onwards; factored, the middle block is the inverse pivot, the block that points to the middle row is multiplied by it,
and the one that points away is as it was.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import FACTORED_LOW, FACTORED_MID, FACTORED_UPP

FloatArray = NDArray[np.float64]
Block = tuple[float, float, float, float]
Pair = tuple[float, float]


@kernel_part
def block(cell: FloatArray, i: int, at: int) -> Block:
    """The block of row i that begins in column ``at``."""
    return cell[i, at], cell[i, at + 1], cell[i, at + 2], cell[i, at + 3]


@kernel_part
def put_block(cell: FloatArray, i: int, at: int, values: Block) -> None:
    """Write a block of row i."""
    cell[i, at], cell[i, at + 1], cell[i, at + 2], cell[i, at + 3] = values


@kernel_part
def product(one: Block, other: Block) -> Block:
    """Product of two blocks."""
    a, b, c, d = one
    e, f, g, h = other
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h


@kernel_part
def less(one: Block, other: Block) -> Block:
    """Difference of two blocks."""
    return one[0] - other[0], one[1] - other[1], one[2] - other[2], one[3] - other[3]


@kernel_part
def adjugate(one: Block) -> Block:
    """Inverse of a block, times its determinant."""
    a, b, c, d = one
    return d, -b, -c, a


@kernel_part
def determinant(one: Block) -> float:
    """Determinant of a block."""
    a, b, c, d = one
    return a * d - b * c


@kernel_part
def scaled(one: Block, by: float) -> Block:
    """A block times a number."""
    return one[0] * by, one[1] * by, one[2] * by, one[3] * by


@kernel_part
def applied(one: Block, pair: Pair) -> Pair:
    """A block times a pair."""
    a, b, c, d = one
    return a * pair[0] + b * pair[1], c * pair[0] + d * pair[1]


@kernel_part
def factor_row(cell: FloatArray, i: int, back: int, on: int, before: Block) -> Block:
    """Factor row i, whose blocks ``back`` and ``on`` point to the row before and to the next; its block ``on``."""
    pivot = less(block(cell, i, FACTORED_MID), product(block(cell, i, back), before))
    turned, share = adjugate(pivot), 1.0 / determinant(pivot)
    following = scaled(product(turned, block(cell, i, on)), share)  # the division runs beside the product
    put_block(cell, i, FACTORED_MID, scaled(turned, share))
    put_block(cell, i, on, following)
    return following


@kernel_part
def carry_row(cell: FloatArray, i: int, back: int, r: FloatArray, before: Pair) -> Pair:
    """Carry the right side on to row i."""
    brought = applied(block(cell, i, back), before)
    carried = applied(block(cell, i, FACTORED_MID), (r[i, 0] - brought[0], r[i, 1] - brought[1]))
    r[i, 0], r[i, 1] = carried
    return carried


@kernel_part
def substitute_row(cell: FloatArray, i: int, on: int, r: FloatArray, after: Pair) -> Pair:
    """Solution of row i, given that of the next one towards the middle."""
    taken = applied(block(cell, i, on), after)
    solution = r[i, 0] - taken[0], r[i, 1] - taken[1]
    r[i, 0], r[i, 1] = solution
    return solution


@kernel
def factor(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Factor n rows in place, and carry a right side of shape (n, 2) along."""
    middle, nothing = n // 2, 0.0 * r[0, 0]
    above, below = (nothing, nothing, nothing, nothing), (nothing, nothing, nothing, nothing)
    sunk, risen = (nothing, nothing), (nothing, nothing)
    for k in range(middle):
        above = factor_row(cell, k, FACTORED_LOW, FACTORED_UPP, above)
        sunk = carry_row(cell, k, FACTORED_LOW, r, sunk)
        i = n - 1 - k
        if i > middle:
            below = factor_row(cell, i, FACTORED_UPP, FACTORED_LOW, below)
            risen = carry_row(cell, i, FACTORED_UPP, r, risen)
    rest = less(block(cell, middle, FACTORED_MID), product(block(cell, middle, FACTORED_LOW), above))
    pivot = less(rest, product(block(cell, middle, FACTORED_UPP), below))
    put_block(cell, middle, FACTORED_MID, scaled(adjugate(pivot), 1.0 / determinant(pivot)))
    carry_to_middle(cell, middle, r, sunk, risen)


@kernel_part
def carry_to_middle(cell: FloatArray, middle: int, r: FloatArray, sunk: Pair, risen: Pair) -> None:
    """Carry the right side from both halves on to the middle row, which is solved thereby."""
    s, t = applied(block(cell, middle, FACTORED_LOW), sunk), applied(block(cell, middle, FACTORED_UPP), risen)
    rest = r[middle, 0] - s[0] - t[0], r[middle, 1] - s[1] - t[1]
    r[middle, 0], r[middle, 1] = applied(block(cell, middle, FACTORED_MID), rest)


@kernel
def substitute(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side that `factor` has carried along."""
    middle = n // 2
    up, down = (r[middle, 0], r[middle, 1]), (r[middle, 0], r[middle, 1])
    for k in range(1, middle + 1):
        up = substitute_row(cell, middle - k, FACTORED_UPP, r, up)
        if middle + k < n:
            down = substitute_row(cell, middle + k, FACTORED_LOW, r, down)


@kernel
def solve(n: int, cell: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side of shape (n, 2), given n factored rows."""
    middle, nothing = n // 2, 0.0 * r[0, 0]
    sunk, risen = (nothing, nothing), (nothing, nothing)
    for k in range(middle):
        sunk = carry_row(cell, k, FACTORED_LOW, r, sunk)
        i = n - 1 - k
        if i > middle:
            risen = carry_row(cell, i, FACTORED_UPP, r, risen)
    carry_to_middle(cell, middle, r, sunk, risen)
    substitute(n, cell, r)
