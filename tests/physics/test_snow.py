"""Snow on a roof: depth and heat by hand, melting ice as the warmest it can be, directions, refusals."""

from __future__ import annotations

import numpy as np
import pytest

import hygro
from hygro import DrivingRain, FallingSnow, Layer, LyingSnow, Variant
from hygro.constants import STEFAN_BOLTZMANN
from hygro.errors import InputError
from hygro.indoor import ConstantIndoor
from hygro.snow import snow_conductivity

ROOM = ConstantIndoor(20.0, 0.4)


def _roof(bench, tilt=0, conductivity=0.04):
    return bench.build(Layer(bench.heat_only(conductivity=conductivity), "100 mm"), tilt=tilt, name="roof")


@pytest.mark.parametrize(("density", "conductivity"), [(100, 0.05), (200, 0.12), (300, 0.23), (500, 0.60)])
def test_conductivity_is_the_tables(density, conductivity):
    """ISO 10456:2007 table 3 (from memory)."""
    assert snow_conductivity(density) == pytest.approx(conductivity, rel=1e-12)
    assert 0.12 < snow_conductivity(250) < 0.23


def test_heat_through_snow_in_steady_state(bench):
    """No sun, no sky: 30 K over R_si 0.10, 2.5, the snow's 0.30/0.23 and 1/4 of still air."""
    run = bench.simulate(
        _roof(bench), hygro.constant_climate(-10.0, 0.8, hours=24 * 20), ROOM,
        snow=LyingSnow("30 cm", since="1 November", until="1 April", density=300), settings=bench.tight,
    )  # fmt: skip
    assert float(run["indoor_heat_flux"][-1, 0]) == pytest.approx(30.0 / (0.10 + 2.5 + 0.30 / 0.23 + 0.25), rel=1e-4)
    np.testing.assert_allclose(run["snow_depth"], 0.3)
    assert "30 cm of snow, 300 kg/m3, from 1 November to 1 April" in run.attrs["snow"]


def _night(hours=24 * 20, sun=0.0, temperature=-10.0, sky=200.0):
    place = {"latitude": 60.0, "longitude": 0.0, "elevation": 0.0, "utc_offset": 0.0}
    return hygro.climate_from_arrays(
        np.full(hours, temperature), np.full(hours, 0.8), longwave_down=sky, global_horizontal_irradiance=sun,
        direct_normal_irradiance=0.0, diffuse_horizontal_irradiance=sun, **place,
    )  # fmt: skip


def test_snow_radiates_for_the_roof(bench):
    """A clear sky over the snow, linearised about the air: (3) by hand."""
    run = bench.simulate(
        _roof(bench), _night(), ROOM, snow=LyingSnow(0.3, since="1 November", until="1 April", density=300),
        settings=bench.tight,
    )  # fmt: skip
    over = 4.0 + 4.0 * 0.95 * STEFAN_BOLTZMANN * 263.15**3
    sol_air = -10.0 + (0.95 * 200.0 - 0.95 * STEFAN_BOLTZMANN * 263.15**4) / over
    expected = (20.0 - sol_air) / (0.10 + 2.5 + 0.30 / 0.23 + 1.0 / over)
    assert float(run["indoor_heat_flux"][-1, 0]) == pytest.approx(expected, rel=1e-4)


def test_snow_is_no_warmer_than_melting_ice(bench):
    thick = LyingSnow(0.2, since="1 November", until="1 April")
    sunny, cool = _night(sun=300.0, temperature=6.0, sky=320.0), ConstantIndoor(0.0, 0.5)
    run = bench.simulate(_roof(bench), sunny, cool, snow=thick)
    assert abs(float(run["outer_surface_temperature"][-1, 0])) < 1e-3
    bare = bench.simulate(_roof(bench), sunny, cool)
    assert float(bare["outer_surface_temperature"][-1, 0]) > 10.0


