"""Heat alone, against closed forms.

Carslaw and Jaeger, Conduction of Heat in Solids: step on a half space (erfc), slab with films (series over the roots of
beta tan beta = Bi), periodic penetration depth sqrt(a P / pi). ISO 13786: dynamic thermal matrix. ISO 6946: U-value.
Each tolerance is the error of the finite cells and steps stated beside it, measured by halving them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from evidence import Grade
from scipy.optimize import brentq
from scipy.special import erfc

import hygro
from hygro import Layer
from hygro.indoor import ConstantIndoor

CARSLAW = {"grade": Grade.EXACT, "source": "Carslaw and Jaeger, Conduction of Heat in Solids"}
ISO_13786 = {"grade": Grade.EXACT, "source": "ISO 13786, matrix product"}
ISO_6946 = {"grade": Grade.EXACT, "source": "ISO 6946"}
KIRCHHOFF = {"grade": Grade.EXACT, "source": "Kirchhoff's transformation"}
DAY, YEAR = 86400.0, 365 * 86400.0


@pytest.mark.parametrize("hours", [2, 24])
def test_step_on_a_half_space(bench, evidence, hours):
    """All cells within 0.02 K of a step of 30 K: steps of about a minute give 0.01 K."""
    wood = bench.heat_only()
    wall = bench.build(Layer(wood, 0.05), Layer(wood, 0.15), Layer(wood, 0.8))
    run = bench.simulate(
        wall, hygro.constant_climate(30.0, 0.5, hours=hours), ConstantIndoor(0.0, 0.5),
        initial=hygro.Start(0.0, 0.5), outside=hygro.FixedFilm(bench.fast_film, 0.0),
        inside=hygro.FixedFilm(bench.fast_film, 0.0), detail=20, settings=bench.tight,
    )  # fmt: skip
    a = 0.12 / (600 * 1200)
    exact = 30 * erfc(run["cell_position"].to_numpy() / (2 * math.sqrt(a * 3600 * hours)))
    evidence.check(
        f"step on a half space after {hours} h, every cell",
        run["temperature"].to_numpy()[-1, 0],
        exact,
        within=0.02,
        unit="degC",
        **CARSLAW,
    )


def test_slab_between_films(bench, evidence):
    """Cooling slab, films of 8 W/(m2 K) on both faces: 60 roots, all hours and cells within 0.01 K of 20 K."""
    thickness, film, hours = 0.1, 8.0, 48
    wood = bench.heat_only()
    run = bench.simulate(
        bench.build(Layer(wood, thickness)), hygro.constant_climate(0.0, 0.5, hours=hours), ConstantIndoor(0.0, 0.5),
        initial=hygro.Start(20.0, 0.5), outside=hygro.FixedFilm(film, 0.0), inside=hygro.FixedFilm(film, 0.0),
        detail=20, settings=bench.tight,
    )  # fmt: skip
    half = thickness / 2
    biot = film * half / 0.12
    roots = [
        brentq(lambda b: b * math.tan(b) - biot, n * math.pi + 1e-12, (n + 0.5) * math.pi - 1e-9) for n in range(60)
    ]
    x = (run["cell_position"].to_numpy() - half) / half
    fourier = 0.12 / (600 * 1200) * 3600 * np.arange(1, hours + 1) / half**2
    exact = sum(
        20 * 4 * math.sin(b) / (2 * b + math.sin(2 * b)) * np.cos(b * x)[None, :] * np.exp(-(b**2) * fourier)[:, None]
        for b in roots
    )
    evidence.check(
        "slab between films, 48 hours, every cell",
        run["temperature"].to_numpy()[:, 0],
        exact,
        within=0.01,
        unit="degC",
        **CARSLAW,
    )


def _wave(hours, period=24.0, mean=0.0, amplitude=10.0):
    return mean + amplitude * np.cos(2 * math.pi * np.arange(1, hours + 1) / period)


def _held(period=24.0):
    """What is left of a wave's amplitude when it runs straight between full hours."""
    half = math.pi / period
    return (math.sin(half) / half) ** 2


def _phasor(series, period=24):
    """Complex amplitude of the last period of an hourly series, time zero at the start of the record."""
    n = len(series)
    last = np.arange(n - period, n)
    return 2 / period * np.sum(series[last] * np.exp(-2j * math.pi * (last + 1) / period))


