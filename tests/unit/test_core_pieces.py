"""Pieces of the kernel: linear solver against numpy, tables against their formulas, coordinate there and back."""

from __future__ import annotations

import math
from dataclasses import fields

import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hygro import materials
from hygro.core import formulas, potential, tables, tridiagonal
from hygro.core.bundles import DX, ENTHALPY_T, LOW, MID, N_CELL_COLUMNS, N_FACTORED, N_KNOWN, UPP
from hygro.grid import tabulate
from hygro.materials import LiquidDiffusivity, Material


@numba.njit
def factor_and_substitute(c, data, known, rows, right):
    tridiagonal.factor(len(known), c, data, known, rows, right)
    tridiagonal.substitute(len(known), rows, right, None)


@numba.njit
def solve(rows, right):
    tridiagonal.solve(len(right), rows, right, None)


@numba.njit
def solve_two(rows, right, other):
    tridiagonal.solve(len(right), rows, right, other)


@numba.njit
def temperature_node(table, temperature):
    return tables.temperature_node(table, temperature)


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5, 40])
def test_block_tridiagonal_equals_dense(n):
    rng = np.random.default_rng(n)
    known, data, c = rng.normal(size=(n, N_KNOWN)), np.zeros((n, N_CELL_COLUMNS)), 0.7
    data[:, DX] = rng.uniform(0.5, 2.0, n)
    known[:, ENTHALPY_T] += 12.0
    known[:, ENTHALPY_T + 3] += 12.0
    known[0, LOW : LOW + 4] = 0.0
    known[-1, UPP : UPP + 4] = 0.0
    dense = np.zeros((2 * n, 2 * n))
    for i in range(n):
        for offset, first in ((-1, LOW), (0, MID), (1, UPP)):
            if 0 <= i + offset < n:
                rows, columns = slice(2 * i, 2 * i + 2), slice(2 * (i + offset), 2 * (i + offset) + 2)
                dense[rows, columns] = -c * known[i, first : first + 4].reshape(2, 2)
        dense[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += data[i, DX] * known[i, ENTHALPY_T : ENTHALPY_T + 4].reshape(2, 2)
    factored = np.zeros((n // 2 + 1, N_FACTORED))
    for first in (True, False, False):  # one factorisation serves many right sides
        right = rng.normal(size=(n, 2))
        expected = np.linalg.solve(dense, right.ravel()).reshape(n, 2)
        solved = right.copy()
        if first:
            factor_and_substitute(c, data, known, factored, solved)
        else:
            solve(factored, solved)
        np.testing.assert_allclose(solved, expected, rtol=1e-12, atol=1e-13)
        both = right.copy(), 3.0 * right
        solve_two(factored, *both)
        np.testing.assert_allclose(both, (expected, 3.0 * expected), rtol=1e-12, atol=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.floats(potential.X_LOWEST, potential.X_FREE))
def test_coordinate_there_and_back(x):
    assert potential.coordinate(potential.activity(x)) == pytest.approx(x, rel=1e-9, abs=2e-9)


@settings(max_examples=200, deadline=None)
@given(st.floats(1e-4, 0.999999))
def test_activity_there_and_back(u):
    assert potential.activity(potential.coordinate(u)) == pytest.approx(u, rel=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.floats(0.01, potential.X_FREE))
def test_sigma_is_the_logarithm_of_the_activity(x):
    assert potential.sigma(x) == pytest.approx(-math.log(potential.activity(x)), rel=1e-6, abs=1e-12)


def test_coordinate_is_smooth_at_the_join():
    h = 1e-6
    left = (potential.activity(potential.U_JOIN) - potential.activity(potential.U_JOIN - h)) / h
    right = (potential.activity(potential.U_JOIN + h) - potential.activity(potential.U_JOIN)) / h
    assert left == pytest.approx(right, rel=1e-4)
    assert potential.coordinate(1.0) == potential.X_FREE
    assert potential.coordinate(0.0) == potential.X_LOWEST


def test_end_of_the_coordinate_is_about_100_pascal():
    suction = 1000 * 461.5 * 293.15 * potential.sigma(potential.X_FREE)
    assert 50 < suction < 200


@settings(max_examples=200, deadline=None)
@given(st.floats(0.3, 1.95), st.floats(0.85, 1.15))
def test_shifted_coordinate_carries_the_suction(x, tau):
    """Suction at the other temperature is tau times larger; slopes against central differences."""
    where, slope_x, slope_tau = potential.shifted(x, tau)
    assert potential.sigma(where) == pytest.approx(tau * potential.sigma(x), rel=1e-9)
    h = 1e-7
    near_join = abs(where - potential.U_JOIN) < 1e-5 or abs(x - potential.U_JOIN) < 1e-5
    if not near_join:
        by_x = (potential.shifted(x + h, tau)[0] - potential.shifted(x - h, tau)[0]) / (2 * h)
        by_tau = (potential.shifted(x, tau + h)[0] - potential.shifted(x, tau - h)[0]) / (2 * h)
        assert slope_x == pytest.approx(by_x, rel=1e-5)
        assert slope_tau == pytest.approx(by_tau, rel=1e-5, abs=1e-8)


def test_moist_air_table_follows_its_formulas():
    """Linear between nodes 0.1 K apart: this leaves (0.1 K)^2 p''/8, with p'' about (0.14/K)^2 p at -60 degC."""
    air = formulas.MoistAir()
    table = tables.moist_air_table(air)
    for t in np.random.default_rng(1).uniform(-60, 90, 300):
        row, part = temperature_node(table, t)
        value = table[row] + part * (table[row + 1] - table[row])
        assert value[tables.SATURATION] == pytest.approx(float(air.over_water(t)), rel=2.5e-5)
        assert value[tables.AIR_PERMEABILITY] == pytest.approx(float(air.air_permeability(t)), rel=1e-6)
        if t < -tables.FREEZING_SPAN - 0.1:
            ratio = float(air.over_ice(t) / air.over_water(t))
            assert potential.activity(value[tables.ICE_COORDINATE]) == pytest.approx(ratio, rel=5e-5)
        elif t > 0.1:
            assert value[tables.ICE_COORDINATE] == tables.NEVER_ICE


def test_air_that_never_freezes_has_no_ice_coordinate():
    table = tables.moist_air_table(formulas.MoistAir(over_ice=None))
    assert (table[:, tables.ICE_COORDINATE] == tables.NEVER_ICE).all()


def test_materials_that_differ_in_heat_alone_share_their_table():
    wood = materials.get("softwood")
    stated = {one.name: getattr(wood, one.name) for one in fields(wood)}
    assert tabulate(Material(**stated | {"conductivity": 1.1 * wood.conductivity})) is tabulate(wood)
    assert tabulate(Material(**stated | {"vapour_resistance": 50.0})) is not tabulate(wood)


def test_material_table_follows_its_curves():
    """Every node exactly; a diffusivity's Kirchhoff potential is its integral over the water content."""
    brick = Material(
        "brick", density=1700, specific_heat=850, conductivity=0.7, vapour_resistance=[(0.0, 12.0), (1.0, 6.0)],
        sorption=lambda u: 200 * (1 - np.log(np.clip(u, 1e-9, 1)) / 0.02) ** -0.6, saturation=320, free_saturation=200,
        liquid=LiquidDiffusivity(2e-9),
    )  # fmt: skip
    table = tabulate(brick)
    x = tables.coordinates()
    u = np.array([potential.activity(value) for value in x])
    np.testing.assert_allclose(table[:, tables.ACTIVITY], u, rtol=1e-12)
    # a tilt of 1e-9 per unit keeps flat curves rising; it is not seen
    np.testing.assert_allclose(table[1:, tables.WATER], brick.water_content(u[1:]), rtol=1e-6)
    np.testing.assert_allclose(table[:, tables.PERMEABILITY], 1 / brick.vapour_resistance_factor(u), rtol=1e-12)
    bound = x[1:] <= potential.X_FREE
    theta, w = table[1:, tables.LIQUID][bound], table[1:, tables.WATER][bound]
    np.testing.assert_allclose(theta - theta[0], 2e-9 * (w - w[0]), rtol=1e-4, atol=1e-13)
    assert (np.diff(table[:, tables.WATER]) > 0).all()
    assert (np.diff(table[:, tables.LIQUID]) >= 0).all()
