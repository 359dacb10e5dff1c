"""Readers, on files written here by code: every format ends up in the same record by the same hour convention."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hygro.climate import Climate, read_climate, read_csv, read_epw, read_tmy3, sample_climate, write_climate
from hygro.climate.humidity import dew_point, ice_activity
from hygro.climate.sun import solar_noon
from hygro.core.formulas import saturation_pressure_water
from hygro.errors import ClimateError, HygroWarning, InputError, OutputError

LATITUDE, LONGITUDE, ELEVATION, UTC_OFFSET = 61.0, 18.0, 120.0, 1.0
BEGIN = pd.date_range("2023-01-01 00:00", periods=8760, freq="h")
HOUR = np.arange(8760)

TMY3_HEADER = (
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),TotCld (tenths),OpqCld (tenths),Dry-bulb (C),"
    "Dew-point (C),RHum (%),Pressure (mbar),Wdir (degrees),Wspd (m/s),Lprecip depth (mm),Lprecip quantity (hr)"
)


def sun_of_hour() -> np.ndarray:
    """Clear sky by plain geometry, averaged over each hour: symmetric about solar noon by construction."""
    noon = 12.0 + UTC_OFFSET - LONGITUDE / 15.0
    parts = (np.arange(60) + 0.5) / 60.0
    hour = BEGIN.hour.to_numpy()[:, None] + parts[None, :]
    declination = np.radians(23.45) * np.sin(2.0 * np.pi * (284 + BEGIN.day_of_year.to_numpy()) / 365.0)[:, None]
    angle = np.radians(15.0 * (hour - noon))
    phi = np.radians(LATITUDE)
    height = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return np.round(800.0 * np.maximum(height, 0.0).mean(axis=1), 1)


def weather() -> dict[str, np.ndarray]:
    """Every column with its own recognisable numbers."""
    sun = sun_of_hour()
    return {
        "temperature": np.round(-5.0 + 10.0 * np.sin(HOUR / 1400.0), 1),
        "humidity": 60.0 + HOUR % 30,
        "pressure": 99000.0 + 100.0 * (HOUR % 20),
        "ghi": sun,
        "dni": np.round(0.5 * sun, 1),
        "dhi": np.round(0.5 * sun, 1),
        "infrared": 220.0 + HOUR % 60,
        "direction": 10.0 * (HOUR % 36),
        "speed": np.round(0.1 * (HOUR % 80), 1),
        "cloud": (HOUR % 11).astype(float),
        "opaque": (HOUR % 8).astype(float),
        "rain": np.where(HOUR % 50 == 0, 1.5, 0.0),
    }


def write_epw(path: Path, columns: dict[str, np.ndarray], years: np.ndarray | None = None) -> Path:
    head = [f"LOCATION,Made up,XX,YYY,invented,000000,{LATITUDE},{LONGITUDE},{UTC_OFFSET},{ELEVATION}"]
    head += ["DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"]
    head += ["HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,made by a test", "COMMENTS 2,"]
    head += ["DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    c = columns
    dew = np.round(dew_point(c["temperature"], np.minimum(c["humidity"], 100.0) / 100.0), 1)
    years = np.full(8760, 2023) if years is None else years
    rows = []
    for k, begin in enumerate(BEGIN):
        fields = [years[k], begin.month, begin.day, begin.hour + 1, 60, "?9?9"]
        fields += [c["temperature"][k], dew[k], c["humidity"][k], c["pressure"][k], 0, 0, c["infrared"][k]]
        fields += [c["ghi"][k], c["dni"][k], c["dhi"][k], 0, 0, 0, 0, c["direction"][k], c["speed"][k]]
        fields += [c["cloud"][k], c["opaque"][k], 20, 77777, 9, "999999999", 10, 0.1, 0, 88, 0.2, c["rain"][k], 1.0]
        rows.append(",".join(str(field) for field in fields))
    path.write_text("\n".join([*head, *rows]) + "\n")
    return path


def write_tmy3(path: Path, columns: dict[str, np.ndarray]) -> Path:
    c = columns
    dew = np.round(dew_point(c["temperature"], c["humidity"] / 100.0), 1)
    rows = [f'000001,"MADE UP",XX,{UTC_OFFSET},{LATITUDE},{LONGITUDE},{ELEVATION}', TMY3_HEADER]
    for k, begin in enumerate(BEGIN):
        year = 1990 + begin.month % 5
        fields = [f"{begin.month:02d}/{begin.day:02d}/{year}", f"{begin.hour + 1:02d}:00", c["ghi"][k], c["dni"][k]]
        fields += [c["dhi"][k], int(c["cloud"][k]), int(c["opaque"][k]), c["temperature"][k], dew[k], c["humidity"][k]]
        fields += [c["pressure"][k] / 100.0, c["direction"][k], c["speed"][k], c["rain"][k], 1]
        rows.append(",".join(str(field) for field in fields))
    path.write_text("\n".join(rows) + "\n")
    return path


def independent_zenith(universal: pd.DatetimeIndex) -> np.ndarray:
    """Zenith angle from Spencer's declination and equation of time (1971), which the package does not use."""
    from pvlib import solarposition

    day = universal.day_of_year.to_numpy()
    minutes = universal.hour.to_numpy() * 60.0 + universal.minute.to_numpy()
    angle = minutes / 4.0 - 180.0 + LONGITUDE + solarposition.equation_of_time_spencer71(day) / 4.0
    declination = solarposition.declination_spencer71(day)
    return np.degrees(solarposition.solar_zenith_analytical(np.radians(LATITUDE), np.radians(angle), declination))


