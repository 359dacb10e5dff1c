"""Whether this computer is ready: ``python -m hygro check`` says in plain words what is missing.

Loads nothing but the standard library until a package is known to be there. May import: everything but __main__.
"""

from __future__ import annotations

import importlib
import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from importlib import metadata
from pathlib import Path
from typing import Any, Final, NamedTuple

OLDEST_PYTHON: Final = (3, 11)
NOTEBOOKS: Final = "lab"  # extra of pyproject.toml
AUDIT: Final = 1e-6  # [1] share of water or energy that a sound run may miss; usual runs miss 1e-12
PREPARING: Final = 15.0  # [s] a year takes less on any computer once the solver is prepared
_REQUIREMENT: Final = re.compile(r"^([A-Za-z0-9_.-]+)(?:\[[^\]]*\])?\s*(?:>=\s*([0-9.]+))?")
_EXTRA: Final = re.compile(r"extra\s*==\s*['\"]([^'\"]+)['\"]")
_OFFLINE: Final = 'without a network: python -m pip install --no-index --find-links wheels "hygro[lab]"'


class Finding(NamedTuple):
    """One thing that was looked at.

    Parameters
    ----------
    what : str
        What was looked at, in a word or two.
    is_good : bool
        Whether it is as it must be.
    words : str
        What was found.
    remedy : str
        What to do where it is not good; empty where nothing is to be done.
    """

    what: str
    is_good: bool
    words: str
    remedy: str = ""


_LOADED_AS: Final = {"pillow": "PIL"}  # packages that go by another name in Python


def python_version(found: Sequence[int]) -> Finding:
    """Whether Python is new enough.

    Parameters
    ----------
    found : sequence of int
        Version, such as ``sys.version_info[:3]``.

    Returns
    -------
    Finding
        About the version.
    """
    said, needed = ".".join(map(str, found)), ".".join(map(str, OLDEST_PYTHON))
    if tuple(found[:2]) >= OLDEST_PYTHON:
        return Finding("Python", True, said)
    remedy = f"Install Python {needed} or later and make the environment again with it."
    return Finding("Python", False, f"{said} is too old; {needed} or later is needed.", remedy)


def requirements(extra: str = "") -> tuple[tuple[str, str], ...]:
    """Packages that are needed, with the oldest version that will do.

    Parameters
    ----------
    extra : str, optional
        Name of an extra; without it what every use needs.

    Returns
    -------
    tuple of (name, version) pairs of str
        As the installed package declares them, or, where it is used from a source tree, as pyproject.toml does.
    """
    pairs = []
    for line in _declared(extra):
        match = _REQUIREMENT.match(line)
        if match:
            pairs.append((match.group(1), match.group(2) or "0"))
    return tuple(pairs)


def _declared(extra: str) -> list[str]:
    source = Path(__file__).parents[1] / "pyproject.toml"
    if source.is_file():
        import tomllib

        project = tomllib.loads(source.read_text(encoding="utf-8"))["project"]
        return list(project["optional-dependencies"][extra] if extra else project["dependencies"])
    lines = []
    for line in metadata.requires("hygro") or []:
        match = _EXTRA.search(line)
        if (match.group(1) if match else "") == extra:
            lines.append(line.split(";")[0].strip())
    return lines


def package(name: str, oldest: str) -> Finding:
    """Whether a package is installed, new enough, and can be loaded.

    Parameters
    ----------
    name : str
        Name in the package registry.
    oldest : str
        Oldest version that will do.

    Returns
    -------
    Finding
        About the package.
    """
    remedy = f'python -m pip install "{name}>={oldest}"'
    try:
        found = metadata.version(name)
    except metadata.PackageNotFoundError:
        return Finding(name, False, "is not installed.", remedy)
    if _numbers(found) < _numbers(oldest):
        return Finding(name, False, f"{found} is too old; {oldest} or later is needed.", remedy)
    try:
        importlib.import_module(_LOADED_AS.get(name, name.replace("-", "_")))
    except Exception as error:  # whatever a broken package does on loading, the reader gets a sentence
        words = f"{found} is installed but cannot be loaded ({type(error).__name__}: {error})."
        return Finding(name, False, words, f"python -m pip install --force-reinstall {name}")
    return Finding(name, True, found)


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version.split("+")[0])[:3])


