"""Outer surfaces in the weather: night-time balance, sol-air temperature, sun on a tilted plane.

Balance: h (T_a - T_s) + eps (L_sky - sigma T_s^4) + U (20 - T_s) = 0, solved by hand; clear-sky emissivity of Berdahl
and Martin 1984 (main coefficients). Sol-air rise alpha G / h: ASHRAE Handbook Fundamentals. Sun: pvlib, isotropic and
geometric bounds.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from evidence import Grade
from scipy.optimize import brentq

import hygro
from hygro import FixedFilm, Layer
from hygro.core.formulas import MoistAir
from hygro.indoor import ConstantIndoor
from hygro.materials import Finish
from hygro.surfaces import Weathered, at_ends, indoor_film, means_at_ends, outdoor, plane_irradiance

NIGHT_SKY = {"grade": Grade.INDEPENDENT, "source": "balance of the surface, Berdahl and Martin 1984 (from memory)"}
SOL_AIR = {"grade": Grade.EXACT, "source": "balance of the surface, ASHRAE Handbook's sol-air rise"}
GEOMETRY = {"grade": Grade.INDEPENDENT, "source": "cosine of incidence, isotropic sky and ground"}
ISO_6946 = {"grade": Grade.STANDARD, "source": "ISO 6946 (from memory)"}
SIGMA = 5.670374e-8


def _sky(emissivity_of_sky, t_air=0.0):
    return emissivity_of_sky * SIGMA * (t_air + 273.15) ** 4


def _weather(hours, film, sky, sun=0.0, t_air=0.0, start="2023-01-10"):
    dark = np.zeros(hours)
    return hygro.climate_from_arrays(
        np.full(hours, t_air), np.full(hours, 0.8), start=start, latitude=60.0, longitude=15.0, utc_offset=1.0,
        global_horizontal_irradiance=dark + sun, direct_normal_irradiance=dark,
        diffuse_horizontal_irradiance=dark + sun,
        longwave_down=dark + sky, wind_speed=dark + (film - 4) / 4 / 0.7,
    )  # fmt: skip


NIGHT = [
    (h, finish, t_s)
    for h, row in {4: (-10.36, -3.99), 8: (-6.88, -2.27), 12: (-5.17, -1.59), 20: (-3.45, -0.99)}.items()
    for finish, t_s in zip((0.9, 0.25), row, strict=True)
]  # fmt: skip


@pytest.mark.parametrize(("film", "emissivity", "expected"), NIGHT)
def test_roof_at_night(bench, evidence, film, emissivity, expected):
    """Air 0 degC, dew point -3 degC, U 0.15 to 20 degC: within 0.05 K of the balance, 0.001 K of it solved here."""
    sky = _sky(0.711 + 0.56 * -0.03 + 0.73 * 0.0009)
    resistance = 1 / 0.15 - 0.10
    roof = bench.build(
        Layer(bench.heat_only("wool", 30, 1000, 0.2 / resistance), 0.2), tilt=0, finish=Finish("f", 0.5, emissivity)
    )
    run = bench.simulate(roof, _weather(240, film, sky), ConstantIndoor(20.0, 0.4), settings=bench.tight)
    got = float(run["outer_surface_temperature"][-1, 0])
    evidence.check(
        f"roof at night, film {film}, emissivity {emissivity}", got, expected, within=0.05, unit="degC", **NIGHT_SKY
    )

    def balance(t):
        return film * -t + emissivity * (sky - SIGMA * (t + 273.15) ** 4) + 0.15 * (20 - t)

    evidence.check(
        f"roof at night, film {film}, emissivity {emissivity}, solved",
        got,
        brentq(balance, -40, 20),
        within=0.001,
        unit="degC",
        **NIGHT_SKY,
    )


def test_a_wall_sees_half_the_sky(bench, evidence):
    """At 90 degrees half is ground at air temperature of emissivity 0.95."""
    film, sky, emissivity = 8.0, _sky(0.7), 0.9
    wall = bench.build(
        Layer(bench.heat_only("wool", 30, 1000, 0.04), 0.2), tilt=90, finish=Finish("f", 0.5, emissivity)
    )
    run = bench.simulate(wall, _weather(240, film, sky), ConstantIndoor(20.0, 0.4), settings=bench.tight)
    u = 1 / (0.2 / 0.04 + 0.13)

    def balance(t):
        received = 0.5 * sky + 0.5 * 0.95 * _sky(1.0)
        return film * -t + emissivity * (received - SIGMA * (t + 273.15) ** 4) + u * (20 - t)

    evidence.check(
        "wall at night",
        float(run["outer_surface_temperature"][-1, 0]),
        brentq(balance, -40, 20),
        within=0.001,
        unit="degC",
        **NIGHT_SKY,
    )


def test_sol_air_temperature(bench, evidence):
    """Absorptance 0.9, 800 W/m2, film 20, no long-wave: 36 K above the air on an insulated plane."""
    roof = bench.build(Layer(bench.heat_only("foam", 30, 1000, 0.002), 0.2), tilt=0, finish=Finish("dark", 0.9, 0.0))
    weather = _weather(4, 20.0, _sky(0.8, 20.0), sun=800.0, t_air=20.0, start="2023-06-20 10:00")
    run = bench.simulate(roof, weather, ConstantIndoor(20.0, 0.4), initial=hygro.Start(20.0, 0.5), settings=bench.tight)
    out = outdoor(weather, 0.0, 180.0, roof.finish, Weathered(), MoistAir())
    np.testing.assert_allclose(out.absorbed, 720.0, rtol=1e-3)
    np.testing.assert_allclose(out.film, 20.0, rtol=1e-12)
    got = float(run["outer_surface_temperature"][-1, 0])
    cell = float(run["temperature"][-1, 0, 0])
    conductance = 0.002 / (0.5 * float(run["cell_thickness"][0]))
    evidence.check(
        "sun on a dark roof",
        got,
        (20 * 20.0 + 720 + conductance * cell) / (20 + conductance),
        within=0.01,
        unit="degC",
        **SOL_AIR,
    )
    assert 20.0 + 36.0 * 0.9 < got < 20.0 + 36.0


def test_fixed_films_see_neither_sun_nor_sky():
    weather = _weather(4, 20.0, _sky(0.8, 20.0), sun=800.0, t_air=20.0, start="2023-06-20 10:00")
    out = outdoor(weather, 0.0, 180.0, Finish("f", 0.9, 0.9), FixedFilm(25.0, 1e-7), MoistAir())
    assert (out.absorbed == 0.0).all()
    assert (out.emissivity == 0.0).all()
    assert (out.film == 25.0).all()
    assert (out.vapour_film == 1e-7).all()


# -------------------------------------------------------------------------------------------------------- the sun


@pytest.fixture(scope="module")
def valley():
    return hygro.sample_climate("hut_valley")


def test_level_plane_receives_the_global_irradiance(valley):
    """Hours with a low sun aside, where the beam's projection and the record's hour mean differ."""
    level = plane_irradiance(valley, 0.0, 180.0, 0.2)
    total = valley.data["global_horizontal_irradiance"].to_numpy()
    high = total > 100
    assert level[high].sum() == pytest.approx(total[high].sum(), rel=0.02)


def test_plane_seen_from_below_receives_what_the_ground_reflects(valley):
    down = plane_irradiance(valley, 180.0, 180.0, 0.2)
    np.testing.assert_allclose(down, 0.2 * valley.data["global_horizontal_irradiance"].to_numpy(), rtol=1e-6, atol=1e-6)


def test_planes_turn_with_the_sun(valley):
    """South beats north, east has its peak before west, a winter wall to the south beats the level roof."""
    hour = valley.time.hour.to_numpy()
    south, north, east, west = (plane_irradiance(valley, 90.0, a, 0.2) for a in (180.0, 0.0, 90.0, 270.0))
    assert south.sum() > 1.5 * north.sum()
    assert (hour * east).sum() / east.sum() < 11.5 < 12.5 < (hour * west).sum() / west.sum()
    winter = np.isin(valley.time.month, (12, 1))
    level = plane_irradiance(valley, 0.0, 180.0, 0.2)
    assert south[winter].sum() > level[winter].sum()


def test_plane_against_geometry(evidence, valley):
    """A clear hour by hand: beam times the cosine of incidence, plus sky and ground between isotropic bounds."""
    import pvlib

    data = valley.data
    k = int(np.argmax(data["direct_normal_irradiance"].to_numpy()))
    when = pd.DatetimeIndex([valley.time[k]]) - pd.Timedelta(hours=0.5 + valley.utc_offset)
    sun = pvlib.solarposition.get_solarposition(when.tz_localize("UTC"), valley.latitude, valley.longitude)
    zenith, azimuth = np.radians(float(sun["zenith"].iloc[0])), np.radians(float(sun["azimuth"].iloc[0]))
    tilt = math.radians(35.0)
    incidence = math.cos(zenith) * math.cos(tilt) + math.sin(zenith) * math.sin(tilt) * math.cos(azimuth - math.pi)
    beam, diffuse, level = (
        float(data[name][k])
        for name in ("direct_normal_irradiance", "diffuse_horizontal_irradiance", "global_horizontal_irradiance")
    )
    isotropic = diffuse * (1 + math.cos(tilt)) / 2 + 0.2 * level * (1 - math.cos(tilt)) / 2
    got = plane_irradiance(valley, 35.0, 180.0, 0.2)[k]
    assert beam > 500
    assert beam * incidence < got
    evidence.check(
        "sun on a tilted plane in a clear hour",
        got,
        beam * incidence + isotropic,
        within=0.05,
        relative=True,
        unit="W m-2",
        **GEOMETRY,
    )


def test_turning_by_a_full_circle_changes_nothing(valley):
    np.testing.assert_allclose(
        plane_irradiance(valley, 40.0, 0.0, 0.2), plane_irradiance(valley, 40.0, 360.0, 0.2), rtol=1e-9, atol=1e-9
    )


def test_states_are_taken_at_the_ends_of_hours_and_means_keep_their_sum():
    """States start with their first; means meet halfway, and what runs straight between them adds up to the same."""
    np.testing.assert_allclose(at_ends(np.array([2.0, 4.0, 8.0])), [2.0, 2.0, 4.0, 8.0])
    means = np.array([0.0, 0.0, 100.0, 500.0, 300.0, 0.0, 0.0])
    ends = means_at_ends(means)
    np.testing.assert_allclose(ends, [0, 0, 50, 300, 400, 150, 0, 0])
    assert (0.5 * (ends[1:] + ends[:-1])).sum() == pytest.approx(means.sum())


@pytest.mark.parametrize(("flow", "resistance"), [("up", 0.10), ("horizontal", 0.13), ("down", 0.17)])
def test_indoor_films_are_those_of_the_standard(evidence, flow, resistance):
    film, vapour = indoor_film(flow, None)
    evidence.check(
        f"inner film, heat flow {flow}", 1 / film, resistance, within=1e-6, relative=True, unit="m2 K W-1", **ISO_6946
    )
    assert 0 < vapour < 1e-7
    assert indoor_film(flow, FixedFilm(5.0, 1e-8)) == (5.0, 1e-8)
