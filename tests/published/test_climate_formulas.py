"""Formulas of the climate package against published values and independent formulas; the source is beside each."""

from __future__ import annotations

import numpy as np
import pandas as pd
import psychrolib
import pytest
from evidence import Grade
from pvlib import solarposition

from hygro.climate import sky
from hygro.climate.humidity import (
    dew_point,
    ice_activity,
    relative_humidity_from_dew_point,
)
from hygro.climate.noise import autoregressive
from hygro.climate.sun import hourly_sun, split_global
from hygro.constants import STEFAN_BOLTZMANN
from hygro.core.formulas import saturation_pressure_ice, saturation_pressure_water

IAPWS = {"grade": Grade.STANDARD, "source": "IAPWS R14-08(2011), coefficients from memory"}
HYLAND = {"grade": Grade.LIBRARY, "source": "psychrolib, Hyland and Wexler 1983"}
MURPHY = {"grade": Grade.PUBLISHED, "source": "Murphy and Koop 2005, table C1 (from memory)"}
HANDBOOK = {"grade": Grade.STANDARD, "source": "ASHRAE Handbook Fundamentals, EN ISO 13788 (from memory)"}
WALTON = {"grade": Grade.PUBLISHED, "source": "Walton 1983, polynomial by hand (from memory)"}
CLARK = {"grade": Grade.PUBLISHED, "source": "Clark and Allen 1978, by hand (from memory)"}
ATMOSPHERE = {"grade": Grade.STANDARD, "source": "ISO 2533 (from memory)"}
DUFFIE = {"grade": Grade.EXACT, "source": "Duffie and Beckman, section 1.10; declination by Spencer 1971"}
ERBS = {"grade": Grade.PUBLISHED, "source": "Erbs, Klein and Duffie 1982, eq. 1 (from memory)"}


def iapws_ice(temperature: float) -> float:
    """IAPWS R14-08(2011), sublimation pressure of ice Ih (coefficients from memory)."""
    theta = (temperature + 273.15) / 273.16
    a = (-21.2144006, 27.3203819, -6.10598130)
    b = (0.00333333333, 1.20666667, 1.70333333)
    return 611.657 * np.exp(sum(x * theta**y for x, y in zip(a, b, strict=True)) / theta)


@pytest.mark.parametrize("temperature", [-45.0, -40.0, -30.0, -20.0, -10.0, -5.0, 0.0])
def test_pressure_over_ice_against_iapws(evidence, temperature: float) -> None:
    found = float(saturation_pressure_ice(np.array(temperature)))
    # Murphy and Koop state 0.025 % for their fit; 0.05 % of pressure is 0.005 K of frost point, beyond any sensor.
    evidence.check(
        f"saturation pressure over ice at {temperature:g} degC",
        found,
        iapws_ice(temperature),
        within=5e-4,
        relative=True,
        unit="Pa",
        **IAPWS,
    )


