"""What all tests share: runs whose books are audited, plain materials, and the kernel behind `simulate`."""

from __future__ import annotations

import math
import os
import sys
from collections import defaultdict
from pathlib import Path
from typing import NamedTuple

import hypothesis
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))  # for `evidence` and the cases in `reference`

import evidence as outside

import hygro
from hygro import results, simulation
from hygro.assembly import Assembly
from hygro.core import columns, formulas, integrate
from hygro.core.bundles import (
    G_DEFECT,
    G_DRIP,
    G_GAP,
    G_IN,
    G_LEAK,
    G_OUT,
    G_RAIN,
    G_SHED,
    IN_FILM,
    IN_TEMPERATURE,
    IN_VAPOUR,
    IN_VAPOUR_FILM,
    N_FORCING,
    OUT_FILM,
    OUT_TEMPERATURE,
    OUT_VAPOUR,
    OUT_VAPOUR_FILM,
    PRESSURE,
)
from hygro.core.potential import coordinate
from hygro.core.work import Settings
from hygro.forcing import leak_paths
from hygro.grid import build
from hygro.materials import Finish, Material

hypothesis.settings.register_profile("whatever the machine does beside", deadline=None)
hypothesis.settings.load_profile("whatever the machine does beside")
AUDIT = 1e-9  # what may be missing from the books of a run, as a share of what passed
ROUND_OFF = 1e-13
_WATER_COLUMNS = (G_OUT, G_IN, G_GAP, G_LEAK, G_RAIN, G_DEFECT, G_DRIP, G_SHED)
FAST_FILM = 1e6  # [W m-2 K-1] a surface that takes the temperature of the air


def check_books(record, interval=3600.0):
    """All water and energy of a run are accounted for, and no state is not a number."""
    energy, water = results.audit(record, interval)
    # Where next to nothing passes, a share of it says nothing: round-off of the water held is then the measure.
    passed = float(np.abs(record.fluxes[..., list(_WATER_COLUMNS)]).sum()) * interval
    held = float(record.stored[1, :, 1].sum())
    assert water <= AUDIT or water * max(passed, 1e-30) <= ROUND_OFF * held, f"water: {water:.2g} of what passed"
    assert energy <= AUDIT, f"energy: {energy:.2g} of what passed"
    assert np.isfinite(record.temperature).all()
    assert np.isfinite(record.water).all()


def with_books(solve):
    """The kernel, with its books checked wherever it comes to its end."""

    def run(*args):
        status = solve(*args)
        if status[0] == integrate.OK:
            *_, record, settings = args
            check_books(record, settings.interval)
        return status

    return run


def with_books_in_lanes(solve):
    """The same for columns that are solved together."""

    def run(given):
        for found, column in zip(solve(given), given, strict=True):
            if found.status[0] == integrate.OK:
                check_books(found.record, column.settings.interval)
            yield found

    return run


def with_books_of_one(solve):
    """The same for the cells or the slices of one column."""

    def run(column):
        found = solve(column)
        if found.status[0] == integrate.OK:
            check_books(found.record, column.settings.interval)
        return found

    return run


# every run that any test makes in this process
integrate.run = with_books(integrate.run)
columns._solve_abreast = with_books_of_one(columns._solve_abreast)
columns._solve_slices = with_books_of_one(columns._solve_slices)
simulation.solve_alike = with_books_in_lanes(simulation.solve_alike)


def heat_only(name="solid", density=600.0, specific_heat=1200.0, conductivity=0.12, **others):
    """A material through which heat passes and nothing else."""
    return Material(
        name, density=density, specific_heat=specific_heat, conductivity=conductivity,
        vapour_resistance=math.inf, **others,
    )  # fmt: skip


def stack(*parts, tilt=90, azimuth=180, finish=None, name="test wall"):
    """An assembly of the given parts."""
    return Assembly(name, parts, tilt=tilt, azimuth=azimuth, finish=finish or Finish("plain", 0.5, 0.9))


def isothermal_air(over_water=formulas.saturation_pressure_iso, permeability=1.95e-10, **others):
    """Moist air whose water carries no latent heat: temperatures stay where they are."""
    heat = {"latent_heat": 0.0, "fusion_heat": 0.0, "specific_heat_vapour": 4180.0, "specific_heat_water": 4180.0}
    return formulas.MoistAir(
        "isothermal", over_water, None, lambda t: np.full_like(np.asarray(t, dtype=float), permeability),
        **(heat | others),
    )  # fmt: skip


