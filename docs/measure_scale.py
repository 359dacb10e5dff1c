"""What a member costs, and what it costs to have many: printed as the tables of scale.md.

Run it from the root of the tree: ``python docs/measure_scale.py``. Minutes; a quiet machine gives steadier figures.
"""

from __future__ import annotations

import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np

from hygro import demo, sample_climate, simulation
from hygro.core.lanes import WIDTH
from hygro.ensemble import Triangular, UncertainStudy, Uniform, band, run_ensemble, scatter, summary, workmanship
from hygro.ensemble import run as running
from hygro.ensemble.store import Store
from hygro.indoor import ConstantIndoor
from hygro.vary.spread_out import each

MEMBERS = 64
FEW = 256
MANY = 10_000
ALIKE = 64
ROUNDS = 3
TASKS = 40


def study(years: int = 1) -> UncertainStudy:
    """The demo's vented roof, with six uncertain inputs."""
    uncertain = {
        "leak.q50": workmanship("0.6 m3/(m2 hour)"),
        "indoor.relative_humidity": Triangular("30 %", "45 %", "60 %"),
        "gap.blocked": Uniform("0 %", "60 %"),
        "deck.times_vapour_resistance": scatter.VAPOUR_RESISTANCE,
        "deck.times_sorption": scatter.SORPTION,
        "insulation.conductivity": scatter.CONDUCTIVITY,
    }
    base = demo.hut_variants(ConstantIndoor(20.0, 0.5))[0]
    return UncertainStudy(base, uncertain, sample_climate(demo.CLIMATE), layer="deck", start=demo.START, years=years)


def cost_of_a_member() -> None:
    """Processor time of one member, and how much of it is spent in the solver, which lets other threads run."""
    one = study()
    running._members(one, (0, WIDTH))
    spent = {"solver": 0.0}
    solve = simulation.solve_alike

    def timed(columns):
        found = solve(columns)
        for _ in columns:
            start = time.thread_time()
            one_found = next(found)
            spent["solver"] += time.thread_time() - start
            yield one_found

    simulation.solve_alike = timed
    start = time.thread_time()
    running._members(one, (WIDTH, WIDTH + MEMBERS))
    total = time.thread_time() - start
    simulation.solve_alike = solve
    share = spent["solver"] / total
    print(
        f"processor time per member and year: {1e3 * total / MEMBERS:.0f} ms, of it in the solver {100 * share:.0f} %"
    )
    print(f"so at most {1.0 / (1.0 - share):.1f} threads' worth of work in one process, whatever the cores")


def cores() -> None:
    """Members a second on one thread, two threads and two processes, in turns; the processes are warm."""
    one, ways = study(), ("one thread", "two threads", "two processes")
    rates: dict[str, list[float]] = {way: [] for way in ways}
    blocks = [(first, first + WIDTH) for first in range(0, MEMBERS, WIDTH)]
    with ThreadPoolExecutor(1) as single, ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2) as processes:
        pools = dict(zip(ways, (single, threads, processes), strict=True))
        list(each(running._members, one, blocks[:4], processes))
        for _ in range(2 * ROUNDS):
            for way, pool in pools.items():
                start = time.perf_counter()
                list(each(running._members, one, blocks, pool))
                rates[way].append(MEMBERS / (time.perf_counter() - start))
    for way, rate in rates.items():
        over = np.array(rate) / np.array(rates["one thread"])
        print(
            f"{way}: median {np.median(rate):.1f} members/s ({min(rate):.1f} to {max(rate):.1f}), "
            f"{np.median(over):.2f} times one thread ({over.min():.2f} to {over.max():.2f})"
        )


def many_members() -> None:
    """Memory and storage of many members.

    What runs at the same time does not grow with their number: a few hundred show it. What is gathered, read and
    sorted does grow: made-up blocks of the real size fill the rest.
    """
    one = study()
    one.case.run()
    path = Path(tempfile.mkdtemp()) / "many.nc"
    before = peak()
    run_ensemble(one, FEW, path, progress=False)
    ran = peak()
    store = Store(path, one.fingerprint)
    store.begin({})
    block = running._members(one, (FEW, FEW + 32))
    for first, last in running._blocks(store.missing(MANY), 32):
        rows = np.arange(last - first)
        store.keep(block.isel(member=rows).assign_coords(member=np.arange(first, last)))
    found = run_ensemble(one, MANY, path, progress=False)
    gathered = peak()
    summary(found)
    band(found)
    sorted_ = peak()
    size = path.stat().st_size
    shutil.rmtree(path.parent)
    print(f"peak memory: {before:.0f} MB before, {ran:.0f} MB after {FEW} runs on {os.cpu_count()} threads,")
    print(f"  {gathered:.0f} MB after gathering {MANY} members, {sorted_:.0f} MB after their statistics")
    print(f"file of {MANY} members: {size / 1e6:.1f} MB, {size / MANY:.0f} B a member")


