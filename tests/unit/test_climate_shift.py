"""A climate shifted for a what-if: what moves, what stays, saturation, and the record of it."""

from __future__ import annotations

import numpy as np
import pytest

from hygro import climate_from_arrays, sample_climate
from hygro.climate import shifted
from hygro.climate.humidity import ice_activity
from hygro.climate.sky import black_body, cloud_factor, hour_mean, longwave_down
from hygro.core.formulas import saturation_pressure_water
from hygro.errors import ClimateError, InputError

HUT = sample_climate("hut_valley")


def numbers(climate, name):
    return climate.data[name].to_numpy()


def vapour(climate):
    return numbers(climate, "relative_humidity") * saturation_pressure_water(numbers(climate, "air_temperature"))


def test_warmer_at_the_same_relative_humidity():
    warm = shifted(HUT, temperature=2, keep="relative humidity")
    np.testing.assert_allclose(numbers(warm, "air_temperature"), numbers(HUT, "air_temperature") + 2.0)
    np.testing.assert_array_equal(numbers(warm, "relative_humidity"), numbers(HUT, "relative_humidity"))
    assert (vapour(warm) > vapour(HUT)).all()
    for name in ("rain", "wind_speed", "cloud_cover", "global_horizontal_irradiance", "air_pressure"):
        np.testing.assert_array_equal(numbers(warm, name), numbers(HUT, name))


def test_warmer_at_the_same_vapour_pressure():
    warm = shifted(HUT, temperature="2 K", keep="vapour pressure")
    np.testing.assert_allclose(vapour(warm), vapour(HUT), rtol=1e-12)
    assert (numbers(warm, "relative_humidity") < numbers(HUT, "relative_humidity")).all()


@pytest.mark.parametrize("keep", ["relative humidity", "vapour pressure"])
def test_never_above_saturation_when_colder_or_damper(keep):
    cold = shifted(HUT, temperature=-6, keep=keep, vapour=1.2)
    air, humidity = numbers(cold, "air_temperature"), numbers(cold, "relative_humidity")
    before = np.maximum(numbers(HUT, "relative_humidity") / ice_activity(numbers(HUT, "air_temperature")), 1.0)
    assert (humidity <= 1.0).all()
    assert (humidity <= ice_activity(air) * before * (1 + 1e-12)).all()
    assert "air held at saturation in 0 hours" not in cold.data.attrs["notes"]
    assert "held at saturation" in cold.data.attrs["notes"]


def test_longwave_follows_the_formula_where_the_record_does():
    # Where the record's long-wave is that of the formula, the shifted one is that of the formula for the new air.
    rng = np.random.default_rng(1)
    air, humidity, cloud = rng.uniform(-15, 20, 500), rng.uniform(0.4, 0.9, 500), rng.uniform(0, 1, 500)
    sky = longwave_down(hour_mean(air), hour_mean(humidity), np.zeros(500)) * cloud_factor(cloud)
    site = {"latitude": 50.0, "longitude": 10.0, "utc_offset": 1.0}
    sun = dict.fromkeys(
        ("global_horizontal_irradiance", "direct_normal_irradiance", "diffuse_horizontal_irradiance"), np.zeros(500)
    )
    old = climate_from_arrays(air, humidity, cloud_cover=cloud, longwave_down=sky, **sun, **site)
    new = shifted(old, temperature=3, keep="relative humidity")
    expected = longwave_down(hour_mean(air) + 3.0, hour_mean(humidity), np.zeros(500)) * cloud_factor(cloud)
    np.testing.assert_allclose(numbers(new, "longwave_down"), expected, rtol=1e-12)
    # 3 K at 0 degC: about 4 x 3/273 from the fourth power and some more from the damper air.
    assert 1.045 < (numbers(new, "longwave_down") / sky).mean() < 1.065


def test_without_sky_the_surroundings_are_as_warm_as_the_air():
    plain = climate_from_arrays(np.zeros(48), np.full(48, 0.8))
    warm = shifted(plain, temperature=2, keep="relative humidity")
    np.testing.assert_allclose(numbers(warm, "longwave_down"), black_body(np.full(48, 2.0)))


def test_factors():
    new = shifted(HUT, rain=1.3, sun=0.9, wind=0.5, vapour=0.9)
    for name, factor in (
        ("rain", 1.3), ("global_horizontal_irradiance", 0.9), ("direct_normal_irradiance", 0.9),
        ("diffuse_horizontal_irradiance", 0.9), ("wind_speed", 0.5), ("relative_humidity", 0.9),
    ):  # fmt: skip
        np.testing.assert_allclose(numbers(new, name), factor * numbers(HUT, name))
    assert (numbers(new, "longwave_down") < numbers(HUT, "longwave_down")).all()  # drier air, colder sky


def test_rain_near_freezing_becomes_snow_when_colder_but_never_the_other_way():
    old = climate_from_arrays(np.array([-1.0, 1.0, 3.0, 4.0]), np.full(4, 0.9), rain=np.ones(4))
    np.testing.assert_allclose(numbers(shifted(old, temperature=-2, keep="relative humidity"), "rain"), [1, 0, 0.5, 1])
    np.testing.assert_array_equal(numbers(shifted(old, temperature=2, keep="relative humidity"), "rain"), 1.0)


def test_what_was_done_is_kept():
    twice = shifted(shifted(HUT, temperature=2, keep="relative humidity"), rain=1.2)
    assert twice.title == f"{HUT.title}, 2 K warmer at the same relative humidity, rain times 1.2"
    assert twice.data.attrs["history"].count("shifted") == 2
    assert "note: shifted: rain times 1.2" in repr(twice)
    assert twice != HUT
    assert shifted(HUT, temperature=2, keep="vapour pressure", title="warm hut").title == "warm hut"


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"temperature": 2}, "keep is None; say 'relative humidity' or 'vapour pressure'"),
        ({"temperature": 2, "keep": "dew point"}, "keep is 'dew point'"),
        ({"temperature": 40, "keep": "relative humidity"}, "temperature is 40 K; it must lie between -15 and 15"),
        ({"temperature": "2 degC", "keep": "relative humidity"}, "It is a difference: write 2 or '2 K'"),
        ({}, "nothing is changed"),
        ({"rain": -1.0}, "rain is -1.0; it must be a factor from 0 to 5"),
        ({"sun": 2.0}, "sun is 2.0; it must be a factor from 0 to 1.5"),
        ({"wind": "20 %"}, "wind is '20 %'"),
    ],
)
def test_refusals(arguments, sentence):
    with pytest.raises(ClimateError) as caught:
        shifted(HUT, **arguments)
    assert sentence in str(caught.value)


def test_other_things_are_no_climate():
    with pytest.raises(ClimateError, match="pass a Climate"):
        shifted("hut_valley", rain=2.0)
    with pytest.raises(InputError, match="could not be read as a temperature difference"):
        shifted(HUT, temperature="2 mm", keep="relative humidity")
