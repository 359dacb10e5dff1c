"""Decay indicator against hand evaluations of the published equations.

Source: Viitanen, Toratti, Makkonen, Peuhkuri, Ojanen, Ruokolainen and Räisänen 2010, Eur. J. Wood Prod. 68:303-313.
The equations are quoted from memory, so the numbers test the arithmetic and not the recollection.
"""

from __future__ import annotations

import numpy as np
import pytest
from evidence import Grade

from hygro.criteria.decay import critical_time, decay_series, mass_loss_rate

DECAY = {"grade": Grade.INDEPENDENT, "source": "Viitanen et al. 2010 (equations from memory), by hand"}


@pytest.mark.parametrize(
    ("temperature", "humidity", "hours", "rate"),
    [(20, 0.95, 1012, 0.00370), (20, 0.97, 575, 0.00494), (20, 1.0, 220.4, 0.00682), (5, 1.0, 771, 0.00388)],
)
def test_critical_time_and_rate(evidence, temperature, humidity, hours, rate):
    evidence.check(
        f"decay: critical time at {temperature} degC, {humidity:.0%}",
        critical_time(temperature, humidity),
        hours,
        within=1e-3,
        relative=True,
        unit="h",
        **DECAY,
    )
    evidence.check(
        f"decay: rate of mass loss at {temperature} degC, {humidity:.0%}",
        mass_loss_rate(temperature, humidity),
        rate,
        within=1e-5,
        unit="% h-1",
        **DECAY,
    )


@pytest.mark.parametrize(("temperature", "humidity", "percent"), [(20, 1.0, 8.3), (20, 0.97, 4.3), (10, 0.98, 2.3)])
def test_mass_loss_after_60_days(evidence, temperature, humidity, percent):
    shape = (1440, 1)
    _, lost = decay_series(np.full(shape, float(temperature)), np.full(shape, humidity))
    evidence.check(
        f"decay: mass lost in 60 d at {temperature} degC, {humidity:.0%}",
        lost[-1, 0],
        percent,
        within=0.05,
        unit="mass %",
        **DECAY,
    )


def test_a_series_of_wet_and_dry_spells_by_hand(evidence):
    # 100 h at 20 degC/100 % add 100/220.4, 2000 h dry take 2000/17520 away, 200 h of frost 200/17520, then 130 h
    # wet lead to 0.45372 - 0.11416 - 0.01142 + 0.58984 = 0.91798; of 30 h more, the 19th is the first to lose mass.
    wet, dry, frost, again = 100, 2000, 200, 160
    temperature = np.repeat([20.0, 20.0, -5.0, 20.0], [wet, dry, frost, again])[:, None]
    humidity = np.repeat([1.0, 0.7, 1.0, 1.0], [wet, dry, frost, again])[:, None]
    each = (-42.9 + 0.14 * 20 + 45) / (720 * (2.3 * 20 + 3.5 - 0.024 * 2000))
    assert 1 / each == pytest.approx(220.4, abs=0.05)
    activation, lost = decay_series(temperature, humidity)
    evidence.check("decay: activation when wetted", activation[99, 0], 100 * each, within=1e-9, relative=True, **DECAY)
    evidence.check(
        "decay: activation after drying",
        activation[2099, 0],
        100 * each - 2000 / 17520,
        within=1e-9,
        relative=True,
        **DECAY,
    )
    evidence.check(
        "decay: activation after frost",
        activation[2299, 0],
        100 * each - 2200 / 17520,
        within=1e-9,
        relative=True,
        **DECAY,
    )
    evidence.check(
        "decay: activation when wet again",
        activation[2299 + 130, 0],
        230 * each - 2200 / 17520,
        within=1e-9,
        relative=True,
        **DECAY,
    )
    missing = 1.0 - (230 * each - 2200 / 17520)
    hours_to_start = int(np.ceil(missing / each))
    assert hours_to_start == 19
    first = int(np.flatnonzero(lost[:, 0] > 0.0)[0])
    assert first == 2300 + 130 + hours_to_start - 1
    rate = -5.96e-2 + 1.96e-4 * 20 + 6.25e-4 * 100
    evidence.check(
        "decay: mass lost", lost[-1, 0], (lost.size - first) * rate, within=1e-9, relative=True, unit="mass %", **DECAY
    )
