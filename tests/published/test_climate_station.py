"""Real station years (TMY3, US government data inside the wheel of pvlib): the reader, and how real weather looks.

Sand Point, Alaska: a cool, maritime station at 55.3 N. Greensboro, North Carolina, serves for contrast. The invented
samples are held against them where a property is the same for any weather: memory, and how sun, cloud, temperature
and humidity hang together.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from hygro.climate import Climate, read_climate, sample_climate, sample_names
from hygro.errors import ClimateError, HygroWarning

DATA = Path(pvlib.__file__).parent / "data"


@pytest.fixture(scope="module")
def station() -> Climate:
    with pytest.warns(HygroWarning, match="rain is missing in .* of 8760 hours and taken as 0 throughout"):
        return read_climate(DATA / "703165TY.csv")


@pytest.fixture(scope="module")
def inland() -> Climate:
    with pytest.warns(HygroWarning, match="rain is missing in 8760 of 8760 hours"):
        return read_climate(DATA / "723170TYA.CSV", ignore=["rain"])


@pytest.fixture(params=sample_names())
def sample(request: pytest.FixtureRequest) -> Climate:
    return sample_climate(request.param)


def column(climate: Climate, name: str) -> np.ndarray:
    return climate.data[name].to_numpy()


def memory(series: np.ndarray, hours: int) -> float:
    centred = series - series.mean()
    return float((centred[hours:] * centred[:-hours]).mean() / centred.var())


def without_season(climate: Climate, name: str) -> np.ndarray:
    series = column(climate, name)
    day = np.arange(len(series)) / 24.0
    waves = [wave(2.0 * np.pi * k * day / 365.25) for k in (1, 2) for wave in (np.cos, np.sin)]
    basis = np.column_stack([np.ones_like(day), *waves])
    return series - basis @ np.linalg.lstsq(basis, series, rcond=None)[0]


def months(climate: Climate, *numbers: int) -> np.ndarray:
    return np.isin(climate.time.month, numbers)


def daily_course(climate: Climate, *numbers: int) -> np.ndarray:
    chosen = months(climate, *numbers)
    hour = climate.time.hour
    temperature = column(climate, "air_temperature")
    return np.array([temperature[chosen & (hour == h)].mean() for h in range(24)])


def test_station_year_has_its_known_figures(station: Climate) -> None:
    """Sums and extremes taken from the file with a plain spreadsheet-like reading, not with this package."""
    temperature = column(station, "air_temperature")
    assert len(station) == 8760
    assert float(temperature.min()) == -10.6
    assert float(temperature.max()) == 19.4
    assert float(temperature.mean()) == pytest.approx(4.4, abs=0.05)
    assert int((temperature < 0.0).sum()) == pytest.approx(1640, abs=1)
    assert station.summary()["heating degree days below 18 degC"][0] == pytest.approx(4957, abs=5)
    assert float(column(station, "global_horizontal_irradiance").sum()) / 1000.0 == pytest.approx(829, abs=1)
    assert (station.latitude, station.longitude, station.utc_offset) == (55.317, -160.517, -9.0)
    assert float(column(station, "air_pressure").max()) == 101200.0


def test_station_missing_codes_do_not_become_rain(station: Climate) -> None:
    assert float(column(station, "rain").sum()) == 0.0


def test_inland_station_s_rain_is_refused_until_it_is_left_out(inland: Climate) -> None:
    with pytest.raises(ClimateError, match="rain is 300 kg m-2 at 28 July 2023 17:00"):
        read_climate(DATA / "723170TYA.CSV")
    assert float(column(inland, "rain").sum()) == 0.0


def test_station_february_of_a_leap_year_is_whole(inland: Climate) -> None:
    assert len(inland) == 8760
    assert inland.years == (2023,)


def test_station_longwave_is_that_of_its_sky(station: Climate) -> None:
    """Surface of the cool sea climates: the yearly mean lies between clear and black sky at every hour."""
    longwave = column(station, "longwave_down")
    black = 5.670374e-8 * (column(station, "air_temperature") + 273.15) ** 4
    share = longwave / black
    assert float(share.min()) > 0.68
    assert float(share.max()) < 1.0
    overcast = column(station, "cloud_cover") >= 0.95
    clear = column(station, "cloud_cover") <= 0.05
    assert float(share[overcast].mean() - share[clear].mean()) > 0.08


def test_station_sun_is_centred_on_solar_noon(station: Climate, inland: Climate) -> None:
    """Stamps of the format are ends of hours: half an hour before them the sun is symmetric about solar noon."""
    for climate in (station, inland):
        sun = column(climate, "global_horizontal_irradiance")
        middle = (climate.time.hour.to_numpy() - 0.5) % 24.0
        noon = 12.0 + climate.utc_offset - climate.longitude / 15.0
        assert float((sun * middle).sum() / sun.sum()) == pytest.approx(noon, abs=0.25)


def test_sample_temperature_has_the_memory_of_real_weather(sample: Climate, station: Climate, inland: Climate) -> None:
    """Finnish stations 2011 gave 0.986 to 0.988 after one hour, 0.746 to 0.769 after 24 and 0.46 to 0.52 after 72."""
    found, real = (
        [memory(without_season(climate, "air_temperature"), hours) for climate in climates for hours in (1, 24, 72)]
        for climates in ([sample], [station, inland])
    )
    assert 0.97 <= found[0] <= 0.992
    assert 0.55 <= found[1] <= 0.80
    assert 0.15 <= found[2] <= 0.55
    assert found[0] == pytest.approx(np.mean([real[0], real[3]]), abs=0.012)
    assert found[1] == pytest.approx(np.mean([real[1], real[4]]), abs=0.13)


def test_sample_temperature_steps_are_those_of_a_station(sample: Climate, station: Climate, inland: Climate) -> None:
    step = float(np.diff(column(sample, "air_temperature")).std())
    gentle = float(np.diff(column(station, "air_temperature")).std())
    rough = float(np.diff(column(inland, "air_temperature")).std())
    assert 0.6 * gentle <= step <= rough


def test_sample_days_are_warmest_in_the_afternoon(sample: Climate, station: Climate) -> None:
    """Summer's half-amplitude was 4 to 4.9 K inland in Finland; the maritime station has 1.5 K."""
    course = daily_course(sample, 6, 7, 8)
    assert 12 <= int(course.argmax()) <= 17
    assert 1 <= int(course.argmin()) <= 6
    amplitude = 0.5 * float(np.ptp(course))
    sea = 0.5 * float(np.ptp(daily_course(station, 6, 7, 8)))
    assert 0.7 * sea <= amplitude <= 5.0
    winter = 0.5 * float(np.ptp(daily_course(sample, 12, 1)))
    assert winter < 0.5 * amplitude


