"""Runs by themselves: start-up, a roof-year, where its time goes, and how cost grows with cells and hours."""

from __future__ import annotations

import importlib.util
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from timing import clock
from timing.clock import KernelClock, Time, now, since

from hygro import (
    AirLeak,
    Assembly,
    ByWindAndBuoyancy,
    Layer,
    Sheet,
    VentGap,
    indoor,
    sample_climate,
    simulate,
    simulation,
)

ROOT = Path(__file__).parents[2]
FIRST_RESULT = "import sys; sys.path.insert(0, sys.argv[1]); from timing import single; single.year(single.roof())"


def roof(slices: int = 1) -> Assembly:
    """A metal roof with a vent gap over a board, insulation and a retarder."""
    flow = ByWindAndBuoyancy(inlet="100 cm^2/m", outlet="100 cm^2/m", screen=0.5)
    parts = [
        Layer("steel sheet", "0.5 mm"),
        VentGap("40 mm", length="3 m", flow=flow, slices=slices),
        Layer("OSB", "12 mm"),
        Layer("mineral wool batt", "200 mm"),
        Sheet("polyethylene 0.15 mm"),
        Layer("gypsum board", "12.5 mm"),
    ]
    return Assembly("benchmark roof", parts, tilt=10, azimuth=180, finish="dark coated metal")


def unvented_roof() -> Assembly:
    """The same roof without its gap."""
    parts = [part for part in roof() if not isinstance(part, VentGap)]
    return Assembly("benchmark roof, unvented", parts, tilt=10, azimuth=180, finish="dark coated metal")


def year(assembly: Assembly, detail: float = 1.0, years: int = 1, leak: AirLeak | None = None) -> tuple[int, int, int]:
    """Run years of the first sample climate; returns cells, evaluations and Newton steps."""
    climate, room = sample_climate("hut_valley"), indoor.StandardCurves()
    run = simulate(assembly, climate, room, start="1 October", years=years, detail=detail, leak=leak)
    return run.sizes["cell"], int(run.attrs["evaluations"]), int(run.attrs["newton_steps"])


