"""How fast the toolkit is on this machine: ``python docs/benchmark.py`` prints a table of medians and ranges.

Each row is repeated; fresh processes are started anew each time. Nothing else should run meanwhile: elapsed time grows
with what does, processor time hardly.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

from hygro import Assembly, ByWindAndBuoyancy, Layer, Sheet, VentGap, indoor, sample_climate, simulate, simulation

ROOT = Path(__file__).parents[1]
FIRST_RESULT = "import sys; sys.path.insert(0, sys.argv[1]); import benchmark; benchmark.year(benchmark.roof())"


class Time(NamedTuple):
    """Elapsed and processor time. [s]."""

    elapsed: float
    processor: float


def now() -> Time:
    """Time so far, processor time of finished child processes included."""
    spent = os.times()
    return Time(time.perf_counter(), spent.user + spent.system + spent.children_user + spent.children_system)


def since(start: Time) -> Time:
    """Time that has passed."""
    return Time(*(end - begin for end, begin in zip(now(), start, strict=True)))


def roof() -> Assembly:
    """A metal roof with a vent gap over a board, insulation and a retarder."""
    flow = ByWindAndBuoyancy(inlet="100 cm^2/m", outlet="100 cm^2/m", screen=0.5)
    parts = [
        Layer("steel sheet", "0.5 mm"),
        VentGap("40 mm", length="3 m", flow=flow),
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


def year(assembly: Assembly, detail: float = 1.0) -> tuple[int, int]:
    """Run a year of the first sample climate; returns cells and evaluations."""
    run = simulate(assembly, sample_climate("hut_valley"), indoor.StandardCurves(), detail=detail)
    return run.sizes["cell"], int(run.attrs["evaluations"])


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


class KernelClock:
    """Adds up the time spent in the compiled solver."""

    def __init__(self) -> None:
        self.time = Time(0.0, 0.0)
        self._run = simulation.integrate.run

    def __enter__(self) -> KernelClock:
        def timed(*arguments: object) -> object:
            started = now()
            result = self._run(*arguments)
            self.time = since(started)
            return result

        simulation.integrate.run = timed
        return self

    def __exit__(self, *_: object) -> None:
        simulation.integrate.run = self._run


def measured(assembly: Assembly, detail: float, repeats: int) -> tuple[list[Time], list[Time], int, int]:
    """Times of whole runs and of the solver in them; cells and evaluations."""
    cells, evaluations = year(assembly, detail)
    whole, solver = [], []
    for _ in range(repeats):
        with KernelClock() as clock:
            started = now()
            year(assembly, detail)
            whole.append(since(started))
        solver.append(clock.time)
    return whole, solver, cells, evaluations


def row(name: str, times: list[Time], note: str = "") -> None:
    """Print one line of the table."""
    elapsed = [one.elapsed for one in times]
    unit, factor = ("s", 1.0) if statistics.median(elapsed) >= 1.0 else ("ms", 1e3)
    processor = statistics.median(one.processor for one in times)
    middle, low, high, spent = (
        f"{factor * value:.3g} {unit}" for value in (statistics.median(elapsed), min(elapsed), max(elapsed), processor)
    )
    print(f"| {name} | {middle} | {low} to {high} | {spent} | {len(times)} | {note} |", flush=True)


def machine() -> str:
    """What the numbers were measured on."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        model = names[0] if names else model
    load = f"; load average at the start {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    packages = ", ".join(f"{name} {version(name)}" for name in ("numba", "numpy", "xarray"))
    python = f"{platform.system()}, Python {platform.python_version()}"
    return f"{model}, {os.cpu_count()} processors, {python}, {packages}{load}"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=9, help="how often each quick row is measured (9)")
    parser.add_argument("--no-cold", action="store_true", help="leave out the cold compile, half a minute or more")
    options = parser.parse_args()
    fresh = max(3, options.repeats // 3)
    print(machine() + "\n")
    print("| what | median | range | processor time | repeats | note |\n| --- | --- | --- | --- | --- | --- |")

    def several(count: int, take: Callable[[], Time]) -> list[Time]:
        return [take() for _ in range(count)]

    row("bare interpreter, fresh process", several(fresh, lambda: process("-c", "pass")))
    row("`import hygro`, fresh process", several(fresh, lambda: process("-c", "import hygro")))
    if not options.no_cold:
        row("cold: first result, nothing compiled", [cold()], "fresh cache folder")
    year(roof())  # from here on everything is compiled
    first = several(fresh, lambda: process("-c", FIRST_RESULT, str(ROOT / "docs")))
    row("warm: first result, fresh process", first, "imports, climate file, sun, one roof-year")
    for name, assembly, detail in (
        ("unvented roof, a year", unvented_roof(), 1.0),
        ("vented roof, a year", roof(), 1.0),
        ("vented roof with finer cells, a year", roof(), 1.1),
    ):
        whole, solver, cells, evaluations = measured(assembly, detail, options.repeats)
        per = statistics.median(one.processor for one in solver) / cells / evaluations * 1e9
        row(f"{name}: `simulate`", whole, f"{cells} cells, {evaluations} evaluations")
        row(f"{name}: solver alone", solver, f"{per:.0f} ns per cell and evaluation")
    if importlib.util.find_spec("hygro.__main__") is not None:
        row("`python -m hygro`, fresh process, warm", several(fresh, demo))


if __name__ == "__main__":
    main()
