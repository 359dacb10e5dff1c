"""Clocks, tables and the machine: how the suite measures and prints."""

from __future__ import annotations

import contextlib
import os
import platform
import resource
import statistics
import time
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, NamedTuple

from hygro import simulation
from hygro.core.columns import Column, Solved

PACKAGES = ("numba", "numpy", "xarray", "scipy", "scikit-sundae", "fipy", "jax", "diffrax")


class Time(NamedTuple):
    """Elapsed and processor time. [s]."""

    elapsed: float
    processor: float


def now() -> Time:
    """Time so far, processor time of finished child processes included."""
    spent = os.times()
    return Time(time.perf_counter(), time.process_time() + spent.children_user + spent.children_system)


def since(start: Time) -> Time:
    """Time that has passed."""
    return Time(*(end - begin for end, begin in zip(now(), start, strict=True)))


class KernelClock:
    """Adds up the time spent in the solver, its arrays included."""

    def __init__(self) -> None:
        self.time = Time(0.0, 0.0)
        self._solve = simulation.solve

    def __enter__(self) -> KernelClock:
        def timed(column: Column) -> Solved:
            started = now()
            result = self._solve(column)
            spent = since(started)
            self.time = Time(self.time.elapsed + spent.elapsed, self.time.processor + spent.processor)
            return result

        simulation.solve = timed  # type: ignore[attr-defined]
        return self

    def __exit__(self, *_: object) -> None:
        simulation.solve = self._solve  # type: ignore[attr-defined]


def forget_peak() -> None:
    """Let the peak start at what is held now, where the system can (Linux)."""
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def peak() -> float:
    """Most memory that this process has held so far. [MB]."""
    status = Path("/proc/self/status")
    if status.exists():  # what the system reports as a resource would hold the parent's peak too
        return next(float(line.split()[1]) for line in status.read_text().splitlines() if "VmHWM" in line) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def held(solve: Callable[[Any, float], object], short: object, case: object, setting: float) -> None:
    """Print the memory held before, and most held while, a method solves a case; a short one goes first."""
    solve(short, setting)
    forget_peak()
    before = peak()
    solve(case, setting)
    print(f"{before:.0f} {peak():.0f}")


def machine() -> str:
    """What the numbers were measured on."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        model = names[0] if names else model
    python = f"{platform.system()}, Python {platform.python_version()}"
    installed = []
    for name in PACKAGES:
        try:
            installed.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            installed.append(f"no {name}")
    return f"{model}, {os.cpu_count()} processors, {python}, {', '.join(installed)}; {load()}"


def load() -> str:
    """Load average, where the system tells it."""
    return f"load {os.getloadavg()[0]:.1f} while measured" if hasattr(os, "getloadavg") else "load unknown"


def median_and_range(values: list[float], form: str = ".3g") -> str:
    """Median, and range where there is one."""
    if len(values) == 1:
        return f"{values[0]:{form}}"
    return f"{statistics.median(values):{form}} ({min(values):{form}} to {max(values):{form}})"


def table(head: tuple[str, ...]) -> None:
    """Begin a table."""
    row(*head)
    row(*("---" for _ in head))


def row(*cells: object) -> None:
    """Print one line of a table."""
    print("| " + " | ".join(str(cell) for cell in cells) + " |", flush=True)
