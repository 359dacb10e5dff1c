"""Heat and moisture through general-purpose integrators: the same equations, grid and hourly weather.

Our solver takes the equations from `hygro.core`; the others take them from the compiled right-hand side in
``tests/peer``, written apart from it. All start from the same state and are given the same boundary conditions. Errors
are differences to one reference: CVODE with a relative tolerance of 1e-8 (1e-7 over a whole year). How far that may be
off is shown by CVODE at 1e-7 and by the other methods' tightest runs, which must come near it.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import cases
import numpy as np
import peer_cell
import peer_column
import peer_run
from scipy.integrate import solve_ivp
from timing import clock
from timing.clock import KernelClock, now, since

from hygro import Assembly, Climate, simulate
from hygro.core.work import Settings
from hygro.grid import build
from hygro.indoor import StandardCurves
from hygro.leakage import AirLeak

HOUR, YEAR_DAYS = 3600.0, 365
TRUSTED = (0.05, 0.1)  # [mass %], [K]: errors within which a run of ours at the default is trusted
REFERENCE, NEARLY = 1e-8, 1e-7
OURS, CVODE = "this solver", "CVODE, banded"
FACTORS = (10.0, 3.0, 1.0, 0.3, 0.1, 0.03, 0.01)  # times the error that our steps are allowed
TOLERANCES = (1e-2, 3e-3, 1e-3, 5e-4, 3e-4, 1e-4, 1e-5, 1e-6)
# what is tried with our solver, with CVODE and with scipy's methods
QUICK = ((3.0, 1.0, 0.3), (1e-2, 1e-3, 1e-4), (1e-2, 1e-4))
MONTH = (FACTORS, TOLERANCES, (1e-2, 1e-3, 5e-4, 1e-4, 1e-5))
YEAR = ((3.0, 1.0, 0.3, 0.1), (1e-2, 3e-3, 1e-3, 5e-4, 3e-4, 1e-4), (1e-2, 1e-3, 5e-4, 1e-4))


@dataclass(frozen=True, eq=False)
class Task:
    """A build-up, its weather for some days, and the problem posed for the peers."""

    name: str
    assembly: Assembly
    climate: Climate
    posed: peer_run.Posed
    weights: np.ndarray  # mass per cent of the deck for each kg m-3 of each cell
    leak: AirLeak | None = None

    @property
    def days(self) -> int:
        """How long."""
        return len(self.climate.time) // 24


@dataclass(frozen=True)
class Solution:
    """What a method finds at the ends of the hours: moisture content of the deck [mass %], temperature [degC]."""

    deck: np.ndarray
    temperature: np.ndarray  # (hours, cells)
    seconds: float  # processor time of the integration alone
    elapsed: float
    evaluations: int


@dataclass
class Point:
    """A method at one setting: errors, and the times and ratios of every round."""

    method: str
    setting: str
    moisture: float
    temperature: float
    evaluations: int
    seconds: list[float] = field(default_factory=list)
    ratios: list[float] = field(default_factory=list)

    @property
    def typical(self) -> float:
        """Median processor time. [s]."""
        return statistics.median(self.seconds)


@lru_cache
def task(name: str, days: int) -> Task:
    """One of the two cases: a typical year of a real cold marine station, or the invented cold valley."""
    if name == "marine":
        assembly, year, leak = cases.vented_roof(), cases.marine_year(), None
    else:  # frost grows in the deck from the air that leaks to it, and thaws
        assembly, year, leak = cases.unvented_roof(), cases.cold_valley("1 January"), cases.leak_to_the_deck()
    climate = year if days >= YEAR_DAYS else cases.first_days(year, days)
    grid = build(assembly)
    number = list(assembly.labels).index("deck")
    layer = assembly.layers[number]
    dry = layer.material.density * layer.thickness / 100.0
    weights = np.where(grid.cell_layer == number, grid.thickness / dry, 0.0)
    forcing = peer_run.boundary(assembly, climate, StandardCurves(), leak)
    return Task(name, assembly, climate, peer_run.pose(assembly, forcing, leak=leak), weights, leak)


def ours(case: Task, factor: float) -> Solution:
    """Our solver with its allowed errors times a factor."""
    usual = Settings()
    settings = usual._replace(
        temperature_error=factor * usual.temperature_error,
        water_error=factor * usual.water_error,
        finest_step=max(1.0, min(1.0, factor) * usual.finest_step),
    )
    return with_settings(case, settings)


def with_settings(case: Task, settings: Settings) -> Solution:
    """Our solver."""
    with KernelClock() as kernel:
        run = simulate(case.assembly, case.climate, StandardCurves(), leak=case.leak, settings=settings)
    return Solution(
        run.water_content.to_numpy()[:, 0] @ case.weights,
        run.temperature.to_numpy()[:, 0],
        kernel.time.processor,
        kernel.time.elapsed,
        int(run.attrs["evaluations"]),
    )


def choices(case: Task, repeats: int) -> None:
    """What each choice among our settings gives: time over that of the default, interleaved, and errors."""
    usual, reference = Settings(), referred(case)
    with_settings(case, usual)  # compiled before anything is timed
    tried = {
        "default": usual,
        "every Newton step checked": usual._replace(unchecked=0.0),
        "Newton steps up to 8 K unchecked": usual._replace(unchecked=8.0),
        "Newton's left-over a fifth": usual._replace(newton=0.2 * usual.newton),
        "Newton's left-over five times": usual._replace(newton=5.0 * usual.newton),
        "errors ten times": usual._replace(
            temperature_error=10.0 * usual.temperature_error, water_error=10.0 * usual.water_error
        ),
        "errors a tenth": usual._replace(
            temperature_error=0.1 * usual.temperature_error, water_error=0.1 * usual.water_error
        ),
    }
    ratios: dict[str, list[float]] = {name: [] for name in tried}
    found: dict[str, Solution] = {}
    for _ in range(repeats):
        for name, settings in tried.items():
            found[name] = with_settings(case, settings)
            ratios[name].append(found[name].seconds / with_settings(case, usual).seconds)
    clock.table(
        ("setting", "time over that of the default", "evaluations", "deck error, mass %", "RMS of worst cell, K")
    )
    for name, one in found.items():
        moisture, temperature = errors(one, reference)
        clock.row(name, clock.median_and_range(ratios[name]), one.evaluations, f"{moisture:.2g}", f"{temperature:.2g}")


def cvode(case: Task, tolerance: float) -> Solution:
    """SUNDIALS CVODE: variable-order BDF, banded Jacobian by differences."""
    started = now()
    run = peer_run.solved(case.posed, tolerance)
    spent = since(started)
    return Solution(
        run.water[:, 0] @ case.weights, run.temperature[:, 0], spent.processor, spent.elapsed, run.evaluations
    )


def by_scipy(method: str) -> Callable[[Task, float], Solution]:
    """One of scipy's implicit methods; LSODA takes the band, BDF and Radau the band as a sparsity pattern.

    No step is longer than an hour, so that no weather is missed; the kinks at full hours are left to error control.
    """

    def solve(case: Task, tolerance: float) -> Solution:
        posed = case.posed
        last = posed.hours - 1
        size, band = len(posed.start), posed.band

        def rates(t: float, y: np.ndarray) -> np.ndarray:
            rate = np.empty(size)
            k = min(int(t / HOUR), last)
            peer_column.derivative(t, k, np.ascontiguousarray(y), rate, posed.n_slices, *posed.arrays)
            return rate

        apart = np.abs(np.arange(size)[:, None] - np.arange(size))
        jacobian = {"lband": band, "uband": band} if method == "LSODA" else {"jac_sparsity": apart <= band}
        hours = HOUR * np.arange(1, posed.hours + 1)
        started = now()
        found = solve_ivp(
            rates, (0.0, hours[-1]), posed.start, method, hours, rtol=tolerance, atol=posed.allowed(tolerance),
            max_step=HOUR, **jacobian,
        )  # fmt: skip
        out = np.empty((len(hours), posed.n_slices, size // 2, peer_cell.N_STATE))
        for k, y in enumerate(found.y.T):
            posed.observed(np.ascontiguousarray(y), out[k])
        spent = since(started)
        if not found.success:
            raise RuntimeError(f"{method} stopped: {found.message}")
        water, temperature = out[:, 0, :, peer_cell.W], out[:, 0, :, peer_cell.T]
        return Solution(water @ case.weights, temperature, spent.processor, spent.elapsed, int(found.nfev))

    return solve


METHODS: dict[str, Callable[[Task, float], Solution]] = {
    OURS: ours,
    CVODE: cvode,
    "scipy LSODA, banded": by_scipy("LSODA"),
    "scipy BDF, banded": by_scipy("BDF"),
    "scipy Radau, banded": by_scipy("Radau"),
}


def settings_of(method: str, tried: tuple[tuple[float, ...], ...]) -> tuple[float, ...]:
    """What is tried with a method."""
    return tried[0] if method == OURS else tried[1] if method == CVODE else tried[2]


def errors(found: Solution, reference: Solution) -> tuple[float, float]:
    """Largest error of a day's mean moisture content [mass %]; RMS of the hours in the worst cell [K]."""
    moist = (found.deck - reference.deck).reshape(-1, 24).mean(axis=1)
    warm = np.sqrt(((found.temperature - reference.temperature) ** 2).mean(axis=0))
    return float(np.abs(moist).max()), float(warm.max())


