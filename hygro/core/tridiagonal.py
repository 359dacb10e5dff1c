"""Block tridiagonal systems with 2 x 2 blocks, by block elimination (the Thomas algorithm).

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  The blocks of a row stand side by side
in ``blocks[i]``, columns LOW, MID and UPP onwards, each as (temperature, coordinate) slopes of the energy equation,
then of the water equation. ``eliminate`` overwrites mid with the inverse pivots and upp with pivot^-1 upp, and takes a
first right side along, which ``substitute`` ends; ``solve`` may then be called for more.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import LOW, MID, UPP

FloatArray = NDArray[np.float64]


@kernel_part
def eliminate(blocks: FloatArray, r: FloatArray) -> None:
    """Factor blocks of shape (n, 12) in place, and carry a right side of shape (n, 2) half of the way along."""
    ua, ub, uc, ud, y0, y1 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(blocks.shape[0]):
        la, lb, lc, ld = blocks[i, LOW], blocks[i, LOW + 1], blocks[i, LOW + 2], blocks[i, LOW + 3]
        a = blocks[i, MID] - (la * ua + lb * uc)
        b = blocks[i, MID + 1] - (la * ub + lb * ud)
        c = blocks[i, MID + 2] - (lc * ua + ld * uc)
        d = blocks[i, MID + 3] - (lc * ub + ld * ud)
        scale = 1.0 / (a * d - b * c)
        a, b, c, d = d * scale, -b * scale, -c * scale, a * scale
        blocks[i, MID], blocks[i, MID + 1], blocks[i, MID + 2], blocks[i, MID + 3] = a, b, c, d
        va, vb, vc, vd = blocks[i, UPP], blocks[i, UPP + 1], blocks[i, UPP + 2], blocks[i, UPP + 3]
        ua, ub, uc, ud = a * va + b * vc, a * vb + b * vd, c * va + d * vc, c * vb + d * vd
        blocks[i, UPP], blocks[i, UPP + 1], blocks[i, UPP + 2], blocks[i, UPP + 3] = ua, ub, uc, ud
        r0, r1 = r[i, 0] - (la * y0 + lb * y1), r[i, 1] - (lc * y0 + ld * y1)
        y0, y1 = a * r0 + b * r1, c * r0 + d * r1
        r[i, 0], r[i, 1] = y0, y1


@kernel_part
def substitute(blocks: FloatArray, r: FloatArray) -> None:
    """Carry a right side the other half of the way, back from the last row: it becomes the solution."""
    n = blocks.shape[0]
    y0, y1 = r[n - 1, 0], r[n - 1, 1]
    for i in range(n - 2, -1, -1):
        y0, y1 = (
            r[i, 0] - (blocks[i, UPP] * y0 + blocks[i, UPP + 1] * y1),
            r[i, 1] - (blocks[i, UPP + 2] * y0 + blocks[i, UPP + 3] * y1),
        )
        r[i, 0], r[i, 1] = y0, y1


@kernel
def solve(blocks: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side of shape (n, 2), given blocks that `eliminate` has factored."""
    y0, y1 = 0.0, 0.0
    for i in range(blocks.shape[0]):
        r0 = r[i, 0] - (blocks[i, LOW] * y0 + blocks[i, LOW + 1] * y1)
        r1 = r[i, 1] - (blocks[i, LOW + 2] * y0 + blocks[i, LOW + 3] * y1)
        y0 = blocks[i, MID] * r0 + blocks[i, MID + 1] * r1
        y1 = blocks[i, MID + 2] * r0 + blocks[i, MID + 3] * r1
        r[i, 0], r[i, 1] = y0, y1
    substitute(blocks, r)
