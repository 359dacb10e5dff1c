"""Steady checks against independent calculations of the standards' methods.

The worked examples printed in ISO 13788 could not be had; the examples here were computed apart from this package, by
hand or by a spreadsheet-like script, with the method, constants and formulas as recalled from ISO 13788:2012, ISO
6946:2017, DIN 4108-2 and DIN 4108-3. They test the arithmetic of the method; the recollection of the standards is from
memory (high confidence). Each test names what it holds against.
"""

from __future__ import annotations

import numpy as np
import pytest
from evidence import Grade

from hygro import Assembly, Layer, Sheet, VentGap
from hygro.core.formulas import saturation_pressure_iso, unventilated_film_coefficient
from hygro.gapflow import ByWindAndBuoyancy, Closed
from hygro.materials import Material
from hygro.steady import (
    AirGaps,
    Fasteners,
    Framing,
    MonthlyOutcome,
    Ventilation,
    block_condensation,
    gap_ventilation,
    metal_part,
    monthly_condensation,
    monthly_values,
    saturation_temperature,
    surface_check,
    surface_need,
    transmittance,
)
from hygro.steady.block import _drying
from hygro.steady.path import air_layer_resistance, chain
from hygro.steady.profile import vapour_profile

OUTDOORS = [-12, -11, -6, 1, 8, 13, 16, 14, 9, 3, -3, -9]
HUMIDITY = [0.85, 0.84, 0.80, 0.72, 0.66, 0.68, 0.72, 0.77, 0.80, 0.83, 0.86, 0.86]
AIR = monthly_values(OUTDOORS, HUMIDITY, indoor_temperature=20, humidity_class=2)


WORKED = {"grade": Grade.INDEPENDENT, "source": "the standards' method (from memory), worked apart from the package"}
ISO_6946 = {"grade": Grade.EXACT, "source": "ISO 6946 (from memory), by hand"}
TANGENTS = {"grade": Grade.LIBRARY, "source": "scipy's bounded least squares"}


def plain(name, conductivity, mu, density=500.0, **more):
    stored = {"sorption": [(0, 0), (1, 50)], "saturation": 300}
    return Material(
        name, density=density, specific_heat=1000, conductivity=conductivity, vapour_resistance=mu, **stored, **more
    )


LINING = Layer(plain("lining", 0.25, 10), "12.5 mm")  # R 0.05, s_d 0.125
WOOL = Layer(plain("wool", 0.036, 1, 30.0), "200 mm")  # R 5.5556, s_d 0.2
PLYWOOD = Layer(plain("plywood", 0.13, 200, is_wood=True), "18 mm")  # R 0.1385, s_d 3.6


def roof(retarder, *, plywood=False):
    parts = [Sheet("membrane", s_d=100.0), WOOL, Sheet("retarder", s_d=retarder), LINING]
    if plywood:
        parts.insert(1, PLYWOOD)
    return Assembly("roof", parts, tilt=5, azimuth=180, finish="dark coated metal")


def test_monthly_example_of_a_roof_that_gathers_water(evidence):
    # ISO 13788:2012 applied independently: plane under the membrane, month by month from October.
    result = monthly_condensation(roof(2.0), AIR, first_month=10)
    (plane,) = result.planes
    # fmt: off
    change = [0.0739, 0.1037, 0.1139, 0.1157, 0.1033, 0.1057, 0.0710, -0.0127, -0.0682, -0.0958, -0.0503, 0.0125]
    held = [0.0739, 0.1776, 0.2915, 0.4072, 0.5105, 0.6162, 0.6872, 0.6745, 0.6063, 0.5104, 0.4601, 0.4726]
    warm = [3.118, -2.840, -8.798, -11.777, -10.784, -5.819, 1.132, 8.084, 13.049, 16.028, 14.042, 9.077]
    pressure = [763.8, 481.9, 288.5, 221.2, 241.8, 373.9, 662.7, 1078.3, 1501.7, 1820.5, 1602.1, 1153.4]
    # fmt: on
    data = result.data.isel(node=plane)
    evidence.check(
        "monthly method, roof that gathers: change by month",
        data["condensate_change"],
        change,
        within=1e-4,
        unit="kg m-2",
        **WORKED,
    )
    evidence.check(
        "monthly method, roof that gathers: water held by month",
        data["condensate_held"],
        held,
        within=1.5e-4,
        unit="kg m-2",
        **WORKED,
    )
    evidence.check(
        "monthly method, roof that gathers: temperature of the plane",
        data["interface_temperature"],
        warm,
        within=1e-3,
        unit="degC",
        **WORKED,
    )
    evidence.check(
        "monthly method, roof that gathers: pressure at the plane",
        data["interface_vapour_pressure"],
        pressure,
        within=0.1,
        unit="Pa",
        **WORKED,
    )
    evidence.check(
        "monthly method, roof that gathers: most in the year", result.peak, 0.6872, within=1e-4, unit="kg m-2", **WORKED
    )
    evidence.check(
        "monthly method, roof that gathers: left after a year",
        result.left,
        0.4726,
        within=1e-4,
        unit="kg m-2",
        **WORKED,
    )
    assert result.peak_month == "Apr"
    assert result.outcome is MonthlyOutcome.STAYS
    assert result.runs_off


