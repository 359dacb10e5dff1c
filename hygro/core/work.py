"""How accurate the integration has to be, and the arrays that it works in."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hygro.core.bundles import (
    ACTIVE,
    INNER_K,
    N_AIR,
    N_FACTORED,
    N_FORCING,
    N_KNOWN,
    N_NOW,
    N_SIGNALS,
    N_SLOPES,
    N_TOUCHED,
    OUTER_K,
    FloatArray,
)

HOUR = 3600.0


class Settings(NamedTuple):
    """How accurate the integration has to be.

    Parameters
    ----------
    temperature_error : float
        Bounds the error (2) of the stages of a step in temperature; the step ends without it. [K]
    water_error : float
        Bounds it in the moisture coordinate. [1]
    newton : float
        What Newton's method may leave over, as a share of both. [1]
    unchecked : float
        Largest Newton step that is trusted without evaluating again, in kelvin or as many COORDINATE_SCALE. [K]
    finest_step : float
        The error splits steps down to this. [s]
    smallest_step : float
        Failures of Newton's method split steps down to this. [s]
    largest_iterations : int
        Newton steps in a stage, of each slice of a gap, before the step is split. [1]
    interval : float
        Time between two rows of the forcing, and longest step; an hour, but in a quick look. [s]
    """

    temperature_error: float = 0.35
    water_error: float = 0.007
    newton: float = 0.02
    unchecked: float = 4.0
    finest_step: float = 60.0
    smallest_step: float = 0.05
    largest_iterations: int = 25
    interval: float = HOUR


class Work(NamedTuple):
    """Work arrays: nothing is allocated in the hour loop.

    ``now`` are the boundary conditions of an evaluation, ``later`` those at the first stage of the step to come;
    ``signals`` are those at the start of a step and at both stages, and what `extrapolate` adds to the last; ``known``
    is what is known of each cell, ``air`` what the slices' air does, ``between`` what an evaluation leaves to go on
    from, ``rows`` the factored system, see `bundles`; ``right`` is the right side of Newton's system, ``ahead`` that of
    a look at the step to come, and what it finds; ``by_t`` and ``by_p`` are those that give the responses of all cells
    to a kelvin and to a pascal of the air that arrives.
    """

    now: FloatArray
    later: FloatArray
    signals: FloatArray
    air: FloatArray
    known: FloatArray
    between: FloatArray
    rows: FloatArray
    right: FloatArray
    ahead: FloatArray
    by_t: FloatArray
    by_p: FloatArray


def make_work(n_slices: int, n: int) -> Work:
    """Work space for a run."""
    air = np.zeros((n_slices, N_AIR))
    air[:, [OUTER_K, INNER_K, ACTIVE]] = 1.0
    return Work(
        now=np.zeros(N_NOW),
        later=np.zeros(N_FORCING),
        signals=np.zeros((4, n_slices, N_SIGNALS, N_SLOPES)),
        air=air,
        known=np.zeros((n_slices, n, N_KNOWN)),
        between=np.zeros((n_slices, N_TOUCHED, 4)),
        rows=np.zeros((n_slices, n // 2 + 1, N_FACTORED)),
        right=np.zeros((n, 2)),
        ahead=np.zeros((n_slices, n, 2)),
        by_t=np.zeros((n, 2)),
        by_p=np.zeros((n, 2)),
    )
