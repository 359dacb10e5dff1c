"""Contract: imports go one way, what draws is loaded on first use, and each file's header tells the truth."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "hygro"
FILES = sorted(PACKAGE.rglob("*.py"))
DRAWING_ROOMS = ("plots", "widgets", "report", "__main__", "demo", "workshop")
HEADER = re.compile(r"may import:?\s+(.+?)(?:\.\s|\.$|;|\Z)", re.IGNORECASE | re.DOTALL)


def _python(code: str) -> str:
    """What a fresh interpreter prints; it sees the package of this tree."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment)
    return done.stdout.strip()


def test_importing_hygro_loads_nothing_heavy(record_property: Callable[[str, object], None]) -> None:
    started = time.perf_counter()
    loaded = _python("import sys, hygro; print(*sorted(sys.modules))").split()
    record_property("seconds", round(time.perf_counter() - started, 2))  # told, not judged
    heavy = {"matplotlib", "ipywidgets", "IPython", "numba", "xarray", "pandas", "pvlib", "pint", "scipy"}
    assert heavy & set(loaded) == set()
    assert "hygro" in loaded


def test_stating_a_building_compiles_nothing_and_draws_nothing() -> None:
    names = "Assembly, Layer, Sheet, VentGap, AirLeak, Climate, FixedAirChange"
    loaded = _python(f"import sys; from hygro import {names}, indoor, materials; print(*sorted(sys.modules))").split()
    assert {"matplotlib", "ipywidgets", "IPython", "numba"} & set(loaded) == set()


def test_simulating_and_judging_draws_nothing() -> None:
    loaded = _python("import sys; from hygro import simulate, criteria; print(*sorted(sys.modules))").split()
    assert {"matplotlib", "ipywidgets", "IPython"} & set(loaded) == set()


def test_a_run_loads_no_library_of_arrays_that_it_does_not_use() -> None:
    """xarray loads dask and pint to ask whether an array is theirs: a quarter of a second, spared by `holding`."""
    code = """
import sys
from hygro import Assembly, Layer, indoor, sample_climate, simulate
lining = Assembly("lining", [Layer("softwood", "12 mm")], tilt=90, azimuth=0, finish="weathered wood")
run = simulate(lining, sample_climate("hut_valley"), indoor.StandardCurves(), start="1 May")
print(*sorted(sys.modules))
"""
    assert {"dask.array", "pint"} & set(_python(code).split()) == set()


def _imports(path: Path) -> set[str]:
    """Full names of what a file imports, whether at the top or on first use."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_only_what_draws_imports_what_draws(path: Path) -> None:
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    drawing = {name for name in _imports(path) if name.split(".")[0] in {"matplotlib", "ipywidgets", "IPython"}}
    if room not in DRAWING_ROOMS:
        assert drawing == set()
    elif room == "plots":
        assert {name for name in drawing if not name.startswith("matplotlib")} == set()


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_four_files_only_name_the_compiler(path: Path) -> None:
    """How kernels are compiled, and what compiled code can compute with."""
    if path not in {PACKAGE / "core" / f"{name}.py" for name in ("_jit", "_register", "_instructions", "lanes")}:
        assert {name for name in _imports(path) if name.split(".")[0] in ("numba", "llvmlite")} == set()


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_header_names_every_room_that_its_file_imports(path: Path) -> None:
    header = HEADER.search(ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "")
    if header is None:
        return  # a package's table of contents, or a file of the core, which the import contract holds
    allowed = header[1].lower()
    if "all above" in allowed or "and above" in allowed or "everything" in allowed:
        return  # the layers of the import contract say it
    own = path.relative_to(PACKAGE).parts[0]
    for name in sorted(_imports(path)):
        room = name.split(".")[1] if name.startswith("hygro.") else own
        assert room == own or room in allowed, f"{path.name} imports {name}; its header allows: {header[1]}"


def test_the_import_contract_is_kept() -> None:
    pytest.importorskip("importlinter", reason="import-linter belongs to the test extra")
    tool = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [str(tool), "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout
