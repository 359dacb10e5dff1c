"""What a run leaves: results by the hour, and what was stored at its ends."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hygro.core._jit import kernel, kernel_part
from hygro.core.bundles import (
    DX,
    ENTHALPY,
    N_FLUXES,
    N_SIGNALS,
    SUCTION_BASED,
    T_OUTER,
    Abreast,
    Cells,
    FloatArray,
    Fluid,
    W,
)
from hygro.core.cell import air_at, water_in_cell
from hygro.core.lanes import any_of, keep
from hygro.core.memory import room
from hygro.core.work import Work


class Record(NamedTuple):
    """Results; leading axis: hour.

    ``counts`` are evaluations, Newton steps and rejected steps of the hour; ``stored`` is heat and water per area in
    each slice at the start and at the end, shape (2, n_slices, 2).
    """

    temperature: FloatArray
    activity: FloatArray
    water: FloatArray
    ice: FloatArray
    fluxes: FloatArray
    air: FloatArray
    speed: FloatArray
    counts: FloatArray
    stored: FloatArray


def make_record(n_hours: int, n_slices: int, n: int) -> Record:
    """Room for the results of a run."""
    temperature, activity, water, ice = room(4, n_hours, n_slices, n)
    return Record(
        temperature=temperature,
        activity=activity,
        water=water,
        ice=ice,
        fluxes=np.zeros((n_hours, n_slices, N_FLUXES)),
        air=np.zeros((n_hours, n_slices, N_SIGNALS - T_OUTER)),
        speed=np.zeros(n_hours),
        counts=np.zeros((n_hours, 3)),
        stored=np.zeros((2, n_slices, 2)),
    )


@kernel
def write_hour(k: int, speed: float, abreast: Abreast, fluid: Fluid, work: Work, record: Record) -> None:
    """Results at the end of hour k."""
    record.speed[k] = speed
    for s in range(abreast.temperature.shape[0]):
        for i in range(abreast.temperature.shape[1]):
            if any_of(abreast.kinds[i, SUCTION_BASED] != 0):
                write_by_suction(k, s, i, abreast, fluid, record)
            else:
                write_state(k, s, i, False, abreast, fluid, record)
        for m in range(N_SIGNALS - T_OUTER):
            record.air[k, s, m] = work.signals[0, s, T_OUTER + m, 0]


@kernel
def write_by_suction(k: int, s: int, i: int, abreast: Abreast, fluid: Fluid, record: Record) -> None:
    """`write_state` of a cell whose curves are stated over suction."""
    write_state(k, s, i, True, abreast, fluid, record)


@kernel_part
def write_state(k: int, s: int, i: int, by_suction: bool, abreast: Abreast, fluid: Fluid, record: Record) -> None:
    """State of cell i of slice s at the end of hour k."""
    temperature, x = abreast.temperature[s, i], abreast.x[s, i]
    _, _, x_ice, x_ice_T, _, _ = air_at(fluid, temperature)
    u, w, ice, _, _, _ = water_in_cell(i, by_suction, temperature, x, x_ice, x_ice_T, abreast, fluid)
    keep(record.temperature, k, s, i, temperature)
    keep(record.activity, k, s, i, u[0])
    keep(record.water, k, s, i, w[0])
    keep(record.ice, k, s, i, ice[0])


@kernel
def store(which: int, cells: Cells, work: Work, record: Record) -> None:
    """Heat and water per area in each slice, at the start (0) or at the end (1)."""
    for s in range(record.stored.shape[1]):
        cell = work.known[s]
        for i in range(cells.data.shape[0]):
            record.stored[which, s, 0] += cells.data[i, DX] * cell[i, ENTHALPY]
            record.stored[which, s, 1] += cells.data[i, DX] * cell[i, W]
