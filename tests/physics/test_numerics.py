"""Does the method do what it says: order in time and space, closed books, mirror images, the same bits twice.

No table is needed here: refinement, symmetry and repetition are their own references.
"""

from __future__ import annotations

import dataclasses
import itertools
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import hygro
from hygro import AirLeak, ByWindAndBuoyancy, FixedFilm, Layer, MoistAir, Sheet, VentGap
from hygro.core import columns, integrate
from hygro.core.bundles import FILM_LIMIT, FREE_SLOPE, G_IN, HEAT_CAPACITY, Q_IN
from hygro.core.extrapolation import ERROR_2, ERROR_3, ERROR_N
from hygro.core.step import B, E
from hygro.core.tables import RISE, WATER
from hygro.core.work import Settings
from hygro.indoor import ConstantIndoor
from hygro.materials import AbsorptionCoefficient, Material, SheetMaterial

# steps of an hour, always
HOURLY = Settings(1e3, 1e3, newton=1e-12, unchecked=0.0, largest_iterations=60)
EXACT = Settings(temperature_error=0.05, water_error=1e-3, newton=1e-7, unchecked=0.0)


def _board(mu=30.0, name="board"):
    return Material(
        name, density=600, specific_heat=1600, conductivity=0.13, vapour_resistance=mu,
        sorption=lambda u: 120 * u + 60 * u**3, saturation=650,
    )  # fmt: skip


def _render():
    return Material(
        "render", density=1300, specific_heat=900, conductivity=0.6, vapour_resistance=12.0, saturation=320,
        sorption=[(0.5, 8), (0.8, 20), (0.95, 60), (1.0, 220)], free_saturation=220, liquid=AbsorptionCoefficient(0.02),
    )  # fmt: skip


WOOL = Material(
    "wool", density=40, specific_heat=1030, conductivity=0.036, vapour_resistance=1.5, sorption=lambda u: 0.8 * u,
    saturation=900,
)  # fmt: skip


# ------------------------------------------------------------------------------------------------------ order


def _scaled(kernel, factor):
    """The same body with all capacities times a factor: an hour is then so much shorter."""
    cells = kernel.grid.cells
    data, tables = cells.data.copy(), cells.tables.copy()
    data[:, HEAT_CAPACITY] *= factor
    data[:, FREE_SLOPE] *= factor
    data[:, FILM_LIMIT] *= factor
    tables[:, :, [WATER, RISE + WATER]] *= factor
    grid = dataclasses.replace(kernel.grid, cells=cells._replace(data=data, tables=tables))
    return kernel._replace(grid=grid)


@pytest.mark.parametrize("with_vapour", [False, True])
def test_third_order_in_time(bench, with_vapour):
    """Free decay from a sine; capacities doubled and hours doubled are steps halved: differences fall by eight."""
    air = bench.isothermal_air() if not with_vapour else MoistAir(over_ice=None)
    material = _board(12.0) if with_vapour else bench.heat_only()
    wall = bench.build(Layer(material, 0.1))
    ends = []
    for factor in (8, 16, 32, 64):
        boundary = ((10.0, 0.6), (10.0, 0.6), ((8.0, 2e-8), (8.0, 2e-8)))
        kernel = bench.kernel(wall, bench.forcing(2 * factor, air, *boundary), air, 10.0, 0.6)
        x = kernel.grid.position / 0.1
        kernel.temperature[0] += 15 * np.sin(np.pi * x)
        if with_vapour:
            kernel.x[0] += 0.2 * np.sin(np.pi * x)
        kernel = _scaled(kernel, factor * (0.3 if not with_vapour else 0.6))
        record, t, x_end = kernel.run(HOURLY)
        assert record.counts[:, 2].sum() == 0
        ends.append(np.concatenate([t[0] / 15, x_end[0]]))
    steps = [np.abs(b - a).max() for a, b in itertools.pairwise(ends)]
    rates = [np.log2(a / b) for a, b in itertools.pairwise(steps)]
    assert all(rate > 2.6 for rate in rates), (steps, rates)
    if not with_vapour:  # curves of materials are tables, straight between their nodes
        assert rates[-1] == pytest.approx(3.0, abs=0.05)


