"""Many roof-years: columns in lanes against each of them alone, one thread against two."""

from __future__ import annotations

import statistics
import time
from concurrent.futures import ThreadPoolExecutor

from timing import clock, single
from timing.clock import now, since

from hygro import indoor, sample_climate
from hygro.core import columns
from hygro.core.lanes import WIDTH
from hygro.simulation import Question, pose, simulate_together
from hygro.vary.case import period
from hygro.vary.spread_out import each

MANY = 1000


def questions(first: int) -> list[Question]:
    """Plain columns, no two alike: the benchmark's vented roof in rooms from dry to humid."""
    climate, roof = period(sample_climate("hut_valley"), "1 October", 1), single.roof()
    rooms = [indoor.ConstantIndoor(19.0 + 0.2 * (k % 11), 0.35 + 0.02 * (k % 13)) for k in range(first, first + WIDTH)]
    return [pose(roof, climate, room) for room in rooms]


def beside_alone(repeats: int) -> None:
    """Solver alone: WIDTH columns one after the other, and in lanes."""
    asked = questions(0)

    def fresh() -> list[columns.Column]:
        return [one.column._replace(temperature=one.column.temperature.copy(), x=one.column.x.copy()) for one in asked]

    alone, lanes, ratios, steps = [], [], [], (0, 0)
    for _ in range(repeats + 1):  # the first compiles
        one_by_one, together = fresh(), fresh()
        started = now()
        found = [columns.solve(column) for column in one_by_one]
        alone.append(since(started).processor)
        started = now()
        in_lanes = list(columns.solve_alike(together))
        lanes.append(since(started).processor)
        ratios.append(alone[-1] / lanes[-1])
        steps = (sum(int(one.record.counts[:, 0].sum()) for one in found), int(in_lanes[0].record.counts[:, 0].sum()))
    clock.table(("solver, a roof-year", "processor time, median (range)", "evaluations of a column"))
    for name, times, count in (("alone", alone, steps[0] / WIDTH), ("in lanes", lanes, steps[1])):
        clock.row(name, clock.median_and_range([1e3 * one / WIDTH for one in times[1:]]) + " ms", f"{count:.0f}")
    print(f"\nIn lanes {clock.median_and_range(ratios[1:])} times as fast.\n")


def on_threads(repeats: int, count: int) -> None:
    """Whole runs with their Datasets, posed and solved in groups of WIDTH, on one thread and on two."""
    groups = list(range(0, count, WIDTH))
    taken: dict[int, list[float]] = {1: [], 2: []}
    for _ in range(repeats):
        for threads, times in taken.items():
            with ThreadPoolExecutor(threads) as pool:
                started = time.perf_counter()
                for _ in each(_group, None, groups, pool):
                    pass
                times.append(time.perf_counter() - started)
    clock.table(("threads", f"{MANY} roof-years with their Datasets, elapsed, median (range)", "roof-years a second"))
    for threads, times in taken.items():
        clock.row(
            threads,
            clock.median_and_range([MANY / count * one for one in times]) + " s",
            f"{count / statistics.median(times):.1f}",
        )
    ratio = [one / two for one, two in zip(taken[1], taken[2], strict=True)]
    print(f"\nTwo threads over one: {clock.median_and_range(ratio)}.")


def _group(_: None, first: int) -> int:
    return sum(run.sizes["time"] for _, run in simulate_together(questions(first)))