def test_monthly_example_with_a_tight_retarder(evidence):
    result = monthly_condensation(roof(50.0), AIR)
    assert list(result.data["month"].to_numpy())[:2] == ["Oct", "Nov"]  # found: September does not condense
    evidence.check(
        "monthly method, tight retarder: most in the year", result.peak, 0.0287, within=5e-5, unit="kg m-2", **WORKED
    )
    evidence.check(
        "monthly method, tight retarder: left after a year", result.left, 0.0089, within=5e-5, unit="kg m-2", **WORKED
    )
    assert not result.runs_off


@pytest.mark.parametrize("month", [0, 3, 6])
def test_the_tangents_are_the_solution_of_the_obstacle_problem(evidence, month):
    # The vapour pressure of steady diffusion under a ceiling minimises sum (dp)^2/s_d with p below saturation: a
    # bounded least-squares problem, solved by a general-purpose routine (Stark and Parker, in scipy) instead
    # of by tangents. Planes with water are held at saturation.
    from scipy.optimize import lsq_linear

    path = chain(roof(0.5, plywood=True), finest=0.25)
    place = np.concatenate([[0.0], np.cumsum([piece.s_d for piece in path.pieces])])
    ceiling = saturation_pressure_iso(np.array(path.temperatures(AIR.outdoor_temperature[month], 20.0)))
    outer, inner = AIR.outdoor_vapour_pressure[month], 0.6 * 2336.95
    wet = np.zeros(len(place), bool)
    wet[1:3] = month > 0
    n = len(place)
    rows = (np.eye(n - 1, n, 1) - np.eye(n - 1, n)) / np.sqrt(np.diff(place))[:, None]
    known = np.r_[0, np.flatnonzero(wet), n - 1]
    values = np.full(n, np.nan)
    values[known] = np.r_[outer, ceiling[wet], inner]
    free = np.setdiff1d(np.arange(n), known)
    best = lsq_linear(
        rows[:, free], -rows[:, known] @ values[known], (-np.inf, ceiling[free]), method="bvls", tol=1e-14
    )
    values[free] = best.x
    found = vapour_profile(place, ceiling, wet, outer, inner)
    evidence.check(
        f"tangents of the vapour profile, month {month}",
        found.pressure,
        values,
        within=1e-7,
        relative=True,
        unit="Pa",
        **TANGENTS,
    )
    assert (found.gain != 0.0).sum() >= 2


def test_class_two_adds_its_limit_to_the_outdoor_vapour_pressure():
    # October to September of the same example; p_e and p_i with the formulas of annex E, over ice below 0 degC.
    # fmt: off
    outdoor = [184.2, 199.2, 294.5, 472.6, 707.7, 1017.9, 1308.4, 1230.3, 918.0, 628.6, 408.9, 243.7]
    indoor = [724.2, 739.2, 834.5, 985.6, 1031.7, 1206.9, 1416.4, 1392.3, 1215.0, 1087.6, 948.9, 783.7]
    # fmt: on
    np.testing.assert_allclose(AIR.outdoor_vapour_pressure, outdoor, atol=0.06)
    np.testing.assert_allclose(AIR.indoor_vapour_pressure, indoor, atol=0.06)