def test_cloud_dims_the_sun_as_it_does_at_the_station(sample: Climate, station: Climate) -> None:
    def at_noon(climate: Climate) -> float:
        chosen = months(climate, 6, 7, 8) & (climate.time.hour == 12)
        cloud = column(climate, "cloud_cover")[chosen]
        return float(np.corrcoef(cloud, column(climate, "global_horizontal_irradiance")[chosen])[0, 1])

    assert at_noon(station) < -0.75
    assert at_noon(sample) == pytest.approx(at_noon(station), abs=0.12)


def test_cloudy_winters_are_mild_and_cloudy_summers_cool(sample: Climate, station: Climate) -> None:
    for climate in (sample, station):
        anomaly, cloud = without_season(climate, "air_temperature"), column(climate, "cloud_cover")
        winter, summer = months(climate, 12, 1, 2), months(climate, 6, 7, 8)
        assert np.corrcoef(cloud[winter], anomaly[winter])[0, 1] > 0.15
        assert np.corrcoef(cloud[summer], anomaly[summer])[0, 1] < -0.05


def test_humidity_falls_as_the_day_warms(sample: Climate, station: Climate, inland: Climate) -> None:
    def summer(climate: Climate) -> float:
        chosen = months(climate, 6, 7, 8)
        pair = column(climate, "air_temperature")[chosen], column(climate, "relative_humidity")[chosen]
        return float(np.corrcoef(*pair)[0, 1])

    assert summer(inland) < summer(station) < -0.3  # an open coast is the weakest case
    assert summer(inland) <= summer(sample) <= -0.3


