"""Air in the vent gap against closed forms and hand-solved cases.

Along the flow: exact exponential of a plug flow between two faces. Speed: laminar plates, Blasius, orifices in series
(ASHRAE Handbook Fundamentals; Idelchik's screens, from memory). Tables were worked with the same formulas, switching
between the friction laws at Re 2300 where the package takes the larger of the two (they cross at Re 2036).
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numba
import numpy as np
import pytest
from evidence import Grade
from scipy.integrate import quad
from scipy.optimize import brentq

import hygro
from hygro import ByWindAndBuoyancy, Closed, FixedAirChange, FixedFilm, Layer, VentGap
from hygro.core import extrapolation, gap
from hygro.core import speed as balance
from hygro.core.bundles import ABSORBED, INNER_K, OUTER_K, P_GAP, Q_GAP, T_GAP, T_OUTER, WIND_PRESSURE, GapSide
from hygro.core.formulas import screen_loss_woven
from hygro.core.work import make_work
from hygro.gapflow import OPEN, SEMI_SHELTERED
from hygro.indoor import ConstantIndoor
from hygro.materials import Material

PLUG = {"grade": Grade.EXACT, "source": "plug flow between two faces"}
PLATES = {"grade": Grade.EXACT, "source": "parallel plates"}
FRICTION = {"grade": Grade.INDEPENDENT, "source": "ASHRAE Handbook's friction and orifices (from memory), by hand"}
IDELCHIK = {"grade": Grade.STANDARD, "source": "Idelchik, Handbook of Hydraulic Resistance (from memory)"}
SHAH = {"grade": Grade.STANDARD, "source": "Shah and London 1978 (from memory)"}
COUPLED = {"grade": Grade.INDEPENDENT, "source": "pressure balance and plug flow, solved by hand"}


def _from_python(kernel):
    """A kernel with an entrance from Python."""
    return kernel if numba.config.DISABLE_JIT else numba.njit(lambda *given: kernel(*given))


_PIECES = (
    "exchange",
    "film_coefficient",
    "air_speed",
    "driving_pressure",
    "radiation_coefficient",
)
g = SimpleNamespace(**{name: _from_python(getattr(gap, name)) for name in _PIECES})
gap_speed, answer = _from_python(balance.gap_speed), _from_python(balance.answer)
mean_size, excess_in_turning = map(_from_python, (extrapolation.mean_size, extrapolation.excess_in_turning))


STEEL = {"name": "sheet", "density": 7800, "specific_heat": 460, "conductivity": 50.0}


def _gap(thickness=0.025, length=5.0, rise=0.0, losses=1.5, radiation=0.0, still=0.1, fixed=-1.0):
    return GapSide(1, -1, thickness, length, rise, losses, radiation, still, fixed, 1)


# ------------------------------------------------------------------------------------------------ along the flow


COLD_SHEET = (1.3, 1006.0, 0.025, 5.0, 0.17210, 8.0, 20.0, -12.0, -10.0)  # rho, c_p, b, L, U_1, h_2, T_1, T_2, T_in


def air_along(u, slices):
    """Means of the slices and temperature at the outlet under a cold sheet."""
    rho, c_p, b, length, u_1, h_2, t_1, t_2, t = COLD_SHEET
    capacity = u * b / (length / slices) * rho * c_p
    film = 1e7  # so that the conductances to the faces are the whole of U
    means = []
    for _ in range(slices):
        flows = g.exchange(u_1, h_2, film, 0.0, capacity, t_1, t_2, t, 0.0, 0.0, 0.0, 1.0, False)
        # the air's own books
        assert flows[1] - flows[0] == pytest.approx(capacity * (t - flows[13]), rel=1e-6, abs=1e-9)
        means.append(flows[10])
        t = flows[13]
    return means, t


def along_a_cold_sheet(u=0.3, slices=20):
    """Positions and temperatures of the slices, of the closed form, and the mean of one slice: for the figure."""
    rho, c_p, b, length, u_1, h_2, t_1, t_2, t_in = COLD_SHEET
    t_inf = (u_1 * t_1 + h_2 * t_2) / (u_1 + h_2)
    at = np.linspace(0.0, length, 200)
    exact = t_inf + (t_in - t_inf) * np.exp(-at * (u_1 + h_2) / (rho * c_p * u * b))
    return (np.arange(slices) + 0.5) * length / slices, air_along(u, slices)[0], (at, exact), air_along(u, 1)[0][0]


@pytest.mark.parametrize(("u", "out", "mean"), [(0.1, -11.326, -11.220), (0.3, -11.306, -11.013)])
@pytest.mark.parametrize("slices", [1, 4, 20])
def test_air_along_a_cold_sheet(evidence, u, out, mean, slices):
    """T(x) = T_inf + (T_in - T_inf) exp(-x / L_0), L_0 = 0.400 m at 0.1 m/s; exact with any number of slices."""
    rho, c_p, b, _, u_1, h_2, *_ = COLD_SHEET
    assert rho * c_p * u * b / (u_1 + h_2) == pytest.approx(4.0 * u, rel=1e-3)
    means, t = air_along(u, slices)
    name = f"air along a cold sheet, {u} m/s, {slices} slices"
    evidence.check(f"{name}: outlet", t, out, within=0.002, unit="degC", **PLUG)
    evidence.check(f"{name}: mean", np.mean(means), mean, within=0.002, unit="degC", **PLUG)


def _vented(slices, rate, thickness=0.025):
    gap = VentGap(thickness, length=5.0, flow=FixedAirChange(rate), emissivity=(1e-6, 1e-6), slices=slices)
    steel = Material(**STEEL, vapour_resistance=math.inf)
    wool = Material("wool", density=30, specific_heat=1030, conductivity=0.036, vapour_resistance=math.inf)
    return [Layer(steel, 0.001), gap, Layer(wool, 0.2)]


@pytest.mark.parametrize(("slices", "error"), [(1, 0.02), (10, 0.01), (40, 0.003)])
def test_air_along_the_gap_of_a_whole_roof(bench, evidence, slices, error):
    """Sheet held at -12, room at 20 degC, inlet -10: the run's slices lie on the exponential of the film it used.

    Outdoor air and a held sheet are reconciled by the outer film's own temperature: sun and sky are replaced by heat.
    """
    air = hygro.MoistAir()
    parts = _vented(slices, 72.0)
    forcing = bench.forcing(300, air, (-10.0, 0.5), (20.0, 0.4), ((bench.fast_film, 0.0), (bench.fast_film, 0.0)))
    forcing[:, ABSORBED] = -2.0 * bench.fast_film  # ABSORBED: cools the sheet by 2 K against the air
    kernel = bench.kernel(bench.build(*parts, tilt=0), forcing, air, -10.0, 0.5)
    record, t, _ = kernel.run(bench.tight)
    side = kernel.grid.gap
    speed, density = record.speed[-1], 101325 / (287.04 * 263.15)
    assert speed == pytest.approx(72.0 * 5.0 / 3600)
    h = g.film_coefficient(side, speed, density)
    u_1 = 1 / (0.2 / 0.036 + 1 / h)
    u_2 = 1 / (1 / h + 0.001 / 50)
    t_inf = (u_1 * 20 + u_2 * -12) / (u_1 + u_2)
    length_0 = density * 1006 * speed * 0.025 / (u_1 + u_2)
    edges = np.linspace(0, 5.0, slices + 1)
    wave = np.exp(-edges / length_0)
    exact = t_inf + (-10 - t_inf) * length_0 * (wave[:-1] - wave[1:]) / np.diff(edges)
    # in a slice the faces have one temperature each, in truth they follow the air: the error falls with the slices
    evidence.check(
        f"air along the gap of a whole roof, {slices} slices",
        record.air[-1, :, T_GAP - T_OUTER],
        exact,
        within=error,
        unit="degC",
        **PLUG,
    )
    assert t.shape == (slices, len(kernel.grid.thickness))


# ----------------------------------------------------------------------------------------------------- the speed


def test_laminar_plates(evidence):
    """12 mu L u / b2 = 0.16512 Pa at 0.1 m/s, 25 mm, 5 m, without local losses."""
    evidence.check(
        "laminar speed in a gap of 25 mm",
        g.air_speed(_gap(losses=0.0), 0.16512, 1.29, 0.0),
        0.1,
        within=1e-4,
        relative=True,
        unit="m s-1",
        **PLATES,
    )


TABLE = {
    (0.025, 5.0): (0.0586, 0.2625, 0.474, 0.727, 1.203),
    (0.050, 5.0): (0.1725, 0.467, 0.678, 0.984, 1.605),
    (0.025, 10.0): (0.0300, 0.1452, 0.280, 0.525, 0.889),
}


@pytest.mark.parametrize(("size", "speeds"), TABLE.items())
def test_speed_at_a_pressure(evidence, size, speeds):
    """Five pressures, entry and exit 1.5: within 1 %, and the losses add up to the pressure."""
    for pressure, speed in zip((0.1, 0.5, 1.0, 2.0, 5.0), speeds, strict=True):
        got = g.air_speed(_gap(*size), pressure, 1.29, 0.0)
        evidence.check(
            f"speed at {pressure} Pa in a gap of {size[0]} m over {size[1]} m",
            got,
            speed,
            within=0.01,
            relative=True,
            unit="m s-1",
            **FRICTION,
        )
        friction = max(96 / (2 * size[0] * got * 1.29 / 1.72e-5), 0.316 * (2 * size[0] * got * 1.29 / 1.72e-5) ** -0.25)
        loss = 0.5 * 1.29 * got**2 * (1.5 + friction * size[1] / (2 * size[0]))
        assert loss == pytest.approx(pressure, rel=1e-6)


def test_stack_pressure(evidence):
    """rho g H dT / T with 1.342 kg/m3, 2.5 m and 263.15 K: 0.125, 0.625 and 2.501 Pa at 1, 5 and 20 K.

    The package divides by the gap's temperature, as the density of the gap's air demands."""
    for rise, pressure in ((1, 0.125), (5, 0.625), (20, 2.501)):
        got = g.driving_pressure(_gap(rise=2.5), 0.0, -10.0 + rise, -10.0, 1.342)
        evidence.check(
            f"stack pressure of 2.5 m and {rise} K",
            got * (263.15 + rise) / 263.15,
            pressure,
            within=0.0007,
            unit="Pa",
            **FRICTION,
        )
        dense = 1.342 - 1.342 * 263.15 / (263.15 + rise)
        assert got == pytest.approx(dense * 9.80665 * 2.5, rel=1e-9)


def test_wind_pressure(evidence):
    """1/2 1.3 v2 0.3: 1.755 Pa at 3 m/s, 0.195 at 1 m/s, from a difference of pressure coefficients of 0.3."""
    flow = ByWindAndBuoyancy(inlet=0.02, outlet=0.02, exposure=SEMI_SHELTERED)
    across = flow.exposure.windward - flow.exposure.leeward
    for speed, pressure in ((3.0, 1.755), (1.0, 0.195)):
        local = speed / flow.exposure.speed_share
        got = flow.wind_pressure(np.array([local]), np.array([180.0]), np.array([1.3]), 180.0)
        evidence.check(
            f"wind pressure at {speed} m/s",
            got[0] / across * 0.3,
            pressure,
            within=1e-9,
            relative=True,
            unit="Pa",
            **FRICTION,
        )


def test_wind_from_behind_reverses_and_from_the_side_does_nothing():
    flow = ByWindAndBuoyancy(inlet=0.02, outlet=0.02, exposure=OPEN)
    pressure = flow.wind_pressure(np.full(3, 4.0), np.array([180.0, 0.0, 90.0]), np.full(3, 1.25), 180.0)
    assert pressure[0] > 0
    assert pressure[1] == pytest.approx(-pressure[0])
    assert pressure[2] == pytest.approx(0.0, abs=1e-12)


def test_exposure_passes_through_its_three_values():
    for angle, expected in ((0.0, OPEN.windward), (90.0, OPEN.side), (180.0, OPEN.leeward), (270.0, OPEN.side)):
        assert OPEN.pressure_coefficient(np.array([angle]))[0] == pytest.approx(expected)


def test_openings_and_screens_in_series(evidence):
    """Sharp opening: 1/0.6^2 (gap/opening)^2; woven screens 0.3, 0.5, 0.6 free: 6.354, 1.650, 0.964 (Idelchik)."""
    evidence.check(
        "woven screens, 30, 50, 60 % free: loss coefficient",
        [screen_loss_woven(free) for free in (0.3, 0.5, 0.6)],
        [6.354, 1.650, 0.964],
        within=6e-4,
        **IDELCHIK,
    )
    plain = ByWindAndBuoyancy(inlet=0.0125, outlet=0.025).loss_coefficient(0.025)
    assert plain == pytest.approx(1.5 + (4 + 1) / 0.36)
    screened = ByWindAndBuoyancy(inlet=0.0125, outlet=0.025, screen=0.5).loss_coefficient(0.025)
    assert screened == pytest.approx(1.5 + (4 + 1) * (1 / 0.36 + 1.65))
    half_blocked = ByWindAndBuoyancy(inlet=0.025, outlet=0.025, blocked=0.5).loss_coefficient(0.025)
    assert half_blocked == pytest.approx(1.5 + 8 / 0.36)


def test_orifices_by_hand(evidence):
    """Two sharp openings without friction: u b = C_d A sqrt(2 dp / rho), half of the pressure at each."""
    opening, pressure = 0.002, 2.0
    losses = 2 * (0.025 / opening) ** 2 / 0.36
    speed = g.air_speed(_gap(length=1e-6, losses=losses), pressure, 1.25, 0.0)
    evidence.check(
        "two orifices in series: flow",
        speed * 0.025,
        0.6 * opening * math.sqrt(2 * (pressure / 2) / 1.25),
        within=1e-4,
        relative=True,
        unit="m2 s-1",
        **FRICTION,
    )


def test_no_force_no_flow_and_a_reversed_force_reverses():
    assert g.air_speed(_gap(), 0.0, 1.29, 0.0) == 0.0
    for pressure in (0.05, 1.0, 6.0):
        assert g.air_speed(_gap(), -pressure, 1.29, 0.0) == -g.air_speed(_gap(), pressure, 1.29, 0.0)
    assert g.air_speed(_gap(losses=1e12), 5.0, 1.29, 0.0) == 0.0


def test_a_higher_gap_never_slows_the_air():
    for pressure in (0.05, 0.5, 3.0):
        speeds = [g.air_speed(_gap(thickness=b), pressure, 1.29, 0.0) for b in np.geomspace(0.005, 0.2, 40)]
        assert (np.diff(speeds) >= 0).all()


# -------------------------------------------------------------------------------------------- films and radiation


def test_laminar_film(evidence):
    """7.541 0.0243 / 0.05 = 3.67 W/(m2 K) for 25 mm and half of it for 50 mm; Dittus-Boelter once it is larger."""
    evidence.check(
        "film in a gap of 25 mm", g.film_coefficient(_gap(), 0.05, 1.29), 3.67, within=0.01, unit="W m-2 K-1", **SHAH
    )
    evidence.check(
        "film in a gap of 50 mm",
        g.film_coefficient(_gap(thickness=0.05), 0.05, 1.29),
        3.67 / 2,
        within=0.01,
        unit="W m-2 K-1",
        **SHAH,
    )
    reynolds = 0.05 * 3.0 * 1.29 / 1.72e-5
    turbulent = 0.023 * reynolds**0.8 * 0.71**0.4 * 0.0243 / 0.05
    assert g.film_coefficient(_gap(), 3.0, 1.29) == pytest.approx(turbulent, rel=1e-9)
    assert turbulent > 3.67
    assert g.film_coefficient(_gap(still=9.0), 0.05, 1.29) == 9.0


@pytest.mark.parametrize(("emissivities", "expected"), [((0.9, 0.9), 3.782), ((0.9, 0.25), 1.124)])
def test_radiation_across_the_gap(bench, evidence, emissivities, expected):
    """4 sigma T3 / (1/e1 + 1/e2 - 1) at 0 degC, through the whole way from the stated emissivities."""
    gap = VentGap(0.025, length=5.0, emissivity=emissivities)
    steel, wool = bench.heat_only(**STEEL), bench.heat_only("wool", 30, 1030, 0.036)
    air = hygro.MoistAir()
    boundary = ((0.0, 0.5), (0.0, 0.5), ((10.0, 0.0), (8.0, 0.0)))
    kernel = bench.kernel(
        bench.build(Layer(steel, 0.001), gap, Layer(wool, 0.1)), bench.forcing(1, air, *boundary), air, 0.0, 0.5
    )
    evidence.check(
        f"radiation across a gap, emissivities {emissivities}",
        g.radiation_coefficient(kernel.grid.gap, 0.0, 0.0),
        expected,
        within=0.005,
        unit="W m-2 K-1",
        **PLATES,
    )


# --------------------------------------------------------------------------------------------- speed and warmth

WARMED = {
    0.025: ((5, 0.241, 5.29), (15, 0.449, 12.56), (40, 0.694, 26.75)),
    0.050: ((5, 0.332, 3.83), (15, 0.492, 8.38), (40, 0.704, 16.91)),
}


@pytest.mark.parametrize(("b", "t_sheet", "speed", "t_out"), [(b, *row) for b, rows in WARMED.items() for row in rows])
def test_buoyancy_and_warming_agree(bench, evidence, b, t_sheet, speed, t_out):
    """30 degrees, 5 m, 0 degC outdoors, U 0.172 to 20 degC, 5 W/(m2 K) to the sheet, losses 1.5, 1.3 kg/m3: within 1 %.

    The table divides buoyancy by the outdoor temperature; the package by the gap's, which is what the densities say.
    Hand-solved both ways: the table is met with its convention, the package with its own.
    """
    film = 20.0  # above any film of its own; the conductances behind it make up 5 and 0.172
    side = _gap(thickness=b, rise=2.5, still=film)
    work = make_work(1, 2)
    work.air[0, [OUTER_K, INNER_K]] = 1 / (1 / 5.0 - 1 / film), 1 / (1 / 0.172 - 1 / film)
    forcing = bench.forcing(1, hygro.MoistAir(), (0.0, 0.5), (20.0, 0.5), ((10.0, 0.0), (8.0, 0.0)))
    fluid = bench.kernel(
        bench.build(Layer(bench.heat_only(), 0.1)), forcing, hygro.MoistAir(), 0.0, 0.5
    ).fluid  # fmt: skip
    cells = np.array([[float(t_sheet), 20.0]])
    work.now[: len(forcing[0])] = forcing[0]
    got = gap_speed(0.1, 1.3, cells, side, work, fluid, balance.SPEED_TOLERANCE)

    def warmed(u):
        length_0 = 1.3 * 1006 * u * b / 5.172
        t_inf = (5 * t_sheet + 0.172 * 20) / 5.172
        mean = t_inf - t_inf * length_0 / 5 * -math.expm1(-5 / length_0)
        return mean, t_inf * -math.expm1(-5 / length_0)

    def excess(u, of_gap):
        mean, _ = warmed(u)
        reynolds = 2 * b * u * 1.3 / 1.72e-5
        loss = 0.65 * u**2 * (1.5 + max(96 / reynolds, 0.316 * reynolds**-0.25) * 5 / (2 * b))
        return 1.3 * 9.80665 * 2.5 * mean / (273.15 + of_gap * mean) - loss

    table = brentq(excess, 1e-3, 5, args=(0,))
    assert table == pytest.approx(speed, rel=0.01)
    assert warmed(table)[1] == pytest.approx(t_out, rel=0.01)
    evidence.check(
        f"buoyancy in a gap of {b} m under a sheet of {t_sheet} degC",
        got,
        brentq(excess, 1e-3, 5, args=(1,)),
        within=1e-3,
        relative=True,
        unit="m s-1",
        **COUPLED,
    )


def _warmed_gap(bench, wind, slices=1, losses=1.5):
    """A gap under a sheet of 25 degC, with the cells' temperatures, the work space and the fluid."""
    side = _gap(thickness=0.025, rise=2.5, losses=losses, still=5.0)._replace(slices=slices)
    work = make_work(slices, 2)
    work.air[:, OUTER_K], work.air[:, INNER_K] = 7.0, 0.2
    forcing = bench.forcing(1, hygro.MoistAir(), (0.0, 0.5), (20.0, 0.5), ((10.0, 0.0), (8.0, 0.0)))
    fluid = bench.kernel(bench.build(Layer(bench.heat_only(), 0.1)), forcing, hygro.MoistAir(), 0.0, 0.5).fluid
    work.now[: len(forcing[0])] = forcing[0]
    work.now[WIND_PRESSURE] = wind
    return side, np.linspace([25.0, 20.0], [15.0, 18.0], slices), work, fluid


@pytest.mark.parametrize("slices", [1, 3])
@pytest.mark.parametrize("speed", [-0.3, -0.02, 1e-4, 0.05, 0.3])
def test_the_slope_of_the_answered_speed(bench, speed, slices):
    """As far as the flow is laminar, against a difference of answers."""
    side, cells, work, fluid = _warmed_gap(bench, 0.3, slices, losses=60.0)
    low, *_ = answer(speed * (1 - 1e-5), 1.3, cells, side, work, fluid)
    high, *_ = answer(speed * (1 + 1e-5), 1.3, cells, side, work, fluid)
    _, rate, *_ = answer(speed, 1.3, cells, side, work, fluid)
    assert rate == pytest.approx((high - low) / (2e-5 * speed), rel=1e-5)


@pytest.mark.parametrize("losses", [1.5, 60.0, 2000.0])
def test_the_speed_found_is_answered_by_itself(bench, losses):
    """Whatever the wind was before, with and against the buoyancy, in laminar and turbulent flow."""
    rng = np.random.default_rng(3)
    side, cells, work, fluid = _warmed_gap(bench, 0.0, losses=losses)
    speed = 0.0
    for wind in rng.normal(size=200) * 10.0 ** rng.uniform(-3, 1.3, 200):
        work.now[WIND_PRESSURE] = wind
        speed = gap_speed(speed, 1.3, cells, side, work, fluid, balance.SPEED_TOLERANCE)
        answered, rate, *_ = answer(speed, 1.3, cells, side, work, fluid)
        allowed = balance.SPEED_TOLERANCE + 1e-4 * abs(speed)
        # one tolerance for what the search leaves, and one for keeping a speed that hardly changes
        assert abs(answered - speed) < 2.0 * allowed * max(1.0, abs(1.0 - rate))


def _roof_run(bench, flow, hours=200, slices=1, thickness=0.04, outdoor=-5.0, absorbed=60.0, wind=0.0, settings=None):
    """A sheet warmed by steady sun over a gap, as hourly end state: (speed, sheet, gap air by slice, fluxes)."""
    air = hygro.MoistAir()
    board = Material(
        "board", density=600, specific_heat=1600, conductivity=0.13, vapour_resistance=30.0, sorption=lambda u: 120 * u,
        saturation=650,
    )  # fmt: skip
    steel = Material(**STEEL, vapour_resistance=math.inf)
    gap = VentGap(thickness, length=6.0, flow=flow, slices=slices)
    forcing = bench.forcing(hours, air, (outdoor, 0.8), (20.0, 0.4), ((15.0, 1e-7), (8.0, 2e-8)))
    forcing[:, ABSORBED] = absorbed
    forcing[:, WIND_PRESSURE] = wind
    kernel = bench.kernel(
        bench.build(Layer(steel, 0.001), gap, Layer(board, 0.018), tilt=30), forcing, air, outdoor, 0.7
    )  # fmt: skip
    record, t, _ = kernel.run(settings)
    return record, t


@pytest.mark.parametrize(("losses", "length"), [(0.0, 5.0), (60.0, 5.0), (300.0, 1e-6)])
@pytest.mark.parametrize(("before", "after"), [(-0.2, 0.1), (0.02, -0.3), (0.1, -0.1)])
def test_the_mean_size_of_a_speed_that_turns_round(before, after, losses, length):
    """While its pressure changes evenly, against a quadrature; by friction alone, by both and by openings alone."""
    side = _gap(length=length, losses=losses)
    local, friction = 0.5 * 1.3 * losses, 12.0 * 1.72e-5 * length / 0.025**2

    def pressure(v):
        return local * v * abs(v) + friction * v

    def size(share):
        p = pressure(before) + share * (pressure(after) - pressure(before))
        return abs(p) / (0.5 * friction + math.sqrt(0.25 * friction**2 + local * abs(p)))

    turn = pressure(before) / (pressure(before) - pressure(after))
    mean = quad(size, 0.0, turn, epsabs=1e-13)[0] + quad(size, turn, 1.0, epsabs=1e-13)[0]
    assert mean_size(side, 1.3, before, after) == pytest.approx(mean, rel=1e-6)


