"""Household balance against closed forms of the well-mixed zone and published generation rates.

Sources: steady and transient solutions of the mass balance, evaluated by hand; ASTM D6245 and ASHRAE 62.1 for what
people breathe out (from memory); stoichiometry for fuels; effectiveness by definition for recovery.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from hygro.core.formulas import saturation_pressure_water
from hygro.indoor import Household, MoistureEvent, Preheat, Recirculate, Ventilator
from hygro.indoor.sources import FUELS, Flame, person_carbon_dioxide
from hygro.indoor.zone import vapour_step, zone_carbon_dioxide

ALWAYS = tuple(range(24))


def steady(temperature, pressure, hours=48):
    """Outdoor air of a temperature and a vapour pressure."""
    humidity = pressure / saturation_pressure_water(temperature)
    return xr.Dataset(
        {
            "air_temperature": ("time", np.full(hours, float(temperature))),
            "relative_humidity": ("time", np.full(hours, float(humidity))),
        },
        coords={"time": pd.date_range("2021-01-04 01:00", periods=hours, freq="h")},
    )


@pytest.mark.parametrize(
    ("kg_a_day", "litres_a_second", "temperature", "pressure", "humidity"),
    [
        (8.0, 11.5, -10.0, 207.5, 0.5549),  # 80 % over ice at -10 degC
        (8.0, 25.5, -10.0, 207.5, 0.2990),
        (4.0, 11.5, -20.0, 82.2, 0.2682),  # 80 % over ice at -20 degC
        (12.0, 30.0, 0.0, 518.9, 0.4901),  # 85 % at 0 degC
    ],
)
def test_steady_humidity(kg_a_day, litres_a_second, temperature, pressure, humidity):
    # p_i = p_e + G R_v T / Q with the standards' saturation pressure of 2336.95 Pa at 20 degC. The source is
    # spread over the day and all outdoor air comes by infiltration.
    volume = 75.0
    home = Household(
        volume=volume,
        set_point=20.0,
        infiltration=litres_a_second * 3.6 / volume,
        sources=(MoistureEvent("all", kg_a_day, ALWAYS),),
        ventilator=None,
    )
    air = home.conditions(steady(temperature, pressure))
    found = air["indoor_relative_humidity"].to_numpy() * saturation_pressure_water(20.0)
    assert found == pytest.approx(humidity * 2336.95, abs=0.0002 * 2336.95)


def test_what_a_person_breathes_out():
    assert 1e3 * person_carbon_dioxide(1.2) == pytest.approx(0.00515, abs=5e-6)
    for activity, expected in ((0.8, 0.00343), (1.0, 0.00429), (1.4, 0.00601), (2.0, 0.00858)):
        assert 1e3 * person_carbon_dioxide(activity) == pytest.approx(expected, abs=6e-6)


def test_carbon_dioxide_rises_as_in_the_closed_form():
    # 2 people of 0.00515 l/s (0.0051495 unrounded), 11.5 l/s, 75 m3: 799.9, 1018.6 and 1304.7 ppm after 1, 2 and 8
    # hours, 1315.6 in the end. The zone gives the hour's mean; the value at its end follows from the balance.
    flow, volume = 0.0115, 75.0
    source = np.concatenate([np.zeros(24), np.full(100, 2 * person_carbon_dioxide(1.2))])
    mean = zone_carbon_dioxide(source, np.full(source.size, flow), volume, 420e-6)
    end = 420e-6 + np.cumsum((source + flow * (420e-6 - mean)) * 3600.0 / volume)
    assert 1e6 * end[[24, 25, 31]] == pytest.approx([799.9, 1018.6, 1304.7], abs=0.1)
    assert 1e6 * end[-1] == pytest.approx(1315.6, abs=0.1)


def test_carbon_dioxide_in_a_tight_house():
    flow = np.full(400, 0.2 * 75.0 / 3600.0)
    assert 1e6 * zone_carbon_dioxide(np.full(400, 2 * 5.15e-6), flow, 75.0, 420e-6)[-1] == pytest.approx(2892, abs=0.5)


@pytest.mark.parametrize(
    ("fuel", "carbon", "hydrogen", "oxygen"),
    [("propane", 3, 8, 0), ("butane", 4, 10, 0), ("methane", 1, 4, 0), ("ethanol", 2, 6, 1), ("kerosene", 12, 26, 0)],
)
def test_fuels_by_stoichiometry(fuel, carbon, hydrogen, oxygen):
    mass = carbon * 12.011 + hydrogen * 1.008 + oxygen * 15.999
    assert FUELS[fuel].water == pytest.approx(hydrogen / 2 * 18.015 / mass, abs=0.001)
    assert FUELS[fuel].carbon_dioxide == pytest.approx(carbon * 44.009 / mass, abs=0.001)


def test_a_propane_burner_of_one_kilowatt():
    burner = Flame("propane", 1000.0, ALWAYS)
    assert 3600.0 * burner.vapour() == pytest.approx(0.1269, abs=0.0001)
    assert 1e3 * burner.carbon_dioxide() == pytest.approx(0.0353, abs=0.0001)


def home_with(ventilator):
    return Household(75.0, 20.0, 0.05, (MoistureEvent("all", 4.0, ALWAYS),), ventilator)


def test_supply_temperature_of_a_heat_exchanger():
    air = home_with(Ventilator(0.01, 0.8, 0.0)).conditions(steady(-20.0, 80.0))
    assert air["supply_temperature"].to_numpy() == pytest.approx(12.0, abs=1e-9)


def test_preheating_holds_the_exhaust_at_its_limit():
    # 20 - 0.8 (20 - T) = 0 where T = -5: 10 l/s are warmed by 15 K.
    air = home_with(Ventilator(0.01, 0.8, 0.0, Preheat())).conditions(steady(-20.0, 80.0))
    assert air["supply_temperature"].to_numpy() == pytest.approx(15.0)
    assert air["preheat_power"].to_numpy() == pytest.approx(1.204 * 1006.0 * 0.01 * 15.0)
    warm = home_with(Ventilator(0.01, 0.8, 0.0, Preheat())).conditions(steady(0.0, 400.0))
    assert warm["preheat_power"].to_numpy() == pytest.approx(0.0)


def test_recirculation_takes_its_share_of_the_outdoor_air():
    cold = home_with(Ventilator(0.01, 0.8, 0.0, Recirculate(0.25))).conditions(steady(-20.0, 80.0))
    warm = home_with(Ventilator(0.01, 0.8, 0.0, Recirculate(0.25))).conditions(steady(0.0, 400.0))
    leak = 0.05 * 75.0 / 3600.0
    assert cold["outdoor_air_flow"].to_numpy() == pytest.approx(leak + 0.0075)
    assert warm["outdoor_air_flow"].to_numpy() == pytest.approx(leak + 0.01)


def test_moisture_recovery_keeps_its_share():
    outdoor = steady(-10.0, 200.0)
    plain = home_with(Ventilator(0.010, 0.8, 0.0)).conditions(outdoor)
    half = home_with(Ventilator(0.020, 0.8, 0.5)).conditions(outdoor)
    np.testing.assert_allclose(half["indoor_relative_humidity"], plain["indoor_relative_humidity"], rtol=1e-12)


def test_one_step_against_a_general_integrator():
    from scipy.integrate import solve_ivp

    p_e, q, a, h, c, source = 300.0, 1e-7, 5e-4, 1.2e-6, 3e-3, 2e-4

    def slope(_, state):
        p, p_b = state
        return [(source + q * (p_e - p) + h * (p_b - p)) / a, h * (p - p_b) / c]

    exact = solve_ivp(slope, (0.0, 3600.0), [1000.0, 700.0], rtol=1e-11, atol=1e-9).y[:, -1]
    assert vapour_step(1000.0, 700.0, source, p_e, q, a, h, c, 3600.0) == pytest.approx(exact, rel=1e-9)
