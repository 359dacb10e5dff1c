"""The kernel's analytic slopes against central differences of its own balance, in drawn states of every kind.

Documented as not differentiated, and for that reason kept constant here: film and radiation of the gap, and the upwind
share of leaking air. The radiation is switched off and air's permeability held constant where they would enter; a last
test shows that nothing else is missing with the gap's radiation on.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numba
import numpy as np
import pytest

from hygro import AirLeak, FixedAirChange, Layer, MoistAir, Sheet, VentGap
from hygro.core import column, columns, integrate, lanes
from hygro.core.bundles import (
    ABSORBED,
    EMISSIVITY,
    HEAT,
    ICE,
    LEAK_FLOW,
    LOW,
    MID,
    N_FORCING,
    N_KNOWN,
    OUT_VAPOUR,
    RAIN,
    RAIN_DEFECT,
    T_OUTER,
    UPP,
    WATER_IN,
    WIND_PRESSURE,
)
from hygro.core.potential import X_FREE
from hygro.core.speed import gap_speed
from hygro.core.tables import NODES_PER_KELVIN, NODES_PER_UNIT
from hygro.core.work import Settings, make_work
from hygro.materials import AbsorptionCoefficient, LiquidConductivity, Material, SheetMaterial

STEP_T, STEP_X = 1e-5, 1e-7


def _board(mu=((0.2, 60.0), (0.9, 15.0))):
    return Material(
        "board", density=600, specific_heat=1600, conductivity=0.13, conductivity_moisture=5e-4,
        conductivity_temperature=0.002, vapour_resistance=list(mu) if isinstance(mu, tuple) else mu,
        sorption=[(0.3, 35), (0.8, 90), (1.0, 180)], saturation=650,
    )  # fmt: skip


def _plain(mu=5.0):
    return Material(
        "wool", density=80, specific_heat=1030, conductivity=0.036, vapour_resistance=mu,
        sorption=[(0.5, 0.6), (1.0, 2.0)], saturation=900,
    )  # fmt: skip


def _render():
    return Material(
        "render", density=1300, specific_heat=900, conductivity=0.6, conductivity_moisture=2e-3, vapour_resistance=12.0,
        sorption=[(0.5, 8), (0.8, 20), (0.95, 60), (1.0, 220)], free_saturation=220, saturation=320,
        liquid=AbsorptionCoefficient(0.03),
    )  # fmt: skip


def _stone():
    def retention(s):
        return 180 * (1 + (2e-6 * s) ** 1.6) ** -0.375

    return Material(
        "stone", density=1900, specific_heat=850, conductivity=1.0, vapour_resistance=20.0, retention=retention,
        liquid=LiquidConductivity(lambda s: 1e-10 * (1 + (2e-6 * s) ** 1.5) ** -1.5),
    )  # fmt: skip


SMART = Sheet(SheetMaterial("smart", s_d=[(0.2, 10.0), (0.9, 0.3)]))
STEADY_AIR = MoistAir(air_permeability=lambda t: np.full_like(np.asarray(t, dtype=float), 1.9e-10))
GAP = VentGap(0.03, length=4.0, flow=FixedAirChange(80), emissivity=(1e-9, 1e-9))

BUILDS = {
    "boards": [Layer(_board(), 0.02), SMART, Layer(_plain(), 0.1), Layer(_board(20.0), 0.015)],
    "liquid interface": [Layer(_render(), 0.02), Layer(_stone(), 0.1), Layer(_render(), 0.01)],
    "gap": [Layer(_board(), 0.02), SMART, GAP, SMART, Layer(_plain(), 0.1), Layer(_board(), 0.01)],
    "gap and metal": [
        Layer(
            Material("metal", density=7800, specific_heat=460, conductivity=50, vapour_resistance=float("inf")), 0.001
        ),
        GAP, Layer(_board(), 0.02), Layer(_plain(), 0.1),
    ],
}  # fmt: skip
MOODS = {
    "dry": ((5, 30), (0.05, 0.5)),
    "humid": ((5, 30), (0.6, 1.2)),
    "frozen": ((-25, -1), (0.5, 1.9)),
    "thawing": ((-0.19, 0.19), (0.9, 1.9)),
    "free water": ((2, 25), (1.4, 2.7)),
    "frozen free water": ((-15, -0.5), (1.5, 2.7)),
}


def _evaluate(speed, density, t_inlet, given, raw, work):
    """The balance of a column, cell by cell; its cells in lanes as `columns.solve` has them where it is compiled."""
    now, temperature = work.now, given.temperature[0]
    if COMPILED:
        cells = columns.cells_in_lanes(raw)
        known = lanes.one_by_one(cells.known, N_KNOWN)
    else:
        cells = integrate.cell_by_cell(given.temperature, given.x, given.cells, given.faces, work)
        known = work.known
    column.evaluate_cells(0, now, cells, given.fluid)
    driven = math.isnan(speed)  # else it is given, and does not follow the temperature
    for _ in range(2 if driven else 1):  # the speed asks for the conductances that an exchange has found
        if driven:
            for _ in range(30):  # each turn begins where the last one ended
                speed = gap_speed(0.0, density, given.temperature, given.gap, work, given.fluid, 0.0)
            column.evaluate_cells(0, now, cells, given.fluid)
        column.add_surroundings(
            0, speed, density, t_inlet, now[OUT_VAPOUR], cells, temperature, given.cells, given.faces, given.gap,
            given.leak, given.fluid, now, known[0], work.signals[0, 0], work.air[0],
        )  # fmt: skip


COMPILED = not numba.config.DISABLE_JIT
evaluate = numba.njit(_evaluate, _nrt=False, error_model="numpy") if COMPILED else _evaluate


def _known(kernel, t, x, speed=0.09):
    """What is known of each cell in a state."""
    work, n = make_work(1, len(t)), len(t)
    work.signals[0, 0, T_OUTER:, 0] = 5.0
    work.now[:N_FORCING] = kernel.forcing[0]
    given = columns.Column(
        t[None].copy(), x[None].copy(), kernel.grid.cells, kernel.grid.faces, kernel.grid.gap, kernel.leak,
        kernel.fluid, kernel.forcing, Settings(),
    )  # fmt: skip
    raw = columns.abreast(given)
    evaluate(speed, 1.29, -3.0, given, raw, work)
    if not COMPILED:
        return work.known[0]
    return np.moveaxis(raw.known[0], 1, -1).reshape(-1, N_KNOWN)[:n]


def _away_from_nodes(values, per_unit, margin):
    """Table nodes are kinks; keep a hair's breadth away from them."""
    scaled = values * per_unit
    part = scaled - np.floor(scaled)
    return (np.floor(scaled) + np.clip(part, margin, 1 - margin)) / per_unit


