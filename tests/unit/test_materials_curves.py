"""Curves between the rows: monotone, bounded, and with the right slope."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from hygro.materials import (
    AbsorptionCoefficient,
    CupValues,
    LiquidConductivity,
    LiquidDiffusivity,
    Material,
    cup_values,
)
from hygro.materials.curve import Table
from hygro.materials.material import SUCTION_SCALE

steps = st.lists(
    st.tuples(st.floats(0.01, 1.0), st.floats(0.01, 100.0)), min_size=2, max_size=12
)  # distances of the rows in both directions


def _rows(distances):
    x = np.cumsum([0.0] + [dx for dx, _ in distances])
    y = np.cumsum([0.0] + [dy for _, dy in distances])
    return x / x[-1], y * (400.0 / max(y[-1], 400.0))


@given(steps)
@settings(max_examples=60, deadline=None)
def test_the_smooth_table_is_the_monotone_cubic_of_scipy(distances):
    """Peer: an independent implementation of the same interpolant."""
    x, y = _rows(distances)
    at = np.linspace(0, 1, 173)
    np.testing.assert_allclose(
        Table(tuple(x), tuple(y), "smooth")(at), PchipInterpolator(x, y)(at), rtol=1e-9, atol=1e-9
    )


@given(steps)
@settings(max_examples=60, deadline=None)
def test_sorption_rises_wherever_its_rows_rise(distances):
    x, y = _rows(distances)
    curve = Material(
        "x", density=150, specific_heat=1000, conductivity=0.1, vapour_resistance=5, saturation=900,
        sorption=list(zip(x, y, strict=True)),
    )  # fmt: skip
    w = curve.water_content(np.linspace(0, 1, 301))
    assert (np.diff(w) > 0).all()
    assert w[-1] == pytest.approx(y[-1])
    np.testing.assert_allclose(curve.water_content(x[1:]), y[1:], rtol=1e-9)


@given(st.floats(1.0, 1000.0), st.floats(1.0, 20.0))
@settings(max_examples=60, deadline=None)
def test_cup_values_open_with_humidity_and_keep_both_means(wet, ratio):
    curve = cup_values(wet * ratio, wet)
    phi = np.linspace(0, 1, 101)
    assert (np.diff(curve(phi)) <= 0).all()
    assert (curve(phi) >= 1.0).all()
    # exact mean of the exponential before it is held at still air
    for (start, end), mu in (((0.0, 0.5), wet * ratio), ((0.5, 0.93), wet)):
        fine = np.linspace(start, end, 4001)
        delta = np.exp(curve.k * fine) / curve.mu_0
        assert np.mean(0.5 * (delta[1:] + delta[:-1])) == pytest.approx(1 / mu, rel=1e-5)


def test_equal_cups_are_a_constant():
    np.testing.assert_allclose(cup_values(30, 30)(np.array([0.0, 0.5, 1.0])), 30.0, rtol=1e-12)
    assert cup_values(30, 30) == CupValues(pytest.approx(30.0), 0.0)


@given(st.floats(1.0, 1e9))
@settings(max_examples=100, deadline=None)
def test_capacity_is_the_slope_of_the_stored_water(suction):
    """Analytic slope of a van Genuchten curve."""
    porous = Material(
        "x", density=1600, specific_heat=1000, conductivity=0.7, vapour_resistance=8,
        retention=lambda s: 300 * (1 + (2e-5 * s) ** 1.8) ** -0.4,
    )  # fmt: skip
    z = (2e-5 * suction) ** 1.8
    slope = 300 * 0.4 * 1.8 * z / suction * (1 + z) ** -1.4
    # the difference of two stored waters of 300 kg/m3 cannot resolve slopes near their round-off
    assert float(porous.moisture_capacity(suction)) == pytest.approx(
        slope, rel=1e-4, abs=1e-12 * 300 / (2e-3 * suction)
    )


def test_absorption_coefficient_gives_the_published_diffusivity():
    stone = Material(
        "stone", density=1700, specific_heat=1000, conductivity=0.8, vapour_resistance=10, saturation=300,
        free_saturation=200, liquid=AbsorptionCoefficient("0.1 kg/(m^2 s^0.5)"),
        sorption=[(0.5, 5), (0.8, 10), (0.95, 25)],
    )  # fmt: skip
    assert float(stone.liquid.diffusivity(np.array(200.0), 200.0)) == pytest.approx(3.8 * (0.1 / 200) ** 2)
    assert float(stone.liquid.diffusivity(np.array(0.0), 200.0)) == pytest.approx(3.8e-3 * (0.1 / 200) ** 2)
    assert float(stone.liquid.diffusivity(np.array(290.0), 200.0)) == pytest.approx(3.8 * (0.1 / 200) ** 2)
    s = np.logspace(0, 9, 20001)
    k = stone.liquid_conductivity(s)
    assert (k >= 0).all()
    assert np.isfinite(k).all()
    # what flows over a small step of water content is the same in both descriptions
    w, middle = stone.water_content_at_suction(s), np.sqrt(s[1:] * s[:-1])
    d = stone.liquid.diffusivity(stone.water_content_at_suction(middle), 200.0)
    by_suction = stone.liquid_conductivity(middle) * np.diff(s)
    rough = np.diff(s) < 0.1 * SUCTION_SCALE
    np.testing.assert_allclose(by_suction[rough], (-d * np.diff(w))[rough], rtol=0.02)


def test_conductivity_table_is_straight_in_logarithms_and_holds_outside():
    liquid = LiquidConductivity([("1 kPa", 1e-8), ("100 kPa", 1e-12)])
    np.testing.assert_allclose(
        liquid.conductivity(np.array([1.0, 1e3, 1e4, 1e5, 1e9])), [1e-8, 1e-8, 1e-10, 1e-12, 1e-12]
    )


def test_diffusivity_table_interpolates_the_logarithm_and_stops_at_free_saturation():
    liquid = LiquidDiffusivity([(0, 1e-12), (100, 1e-8)])
    np.testing.assert_allclose(liquid.diffusivity(np.array([50.0, 75.0, 90.0]), 75.0), [1e-10, 1e-9, 1e-9])


@pytest.mark.parametrize("shape", [(), (3,), (2, 4)])
def test_every_method_keeps_the_shape(shape):
    stone = Material(
        "stone", density=1700, specific_heat=1000, conductivity=0.8, vapour_resistance=cup_values(20, 10),
        saturation=300, free_saturation=200, liquid=LiquidDiffusivity(lambda w: 1e-9 * np.exp(w / 50)),
        sorption=[(0.5, 5), (0.95, 25)],
    )  # fmt: skip
    at = np.full(shape, 0.6)
    assert stone.water_content(at).shape == shape
    assert stone.vapour_resistance_factor(at).shape == shape
    assert stone.water_content_at_suction(1e6 * at).shape == shape
    assert stone.liquid_conductivity(1e6 * at).shape == shape


def test_water_over_humidity_and_over_suction_are_one_curve():
    stone = Material(
        "stone", density=1700, specific_heat=1000, conductivity=0.8, vapour_resistance=8, saturation=300,
        sorption=[(0.5, 5), (0.8, 9), (1.0, 40)],
    )  # fmt: skip
    phi = np.array([0.3, 0.5, 0.9, 0.99])
    np.testing.assert_allclose(stone.water_content_at_suction(-SUCTION_SCALE * np.log(phi)), stone.water_content(phi))
    # Kelvin's relation at 99 % RH and 20 degC, worked independently
    assert -SUCTION_SCALE * math.log(0.99) == pytest.approx(1.3597e6, rel=1e-3)


def test_activities_outside_the_scale_are_held():
    stone = Material(
        "stone", density=1700, specific_heat=1000, conductivity=0.8, vapour_resistance=8, saturation=300,
        sorption=[(0.5, 5), (0.8, 9), (1.0, 40)],
    )  # fmt: skip
    np.testing.assert_allclose(stone.water_content([-0.1, 1.4]), [0.0, 40.0], atol=1e-3)