def write_plain(path: Path, columns: dict[str, np.ndarray], stamps: pd.DatetimeIndex) -> Path:
    table = pd.DataFrame({"when": stamps.strftime("%Y-%m-%d %H:%M")} | columns)
    table.to_csv(path, index=False)
    return path


PLACE = {"latitude": LATITUDE, "longitude": LONGITUDE, "elevation": ELEVATION, "utc_offset": UTC_OFFSET}
PLAIN = {
    "time": "when",
    "air_temperature": "temperature",
    "relative_humidity": "humidity",
    "air_pressure": "pressure",
    "wind_speed": "speed",
    "wind_direction": "direction",
    "global_horizontal_irradiance": "ghi",
    "direct_normal_irradiance": "dni",
    "diffuse_horizontal_irradiance": "dhi",
    "longwave_down": "infrared",
    "rain": "rain",
    "cloud_cover": "cloud",
}
UNITS = {"relative_humidity": "%", "cloud_cover": "tenths"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("climates")


@pytest.fixture(scope="module")
def epw(folder: Path) -> Climate:
    return read_climate(write_epw(folder / "made_up.epw", weather()))


@pytest.fixture(scope="module")
def tmy3(folder: Path) -> Climate:
    return read_climate(write_tmy3(folder / "made_up.csv", weather()))


def centre_of_sun(climate: Climate) -> float:
    sun = climate.data["global_horizontal_irradiance"].to_numpy()
    middle = (climate.time - pd.Timedelta(minutes=30)).hour.to_numpy() + 0.5
    return float((sun * middle).sum() / sun.sum())


def test_epw_fields_land_in_their_variables(epw: Climate) -> None:
    """Source: the order of the 35 fields in the EPW format."""
    data, wrote = epw.data, weather()
    np.testing.assert_array_equal(data["air_temperature"], wrote["temperature"])
    np.testing.assert_allclose(data["relative_humidity"], wrote["humidity"] / 100.0, rtol=1e-14)
    np.testing.assert_array_equal(data["air_pressure"], wrote["pressure"])
    np.testing.assert_array_equal(data["global_horizontal_irradiance"], wrote["ghi"])
    np.testing.assert_array_equal(data["direct_normal_irradiance"], wrote["dni"])
    np.testing.assert_array_equal(data["diffuse_horizontal_irradiance"], wrote["dhi"])
    np.testing.assert_array_equal(data["longwave_down"], wrote["infrared"])
    np.testing.assert_array_equal(data["wind_direction"], wrote["direction"])
    np.testing.assert_array_equal(data["wind_speed"], wrote["speed"])
    np.testing.assert_array_equal(data["rain"], wrote["rain"])
    np.testing.assert_allclose(data["cloud_cover"], wrote["cloud"] / 10.0, rtol=1e-14)
    assert (epw.latitude, epw.longitude, epw.elevation, epw.utc_offset) == (61.0, 18.0, 120.0, 1.0)
    assert epw.data.attrs["notes"] == ""


def test_hour_1_of_both_formats_ends_at_one_o_clock(epw: Climate, tmy3: Climate) -> None:
    for climate in (epw, tmy3):
        assert climate.time[0] == pd.Timestamp("2023-01-01 01:00")
        assert climate.time[-1] == pd.Timestamp("2024-01-01 00:00")
        assert climate.time.tz is None


def test_sun_is_symmetric_about_solar_noon_in_both_formats(epw: Climate, tmy3: Climate) -> None:
    """Analytic: the irradiance written is symmetric about solar noon; a shift of an hour would show as an hour."""
    noon = solar_noon(LONGITUDE, UTC_OFFSET)
    assert noon == pytest.approx(11.8)
    for climate in (epw, tmy3):
        assert centre_of_sun(climate) == pytest.approx(noon, abs=0.01)


def test_epw_and_tmy3_of_the_same_weather_agree(epw: Climate, tmy3: Climate) -> None:
    for name in epw.data.data_vars:
        if name != "longwave_down":  # which TMY3 lacks
            np.testing.assert_allclose(tmy3.data[name], epw.data[name], rtol=1e-12, err_msg=name)
    assert "8760 hours of longwave_down computed from cloud and dew point" in tmy3.data.attrs["notes"]
    assert "typical year: months of 1990 to 1994" in tmy3.data.attrs["notes"]


def test_longwave_is_computed_from_opaque_cloud_of_the_hour(tmy3: Climate) -> None:
    """Independent evaluation of Clark-Allen and Walton for one hour."""
    k = 5000
    wrote = weather()
    temperature = wrote["temperature"][k - 1 : k + 1].mean()
    humidity = wrote["humidity"][k - 1 : k + 1].mean() / 100.0
    tenths = wrote["opaque"][k - 1 : k + 1].mean()
    # Magnus' formula, of another author than the package's, gives the dew point to 0.05 K.
    gamma = np.log(humidity) + 17.62 * temperature / (243.12 + temperature)
    dew = 243.12 * gamma / (17.62 - gamma) + 273.15
    sky = (0.787 + 0.764 * np.log(dew / 273.0)) * (1 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3)
    expected = sky * 5.670374e-8 * (temperature + 273.15) ** 4
    assert float(tmy3.data["longwave_down"][k]) == pytest.approx(expected, abs=0.1)


def test_epw_missing_codes_do_not_become_weather(tmp_path: Path) -> None:
    columns = weather()
    columns["infrared"][100:120] = 9999.0
    columns["temperature"][200:203] = 99.9
    columns["humidity"][210] = 999.0
    columns["direction"][215] = 999.0
    columns["rain"][:] = 999.0
    with pytest.warns(HygroWarning, match=r"rain is missing in 8760 of 8760 hours and taken as 0") as caught:
        climate = read_epw(write_epw(tmp_path / "codes.epw", columns))
    message = str(caught[0].message)
    assert "3 hours of air_temperature filled, first 9 January 2023 09:00" in message
    assert "wind_direction filled" in message
    data = climate.data
    assert float(data["rain"].sum()) == 0.0
    assert float(data["longwave_down"].max()) < 400.0
    assert "20 hours of longwave_down computed" in data.attrs["notes"]
    expected = np.interp([201, 202, 203], [200, 204], data["air_temperature"].to_numpy()[[199, 203]])
    np.testing.assert_allclose(data["air_temperature"].to_numpy()[200:203], expected, atol=1e-9)


def test_epw_of_mixed_years_with_a_leap_february_is_put_on_2023(tmp_path: Path) -> None:
    years = np.where(BEGIN.month == 2, 1996, 2003)
    climate = read_epw(write_epw(tmp_path / "typical.epw", weather(), years))
    assert climate.years == (2023,)
    assert "typical year: months of 1996 to 2003" in climate.data.attrs["notes"]


def changed(file: Path, change: Callable[[list[str]], None]) -> Path:
    """The file with its lines changed."""
    lines = file.read_text().splitlines()
    change(lines)
    file.write_text("\n".join(lines) + "\n")
    return file


def cell(line: int, place: int, content: str) -> Callable[[list[str]], None]:
    """A change of one cell."""

    def change(lines: list[str]) -> None:
        cells = lines[line].split(",")
        cells[place] = content
        lines[line] = ",".join(cells)

    return change


def column_of(place: int, header: int, turn: Callable[[float], float]) -> Callable[[list[str]], None]:
    """A change of a whole column."""

    def change(lines: list[str]) -> None:
        for number in range(header, len(lines)):
            cell(number, place, str(turn(float(lines[number].split(",")[place]))))(lines)

    return change


EPW_LINE, TMY3_LINE = 8 + 4000, 2 + 4000  # row 4001, 16 June, 17:00


def test_a_comma_at_the_end_of_each_row_does_no_harm(tmp_path: Path, epw: Climate, tmy3: Climate) -> None:
    def trail(header: int) -> Callable[[list[str]], None]:
        return lambda lines: lines.__setitem__(slice(header, None), [line + "," for line in lines[header:]])

    assert read_epw(changed(write_epw(tmp_path / "made_up.epw", weather()), trail(8))) == epw
    assert read_tmy3(changed(write_tmy3(tmp_path / "made_up.csv", weather()), trail(2))) == tmy3
    with pytest.raises(ClimateError, match=r"row 1 of the data has 36 fields instead of 35"):
        read_epw(changed(write_epw(tmp_path / "made_up.epw", weather()), column_of(34, 8, lambda _: "1,7")))


def test_epw_without_its_last_fields_is_read(tmp_path: Path, epw: Climate) -> None:
    def shorten(lines: list[str]) -> None:
        lines[8:] = [line.rsplit(",", 3)[0] for line in lines[8:]]

    file = changed(write_epw(tmp_path / "old.epw", weather()), shorten)
    with pytest.warns(HygroWarning, match="rain is missing in 8760 of 8760 hours"):
        climate = read_epw(file)
    np.testing.assert_array_equal(climate.data["cloud_cover"], epw.data["cloud_cover"])


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda lines: lines.pop(EPW_LINE), None),
        (
            lambda lines: lines.__delitem__(slice(EPW_LINE, EPW_LINE + 9)),
            "9 hours missing in a row from 16 June 2023 17:00; at most 6 are filled.",
        ),
        (
            lambda lines: lines.insert(EPW_LINE, lines[EPW_LINE]),
            "the stamp 16 June 2023 17:00 occurs more than once (1 repeated rows)",
        ),
        (
            lambda lines: lines.__setitem__(slice(8, None), [row for row in lines[8:] for _ in range(4)]),
            "holds 4 rows for each hour (35040 in all); one is needed. Average them (sum the rain) to whole hours",
        ),
        (
            lambda lines: lines.__delitem__(slice(8, 8 + 24)),
            "holds 8736 hourly rows and ends with '2023, 12, 31, 24'; a year has 8760 (8784). The file was",
        ),
        (
            column_of(6, 8, lambda value: round(value + 273.15, 2)),
            "air_temperature is around 268.2, which looks like kelvin; degrees Celsius is needed.",
        ),
        (
            column_of(8, 8, lambda value: value / 100.0),
            "relative_humidity is never above 0.0089, which looks like fractions taken for percent.",
        ),
        (
            cell(EPW_LINE, 6, "mild"),
            "dry-bulb temperature is 'mild' in row 4001 of the data; a number is needed. Repair the cell, or empty it.",
        ),
        (
            cell(EPW_LINE, 1, "13"),
            "row 4001 of the data is stamped 'year 2023, month 13, day 16, hour 17'; a day of the calendar and an",
        ),
        (cell(8 + 58 * 24, 2, "29"), "is stamped 'year 2023, month 2, day 29, hour 1'; a day of the calendar"),
        (
            lambda lines: [cell(n, 3, str(int(lines[n].split(",")[3]) - 1))(lines) for n in range(8, len(lines))],
            "row 1 of the data is stamped 'year 2023, month 1, day 1, hour 0'",
        ),
        (
            cell(0, 8, "CET"),
            "utc_offset is 'CET' in its LOCATION line; a number from -14 to 14 is needed. Repair the l",
        ),
    ],
)
def test_epw_that_is_not_a_year_of_weather(
    change: Callable[[list[str]], object], sentence: str | None, tmp_path: Path
) -> None:
    file = changed(write_epw(tmp_path / "made_up.epw", weather()), change)
    if sentence is None:
        with pytest.warns(HygroWarning, match=r"1 hour of air_temperature filled, first 16 June 2023 17:00"):
            assert len(read_epw(file)) == 8760
        return
    with pytest.raises(ClimateError) as caught:
        read_epw(file)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            lambda lines: lines.insert(TMY3_LINE, lines[TMY3_LINE]),
            "the stamp 16 June 2023 17:00 occurs more than once (1 repeated rows)",
        ),
        (
            lambda lines: lines.__setitem__(TMY3_LINE, lines[TMY3_LINE][:40]),
            "row 4001 of the data has 8 fields instead of 15. The file is damaged: download it again.",
        ),
        (
            cell(TMY3_LINE, 0, "16/06/1991"),
            "row 4001 of the data is stamped 'year 1991, month 16, day 06, hour 17'; a day of the calendar",
        ),
        (cell(TMY3_LINE, 1, "noon"), "row 4001 of the data is stamped 'year 1991, month 06, day 16, hour noon'"),
        (cell(TMY3_LINE, 7, "mild"), "Dry-bulb (C) is 'mild' in row 4001 of the data; a number is needed."),
        (cell(0, 3, "north"), "utc_offset is 'north' in its first line; a number from -14 to 14 is needed."),
        (cell(0, 6, "9000"), "elevation is '9000' in its first line; a number from -6000 to 6000 is needed."),
        (lambda lines: lines.__setitem__(0, "1,2"), "its first line has 2 fields instead of 7."),
        (cell(1, 8, "Dew"), "lacks the TMY3 column 'Dew-point (C)'; the format of January 2015 is needed."),
        (
            lambda lines: lines.__delitem__(slice(TMY3_LINE, None)),
            "holds 4000 hourly rows and ends with '1991, 06, 16, 16'; a year has 8760 (8784).",
        ),
    ],
)
def test_tmy3_that_is_not_a_year_of_weather(
    change: Callable[[list[str]], object], sentence: str, tmp_path: Path
) -> None:
    file = changed(write_tmy3(tmp_path / "made_up.csv", weather()), change)
    with pytest.raises(ClimateError) as caught:
        read_tmy3(file)
    assert sentence in str(caught.value)


