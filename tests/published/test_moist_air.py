"""Moist air against the ASHRAE formulation (psychrolib), a reference equation of state (CoolProp) and the standards.

Curves: Murphy and Koop 2005; EN ISO 13788 annex E; Schirmer's relation of EN ISO 12572. Table values were worked from
the formulas named; CoolProp evaluates IAPWS formulations.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from evidence import Grade

from hygro import constants as c
from hygro.core import formulas as f

TABLE = np.array([-20, -10, -5, 0, 5, 10, 15, 20, 23, 25, 30, 40, 50.0])
IAPWS = np.array(  # over ice below 0 degC
    [103.24, 259.87, 401.74, 611.21, 872.58, 1228.20, 1705.79, 2339.32, 2811.07, 3169.93, 4246.97, 7384.94, 12351.95]
)


ISO_13788 = {"grade": Grade.STANDARD, "source": "EN ISO 13788 annex E (from memory)"}
ISO_12572 = {"grade": Grade.STANDARD, "source": "EN ISO 12572, Schirmer (from memory)"}
REFERENCE = {"grade": Grade.INDEPENDENT, "source": "reference equations of state (IAPWS, humid air), worked elsewhere"}
COOLPROP = {"grade": Grade.LIBRARY, "source": "CoolProp, IAPWS-95"}
PSYCHROLIB = {"grade": Grade.LIBRARY, "source": "psychrolib, ASHRAE formulation"}
ASHRAE = {"grade": Grade.INDEPENDENT, "source": "ASHRAE formulation, worked elsewhere"}
KELVIN = {"grade": Grade.EXACT, "source": "Kelvin's equation"}
LEWIS = {"grade": Grade.EXACT, "source": "Lewis relation, EN 15026"}


def test_standards_curve(evidence):
    """Rounded to 0.01 Pa; over supercooled water the upper branch goes on."""
    evidence.check(
        "standards' saturation pressure at 20 degC",
        f.saturation_pressure_iso(20.0),
        2336.95,
        within=0.01,
        unit="Pa",
        **ISO_13788,
    )
    evidence.check(
        "standards' saturation pressure at -10 degC",
        f.saturation_pressure_iso(-10.0),
        259.33,
        within=0.01,
        unit="Pa",
        **ISO_13788,
    )
    evidence.check(
        "standards' saturation pressure at -20 degC",
        f.saturation_pressure_iso(-20.0),
        102.74,
        within=0.01,
        unit="Pa",
        **ISO_13788,
    )
    within = TABLE >= -10
    np.testing.assert_allclose(f.saturation_pressure_iso(TABLE[within]), IAPWS[within], rtol=2.5e-3)
    water_branch = 610.5 * math.exp(17.269 * -10 / 227.3)
    assert water_branch / float(f.saturation_pressure_iso(-10.0)) == pytest.approx(1.1012, abs=5e-4)


def test_default_pair_against_the_reference(evidence):
    """Within 0.04 % from -20 to 50 degC, both branches."""
    ours = np.where(TABLE < 0, f.saturation_pressure_ice(TABLE), f.saturation_pressure_water(TABLE))
    evidence.check(
        "saturation pressure, default pair, -20 to 50 degC",
        ours,
        IAPWS,
        within=4e-4,
        relative=True,
        unit="Pa",
        **REFERENCE,
    )


def test_default_pair_against_coolprop(evidence):
    """Over water 0.04 % up to 60 degC and 0.22 % at 80 degC; over ice 0.1 % to -40 degC."""
    from CoolProp.CoolProp import HAPropsSI, PropsSI

    for t in np.arange(0.5, 60, 3.5):
        evidence.check(
            f"saturation pressure over water at {t:g} degC",
            f.saturation_pressure_water(t),
            PropsSI("P", "T", t + 273.15, "Q", 0, "Water"),
            within=4e-4,
            relative=True,
            unit="Pa",
            **COOLPROP,
        )
    for t in (65.0, 80.0):
        evidence.check(
            f"saturation pressure over water at {t:g} degC",
            f.saturation_pressure_water(t),
            PropsSI("P", "T", t + 273.15, "Q", 0, "Water"),
            within=2.3e-3,
            relative=True,
            unit="Pa",
            **COOLPROP,
        )
    for t in (-5.0, -20.0, -40.0):  # saturated air holds the vapour of ice, raised 0.4 % by the air's presence
        w = HAPropsSI("W", "T", t + 273.15, "P", 101325, "R", 1.0)
        enhanced = w / (0.621945 + w) * 101325
        assert 1.0 < enhanced / float(f.saturation_pressure_ice(t)) < 1.006


def test_default_pair_against_psychrolib(evidence):
    """ASHRAE's Hyland and Wexler: 0.1 % over water, 0.1 % over ice."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for t in (-30.0, -10.0, -1.0):
        evidence.check(
            f"saturation pressure over ice at {t:g} degC",
            f.saturation_pressure_ice(t),
            psychrolib.GetSatVapPres(t),
            within=1e-3,
            relative=True,
            unit="Pa",
            **PSYCHROLIB,
        )
    for t in (1.0, 10.0, 25.0, 45.0, 60.0):
        evidence.check(
            f"saturation pressure over water at {t:g} degC",
            f.saturation_pressure_water(t),
            psychrolib.GetSatVapPres(t),
            within=1e-3,
            relative=True,
            unit="Pa",
            **PSYCHROLIB,
        )


