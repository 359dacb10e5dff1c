"""Sums over cells. May import: nothing of ours."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def over_cells(values: NDArray[Any], weights: NDArray[Any]) -> NDArray[Any]:
    """Sum over the last axis of values times weights.

    A product of matrices would wake threads of its own, which get in the way of those that an ensemble works on: with
    it a thousand roof-years took a quarter longer on two processors.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Of cells.
    weights : ndarray, shape (n,)
        Their weights.

    Returns
    -------
    ndarray, shape (...,)
    """
    total: NDArray[Any] = np.einsum("...c,c->...", values, weights)
    return total
