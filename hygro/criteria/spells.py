"""Spells: hours in a row in which something holds, or does not.

May import: nothing of ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import numpy.typing as npt


def spells(holds: npt.NDArray[np.bool_]) -> Iterator[tuple[int, int, bool]]:
    """Hours cut where something begins or ends: first hour, the hour after the last, and whether it holds in them.

    Parameters
    ----------
    holds : array of bool, shape (n_hour,)
        Whether it holds in each hour.

    Yields
    ------
    tuple of int, int and bool
        Spells that follow each other from the first hour to the last.
    """
    ends = np.concatenate([[0], np.flatnonzero(np.diff(holds)) + 1, [len(holds)]]).tolist()
    for first, last in pairwise(ends):
        if last > first:
            yield first, last, bool(holds[first])