def beside_ours(case: Task, method: str, setting: float) -> tuple[Solution, float]:
    """A method between runs of ours at the default accuracy; its processor time over theirs."""
    before = [ours(case, 1.0).seconds for _ in range(2)]
    found = METHODS[method](case, setting)
    after = [ours(case, 1.0).seconds for _ in range(2)]
    return found, found.seconds / statistics.median(before + after)


def sweep(case: Task, methods: tuple[str, ...], tried: tuple[tuple[float, ...], ...], rounds: int) -> list[Point]:
    """Every method at every setting; those that answer the question as often as asked."""
    for method in methods:  # compiled before anything is timed
        METHODS[method](task(case.name, 1), 1e-2 if method != OURS else 1.0)
    reference = referred(case)
    points: dict[tuple[str, float], Point] = {}
    for method in methods:
        for setting in settings_of(method, tried):
            found, ratio = beside_ours(case, method, setting)
            name = f"{setting:g} x default" if method == OURS else f"rtol {setting:.0e}"
            point = Point(method, name, *errors(found, reference), found.evaluations, [found.seconds], [ratio])
            points[method, setting] = point
    own = points[OURS, 1.0]
    counting = [(OURS, 1.0)]
    for method in methods[1:]:
        group = {key: point for key, point in points.items() if key[0] == method}
        asked = [cheapest(list(group.values()), *limits) for limits in (TRUSTED, (own.moisture, own.temperature))]
        counting += [key for key, point in group.items() if any(point is one for one in asked)]
    for _ in range(rounds - 1):
        for method, setting in counting:
            found, ratio = beside_ours(case, method, setting)
            points[method, setting].seconds.append(found.seconds)
            points[method, setting].ratios.append(ratio)
    return list(points.values())


