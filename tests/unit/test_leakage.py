"""Leaking air: power law of ISO 9972, buoyancy, wind and fan by hand; refusals."""

from __future__ import annotations

import numpy as np
import pytest

from hygro import AirLeak
from hygro.errors import InputError

REFUSED = [
    ({"q50": -1}, "q50 is -1 m3/(m2 h); it must lie between 0 and 100"),
    ({"q50": 500}, "it must lie between 0 and 100"),
    ({"q50": "leaky"}, "could not be read"),
    ({"q50": float("nan")}, "it must be a finite number"),
    ({"height": 500}, "height is 500; it must lie between -50 and 50 m"),
    ({"exponent": 0.3}, "it must lie between 0.5 and 1 (turbulent 0.5, laminar 1)"),
    ({"fan_pressure": 1e4}, "it must lie between -100 and 100 Pa"),
    ({"pressure_coefficient": 9}, "it must lie between -3 and 3."),
]


@pytest.mark.parametrize(("values", "sentence"), REFUSED)
def test_leak_refuses(values, sentence):
    with pytest.raises(InputError) as caught:
        AirLeak(**({"q50": 1.0, "height": 2.0, "into": None} | values))
    assert sentence in str(caught.value)


def _flow(leak, outdoor=0.0, indoor=20.0, wind=0.0):
    return float(leak.air_flow(np.array([outdoor]), np.array([indoor]), np.array([wind]), np.array([101325.0]))[0])


def test_power_law_at_a_pressure():
    """q50 1.0 m3/(h m2) at 3 Pa and 0.65: 0.1606 m3/(h m2), taken at indoor density as it leaves."""
    flow = _flow(AirLeak(1.0, height=0.0, into=None, fan_pressure=3.0))
    density = 101325 / (287.04 * 293.15)
    assert flow / density * 3600 == pytest.approx(0.1606, rel=1e-3)


@pytest.mark.parametrize(("outdoor", "gradient"), [(-30, 2.429), (-20, 1.866), (-10, 1.347), (0, 0.865)])
def test_stack_pressure_per_metre(outdoor, gradient):
    """From the flow back to the pressure, within 0.002 Pa/m; with a laminar exponent it is linear."""
    leak = AirLeak(1.0, height=1.0, into=None, exponent=1.0)
    density = 101325 / (287.04 * 293.15)
    assert _flow(leak, outdoor) / density * 3600 * 50 == pytest.approx(gradient, abs=0.002)


def test_signs():
    warm_house = AirLeak(1.0, height=2.0, into=None)
    assert _flow(warm_house) > 0
    assert _flow(AirLeak(1.0, height=-2.0, into=None)) < 0
    assert _flow(warm_house, outdoor=30.0) < 0
    assert _flow(warm_house, outdoor=20.0) == 0.0
    assert _flow(AirLeak(1.0, height=0.0, into=None, pressure_coefficient=-0.5), wind=4.0) > 0
    assert _flow(AirLeak(1.0, height=0.0, into=None, pressure_coefficient=0.5), wind=4.0) < 0
    assert _flow(AirLeak(0.0, height=2.0, into=None)) == 0.0


def test_incoming_air_has_outdoor_density():
    out = _flow(AirLeak(1.0, height=0.0, into=None, fan_pressure=4.0), outdoor=-20.0)
    back = _flow(AirLeak(1.0, height=0.0, into=None, fan_pressure=-4.0), outdoor=-20.0)
    assert back / out == pytest.approx(-293.15 / 253.15, rel=1e-9)


def test_words():
    assert "seeping through all layers" in AirLeak(1.0, height=2.0, into=None).describe()
    assert (
        "by a short path to the inside of 'deck'" in AirLeak("1.0 m3/(m2 hour)", height="2 m", into="deck").describe()
    )
