"""The climate record: frozen, known by its data, and repeated over a stated period."""

from __future__ import annotations

import pickle

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from hygro.climate import Climate, climate_from_arrays, constant_climate, generate_climate, sample_climate
from hygro.errors import ClimateError, InputError
from hygro.variables import CLIMATE


@pytest.fixture(scope="module")
def hut() -> Climate:
    return sample_climate("hut_valley")


def test_record_carries_the_registry_in_names_units_and_order(hut: Climate) -> None:
    data = hut.data
    assert list(data.data_vars) == list(CLIMATE)
    for name, row in CLIMATE.items():
        assert data[name].dims == ("time",)
        assert data[name].attrs == row.attrs()
    assert data["rain"].attrs["cell_methods"] == "time: sum"
    assert {"title", "latitude", "longitude", "elevation", "utc_offset", "source"} <= set(data.attrs)


def test_arrays_are_read_only_and_the_dataset_handed_out_is_a_copy(hut: Climate) -> None:
    data = hut.data
    with pytest.raises(ValueError, match=r"read-only"):
        data["rain"].to_numpy()[0] = 1.0
    data["rain"] = data["rain"] + 1.0
    assert float(hut.data["rain"].min()) == 0.0


def test_equal_data_mean_equal_climates_whatever_the_title() -> None:
    one = constant_climate("5 degC", "80 %", title="one")
    two = constant_climate(5.0, 0.8, title="two")
    assert one == two
    assert hash(one) == hash(two)
    assert len({one, two}) == 1
    assert one != constant_climate(5.0, 0.81)
    assert one != constant_climate(5.0, 0.8, start="2022-01-01")
    assert (one == "one") is False


def test_record_survives_pickling_and_netcdf(hut: Climate, tmp_path) -> None:
    assert pickle.loads(pickle.dumps(hut)) == hut
    file = tmp_path / "hut.nc"
    hut.data.to_netcdf(file, engine="h5netcdf")
    with xr.open_dataset(file, engine="h5netcdf") as again:
        assert Climate(again.load()) == hut


def test_summary_agrees_with_the_data(hut: Climate) -> None:
    data, rows = hut.data, hut.summary()
    daily = data["air_temperature"].to_numpy().reshape(365, 24).mean(axis=1)
    degree_days = float(np.maximum(18.0 - daily, 0.0).sum()) * 8766.0 / 8760.0
    assert rows["heating degree days below 18 degC"] == (pytest.approx(degree_days), "K d a-1")
    assert rows["coldest hour"][0] == float(data["air_temperature"].min())
    assert "coldest hour" in repr(hut)
    assert "<table>" in hut._repr_html_()


def test_html_summary_escapes_what_the_user_wrote() -> None:
    climate = constant_climate(5.0, 0.8, title="<script>")
    assert "<script>" not in climate._repr_html_()
    assert "&lt;script&gt;" in climate._repr_html_()


@pytest.mark.parametrize("start", ["1 October", "10-01", "2023-10-01", pd.Timestamp("2023-10-01"), "Oct 1", "1 Oct"])
def test_period_starts_on_the_stated_day_and_goes_round_the_year(hut: Climate, start: object) -> None:
    if start == "Oct 1":
        with pytest.raises(ClimateError, match=r"a day such as '1 October'"):
            hut.period(start)
        return
    two_years = hut.period(start, 2)
    assert two_years.start == pd.Timestamp("2023-10-01")
    assert two_years.time[-1] == pd.Timestamp("2025-10-01")
    assert len(two_years) == 8760 + 8784  # 1 October 2023 to 2025 holds 29 February 2024
    source = hut.data["air_temperature"].to_numpy()
    got = two_years.data["air_temperature"].sel(time="2025-01-15T12:00").item()
    assert got == source[14 * 24 + 12 - 1]


def test_period_repeats_28_february_where_the_record_has_no_leap_day(hut: Climate) -> None:
    year = hut.period("2024-01-01").data["air_temperature"]
    assert year.sizes["time"] == 8784
    # Hours are compared by their begin: the hour that ends at midnight still belongs to the day before.
    leap = year.sel(time=slice("2024-02-29T01:00", "2024-03-01T00:00")).to_numpy()
    before = year.sel(time=slice("2024-02-28T01:00", "2024-02-29T00:00")).to_numpy()
    np.testing.assert_array_equal(leap, before)


def test_period_leaves_out_the_leap_day_that_the_new_calendar_lacks() -> None:
    leap_year = generate_climate("hut_valley", 1, start_year=2024)
    assert len(leap_year) == 8784
    ordinary = leap_year.period("2023-01-01")
    assert len(ordinary) == 8760
    march = ordinary.data["rain"].sel(time=slice("2023-03-01T01:00", None)).to_numpy()
    np.testing.assert_array_equal(march, leap_year.data["rain"].sel(time=slice("2024-03-01T01:00", None)).to_numpy())


