"""Mould index against the published model.

Source: Hukka and Viitanen 1999, Wood Science and Technology 33:475-485; Viitanen and Ojanen 2007; Ojanen et al. 2010
(classes). The numbers are an independent hourly evaluation of the published equations, so they test the arithmetic and
the bookkeeping of wet and dry hours, not the laboratory data. Tolerance on weeks: one 20th of a week, as the numbers
are given with two decimals and the step is an hour.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from evidence import Grade

from hygro.criteria.mould import (
    MEDIUM_RESISTANT,
    PINE_SAPWOOD,
    RESISTANT,
    SENSITIVE,
    VERY_SENSITIVE,
    critical_relative_humidity,
    mould_index_series,
)

WEEK = 168


MOULD = {
    "grade": Grade.INDEPENDENT,
    "source": "Hukka and Viitanen 1999, Ojanen et al. 2010 (equations from memory), another hourly evaluation",
}


def steady(temperature, percent, weeks, sensitivity, start=0.0):
    n = int(weeks * WEEK)
    return mould_index_series(np.full(n, float(temperature)), np.full(n, percent / 100.0), sensitivity, start=start)


@pytest.mark.parametrize(("temperature", "percent"), [(5.0, 88.016), (10.0, 82.03), (20.0, 80.04), (30.0, 80.0)])
def test_critical_relative_humidity(evidence, temperature, percent):
    evidence.check(
        f"mould: critical humidity at {temperature:g} degC",
        100.0 * critical_relative_humidity(temperature),
        percent,
        within=0.01,
        unit="%",
        **MOULD,
    )


@pytest.mark.parametrize(
    ("temperature", "percent", "to_one", "to_three"),
    [
        (5, 90, 11.14, None),
        (5, 97, 3.81, 8.33),
        (10, 85, 15.39, None),
        (10, 95, 3.18, 6.51),
        (20, 85, 9.39, None),
        (20, 90, 4.21, 7.82),
        (20, 95, 1.98, 3.89),
        (20, 97, 1.49, 2.99),
        (20, 100, 0.98, 2.03),
        (30, 97, 1.13, 2.21),
    ],
)
def test_weeks_of_pine_sapwood(evidence, temperature, percent, to_one, to_three):
    index = steady(temperature, percent, 104, PINE_SAPWOOD)
    evidence.check(
        f"mould on pine: weeks to index 1 at {temperature} degC, {percent} %",
        (np.argmax(index >= 1.0) + 1) / WEEK,
        to_one,
        within=0.05,
        unit="week",
        **MOULD,
    )
    if to_three is None:
        assert index.max() < 3.0
    else:
        evidence.check(
            f"mould on pine: weeks to index 3 at {temperature} degC, {percent} %",
            (np.argmax(index >= 3.0) + 1) / WEEK,
            to_three,
            within=0.05,
            unit="week",
            **MOULD,
        )


@pytest.mark.parametrize(
    ("temperature", "percent", "highest"),
    [(5, 90, 2.104), (5, 97, 5.124), (10, 95, 5.010), (20, 85, 2.616), (20, 90, 3.995), (20, 97, 5.504), (20, 100, 6)],
)
def test_highest_index(evidence, temperature, percent, highest):
    evidence.check(
        f"mould on pine: highest index at {temperature} degC, {percent} %",
        steady(temperature, percent, 520, PINE_SAPWOOD)[-1],
        highest,
        within=0.002,
        **MOULD,
    )


WEEKS = (4, 12, 26, 52)
CLASSES = [
    (VERY_SENSITIVE, 20, 90, (0.95, 3.92, 3.995, 3.995)),
    (SENSITIVE, 20, 90, (0.478, 1.285, 2.319, 3.030)),
    (MEDIUM_RESISTANT, 20, 90, (0.058, 0.172, 0.368, 0.711)),
    (RESISTANT, 20, 97, (0.076, 0.227, 0.487, 0.942)),
    (SENSITIVE, 10, 95, (0.633, 1.599, 3.041, 4.101)),
]


def curves():
    """Hourly index, weeks and values of the reference of every class: for the figure."""
    return {
        f"{sensitivity.name}, {temperature} °C, {percent} %": (
            steady(temperature, percent, 52, sensitivity),
            WEEKS,
            expected,
        )
        for sensitivity, temperature, percent, expected in CLASSES
    }


@pytest.mark.parametrize(
    ("sensitivity", "temperature", "percent", "expected"), CLASSES, ids=lambda value: getattr(value, "name", None)
)
def test_classes(evidence, sensitivity, temperature, percent, expected):
    index = steady(temperature, percent, 52, sensitivity)
    evidence.check(
        f"mould: {sensitivity.name}, index at {temperature} degC, {percent} % in 4 to 52 weeks",
        [index[week * WEEK - 1] for week in WEEKS],
        expected,
        within=0.02,
        **MOULD,
    )


def test_decline(evidence):
    index = steady(20, 50, 4, PINE_SAPWOOD, start=3.0)
    evidence.check(
        "mould: decline at 20 degC, 50 %",
        [index[hour - 1] for hour in (6, 24, 48, 672)],
        [2.99202, 2.99202, 2.97601, 2.5598],
        within=1e-4,
        **MOULD,
    )
    slow = steady(20, 50, 4, replace(PINE_SAPWOOD, decline=0.1), start=3.0)
    evidence.check("mould: slow decline at 20 degC, 50 %", slow[-1], 2.9560, within=1e-4, **MOULD)


def test_half_day_wet_half_day_dry(evidence):
    humidity = np.tile(np.repeat([0.97, 0.50], 12), 84)
    index = mould_index_series(np.full(humidity.size, 20.0), humidity, PINE_SAPWOOD)
    evidence.check(
        "mould: half days at 97 % and 50 %",
        [index[week * WEEK - 1] for week in (4, 8, 12)],
        [1.278, 3.715, 5.385],
        within=0.002,
        **MOULD,
    )