def referred(case: Task) -> Solution:
    """The reference; over spans that allow it, how far a looser run is off it is printed."""
    if case.days >= YEAR_DAYS:
        return cvode(case, NEARLY)
    reference, nearly = cvode(case, REFERENCE), cvode(case, NEARLY)
    moisture, temperature = errors(nearly, reference)
    print(
        f"Reference: CVODE at {REFERENCE:.0e}. CVODE at {NEARLY:.0e} is {moisture:.2g} mass % and {temperature:.2g} K "
        f"off it. Range of the deck: {np.ptp(reference.deck):.2g} mass %.\n"
    )
    return reference


def cheapest(group: list[Point], moisture: float, temperature: float) -> Point | None:
    """The cheapest setting that errs no more than allowed in both respects; None where there is none."""
    good = [one for one in group if one.moisture <= moisture and one.temperature <= temperature]
    return min(good, key=lambda one: one.seconds[0], default=None)


def show(points: list[Point], case: Task) -> None:
    """The table of all, and of what the question asks."""
    scale = YEAR_DAYS / case.days
    clock.table(
        ("method", "setting", "s per roof-year", "deck error, mass %", "RMS of worst cell, K", "evaluations",
         "times our default")
    )  # fmt: skip
    for point in points:
        clock.row(
            point.method,
            point.setting,
            clock.median_and_range([scale * one for one in point.seconds]),
            f"{point.moisture:.2g}" if case.weights.any() else "none",
            f"{point.temperature:.2g}",
            point.evaluations,
            clock.median_and_range(point.ratios),
        )
    own = next(one for one in points if one.method == OURS and one.setting == "1 x default")
    print("\nThe time of each method's cheapest setting over ours at the default:\n")
    clock.table(("method", f"both errors within {TRUSTED[0]} mass % and {TRUSTED[1]} K", "neither error above ours"))
    for method in dict.fromkeys(one.method for one in points if one.method != OURS):
        group = [one for one in points if one.method == method]
        found = [cheapest(group, *limits) for limits in (TRUSTED, (own.moisture, own.temperature))]
        clock.row(method, *(f"{clock.median_and_range(p.ratios)}, {p.setting}" if p else "none tried" for p in found))
    print(flush=True)


def memory(method: str) -> None:
    """Print what a method takes for the real year; run in a process of its own."""
    clock.held(METHODS[method], task("marine", 1), task("marine", YEAR_DAYS), 1.0 if method == OURS else 1e-4)
