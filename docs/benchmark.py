"""How fast the toolkit is on this machine, and beside general-purpose integrators on the same equations.

``python docs/benchmark.py --write`` measures, draws docs/images/benchmark-*.png and puts the tables into
docs/benchmarks.md, in a quarter of an hour; ``--quick`` takes two minutes, prints and keeps nothing. Nothing else
should run meanwhile: elapsed time grows with what does, processor time less. Peers that are not installed are named and
left out (``pip install hygro[test,bench]`` has them).
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

# one thread each, so that processor times can be compared
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("XLA_FLAGS", "--xla_cpu_multi_thread_eigen=false")

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "docs"), str(ROOT / "tests"), str(ROOT / "tests" / "peer")]

from timing import clock, figures, heat, many, moist, single  # noqa: E402

PAGE = ROOT / "docs" / "benchmarks.md"
PARTS = ("single", "peers", "year", "heat", "memory", "growth", "slices", "many", "choices")
NAMES = {
    "marine": "Vented roof, real year of a cold marine station",
    "valley": "Unvented roof with an air leak, invented cold valley",
}
BY_YEAR = (moist.OURS, moist.CVODE, "scipy LSODA, banded")


def begin(title: str) -> None:
    """A heading with the load of the moment."""
    print(f"\n### {title}\n\n{clock.machine()}.\n", flush=True)


def peers(quick: bool, rounds: int) -> None:
    """Every integrator over a month of both climates."""
    days, found = 7 if quick else 28, {}
    for name, title in NAMES.items():
        begin(f"{title}: {days} days")
        case = moist.task(name, days)
        points = moist.sweep(case, tuple(moist.METHODS), moist.QUICK if quick else moist.MONTH, rounds)
        moist.show(points, case)
        found[title] = (points, days)
    if not quick:
        figures.work_and_error(found)


def whole_year(quick: bool, rounds: int) -> None:
    """The fastest over the whole year."""
    if quick:
        return
    for name, title in NAMES.items():
        begin(f"{title}: the whole year")
        case = moist.task(name, moist.YEAR_DAYS)
        moist.show(moist.sweep(case, BY_YEAR, moist.YEAR, rounds), case)


def heat_alone(quick: bool, rounds: int) -> None:
    """Heat alone, with solvers that know no moisture."""
    days = 2 if quick else 7
    begin(f"Heat alone, real weather: {days} days")
    moist.show(heat.compare(days, 1 if quick else rounds, quick), heat.task(days))


def memory(quick: bool) -> None:
    """Memory of each method in a process of its own."""
    if quick:
        return
    for title, kind, methods in (
        ("a whole year of the vented roof in real weather", "moist", moist.METHODS),
        (f"heat alone, real weather: {heat.MEMORY_DAYS} days", "heat", heat.METHODS),
    ):
        begin(f"Memory: {title}")
        clock.table(("method", "held before [MB]", "most held [MB]", "the integration [MB]"))
        for method in methods:
            command = [sys.executable, __file__, "--memory-of", kind, method]
            said = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT).stdout.split()
            before, most = (int(one) for one in said[-2:])
            clock.row(method, before, most, most - before)


def start_up(quick: bool, options: argparse.Namespace) -> None:
    """Start-up, a roof-year, and where it goes."""
    repeats = 3 if quick else options.repeats
    begin("Start-up and a roof-year")
    single.times(repeats, with_cold=not (quick or options.no_cold), with_processes=not quick)
    begin("Where a roof-year goes")
    single.shares(repeats)


def growth(quick: bool) -> None:
    """How cost grows with cells and hours."""
    begin("How cost grows")
    details, years = ((0.5, 1.0, 2.0), (1, 2, 3)) if quick else ((0.5, 1.0, 2.0, 4.0, 8.0), (1, 2, 3, 4, 5))
    found = single.growth(details, years, 2 if quick else 3)
    if not quick:
        figures.growth(found)


def slices(quick: bool, repeats: int) -> None:
    """What slices along the gap cost."""
    begin("Slices along the gap")
    single.sliced(2 if quick else repeats)


def many_runs(quick: bool, repeats: int) -> None:
    """What many columns cost together."""
    begin("Columns in lanes")
    many.beside_alone(1 if quick else repeats)
    many.on_threads(1 if quick else 3, 16 if quick else many.MANY)


def choices(quick: bool, repeats: int) -> None:
    """What the solver's settings give."""
    days = 7 if quick else 28
    for name, title in NAMES.items():
        begin(f"Choices among the settings. {title}, {days} days")
        moist.choices(moist.task(name, days), 2 if quick else repeats)


def renewed(page: str, part: str, said: str) -> str:
    """The page with what a part printed between its marks.

    Raises
    ------
    ValueError
        Where the page has no such marks.
    """
    opening, closing = f"<!-- {part}: measured -->\n", f"<!-- {part}: end -->"
    if page.count(opening) != 1 or page.count(closing) != 1:
        raise ValueError(f"{PAGE.name} needs one line {opening.strip()!r} and one {closing!r} after it")
    before, rest = page.split(opening)
    return before + opening + said.strip() + "\n" + closing + rest.split(closing)[1]


class Both(io.StringIO):
    """Keeps what is printed, and prints it."""

    def write(self, text: str) -> int:
        """Write to both."""
        sys.__stdout__.write(text)
        sys.__stdout__.flush()
        return super().write(text)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="two minutes: short spans, once each, no figures")
    parser.add_argument("--write", action="store_true", help="put the tables into docs/benchmarks.md")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=PARTS, help="some of the parts")
    parser.add_argument("--repeats", type=int, default=9, help="how often single runs are measured (9)")
    parser.add_argument("--rounds", type=int, default=3, help="how often the peers that count are measured (3)")
    parser.add_argument("--no-cold", action="store_true", help="leave out the cold compile, a minute or more")
    parser.add_argument("--memory-of", nargs=2, metavar=("KIND", "METHOD"), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.memory_of:
        kind, method = options.memory_of
        {"moist": moist, "heat": heat}[kind].memory(method)
        return
    started, quick = time.perf_counter(), options.quick
    rounds = 1 if quick else options.rounds
    parts: dict[str, Callable[[], None]] = {
        "single": lambda: start_up(quick, options),
        "peers": lambda: peers(quick, rounds),
        "year": lambda: whole_year(quick, rounds),
        "heat": lambda: heat_alone(quick, rounds),
        "memory": lambda: memory(quick),
        "growth": lambda: growth(quick),
        "slices": lambda: slices(quick, options.repeats),
        "many": lambda: many_runs(quick, options.repeats),
        "choices": lambda: choices(quick, options.repeats),
    }
    for part in (one for one in PARTS if one in options.only):
        with contextlib.redirect_stdout(Both()) as said:
            parts[part]()
        if options.write and not quick:
            page = renewed(PAGE.read_text(encoding="utf-8"), part, said.getvalue())
            PAGE.write_text(page, encoding="utf-8")
    print(f"\nTook {(time.perf_counter() - started) / 60.0:.1f} minutes.")


if __name__ == "__main__":
    main()