def test_csv_reads_the_same_weather(epw: Climate, tmp_path: Path) -> None:
    ends = write_plain(tmp_path / "ends.csv", weather(), BEGIN + pd.Timedelta(hours=1))
    climate = read_csv(ends, PLAIN, **PLACE, units=UNITS)
    for name in epw.data.data_vars:
        np.testing.assert_allclose(climate.data[name], epw.data[name], rtol=1e-12, err_msg=name)
    starts = write_plain(tmp_path / "starts.csv", weather(), BEGIN)
    assert read_csv(starts, PLAIN, **PLACE, units=UNITS, stamp="start") == climate


def test_csv_stamps_taken_for_the_wrong_end_are_noticed(tmp_path: Path) -> None:
    starts = write_plain(tmp_path / "starts.csv", weather(), BEGIN)
    with pytest.warns(HygroWarning, match=r"centred at 10:48 but the sun is highest at 11:48 there, 1.0 h apart"):
        read_csv(starts, PLAIN, **PLACE, units=UNITS)


def test_csv_in_other_units(epw: Climate, tmp_path: Path) -> None:
    columns = weather()
    columns["temperature"] = columns["temperature"] * 1.8 + 32.0
    columns["pressure"] = columns["pressure"] / 100.0
    columns["speed"] = columns["speed"] / 0.44704
    columns["ghi"] = columns["ghi"] * 3.6
    columns["rain"] = columns["rain"] / 25.4
    file = write_plain(tmp_path / "customary.csv", columns, BEGIN + pd.Timedelta(hours=1))
    units = UNITS | {
        "air_temperature": "degF",
        "air_pressure": "hPa",
        "wind_speed": "mph",
        "global_horizontal_irradiance": "kJ/m2",
        "rain": "in",
    }
    climate = read_csv(file, PLAIN, **PLACE, units=units)
    for name in epw.data.data_vars:
        np.testing.assert_allclose(climate.data[name], epw.data[name], rtol=1e-9, atol=1e-9, err_msg=name)


