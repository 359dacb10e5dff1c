"""The peer's own pieces: closed forms against the package's, the gap's air against its differential equation."""

import math

import numpy as np
import peer_air
import peer_cell
import peer_gap
import pytest
from scipy.integrate import solve_ivp

from hygro import materials
from hygro.core import formulas

CELSIUS = np.array([-45.0, -20.0, -5.0, 0.0, 10.0, 35.0, 80.0])


def test_moist_air_written_twice():
    kelvin = CELSIUS + 273.15
    water = [math.exp(peer_air.log_over_water(t, math.log(t))) for t in kelvin]
    ice = [math.exp(peer_air.log_over_ice(t, math.log(t))) for t in kelvin]
    np.testing.assert_allclose(water, formulas.saturation_pressure_water(CELSIUS), rtol=1e-12)
    np.testing.assert_allclose(ice, formulas.saturation_pressure_ice(CELSIUS), rtol=1e-12)
    still = [peer_air.still_air(t, math.log(t)) for t in kelvin]
    np.testing.assert_allclose(still, formulas.air_permeability_schirmer(CELSIUS), rtol=1e-12)


def test_air_along_a_slice_obeys_its_equation():
    a_1, a_2, k_1, k_2, h, r, capacity, a_in = -3.0, 9.0, 40.0, 15.0, 4.0, 4.5, 6.0, -8.0

    def rate(_s, a):
        return [peer_gap.given(a[0], a_1, a_2, k_1, k_2, h, r) / capacity, a[0]]

    grown = solve_ivp(rate, (0.0, 1.0), [a_in, 0.0], rtol=1e-11, atol=1e-12).y[:, -1]
    out_of_1, into_2, mean, outlet = peer_gap.along(a_in, a_1, a_2, k_1, k_2, h, r, capacity)
    assert outlet == pytest.approx(grown[0], abs=1e-8)
    assert mean == pytest.approx(grown[1], abs=1e-8)
    assert out_of_1 - into_2 == pytest.approx(capacity * (outlet - a_in), abs=1e-8)


@pytest.mark.parametrize("name", ["plywood 500", "mineral wool batt", "brick", "lime plaster"])
@pytest.mark.parametrize("celsius", [-25.0, -3.0, -0.15, -0.02, 0.0, 12.0])
@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_temperature_comes_back_from_enthalpy(name, celsius, share):
    material = materials.get(name)
    onset = peer_air.SIGMA_FREE if material.transports_liquid else peer_air.SIGMA_DAMP
    c = np.zeros(peer_cell.N_CONSTANTS)
    c[peer_cell.DRY_HEAT] = material.density * material.specific_heat
    c[peer_cell.L_ONSET], c[peer_cell.BY_SUCTION] = math.log(onset), material.is_suction_based
    table = peer_cell.sample(material)
    water = share * material.saturation
    heat = peer_cell.enthalpy(c, table, celsius, water)
    assert peer_cell.temperature(c, table, heat, water) == pytest.approx(celsius, abs=1e-9)
    free, bound, liquid = peer_cell.split(c, table, celsius, water)
    assert free + bound == pytest.approx(water, rel=1e-12)
    assert 0.0 <= liquid <= bound
    if celsius <= -3.0 and share == 0.9:
        assert peer_cell.frozen(c, table, celsius, water) > 0.5 * water