@pytest.mark.parametrize("temperature", [0.0, 5.0, 10.0, 20.0, 30.0, 40.0])
def test_pressure_over_water_against_hyland_and_wexler(evidence, temperature: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    found = float(saturation_pressure_water(np.array(temperature)))
    # Murphy and Koop state 0.05 % against the reference data above 0 degC.
    evidence.check(
        f"saturation pressure over water at {temperature:g} degC",
        found,
        psychrolib.GetSatVapPres(max(temperature, 0.011)),
        within=1.2e-3,
        relative=True,
        unit="Pa",
        **HYLAND,
    )


def test_pressure_pair_at_240_k(evidence) -> None:
    """Murphy and Koop (2005), table C1 (from memory): 27.272 Pa over ice and 37.667 Pa over water at 240 K."""
    at = np.array(240.0 - 273.15)
    evidence.check(
        "saturation pressure over ice at 240 K",
        float(saturation_pressure_ice(at)),
        27.272,
        within=0.001,
        unit="Pa",
        **MURPHY,
    )
    evidence.check(
        "saturation pressure over water at 240 K",
        float(saturation_pressure_water(at)),
        37.667,
        within=0.001,
        unit="Pa",
        **MURPHY,
    )


def test_ice_activity_meets_one_at_freezing_and_falls_with_the_cold() -> None:
    temperature = np.linspace(-50.0, 10.0, 601)
    activity = ice_activity(temperature)
    assert bool((activity[temperature >= 0.0] == 1.0).all())
    assert float(ice_activity(np.array(-1e-6))) == pytest.approx(1.0, abs=1e-4)
    below = activity[temperature < -0.1]
    assert bool((np.diff(below) > 0.0).all())
    # Over supercooled water the common approximation is one hundredth per kelvin.
    assert float(ice_activity(np.array(-10.0))) == pytest.approx(1.0 / 1.1012, abs=0.003)


@pytest.mark.parametrize(
    ("temperature", "humidity", "expected"), [(20.0, 0.5, 9.27), (21.0, 0.4, 6.90), (20.0, 0.6, 12.0)]
)
def test_dew_point_against_the_handbook(evidence, temperature: float, humidity: float, expected: float) -> None:
    """ASHRAE Handbook Fundamentals, psychrometrics: 9.272, 6.899 degC; EN ISO 13788: 12.00 degC."""
    evidence.check(
        f"dew point of {temperature:g} degC and {humidity:g}",
        float(dew_point(np.array(temperature), np.array(humidity))),
        expected,
        within=0.02,
        unit="degC",
        **HANDBOOK,
    )
    back = relative_humidity_from_dew_point(np.array(temperature), np.array(expected))
    assert float(back) == pytest.approx(humidity, abs=0.001)


def test_cloud_factor_of_walton(evidence) -> None:
    """Values of the polynomial with the minus sign on its square, which public code is known to get wrong."""
    found = sky.cloud_factor(np.array([0.0, 0.2, 0.5, 0.8, 1.0]))
    evidence.check("cloud factor of the sky", found, [1.0, 1.03304, 1.0595, 1.09856, 1.154], within=1e-9, **WALTON)


@pytest.mark.parametrize(
    ("dew", "expected"), [(10.0, 0.8149), (5.0, 0.8013), (-5.0, 0.7733), (-14.0, 0.7472), (-24.0, 0.7172)]
)
def test_clear_sky_emissivity_of_clark_and_allen(evidence, dew: float, expected: float) -> None:
    evidence.check(
        f"clear sky emissivity at dew point {dew:g} degC",
        float(sky.clear_sky_emissivity(np.array(dew))),
        expected,
        within=1e-4,
        **CLARK,
    )


def test_overcast_sky_radiates_nearly_as_the_air() -> None:
    temperature = np.array([-10.0, 0.0, 10.0])
    overcast = sky.longwave_down(temperature, np.full(3, 0.9), np.ones(3))
    black = STEFAN_BOLTZMANN * (temperature + 273.15) ** 4
    clear = sky.longwave_down(temperature, np.full(3, 0.9), np.zeros(3))
    assert bool((overcast < black).all())
    assert bool((overcast > 0.85 * black).all())
    assert bool((clear < 0.82 * black).all())


def test_cloud_is_found_back_from_longwave_and_from_clearness() -> None:
    cloud = np.linspace(0.0, 1.0, 11)
    temperature, humidity = np.full(11, -5.0), np.full(11, 0.8)
    longwave = sky.longwave_down(temperature, humidity, cloud)
    np.testing.assert_allclose(sky.cloud_from_longwave(temperature, humidity, longwave), cloud, atol=1e-4)
    np.testing.assert_allclose(sky.cloud_from_clearness(sky.cloud_transmission(cloud)), cloud, atol=1e-9)


def test_standard_pressure_at_a_thousand_metres(evidence) -> None:
    """ISO 2533: 89 874.6 Pa at 1000 m (from memory)."""
    evidence.check(
        "standard pressure at 1000 m", sky.standard_pressure(1000.0), 89874.6, within=5.0, unit="Pa", **ATMOSPHERE
    )


def test_autoregressive_year_keeps_its_deviation_and_memory() -> None:
    """95 % band of 200 simulated years with deviation 4.4 and correlation 0.987, stated beforehand for this series."""
    deviations, memories = [], []
    for seed in range(40):
        series = autoregressive(np.random.Generator(np.random.PCG64(seed)), 8760, 0.987, 4.4)
        deviations.append(series.std())
        memories.append(np.corrcoef(series[1:], series[:-1])[0, 1])
    inside = sum(3.8 <= s <= 5.0 and 0.983 <= m <= 0.990 for s, m in zip(deviations, memories, strict=True))
    # Of forty years thirty-eight lie inside a 95 % band; thirty-five is the lower 2.5 % of that count.
    assert inside >= 35
    assert np.mean(deviations) == pytest.approx(4.4, rel=0.03)


def test_sun_of_the_hour_against_the_integral_over_the_day(evidence) -> None:
    """Analytic: integral of the cosine from sunrise to sunset (Duffie and Beckman, Solar Engineering, section 1.10).

    The declination is Spencer's (1971), not the algorithm the package uses. He gives it to 0.05 degrees, which is
    0.1 % of a year's sum here; on one day it also moves by up to 0.4 degrees, which is 1 % of the largest day.
    """
    time = pd.date_range("2023-01-01 01:00", periods=8760, freq="h")
    day = np.arange(1, 366)
    declination = solarposition.declination_spencer71(day)
    for latitude in (0.0, 20.0, 45.0, 60.0):
        sun = hourly_sun(time, latitude, 15.0, 1.0)
        normal = sun.extraterrestrial.reshape(365, 24).mean(axis=1)
        found = (sun.extraterrestrial * sun.cos_zenith).reshape(365, 24).sum(axis=1)
        phi = np.radians(latitude)
        sunset = np.arccos(np.clip(-np.tan(phi) * np.tan(declination), -1.0, 1.0))
        noon, flat = np.cos(phi) * np.cos(declination), np.sin(phi) * np.sin(declination)
        expected = normal * 24.0 / np.pi * (noon * np.sin(sunset) + flat * sunset)
        evidence.check(
            f"yearly sum of extraterrestrial sun at {latitude:g} degrees north",
            found.sum(),
            expected.sum(),
            within=0.001,
            relative=True,
            unit="Wh m-2",
            **DUFFIE,
        )
        assert float(np.abs(found - expected).max()) < 0.01 * expected.max()


def test_split_of_overcast_and_clear_hours(evidence) -> None:
    """Erbs, Klein and Duffie (1982), eq. 1: diffuse share 1 - 0.09 kt below 0.22, and 0.165 above 0.80."""
    time = pd.DatetimeIndex(["2023-06-21 12:00", "2023-06-21 12:00"])
    sun = hourly_sun(time, 60.0, 15.0, 1.0)
    horizontal = sun.extraterrestrial * sun.cos_zenith
    clearness = np.array([0.2, 0.82])
    direct, diffuse = split_global(clearness * horizontal, sun)
    evidence.check(
        "diffuse share of overcast and of clear sun",
        diffuse / (clearness * horizontal),
        [1.0 - 0.09 * 0.2, 0.165],
        within=1e-6,
        relative=True,
        **ERBS,
    )
    np.testing.assert_allclose(diffuse + direct * sun.cos_zenith, clearness * horizontal, rtol=1e-9)