class Kernel(NamedTuple):
    """What `columns.solve` is given, for tests that need more than `simulate` passes on."""

    grid: object
    temperature: np.ndarray
    x: np.ndarray
    leak: object
    fluid: object
    forcing: np.ndarray

    def run(self, settings=None):
        """Integrate a copy of the state; the record, the temperatures and the coordinates at the end."""
        column = columns.Column(
            self.temperature.copy(), self.x.copy(), self.grid.cells, self.grid.faces, self.grid.gap, self.leak,
            self.fluid, self.forcing, settings or Settings(),
        )  # fmt: skip
        found = columns.solve(column)
        assert found.status[0] == integrate.OK, found.status
        return found.record, column.temperature, column.x


def forcing_of(n, air, outside, inside, films, pressure=101325.0):
    """Constant boundary conditions over n hours: (temperature, humidity) and (film, vapour film) of each side."""
    forcing = np.zeros((n + 1, N_FORCING))
    forcing[:, PRESSURE] = pressure
    for (t, rh), (film, vapour_film), places in (
        (outside, films[0], (OUT_TEMPERATURE, OUT_VAPOUR, OUT_FILM, OUT_VAPOUR_FILM)),
        (inside, films[1], (IN_TEMPERATURE, IN_VAPOUR, IN_FILM, IN_VAPOUR_FILM)),
    ):
        for column, value in zip(places, (t, rh * float(air.over_water(t)), film, vapour_film), strict=True):
            forcing[:, column] = value
    return forcing


def kernel_of(assembly, forcing, air, temperature, humidity, detail=1.0, leak=None):
    """Kernel arrays of an assembly in a uniform state."""
    grid = build(assembly, detail)
    placed, path = leak_paths(assembly, grid, leak)
    shape = (grid.n_slices, len(grid.thickness))
    return Kernel(
        placed, np.full(shape, float(temperature)), np.full(shape, coordinate(humidity)), path,
        simulation.fluid(air), forcing,
    )  # fmt: skip


class Bench:
    """The helpers above, handed to tests as one fixture."""

    fast_film = FAST_FILM
    simulate = staticmethod(hygro.simulate)
    check_books = staticmethod(check_books)
    heat_only = staticmethod(heat_only)
    build = staticmethod(stack)
    isothermal_air = staticmethod(isothermal_air)
    forcing = staticmethod(forcing_of)
    kernel = staticmethod(kernel_of)
    tight = Settings(0.003, 1e-4, newton=1e-3, unchecked=0.0, finest_step=1.0)
    finish = Finish("plain", 0.5, 0.9)


@pytest.fixture(scope="session")
def bench():
    return Bench


# ------------------------------------------------------------------------------- checks against something outside

_REPORT = pytest.StashKey[bool]()
_WRITING = pytest.StashKey[list]()
_COLLECTED = pytest.StashKey[set]()


def pytest_addoption(parser):
    parser.addoption("--write-rows", metavar="FILE", help="write the rows of docs/validation.csv there, compare none")


def pytest_configure(config):
    config.stash[_WRITING] = []
    if config.getoption("--write-rows") and config.getoption("numprocesses", None):
        raise pytest.UsageError("--write-rows needs one process, which sees all rows in their order; leave -n out")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    report = yield
    if report.when == "call":
        item.stash[_REPORT] = report.passed
    return report


def _below_tests(item):
    return Path(os.path.relpath(item.path, Path(__file__).parent)).as_posix() + "::" + item.name


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config, items):
    config.stash[_COLLECTED] = {_below_tests(item) for item in items}


@pytest.fixture
def collected(request):
    """Every test that was found in this session, also those left out by a marker."""
    if any("::" in argument for argument in request.config.args):
        pytest.skip("single tests were asked for")
    return request.config.stash[_COLLECTED]


@pytest.fixture(scope="session")
def written_rows():
    rows = defaultdict(list)
    for row in outside.read():
        rows[row.test].append(row)
    return rows


@pytest.fixture
def evidence(request):
    """Checks against something outside, which docs/validation.md shows."""
    test = _below_tests(request.node)
    writing = request.config.getoption("--write-rows")
    book = outside.Evidence(test, None if writing else request.getfixturevalue("written_rows")[test])
    yield book
    if request.node.stash.get(_REPORT, False):
        book.close()
        request.config.stash[_WRITING].extend(book.rows)


def pytest_sessionfinish(session):
    target = session.config.getoption("--write-rows")
    if target:
        outside.write(session.config.stash[_WRITING], Path(target))