def _over_a_step(z):
    """What (1) to (3) of `integrate` make of the ledger M and the inflow F of dM/dt = z M, which are handed on."""
    made = []
    for ledger, inflow in ((1.0, 0.0), (0.0, 1.0)):
        first = z * (ledger + B * inflow) / (1.0 - B * z)
        base = ledger + E * (inflow + first)
        last = z * base / (1.0 - B * z)
        error = ERROR_N * inflow + ERROR_2 * first + ERROR_3 * last
        once = error / (1.0 - B * z)
        twice = once / (1.0 - B * z)
        made.append((base + B * last - error - B * z * (once + twice), last))
    return np.array(made).T


def test_the_step_is_third_order_and_damps_what_is_stiff():
    """Eigenvalues of what a step does to decay at any rate: the exponential to third order, and nothing that grows."""

    def largest(z):
        return np.abs(np.linalg.eigvals(_over_a_step(z))).max()

    errors = [abs(largest(-z) - np.exp(-z)) for z in (0.02, 0.01, 0.005)]
    assert np.log2(errors[0] / errors[1]) == pytest.approx(4.0, abs=0.15)
    assert np.log2(errors[1] / errors[2]) == pytest.approx(4.0, abs=0.15)
    rates = np.geomspace(1e-3, 1e6, 300)
    for angle in np.radians([94.0, 110.0, 135.0, 160.0, 180.0]):  # from decay with hardly any to without oscillation
        assert max(largest(rate * np.exp(1j * angle)) for rate in rates) < 1.0
    assert largest(-1e3) < 4e-3
    assert largest(-1e6) < 4e-6


@pytest.mark.parametrize("kind", ["heat", "vapour", "both"])
def test_second_order_in_space(bench, kind):
    """Layer means on 1, 2, 4, 8 times the cells: differences fall by about four."""
    air = MoistAir(over_ice=None) if kind == "both" else bench.isothermal_air()
    t_out, u_out = {"heat": (0.0, 0.5), "vapour": (20.0, 0.85), "both": (2.0, 0.85)}[kind]
    material = bench.heat_only() if kind == "heat" else _board(12.0)
    wall = bench.build(Layer(material, 0.06))
    values = []
    for detail in (1, 2, 4, 8):
        run = bench.simulate(
            wall, hygro.constant_climate(t_out, u_out, hours=48), ConstantIndoor(20.0, 0.5),
            initial=hygro.Start(20.0, 0.5), outside=FixedFilm(8.0, 2e-8), inside=FixedFilm(8.0, 2e-8), air=air,
            detail=detail, settings=bench.tight,
        )  # fmt: skip
        heat = float((run["temperature"][7, 0] * run["cell_thickness"]).sum())  # while it is still on the way
        values.append(heat if kind == "heat" else float(run["layer_water"][-1, 0, 0]))
    steps = np.abs(np.diff(values))
    rates = np.log2(steps[:-1] / steps[1:])
    assert rates[-1] > 1.8, (values, rates)


# --------------------------------------------------------------------------------------------------- symmetry


