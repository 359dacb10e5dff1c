"""Heat alone, for solvers that know nothing of moisture: FiPy (finite volumes) and diffrax (JAX).

The build-up is of materials that no water enters, under the sun, wind and sky of the real year. Our solver carries its
moisture balance along all the same. The reference is CVODE at 1e-8 on the full equations, as in `moist`.
"""

from __future__ import annotations

import importlib.util
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import cases
import numpy as np
import peer_cell
import peer_column as column
import peer_run
from timing import clock, moist
from timing.moist import HOUR, Solution

from hygro import Assembly, Layer, Sheet
from hygro.grid import build
from hygro.indoor import StandardCurves
from hygro.materials import Material

OURS, CVODE, FIPY, DIFFRAX = moist.OURS, moist.CVODE, "FiPy, implicit Euler", "diffrax, Kvaerno5"
MEMORY_DAYS = 28
TRIED = {
    OURS: (1.0, 0.1),
    CVODE: (1e-2, 1e-4),
    FIPY: (3600.0, 900.0),
    DIFFRAX: (1e-2, 1e-4),
}  # factors, tolerances, steps [s], tolerances


def assembly() -> Assembly:
    """Board, insulation and lining that only heat enters."""

    def solid(name: str, density: float, conductivity: float) -> Material:
        return Material(
            name, density=density, specific_heat=1500.0, conductivity=conductivity, vapour_resistance=math.inf
        )

    parts = [
        Sheet("membrane", s_d=100.0),
        Layer(solid("board", 500.0, 0.13), "18 mm", name="deck"),
        Layer(solid("insulation", 40.0, 0.037), "200 mm", name="insulation"),
        Layer(solid("lining", 700.0, 0.2), "12.5 mm", name="lining"),
    ]
    return Assembly("heat alone", parts, tilt=5.0, azimuth=180.0, finish="black membrane")


def task(days: int) -> moist.Task:
    """The case; no moisture content is asked."""
    climate = cases.first_days(cases.marine_year(), days)
    forcing = peer_run.boundary(assembly(), climate, StandardCurves())
    cells = len(build(assembly()).thickness)
    return moist.Task("heat", assembly(), climate, peer_run.pose(assembly(), forcing), np.zeros(cells))


@dataclass(frozen=True)
class Conduction:
    """Cells, and resistances between their middles; weather at the ends of hours."""

    size: np.ndarray
    capacity: np.ndarray  # J m-3 K-1
    resistance: np.ndarray  # m2 K W-1 between neighbours
    first: float  # W m-2 K-1 of the outer half cell
    last: float  # m2 K W-1 of the inner half cell
    weather: np.ndarray
    start: float


def conduction(case: moist.Task) -> Conduction:
    """The case's numbers from the problem that CVODE is given."""
    c, _, _, _, _, forcing = case.posed.arrays
    half = 0.5 * c[:, peer_cell.DX] / c[:, peer_cell.LAM]
    return Conduction(
        c[:, peer_cell.DX], c[:, peer_cell.DRY_HEAT], half[:-1] + half[1:], 1.0 / half[0], half[-1], forcing, 10.0
    )


def by_fipy(case: moist.Task, step: float) -> Solution:
    """FiPy: fully implicit steps of one length, the radiating surface made linear about the state of the last step."""
    from fipy import CellVariable, DiffusionTerm, FaceVariable, Grid1D, ImplicitSourceTerm, TransientTerm
    from fipy.solvers.scipy import LinearLUSolver

    it = conduction(case)
    n = len(it.size)
    began, spent = time.perf_counter(), time.process_time()
    mesh = Grid1D(dx=it.size)
    field = CellVariable(mesh=mesh, value=it.start)
    between = np.zeros(mesh.numberOfFaces)
    between[1:n] = 0.5 * (it.size[:-1] + it.size[1:]) / it.resistance  # FiPy divides by the distance of the middles
    source, sink = CellVariable(mesh=mesh, value=0.0), CellVariable(mesh=mesh, value=0.0)
    equation = TransientTerm(coeff=CellVariable(mesh=mesh, value=it.capacity)) == (
        DiffusionTerm(coeff=FaceVariable(mesh=mesh, value=between)) + source - ImplicitSourceTerm(coeff=sink)
    )
    solver, per_hour = LinearLUSolver(), round(HOUR / step)
    out = np.empty((case.posed.hours, n))
    given, taken = np.zeros(n), np.zeros(n)
    for k in range(case.posed.hours):
        for part in range(1, per_hour + 1):
            hour = it.weather[k] + part / per_hour * (it.weather[k + 1] - it.weather[k])
            cell = float(field.value[0])
            surface = column.outer_surface(hour, cell, it.first)
            loss = (
                hour[column.H_OUT]
                + 4.0 * hour[column.EMISSIVITY] * column.STEFAN_BOLTZMANN * (surface + column.KELVIN) ** 3
            )
            taken[0] = it.first * loss / (it.first + loss) / it.size[0]
            given[0] = it.first * (surface - cell) / it.size[0] + taken[0] * cell
            taken[-1] = 1.0 / (it.last + 1.0 / hour[column.H_IN]) / it.size[-1]
            given[-1] = taken[-1] * hour[column.T_IN]
            source.setValue(given)
            sink.setValue(taken)
            equation.solve(var=field, dt=step, solver=solver)
        out[k] = field.value
    return Solution(
        np.zeros(len(out)), out, time.process_time() - spent, time.perf_counter() - began, case.posed.hours * per_hour
    )


