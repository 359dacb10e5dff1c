"""Moisture against closed forms: sorbing half space and slab, steady layers with sheets, isothermal drying, air flow.

Half space and slab: Crank, The Mathematics of Diffusion. Drying: HAMSTAD benchmark 2 (Hagentoft et al. 2004, J. Thermal
Envelope and Building Science 27:327-352), specification from memory, solution by its own series. Conduction with air
flow: exact. Numbers in tables were worked from the same closed forms.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from evidence import Grade
from reference import series
from scipy.optimize import brentq
from scipy.special import erfc

import hygro
from hygro import AirLeak, FixedFilm, Layer, Sheet
from hygro.core.formulas import saturation_pressure_iso
from hygro.indoor import ConstantIndoor
from hygro.materials import Material, SheetMaterial

DELTA, P_SAT = 1.95e-10, float(saturation_pressure_iso(20.0))
CRANK = {"grade": Grade.EXACT, "source": "Crank, The Mathematics of Diffusion"}
DRIED = {"grade": Grade.EXACT, "source": "Hagentoft et al. 2004, benchmark 2 (from memory), its own series"}
SERIES = {"grade": Grade.EXACT, "source": "resistances in series"}
FLOW = {"grade": Grade.EXACT, "source": "one-dimensional conduction or diffusion with flow, closed form"}
OPEN = 1.0  # [kg m-2 s-1 Pa-1] a vapour film that is none


def _linear(mu=50.0, capacity=100.0, name="linear", density=500):
    return Material(
        name, density=density, specific_heat=1600, conductivity=0.12, vapour_resistance=mu,
        sorption=lambda u: capacity * u, saturation=max(capacity, 1.0) + 300,
    )  # fmt: skip


def _step(bench, wall, outside, inside, start, hours, films=(OPEN, OPEN), detail=10.0):
    return bench.simulate(
        wall, hygro.constant_climate(20.0, outside, hours=hours), ConstantIndoor(20.0, inside),
        initial=hygro.Start(20.0, start), outside=FixedFilm(1e4, films[0]), inside=FixedFilm(1e4, films[1]),
        air=bench.isothermal_air(), detail=detail, settings=bench.tight,
    )  # fmt: skip


def test_sorbing_half_space(bench, evidence):
    """0.5 to 0.9 at the face: phi = 0.5 + 0.4 erfc(x / 2 sqrt(D t)), uptake 2 * 100 * 0.4 sqrt(D t / pi)."""
    table = {
        1: ((0.7457, 0.5831, 0.5047, 0.5000), 0.12666),
        7: ((0.8396, 0.7536, 0.6364, 0.5227), 0.33510),
        30: ((0.8707, 0.8272, 0.7582, 0.6430), 0.69373),
    }
    d = DELTA / 50 * P_SAT / 100
    assert d == pytest.approx(9.1141e-11, rel=1e-4)
    wall = bench.build(Layer(_linear(), 0.05), Layer(_linear(), 0.15))
    run = _step(bench, wall, 0.9, 0.5, 0.5, 24 * 30)
    x = run["cell_position"].to_numpy()
    for day, (expected, uptake) in table.items():
        at = 24 * day - 1
        exact = 0.5 + 0.4 * erfc(x / (2 * math.sqrt(d * 86400 * day)))
        got = run["relative_humidity"].to_numpy()[at, 0]
        evidence.check(f"sorbing half space: humidity after {day} d, every cell", got, exact, within=0.001, **CRANK)
        np.testing.assert_allclose(np.interp([0.002, 0.005, 0.01, 0.02], x, got), expected, rtol=0, atol=0.002)
        taken = float(run["layer_water"][at].sum()) - 0.5 * 100 * 0.2
        evidence.check(
            f"sorbing half space: uptake in {day} d", taken, uptake, within=0.005, relative=True, unit="kg m-2", **CRANK
        )


def test_sorbing_slab_from_both_faces(bench, evidence):
    """20 mm, 0.5 to 0.9 on both faces: mean 0.62666, 0.81679, 0.89905 after 1, 7, 30 days, and the series."""
    run = _step(bench, bench.build(Layer(_linear(), 0.02)), 0.9, 0.9, 0.5, 24 * 30)
    mean = run["layer_water"].to_numpy()[:, 0, 0] / (100 * 0.02)
    for day, expected in ((1, 0.62666), (7, 0.81679), (30, 0.89905)):
        assert mean[24 * day - 1] == pytest.approx(expected, abs=0.001)
    fourier = DELTA / 50 * P_SAT / 100 * 3600 * np.arange(1, len(mean) + 1) / 0.02**2
    odd = np.arange(1, 400, 2)
    rest = (8 / (math.pi * odd) ** 2 * np.exp(-((math.pi * odd) ** 2) * fourier[:, None])).sum(axis=1)
    evidence.check("sorbing slab: mean humidity, 720 hours", mean, 0.9 - 0.4 * rest, within=0.0005, **CRANK)


def test_steady_flux_through_layers_sheets_and_films(bench, evidence):
    """Resistances in series by hand: mu d / delta, s_d / delta, 1 / beta."""
    layers = ((0.018, 50.0), (0.1, 1.5), (0.0125, 8.0))
    parts = [Layer(_linear(mu, 0.1, f"m{i}", 100), d) for i, (d, mu) in enumerate(layers)]
    wall = bench.build(
        Sheet("paint", s_d=0.3), parts[0], Sheet("wind paper", s_d=0.02), parts[1], Sheet("retarder", s_d=2.0),
        parts[2], Sheet("wallpaper", s_d=0.05),
    )  # fmt: skip
    run = _step(bench, wall, 0.8, 0.4, 0.6, 24 * 120, films=(1.5e-7, 2e-8), detail=1.0)
    resistance = (sum(d * mu for d, mu in layers) + 0.3 + 0.02 + 2.0 + 0.05) / DELTA + 1 / 1.5e-7 + 1 / 2e-8
    flux = (0.8 - 0.4) * P_SAT / resistance
    fluxes = [float(run[name][-240:, 0].mean()) for name in ("outdoor_moisture_flux", "indoor_moisture_flux")]
    evidence.check(
        "steady vapour flux through three layers, four sheets, two films", fluxes, [flux, -flux],
        within=1e-5 * flux, unit="kg m-2 s-1", **SERIES,
    )  # fmt: skip
    u = run["relative_humidity"].to_numpy()[-1, 0]
    x = run["cell_position"].to_numpy()
    for i, outside_of_it in enumerate((0.3, 0.3 + 0.9 + 0.02, 0.3 + 0.9 + 0.02 + 0.15 + 2.0)):
        mine = run["cell_layer"].to_numpy() == i
        start = sum(d for d, _ in layers[:i])
        before = (outside_of_it + (x[mine] - start) * layers[i][1]) / DELTA + 1 / 1.5e-7
        np.testing.assert_allclose(u[mine], 0.8 - flux * before / P_SAT, rtol=0, atol=1e-5)


def test_steady_flux_through_a_variable_retarder(bench, evidence):
    """The sheet's s_d at the mean humidity of its faces solves one scalar equation by hand."""
    rows = [(0.3, 5.0), (0.8, 0.2)]
    wall = bench.build(
        Layer(_linear(2.0, 0.1, "wool", 100), 0.2),
        Sheet(SheetMaterial("smart", s_d=rows)),
        Layer(_linear(8.0, 0.1, "board", 100), 0.0125),
    )
    run = _step(bench, wall, 0.9, 0.5, 0.6, 24 * 30, films=(1.5e-7, 2e-8), detail=8.0)
    outer, inner = 0.4 / DELTA + 1 / 1.5e-7, 0.1 / DELTA + 1 / 2e-8

    def s_d(u):
        return math.exp(np.interp(u, (0.3, 0.8), (math.log(5.0), math.log(0.2))))

    def mean_humidity(flux):
        return 0.5 * ((0.9 - flux * outer / P_SAT) + (0.5 + flux * inner / P_SAT))

    flux = brentq(lambda g: g * (outer + inner + s_d(mean_humidity(g)) / DELTA) - 0.4 * P_SAT, 0, 1e-6)
    assert 0.3 < s_d(mean_humidity(flux)) < 4.0  # on the slope of the curve
    evidence.check(
        "steady vapour flux through a variable retarder", float(run["outdoor_moisture_flux"][-1, 0]), flux,
        within=1e-3, relative=True, unit="kg m-2 s-1", **SERIES,
    )  # fmt: skip