@pytest.mark.parametrize(
    ("conditions", "humidity", "temperature", "factor"),
    [
        ((-5, 20, 0.50), 0.8, 12.625, 0.7050),  # 12.6 degC and 0.70 are the familiar values of DIN 4108-2
        ((-5, 20, 0.50), 1.0, 9.269, 0.5708),
        ((-20, 20, 0.40), 0.8, 9.269, 0.7317),
        ((-15, 21, 0.45), 0.8, 11.960, 0.7489),
    ],
)
def test_surface_temperature_that_is_needed(evidence, conditions, humidity, temperature, factor):
    outdoors, indoors, humid = conditions
    need = surface_need(outdoors, indoors, humid * float(saturation_pressure_iso(indoors)), humidity=humidity)
    evidence.check(
        f"surface temperature needed, {humidity}", need.temperature, temperature, within=0.001, unit="degC", **WORKED
    )
    evidence.check(f"temperature factor needed, {humidity}", need.factor, factor, within=1e-4, **WORKED)


@pytest.mark.parametrize(
    ("temperature", "humidity", "dew"),
    [(20, 0.50, 9.269), (21, 0.40, 6.90), (20, 0.60, 12.00), (20, 0.30, 1.92), (-10, 0.80, -12.48)],
)
def test_dew_and_frost_point(temperature, humidity, dew):
    # Inverse of the formulas of ISO 13788 annex E; the last is a frost point of humidity over ice.
    assert saturation_temperature(humidity * float(saturation_pressure_iso(temperature))) == pytest.approx(
        dew, abs=0.006
    )


def test_one_plane_of_a_block_climate_by_hand(evidence):
    # -5 degC/80 % against 20 degC/50 % for 90 days, R_si 0.25; the plane is stated, under the plywood: s_d 2.325 m
    # inwards and 103.6 m outwards. Computed apart: -4.261 degC, 427.3 Pa, 6.355e-8 kg/(m2 s), 0.4942 kg/m2; the
    # summer block dries 800 Pa over both ways, 7.036e-8 kg/(m2 s) or 0.5471 kg/m2.
    warm = chain(roof(2.0, plywood=True), inner_resistance=0.25).temperatures(-5.0, 20.0)[2]
    evidence.check("block climate: temperature of the plane", warm, -4.261, within=5e-4, unit="degC", **WORKED)
    place, ceiling = np.array([0.0, 103.6, 105.925]), saturation_pressure_iso(np.array([20.0, warm, 20.0]))
    evidence.check("block climate: pressure at the plane", ceiling[1], 427.3, within=0.05, unit="Pa", **WORKED)
    outer, inner = 0.8 * float(saturation_pressure_iso(-5.0)), 0.5 * float(saturation_pressure_iso(20.0))
    gain = vapour_profile(place, ceiling, np.zeros(3, bool), outer, inner).gain[1]
    evidence.check("block climate: rate", gain, 6.355e-8, within=2e-4, relative=True, unit="kg m-2 s-1", **WORKED)
    evidence.check(
        "block climate: condensate of 90 d", gain * 2160 * 3600, 0.4942, within=1e-4, unit="kg m-2", **WORKED
    )
    evidence.check(
        "block climate: what dries",
        _drying(place, {1: 0.4942}, 800.0, 2160 * 3600.0),
        0.5471,
        within=1e-4,
        unit="kg m-2",
        **WORKED,
    )


def test_block_climate_condensate_of_a_roof():
    # The same roof: the tangents touch twice, as the membrane's inner face is colder than the plywood's. By hand, from
    # the temperatures: into the plywood from below less out of it, and out of it less out through the membrane.
    result = block_condensation(roof(2.0, plywood=True))
    outside, inside = result.planes
    total = 0.04 + 0.018 / 0.13 + 0.2 / 0.036 + 0.05 + 0.25
    cold = 610.5 * np.exp(21.875 * (t := -5 + 25 * 0.04 / total) / (265.5 + t))
    warm = 610.5 * np.exp(21.875 * (t := -5 + 25 * (0.04 + 0.018 / 0.13) / total) / (265.5 + t))
    arrives, crosses, leaves = (1168.475 - warm) / 2.325, (warm - cold) / 3.6, (cold - 0.8 * 401.18) / 100.0
    seconds = 2160 * 3600
    assert inside.name == "between 'plywood' and 'wool'"
    assert inside.condensed == pytest.approx(2e-10 * seconds * (arrives - crosses), rel=1e-4)
    assert outside.condensed == pytest.approx(2e-10 * seconds * (crosses - leaves), rel=1e-3)
    # In summer the plane under the membrane has 0.0097 kg/m2 and dries over 100 m alone: 1.6e-9 kg/(m2 s).
    held, rate = outside.condensed, 2e-10 * 800 / 100
    late = seconds - held / rate
    dried = 2e-10 * 800 * (seconds / 2.325 + late / 103.6) + held
    assert result.drying == pytest.approx(dried, rel=1e-9)
    assert inside.limit == pytest.approx(0.03 * 500 * 0.018)  # 3 % of the plywood: 0.27 kg/m2
    assert result.dries
    assert not result.passes
    assert not result.has_reserve