def test_snow_gathers_and_melts_by_degree_days():
    """20 h of 2 kg/m2 in frost, 80 % caught; then 2 K of thaw take 3 x 2/24 kg/m2 each hour."""
    warmth = np.concatenate([np.full(10, 5.0), np.full(20, -5.0), np.full(200, 2.0)])
    rain = np.where(np.arange(230) < 30, 2.0, 0.0)
    climate = hygro.climate_from_arrays(warmth, np.full(230, 0.9), rain=rain)
    depth = FallingSnow(density=200.0).depth(climate)
    assert depth.shape == (231,)
    np.testing.assert_allclose(depth[:11], 0.0)
    assert depth[30] == pytest.approx(20 * 1.6 / 200)
    assert depth[70] == pytest.approx((32 - 40 * 3 * 2 / 24) / 200)
    assert depth[30 + 129] == 0.0
    stated = FallingSnow([1.0] * 230, caught=1.0, density=200.0).depth(climate)
    assert stated[30] == pytest.approx((20 + 10 * max(1 - 15 / 24, 0)) / 200)


def test_snow_keeps_a_roof_warm_on_a_cold_night_and_rain_off(bench):
    roof = _roof(bench)
    snow = LyingSnow("20 cm", since="20 December", until="10 March")
    bare, covered = (bench.simulate(roof, _night(24 * 5), ROOM, snow=one) for one in (None, snow))
    assert (covered["outer_surface_temperature"] > bare["outer_surface_temperature"] + 2.0).all()
    wet = hygro.climate_from_arrays(np.full(48, 4.0), np.full(48, 0.9), rain=1.0, wind_speed=3.0)
    rained = [bench.simulate(roof, wet, ROOM, rain=DrivingRain(), snow=one)["rain_run_off"] for one in (None, snow)]
    assert float(rained[0].sum()) * 3600 == pytest.approx(48.0)
    assert float(rained[1].sum()) == 0.0


def test_variants_carry_their_snow(bench):
    year = hygro.sample_climate("hut_valley")
    roof = bench.build(Layer("steel sheet", "1 mm"), Layer("plywood 500", "18 mm", name="deck"), tilt=5)
    snow = LyingSnow("40 cm", since="1 December", until="1 April")
    variants = [Variant("snow", roof, ROOM, snow=snow), Variant("bare", roof, ROOM)]
    found = hygro.compare(variants, year, layer="deck", start="1 October", years=1)
    assert float(found["snow"].run["snow_depth"].max()) == pytest.approx(0.4)
    assert float(found["snow"].run["snow_depth"].min()) == 0.0
    coldest = [float(found[name].run["temperature"].min()) for name in ("snow", "bare")]
    assert coldest[0] > coldest[1] + 3.0


REFUSED = [
    (lambda: LyingSnow(-0.1, since="1 May", until="2 May"), "depth is -0.1; it must lie between 0 and 5 m."),
    (lambda: LyingSnow("30", since="1 May", until="2 May"), "a text without a unit"),
    (lambda: LyingSnow(0.1, since="May", until="2 May"), "since is 'May'; give a day of the year"),
    (lambda: LyingSnow(0.1, since="2 May", until="2 May"), "state two different days"),
    (lambda: LyingSnow(0.1, since="2 May", until="3 May", density=900), "density is 900; it must lie"),
    (lambda: FallingSnow([-1.0]), "snowfall holds a value below 0"),
    (lambda: FallingSnow(melt=0.0), "melt is 0; it must lie between 0.1 and 20"),
    (lambda: FallingSnow(caught=5.0), "caught is 5; it must lie between 0 and 2"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "sentence"), REFUSED)
def test_snow_refuses(make, sentence):
    with pytest.raises(InputError) as caught:
        make()
    assert sentence in str(caught.value)


def test_snow_that_cannot_be(bench):
    cold = hygro.constant_climate(-5.0, 0.8, hours=24)
    snow = LyingSnow(0.1, since="1 December", until="1 April")
    with pytest.raises(InputError, match="it is a wall, and snow lies on roofs"):
        hygro.simulate(_roof(bench, tilt=90), cold, ROOM, snow=snow)
    with pytest.raises(InputError, match="has no precipitation at or below 0 degC"):
        hygro.simulate(_roof(bench), cold, ROOM, snow=FallingSnow())
    with pytest.raises(InputError, match="snowfall has 3 hours, but the run has 24"):
        hygro.simulate(_roof(bench), cold, ROOM, snow=FallingSnow([0.0, 1.0, 1.0]))