@lru_cache
def compiled(case: moist.Task, tolerance: float) -> Callable[[], tuple[np.ndarray, int]]:
    """diffrax's march, compiled by JAX for a case; gives temperatures and the number of steps."""
    import diffrax
    import jax
    import jax.numpy as jnp

    jax.config.update("jax_enable_x64", True)
    it = conduction(case)
    weather = jnp.asarray(it.weather)
    size, capacity, resistance = (jnp.asarray(one) for one in (it.size, it.capacity, it.resistance))
    last = case.posed.hours - 1

    def rates(t, y, _):
        k = jnp.clip(jnp.floor(t / HOUR).astype(int), 0, last)
        hour = weather[k] + (t / HOUR - k) * (weather[k + 1] - weather[k])
        emitted = hour[column.EMISSIVITY] * column.STEFAN_BOLTZMANN
        surface = y[0]
        for _ in range(6):  # Newton's method; four suffice
            kelvin = surface + column.KELVIN
            net = hour[column.H_OUT] * (hour[column.T_OUT] - surface) + hour[column.ABSORBED] - emitted * kelvin**4
            net += it.first * (y[0] - surface)
            surface += net / (hour[column.H_OUT] + it.first + 4.0 * emitted * kelvin**3)
        inner = (y[-1] - hour[column.T_IN]) / (it.last + 1.0 / hour[column.H_IN])
        flux = jnp.concatenate([it.first * (surface - y[0])[None], (y[:-1] - y[1:]) / resistance, inner[None]])
        return (flux[:-1] - flux[1:]) / (size * capacity)

    hours = HOUR * jnp.arange(1, case.posed.hours + 1)

    @jax.jit
    def run(y):
        return diffrax.diffeqsolve(
            diffrax.ODETerm(rates), diffrax.Kvaerno5(), 0.0, HOUR * case.posed.hours, 60.0, y,
            saveat=diffrax.SaveAt(ts=hours), max_steps=200_000,
            stepsize_controller=diffrax.ClipStepSizeController(
                diffrax.PIDController(rtol=tolerance, atol=100.0 * tolerance), step_ts=hours
            ),
        )  # fmt: skip

    start = jnp.full(len(it.size), it.start)

    def march() -> tuple[np.ndarray, int]:
        found = run(start)
        return np.asarray(jax.block_until_ready(found.ys)), int(found.stats["num_steps"])

    march()
    return march


def by_diffrax(case: moist.Task, tolerance: float) -> Solution:
    """diffrax: Kvaerno's fifth-order ESDIRK with its own step control, double precision; compiling is not counted.

    Steps end at full hours, where the weather kinks.
    """
    march = compiled(case, tolerance)
    began, spent = time.perf_counter(), time.process_time()
    out, steps = march()
    return Solution(np.zeros(len(out)), out, time.process_time() - spent, time.perf_counter() - began, steps)


METHODS: dict[str, tuple[str, Callable[[moist.Task, float], Solution]]] = {
    OURS: ("hygro", moist.ours),
    CVODE: ("sksundae", moist.cvode),
    FIPY: ("fipy", by_fipy),
    DIFFRAX: ("diffrax", by_diffrax),
}


def memory(method: str) -> None:
    """Print what a method takes for four weeks; run in a process of its own."""
    clock.held(METHODS[method][1], task(1), task(MEMORY_DAYS), TRIED[method][0])


def compare(days: int, rounds: int, quick: bool) -> list[moist.Point]:
    """Every method that is installed, between runs of ours."""
    case, short = task(days), task(1)
    reference = moist.cvode(case, moist.REFERENCE)
    points: dict[tuple[str, float], moist.Point] = {}
    moist.ours(short, 1.0)
    for number in range(rounds):
        for method, (package, solve) in METHODS.items():
            if importlib.util.find_spec(package) is None:
                if number == 0:
                    print(f"{method} is left out: {package} is not installed (the extra `bench` has it).\n")
                continue
            for setting in TRIED[method][:1] if quick else TRIED[method]:
                before = moist.ours(case, 1.0).seconds
                found = solve(case, setting)
                ratio = 2.0 * found.seconds / (before + moist.ours(case, 1.0).seconds)
                if number == 0:
                    name = {OURS: f"{setting:g} x default", FIPY: f"steps of {setting:g} s"}.get(
                        method, f"rtol {setting:.0e}"
                    )
                    moisture, temperature = moist.errors(found, reference)
                    points[method, setting] = moist.Point(method, name, moisture, temperature, found.evaluations)
                points[method, setting].seconds.append(found.seconds)
                points[method, setting].ratios.append(ratio)
    return list(points.values())
