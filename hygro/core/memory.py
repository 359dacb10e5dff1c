"""Room for results, which comes back to be lent again once nothing looks at it any longer.

A year of results is ten megabytes, and in lanes eight times as much. The system clears each page before it hands it
out, and takes it back when the results are dropped: a tenth of the time of a run in lanes, during which the threads of
a process also wait for each other.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hygro.core.bundles import aligned_zeros

FloatArray = NDArray[np.float64]

MOST_KEPT = 2**28  # [B] of what came back; as much as two groups of columns in lanes leave
LEAST_LENT = 2**20  # [B] what is smaller comes from the system, which keeps that itself
_kept: defaultdict[int, list[FloatArray]] = defaultdict(list)  # by size; lists are changed by one call, by any thread


class _Lent:
    """Owner of a stretch of memory, as numpy asks for it; all arrays that look at it refer to this."""

    _ends = staticmethod(sys.is_finalizing)  # of the interpreter, when names of modules are gone

    def __init__(self, stretch: FloatArray) -> None:
        self._stretch = stretch
        self.__array_interface__: dict[str, Any] = stretch.__array_interface__

    def __del__(self) -> None:
        if not self._ends():
            _take_back(self._stretch)


def _take_back(stretch: FloatArray) -> None:
    if stretch.nbytes + kept() > MOST_KEPT:  # runs of another length may never come again
        for size in set(_kept) - {stretch.size}:
            _kept.pop(size, None)
    if stretch.nbytes + kept() <= MOST_KEPT:
        _kept[stretch.size].append(stretch)


def kept() -> int:
    """What came back and waits to be lent again. [B]."""
    return sum(8 * size * len(stretches) for size, stretches in list(_kept.items()))


def room(*shape: int) -> FloatArray:
    """An array to be written from end to end; it begins where a line of the processor's cache does.

    Parameters
    ----------
    *shape : int
        Its shape.

    Returns
    -------
    ndarray
        Holds whatever was there.
    """
    size = math.prod(shape)
    if 8 * size < LEAST_LENT:
        return aligned_zeros(*shape)
    try:
        stretch = _kept[size].pop()
    except IndexError:
        stretch = aligned_zeros(size)
    return np.asarray(_Lent(stretch)).reshape(shape)
