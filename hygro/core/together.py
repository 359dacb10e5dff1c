"""Several columns at once, one in each lane: the same kernel, compiled for `hygro.core.lanes`.

The columns take every step together, as short as the most demanding needs it, and iterate until all have converged;
each is thus solved at least as closely as alone. They must be alike: the same cells, faces, leaks and kinds of
materials, whatever their sizes, curves and weather.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hygro.core._jit import entrance
from hygro.core.bundles import Cells, Faces, FloatArray, Fluid, GapSide, Leak
from hygro.core.integrate import Record, Settings, Work, make_record, make_work, run
from hygro.core.lanes import WIDTH, as_lanes


class Posed(NamedTuple):
    """What the kernel is given for one column; see `hygro.core.integrate.run`."""

    temperature: FloatArray
    x: FloatArray
    cells: Cells
    faces: Faces
    gap: GapSide
    leak: Leak
    fluid: Fluid
    forcing: FloatArray
    settings: Settings


def alike(posed: Posed) -> tuple[Any, ...]:
    """What columns that are solved together have in common; hashable."""
    cells, faces = posed.cells, posed.faces
    return (
        posed.temperature.shape,
        cells.material.tobytes(),
        cells.tables.shape,
        cells.suction_based.tobytes(),
        cells.conducts_liquid.tobytes(),
        faces.sheet.tobytes(),
        faces.sheet_tables.shape,
        faces.liquid_open.tobytes(),
        posed.gap.face,
        posed.gap.outer_sheet,
        tuple(posed.leak),
        posed.fluid.table.tobytes(),
        tuple(posed.fluid)[1:],
        posed.forcing.shape,
        tuple(posed.settings),
    )


def _side_by_side(arrays: Sequence[Any]) -> FloatArray:
    """Arrays as lanes; the last one fills the lanes that are left."""
    filled = [*arrays, *[arrays[-1]] * (WIDTH - len(arrays))]
    return np.ascontiguousarray(np.stack(filled, axis=-1))


def _after_each_other(arrays: Sequence[FloatArray]) -> FloatArray:
    """Tables of all lanes; each reads its own."""
    return np.stack([*arrays, *[arrays[-1]] * (WIDTH - len(arrays))])


def run_together(columns: Sequence[Posed]) -> tuple[list[Record], int]:
    """Integrate columns that are `alike`, no more than WIDTH; returns the record of each, and whether all went well."""
    first = columns[0]
    n_slices, n = first.temperature.shape
    n_hours = len(first.forcing) - 1
    work = Work(*(np.zeros((*array.shape, WIDTH)) for array in make_work(n_slices, n)))
    work.side[:] = 1.0
    record = Record(*(np.zeros((*array.shape, WIDTH)) for array in make_record(n_hours, n_slices, n)))
    record = record._replace(counts=np.zeros((n_hours, 3)))
    gaps = GapSide(
        first.gap.face, first.gap.outer_sheet, *(_side_by_side(one)[None] for one in list(zip(*(c.gap for c in columns), strict=True))[2:])
    )
    status = _run(
        _side_by_side([one.temperature for one in columns]),
        _side_by_side([one.x for one in columns]),
        first.cells._replace(
            data=_side_by_side([one.cells.data for one in columns]),
            tables=_after_each_other([one.cells.tables for one in columns]),
        ),
        first.faces._replace(
            sheet_tables=_after_each_other([one.faces.sheet_tables for one in columns]),
            heat_resistance=_side_by_side([one.faces.heat_resistance for one in columns]),
            air_share=_side_by_side([one.faces.air_share for one in columns]),
        ),
        gaps,
        first.leak,
        first.fluid,
        _side_by_side([one.forcing for one in columns]),
        work,
        record,
        first.settings,
    )
    return [_lane(record, lane) for lane in range(len(columns))], status[0]


def _lane(record: Record, lane: int) -> Record:
    whole = record._replace(counts=np.repeat(record.counts[..., None], WIDTH, axis=-1))
    return Record(*(np.ascontiguousarray(array[..., lane]) for array in whole))


@entrance
def _run(
    temperature: FloatArray,
    x: FloatArray,
    cells: Cells,
    faces: Faces,
    gap: GapSide,
    leak: Leak,
    fluid: Fluid,
    forcing: FloatArray,
    work: Work,
    record: Record,
    settings: Settings,
) -> tuple[int, int, int, float]:
    """View everything as lanes, and run."""
    return run(
        as_lanes(temperature),
        as_lanes(x),
        Cells(as_lanes(cells.data), cells.material, cells.tables, cells.suction_based, cells.conducts_liquid),
        Faces(faces.sheet, faces.sheet_tables, as_lanes(faces.heat_resistance), faces.liquid_open, as_lanes(faces.air_share)),
        GapSide(
            gap.face,
            gap.outer_sheet,
            as_lanes(gap.thickness)[0],
            as_lanes(gap.length)[0],
            as_lanes(gap.rise)[0],
            as_lanes(gap.losses)[0],
            as_lanes(gap.radiation)[0],
            as_lanes(gap.still_film)[0],
            as_lanes(gap.fixed_speed)[0],
        ),
        leak,
        fluid,
        as_lanes(forcing),
        Work(
            as_lanes(work.memory),
            as_lanes(work.now),
            as_lanes(work.signals),
            as_lanes(work.side),
            as_lanes(work.balance),
            as_lanes(work.props),
            as_lanes(work.blocks),
            as_lanes(work.right),
        ),
        Record(
            as_lanes(record.temperature),
            as_lanes(record.activity),
            as_lanes(record.water),
            as_lanes(record.ice),
            as_lanes(record.fluxes),
            as_lanes(record.air),
            as_lanes(record.speed),
            record.counts,
            as_lanes(record.stored),
        ),
        settings,
    )