def test_dynamic_thermal_transmittance(bench, evidence):
    """ISO 13786: Y12 of 20 mm board, 100 mm insulation, 80 mm concrete with films, from the matrix product.

    The weather runs straight between full hours; what this takes off the wave, and the hourly mean off the flux, is
    divided out exactly. The rest, 0.1 % and a minute, is left to cells and steps.
    """
    layers = ((0.02, 0.13, 500, 1600), (0.1, 0.04, 50, 1030), (0.08, 1.65, 2200, 1000))
    matrix = np.array([[1, -1 / 25], [0, 1]], dtype=complex)
    for d, lam, rho, c in layers:
        xi = d / math.sqrt(lam * DAY / (math.pi * rho * c))
        k = (1 + 1j) * xi
        z = np.array([[np.cosh(k), -np.sinh(k) / (lam * k / d)], [-lam * k / d * np.sinh(k), np.cosh(k)]])
        matrix = z @ matrix
    matrix = np.array([[1, -0.13], [0, 1]]) @ matrix
    y_12 = -1 / matrix[0, 1]  # heat leaving the inner face per kelvin outdoors, indoor temperature held
    parts = [Layer(bench.heat_only(f"m{i}", rho, c, lam), d) for i, (d, lam, rho, c) in enumerate(layers)]
    hours = 24 * 12
    run = bench.simulate(
        bench.build(*parts), hygro.climate_from_arrays(_wave(hours), np.full(hours, 0.5)), ConstantIndoor(0.0, 0.5),
        initial=hygro.Start(0.0, 0.5), outside=hygro.FixedFilm(25.0, 0.0), inside=hygro.FixedFilm(1 / 0.13, 0.0),
        detail=8, settings=bench.tight,
    )  # fmt: skip
    half = math.pi / 24
    mean_of_hour = math.sin(half) / half * np.exp(-1j * half)  # hour mean at its end against the value there
    into_room = -_phasor(run["indoor_heat_flux"].to_numpy()[:, 0]) / mean_of_hour
    expected = 10.0 * _held() * y_12
    ratio = into_room / expected
    u_value = 1 / (1 / 25 + sum(d / lam for d, lam, _, _ in layers) + 0.13)
    evidence.check(
        "periodic transmittance of a wall, amplitude over the reference", abs(ratio), 1.0, within=0.001, **ISO_13786
    )
    assert abs(np.angle(ratio)) / (2 * math.pi) * 24 * 60 < 1.0  # [min]
    assert abs(y_12) / u_value < 0.6  # the decrement is real in this build-up


def _wave_into(bench, name, lam, capacity, depth):
    """Depths of the cells and complex amplitudes there of a day's wave at the face of a deep solid."""
    hours = 24 * 20
    solid = bench.heat_only(name, capacity / 1000, 1000, lam)
    run = bench.simulate(
        bench.build(Layer(solid, 2.5 * depth), Layer(solid, 8 * depth)),
        hygro.climate_from_arrays(_wave(hours), np.full(hours, 0.5)), ConstantIndoor(0.0, 0.5),
        initial=hygro.Start(0.0, 0.5), outside=hygro.FixedFilm(bench.fast_film, 0.0),
        inside=hygro.FixedFilm(bench.fast_film, 0.0), detail=20, settings=bench.tight,
    )  # fmt: skip
    series = run["temperature"].to_numpy()[:, 0]
    return run["cell_position"].to_numpy(), np.array([_phasor(cell) for cell in series.T])


SOLIDS = [("wood", 0.12, 7.2e5, 0.0677), ("concrete", 1.65, 2.2e6, 0.1436)]


def wave_in_wood(bench):
    """Depths to two and a half penetration depths, amplitudes over that of the surface, penetration depth."""
    name, lam, capacity, depth = SOLIDS[0]
    x, phasors = _wave_into(bench, name, lam, capacity, depth)
    shown = np.linspace(0.1, 2.5, 13) * depth
    exact = math.sqrt(lam / capacity * DAY / math.pi)
    return shown, np.interp(shown, x, phasors) / (10.0 * _held()), exact


