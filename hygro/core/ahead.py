"""Compile the kernel on two processors at once, before its first use in a process.

numba compiles a function when it is first called, and all that it calls before it, one after another on one processor.
The parts are independent of each other, and each is kept on disk: a second process compiles one half of them meanwhile,
and the first finds them there. Whatever is not found, because the other process failed or was late, is compiled where
it is needed; a part that is missing below costs time, nothing else.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from hygro.core import _jit
from hygro.core.borders import outer_boundary
from hygro.core.bundles import N_KNOWN, Abreast, Cells, Faces, Fluid, GapSide, Leak
from hygro.core.cell import cell_states
from hygro.core.column import add_surroundings, evaluate_cells, remember_between, return_to_evaluation
from hygro.core.extrapolation import extrapolate, solve_error
from hygro.core.faces import interior_faces, liquid_faces
from hygro.core.follow import follow_cells, follow_fluxes, follow_states
from hygro.core.foresight import look_ahead
from hygro.core.gapface import gap_face
from hygro.core.lanes import type_of_lanes, type_of_one_by_one
from hygro.core.newton import newton_update, step_along_slopes
from hygro.core.record import make_record, write_hour
from hygro.core.speed import gap_speed
from hygro.core.stage import carry_stage_on, solve_stage, sweep
from hygro.core.step import accept, go_on, set_out, settle
from hygro.core.work import Settings, Work, make_work

_LONGEST = 600.0  # [s] what the other process may take; it is given up then
Part = tuple[Callable[..., Any], tuple[Any, ...]]


class _Types(NamedTuple):
    """What the kernel's functions are handed, as numba sees it, where the lanes are cells."""

    number: Any
    index: Any
    truth: Any
    line: Any
    plane: Any
    table: Any
    abreast: Any
    known: Any
    right: Any
    cells: Any
    faces: Any
    gap: Any
    leak: Any
    fluid: Any
    work: Any
    record: Any
    settings: Any


def _types() -> _Types:
    kinds = np.zeros((2, 3), np.int64)
    cells, faces = Cells(np.zeros((1, 1)), kinds, np.zeros((1, 2, 8))), Faces(np.zeros((2, 1)), kinds, np.zeros((1, 2)))
    number, index, truth, line, plane, table = (
        _jit.type_of(value) for value in (1.0, 1, True, np.zeros(1), np.zeros((1, 1)), np.zeros((1, 1, 1)))
    )
    numbers, wholes, state = type_of_lanes(2), type_of_lanes(2, wholes=True), type_of_lanes(3)
    known, right = type_of_one_by_one(N_KNOWN), type_of_one_by_one(2)
    made = make_work(1, 1)
    of_work = (*(_jit.type_of(value) for value in made[:4]), known, table, table, right, right, plane, plane)
    of_cells = (numbers, numbers, state, numbers, state, numbers, wholes, table, numbers, wholes, plane)
    return _Types(
        number=number,
        index=index,
        truth=truth,
        line=line,
        plane=plane,
        table=table,
        abreast=_jit.type_of_bundle(Abreast, of_cells),
        known=known,
        right=right,
        cells=_jit.type_of(cells),
        faces=_jit.type_of(faces),
        gap=_jit.type_of(GapSide(-1, -1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1)),
        leak=_jit.type_of(Leak(-1, False, -1)),
        fluid=_jit.type_of(Fluid(np.zeros((2, 8)), *[0.0] * 8)),
        work=_jit.type_of_bundle(Work, of_work),
        record=_jit.type_of(make_record(1, 1, 1)),
        settings=_jit.type_of(Settings()),
    )


def _halves() -> tuple[list[Part], list[Part]]:
    """Both halves of the parts, each with the types of its arguments: that of the first process, and of the second."""
    t = _types()
    f, i, plane, work, cells = t.number, t.index, t.plane, t.work, t.abreast
    border = (f, t.line, t.cells, t.faces, t.fluid, t.line, t.known, plane)
    exchanged = (t.line, t.faces, t.gap, t.fluid, t.line, t.known, plane, t.line)
    whole = (t.line, t.cells, t.faces, t.gap, t.leak, t.fluid, t.line, t.known, plane, t.line)
    column = (t.plane, t.cells, t.faces, t.gap, t.leak, t.fluid, work, t.table)
    first: list[Part] = [
        (cell_states, (i, cells, t.fluid)),
        (interior_faces, (f, f, i, cells, t.fluid)),
        (outer_boundary, border),
        (write_hour, (i, f, cells, t.fluid, work, t.record)),
        (evaluate_cells, (i, t.line, cells, t.fluid)),
        (remember_between, (i, i, t.leak, t.known, plane)),
        (return_to_evaluation, (i, cells, i, i, t.leak, work)),
        (add_surroundings, (i, f, f, f, f, cells, *whole)),
        (set_out, (f, f, f, cells)),
        (go_on, (f, f, cells)),
        (settle, (f, t.truth, t.truth, cells)),
        (accept, (f, f, f, i, f, cells, work, t.record)),
        (sweep, (f, cells, *column, t.line)),
        (solve_stage, (f, f, f, f, cells, *column, t.settings, t.line)),
    ]
    second: list[Part] = [
        (gap_face, (f, f, f, f, f, f, *exchanged)),  # this and the next first: the other half needs them
        (liquid_faces, (i, cells, t.fluid)),
        (newton_update, (i, f, f, f, f, f, i, cells, t.cells, work, plane, t.settings)),
        (gap_speed, (f, f, plane, t.gap, work, t.fluid, f)),
        *((follow_cells, (i, _jit.case_of(of_base), f, cells)) for of_base in (False, True)),
        (follow_states, (plane, i, t.right, i, f, f)),
        (follow_fluxes, (i, cells, plane, plane, i, t.leak, t.cells, t.fluid, t.known, t.right, f, f)),
        (step_along_slopes, (i, f, f, i, i, cells, work, plane)),
        (solve_error, (i, f, f, i, i, cells, work)),
        (extrapolate, (i, f, f, t.truth, cells, t.cells, t.gap, t.leak, t.fluid, work, t.settings)),
        (look_ahead, (f, t.gap, cells, work)),
        (carry_stage_on, (f, f, f, cells, *column, t.line)),
    ]
    return first, second


def compile_half(number: int) -> None:
    """Compile one half of the kernel's parts, 0 or 1, as far as they are not on disk."""
    for function, types in _halves()[number]:
        function.compile(types)  # type: ignore[attr-defined]


def prepare() -> None:
    """Compile the kernel's parts on two processors, where there are two and a folder that keeps machine code."""
    if not _jit.can_compile_ahead() or (os.cpu_count() or 1) < 2 or not sys.executable:
        return
    places = [str(Path(__file__).parents[2]), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(places)}
    command = [sys.executable, "-c", "from hygro.core import ahead; ahead.compile_half(1)"]
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    try:
        other = subprocess.Popen(command, env=environment, **quiet)  # type: ignore[call-overload]
    except OSError:
        return
    try:
        compile_half(0)
        other.wait(_LONGEST)
    except subprocess.TimeoutExpired:
        pass
    finally:
        if other.poll() is None:
            other.kill()
            other.wait()