def test_only_air_that_turns_round_exceeds_its_way():
    """Nothing where all stages blow one way; else what the formula of third order misses of an even change."""
    side = _gap(losses=0.0)
    for stages in ((0.1, 0.3, 0.2), (-0.1, -0.3, -0.2), (0.0, 0.2, 0.3), (0.0, 0.0, 0.0)):
        assert excess_in_turning(side, 1.3, *stages) == 0.0
    start, end = -0.1, 0.3
    first = start + (2.0 - math.sqrt(2.0)) * (end - start)
    # weights of the quadrature of third order through 0, a and 1: moments 1, 1/2 and 1/3
    weights = np.linalg.solve(np.vander([0.0, 2.0 - math.sqrt(2.0), 1.0], 3, increasing=True).T, [1.0, 1 / 2, 1 / 3])
    expected = weights @ np.abs([start, first, end]) - (0.1**2 + 0.3**2) / (2 * 0.4)
    assert excess_in_turning(side, 1.3, start, first, end) == pytest.approx(expected, rel=1e-9)


def test_air_that_turns_round_within_the_hour(bench):
    """Steps of an hour that begin in one wind and end in the other exchange what short steps do, within 3 per cent.

    The wind changes evenly between both, so that the air stands still on the way; without a thought of that it is ten.
    """
    winds = 3.0 * (-1.0) ** np.arange(73)
    usual, tight = (
        _roof_run(
            bench, ByWindAndBuoyancy(inlet=0.004, outlet=0.004), hours=72, absorbed=0.0, outdoor=0.0, wind=winds,
            settings=settings,
        )[0].fluxes[24:, 0, Q_GAP]
        for settings in (None, bench.tight)
    )  # fmt: skip
    assert usual.mean() == pytest.approx(tight.mean(), rel=0.03)


