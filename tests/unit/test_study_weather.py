"""A severe year and a shifted climate in a study file: the same as Python's, in the report, and refused where wrong."""

import numpy as np
import pytest
import xarray as xr
from reference.studies import ROOF, WEATHER

import hygro.__main__ as command
from hygro import constant_climate, sample_climate
from hygro.climate import Climate, severe_year, shifted, warmth_severity, write_climate
from hygro.errors import InputError
from hygro.studyfile import Sample, Shift, Sweep, WeatherFile, parse_study, run_trials, study_text
from hygro.studyfile.weather import SEVERITIES

TEXT = (
    """\
title = "A roof"
watch = ["deck"]
start = "1 October"
years = 1
indoor = { kind = "constant", temperature = 20, relative_humidity = "45 %" }

"""
    + WEATHER
    + ROOF
    + """
[[variant]]
name = "roof"
assembly = "roof"
"""
)
SAMPLE = 'sample = "hut_valley"\n'
SHIFT = 'shift = { temperature = "2 K", keep = "relative humidity", rain = 1.2 }\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Ten years that grow warmer in an order of their own."""
    path = tmp_path_factory.mktemp("weather")
    plain = constant_climate(0.0, 0.8, hours=87672)
    order = np.array([3, 7, 1, 9, 5, 0, 8, 2, 6, 4], dtype=float)
    years = plain.data["time"].dt.year.to_numpy()
    warmth = order[np.clip(years - years[0], 0, 9)]
    data = plain.data.assign(air_temperature=plain.data["air_temperature"] + xr.DataArray(warmth, dims="time"))
    place = {"latitude": 60.0, "longitude": 0.0, "elevation": 0.0, "utc_offset": 0.0}
    write_climate(Climate(data.assign_attrs(place)), path / "ten.csv")
    return path


def with_weather(lines):
    return TEXT.replace(SAMPLE, lines)


def test_a_shifted_sample_is_that_of_python_and_is_written_and_read():
    study = parse_study(with_weather(SAMPLE + SHIFT))
    assert study.climate == Sample("hut_valley", shift=Shift(2.0, "relative humidity", rain=1.2))
    assert study.climate.shift == Shift("2 K", "relative humidity", rain=1.2)
    same = shifted(sample_climate("hut_valley"), temperature="2 K", keep="relative humidity", rain=1.2)
    assert study.climate.load() == same
    assert study.climate.load().title == same.title
    written = study_text(study)
    assert 'temperature = "2 K"' in written
    assert parse_study(written) == study


def test_a_severe_year_is_that_of_python(folder):
    study = parse_study(with_weather('file = "ten.csv"\nsevere_year = "warm"\n'), "x", folder)
    record = WeatherFile(folder / "ten.csv").load()
    assert study.climate.load() == severe_year(record, warmth_severity)
    one_hour = 9.0 / 8760  # the stamp that ends a year bears the next one's number
    assert study.climate.load().summary()["mean air temperature"][0] == pytest.approx(9.0, abs=one_hour)
    cold = parse_study(with_weather('file = "ten.csv"\nsevere_year = "cold"\nshift = { rain = 0.5 }\n'), "x", folder)
    assert cold.climate.load().summary()["mean air temperature"][0] == pytest.approx(0.0, abs=one_hour)
    assert parse_study(study_text(cold, folder), "x", folder) == cold
    cold.climate.load().period("1 October", 3)  # a year that is repeated


def test_every_severity_of_the_package_has_a_word():
    from hygro import climate

    named = {getattr(climate, name) for name in climate.__all__ if name.endswith("_severity")}
    assert set(SEVERITIES.values()) == named


def test_climates_are_set_side_by_side_in_a_sweep():
    swept = '\n[[sweep]]\nover = { climate = [{ sample = "hut_valley" }, { sample = "hut_valley", shift = '
    study = parse_study(TEXT + swept + '{ temperature = 3, keep = "vapour pressure" } }] }\n')
    plain, warm = Sample("hut_valley"), Sample("hut_valley", shift=Shift(3.0, "vapour pressure"))
    assert study.sweeps == (Sweep({"climate": [plain, warm]}),)
    assert parse_study(study_text(study)) == study
    found = run_trials(study)[0].found
    assert list(found["climate"].to_numpy()) == [plain.load().title, warm.load().title]
    assert found["wettest"][0].item() != found["wettest"][1].item()


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (SAMPLE + 'severe_year = "icy"\n', "line 9, climate, severe_year: is 'icy'; one of 'cold', 'warm', 'rainy'"),
        (SAMPLE + "severe_year = 2010\n", "line 9, climate, severe_year: is 2010; one of"),
        (SAMPLE + "shift = {}\n", "line 9, climate, shift: Shift: nothing is changed"),
        (SAMPLE + "shift = { temperature = 2 }\n", "line 9, climate, shift: Shift: keep is None"),
        (SAMPLE + SHIFT.replace("2 K", "30 K"), "line 9, climate, shift, temperature: Shift: temperature is 30 K"),
        (SAMPLE + SHIFT.replace("2 K", "2 mm"), "line 9, climate, shift, temperature: is '2 mm', which is no"),
        (SAMPLE + SHIFT.replace("1.2", "-1"), "line 9, climate, shift, rain: Shift: rain is -1"),
        (SAMPLE + SHIFT.replace("keep", "kept"), "line 9, climate, shift, kept: there is no such key here. Did you"),
        (SAMPLE + SHIFT.replace("relative humidity", "rain"), "shift, keep: Shift: keep is 'rain'; say 'relative"),
        (SAMPLE + "shift = 2\n", "line 9, climate, shift: is 2; a table"),
        (SAMPLE + "max_gap_hours = 3\n", "beside 'sample' there may be severe_year and shift"),
        (SHIFT, "climate: one of two keys is needed"),
    ],
)
def test_what_cannot_be_is_named_with_line_and_key(lines, says):
    with pytest.raises(InputError) as caught:
        parse_study(with_weather(lines), "roof.toml")
    assert says in str(caught.value)


def test_a_record_that_is_too_short_for_a_severe_year_is_refused_before_a_folder_is_made(tmp_path, capsys):
    (tmp_path / "roof.toml").write_text(with_weather(SAMPLE + 'severe_year = "cold"\n'), encoding="utf-8")
    assert command.main([str(tmp_path / "roof.toml"), "-o", str(tmp_path / "out")]) == 2
    assert "roof.toml, climate: " in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
