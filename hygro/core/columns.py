"""The doors to the kernel: lanes are the neighbouring cells of one column, the slices of its gap, or several columns.

Columns in lanes take every step together, as short as the most demanding needs it, and iterate until all have
converged; each is thus solved at least as closely as alone. They must be alike: the same cells, faces, leaks and kinds
of materials, whatever their sizes, curves and weather. Where nothing is compiled, there are no lanes: cells and slices
are computed one after the other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from hygro.core import _jit, integrate
from hygro.core._jit import entrance, kernel
from hygro.core.bundles import (
    ACTIVE,
    N_KNOWN,
    Abreast,
    Cells,
    Faces,
    FloatArray,
    Fluid,
    GapSide,
    Leak,
    aligned,
    aligned_zeros,
)
from hygro.core.integrate import run, run_abreast
from hygro.core.lanes import WIDTH, as_lanes, one_by_one
from hygro.core.memory import room
from hygro.core.record import Record, make_record
from hygro.core.turns import out_of_turn
from hygro.core.work import Settings, Work, make_work

Status = tuple[int, int, int, float]
_FIELDS = ("temperature", "activity", "water", "ice")  # results of every cell and hour


class Column(NamedTuple):
    """What the kernel is given; see `hygro.core.integrate.run`. The state becomes that at the end."""

    temperature: FloatArray
    x: FloatArray
    cells: Cells
    faces: Faces
    gap: GapSide
    leak: Leak
    fluid: Fluid
    forcing: FloatArray
    settings: Settings


class Solved(NamedTuple):
    """What the kernel found, and its status."""

    record: Record
    status: Status


def solve(column: Column) -> Solved:
    """One column: its slices in lanes where there are several, else its cells.

    Parameters
    ----------
    column : Column
        What is given.

    Returns
    -------
    Solved
        Record and status, as `hygro.core.integrate.run` fills and returns them.
    """
    n_slices, n = column.temperature.shape
    if _jit.compiles():
        return _solve_slices(column) if n_slices > 1 else _solve_abreast(column)
    record = make_record(len(column.forcing) - 1, n_slices, n)
    return Solved(record, integrate.run(*column[:-1], make_work(n_slices, n), record, column.settings))


def solve_alike(columns: Sequence[Column]) -> Iterator[Solved]:
    """Several columns that `kind_of` finds alike: in lanes, or one after the other where that does not work.

    Parameters
    ----------
    columns : sequence of Column
        No more than WIDTH.

    Yields
    ------
    Solved
        In the same order.
    """
    if len(columns) > 1 and len(columns[0].temperature) == 1 and _jit.compiles():
        record, status = _solve_in_lanes(columns)
        if status[0] == integrate.OK:
            yield from (Solved(_in_lane(record, lane), status) for lane in range(len(columns)))
            return
    yield from map(solve, columns)


def kind_of(column: Column) -> tuple[Any, ...]:
    """What columns that are solved in lanes have in common; hashable."""
    cells, faces = column.cells, column.faces
    return (
        column.temperature.shape,
        column.forcing.shape,
        cells.tables.shape,
        faces.sheet_tables.shape,
        *(array.tobytes() for array in (cells.kinds, faces.kinds, column.fluid.table)),
        column.gap[:2],
        column.leak,
        column.fluid[1:],
        column.settings,
    )


def _for_lanes(arrays: Sequence[Any], axis: int) -> FloatArray:
    """Arrays of all lanes, along a new axis; the last one fills the lanes that are left."""
    filled = [*map(np.asarray, arrays), *[np.asarray(arrays[-1])] * (WIDTH - len(arrays))]
    shape = list(filled[0].shape)
    shape.insert(axis % (len(shape) + 1), WIDTH)
    return np.stack(filled, axis=axis, out=room(*shape))


def _in_every_lane(array: FloatArray) -> FloatArray:
    return aligned(np.repeat(array[..., None], WIDTH, axis=-1))


def _solve_in_lanes(columns: Sequence[Column]) -> Solved:
    """Columns that are alike, one in each lane; all stop where one does. The record has an axis for lanes."""
    first = columns[0]
    n_slices, n = first.temperature.shape

    def beside(read: Callable[[Column], Any], axis: int = -1) -> FloatArray:
        return _for_lanes([read(column) for column in columns], axis)

    work = Work(*map(_in_every_lane, make_work(n_slices, n)))
    record = _wide_record(make_record(0, n_slices, n), len(first.forcing) - 1, shared=("counts",))
    together = first._replace(
        temperature=beside(lambda one: one.temperature),
        x=beside(lambda one: one.x),
        cells=first.cells._replace(
            data=beside(lambda one: one.cells.data), tables=beside(lambda one: one.cells.tables, axis=0)
        ),
        faces=first.faces._replace(
            data=beside(lambda one: one.faces.data), sheet_tables=beside(lambda one: one.faces.sheet_tables, axis=0)
        ),
        forcing=beside(lambda one: one.forcing),
    )
    gaps = beside(lambda one: one.gap[2:-1])
    with out_of_turn():
        status = _run_in_lanes(together, gaps, work, record)
    if status[0] == integrate.OK:
        for lane, column in enumerate(columns):
            column.temperature[:], column.x[:] = together.temperature[..., lane], together.x[..., lane]
    return Solved(record, status)


def _in_lane(record: Record, lane: int) -> Record:
    """Record of the column in a lane; the fields are not copied."""
    own = {name: getattr(record, name)[lane] for name in _FIELDS}
    own |= {
        name: np.ascontiguousarray(getattr(record, name)[..., lane]) for name in ("fluxes", "air", "speed", "stored")
    }
    return record._replace(**own)


def _wide_record(narrow: Record, n_hours: int, shared: tuple[str, ...]) -> Record:
    """Record with an axis for lanes: the first of the fields of results, the last of all else that is not shared."""
    made = {}
    for name, array in narrow._asdict().items():
        shape = array.shape if name == "stored" else (n_hours, *array.shape[1:])
        wide = (WIDTH, *shape) if name in _FIELDS else (*shape, WIDTH)
        made[name] = room(*(shape if name in shared else wide))
        if name not in _FIELDS:  # which are written from end to end
            made[name][...] = 0.0
    return Record(**made)


def _solve_abreast(column: Column) -> Solved:
    """A column whose neighbouring cells share the lanes."""
    n, raw = column.temperature.shape[1], abreast(column)
    flat = column._replace(temperature=raw.temperature.reshape(1, -1))
    record = make_record(len(column.forcing) - 1, 1, n)
    work = make_work(1, n)
    with out_of_turn():
        status = _run_abreast(flat, raw, work, record)
    for given, reached in ((column.temperature, raw.temperature), (column.x, raw.x)):
        given[:] = reached.reshape(1, -1)[:, :n]
    return Solved(record, status)


def abreast(column: Column) -> Abreast:
    """The cells of a column in groups of WIDTH neighbours, side by side along a last axis; see `cells_in_lanes`.

    Parameters
    ----------
    column : Column
        Of one slice.

    Returns
    -------
    Abreast
        With room for what becomes known. The last cell fills the last group up, and joins nothing there.
    """
    n = column.temperature.shape[1]
    groups = -(-n // WIDTH)
    order = np.minimum(np.arange(groups * WIDTH), n - 1).reshape(groups, WIDTH)

    def grouped(rows: Any) -> Any:
        return aligned(rows[order].swapaxes(1, 2))

    def state(values: FloatArray) -> FloatArray:
        return aligned(values[:, order])

    cells, faces = column.cells, column.faces
    return Abreast(
        temperature=state(column.temperature),
        x=state(column.x),
        known=aligned_zeros(1, groups, N_KNOWN, WIDTH),
        right=aligned_zeros(groups, 2, WIDTH),
        ahead=aligned_zeros(1, groups, 2, WIDTH),
        data=grouped(cells.data),
        kinds=grouped(cells.kinds),
        tables=cells.tables,
        face_data=grouped(faces.data[1:]),
        # the innermost face, which stands for those that are missing, joins nothing
        face_kinds=grouped(faces.kinds[1:]),
        sheet_tables=faces.sheet_tables,
    )


def _solve_slices(column: Column) -> Solved:
    """A column whose gap is cut in slices, a slice in each lane."""
    n_slices, n = column.temperature.shape
    groups = -(-n_slices // WIDTH)
    work = make_work(groups, n)
    work = Work(*map(_in_every_lane, work))._replace(now=work.now, later=work.later)
    work.air[:, ACTIVE] = (np.arange(groups * WIDTH) < n_slices).reshape(groups, WIDTH)
    record = _wide_record(make_record(0, groups, n), len(column.forcing) - 1, shared=("counts", "speed"))
    wide = column._replace(temperature=_in_groups(column.temperature, groups), x=_in_groups(column.x, groups))
    with out_of_turn():
        status = _run_slices(wide, work, record)
    for one, reached in ((column.temperature, wide.temperature), (column.x, wide.x)):
        one[:] = np.moveaxis(reached, -1, 1).reshape(-1, n)[:n_slices]
    beside = {name: np.moveaxis(getattr(record, name), 0, 2) for name in _FIELDS}
    beside |= {name: np.moveaxis(getattr(record, name), -1, 2) for name in ("fluxes", "air", "stored")}
    flat = {name: array.reshape(len(array), -1, array.shape[-1])[:, :n_slices] for name, array in beside.items()}
    return Solved(record._replace(**{name: np.ascontiguousarray(array) for name, array in flat.items()}), status)


def _in_groups(values: FloatArray, groups: int) -> FloatArray:
    """(n_slices, n) as (groups, n, WIDTH); the last slice fills the lanes that are left."""
    filled = np.concatenate([values, np.repeat(values[-1:], groups * WIDTH - len(values), axis=0)])
    return aligned(np.moveaxis(filled.reshape(groups, WIDTH, -1), 1, -1))


@entrance
def _run_abreast(column: Column, raw: Abreast, work: Work, record: Record) -> Status:
    """View as lanes what differs from cell to cell, and run; ``column`` has the state of all groups."""
    cells = cells_in_lanes(raw)
    known, right, ahead = one_by_one(cells.known, N_KNOWN), one_by_one(cells.right, 2), one_by_one(cells.ahead, 2)
    single = Work(
        work.now, work.later, work.signals, work.air, known, work.between, work.rows, right, ahead, work.by_t, work.by_p
    )
    return run_abreast(
        cells, column.temperature, column.cells, column.faces, column.gap, column.leak, column.fluid, column.forcing,
        single, record, column.settings,
    )  # fmt: skip


@kernel
def cells_in_lanes(raw: Abreast) -> Abreast:
    """View as lanes what `abreast` has grouped."""
    return Abreast(
        as_lanes(raw.temperature), as_lanes(raw.x), as_lanes(raw.known), as_lanes(raw.right), as_lanes(raw.ahead),
        as_lanes(raw.data), as_lanes(raw.kinds), raw.tables, as_lanes(raw.face_data), as_lanes(raw.face_kinds),
        raw.sheet_tables,
    )  # fmt: skip


@entrance
def _run_in_lanes(columns: Column, gaps: FloatArray, work: Work, record: Record) -> Status:
    """View as lanes what differs from column to column, and run; ``gaps`` are the numbers of the gaps."""
    cells, faces, gap, of = columns.cells, columns.faces, columns.gap, as_lanes(gaps)
    return run(
        as_lanes(columns.temperature),
        as_lanes(columns.x),
        Cells(as_lanes(cells.data), cells.kinds, cells.tables),
        Faces(as_lanes(faces.data), faces.kinds, faces.sheet_tables),
        GapSide(gap.face, gap.outer_sheet, of[0], of[1], of[2], of[3], of[4], of[5], of[6], gap.slices),
        columns.leak,
        columns.fluid,
        as_lanes(columns.forcing),
        _work_in_lanes(work, as_lanes(work.now), as_lanes(work.later)),
        _record_in_lanes(record, as_lanes(record.speed)),
        columns.settings,
    )


@entrance
def _run_slices(column: Column, work: Work, record: Record) -> Status:
    """View as lanes what differs from slice to slice, and run."""
    return run(
        as_lanes(column.temperature),
        as_lanes(column.x),
        column.cells,
        column.faces,
        column.gap,
        column.leak,
        column.fluid,
        column.forcing,
        _work_in_lanes(work, work.now, work.later),
        _record_in_lanes(record, record.speed),
        column.settings,
    )


@kernel
def _work_in_lanes(work: Work, now: FloatArray, later: FloatArray) -> Work:
    return Work(
        now, later, as_lanes(work.signals), as_lanes(work.air), as_lanes(work.known), as_lanes(work.between),
        as_lanes(work.rows), as_lanes(work.right), as_lanes(work.ahead), as_lanes(work.by_t), as_lanes(work.by_p),
    )  # fmt: skip


@kernel
def _record_in_lanes(record: Record, speed: FloatArray) -> Record:
    return Record(
        record.temperature,
        record.activity,
        record.water,
        record.ice,
        as_lanes(record.fluxes),
        as_lanes(record.air),
        speed,
        record.counts,
        as_lanes(record.stored),
    )