def test_humidity_has_the_level_and_memory_of_a_station(sample: Climate, station: Climate, inland: Climate) -> None:
    humidity = column(sample, "relative_humidity")
    assert 0.70 <= float(humidity.mean()) <= 0.88
    assert 0.90 <= memory(humidity, 1) <= 0.97
    assert 0.90 <= memory(column(station, "relative_humidity"), 1) <= 0.97
    assert 0.90 <= memory(column(inland, "relative_humidity"), 1) <= 0.97


def test_wind_has_the_shape_and_memory_of_a_station(sample: Climate, station: Climate) -> None:
    """Weibull shapes of Finnish stations 1.9 to 2.2 give a spread of 0.48 to 0.55 of the mean; calm valleys more."""

    def spread(climate: Climate) -> float:
        moving = column(climate, "wind_speed")
        moving = moving[moving > 0.0]
        return float(moving.std() / moving.mean())

    assert spread(sample) == pytest.approx(spread(station), abs=0.15)
    assert memory(column(sample, "wind_speed"), 1) == pytest.approx(memory(column(station, "wind_speed"), 1), abs=0.03)
    assert float((column(sample, "wind_speed") == 0.0).mean()) < 0.13


def test_cloud_is_mostly_all_or_nothing(sample: Climate, station: Climate) -> None:
    for climate in (sample, station):
        cloud = column(climate, "cloud_cover")
        ends = float(((cloud <= 0.2) | (cloud >= 0.9)).mean())
        assert ends > 0.6
        assert 0.78 <= memory(cloud, 1) <= 0.92


def test_rain_falls_from_cloud_in_moist_air(sample: Climate) -> None:
    rain, cloud, humidity = (column(sample, name) for name in ("rain", "cloud_cover", "relative_humidity"))
    wet = rain > 0.0
    assert float(cloud[wet].min()) >= 0.5
    assert float(cloud[wet].mean()) > 0.9
    assert float(humidity[wet].mean()) > float(humidity[~wet].mean()) + 0.05
    assert float(rain.max()) < 40.0


def clear_sky(climate: Climate) -> np.ndarray:
    """Global irradiance of a clear sky by Haurwitz 1945, which no sample is made with. [W m-2]"""
    middle = (climate.time - pd.Timedelta(minutes=30) - pd.Timedelta(hours=climate.utc_offset)).tz_localize("UTC")
    place = pvlib.location.Location(climate.latitude, climate.longitude, "UTC", climate.elevation)
    return pvlib.clearsky.haurwitz(place.get_solarposition(middle)["apparent_zenith"])["ghi"].to_numpy()


def clear_sky_index(climate: Climate) -> np.ndarray:
    """Sun over that of a clear sky in hours with the sun well up."""
    clear = clear_sky(climate)
    up = clear > 150.0
    return column(climate, "global_horizontal_irradiance")[up] / clear[up]