def test_both_branches_meet_and_water_lies_above_ice():
    assert f.saturation_pressure_water(0.01) == pytest.approx(float(f.saturation_pressure_ice(0.01)), rel=1e-4)
    t = np.linspace(-60, -0.01, 200)
    assert (f.saturation_pressure_water(t) > f.saturation_pressure_ice(t)).all()
    assert float(f.saturation_pressure_water(-10.0) / f.saturation_pressure_ice(-10.0)) == pytest.approx(
        1.1012, abs=3e-3
    )


@pytest.mark.parametrize(
    ("t", "rh", "x", "dew"),
    [(20, 0.5, 0.007262, 9.272), (21, 0.4, 0.006168, 6.899), (30, 0.6, 0.016041, 21.388)],
)
def test_state_rows(evidence, t, rh, x, dew):
    """Humidity ratio and dew point of the ASHRAE formulation; our curve differs by 0.03 %: 3e-6 and 0.005 K."""
    p = rh * float(f.saturation_pressure_water(t))
    evidence.check(
        f"humidity ratio at {t} degC and {rh}", f.humidity_ratio(p), x, within=5e-6, unit="kg kg-1", **ASHRAE
    )
    evidence.check(f"dew point at {t} degC and {rh}", f.dew_point(p), dew, within=0.01, unit="degC", **ASHRAE)


@pytest.mark.parametrize(("t", "x"), [(0, 0.003016), (-10, 0.001279)])
def test_frosty_rows(evidence, t, x):
    """At 80 % over ice, as the formulation has it below 0 degC."""
    p = 0.8 * float(f.saturation_pressure_ice(t))
    evidence.check(
        f"humidity ratio at {t} degC and 0.8 over ice", f.humidity_ratio(p), x, within=2e-6, unit="kg kg-1", **ASHRAE
    )


@pytest.mark.parametrize(("t", "rh", "dew"), [(20, 0.5, 9.27), (21, 0.4, 6.90), (20, 0.6, 12.00), (20, 0.3, 1.92)])
def test_dew_points(evidence, t, rh, dew):
    evidence.check(
        f"dew point at {t} degC and {rh}, rounded",
        f.dew_point(rh * f.saturation_pressure_water(t)),
        dew,
        within=0.01,
        unit="degC",
        **ASHRAE,
    )