def test_csv_humidity_over_ice_is_converted_below_freezing_only(tmp_path: Path) -> None:
    file = write_plain(tmp_path / "ice.csv", weather(), BEGIN + pd.Timedelta(hours=1))
    over_water = read_csv(file, PLAIN, **PLACE, units=UNITS).data
    over_ice = read_csv(file, PLAIN, **PLACE, units=UNITS, humidity_over="ice").data
    temperature = over_water["air_temperature"].to_numpy()
    ratio = (over_ice["relative_humidity"] / over_water["relative_humidity"]).to_numpy()
    np.testing.assert_array_equal(ratio[temperature >= 0.0], 1.0)
    np.testing.assert_allclose(ratio[temperature < 0.0], ice_activity(temperature[temperature < 0.0]), rtol=1e-12)
    assert ratio.min() < 0.88  # about -14 degC


def test_csv_with_only_dew_point_and_global_sun(tmp_path: Path) -> None:
    columns = weather()
    columns["dew"] = dew_point(columns["temperature"], columns["humidity"] / 100.0)
    file = write_plain(tmp_path / "sparse.csv", columns, BEGIN + pd.Timedelta(hours=1))
    names = {
        "time": "when",
        "air_temperature": "temperature",
        "dew_point": "dew",
        "wind_speed": "speed",
        "wind_direction": "direction",
        "global_horizontal_irradiance": "ghi",
        "rain": "rain",
    }
    with pytest.warns(HygroWarning, match=r"cloud estimated from the sun"):
        climate = read_csv(file, names, **PLACE)
    data = climate.data
    np.testing.assert_allclose(data["relative_humidity"], columns["humidity"] / 100.0, atol=1e-4)
    assert "split from global_horizontal_irradiance" in data.attrs["notes"]
    assert "air_pressure is not given and taken as 99" in data.attrs["notes"]
    assert float(data["cloud_cover"].min()) >= 0.0
    assert float(data["cloud_cover"].max()) <= 1.0
    # Diffuse never exceeds global, and the beam adds up with it wherever the sun is clear of the horizon.
    assert bool((data["diffuse_horizontal_irradiance"] <= data["global_horizontal_irradiance"] + 1e-9).all())