@pytest.mark.parametrize(("name", "lam", "capacity", "depth"), SOLIDS)
def test_penetration_depth_of_a_day(bench, evidence, name, lam, capacity, depth):
    """sqrt(a P / pi), 67.7 mm in wood and 143.6 mm in concrete; amplitude falls and phase lags by 1 per depth."""
    assert math.sqrt(lam / capacity * DAY / math.pi) == pytest.approx(depth, rel=1e-3)
    x, phasors = _wave_into(bench, name, lam, capacity, depth)
    inside = (x > 0.75 * depth) & (x < 2.25 * depth)  # past the reach of the hourly jumps
    fall = np.polyfit(x[inside], np.log(np.abs(phasors[inside])), 1)[0]
    lag = np.polyfit(x[inside], np.unwrap(np.angle(phasors[inside])), 1)[0]
    row = CARSLAW | {"within": 3e-3, "relative": True, "unit": "m"}
    evidence.check(f"penetration depth of a day in {name}, by amplitude", -1 / fall, depth, **row)
    evidence.check(f"penetration depth of a day in {name}, by phase", -1 / lag, depth, **row)


@pytest.mark.parametrize(("tilt", "inner"), [(30, 0.10), (90, 0.13), (180, 0.17)])
def test_steady_u_value_with_standard_films(bench, evidence, tilt, inner):
    """ISO 6946: 1 / (R_se + sum d/lambda + R_si), with R_si by the direction of the heat flow; exact."""
    roof = bench.build(
        Layer(bench.heat_only("deck", 500, 1600, 0.12), 0.018), Layer(bench.heat_only("wool", 30, 1030, 0.036), 0.2),
        Layer(bench.heat_only("board", 700, 1000, 0.25), 0.0125), tilt=tilt,
    )  # fmt: skip
    run = bench.simulate(
        roof, hygro.constant_climate(-10.0, 0.8, hours=800), ConstantIndoor(20.0, 0.4),
        outside=hygro.FixedFilm(1 / 0.04, 0.0), settings=bench.tight,
    )  # fmt: skip
    u = 1 / (0.04 + 0.018 / 0.12 + 0.2 / 0.036 + 0.0125 / 0.25 + inner)
    evidence.check(
        f"steady heat flux at tilt {tilt} degrees, inner face",
        float(run["indoor_heat_flux"][-1, 0]),
        30 * u,
        within=1e-6,
        relative=True,
        unit="W m-2",
        **ISO_6946,
    )
    evidence.check(
        f"steady heat flux at tilt {tilt} degrees, outer face",
        float(run["outdoor_heat_flux"][-1, 0]),
        -30 * u,
        within=1e-6,
        relative=True,
        unit="W m-2",
        **ISO_6946,
    )
    assert float(run["inner_surface_temperature"][-1, 0]) == pytest.approx(20 - 30 * u * inner, abs=1e-5)
    assert float(run["outer_surface_temperature"][-1, 0]) == pytest.approx(-10 + 30 * u * 0.04, abs=1e-5)


def test_conductivity_that_depends_on_temperature(bench, evidence):
    """Kirchhoff: q = [lambda0 ((T2 - T1) + a ((T2 - 10)^2 - (T1 - 10)^2) / 2)] / d, profile from the same integral."""
    d, lam, a = 0.1, 0.04, 0.005
    solid = bench.heat_only("warm", 30, 1030, lam, conductivity_temperature=a)
    run = bench.simulate(
        bench.build(Layer(solid, d)), hygro.constant_climate(-20.0, 0.5, hours=200), ConstantIndoor(30.0, 0.5),
        outside=hygro.FixedFilm(bench.fast_film, 0.0), inside=hygro.FixedFilm(bench.fast_film, 0.0), detail=20,
        settings=bench.tight,
    )  # fmt: skip

    def integral(t):
        return lam * ((t - 10) + a * (t - 10) ** 2 / 2)

    flux = (integral(30.0) - integral(-20.0)) / d
    evidence.check(
        "conductivity that depends on temperature: flux",
        float(run["indoor_heat_flux"][-1, 0]),
        flux,
        within=1e-4,
        relative=True,
        unit="W m-2",
        **KIRCHHOFF,
    )
    x = run["cell_position"].to_numpy()
    exact = [brentq(lambda t, at=at: integral(t) - integral(-20.0) - flux * at, -25, 35) for at in x]
    evidence.check(
        "conductivity that depends on temperature: every cell",
        run["temperature"].to_numpy()[-1, 0],
        exact,
        within=0.01,
        unit="degC",
        **KIRCHHOFF,
    )