def test_no_driving_force_in_a_level_gap(bench):
    """No wind, no rise: the air stands still; a closed gap as well whatever the sun does."""
    still, _ = _roof_run(bench, Closed())
    assert (still.speed == 0.0).all()
    open_gap = ByWindAndBuoyancy(inlet=0.02, outlet=0.02)
    warm, _ = _roof_run(bench, open_gap)
    assert warm.speed[-1] > 0.05
    against, _ = _roof_run(bench, open_gap, wind=-10.0)
    assert against.speed[-1] < -0.05


def test_more_slices_converge(bench):
    """Deck water and speed change less and less from 1 to 16 slices."""
    flow = ByWindAndBuoyancy(inlet=0.02, outlet=0.02)
    speeds, fluxes = [], []
    for slices in (1, 2, 4, 8, 16):
        record, _ = _roof_run(bench, flow, slices=slices, hours=100)
        speeds.append(record.speed[-1])
        fluxes.append(record.fluxes[-1, :, Q_GAP].mean())
    for values in (np.array(speeds), np.array(fluxes)):
        steps = np.abs(np.diff(values))
        assert steps[-1] < 0.6 * steps[-2]
        assert steps[-1] < 0.002 * abs(values[-1]) + 1e-3


def test_vapour_in_the_gap_lies_between_its_sources(bench):
    record, _ = _roof_run(bench, FixedAirChange(30), slices=4)
    p_out = 0.8 * float(hygro.MoistAir().over_water(-5.0))
    p_in = 0.4 * float(hygro.MoistAir().over_water(20.0))
    along = record.air[-1, :, P_GAP - T_OUTER]
    assert (along > p_out - 1e-6).all()
    assert (along < p_in).all()
    assert (np.diff(along) > 0).all()  # the deck gives off what the room drives through it