def test_csv_split_adds_up_with_an_independent_sun_position(tmp_path: Path) -> None:
    """The split's closure, checked with another solar position algorithm than the one used."""
    file = write_plain(tmp_path / "global.csv", weather(), BEGIN + pd.Timedelta(hours=1))
    names = {ours: theirs for ours, theirs in PLAIN.items() if theirs not in ("dni", "dhi")}
    data = read_csv(file, names, **PLACE, units=UNITS).data
    middle = (BEGIN + pd.Timedelta(minutes=30) - pd.Timedelta(hours=UTC_OFFSET)).tz_localize("UTC")
    cosine = np.cos(np.radians(independent_zenith(middle)))
    high = cosine > 0.2
    total = data["diffuse_horizontal_irradiance"].to_numpy() + data["direct_normal_irradiance"].to_numpy() * cosine
    np.testing.assert_allclose(total[high], data["global_horizontal_irradiance"].to_numpy()[high], rtol=0.02)


def test_csv_without_sun_must_say_so(tmp_path: Path) -> None:
    file = write_plain(tmp_path / "air.csv", weather(), BEGIN + pd.Timedelta(hours=1))
    names = {k: v for k, v in PLAIN.items() if k in ("time", "air_temperature", "relative_humidity", "rain")}
    constants = {"wind_speed": 2.0, "wind_direction": 270.0}
    with pytest.raises(ClimateError, match=r"has no global_horizontal_irradiance. Name its column, or state has_radia"):
        read_csv(file, names, **PLACE, units=UNITS, constants=constants)
    climate = read_csv(file, names, **PLACE, units=UNITS, constants=constants, has_radiation=False)
    assert not climate.has_radiation
    assert float(climate.data["wind_speed"].min()) == 2.0
    assert "wind_speed taken as 2" in climate.data.attrs["notes"]