@pytest.mark.parametrize("hours", [72])
def test_mirror_image(bench, hours):
    """The build-up turned round, with outside and inside exchanged, gives the fields turned round."""
    smart = Sheet(SheetMaterial("smart", s_d=[(0.2, 8.0), (0.9, 0.3)]))
    parts = [
        Sheet("paper", s_d=0.1),
        Layer(_render(), 0.015),
        Layer(_board(), 0.02),
        smart,
        Layer(WOOL, 0.12),
        Layer(_render(), 0.01),
    ]
    cold, warm = (-8.0, 0.9), (22.0, 0.55)
    films = FixedFilm(20.0, 1.2e-7), FixedFilm(7.0, 2.5e-8)

    def fields(order, out, room, outside, inside):
        run = bench.simulate(
            bench.build(*order), hygro.constant_climate(*out, hours=hours), ConstantIndoor(*room), outside=outside,
            inside=inside, settings=EXACT,
        )  # fmt: skip
        return [
            run[name].to_numpy()[:, 0] for name in ("temperature", "relative_humidity", "water_content", "ice_content")
        ], run

    there, run = fields(parts, cold, warm, *films)
    back, mirrored = fields(parts[::-1], warm, cold, *films[::-1])
    assert there[3].max() > 0.01  # frost is in it
    for a, b, scale in zip(there, back, (1.0, 1.0, 100.0, 100.0), strict=True):
        np.testing.assert_allclose(a, b[:, ::-1], rtol=0, atol=1e-7 * scale)
    np.testing.assert_allclose(run["indoor_heat_flux"], mirrored["outdoor_heat_flux"], rtol=0, atol=1e-5)
    np.testing.assert_allclose(run["outdoor_moisture_flux"], mirrored["indoor_moisture_flux"], rtol=1e-5, atol=1e-14)


def _roof(slices=2):
    steel = Material("steel", density=7800, specific_heat=460, conductivity=50, vapour_resistance=float("inf"))
    gap = VentGap(0.04, length=5.0, flow=ByWindAndBuoyancy(inlet=0.02, outlet=0.02), slices=slices)
    return [
        Layer(steel, 0.0007),
        gap,
        Layer(_board(), 0.018),
        Layer(WOOL, 0.2),
        Sheet("retarder", s_d=5.0),
        Layer(_board(8.0, "lining"), 0.0125),
    ]


def _roof_run(bench, hours=240):
    climate = hygro.sample_climate("hut_valley").period("20 October", 1)
    few = hygro.climate_from_arrays(
        **{
            ("temperature" if name == "air_temperature" else str(name)): climate.data[name].to_numpy()[:hours]
            for name in climate.data.data_vars
        },
        start=str(climate.start), latitude=climate.latitude, longitude=climate.longitude,
        elevation=climate.elevation, utc_offset=climate.utc_offset,
    )  # fmt: skip
    return bench.simulate(
        bench.build(*_roof(), tilt=30), few, ConstantIndoor(20.0, 0.45),
        leak=AirLeak(1.0, height=2.0, into="board"),
    )  # fmt: skip


def test_same_bits_twice(bench):
    first, second = _roof_run(bench), _roof_run(bench)
    for name in first.data_vars:
        assert first[name].to_numpy().tobytes() == second[name].to_numpy().tobytes(), name
    assert first.attrs == second.attrs


def test_nothing_is_written_to_the_inputs(bench):
    climate = hygro.constant_climate(0.0, 0.8, hours=24)
    wall = bench.build(*_roof(1), tilt=30)
    before = (climate.digest, repr(wall))
    bench.simulate(wall, climate, ConstantIndoor(20.0, 0.5))
    assert (climate.digest, repr(wall)) == before


SCRIPT = """
import sys
import numpy as np
import hygro
from hygro import AirLeak, FixedAirChange, Layer, Sheet, VentGap
from hygro.indoor import ConstantIndoor
from hygro.materials import AbsorptionCoefficient, Finish, Material
board = Material("board", density=600, specific_heat=1600, conductivity=0.13, vapour_resistance=20.0,
                 sorption=[(0.4, 40), (0.8, 90), (1.0, 180)], saturation=650)
brick = Material("brick", density=1700, specific_heat=850, conductivity=0.7, vapour_resistance=10.0, saturation=320,
                 sorption=[(0.5, 8), (0.9, 20), (1.0, 200)], free_saturation=200, liquid=AbsorptionCoefficient(0.1))
parts = [Layer(brick, 0.05, start_humidity=0.97), VentGap(0.03, length=3.0, flow=FixedAirChange(50)),
         Layer(board, 0.02), Sheet("paper", s_d=0.2), Layer(board, 0.04)]
wall = hygro.Assembly("wall", parts, tilt=90, azimuth=180, finish=Finish("plain", 0.6, 0.9))
run = hygro.simulate(wall, hygro.constant_climate(-15.0, 0.9, hours=6), ConstantIndoor(20.0, 0.5), detail=0.5,
                     initial=hygro.Start(-9.0, 0.8),
                     leak=AirLeak(2.0, height=2.0, into="board"))
np.savez(sys.argv[1], **{name: run[name].to_numpy() for name in run.data_vars})
"""