def test_a_gap_open_at_one_end_only(bench):
    """No way through, no stream, whatever drives it; the rate stated for such gaps dries less than two open ends."""
    one_end = ByWindAndBuoyancy(inlet=0.02, outlet=0.0)
    still, _ = _roof_run(bench, one_end, wind=10.0)
    assert (still.speed == 0.0).all()
    runs = [still, *(_roof_run(bench, FixedAirChange(rate))[0] for rate in (20.0, 110.0))]
    damp = [float(record.air[-1, :, P_GAP - T_OUTER].mean()) for record in runs]
    assert damp[0] > damp[1] > damp[2]


def test_fixed_air_change_is_what_it_says(bench):
    run = bench.simulate(
        bench.build(*_vented(1, 90.0), tilt=30), hygro.constant_climate(-5.0, 0.8, hours=24), ConstantIndoor(20.0, 0.4),
        outside=FixedFilm(20.0, 1e-7),
    )  # fmt: skip
    np.testing.assert_allclose(run["gap_air_change_rate"], 90.0, rtol=1e-9)
    np.testing.assert_allclose(run["gap_air_speed"], 90.0 * 5.0 / 3600, rtol=1e-9)


@pytest.mark.parametrize("slices", [8, 64])
@pytest.mark.parametrize("tight", [True, False])
def test_many_slices_come_to_their_end(bench, slices, tight):
    """Every number of slices that may be stated can be computed, over a vapour-tight face as well as an open one."""
    parts = _vented(slices, 100.0)
    if not tight:
        parts[2] = Layer(
            Material("wool", density=30, specific_heat=1030, conductivity=0.036, vapour_resistance=1.5,
                     sorption=lambda u: 0.6 * u, saturation=900), 0.2,
        )  # fmt: skip
    run = bench.simulate(
        bench.build(*parts, tilt=30), hygro.constant_climate(-10.0, 0.8, hours=24), ConstantIndoor(20.0, 0.4)
    )
    assert run.sizes["slice"] == slices