def peak() -> float:
    """Most memory that this process has held so far. [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def nothing(_: UncertainStudy, stretch: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """What a block sends home, without computing it."""
    rows = stretch[1] - stretch[0]
    return np.zeros((rows, 9)), np.zeros((rows, 366), dtype=np.float32)


def lockstep() -> None:
    """What members cost that march together: every hour then takes as long as its slowest member.

    That is how vector units and graphics processors work. Members are drawn into groups at random.
    """
    one, solve, counts = study(), simulation.solve, []

    def counted(column):
        found = solve(column)
        counts.append(found.record.counts[:, 0].copy())
        return found

    simulation.solve = counted
    for share in one.shares(0, ALIKE):
        one.member(share).run()
    simulation.solve = solve
    hourly = np.array(counts)
    print(f"evaluations of a year: {hourly.sum(axis=1).min():.0f} to {hourly.sum(axis=1).max():.0f}")
    for together in (2, 4, 8, 32):
        drawn = np.random.default_rng(1).permuted(np.tile(np.arange(ALIKE), (20, 1)), axis=1)[:, :together]
        spent = [hourly[group].max(axis=0).sum() / hourly[group].sum(axis=1).mean() for group in drawn]
        print(f"{together:>2} members in step: {np.mean(spent):.2f} times the evaluations of each alone")


def scheduling() -> None:
    """Time that a local cluster of two processes takes for a block when there is nothing to compute."""
    from distributed import Client, LocalCluster

    one, found = study(), {rows: [] for rows in (1, 8, 32, 128, 512)}
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        list(each(nothing, one, [(0, 1)] * 4, client))
        for _ in range(ROUNDS):
            for rows, times in found.items():
                tasks = [(first, first + rows) for first in range(0, TASKS * rows, rows)]
                start = time.perf_counter()
                list(each(nothing, one, tasks, client))
                times.append(1e3 * (time.perf_counter() - start) / TASKS)
    for rows, times in found.items():
        middle = np.median(times)
        print(f"blocks of {rows:>3}: {middle:.1f} ms a block ({min(times):.1f} to {max(times):.1f}),", end=" ")
        print(f"{middle / rows:.3f} ms a member")


def blocks() -> None:
    """Members a second of a local cluster of two processes by block size, beside a pool of two threads; interleaved."""
    from distributed import Client, LocalCluster

    one = study()
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
        ThreadPoolExecutor(2) as threads,
    ):
        ways = {f"cluster, blocks of {rows:>2}": (client, rows) for rows in (8, 16, 32)}
        ways |= {f"threads, blocks of {rows:>2}": (threads, rows) for rows in (8, 32)}
        rates = {name: [] for name in ways}
        for pool in (client, threads):
            list(each(running._members, one, [(0, WIDTH)] * 4, pool))
        for _ in range(ROUNDS):
            for name, (pool, rows) in ways.items():
                tasks = [(first, first + rows) for first in range(0, MEMBERS, rows)]
                start = time.perf_counter()
                list(each(running._members, one, tasks, pool))
                rates[name].append(MEMBERS / (time.perf_counter() - start))
    for name, rate in rates.items():
        print(f"{name}: {np.median(rate):.2f} members/s ({min(rate):.2f} to {max(rate):.2f})")


PARTS = {
    "cost": cost_of_a_member,
    "cores": cores,
    "many": many_members,
    "dask": scheduling,
    "blocks": blocks,
    "lockstep": lockstep,
}


def main() -> None:
    """Run each part in a process of its own, so that memory is that of the part alone."""
    if len(sys.argv) > 1:
        PARTS[sys.argv[1]]()
        return
    machine = f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} cores"
    print(f"{machine}, load {os.getloadavg()[0]:.1f}")
    for name in PARTS:
        print(f"\n{name} (load {os.getloadavg()[0]:.1f})", flush=True)
        subprocess.run([sys.executable, __file__, name], check=True, env={**os.environ, "PYTHONPATH": "."})


if __name__ == "__main__":
    main()
