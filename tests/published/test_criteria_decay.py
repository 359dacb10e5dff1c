"""Decay indicator against hand evaluations of the published equations.

Source: Viitanen, Toratti, Makkonen, Peuhkuri, Ojanen, Ruokolainen and Räisänen 2010, Eur. J. Wood Prod. 68:303-313.
The equations are quoted from memory, so the numbers test the arithmetic and not the recollection.
"""

from __future__ import annotations

import numpy as np
import pytest

from hygro.criteria.decay import critical_time, decay_series, mass_loss_rate


@pytest.mark.parametrize(
    ("temperature", "humidity", "hours", "rate"),
    [(20, 0.95, 1012, 0.00370), (20, 0.97, 575, 0.00494), (20, 1.0, 220.4, 0.00682), (5, 1.0, 771, 0.00388)],
)
def test_critical_time_and_rate(temperature, humidity, hours, rate):
    assert critical_time(temperature, humidity) == pytest.approx(hours, rel=1e-3)
    assert mass_loss_rate(temperature, humidity) == pytest.approx(rate, abs=1e-5)


@pytest.mark.parametrize(("temperature", "humidity", "percent"), [(20, 1.0, 8.3), (20, 0.97, 4.3), (10, 0.98, 2.3)])
def test_mass_loss_after_60_days(temperature, humidity, percent):
    shape = (1440, 1)
    _, lost = decay_series(np.full(shape, float(temperature)), np.full(shape, humidity))
    assert lost[-1, 0] == pytest.approx(percent, abs=0.05)