def test_dew_point_against_psychrolib_and_back(evidence):
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for t, rh in ((25.0, 0.7), (10.0, 0.9), (35.0, 0.2)):
        evidence.check(
            f"dew point at {t:g} degC and {rh}",
            f.dew_point(rh * f.saturation_pressure_water(t)),
            psychrolib.GetTDewPointFromRelHum(t, rh),
            within=0.02,
            unit="degC",
            **PSYCHROLIB,
        )
    t = np.linspace(-45, 60, 60)
    np.testing.assert_allclose(f.dew_point(f.saturation_pressure_water(t)), t, rtol=0, atol=1e-6)


def test_humidity_ratio_against_psychrolib(evidence):
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    for p_v, p in ((1000.0, 101325.0), (2500.0, 90000.0), (100.0, 70000.0)):
        evidence.check(
            f"humidity ratio at {p_v:g} of {p:g} Pa",
            f.humidity_ratio(p_v, p),
            psychrolib.GetHumRatioFromVapPres(p_v, p),
            within=1e-6,
            relative=True,
            unit="kg kg-1",
            **PSYCHROLIB,
        )


def test_vapour_concentration_at_20_degrees(evidence):
    """8.637 g/m3 in air of 20 degC and 50 %."""
    v = 0.5 * float(f.saturation_pressure_iso(20.0)) / (c.GAS_CONSTANT_VAPOUR * 293.15)
    evidence.check("vapour in air of 20 degC and 50 %", 1000 * v, 8.637, within=0.005, unit="g m-3", **ISO_13788)


def test_permeability_of_still_air(evidence):
    evidence.check(
        "permeability of still air at 23 degC",
        f.air_permeability_schirmer(23.0),
        1.955e-10,
        within=0.005e-10,
        unit="kg m-1 s-1 Pa-1",
        **ISO_12572,
    )
    evidence.check(
        "permeability of still air at -10 degC",
        f.air_permeability_schirmer(-10.0),
        1.777e-10,
        within=0.005e-10,
        unit="kg m-1 s-1 Pa-1",
        **ISO_12572,
    )
    ratio = float(f.air_permeability_schirmer(10.0, 90000.0) / f.air_permeability_schirmer(10.0))
    assert ratio == pytest.approx(101325 / 90000, rel=1e-12)


def test_latent_heat_falls_with_temperature(evidence):
    """Enthalpy of vapour less that of water: 2453.5 kJ/kg at 20 degC within 2."""
    t = 20.0
    vapour = c.LATENT_HEAT_EVAPORATION + c.SPECIFIC_HEAT_VAPOUR * t
    evidence.check(
        "latent heat at 20 degC",
        (vapour - c.SPECIFIC_HEAT_WATER * t) / 1000,
        2453.5,
        within=2,
        unit="kJ kg-1",
        **REFERENCE,
    )


def test_suction_of_humid_air(evidence):
    """Kelvin at 99 % and 20 degC: 1.3597 MPa."""
    s = -c.WATER_DENSITY * c.GAS_CONSTANT_VAPOUR * 293.15 * math.log(0.99)
    evidence.check("suction at 99 % and 20 degC", s, 1.3597e6, within=1e-3, relative=True, unit="Pa", **KELVIN)


def test_film_coefficients(evidence):
    """Lewis relation at 10 degC with 1.2 kg/m3: 1.902e-8, 5.071e-8, 1.585e-7; wind film 4 + 4 v."""
    evidence.check(
        "vapour film for 3, 8, 25 W/(m2 K)",
        f.vapour_film_coefficient([3, 8, 25]),
        [1.902e-8, 5.071e-8, 1.585e-7],
        within=5e-3,
        relative=True,
        unit="kg m-2 s-1 Pa-1",
        **LEWIS,
    )
    np.testing.assert_allclose(f.film_coefficient_wind([0, 3, 5]), [4, 16, 24])


def test_density_of_dry_air(evidence):
    evidence.check(
        "density of dry air at 20 degC", f.air_density(20.0), 1.204, within=0.001, unit="kg m-3", **REFERENCE
    )
    evidence.check(
        "density of dry air at -10 degC", f.air_density(-10.0), 1.342, within=0.001, unit="kg m-3", **REFERENCE
    )
