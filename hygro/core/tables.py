"""Material and moist-air curves as evenly spaced tables, read by the kernel in constant time.

A material's table holds, at every node of the moisture coordinate, the columns below; the moist-air table holds, at
every node of temperature, the columns of ``moist_air_table``. Beside each column stands its rise to the next node, so
that a row, as wide as a line of the processor's cache, is all that a reading needs. Between nodes all columns are
linear, so the slopes that Newton's method needs are exact.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import kernel_part
from hygro.core.bundles import aligned
from hygro.core.formulas import MoistAir
from hygro.core.lanes import node_below
from hygro.core.potential import X_FREE, activity, coordinate

FloatArray = NDArray[np.float64]

# columns of a material's table
ACTIVITY, WATER, PERMEABILITY, LIQUID = 0, 1, 2, 3
# columns of the moist-air table
SATURATION, ICE_COORDINATE, AIR_PERMEABILITY = 0, 1, 2
# a column's rise to the next node stands so far behind it
RISE = 4

NODES_PER_UNIT = 512
N_NODES = int(2.125 * NODES_PER_UNIT) + 1
COLDEST, WARMEST, NODES_PER_KELVIN = -100.0, 200.0, 10
# Free water is let freeze over this many kelvin below 0 degC; bound water follows its own depression beyond.
FREEZING_SPAN = 0.2
NEVER_ICE = 1e3


def coordinates() -> FloatArray:
    """Moisture coordinates of the table's nodes. [1], shape (N_NODES,)"""
    return np.arange(N_NODES) / NODES_PER_UNIT


@cache
def activities() -> FloatArray:
    """Water activity at the table's nodes. [1], shape (N_NODES,)"""
    return np.array([activity(x) for x in coordinates()])


def material_table(bound: FloatArray, permeability: FloatArray, liquid: FloatArray) -> FloatArray:
    """Table of one material.

    Parameters
    ----------
    bound : ndarray, shape (N_NODES,)
        Water bound at each node, rising. [kg m-3]
    permeability : ndarray, shape (N_NODES,)
        Vapour permeability relative to still air, 1/mu. [1]
    liquid : ndarray, shape (N_NODES,)
        Kirchhoff potential of the liquid flow. [kg m-1 s-1]

    Returns
    -------
    ndarray, shape (N_NODES, 8)
    """
    return with_rises(np.stack([activities(), bound, permeability, liquid], axis=1))


def with_rises(columns: FloatArray) -> FloatArray:
    """Rows of four columns (what is missing is zero) and their rises to the next node. shape (n, up to 4) to (n, 8)"""
    table = np.zeros((len(columns), 2 * RISE))
    table[:, : columns.shape[1]] = columns
    table[:-1, RISE:] = np.diff(table[:, :RISE], axis=0)
    return aligned(table)


@cache
def moist_air_table(air: MoistAir) -> FloatArray:
    """Table of moist air over temperature: saturation pressure, ice coordinate, air permeability.

    Parameters
    ----------
    air : MoistAir
        The published curves to tabulate.

    Returns
    -------
    ndarray, shape (n, 8)
        Columns in Pa, 1 and kg m-1 s-1 Pa-1, at COLDEST + i / NODES_PER_KELVIN, and their rises.
    """
    n = int((WARMEST - COLDEST) * NODES_PER_KELVIN) + 1
    t = COLDEST + np.arange(n) / NODES_PER_KELVIN
    over_water = air.over_water(t)
    ice_at = np.full(n, NEVER_ICE)
    if air.over_ice is not None:
        ratio = np.minimum(air.over_ice(t) / over_water, 1.0)
        at_span = coordinate(float(np.interp(-FREEZING_SPAN, t, ratio)))
        for i in np.flatnonzero(t < 1e-9):
            if t[i] <= -FREEZING_SPAN:
                ice_at[i] = coordinate(ratio[i])
            else:
                ice_at[i] = X_FREE + (at_span - X_FREE) * (-t[i] / FREEZING_SPAN)
    return with_rises(np.stack([over_water, ice_at, air.air_permeability(t)], axis=1))


@kernel_part
def moisture_node(x: float) -> tuple[int, float]:
    """Node below a moisture coordinate within the table, and the distance past it in node spacings."""
    return node_below(x * NODES_PER_UNIT, N_NODES - 2)


@kernel_part
def temperature_node(table: FloatArray, temperature: float) -> tuple[int, float]:
    """Node below a temperature [degC] and the distance past it in node spacings."""
    return node_below((temperature - COLDEST) * NODES_PER_KELVIN, table.shape[0] - 2)