def wall_of(*, gap=True):
    parts = [Layer(plain("osb", 0.13, 30), "11 mm"), Layer(plain("batt", 0.036, 1), "140 mm"), LINING]
    if gap:
        flow = ByWindAndBuoyancy(inlet="20 cm^2/m", outlet="20 cm^2/m")
        parts = [Layer(plain("cladding", 0.13, 50), "20 mm"), VentGap("25 mm", length="2.5 m", flow=flow), *parts]
    return Assembly("wall", parts, tilt=90, azimuth=0, finish="new wood")


def test_combined_method_of_a_stud_wall(evidence):
    # ISO 6946:2017 computed apart from this package: 12.5 % timber of 0.13 in 140 mm, well ventilated cladding.
    result = transmittance(wall_of(), [Framing(plain("stud", 0.13, 50), 0.125, "batt")])
    between, stud = result.sections
    evidence.check("stud wall: between the studs", between.resistance, 4.2835, within=1e-4, unit="m2 K W-1", **WORKED)
    evidence.check("stud wall: at the stud", stud.resistance, 1.4715, within=1e-4, unit="m2 K W-1", **WORKED)
    evidence.check("stud wall: upper limit", result.upper, 3.4576, within=1e-4, unit="m2 K W-1", **WORKED)
    evidence.check("stud wall: lower limit", result.lower, 3.3266, within=1e-4, unit="m2 K W-1", **WORKED)
    evidence.check("stud wall: combined", result.resistance, 3.3921, within=1e-4, unit="m2 K W-1", **WORKED)
    assert pytest.approx(0.2948, abs=1e-4) == result.U
    evidence.check("stud wall: error bound", 100 * result.error, 1.93, within=0.005, unit="%", **WORKED)


def test_crossing_battens_make_four_sections(evidence):
    # Two layers of 0.9/0.1: 0.81, 0.09, 0.09, 0.01 of the area; by hand with R 3, 1 and 2, 0.5 and 0.17 of surfaces.
    one, two, wood = plain("one", 0.03, 1), plain("two", 0.05, 1), plain("wood", 0.1, 1)
    wood_two = plain("wood two", 0.2, 1)
    parts = [Layer(one, "90 mm"), Layer(two, "100 mm")]
    built = Assembly("wall", parts, tilt=90, azimuth=0, finish="new wood")
    result = transmittance(built, [Framing(wood, 0.1, "one"), Framing(wood_two, "10 %", "two")])
    shares = [section.share for section in result.sections]
    evidence.check("crossing battens: shares", shares, [0.81, 0.09, 0.09, 0.01], within=1e-6, relative=True, **ISO_6946)
    upper = 1 / (0.81 / 5.17 + 0.09 / 3.67 + 0.09 / 3.07 + 0.01 / 1.57)
    lower = 0.17 + 1 / (0.9 / 3 + 0.1 / 0.9) + 1 / (0.9 / 2 + 0.1 / 0.5)
    evidence.check(
        "crossing battens: upper limit", result.upper, upper, within=1e-9, relative=True, unit="m2 K W-1", **ISO_6946
    )
    evidence.check(
        "crossing battens: lower limit", result.lower, lower, within=1e-9, relative=True, unit="m2 K W-1", **ISO_6946
    )