def test_a_whole_period_of_a_year_is_the_year_itself(hut: Climate) -> None:
    assert hut.period("1 January") == hut


def test_record_of_several_years_is_cut_not_repeated() -> None:
    three = generate_climate("hut_valley", 3, years=3)
    cut = three.period("2024-07-01")
    assert cut.start == pd.Timestamp("2024-07-01")
    np.testing.assert_array_equal(
        cut.data["air_temperature"],
        three.data["air_temperature"].sel(time=slice("2024-07-01T01:00", "2025-07-01"))[: len(cut)],
    )
    assert three.years == (2023, 2024, 2025)
    with pytest.raises(ClimateError, match=r"the record covers 1 January 2023 00:00 to 1 January 2026 00:00"):
        three.period("2019-10-01")
    with pytest.raises(ClimateError, match=r"A record of several years is not repeated"):
        three.period("2025-07-01")


def test_record_of_less_than_a_year_is_not_repeated() -> None:
    with pytest.raises(ClimateError, match=r"A record of less than a year is not repeated"):
        constant_climate(5.0, 0.8, hours=1000).period("1 January")


@pytest.mark.parametrize("start", ["soon", "1 Octember", "2023-10-01 06:30", 5, "2023-10-01T00:00+02:00"])
def test_period_start_that_is_no_day(hut: Climate, start: object) -> None:
    with pytest.raises(ClimateError, match=r"the period's start is .* a day such as '1 October'"):
        hut.period(start)


@pytest.mark.parametrize("years", [0, -1, 1.5, True])
def test_period_length_must_be_whole_years(hut: Climate, years: object) -> None:
    with pytest.raises(ClimateError, match=r"a whole number from 1 on, at most 200, is needed"):
        hut.period("1 October", years)


def test_constant_climate_leaves_sun_and_sky_out() -> None:
    climate = constant_climate("14 degF", "90 %", hours=48)
    data = climate.data
    assert not climate.has_radiation
    assert data["air_temperature"].to_numpy() == pytest.approx(-10.0)
    assert float(data["global_horizontal_irradiance"].max()) == 0.0
    assert data["longwave_down"].to_numpy() == pytest.approx(5.670374e-8 * 263.15**4)
    assert climate.start == pd.Timestamp("2023-01-01")
    assert "sun and sky: left out" in repr(climate)


def test_arrays_with_a_sun_need_all_of_it_and_a_place() -> None:
    air = {"temperature": np.zeros(24), "relative_humidity": np.full(24, 0.8)}
    sun = {
        "global_horizontal_irradiance": 100.0,
        "direct_normal_irradiance": 0.0,
        "diffuse_horizontal_irradiance": 100.0,
        "longwave_down": 250.0,
    }
    place = {"latitude": 60.0, "longitude": 15.0, "utc_offset": 1.0}
    assert climate_from_arrays(**air, **sun, **place).has_radiation
    with pytest.raises(ClimateError, match=r"latitude is not stated, but the sun's position needs it"):
        climate_from_arrays(**air, **sun)
    with pytest.raises(ClimateError, match=r"is given without direct_normal_irradiance"):
        climate_from_arrays(**air, **place, global_horizontal_irradiance=100.0)


def test_arrays_that_do_not_fit() -> None:
    with pytest.raises(ClimateError, match=r"wind_speed has 3 values but air_temperature has 4; give as many"):
        climate_from_arrays(np.zeros(4), np.full(4, 0.5), wind_speed=np.ones(3))
    with pytest.raises(ClimateError, match=r"no variable 'sun'; known are air_temperature"):
        climate_from_arrays(np.zeros(4), np.full(4, 0.5), sun=np.ones(4))
    with pytest.raises(ClimateError, match=r"air_temperature holds something that is not a number"):
        climate_from_arrays(["a", "b"], [0.5, 0.5])
    with pytest.raises(ClimateError, match=r"start is 'tomorrowish'; a date such as '2023-01-01' is needed"):
        climate_from_arrays(np.zeros(4), np.full(4, 0.5), start="tomorrowish")
    with pytest.raises(InputError, match=r"relative humidity is 'wet'"):
        constant_climate(5.0, "wet")
    with pytest.raises(ClimateError, match=r"1 hour of air_temperature missing in a row from 1 January 2023 02:00"):
        climate_from_arrays([0.0, np.nan, 0.0], [0.5] * 3)


def test_something_else_than_a_dataset() -> None:
    with pytest.raises(ClimateError, match=r"made from an xarray.Dataset with a time coordinate, not from dict"):
        Climate({})
