"""Contract: compiled kernels follow their sources, and a cache that cannot be used is done without.

Each test works on a copy of the kernels with a cache of its own, and calls the smallest kernel that calls another one
in another file.
"""

from __future__ import annotations

import os
import pickle
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import hygro
from hygro import demo
from hygro.core import _jit, _register, ahead
from hygro.core.bundles import GapSide
from hygro.indoor import ConstantIndoor

PACKAGE = Path(__file__).parents[2] / "hygro"
# ``air_speed`` is in gap.py; ``activity`` in potential.py, called by a kernel in probe.py that never changes.
PROBE = '''
"""A kernel that calls kernels of other files."""
from hygro.core._jit import entrance
from hygro.core.gap import driving_pressure
from hygro.core.potential import activity


@entrance
def probe(gap, x):
    return driving_pressure(gap, 0.0, 10.0, 0.0, 1.2) + activity(x)
'''
CALL = """
from hygro.core import _jit
from hygro.core.bundles import GapSide
from hygro.core.probe import probe
gap = GapSide(1, -1, 0.05, 3.0, 1.0, 4.0, 0.8, 1.0, -1.0, 1)
print(repr(probe(gap, 0.5)), sum(probe.stats.cache_hits.values()), _jit.CACHE_FOLDER)
"""


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of what the kernels are made of; the rest of the package is not needed."""
    target = tmp_path / "tree" / "hygro"
    target.mkdir(parents=True)
    (target / "__init__.py").write_text("")
    shutil.copy(PACKAGE / "constants.py", target)
    shutil.copytree(PACKAGE / "core", target / "core", ignore=shutil.ignore_patterns("__pycache__"))
    (target / "core" / "probe.py").write_text(PROBE)
    return target


def _start(copy: Path, cache: Path, **more: str) -> subprocess.Popen[str]:
    # Python's own cache looks at size and time stamp alone, and would keep an `_edit` from the kernels' cache
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "HYGRO_CACHE_DIR": str(cache), **more}
    for name in ("NUMBA_CACHE_DIR", "PYTHONPATH"):
        environment.pop(name, None)
    pipe, here = subprocess.PIPE, copy.parent
    return subprocess.Popen(
        [sys.executable, "-c", CALL], stdout=pipe, stderr=pipe, text=True, env=environment, cwd=here
    )


def _result(process: subprocess.Popen[str]) -> tuple[float, int, str]:
    """Value of the probe, whether it came from the cache, and the cache's folder."""
    out, err = process.communicate(timeout=300)
    assert process.returncode == 0, err
    value, hits, folder = out.split(maxsplit=2)
    return float(value), int(hits), folder.strip()


def _edit(path: Path, old: str, new: str) -> None:
    """Change a source without changing its size or its time stamp, which is all that a naive cache looks at."""
    stamp = path.stat()
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    assert len(old) == len(new)
    path.write_text(text.replace(old, new), encoding="utf-8")
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def test_a_kernel_follows_a_formula_that_is_edited_in_another_file(copy: Path, tmp_path: Path) -> None:
    cold = _result(_start(copy, tmp_path / "cache"))
    warm = _result(_start(copy, tmp_path / "cache"))
    assert cold[1] == 0
    assert warm[1] == 1, "the second process must find the code of the first"
    assert warm[0] == cold[0]
    _edit(copy / "core" / "gap.py", "return wind + density * GRAVITY", "return wind - density * GRAVITY")
    edited = _result(_start(copy, tmp_path / "cache"))
    assert edited[1] == 0
    assert edited[0] - 0.5 == pytest.approx(-(cold[0] - 0.5), rel=1e-12)


def test_a_kernel_follows_a_constant_that_is_edited(copy: Path, tmp_path: Path) -> None:
    before = _result(_start(copy, tmp_path / "cache"))
    assert _result(_start(copy, tmp_path / "cache"))[1] == 1
    _edit(copy / "constants.py", "GRAVITY = 9.80665", "GRAVITY = 4.90332")
    after = _result(_start(copy, tmp_path / "cache"))
    assert after[1] == 0
    assert (after[0] - 0.5) / (before[0] - 0.5) == pytest.approx(4.90332 / 9.80665, rel=1e-9)