def test_studs_in_line_through_two_layers():
    one, two, wood = plain("one", 0.03, 1), plain("two", 0.05, 1), plain("wood", 0.1, 1)
    built = Assembly("wall", [Layer(one, "90 mm"), Layer(two, "100 mm")], tilt=90, azimuth=0, finish="new wood")
    result = transmittance(built, [Framing(wood, 0.2, ("one", "two"))])
    assert result.upper == pytest.approx(1 / (0.8 / 5.17 + 0.2 / (0.17 + 1.9)), rel=1e-9)
    assert result.lower == pytest.approx(0.17 + 1 / (0.8 / 3 + 0.2 / 0.9) + 1 / (0.8 / 2 + 0.2 / 1.0), rel=1e-9)


@pytest.mark.parametrize(
    ("thickness", "up", "horizontal", "down"),
    [("10 mm", 0.149, 0.149, 0.149), ("25 mm", 0.162, 0.183, 0.192), ("50 mm", None, None, 0.212)],
)
def test_still_air_layers(thickness, up, horizontal, down):
    # ISO 6946:2017 annex D with emissivity 0.9 on both sides at 10 degC; its table rounds to two decimals.
    gap = VentGap(thickness, length="3 m", flow=Closed())
    for direction, expected in (("up", up), ("horizontal", horizontal), ("down", down)):
        if expected is not None:
            assert air_layer_resistance(gap, direction) == pytest.approx(expected, abs=0.001)


def test_radiation_across_still_air_is_that_of_black_bodies(evidence):
    """4 sigma T3 at 10 degC is 5.149 W/(m2 K); the standard's table rounds to 5.1."""
    gap = VentGap("25 mm", length="3 m", flow=Closed(), emissivity=(1.0, 1.0))
    for direction in ("up", "horizontal", "down"):
        found = 1.0 / air_layer_resistance(gap, direction) - unventilated_film_coefficient(0.025, direction)
        evidence.check(
            f"radiation across still air, {direction}", found, 5.149, within=0.001, unit="W m-2 K-1", **ISO_6946
        )


@pytest.mark.parametrize(("direction", "expected"), [("up", 0.453), ("horizontal", 0.664), ("down", 0.796)])
def test_still_air_layer_with_one_bright_face(evidence, direction, expected):
    gap = VentGap("25 mm", length="3 m", flow=Closed(), emissivity=(0.9, 0.05))
    evidence.check(
        f"still air with one bright face, {direction}",
        air_layer_resistance(gap, direction),
        expected,
        within=0.001,
        unit="m2 K W-1",
        **ISO_6946,
    )


@pytest.mark.parametrize(
    ("openings", "state"),
    [("2 cm^2/m", "unventilated"), ("5 cm^2/m", "slightly ventilated"), ("8 cm^2/m", "well ventilated")],
)
def test_classes_of_a_gap(openings, state):
    # 2 x 200, 2 x 500 and 2 x 800 mm2 per metre of a wall (ISO 6946:2017 clause 6.9: 500 and 1500 mm2).
    gap = VentGap("25 mm", length="2.5 m", flow=ByWindAndBuoyancy(inlet=openings, outlet=openings))
    assert gap_ventilation(gap, "wall") == Ventilation(state)
    one_end = VentGap("25 mm", length="2.5 m", flow=ByWindAndBuoyancy(inlet="100 cm^2/m", outlet=0.0))
    assert gap_ventilation(one_end, "wall") is Ventilation.SLIGHTLY


def test_a_slightly_ventilated_gap_lies_half_way_at_1000_mm2():
    def built(openings):
        flow = ByWindAndBuoyancy(inlet=openings, outlet=openings) if openings else Closed()
        cladding, gap = Layer(plain("cladding", 0.13, 50), "20 mm"), VentGap("25 mm", length="2.5 m", flow=flow)
        return transmittance(Assembly("wall", [cladding, gap, LINING], tilt=90, azimuth=0, finish="new wood"))

    still, half, full = (built(openings).resistance for openings in (None, "5 cm^2/m", "20 cm^2/m"))
    assert half == pytest.approx(0.5 * (still + full), rel=1e-12)
    assert full == pytest.approx(0.13 + 0.05 + 0.13, rel=1e-12)
    assert still == pytest.approx(0.04 + 0.02 / 0.13 + 0.183 + 0.05 + 0.13, abs=1e-3)


