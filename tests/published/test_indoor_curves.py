"""Indoor models against the standards' own curves and the equations' worked numbers.

Sources: EN 15026:2007 annex C; ISO 13788:2012 annex A; ASHRAE 160 (simplified and intermediate). All three are quoted
from memory. Steady outdoor air makes every average equal to the value itself.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from evidence import Grade

from hygro.core.formulas import saturation_pressure_water
from hygro.indoor import (
    HumidityClass,
    IntermediateDesign,
    SimplifiedDesign,
    StandardCurves,
    design_moisture_production,
)
from hygro.indoor.curves import class_excess

EN_15026 = {"grade": Grade.STANDARD, "source": "EN 15026:2007 annex C (from memory)"}
ISO_13788 = {"grade": Grade.STANDARD, "source": "ISO 13788:2012 annex A (from memory)"}
ASHRAE_160 = {"grade": Grade.STANDARD, "source": "ASHRAE 160 (from memory)"}
IAPWS = {"grade": Grade.STANDARD, "source": "IAPWS and the standards' pair (see test)"}


def steady(temperature, humidity=0.8, hours=30):
    time = pd.date_range("2021-01-01 01:00", periods=hours, freq="h")
    return xr.Dataset(
        {
            "air_temperature": ("time", np.full(hours, float(temperature))),
            "relative_humidity": ("time", np.full(hours, humidity)),
        },
        coords={"time": time},
    )


@pytest.mark.parametrize(
    ("outdoor", "indoor", "normal", "high"),
    [
        (-20, 20, 30, 40),
        (-10, 20, 30, 40),
        (0, 20, 40, 50),
        (5, 20, 45, 55),
        (10, 20, 50, 60),
        (15, 22.5, 55, 65),
        (20, 25, 60, 70),
        (30, 25, 60, 70),
    ],
)
def test_standard_curves(evidence, outdoor, indoor, normal, high):
    air = StandardCurves().conditions(steady(outdoor))
    evidence.check(
        f"indoor temperature at {outdoor:g} degC outdoors",
        air["indoor_temperature"].to_numpy(),
        indoor,
        within=1e-3,
        unit="degC",
        **EN_15026,
    )
    evidence.check(
        f"indoor humidity at {outdoor:g} degC outdoors, normal",
        100 * air["indoor_relative_humidity"].to_numpy(),
        normal,
        within=1e-3,
        unit="%",
        **EN_15026,
    )
    air = StandardCurves(high_occupancy=True).conditions(steady(outdoor))
    evidence.check(
        f"indoor humidity at {outdoor:g} degC outdoors, high",
        100 * air["indoor_relative_humidity"].to_numpy(),
        high,
        within=1e-3,
        unit="%",
        **EN_15026,
    )


@pytest.mark.parametrize(("outdoor", "excess"), [(-5, 540), (5, 405), (10, 270), (20, 0)])
def test_humidity_class_two(evidence, outdoor, excess):
    evidence.check(
        f"humidity class 2: vapour excess at {outdoor:g} degC outdoors",
        class_excess(2, outdoor),
        excess,
        within=1e-9,
        unit="Pa",
        **ISO_13788,
    )
    air = HumidityClass(2).conditions(steady(outdoor))
    pressure = air["indoor_relative_humidity"].to_numpy() * saturation_pressure_water(20.0)
    assert pressure - 0.8 * saturation_pressure_water(outdoor) == pytest.approx(excess, abs=1e-6)


def test_class_limits_are_round_concentrations(evidence):
    # 2, 4, 6 and 8 g/m3 at 20 degC with R_v = 461.5 J/(kg K) are 270.6 Pa times 1 to 4.
    for number in (1, 2, 3, 4):
        evidence.check(
            f"humidity class {number}: 2 g/m3 and its multiples",
            class_excess(number, -5.0),
            number * 0.002 * 461.5 * 293.15,
            within=0.003,
            relative=True,
            unit="Pa",
            **ISO_13788,
        )


@pytest.mark.parametrize(("outdoor", "percent"), [(-20, 40), (-10, 40), (0, 50), (10, 60), (25, 70)])
def test_simplified_design(evidence, outdoor, percent):
    air = SimplifiedDesign().conditions(steady(outdoor))
    evidence.check(
        f"simplified design humidity at {outdoor:g} degC outdoors",
        100 * air["indoor_relative_humidity"].to_numpy(),
        percent,
        within=1e-9,
        unit="%",
        **ASHRAE_160,
    )


@pytest.mark.parametrize(("outdoor", "heated", "cooled"), [(0, 21.1, 21.1), (18.3, 21.1, 21.1), (25, 27.8, 23.9)])
def test_design_temperature(evidence, outdoor, heated, cooled):
    for cooling, expected in ((False, heated), (True, cooled)):
        air = SimplifiedDesign(cooling=cooling).conditions(steady(outdoor))
        evidence.check(
            f"design temperature at {outdoor:g} degC outdoors",
            air["indoor_temperature"].to_numpy(),
            expected,
            within=1e-9,
            unit="degC",
            **ASHRAE_160,
        )


def test_intermediate_design(evidence):
    # 8 kg/day in 75 m3 at 0.5 per hour: 1.36e5 * 8 / 900 = 1208.9 Pa above outdoors.
    model = IntermediateDesign(moisture_production=8.0, volume=75.0, air_change_rate=0.5)
    evidence.check(
        "intermediate design: vapour excess of 8 kg a day", model.excess, 1208.9, within=0.05, unit="Pa", **ASHRAE_160
    )
    air = model.conditions(steady(-10.0))
    pressure = air["indoor_relative_humidity"].to_numpy() * saturation_pressure_water(21.1)
    assert pressure == pytest.approx(0.8 * saturation_pressure_water(-10.0) + model.excess, rel=1e-12)


@pytest.mark.parametrize(("bedrooms", "production"), [(1, 8), (2, 12), (3, 14), (4, 15), (6, 17)])
def test_design_moisture_production(bedrooms, production):
    assert design_moisture_production(bedrooms) == production


@pytest.mark.parametrize(
    ("temperature", "pressure", "tolerance"),
    [(0, 611.21, 0.0005), (10, 1228.0, 0.0005), (20, 2338.8, 0.0005), (30, 4246.0, 0.0005), (-10, 286.3, 0.005)],
)
def test_saturation_pressure_over_water(evidence, temperature, pressure, tolerance):
    # Above 0 degC the reference equation of state (IAPWS); at -10 degC the water branch of ISO 13788 is 285.58 Pa and
    # the standards' pair is known to lie up to 1 % off for supercooled water.
    evidence.check(
        f"saturation pressure over water at {temperature:g} degC, indoor models",
        saturation_pressure_water(temperature),
        pressure,
        within=tolerance,
        relative=True,
        unit="Pa",
        **IAPWS,
    )