def test_csv_with_semicolons_decimal_commas_and_own_dates(epw: Climate, tmp_path: Path) -> None:
    table = pd.DataFrame({"when": (BEGIN + pd.Timedelta(hours=1)).strftime("%d.%m.%Y %H:%M")} | weather())
    file = tmp_path / "continental.csv"
    table.to_csv(file, sep=";", decimal=",", index=False)
    climate = read_csv(file, PLAIN, **PLACE, units=UNITS, delimiter=";", decimal=",", time_format="%d.%m.%Y %H:%M")
    np.testing.assert_allclose(climate.data["air_temperature"], epw.data["air_temperature"], rtol=1e-12)


def test_short_gaps_are_bridged_and_reported(tmp_path: Path) -> None:
    columns = weather()
    columns["speed"][50:54] = np.nan
    columns["direction"][[1, 3]] = [350.0, 10.0]
    columns["direction"][2] = np.nan
    noon = 24 * 180 + 11
    true_sun = columns["ghi"][noon - 1 : noon + 2].copy()
    columns["ghi"][noon - 1 : noon + 2] = np.nan
    columns["rain"][60:62] = np.nan
    stamps = BEGIN + pd.Timedelta(hours=1)
    keep = np.ones(8760, dtype=bool)
    keep[300:305] = False  # five rows left out altogether
    file = write_plain(tmp_path / "gaps.csv", {k: v[keep] for k, v in columns.items()}, stamps[keep])
    with pytest.warns(HygroWarning, match=r"9 hours of wind_speed filled, first 3 January 2023 03:00"):
        climate = read_csv(file, PLAIN, **PLACE, units=UNITS)
    data = climate.data
    assert len(climate) == 8760
    np.testing.assert_allclose(
        data["wind_speed"][50:54], np.interp([50, 51, 52, 53], [49, 54], columns["speed"][[49, 54]])
    )
    assert float(data["wind_direction"][2]) % 360.0 == pytest.approx(0.0, abs=1e-6)
    np.testing.assert_allclose(data["global_horizontal_irradiance"][noon - 1 : noon + 2], true_sun, rtol=0.01)
    assert float(data["rain"][60:62].sum()) == 0.0
    assert "5 hours of air_temperature filled" in data.attrs["notes"]