def test_isothermal_drying(bench, evidence):
    """Liquid diffusivity 6e-10 m2/s, next to no vapour inside, faces at 45 % and 65 % at once."""
    run = series.drying(bench.simulate)
    x = run["cell_position"].to_numpy()
    for hours, expected in series.DRYING.items():
        exact = series.drying_series(series.DRYING_AT, hours)
        np.testing.assert_allclose(exact, expected, rtol=0, atol=0.001)
        got = np.interp(series.DRYING_AT, x, run["water_content"].to_numpy()[hours - 1, 0])
        evidence.check(
            f"drying: water content after {hours} h, 10 depths", got, exact, within=0.5, unit="kg m-3", **DRIED
        )
        total = float(run["layer_water"][hours - 1].sum())
        evidence.check(
            f"drying: water left after {hours} h",
            total,
            series.DRYING_TOTAL[hours],
            within=0.02,
            unit="kg m-2",
            **DRIED,
        )


ROWS = (
    (1e-5, (12.656, 5.210, -2.342), 5.2505, 5.5523),
    (1e-4, (13.992, 7.082, -0.863), 4.0308, 7.0488),
    (5e-4, (18.025, 14.052, 6.064), 0.9828, 16.0728),
)


@pytest.mark.parametrize(("flow", "expected", "q_in", "q_out"), ROWS)
def test_conduction_with_air_flow(bench, evidence, flow, expected, q_in, q_out):
    """Air seeps outwards through 200 mm of 0.036 W/(m K), faces at 20 and -10 degC: T within 0.01 K, flux within 0.005.

    The air is dried (a millionth of the usual vapour), or what it carries would condense and warm the outer part.
    """
    wool = bench.heat_only("wool", 30, 1030, 0.036)
    density = 101325 / (287.04 * 293.15)
    leak = AirLeak(3600 * flow / density, height=0.0, into=None, fan_pressure=50.0)
    run = bench.simulate(
        bench.build(Layer(wool, 0.2)), hygro.constant_climate(-10.0, 0.5, hours=400), ConstantIndoor(20.0, 0.5),
        leak=leak, outside=FixedFilm(bench.fast_film, 0.0), inside=FixedFilm(bench.fast_film, 0.0), detail=20,
        settings=bench.tight, air=bench.isothermal_air(lambda t: 1e-6 * saturation_pressure_iso(t)),
    )  # fmt: skip
    assert float(run["leak_air_flow"][-1]) == pytest.approx(flow, rel=1e-9)
    from_inside = 0.2 - run["cell_position"].to_numpy()
    peclet = flow * 1006 * 0.2 / 0.036
    exact = 20 - 30 * np.expm1(peclet * from_inside / 0.2) / math.expm1(peclet)
    got = run["temperature"].to_numpy()[-1, 0]
    evidence.check(
        f"conduction with {flow:g} kg/(m2 s) of air, every cell", got, exact, within=0.01, unit="degC", **FLOW
    )
    np.testing.assert_allclose(np.interp([-0.05, -0.10, -0.15], -from_inside, got), expected, rtol=0, atol=0.01)
    # enthalpy flows count from 0 degC: what enters from indoors is conduction plus the air at 20 degC
    found = (
        float(run["indoor_heat_flux"][-1, 0]) - flow * 1006 * 20,
        -float(run["outdoor_heat_flux"][-1, 0]) + flow * 1006 * 10,
    )
    evidence.check("... and its heat flux at both faces", found, (q_in, q_out), within=0.005, unit="W m-2", **FLOW)


