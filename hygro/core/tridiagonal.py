"""Block tridiagonal systems with 2 x 2 blocks, by block elimination (the Thomas algorithm).

Row i of the system reads  low[i] y[i-1] + mid[i] y[i] + upp[i] y[i+1] = r[i].  Blocks are stored as rows of four:
(temperature, coordinate) derivatives of the energy equation, then of the water equation. ``factor`` overwrites
``mid`` with the inverse pivots and ``upp`` with pivot^-1 upp; ``solve`` may then be called for many right sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel

FloatArray = NDArray[np.float64]


@kernel
def factor(low: FloatArray, mid: FloatArray, upp: FloatArray) -> None:
    """Factor in place; arrays of shape (n, 4)."""
    n = mid.shape[0]
    for i in range(n):
        a, b, c, d = mid[i, 0], mid[i, 1], mid[i, 2], mid[i, 3]
        if i > 0:
            la, lb, lc, ld = low[i, 0], low[i, 1], low[i, 2], low[i, 3]
            ua, ub, uc, ud = upp[i - 1, 0], upp[i - 1, 1], upp[i - 1, 2], upp[i - 1, 3]
            a -= la * ua + lb * uc
            b -= la * ub + lb * ud
            c -= lc * ua + ld * uc
            d -= lc * ub + ld * ud
        scale = 1.0 / (a * d - b * c)
        ia, ib, ic, id_ = d * scale, -b * scale, -c * scale, a * scale
        mid[i, 0], mid[i, 1], mid[i, 2], mid[i, 3] = ia, ib, ic, id_
        ua, ub, uc, ud = upp[i, 0], upp[i, 1], upp[i, 2], upp[i, 3]
        upp[i, 0] = ia * ua + ib * uc
        upp[i, 1] = ia * ub + ib * ud
        upp[i, 2] = ic * ua + id_ * uc
        upp[i, 3] = ic * ub + id_ * ud


@kernel
def solve(low: FloatArray, mid: FloatArray, upp: FloatArray, r: FloatArray) -> None:
    """Solve in place for a right side ``r`` of shape (n, 2), given factored blocks."""
    n = mid.shape[0]
    y0, y1 = 0.0, 0.0
    for i in range(n):
        r0 = r[i, 0] - (low[i, 0] * y0 + low[i, 1] * y1)
        r1 = r[i, 1] - (low[i, 2] * y0 + low[i, 3] * y1)
        y0 = mid[i, 0] * r0 + mid[i, 1] * r1
        y1 = mid[i, 2] * r0 + mid[i, 3] * r1
        r[i, 0], r[i, 1] = y0, y1
    for i in range(n - 2, -1, -1):
        y0, y1 = r[i + 1, 0], r[i + 1, 1]
        r[i, 0] -= upp[i, 0] * y0 + upp[i, 1] * y1
        r[i, 1] -= upp[i, 2] * y0 + upp[i, 3] * y1
