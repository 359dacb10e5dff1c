"""Published: wood in the Wood Handbook (USDA Forest Products Laboratory), chapter 4.

The moisture table (152 cells, temperatures 30 to 100 degF) and the equation are two separate recollections from memory;
that they agree is evidence for both. Tolerance of the table: it is printed to 0.1 %, the equation was fitted to it, and
0.1 % is allowed. The heat formulas are compared with values worked by hand from the same formulas; the handbook's own
table prints one decimal.
"""

from __future__ import annotations

import numpy as np
import pytest
from evidence import Grade

from hygro.materials import (
    WoodSorption,
    equilibrium_moisture_content,
    relative_humidity_of_wood,
    wood_conductivity,
    wood_specific_heat,
)

HUMIDITIES = np.arange(5, 100, 5) / 100
TABLE = {
    30: "1.4 2.6 3.7 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.4 11.3 12.4 13.5 14.9 16.5 18.5 21.0 24.3",
    40: "1.4 2.6 3.7 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.4 11.3 12.3 13.5 14.9 16.5 18.5 21.0 24.3",
    50: "1.4 2.6 3.6 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.3 11.2 12.3 13.4 14.8 16.4 18.4 20.9 24.3",
    60: "1.3 2.5 3.6 4.6 5.4 6.2 7.0 7.8 8.6 9.4 10.2 11.1 12.1 13.3 14.6 16.2 18.2 20.7 24.1",
    70: "1.3 2.5 3.5 4.5 5.4 6.2 6.9 7.7 8.5 9.2 10.1 11.0 12.0 13.1 14.4 16.0 17.9 20.5 23.9",
    80: "1.3 2.4 3.5 4.4 5.3 6.1 6.8 7.6 8.3 9.1 9.9 10.8 11.7 12.9 14.2 15.7 17.7 20.2 23.6",
    90: "1.2 2.3 3.4 4.3 5.1 5.9 6.7 7.4 8.1 8.9 9.7 10.5 11.5 12.6 13.9 15.4 17.3 19.8 23.3",
    100: "1.2 2.3 3.3 4.2 5.0 5.8 6.5 7.2 7.9 8.7 9.5 10.3 11.2 12.3 13.6 15.1 17.0 19.5 22.9",
}


HANDBOOK = {"grade": Grade.STANDARD, "source": "Wood Handbook, chapter 4 (from memory)"}
EQUATION = {"grade": Grade.INDEPENDENT, "source": "Wood Handbook's equation (from memory), worked elsewhere"}


@pytest.mark.parametrize("fahrenheit", TABLE)
def test_every_cell_of_the_moisture_table(evidence, fahrenheit):
    printed = np.array([float(cell) for cell in TABLE[fahrenheit].split()])
    computed = 100 * equilibrium_moisture_content(HUMIDITIES, (fahrenheit - 32) / 1.8)
    assert printed.size == 19
    evidence.check(
        f"moisture of wood, 19 humidities at {fahrenheit} degF",
        computed,
        printed,
        within=0.1,
        unit="mass %",
        **HANDBOOK,
    )


def test_the_equation_in_celsius_agrees_with_the_equation_in_fahrenheit(evidence):
    """Independent: the handbook prints the coefficients twice; the rounding of either costs at most 0.07 %."""
    t = np.linspace(30, 100, 15)[:, None]
    h = HUMIDITIES
    w = 330 + 0.452 * t + 0.00415 * t**2
    k = 0.791 + 0.000463 * t - 8.44e-7 * t**2
    k1 = 6.34 + 0.000775 * t - 9.35e-5 * t**2
    k2 = 1.09 + 0.0284 * t - 9.04e-5 * t**2
    mc = (
        1800
        / w
        * (k * h / (1 - k * h) + (k1 * k * h + 2 * k1 * k2 * (k * h) ** 2) / (1 + k1 * k * h + k1 * k2 * (k * h) ** 2))
    )
    evidence.check(
        "moisture of wood, equation in degF",
        100 * equilibrium_moisture_content(h, (t - 32) / 1.8),
        mc,
        within=0.07,
        unit="mass %",
        **HANDBOOK,
    )


def test_moisture_at_20_degrees(evidence):
    computed = 100 * equilibrium_moisture_content([0.3, 0.5, 0.65, 0.8, 0.9, 0.95], 20.0)
    evidence.check(
        "moisture of wood at 20 degC, six humidities",
        computed,
        [6.188, 9.271, 11.996, 16.037, 20.531, 23.941],
        within=0.005,
        unit="mass %",
        **EQUATION,
    )


def test_sorption_curve_is_the_moisture_at_20_degrees_times_density():
    np.testing.assert_allclose(WoodSorption(450.0)(np.array([0.5, 0.8])), [4.5 * 9.271, 4.5 * 16.037], atol=0.03)


@pytest.mark.parametrize(("moisture", "temperature", "humidity"), [(0.20, 5.0, 0.8819), (0.16, 20.0, 0.7989)])
def test_humidity_for_a_moisture_content(evidence, moisture, temperature, humidity):
    evidence.check(
        f"humidity over wood of {moisture:.0%} at {temperature:g} degC",
        relative_humidity_of_wood(moisture, temperature),
        humidity,
        within=0.001,
        **EQUATION,
    )


def test_humidities_for_moisture_contents_that_the_trade_quotes():
    moistures = [0.12, 0.15, 0.16, 0.18, 0.19, 0.20, 0.22, 0.25, 0.26, 0.28]
    warm = [0.650, 0.768, 0.799, 0.850, 0.871, 0.891, 0.924, 0.963, 0.974, 0.993]
    cool = [0.634, 0.754, 0.786, 0.839, 0.862, 0.882, 0.917, 0.958, 0.970, 0.990]
    for moisture, at_20, at_5 in zip(moistures, warm, cool, strict=True):
        assert relative_humidity_of_wood(moisture, 20.0) == pytest.approx(at_20, abs=0.0006)
        assert relative_humidity_of_wood(moisture, 5.0) == pytest.approx(at_5, abs=0.0006)


def test_conductivity(evidence):
    evidence.check(
        "conductivity of wood, two densities at 12 %",
        wood_conductivity([0.42, 0.36], 0.12),
        [0.1206, 0.1061],
        within=5e-5,
        unit="W m-1 K-1",
        **EQUATION,
    )


def test_specific_heat(evidence):
    """The handbook's table prints 1.2, 1.5, 1.7 kJ at 280 K and 1.3, 1.7, 1.9 at 300 K for 0, 12 and 20 %."""
    moisture = np.array([0.0, 0.12, 0.20])
    cold, warm = wood_specific_heat(280 - 273.15, moisture), wood_specific_heat(300 - 273.15, moisture)
    np.testing.assert_allclose(cold / 1000, [1.186, 1.538, 1.715], rtol=0, atol=0.005)
    np.testing.assert_allclose(warm / 1000, [1.263, 1.663, 1.874], rtol=0, atol=0.005)
    evidence.check(
        "specific heat of wood at 280 K, table of one decimal",
        cold / 1000,
        [1.2, 1.5, 1.7],
        within=0.05,
        unit="kJ kg-1 K-1",
        **HANDBOOK,
    )
    evidence.check(
        "specific heat of wood at 300 K, table of one decimal",
        warm / 1000,
        [1.3, 1.7, 1.9],
        within=0.05,
        unit="kJ kg-1 K-1",
        **HANDBOOK,
    )