def test_diffusion_with_air_flow(bench, evidence):
    """The same form for vapour, Pe = m 0.622 L / (P delta); isothermal, 60 % to 20 %."""
    flow, mu, length = 1e-4, 5.0, 0.2
    density = 101325 / (287.04 * 293.15)
    leak = AirLeak(3600 * flow / density, height=0.0, into=None, fan_pressure=50.0)
    run = bench.simulate(
        bench.build(Layer(_linear(mu, 0.1, "wool", 100), length)), hygro.constant_climate(20.0, 0.2, hours=24 * 30),
        ConstantIndoor(20.0, 0.6), leak=leak, initial=hygro.Start(20.0, 0.5), outside=FixedFilm(1e4, OPEN),
        inside=FixedFilm(1e4, OPEN), air=bench.isothermal_air(), detail=10, settings=bench.tight,
    )  # fmt: skip
    peclet = flow * 0.621945 / 101325 * length / (DELTA / mu)
    assert peclet > 2.5
    from_inside = length - run["cell_position"].to_numpy()
    exact = 0.6 - 0.4 * np.expm1(peclet * from_inside / length) / math.expm1(peclet)
    evidence.check(
        "diffusion with air flow, every cell", run["relative_humidity"].to_numpy()[-1, 0], exact, within=5e-4, **FLOW
    )
    total = flow * 0.621945 / 101325 * P_SAT * (0.6 + 0.4 / math.expm1(peclet))
    assert float(run["indoor_moisture_flux"][-1, 0]) == pytest.approx(total, rel=1e-3)
    assert float(run["outdoor_moisture_flux"][-1, 0]) == pytest.approx(-total, rel=1e-3)