def test_a_cache_that_cannot_be_written_is_done_without(copy: Path, tmp_path: Path) -> None:
    # A file where the folder should be: nobody can write there, not even the superuser of a container.
    blocked = tmp_path / "blocked"
    blocked.write_text("not a folder")
    value, hits, folder = _result(_start(copy, blocked))
    assert value == pytest.approx(0.5 + 1.2 * 9.80665 * 10.0 / 283.15, rel=1e-12)
    assert hits == 0
    assert folder == "None"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_cache_falls_back(copy: Path, tmp_path: Path) -> None:
    sealed = tmp_path / "sealed"
    sealed.mkdir(mode=0o500)
    assert _result(_start(copy, sealed))[2] == "None"


@pytest.mark.skipif(sys.platform != "linux", reason="the places are those of Linux")
def test_without_a_home_that_can_be_written_the_temporary_folder_serves(copy: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("not a folder")
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    process = _start(copy, Path(), HYGRO_CACHE_DIR="", XDG_CACHE_HOME=str(blocked), TMPDIR=str(temporary))
    assert Path(_result(process)[2]).is_relative_to(temporary)


def test_processes_that_compile_at_once_agree(copy: Path, tmp_path: Path) -> None:
    processes = [_start(copy, tmp_path / "cache") for _ in range(4)]
    results = [_result(process) for process in processes]
    assert len({value for value, _, _ in results}) == 1
    assert _result(_start(copy, tmp_path / "cache"))[:2] == (results[0][0], 1)


@pytest.mark.skipif(_jit.CACHE_FOLDER is None, reason="no folder keeps machine code here")
def test_the_parts_compiled_ahead_are_those_that_a_run_uses() -> None:
    """A part compiled for other types than those of a run would be compiled twice, and help nobody."""
    hygro.simulate(demo.hut_roof(True), hygro.sample_climate("hut_valley"), ConstantIndoor(20.0, 0.5))
    for half in (0, 1):
        ahead.compile_half(half)
    parts = [part for half in ahead._halves() for part in half]
    for function, types in parts:
        kept = {key[0] for key in function._cache._cache_file._load_index()}
        # the same part serves slices, several columns and, alone, tests; it is compiled for these where they use it
        of_cells = {key for key in kept if "wholesx" in str(key) or "one_by_one" in str(key)}
        of_runs = {key for key in of_cells if "shared" in str(key) or "shared" not in str(types)}
        assert of_runs == {of_part for other, of_part in parts if other is function}, function.__name__


def test_the_other_half_may_fail(copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[int] = []
    monkeypatch.setattr(ahead, "compile_half", done.append)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(_jit, "CACHE_FOLDER", tmp_path / "cache")
    for program in (sys.executable, str(tmp_path / "no such program")):
        monkeypatch.setattr(sys, "executable", program)
        monkeypatch.setenv("PYTHONHOME", str(tmp_path / "nowhere"))
        ahead.prepare()
    assert done == [0]


def test_types_of_lanes_are_the_same_in_another_process() -> None:
    """Types are kept beside machine code; one that were not found again would stop whoever comes second."""
    of_bundle = _jit.type_of(GapSide(1, -1, 0.05, 3.0, 1.0, 4.0, 0.8, 1.0, -1.0, 1))
    kept = pickle.dumps((_register.LANES, _register.TRUTHS, _register.WHOLES, of_bundle))
    command = f"""
import pickle
from hygro.core import _jit, _register
from hygro.core.bundles import GapSide
of_bundle = _jit.type_of(GapSide(1, -1, 0.05, 3.0, 1.0, 4.0, 0.8, 1.0, -1.0, 1))
assert pickle.loads({kept!r}) == (_register.LANES, _register.TRUTHS, _register.WHOLES, of_bundle)
"""
    subprocess.run([sys.executable, "-c", command], check=True, cwd=PACKAGE.parent)


@pytest.mark.skipif(_jit.CACHE_FOLDER is None, reason="no folder keeps machine code here")
def test_slices_compiled_by_one_process_serve_another() -> None:
    command = """
import hygro
from hygro import demo
from hygro.core import columns, integrate
from hygro.indoor import ConstantIndoor
weather = hygro.sample_climate("hut_valley")
weather = type(weather)(weather.data.isel(time=slice(0, 48)))
hygro.simulate(demo.hut_roof(True, slices=3), weather, ConstantIndoor(20.0, 0.5))
print(sum(columns._run_slices.stats.cache_hits.values()), sum(columns._run_slices.stats.cache_misses.values()))
"""
    said = [
        subprocess.run(
            [sys.executable, "-c", command], check=True, cwd=PACKAGE.parent, capture_output=True, text=True
        ).stdout.split()
        for _ in range(2)
    ]
    assert said[1] == ["1", "0"]
