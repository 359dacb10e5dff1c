"""Block tridiagonal systems with 2 x 2 blocks, by block elimination (the Thomas algorithm).

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  A block is a tuple of the (temperature,
coordinate) slopes of the energy equation, then of the water equation. Rows are taken one by one, so that a caller may
make each row just before: the chain from row to row leaves the processor time for it. Factored rows stand side by side
in ``cell[i]``, columns FACTORED_LOW onwards: low, the inverse pivot, and inverse pivot times upp.
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
def eliminate_row(
    cell: FloatArray, i: int, low: Block, mid: Block, upp: Block, r: Pair, above: Block, carried: Pair
) -> tuple[Block, Pair]:
    """Factor row i into ``cell``, given what this returned for the row above: pivot^-1 upp and the right side."""
    la, lb, lc, ld = low
    ua, ub, uc, ud = above
    y0, y1 = carried
    a, b = mid[0] - (la * ua + lb * uc), mid[1] - (la * ub + lb * ud)
    c, d = mid[2] - (lc * ua + ld * uc), mid[3] - (lc * ub + ld * ud)
    scale = 1.0 / (a * d - b * c)
    a, b, c, d = d * scale, -b * scale, -c * scale, a * scale
    va, vb, vc, vd = upp
    ua, ub, uc, ud = a * va + b * vc, a * vb + b * vd, c * va + d * vc, c * vb + d * vd
    r0, r1 = r[0] - (la * y0 + lb * y1), r[1] - (lc * y0 + ld * y1)
    for first, block in ((FACTORED_LOW, low), (FACTORED_MID, (a, b, c, d)), (FACTORED_UPP, (ua, ub, uc, ud))):
        cell[i, first], cell[i, first + 1], cell[i, first + 2], cell[i, first + 3] = block
    return (ua, ub, uc, ud), (a * r0 + b * r1, c * r0 + d * r1)


@kernel_part
def substitute_row(cell: FloatArray, i: int, r: FloatArray, below: Pair) -> Pair:
    """Solution of row i, given that of the row below and the right side that was carried down to it."""
    y0, y1 = below
    return (
        r[i, 0] - (cell[i, FACTORED_UPP] * y0 + cell[i, FACTORED_UPP + 1] * y1),
        r[i, 1] - (cell[i, FACTORED_UPP + 2] * y0 + cell[i, FACTORED_UPP + 3] * y1),
    )


@kernel
def solve(cell: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side of shape (n, 2), given factored rows."""
    n = cell.shape[0]
    y0, y1 = 0.0, 0.0
    for i in range(n):
        r0 = r[i, 0] - (cell[i, FACTORED_LOW] * y0 + cell[i, FACTORED_LOW + 1] * y1)
        r1 = r[i, 1] - (cell[i, FACTORED_LOW + 2] * y0 + cell[i, FACTORED_LOW + 3] * y1)
        y0 = cell[i, FACTORED_MID] * r0 + cell[i, FACTORED_MID + 1] * r1
        y1 = cell[i, FACTORED_MID + 2] * r0 + cell[i, FACTORED_MID + 3] * r1
        r[i, 0], r[i, 1] = y0, y1
    y = (0.0, 0.0)
    for i in range(n - 1, -1, -1):
        y = substitute_row(cell, i, r, y)
        r[i, 0], r[i, 1] = y