def test_corrections_for_gaps_and_fasteners():
    # ISO 6946 annex F (from memory): 0.01 (R1/RT)^2; 0.8 lambda A n / d0 (R1/RT)^2 for a fastener through all of it.
    built = wall_of(gap=False)
    plain_U = transmittance(built).U
    share = (0.14 / 0.036 * plain_U) ** 2
    gaps = transmittance(built, air_gaps=AirGaps("batt", 1))
    assert plain_U + 0.01 * share == pytest.approx(gaps.U, rel=1e-12)
    ties = transmittance(built, fasteners=Fasteners("batt", 50.0, 12.6e-6, 4.0, 0.14))
    assert ties.correction == pytest.approx(0.8 * 50 * 12.6e-6 * 4 / 0.14 * share, rel=1e-12)


def test_a_steel_post_with_and_without_a_break():
    # By hand: R 0.04 + 0.15/50 + 0.13 = 0.173; f = 1 - 0.13/0.173 = 0.2486; with 20 mm of 0.03, R 0.8397, f 0.8452.
    post, pad = Layer("steel sheet", "150 mm"), Layer(plain("pad", 0.03, 100), "20 mm")
    result = metal_part([post], pad, outdoor_temperature=-20, indoor_temperature=20, indoor_humidity="40 %")
    assert result.without.temperature == pytest.approx(-20 + 40 * (1 - 0.13 / 0.173), abs=1e-9)
    assert result.with_break.factor == pytest.approx(1 - 0.13 / (0.173 + 0.02 / 0.03), abs=1e-12)
    assert result.dew_point == pytest.approx(saturation_temperature(0.4 * 2336.95), abs=1e-4)
    assert result.without.is_wet
    assert not result.with_break.is_wet
    # A flange of twelve times the section gathers heat as a film of a twelfth of the resistance.
    flange = metal_part(
        [post], pad, outdoor_temperature=-20, indoor_temperature=20, indoor_humidity=0.4, inner_area_ratio=12
    )
    assert flange.without.factor == pytest.approx(1 - (0.13 / 12) / (0.043 + 0.13 / 12), abs=1e-12)


def test_a_wall_by_the_dew_point_method(evidence):
    # Independent calculation in perms (dew-point method of the ASHRAE Handbook, its own numbers not at hand): vapour
    # pressure at the cold face of the insulation without condensation, and what arrives and leaves with it. The outer
    # film, 1e-7 kg/(m2 s Pa), is a resistance here; fluxes do not depend on the axis, so each is a thickness of air.
    perm, delta = 57.2e-12, 2e-10
    for interior, unhindered, inflow, outflow in (
        (0.06, 251.9, 0.0086, 0.0185), (0.4, 429.3, 0.0563, 0.0185), (1, 591.8, 0.1370, 0.0185),
        (5, 838.2, 0.5796, 0.0185), (30, 935.4, 1.7745, 0.0185),
    ):  # fmt: skip
        out = delta * (1 / (1.0 * perm) + 1 / 1e-7)
        into = delta * (1 / (21.05 * perm) + 1 / (interior * perm))
        place = np.array([0.0, out, out + into])
        dry = vapour_profile(place, np.array([1e4, 1e4, 1e4]), np.zeros(3, bool), 207.5, 994.2)
        evidence.check(
            "dew-point method: pressure at the board",
            dry.pressure[1],
            unhindered,
            within=0.01,
            relative=True,
            unit="Pa",
            **WORKED,
        )
        wet = vapour_profile(place, np.array([1e4, 297.5, 1e4]), np.ones(3, bool), 207.5, 994.2)
        evidence.check(
            "dew-point method: gain",
            wet.gain[1] * 3.6e6,
            inflow - outflow,
            within=0.01 * max(inflow, outflow),
            unit="g m-2 h-1",
            **WORKED,
        )


def test_temperature_factor_of_a_wall():
    # By hand: R 0.04 + 0.0846 + 3.8889 + 0.05 = 4.0635 and 0.25 inside: f = 1 - 0.25/4.3135.
    check = surface_check(wall_of(gap=False), AIR)
    assert check.factor == pytest.approx(1 - 0.25 / (0.04 + 0.011 / 0.13 + 0.14 / 0.036 + 0.05 + 0.25), rel=1e-12)
    assert check.temperatures[0] == pytest.approx(-12 + check.factor * 32, abs=1e-9)
    assert check.passes