def compiler_cache() -> Finding:
    """Whether the compiled solver can be kept, and is there already.

    Returns
    -------
    Finding
        About the folder.
    """
    from hygro.core import _jit

    if _jit.CACHE_FOLDER is None:
        words = "no folder can be written to, so the solver would be prepared anew at every start, a minute or two."
        remedy = "Set the environment variable HYGRO_CACHE_DIR to a folder that you may write to."
        return Finding("solver's cache", False, words, remedy)
    said = "the solver is ready" if _jit.is_compiled() else "the solver is not prepared yet; the trial run does it"
    return Finding("solver's cache", True, f"{_jit.CACHE_FOLDER}; {said}")


def trial_run() -> Finding:
    """Whether a year of the demo's roof can be computed and drawn, and its books close.

    Returns
    -------
    Finding
        About the run, with the time it took.
    """
    from hygro import demo, plots, simulate
    from hygro.climate import sample_climate
    from hygro.indoor import StandardCurves
    from hygro.plots.style import png

    begin = time.perf_counter()
    run = simulate(demo.hut_roof(vented=True), sample_climate(demo.CLIMATE), StandardCurves())
    seconds = time.perf_counter() - begin
    missing = max(abs(run.attrs["audit_water"]), abs(run.attrs["audit_energy"]))
    if not missing <= AUDIT:
        words = f"the run misses {missing:.1g} of its water or energy; that must not be."
        return Finding("trial run", False, words, "Please report it with your operating system and processor.")
    png(plots.depth_time_map(run))
    note = "; most of it went into preparing the solver, which is done once" if seconds > PREPARING else ""
    return Finding("trial run", True, f"a year of the demo's roof in {seconds:.1f} s, and a picture of it{note}")


def findings() -> Iterator[Finding]:
    """Look at one thing after the other.

    Yields
    ------
    Finding
        In the order in which a missing thing would matter. The trial run is left out where something that it needs is
        not there.
    """
    ready = True
    for finding in _needed():
        ready = ready and finding.is_good
        yield finding
    for name, oldest in requirements(NOTEBOOKS):
        yield package(name, oldest)
    if not ready:
        remedy = "Put right what stands above, then check again."
        yield Finding("trial run", False, "not tried, because something that it needs is missing.", remedy)
        return
    for one in (compiler_cache, trial_run):
        yield _safely(one)


def _needed() -> Iterator[Finding]:
    yield python_version(sys.version_info[:3])
    for name, oldest in requirements():
        yield package(name, oldest)


def _safely(check: Callable[[], Finding]) -> Finding:
    what = check.__name__.replace("_", " ")
    try:
        return check()
    except Exception as error:  # the reader of a set-up check gets a sentence, whatever broke
        words = f"stopped with {type(error).__name__}: {' '.join(str(error).split())}"
        return Finding(what, False, words, "Install hygro again; if it stays so, report this line.")


def report(found: Sequence[Finding]) -> str:
    """What is missing and what to do about it, for the end of the check.

    Parameters
    ----------
    found : sequence of Finding
        All findings.

    Returns
    -------
    str
        Several lines of plain text.
    """
    bad = [one for one in found if not one.is_good]
    if not bad:
        return "All is there. Start the notebooks with: python -m jupyterlab notebooks"
    lines = [f"{len(bad)} thing(s) to put right:"]
    lines += [f"  - {one.what}: {one.words}\n      {one.remedy}" for one in bad]
    names = {name for name, _ in (*requirements(), *requirements(NOTEBOOKS))}
    if any(one.what in names for one in bad):
        lines += ["", 'All packages at once: python -m pip install "hygro[lab]"', f"The same {_OFFLINE}"]
    return "\n".join(lines)


def main(write: Callable[[str], Any] | None = None) -> int:
    """Check, and say what was found line by line.

    Parameters
    ----------
    write : callable, optional
        Takes the text; standard output by default.

    Returns
    -------
    int
        0 where all is there, 1 where something is missing.
    """
    say = sys.stdout.write if write is None else write
    os.environ.setdefault("MPLBACKEND", "Agg")
    found = []
    say("Is this computer ready for hygro?\n\n")
    for one in findings():
        say(f"  {'ok     ' if one.is_good else 'MISSING'}  {one.what}: {one.words}\n")
        sys.stdout.flush()
        found.append(one)
    say(f"\n{report(found)}\n")
    return 0 if all(one.is_good for one in found) else 1