def test_clear_sky_index_is_spread_as_at_the_stations(sample: Climate, station: Climate, inland: Climate) -> None:
    """Two humps, clouded and clear, with few hours between; how high each is belongs to the place."""
    found, real = clear_sky_index(sample), [clear_sky_index(station), clear_sky_index(inland)]
    assert min(one.mean() for one in real) - 0.02 <= found.mean() <= max(one.mean() for one in real) + 0.02
    for series in (found, *real):
        share, _ = np.histogram(series, bins=[0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.3])
        share = share / len(series)
        assert share[:2].sum() > 0.15
        assert share[4:].sum() > 0.2
        assert share[2] < 0.2  # the gap between the humps
        assert share.sum() == pytest.approx(1.0, abs=0.001)  # nothing beyond 1.3
    # The largest difference between the distributions is no more than that between the two stations.
    grid = np.linspace(0.0, 1.3, 131)
    below = [np.searchsorted(np.sort(series), grid) / len(series) for series in (found, *real)]
    between = np.abs(below[1] - below[2]).max()
    assert min(np.abs(below[0] - one).max() for one in below[1:]) <= between
    assert memory(found, 1) == pytest.approx(memory(real[0], 1), abs=0.06)


def test_clear_and_covered_skies_let_through_as_much_sun_as_at_the_stations(
    sample: Climate, station: Climate, inland: Climate
) -> None:
    def at(climate: Climate, lowest: float, highest: float) -> float:
        clear = clear_sky(climate)
        cloud = column(climate, "cloud_cover")
        chosen = (clear > 150.0) & (cloud >= lowest) & (cloud <= highest)
        return float((column(climate, "global_horizontal_irradiance")[chosen] / clear[chosen]).mean())

    for climate in (sample, station, inland):
        assert at(climate, 0.0, 0.1) == pytest.approx(0.935, abs=0.04)
    assert at(inland, 0.95, 1.0) > at(station, 0.95, 1.0)  # thin high cloud counts as cover in the south
    assert at(sample, 0.95, 1.0) == pytest.approx(at(station, 0.95, 1.0), abs=0.1)


def test_days_range_as_widely_as_at_the_stations(sample: Climate, station: Climate, inland: Climate) -> None:
    def daily_range(climate: Climate, *numbers: int) -> float:
        ranges = np.ptp(column(climate, "air_temperature").reshape(-1, 24), axis=1)
        return float(ranges[months(climate, *numbers)[::24]].mean())

    assert 0.85 * daily_range(station, 6, 7, 8) <= daily_range(sample, 6, 7, 8) <= 1.1 * daily_range(inland, 6, 7, 8)
    assert 0.85 * daily_range(station, 12, 1, 2) <= daily_range(sample, 12, 1, 2) <= daily_range(inland, 12, 1, 2)


def test_cold_comes_in_spells(sample: Climate, station: Climate, inland: Climate) -> None:
    """Days more than a standard deviation too cold for the season: not one by one, and not all in one go."""

    def spells(climate: Climate) -> np.ndarray:
        day = without_season(climate, "air_temperature").reshape(-1, 24).mean(axis=1)
        edges = np.flatnonzero(np.diff(np.concatenate(([False], day < -day.std(), [False])).astype(int)))
        return edges[1::2] - edges[::2]

    real = [spells(climate) for climate in (station, inland)]
    found = spells(sample)
    assert 0.6 * min(map(len, real)) <= len(found) <= 1.5 * max(map(len, real))
    assert 0.7 * min(one.mean() for one in real) <= found.mean() <= 1.5 * max(one.mean() for one in real)
    assert 3 <= found.max() <= 15
    assert (found >= 3).sum() >= 3


def test_rain_is_as_frequent_and_as_brief_as_measured(sample: Climate) -> None:
    """Three Finnish stations 2011 counted rain in 9.4 to 11.1 % of the hours; the station's own record has none."""
    wet = column(sample, "rain") > 0.0
    edges = np.flatnonzero(np.diff(np.concatenate(([False], wet, [False])).astype(int)))
    lengths = edges[1::2] - edges[::2]
    assert 0.3 * 0.094 <= wet.mean() <= 2.0 * 0.111  # a dry plain and a wet coast on either side
    assert 1.5 <= lengths.mean() <= 4.0  # hours; showers and fronts, no endless drizzle