def test_compiled_and_plain_python_agree(tmp_path):
    """Six hours with frost, liquid, gap and leak: to 1e-12 of each field's size (sums may be ordered differently)."""
    results = []
    for disabled in ("0", "1"):
        target = tmp_path / f"run{disabled}.npz"
        environment = os.environ | {"NUMBA_DISABLE_JIT": disabled, "PYTHONPATH": str(Path(hygro.__file__).parents[1])}
        subprocess.run([sys.executable, "-c", SCRIPT, str(target)], check=True, env=environment, timeout=300)
        with np.load(target) as stored:
            results.append({name: stored[name] for name in stored})
    compiled, plain = results
    assert compiled["ice_content"].max() > 0.0
    for name, values in compiled.items():
        np.testing.assert_allclose(
            values, plain[name], rtol=0, atol=1e-12 * max(np.abs(values).max(), 1e-30), err_msg=name
        )


# ------------------------------------------------------------------------------------------------------ books


def test_every_run_of_the_suite_is_audited(bench):
    """A ten-millionth that is lost, of water or of energy, fails whatever test makes the run."""
    for entrance in (integrate.run, columns._solve_abreast, columns._solve_slices):
        assert entrance.__qualname__.startswith("with_books")
    wall = bench.build(Layer(_board(), 0.05))
    air = MoistAir()
    kernel = bench.kernel(
        wall, bench.forcing(48, air, (0.0, 0.8), (20.0, 0.5), ((20.0, 1e-7), (8.0, 2e-8))), air, 10.0, 0.6
    )
    for quantity, flux in ((0, Q_IN), (1, G_IN)):
        record, _, _ = kernel.run()
        bench.check_books(record)
        record.stored[1, 0, quantity] -= 1e-7 * 3600 * np.abs(record.fluxes[:, 0, flux]).sum()
        with pytest.raises(AssertionError, match="of what passed"):
            bench.check_books(record)


@pytest.mark.parametrize("case", ["sealed", "steady", "nothing happens"])
def test_books_are_closed_where_little_or_nothing_passes(bench, case):
    """The audit is a share of what passed or is held: round-off of a quiet wall must not read as a loss."""
    tight = bench.heat_only("glass", 2500, 800, 1.0)
    parts = [Layer(tight, 0.01), Layer(_board(), 0.02), Layer(tight, 0.01)]
    t_in = 20.0 if case != "nothing happens" else 10.0
    run = hygro.simulate(
        bench.build(*(parts if case != "steady" else parts[1:2])),
        hygro.constant_climate(10.0 if case != "sealed" else -5.0, 0.7, hours=100), ConstantIndoor(t_in, 0.7),
        outside=FixedFilm(20.0, 1e-7),
    )  # fmt: skip
    assert abs(run.attrs["audit_water"]) <= 1e-9
    assert abs(run.attrs["audit_energy"]) <= 1e-9


def test_a_very_tight_run_comes_to_its_end(bench):
    """Settings near round-off cost steps; they are no reason to give up in the last hour."""
    run = bench.simulate(
        bench.build(Layer(_board(), 0.02)), hygro.constant_climate(0.0, 0.8, hours=24), ConstantIndoor(20.0, 0.5),
        settings=Settings(temperature_error=1e-4, water_error=1e-6, newton=1e-3, finest_step=1.0),
    )  # fmt: skip
    assert run.sizes["time"] == 24
