"""Invented weather: the same bytes from the same seed, the place's own parameters, and physical consistency."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from hygro.climate import PLACES, Climate, generate_climate, sample_climate, sample_names, write_sample
from hygro.climate import samples as samples_module
from hygro.climate.humidity import ice_activity
from hygro.climate.sun import hourly_sun
from hygro.errors import ClimateError, OutputError

SAMPLES = Path(__file__).parents[2] / "climate_samples"


@pytest.fixture(params=sample_names())
def sample(request: pytest.FixtureRequest) -> Climate:
    return sample_climate(request.param)


@pytest.mark.parametrize("name", sample_names())
def test_regenerating_a_sample_gives_the_same_bytes(name: str, tmp_path: Path) -> None:
    made = write_sample(name, tmp_path / f"{name}.csv").read_bytes()
    assert made == (SAMPLES / f"{name}.csv").read_bytes()
    assert len(made) < 700_000


@pytest.mark.parametrize("name", sample_names())
def test_first_line_says_invented_and_how_it_was_made(name: str) -> None:
    first = (SAMPLES / f"{name}.csv").read_text().splitlines()[0]
    seed = samples_module.SEEDS[name]
    assert first.startswith("# source: invented, no real place; made by hygro.climate.generator.")
    assert f'generate_climate("{name}", {seed}, years=1, start_year=2023)' in first
    assert sample_climate(name) == generate_climate(name, seed, years=1, start_year=2023)


def test_another_seed_gives_other_weather_of_the_same_place() -> None:
    one, two = generate_climate("hut_valley", 1), generate_climate("hut_valley", 2)
    assert one != two
    assert one == generate_climate("hut_valley", 1)
    difference = float(one.data["air_temperature"].mean() - two.data["air_temperature"].mean())
    assert 0.0 < abs(difference) < 3.0


def test_place_and_years_can_be_stated() -> None:
    colder = dataclasses.replace(PLACES["hut_valley"], title="higher up", mean_temperature=-3.0)
    climate = generate_climate(colder, 35, years=2, start_year=2024)
    assert len(climate) == 8784 + 8760
    assert climate.title == "higher up"
    reference = generate_climate("hut_valley", 35, years=2, start_year=2024)
    difference = climate.data["air_temperature"] - reference.data["air_temperature"]
    assert float(difference.mean()) == pytest.approx(-3.0 - PLACES["hut_valley"].mean_temperature, abs=0.01)


def test_mean_over_many_years_is_the_place_s_own() -> None:
    place = PLACES["hut_valley"]
    temperature = generate_climate("hut_valley", 5, years=20).data["air_temperature"]
    # Yearly means scatter by 0.5 K, so twenty of them by 0.11 K; three times that is allowed.
    assert float(temperature.mean()) == pytest.approx(place.mean_temperature, abs=0.35)
    monthly = temperature.groupby("time.month").mean()
    swing = 0.5 * float(monthly.max() - monthly.min())
    assert swing == pytest.approx(place.seasonal_swing, abs=1.2)


def test_demo_valley_has_the_winter_it_promises() -> None:
    data = sample_climate("hut_valley").data
    temperature = data["air_temperature"]
    assert 1.0 <= float(temperature.mean()) <= 2.0
    assert -33.0 <= float(temperature.min()) <= -28.0
    assert -14.0 <= float(temperature.sel(time="2023-01").mean()) <= -10.0
    spell = temperature.rolling(time=72).mean().min()
    assert float(spell) < -20.0


def test_no_air_holds_more_vapour_than_ice_allows(sample: Climate) -> None:
    data = sample.data
    # Temperature is rounded to 0.1 K and humidity to 0.01.
    limit = 1.03 * ice_activity(data["air_temperature"].to_numpy() + 0.05) + 0.0051
    assert bool((data["relative_humidity"].to_numpy() <= limit).all())


def test_no_rain_falls_in_frost(sample: Climate) -> None:
    data = sample.data
    assert float(data["rain"].where(data["air_temperature"] <= -0.1, 0.0).sum()) == 0.0
    assert float(data["rain"].sum()) > 100.0


def test_no_sun_at_night_and_none_above_a_clear_sky(sample: Climate) -> None:
    data = sample.data
    sun = hourly_sun(sample.time, sample.latitude, sample.longitude, sample.utc_offset)
    irradiance = data["global_horizontal_irradiance"].to_numpy()
    assert float(irradiance[sun.cos_zenith == 0.0].sum()) == 0.0
    clearness = irradiance / np.maximum(sun.extraterrestrial * sun.cos_zenith, 1.0)
    assert float(clearness[sun.cos_zenith > 0.2].max()) < 0.85


def test_direct_and_diffuse_add_up_to_global(sample: Climate) -> None:
    data = sample.data
    sun = hourly_sun(sample.time, sample.latitude, sample.longitude, sample.utc_offset)
    total = data["diffuse_horizontal_irradiance"] + data["direct_normal_irradiance"] * sun.cos_zenith
    # Rounding to 1 W m-2: half a unit in each of the three.
    assert float(np.abs(total - data["global_horizontal_irradiance"]).max()) <= 1.51


def test_sun_is_centred_on_solar_noon(sample: Climate) -> None:
    irradiance = sample.data["global_horizontal_irradiance"].to_numpy()
    middle = (sample.time.hour.to_numpy() - 0.5) % 24.0
    noon = 12.0 + sample.utc_offset - sample.longitude / 15.0
    assert float((irradiance * middle).sum() / irradiance.sum()) == pytest.approx(noon, abs=0.35)


def test_unknown_sample_is_an_error_with_the_nearest_name() -> None:
    with pytest.raises(ClimateError, match=r"No sample climate 'hut_vally'. Nearest: 'hut_valley'. There are 'hut_v"):
        sample_climate("hut_vally")
    with pytest.raises(ClimateError, match=r"No sample climate 'zzz'. There are"):
        generate_climate("zzz", 1)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"seed": -1}, "seed is -1; a whole number from 0 on is needed"),
        ({"seed": 1.5}, "seed is 1.5; a whole number"),
        ({"seed": 1, "years": 0}, "years is 0; a whole number from 1 on"),
        ({"seed": 1, "start_year": 0}, "start_year is 0; a whole number from 1900 on"),
    ],
)
def test_generator_refuses_what_it_cannot_use(arguments: dict[str, object], sentence: str) -> None:
    with pytest.raises(ClimateError, match=sentence):
        generate_climate("hut_valley", **arguments)


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("wind_shape", 0.0, "wind_shape is 0.0; a number from 0.8 to 5 is needed"),
        ("latitude", 91.0, "latitude is 91.0; a number from -85 to 85"),
        ("wet_hours", float("nan"), "wet_hours is nan; a number from 0.005 to 0.6"),
        ("turbidity", "clear", "turbidity is 'clear'; a number from 1 to 10"),
    ],
)
def test_place_refuses_what_the_generator_cannot_use(name: str, value: object, sentence: str) -> None:
    with pytest.raises(ClimateError, match=sentence):
        dataclasses.replace(PLACES["wet_coast"], **{name: value})


@pytest.mark.parametrize("name", ["precipitation", "weather_swing_winter", "cold_pool", "dryness_summer"])
def test_place_at_the_edge_of_its_limits_still_gives_weather(name: str) -> None:
    edge = dataclasses.replace(PLACES["subarctic"], **{name: 0.0})
    climate = generate_climate(edge, 4)
    assert len(climate) == 8760
    if name == "precipitation":
        assert float(climate.data["rain"].sum()) == 0.0


def test_sample_file_that_is_gone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(samples_module, "_FOLDERS", (tmp_path,))
    sample_climate.cache_clear()
    try:
        with pytest.raises(ClimateError, match=r"The file of the sample climate 'hut_valley' is in none of"):
            sample_climate("hut_valley")
    finally:
        sample_climate.cache_clear()


def test_sample_is_found_inside_an_installed_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    inside = tmp_path / "samples"
    inside.mkdir()
    (inside / "wet_coast.csv").write_bytes((SAMPLES / "wet_coast.csv").read_bytes())
    reference = sample_climate("wet_coast")
    monkeypatch.setattr(samples_module, "_FOLDERS", (inside, tmp_path / "absent"))
    sample_climate.cache_clear()
    try:
        assert sample_climate("wet_coast") == reference
    finally:
        sample_climate.cache_clear()


def test_sample_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"could not be written: No such file or directory. Choose a folder you may"):
        write_sample("hut_valley", tmp_path / "absent" / "hut.csv")


def test_importing_the_package_leaves_the_sun_library_alone() -> None:
    code = (
        "import sys; sys.modules['dask'] = None; "  # which would load much itself
        "import hygro.climate as c; c.sample_climate('hut_valley'); "
        "print('pvlib' in sys.modules, 'scipy.special' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
