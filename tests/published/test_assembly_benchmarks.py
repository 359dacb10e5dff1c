"""Whole build-ups against independent solutions: insulated roof, capillary inside insulation, a deck over years.

Cases and reference numbers, and where they come from: ``reference/series.py``.
"""

from __future__ import annotations

import numpy as np
import pytest
from evidence import Grade
from reference import series

SPECIFICATION = "Hagentoft et al. 2004 (specification from memory)"
ROOF = {
    "grade": Grade.INDEPENDENT,
    "source": f"{SPECIFICATION}, benchmark 1 with a smooth climate; finite volumes, three grids",
    "unit": "kg m-2",
}
INSIDE = {"grade": Grade.INDEPENDENT, "source": f"{SPECIFICATION}, benchmark 5; finite volumes, two grids"}
DECK = {"grade": Grade.INDEPENDENT, "source": "case of this project; finite volumes, two grids", "unit": "mass %"}


@pytest.fixture(scope="module")
def roof(bench):
    return series.insulated_roof(bench.simulate)


def test_insulated_roof_collects_at_the_contact(roof, evidence):
    """Insulation 1.417 kg/m2 after a quarter year, at most 1.424 in the year, within 2 %; bearing 14.50 +- 0.02."""
    quarter = series.YEAR // 4 - 1
    bearing, insulation = roof["layer_water"].to_numpy()[:, 0].T
    loads, first, most = series.ROOF.values()
    evidence.check("load-bearing layer after 3 months", bearing[quarter], loads, within=0.02, **ROOF)
    evidence.check("insulation after 3 months", insulation[quarter], first, within=0.02, relative=True, **ROOF)
    evidence.check("insulation, most in the year", insulation.max(), most, within=0.02, relative=True, **ROOF)


def test_insulated_roof_keeps_its_books(roof):
    """All water came through the inner face."""
    stored = roof["layer_water"].to_numpy()[:, 0].sum(axis=1)
    passed = roof["indoor_moisture_flux"].to_numpy()[:, 0] * 3600
    np.testing.assert_allclose(stored[-1] - stored[0], passed[1:].sum(), rtol=1e-3)
    assert np.abs(roof["outdoor_moisture_flux"].to_numpy()).max() == 0.0


def test_inside_insulation_after_60_days(bench, evidence):
    """Temperature within 0.05 K, humidity within 0.005, water within 3 kg/m3, layers within 0.03 kg/m2."""
    run = series.inside_insulation(bench.simulate)
    x = run["cell_position"].to_numpy()
    t, phi, w = (run[name].to_numpy()[-1, 0] for name in ("temperature", "relative_humidity", "water_content"))
    at = series.INSIDE_AT
    evidence.check(
        "temperature after 60 d, 11 depths", np.interp(at, x, t), series.INSIDE_T, within=0.05, unit="degC", **INSIDE
    )
    evidence.check(
        "relative humidity after 60 d, 11 depths", np.interp(at, x, phi), series.INSIDE_PHI, within=0.005, **INSIDE
    )
    evidence.check(
        "water content behind the insulation", np.interp(0.385, x, w), 59.2, within=3.0, unit="kg m-3", **INSIDE
    )
    layers = run["layer_water"].to_numpy()[-1, 0]
    for (name, (expected, within)), found in zip(series.INSIDE_LAYERS.items(), layers, strict=True):
        evidence.check(f"water in the {name}", found, expected, within=within, unit="kg m-2", **INSIDE)


@pytest.mark.parametrize(("top", "s_d"), series.DECKS)
def test_deck_over_three_years(bench, evidence, top, s_d):
    """Each within 0.1 % moisture content; tight tops gain year by year, open ones come round by the second."""
    mc = series.deck_over_years({"tight": 0.0, "open": 1.5e-7}[top], s_d, bench.simulate)
    evidence.check(
        f"deck under {'an open' if top == 'open' else 'a tight'} top, retarder {s_d:g} m, 8 days in 3 years",
        mc[24 * series.DAYS - 1], series.DECKS[top, s_d], within=0.1, **DECK,
    )  # fmt: skip
    gain = mc[24 * 1095 - 1] - mc[24 * 730 - 1]
    if top == "open":
        assert abs(gain) < 0.02
    else:
        low, high = {10.0: (1.4, 1.9), 50.0: (0.35, 0.55)}[s_d]
        assert low < gain < high