def test_writing_and_reading_gives_an_equal_record(epw: Climate, tmp_path: Path) -> None:
    for climate in (epw, sample_climate("subarctic"), sample_climate("wet_coast").period("1 July")):
        file = write_climate(climate, tmp_path / "again.csv", replace=True)
        assert read_climate(file) == climate
        assert read_climate(file, "own").title == climate.title


def test_dew_point_inverts_relative_humidity() -> None:
    temperature = np.linspace(-40.0, 40.0, 81)
    humidity = np.linspace(0.2, 1.0, 81)
    found = dew_point(temperature, humidity)
    np.testing.assert_allclose(
        saturation_pressure_water(found), humidity * saturation_pressure_water(temperature), rtol=2e-4
    )


def test_unit_that_is_not_understood(tmp_path: Path) -> None:
    file = write_plain(tmp_path / "plain.csv", weather(), BEGIN + pd.Timedelta(hours=1))
    with pytest.raises(InputError, match=r"unit of wind_speed is 'banana', which is no unit of speed"):
        read_csv(file, PLAIN, **PLACE, units=UNITS | {"wind_speed": "banana"})
    with pytest.raises(ClimateError, match=r"unit of longwave_down is 'lux'; one of W m-2"):
        read_csv(file, PLAIN, **PLACE, units=UNITS | {"longwave_down": "lux"})


def test_tmy3_reader_refuses_epw_and_the_other_way_round(folder: Path, epw: Climate, tmy3: Climate) -> None:
    with pytest.raises(ClimateError, match=r"'made_up.epw' is not a TMY3 file: its second line"):
        read_tmy3(folder / "made_up.epw")
    with pytest.raises(ClimateError, match=r"'made_up.csv' is not an EPW file: its first line is '000001"):
        read_epw(folder / "made_up.csv")


def test_a_weather_file_is_never_lost(epw: Climate, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not replaced unasked, and neither gone nor half where the writing is interrupted."""
    file = tmp_path / "mine.csv"
    file.write_text("precious")
    with pytest.raises(OutputError, match=r"mine.csv' exists already. Choose another name, or say replace=True"):
        write_climate(epw, file)
    assert file.read_text() == "precious"
    assert read_climate(write_climate(epw, file, replace=True)) == epw
    before = file.read_bytes()
    whole = Path.write_bytes

    def half(self: Path, content: bytes) -> int:
        whole(self, content[: len(content) // 2])
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", half)
    with pytest.raises(KeyboardInterrupt):
        write_climate(sample_climate("hut_valley"), file, replace=True)
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]
