"""Which parts of the compiled solver take its time: ``python docs/profile_solver.py`` prints a table. Linux with perf.

perf samples a process that runs one roof-year after another. It learns the names of the compiled functions from the
object file that numba has cached. Parts marked ``kernel_part`` are written into their callers and count there.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "docs")]
SECONDS = 40.0
MARK = "kernel:"


def work() -> None:
    """Run roof-years, after a table of addresses is written where perf looks for it."""
    from timing import single

    from hygro.core import columns

    roof = single.roof()
    single.year(roof)
    run = columns._run_abreast
    compiled = next(iter(run.overloads.values()))
    entry = compiled.fndesc.llvm_func_name
    (kept,) = Path(run._cache.cache_path).glob("columns._run_abreast-*.nbc")
    symbols = symbols_of(kept.read_bytes())
    moved = compiled.library.get_pointer_to_function(entry) - next(int(s[0], 16) for s in symbols if s[3] == entry)
    lines = [
        f"{int(at, 16) + moved:x} {size} {MARK}{plain(name)}" for at, size, kind, name in symbols if kind in "tTwW"
    ]
    Path(f"/tmp/perf-{os.getpid()}.map").write_text("\n".join(lines) + "\n")
    until = time.monotonic() + SECONDS
    while time.monotonic() < until:
        single.year(roof)


def symbols_of(cached: bytes) -> list[list[str]]:
    """Address, size, kind and name of what an object file in numba's cache defines."""
    with tempfile.NamedTemporaryFile(suffix=".o") as file:
        file.write(cached[cached.index(b"\x7fELF") :])
        file.flush()
        listed = subprocess.run(["nm", "-S", "--defined-only", file.name], check=True, capture_output=True, text=True)
    return [line.split() for line in listed.stdout.splitlines() if len(line.split()) == 4]


def plain(mangled: str) -> str:
    """The module and function that numba wrote into a symbol."""
    found = re.match(r"_ZN5hygro4core(\d+)", mangled)
    if found is None:
        return mangled
    parts, rest = [], mangled[len("_ZN5hygro4core") :]
    while (length := re.match(r"\d+", rest)) and len(parts) < 2:
        start = length.end()
        parts.append(rest[start : start + int(length[0])])
        rest = rest[start + int(length[0]) :]
    return ".".join(parts)


def main() -> None:
    """Sample, and print the shares of what belongs to the solver."""
    # compiled by another process: only code that is loaded from the cache lies as its object file says
    once = "from timing import single; single.year(single.roof())"
    paths = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "docs")])}
    subprocess.run([sys.executable, "-c", once], check=True, capture_output=True, env=paths)
    with tempfile.TemporaryDirectory() as folder:
        data = f"{folder}/perf.data"
        command = ["perf", "record", "-q", "-F", "997", "-o", data, sys.executable, __file__, "work"]
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
        command = ["perf", "report", "-i", data, "--stdio", "-q", "--sort", "symbol", "--percent-limit", "0"]
        said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    shares = re.findall(rf"([\d.]+)%\s+\[\.\]\s+({MARK}\S+|_*(?:ieee754_)?(?:expm1|exp|log|pow)\w*)", said)
    total = sum(float(share) for share, _ in shares)
    print("| function of `hygro/core` | share of the solver's time |\n| --- | --- |")
    for share, name in shares:
        if float(share) > 0.005 * total:
            print(f"| `{name.removeprefix(MARK)}` | {float(share) / total:.1%} |")


if __name__ == "__main__":
    if sys.argv[1:] == ["work"]:
        work()
    else:
        main()