def process(*arguments: str, cache: str | None = None, folder: str | None = None) -> Time:
    """What a fresh interpreter takes."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "MPLBACKEND": "Agg"}
    if cache is not None:
        environment["HYGRO_CACHE_DIR"] = cache
    started = now()
    command = [sys.executable, *arguments]
    subprocess.run(command, check=True, capture_output=True, env=environment, cwd=folder or ROOT)
    return since(started)


def cold() -> Time:
    """Time to the first result with nothing compiled."""
    with tempfile.TemporaryDirectory() as cache:
        return process("-c", FIRST_RESULT, str(ROOT / "docs"), cache=cache)


def demo() -> Time:
    """Time of the demo command, results written to a folder that is thrown away."""
    with tempfile.TemporaryDirectory() as folder:
        return process("-m", "hygro", folder=folder)


def measured(assembly: Assembly, detail: float, repeats: int) -> tuple[list[Time], list[Time]]:
    """Times of whole runs and of the solver in them."""
    whole, solver = [], []
    for _ in range(repeats):
        with KernelClock() as kernel:
            started = now()
            year(assembly, detail)
            whole.append(since(started))
        solver.append(kernel.time)
    return whole, solver


def line(name: str, times: list[Time], note: str = "") -> None:
    """Print one line of the table of times."""
    elapsed = [one.elapsed for one in times]
    unit, factor = ("s", 1.0) if statistics.median(elapsed) >= 1.0 else ("ms", 1e3)
    processor = statistics.median(one.processor for one in times)
    middle, low, high, spent = (
        f"{factor * value:.3g} {unit}" for value in (statistics.median(elapsed), min(elapsed), max(elapsed), processor)
    )
    clock.row(name, middle, f"{low} to {high}", spent, len(times), note)


def times(repeats: int, with_cold: bool, with_processes: bool) -> None:
    """Start-up and a roof-year."""
    fresh = max(3, repeats // 3)
    clock.table(("what", "elapsed, median", "range", "processor time", "repeats", "note"))

    def several(count: int, take: Callable[[], Time]) -> list[Time]:
        return [take() for _ in range(count)]

    if with_processes:
        line("bare interpreter, fresh process", several(fresh, lambda: process("-c", "pass")))
        line("`import hygro`, fresh process", several(fresh, lambda: process("-c", "import hygro")))
    if with_cold:
        line("cold: first result, nothing compiled", [cold()], "fresh cache folder")
    year(roof())  # from here on everything is compiled
    if with_processes:
        first = several(fresh, lambda: process("-c", FIRST_RESULT, str(ROOT / "docs")))
        line("warm: first result, fresh process", first, "imports, climate file, sun, one roof-year")
    for name, assembly, detail in (
        ("unvented roof, a year", unvented_roof(), 1.0),
        ("vented roof, a year", roof(), 1.0),
        ("vented roof with finer cells, a year", roof(), 1.1),
    ):
        cells, evaluations, steps = year(assembly, detail)
        whole, solver = measured(assembly, detail, repeats)
        per = statistics.median(one.processor for one in solver) / cells / steps * 1e9
        line(f"{name}: `simulate`", whole, f"{cells} cells, {evaluations} evaluations")
        line(f"{name}: solver alone", solver, f"{per:.0f} ns per cell and Newton step, of which {steps}")
    if with_processes and importlib.util.find_spec("hygro.__main__") is not None:
        line("`python -m hygro`, fresh process, warm", several(fresh, demo))


def shares(repeats: int) -> None:
    """Where the time of a roof-year goes: the steps of `simulate`, each by a clock around it."""
    steps = {
        "build": "cells and their material tables",
        "outdoor": "sun and sky on the plane, films",
        "boundary_conditions": "boundary conditions",
        "solve": "solver, with its arrays",
        "dataset_of": "Dataset",
        "attributes": "audit and words",
    }
    spent: dict[str, list[float]] = {name: [] for name in [*steps, "all"]}
    kept = {name: getattr(simulation, name) for name in steps}

    def timed(name: str) -> Callable[..., object]:
        def run(*arguments: object, **options: object) -> object:
            started = now()
            result = kept[name](*arguments, **options)
            spent[name].append(since(started).processor)
            return result

        return run

    climate, assembly = sample_climate("hut_valley"), roof()
    try:
        for name in steps:
            setattr(simulation, name, timed(name))
        for _ in range(repeats):
            started = now()
            run = simulate(assembly, climate, indoor.StandardCurves())
            spent["all"].append(since(started).processor)
    finally:
        for name, function in kept.items():
            setattr(simulation, name, function)
    total = statistics.median(spent["all"])
    clock.table(("part of a vented roof-year", "processor time, median (range)", "share"))
    for name, words in steps.items():
        clock.row(
            words,
            clock.median_and_range([1e3 * one for one in spent[name]]) + " ms",
            f"{statistics.median(spent[name]) / total:.0%}",
        )
    clock.row("all of `simulate`", clock.median_and_range([1e3 * one for one in spent["all"]]) + " ms", "100%")
    hours = run.sizes["time"]
    evaluations, newton = (run.attrs[name] / hours for name in ("evaluations", "newton_steps"))
    print(f"\nAn hour takes {evaluations:.2f} evaluations and {newton:.2f} Newton steps;", end=" ")
    print(f"{run.attrs['rejected_steps']} steps of the year were taken again.")


def sliced(repeats: int) -> None:
    """What slices along the gap cost: least of the repeats, interleaved, over a year of the same roof in one piece."""
    leak = AirLeak("1 m3/(m2 hour)", height="1.2 m", into="OSB")
    cases: dict[str, tuple[Assembly, AirLeak | None]] = {
        "one piece": (roof(), None),
        "one piece, with a leak": (roof(), leak),
        "8 slices": (roof(8), None),
        "8 slices, with a leak": (roof(8), leak),
    }
    best: dict[str, tuple[float, float, int]] = {}
    for _ in range(repeats):
        for name, (assembly, air) in cases.items():
            with KernelClock() as kernel:
                started = now()
                _, evaluations, _ = year(assembly, leak=air)
                whole = since(started).processor
            before = best.get(name, (np.inf, np.inf, 0))
            best[name] = (min(whole, before[0]), min(kernel.time.processor, before[1]), evaluations)
    one_whole, one_solver, _ = best["one piece"]
    clock.table(
        ("gap along its length, a year", "`simulate`", "times one piece", "solver", "times one piece", "evaluations")
    )
    for name, (whole, solver, evaluations) in best.items():
        clock.row(
            name, f"{1e3 * whole:.0f} ms", f"{whole / one_whole:.2f}", f"{1e3 * solver:.0f} ms",
            f"{solver / one_solver:.2f}", evaluations,
        )  # fmt: skip


def growth(details: tuple[float, ...], years: tuple[int, ...], repeats: int) -> dict[str, np.ndarray]:
    """Solver time over cells and hours, least of the repeats, interleaved; columns: size, time [s], evaluations."""
    found: dict[str, np.ndarray] = {}
    for name, sizes in (("cells", details), ("hours", years)):
        best: dict[float, tuple[float, float, int]] = {}
        for _ in range(repeats):
            for size in sizes:
                with KernelClock() as kernel:
                    cells, evaluations, _ = year(roof(), size) if name == "cells" else year(roof(), years=int(size))
                at = cells if name == "cells" else 8760 * size
                spent = min(kernel.time.processor, best.get(size, (0.0, np.inf, 0))[1])
                best[size] = (at, spent, evaluations)
        found[name] = np.array([best[size] for size in sizes])
    clock.table(("grows with", "sizes", "solver time", "evaluations", "straight line through all", "R2", "exponent"))
    for name, points in found.items():
        slope, offset, r_squared, power = fit(points[:, 0], points[:, 1])
        clock.row(
            name,
            ", ".join(f"{size:.0f}" for size in points[:, 0]),
            ", ".join(f"{1e3 * spent:.3g} ms" for spent in points[:, 1]),
            ", ".join(f"{count:.0f}" for count in points[:, 2]),
            f"{1e3 * offset:.2g} ms + {1e6 * slope:.3g} us per {name[:-1]}",
            f"{r_squared:.4f}",
            f"{power:.2f}",
        )
    return found


def fit(size: np.ndarray, spent: np.ndarray) -> tuple[float, float, float, float]:
    """Slope and offset of a straight line, R2, and the exponent of a power law."""
    slope, offset = np.polyfit(size, spent, 1)
    rest = spent - offset - slope * size
    power = np.polyfit(np.log(size), np.log(spent), 1)[0]
    return float(slope), float(offset), float(1.0 - rest.var() / spent.var()), float(power)