def _drawn(build, mood, seed, bench, leak=None, air=None, emissivity=None):
    rng = np.random.default_rng(seed)
    air = air or MoistAir()
    forcing = bench.forcing(1, air, (-3.0, 0.85), (21.0, 0.5), ((18.0, 1.2e-7), (7.0, 2.5e-8)))
    forcing[0, ABSORBED], forcing[0, EMISSIVITY] = 430.0, 0.9
    kernel = bench.kernel(bench.build(*build), forcing, air, 10.0, 0.5, leak=leak)
    (t_low, t_high), (x_low, x_high) = MOODS[mood]
    n = kernel.temperature.shape[1]
    t = _away_from_nodes(rng.uniform(t_low, t_high, n), NODES_PER_KELVIN, 0.01)
    x = _away_from_nodes(rng.uniform(x_low, x_high, n), NODES_PER_UNIT, 0.02)
    kernel.x[0], kernel.temperature[0] = x, t
    return kernel


def _compare(kernel, skip=(), rtol=2e-5, speed=0.09):
    t, x = kernel.temperature[0], kernel.x[0]
    n = len(t)
    analytic = _known(kernel, t, x, speed)
    for j in range(n):
        for of_x in (False, True):
            step = STEP_X if of_x else STEP_T
            up, down = [t.copy(), x.copy()], [t.copy(), x.copy()]
            up[of_x][j] += step
            down[of_x][j] -= step
            b_up, b_down = _known(kernel, *up, speed), _known(kernel, *down, speed)
            for i in range(max(j - 1, 0), min(j + 2, n)):
                block = {j - 1: UPP, j: MID, j + 1: LOW}[i]
                for of_water, column_ in ((0, HEAT), (1, WATER_IN)):
                    if (i, j, of_water) in skip:
                        continue
                    slope = (b_up[i, column_] - b_down[i, column_]) / (2 * step)
                    scale = np.abs(b_up[:, column_]).max() * 1e-9 / step + 1e-16
                    got = analytic[i, block + 2 * of_water + of_x]
                    close = got == pytest.approx(slope, rel=rtol, abs=scale)
                    if not close:  # an ice coordinate may sit on a node: the slope is then that of one side
                        sides = [(b_up[i, column_] - analytic[i, column_]) / step]
                        sides.append((analytic[i, column_] - b_down[i, column_]) / step)
                        close = any(got == pytest.approx(side, rel=rtol, abs=scale) for side in sides)
                    assert close, (i, j, "water" if of_water else "heat", "x" if of_x else "T", got, slope)
            far = [i for i in range(n) if abs(i - j) > 1]
            np.testing.assert_allclose(b_up[far, HEAT], b_down[far, HEAT], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("mood", MOODS)
@pytest.mark.parametrize("build", BUILDS)
def test_slopes_are_those_of_the_balance(bench, build, mood, seed):
    kernel = _drawn(BUILDS[build], mood, seed, bench)
    _compare(kernel)


@pytest.mark.parametrize("mood", ["dry", "humid", "frozen", "free water"])
@pytest.mark.parametrize("amount", [40.0, 1e-2, 1e-12])
def test_rain_on_an_absorbing_face(bench, mood, amount):
    """More rain than it drinks, less than it drinks, hardly any; and rain through a defect."""
    kernel = _drawn(BUILDS["liquid interface"], mood, 3, bench)
    kernel.forcing[0, RAIN], kernel.forcing[0, RAIN_DEFECT] = amount / 3600, 1e-6
    kernel = kernel._replace(leak=kernel.leak._replace(rain_cell=4))
    _compare(kernel)


@pytest.mark.parametrize("flow", [3e-4, -3e-4])
@pytest.mark.parametrize("mood", ["dry", "humid", "frozen"])
def test_leak_into_a_layer(bench, mood, flow):
    leak = AirLeak(1.0, height=0.0, into="board", fan_pressure=4.0)
    kernel = _drawn(BUILDS["boards"], mood, 4, bench, leak=leak)
    kernel.forcing[0, LEAK_FLOW] = flow
    _compare(kernel)


@pytest.mark.parametrize("flow", [3e-4, -3e-4])
def test_leak_into_the_gap(bench, flow):
    leak = AirLeak(1.0, height=0.0, into="board", fan_pressure=4.0)
    kernel = _drawn(BUILDS["gap"], "humid", 5, bench, leak=leak)
    assert kernel.leak.into_gap
    kernel.forcing[0, LEAK_FLOW] = flow
    _compare(kernel)


@pytest.mark.parametrize("flow", [3e-4, -3e-4])
@pytest.mark.parametrize("build", ["seeping", "seeping behind a gap"])
def test_air_that_seeps_through(bench, build, flow):
    """Constant resistances, so that the upwind share, which is not differentiated, is constant."""
    board = Material(
        "board", density=600, specific_heat=1600, conductivity=0.13, vapour_resistance=20.0,
        sorption=[(0.3, 35), (1.0, 180)], saturation=650,
    )  # fmt: skip
    parts = [Layer(board, 0.02), Layer(_plain(), 0.1)]
    if build != "seeping":
        parts = [Layer(_plain(), 0.02), GAP, *parts]
    kernel = _drawn(parts, "humid", 6, bench, leak=AirLeak(1.0, height=0.0, into=None), air=STEADY_AIR)
    kernel.forcing[0, LEAK_FLOW] = flow
    _compare(kernel)


def test_only_radiation_is_left_out_of_the_gap(bench):
    """With radiation the four heat slopes over temperature of the two cells at the gap are off, by less than 3 %."""
    parts = [Layer(_board(), 0.02), VentGap(0.03, length=4.0, flow=FixedAirChange(80)), Layer(_plain(), 0.1)]
    kernel = _drawn(parts, "humid", 7, bench)
    j = kernel.grid.gap.face
    around = {(a, b, 0) for a in (j - 1, j) for b in (j - 1, j)}
    _compare(kernel, skip=around)
    _compare(kernel, rtol=0.03)


@pytest.mark.parametrize("wind", [0.3, 0.0, -0.3, -3.0])
def test_the_flow_of_a_gap_follows_its_temperature(bench, wind):
    """In laminar flow, by the wind, by buoyancy, and against it; cells that conduct the same at all temperatures."""
    kernel = _drawn([Layer(_plain(), 0.02), GAP, Layer(_plain(), 0.1)], "humid", 8, bench)
    gap = kernel.grid.gap._replace(rise=1.5, fixed_speed=-1.0, losses=60.0)
    kernel = kernel._replace(grid=replace(kernel.grid, gap=gap))
    kernel.forcing[0, WIND_PRESSURE] = wind
    _compare(kernel, speed=math.nan)


def test_states_reach_what_they_claim(bench):
    """The drawn states hold ice, free water and liquid where their names say so."""
    for mood, name in (("frozen", "ice"), ("frozen free water", "ice"), ("free water", "free")):
        kernel = _drawn(BUILDS["liquid interface"], mood, 1, bench)
        if name == "ice":
            assert (_known(kernel, kernel.temperature[0], kernel.x[0])[:, ICE] > 0.1).any()
        else:
            assert (kernel.x[0] > X_FREE).any()
