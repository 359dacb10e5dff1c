"""Driving rain by hand with the published relations: ASHRAE 160 and EN ISO 15927-3, both from memory."""

from __future__ import annotations

import numpy as np
import pytest

from hygro import AirfieldRain, DrivingRain
from hygro.rain import BELOW_STEEP_ROOF, MEDIUM, SEVERE, SHELTERED_SITE, rain_on_face
from hygro.rainfall import airfield_term, drop_diameter, fall_speed, obstruction_factor, roughness_coefficient


def _on_wall(load, rain=2.0, wind=5.0, direction=180.0, azimuth=180.0, tilt=90.0, temperature=10.0):
    ends = np.ones(2)
    face = rain_on_face(load, np.array([rain]), temperature * ends, wind * ends, direction * ends, tilt, azimuth)
    return float(face[0]) * 3600


def test_design_standard_at_normal_incidence():
    """Factors 1 and 0.35, 5 m/s, 2 mm/h: 0.70 kg/(m2 h), of which 1 % is 0.0070."""
    load = DrivingRain(exposure=1.0, deposition=BELOW_STEEP_ROOF, into="sheathing")
    assert _on_wall(load) == pytest.approx(0.70, rel=1e-12)
    assert load.defect * _on_wall(load) == pytest.approx(0.0070, rel=1e-12)


def test_airfield_term():
    assert float(airfield_term(np.array(2.0), np.array(5.0))) == pytest.approx(2.0575, abs=5e-5)


@pytest.mark.parametrize(
    ("rain", "diameter", "speed", "factor"),
    [(1.0, 1.238, 4.666, 0.2143), (5.0, 1.659, 5.801, 0.1724), (20.0, 2.136, 6.822, 0.1466)],
)
def test_drops(rain, diameter, speed, factor):
    d = drop_diameter(np.array(rain))
    assert float(d) == pytest.approx(diameter, abs=5e-4)
    assert float(fall_speed(d)) == pytest.approx(speed, abs=1e-3)
    driven = _on_wall(DrivingRain(exposure=1.0, deposition=1.0, by_drop_size=True), rain=rain, wind=1.0)
    assert driven / rain == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(("terrain", "share"), [(1, 1.174), (2, 1.007), (3, 0.771), (4, 0.665)])
def test_roughness_at_ten_metres(terrain, share):
    """The last lies below its terrain's least height of 16 m, which then counts."""
    assert roughness_coefficient(10.0, terrain) == pytest.approx(share, abs=1e-3)


@pytest.mark.parametrize(("distance", "share"), [(4, 0.2), (8, 0.2), (8.1, 0.3), (39, 0.5), (110, 0.9), (121, 1.0)])
def test_obstructions(distance, share):
    assert obstruction_factor(distance) == pytest.approx(share)


@pytest.mark.parametrize(
    ("site", "height", "factor"),
    [(SEVERE, "8 m", 1.3), (MEDIUM, "9.9 m", 1.0), (SHELTERED_SITE, 12, 0.8), (MEDIUM, 35, 1.4), (SEVERE, 80, 1.5)],
)
def test_exposure_by_height(site, height, factor):
    assert site.exposure(height) == factor


def test_airfield_rain_multiplies_its_factors():
    load = AirfieldRain(wall_factor=0.4, terrain=2, height="10 m", obstruction="30 m", topography=1.2)
    assert _on_wall(load) == pytest.approx(2.0575 * 1.0067 * 1.2 * 0.5 * 0.4, rel=1e-3)


def test_wind_from_aside_and_from_behind():
    """The cosine of the angle; nothing on the lee, nothing in still air, nothing of snow."""
    load = DrivingRain(exposure=1.0, deposition=0.35)
    assert _on_wall(load, direction=240.0) == pytest.approx(0.35, rel=1e-9)
    assert _on_wall(load, direction=20.0, azimuth=320.0) == pytest.approx(0.35, rel=1e-9)
    assert _on_wall(load, direction=0.0) == 0.0
    assert _on_wall(load, wind=0.0) == 0.0
    assert _on_wall(load, temperature=-1.0) == 0.0


def test_roofs_take_the_rain_that_falls():
    """A flat roof takes the horizontal rain, a slope into the wind more than one away from it; a floor none."""
    load = DrivingRain(exposure=1.0, deposition=1.0)
    assert _on_wall(load, tilt=0.0) == pytest.approx(2.0, rel=1e-12)
    into, lee = _on_wall(load, tilt=30.0), _on_wall(load, tilt=30.0, direction=0.0)
    assert into == pytest.approx(2.0 * np.cos(np.pi / 6) + 2.0 * 0.5, rel=1e-12)
    assert lee == pytest.approx(2.0 * np.cos(np.pi / 6) - 2.0 * 0.5, rel=1e-12)
    assert _on_wall(load, tilt=180.0) == 0.0
