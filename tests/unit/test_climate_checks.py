"""Bad input, one case each, with the sentence the user reads."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hygro.climate import Climate, read_climate, read_csv, sample_climate, write_climate
from hygro.climate.check import longest_run
from hygro.climate.repair import finish
from hygro.errors import ClimateError, HygroWarning, InputError
from hygro.variables import CLIMATE

ATTRS = {
    "title": "x.csv",
    "source": "a test",
    "latitude": 62.4,
    "longitude": 14.2,
    "elevation": 520.0,
    "utc_offset": 1.0,
    "has_radiation": 1,
}
Columns = dict[str, np.ndarray]


@pytest.fixture
def columns() -> Columns:
    data = sample_climate("hut_valley").data
    return {name: data[name].to_numpy().copy() for name in CLIMATE}


@pytest.fixture
def time() -> pd.DatetimeIndex:
    return sample_climate("hut_valley").time


def row(stamp: str) -> int:
    return int((pd.Timestamp(stamp) - pd.Timestamp("2023-01-01 01:00")) / pd.Timedelta(hours=1))


def hole(columns: Columns) -> None:
    columns["wind_speed"][row("2023-03-12 03:00") :][:31] = np.nan


def codes(columns: Columns) -> None:
    columns["rain"][40:60] = 999.0


def percent(columns: Columns) -> None:
    columns["relative_humidity"] *= 100.0


def kelvin(columns: Columns) -> None:
    columns["air_temperature"] += 273.15


def fahrenheit(columns: Columns) -> None:
    columns["air_temperature"] = columns["air_temperature"] * 1.8 + 82.0


def hectopascal(columns: Columns) -> None:
    columns["air_pressure"] /= 100.0


def kilopascal(columns: Columns) -> None:
    columns["air_pressure"] /= 1000.0


def oktas(columns: Columns) -> None:
    columns["cloud_cover"] *= 8.0


def impossible_humidity(columns: Columns) -> None:
    columns["relative_humidity"][100] = 1.2


def percent_twice(columns: Columns) -> None:
    columns["relative_humidity"] /= 100.0


def kilowatt(columns: Columns) -> None:
    columns["global_horizontal_irradiance"] /= 1000.0


def megajoule(columns: Columns) -> None:
    columns["global_horizontal_irradiance"] *= 0.0036


def cloud_percent(columns: Columns) -> None:
    columns["cloud_cover"] *= 100.0


def negative_sun(columns: Columns) -> None:
    columns["global_horizontal_irradiance"][500] = -40.0


def too_hot(columns: Columns) -> None:
    columns["air_temperature"][4000:4003] = 71.5


def endless(columns: Columns) -> None:
    columns["wind_speed"][7] = np.inf


def no_wind(columns: Columns) -> None:
    columns["wind_speed"][:] = np.nan


def no_sun(columns: Columns) -> None:
    del columns["global_horizontal_irradiance"]
    del columns["diffuse_horizontal_irradiance"]


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (
            hole,
            "Climate 'x.csv': 31 hours of wind_speed missing in a row from 12 March 2023 03:00; at most 6 are filled. "
            "Fill the hole from a neighbouring station, or read with max_gap_hours=31 to bridge it.",
        ),
        (
            codes,
            "Climate 'x.csv': rain is 999 in 20 hours, first 2 January 2023 17:00; that is a code for a missing value, "
            "not weather. Empty those cells, or read the file by read_csv with missing=[999].",
        ),
        (
            percent,
            "Climate 'x.csv': relative_humidity is around 80, which looks like percent; a fraction from 0 to 1 is "
            "needed. Convert it, or state it to read_csv: units={'relative_humidity': '%'}.",
        ),
        (kelvin, "which looks like kelvin; degrees Celsius is needed."),
        (fahrenheit, "which looks like degrees Fahrenheit; degrees Celsius is needed."),
        (hectopascal, "air_pressure is around 954.5, which looks like hectopascal; pascal is needed."),
        (kilopascal, "which looks like kilopascal; pascal is needed."),
        (oktas, "which looks like oktas; a fraction from 0 to 1 is needed."),
        (cloud_percent, "cloud_cover is around 70, which looks like percent; a fraction from 0 to 1 is needed."),
        (
            percent_twice,
            "Climate 'x.csv': relative_humidity is never above 0.0099, which looks like fractions taken for percent. "
            "Multiply the column by 100, or read it by read_csv without stating percent.",
        ),
        (
            kilowatt,
            "W m-2 in a year, which looks like kilowatt per square metre. Convert the column, or read it by read_csv "
            "with units={'global_horizontal_irradiance': 'kW/m2'}.",
        ),
        (megajoule, "W m-2 in a year, which looks like megajoule an hour per square metre."),
        (
            impossible_humidity,
            "Climate 'x.csv': relative_humidity is 1.2 at 5 January 2023 05:00 (1 hour outside); 0 to 1 is plausible. "
            "Check the column, its unit and the sensor.",
        ),
        (
            negative_sun,
            "global_horizontal_irradiance is -40 W m-2 at 21 January 2023 21:00 (1 hour outside); 0 to 1500 W m-2",
        ),
        (too_hot, "air_temperature is 71.5 degC at 16 June 2023 17:00 (3 hours outside); -60 to 60 degC is plausible."),
        (endless, "wind_speed is inf m s-1 at 1 January 2023 08:00"),
        (no_wind, "Climate 'x.csv' has no wind_speed in any hour. Name its column, or state one number for all hours"),
        (no_sun, "has no global_horizontal_irradiance. Name its column, or state has_radiation=False to leave sun"),
    ],
    ids=lambda value: value.__name__ if callable(value) else "",
)
def test_columns_that_cannot_be_weather(
    columns: Columns, time: pd.DatetimeIndex, spoil: Callable[[Columns], None], sentence: str
) -> None:
    spoil(columns)
    with pytest.raises(ClimateError) as caught:
        finish(time, columns, ATTRS)
    assert sentence in str(caught.value)


def duplicated(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return time[:50].append(time[49:-1])


def unsorted(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    order = np.arange(len(time))
    order[[100, 101]] = [101, 100]
    return time[order]


def zoned(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return time.tz_localize("Etc/GMT-1")


def half_past(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return time + pd.Timedelta(minutes=30)


def ten_minutes(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return pd.date_range(time[0], periods=len(time), freq="10min")


def blank_stamp(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return time[:7].append(pd.DatetimeIndex([pd.NaT])).append(time[8:])


def left_out_leap_day(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    leap = pd.date_range("2024-01-01 01:00", "2025-01-01 00:00", freq="h")
    begin = leap - pd.Timedelta(hours=1)
    return leap[(begin.month != 2) | (begin.day != 29)]


def a_week_left_out(time: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return time[:1000].append(time[1000:] + pd.Timedelta(hours=168))


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (
            duplicated,
            "Climate 'x.csv': the stamp 3 January 2023 02:00 occurs more than once (1 repeated rows); each hour may "
            "occur once. An hour repeated in autumn means summer time: write the record in standard time.",
        ),
        (
            unsorted,
            "Climate 'x.csv': the stamp 5 January 2023 05:00 comes after a later one; stamps must rise. Sort the rows",
        ),
        (zoned, "Climate 'x.csv': the stamps carry a time zone (2023-01-01 01:00:00+01:00); local standard time"),
        (half_past, "the stamp 1 January 2023 01:30 is not a whole hour (8760 hours are not); whole hours are needed."),
        (ten_minutes, "Climate 'x.csv': the stamps are 10 minutes apart; hourly values are needed."),
        (blank_stamp, "Climate 'x.csv': row 8 has no readable time stamp. Repair or delete that row."),
        (
            left_out_leap_day,
            "Climate 'x.csv' leaves out 29 February 2024, a leap day. Put the record on a year without one (such as "
            "2023), or add the day.",
        ),
        (a_week_left_out, "Climate 'x.csv': 168 hours missing in a row from 11 February 2023 17:00; at most 6 are fil"),
    ],
    ids=lambda value: value.__name__ if callable(value) else "",
)
def test_stamps_that_cannot_be_used(
    columns: Columns, time: pd.DatetimeIndex, spoil: Callable[[pd.DatetimeIndex], pd.DatetimeIndex], sentence: str
) -> None:
    with pytest.raises(ClimateError) as caught:
        finish(spoil(time), columns, ATTRS)
    assert sentence in str(caught.value)


def test_slight_sensor_errors_are_put_right_and_reported(columns: Columns, time: pd.DatetimeIndex) -> None:
    columns["relative_humidity"][10:12] = 1.03
    columns["global_horizontal_irradiance"][:4] = -3.0
    with pytest.warns(HygroWarning, match=r"2 hours of relative_humidity slightly above 1 set to 1; 4 hours of global"):
        climate = finish(time, columns, ATTRS)
    assert float(climate.data["relative_humidity"][10]) == 1.0
    assert float(climate.data["global_horizontal_irradiance"].min()) == 0.0


@pytest.mark.parametrize(("hours", "centre"), [(1, "13:"), (-1, "11:"), (12, "00:")])
def test_sun_at_the_wrong_hour_is_noticed(columns: Columns, time: pd.DatetimeIndex, hours: int, centre: str) -> None:
    for name in columns:
        columns[name] = np.roll(columns[name], hours)
    with pytest.warns(HygroWarning, match=rf"irradiance is centred at {centre}\d\d but the sun is highest at 12:03"):
        finish(time, columns, ATTRS)


def test_a_year_without_sun_is_noticed(columns: Columns, time: pd.DatetimeIndex) -> None:
    for name in ("global_horizontal_irradiance", "direct_normal_irradiance", "diffuse_horizontal_irradiance"):
        columns[name] = np.zeros(8760)
    with pytest.warns(HygroWarning, match=r"global_horizontal_irradiance is 0 in all of 8760 hours. Check its column"):
        finish(time, columns, ATTRS)


def test_constant_dry_air_is_no_mistaken_percent(columns: Columns, time: pd.DatetimeIndex) -> None:
    columns["relative_humidity"][:] = 0.01
    assert float(finish(time, columns, ATTRS).data["relative_humidity"].max()) == 0.01


def test_longer_gaps_are_bridged_when_asked_for(columns: Columns, time: pd.DatetimeIndex) -> None:
    hole(columns)
    with pytest.warns(HygroWarning, match=r"31 hours of wind_speed filled, first 12 March 2023 03:00"):
        climate = finish(time, columns, ATTRS, max_gap_hours=31)
    assert "31 hours of wind_speed filled" in climate.data.attrs["notes"]


def test_long_cloud_gaps_are_refused_where_the_sky_depends_on_them(columns: Columns, time: pd.DatetimeIndex) -> None:
    columns["cloud_cover"][100:120] = np.nan
    finish(time, columns, ATTRS)  # the long-wave tells the cloud
    del columns["longwave_down"]
    with pytest.raises(ClimateError, match=r"20 hours of cloud_cover missing in a row from 5 January 2023 05:00"):
        finish(time, columns, ATTRS)


def test_ignored_column_counts_as_missing(columns: Columns, time: pd.DatetimeIndex) -> None:
    columns["rain"][7] = 300.0
    with pytest.raises(ClimateError, match=r"rain is 300 kg m-2 .* left out by ignore=\['rain'\]"):
        finish(time, columns, ATTRS)
    with pytest.warns(HygroWarning, match=r"rain is missing in 8760 of 8760 hours"):
        climate = finish(time, columns, ATTRS, ignore=["rain"])
    assert float(climate.data["rain"].sum()) == 0.0
    with pytest.raises(ClimateError, match=r"ignore names 'snow', no variable"):
        finish(time, columns, ATTRS, ignore=["snow"])


def test_longest_run() -> None:
    assert longest_run(np.array([False, True, True, False, True])) == (1, 2)
    assert longest_run(np.zeros(3, dtype=bool)) == (0, 0)
    assert longest_run(np.ones(3, dtype=bool)) == (0, 3)


# Files ------------------------------------------------------------------------------------------------------------


def own_text() -> str:
    return Path(write_climate(sample_climate("hut_valley"), TEMPORARY / "own.csv")).read_text()


TEMPORARY = Path()


@pytest.fixture(autouse=True)
def _temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "TEMPORARY", tmp_path)


def written(name: str, content: bytes | str) -> Path:
    file = TEMPORARY / name
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return file


EPW_HEAD = "LOCATION,Made up,XX,YYY,invented,0,61.0,18.0,1.0,120\n" + "\n".join(["x,1"] * 7) + "\n"
EPW_ROW = ",".join(["2023", "1", "1", "1", "60", "?", *["1.0"] * 29])


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: TEMPORARY / "nowhere.epw", "there is no such file. Looked for /"),
        (lambda: TEMPORARY, "is a folder; name the file inside it."),
        (lambda: 5, "A climate file is 5; a path (text) is needed."),
        (lambda: written("empty.epw", b"\n \n"), "Climate 'empty.epw' is empty; an EPW file, a TMY3 file"),
        (lambda: written("junk.epw", bytes(range(256)) * 40), "Climate 'junk.epw' is not a text file ("),
        (lambda: written("packed.epw", gzip.compress(b"LOCATION,")), "Climate 'packed.epw' is compressed; unpack it"),
        (lambda: written("sheet.xlsx", b"PK\x03\x04zzz"), "'sheet.xlsx' is a zip archive or a spreadsheet; unpack it"),
        (
            lambda: written("letter.txt", "Dear reader,\nno weather."),
            "of no known kind: its first line is 'Dear reader,'",
        ),
        (
            lambda: written("cut.epw", EPW_HEAD + (EPW_ROW + "\n") * 6151),
            "Climate 'cut.epw' holds 6151 hourly rows and ends with '2023, 1, 1, 1'; a year has 8760 "
            "(8784). The file was probably cut short: download it again.",
        ),
        (
            lambda: written("half.epw", EPW_HEAD + (EPW_ROW + "\n") * 8759 + EPW_ROW[:60]),
            "Climate 'half.epw': row 8760 of the data has 18 fields instead of 35. The file is damaged",
        ),
        (
            lambda: written("odd.epw", EPW_HEAD.replace("61.0", "north") + (EPW_ROW + "\n") * 8760),
            "Climate 'odd.epw': latitude is 'north' in its LOCATION line; a number from -90 to 90 is needed. Repair",
        ),
        (
            lambda: written("short.epw", "LOCATION,Made up,XX\n" + EPW_ROW),
            "Climate 'short.epw': its LOCATION line has 3 fields instead of 10. The file is damaged",
        ),
        (
            lambda: written("wide.epw", (EPW_HEAD + EPW_ROW).encode("utf-16")[:-1]),
            "Climate 'wide.epw' starts like UTF-16 text but is cut short or damaged. Save it anew as UTF-8.",
        ),
        (
            lambda: written("same.epw", EPW_HEAD + (EPW_ROW + "\n") * 8760),
            "the stamp 1 January 2023 01:00 occurs more than once (8759 repeated rows)",
        ),
        (
            lambda: written("placeless.csv", own_text().replace("# latitude", "# lat")),
            "Climate 'placeless.csv' has no line '# latitude: <number>' above its header. Add it.",
        ),
        (
            lambda: written("typo.csv", own_text().replace("2023-01-01T02:00,", "2023-01-01T02:00,minus ")),
            "column 'air_temperature' holds 'minus ",
        ),
        (
            lambda: written("stamp.csv", own_text().replace("2023-01-01T02:00,", "yesterday,")),
            "the stamp in row 2 is 'yesterday'; a date and hour like 2023-01-01 01:00 is needed.",
        ),
    ],
)
def test_files_that_cannot_be_read(make: Callable[[], object], sentence: str) -> None:
    with pytest.raises(ClimateError) as caught:
        read_climate(make())
    assert sentence in str(caught.value)


def test_unknown_format() -> None:
    with pytest.raises(ClimateError, match=r"format is 'xlsx'; one of 'epw', 'tmy3', 'own' or None is needed"):
        read_climate("any", "xlsx")


def test_own_file_cut_short_between_rows() -> None:
    text = own_text()
    file = written("cut.csv", text[: text.index("2023-06-01T01:00")])
    with pytest.raises(ClimateError, match=r"'cut.csv' holds 3624 hourly rows but says it has 8760. The file was prob"):
        read_climate(file)


def test_own_file_cut_short_in_a_row() -> None:
    file = written("cut.csv", own_text()[:-30])
    with pytest.raises(ClimateError) as caught:
        read_climate(file)
    assert "Climate 'cut.csv': row 8760 has" in str(caught.value)


PLACE = {"latitude": 62.4, "longitude": 14.2, "elevation": 520.0, "utc_offset": 1.0}
CSV = "time,temp,rh\n2023-01-01 01:00,1.0,0.8\n2023-01-01 02:00,1.0,0.8\n"
NAMES = {"time": "time", "air_temperature": "temp", "relative_humidity": "rh"}


@pytest.mark.parametrize(
    ("text", "names", "options", "sentence"),
    [
        (CSV, NAMES | {"air_temperature": "tmp"}, {}, "no column 'tmp' (for air_temperature); it has time, temp, rh. "
         "Did you mean 'temp'?"),
        (CSV, NAMES | {"air_temprature": "temp"}, {}, "'air_temprature' is not a variable; known are time,"),
        (CSV, {"air_temperature": "temp"}, {}, "columns does not say which column is 'time'. Name it."),
        (CSV, NAMES, {"stamp": "middle"}, "stamp is 'middle'; it must be 'end' or 'start'."),
        (CSV, NAMES, {"humidity_over": "snow"}, "humidity_over is 'snow'; it must be 'water' or 'ice'."),
        (CSV, NAMES, {"time_format": "%d.%m.%Y"}, "such as '2023-01-01 01:00', do not follow time_format '%d.%m.%Y'."),
        (CSV, NAMES, {"max_gap_hours": -1}, "max_gap_hours is -1; a whole number of hours from 0 on is needed."),
        (CSV + "2023-01-01 03:00,1.0\n", NAMES, {}, "row 3 has 2 cells but the header has 3. The file is cut short"),
        ("time,temp,rh\n", NAMES, {}, "has no data below its header line."),
        (CSV, NAMES, {"time_format": 5}, "such as '2023-01-01 01:00', do not follow time_format 5."),
        (CSV.replace(",", ";"), NAMES, {}, "its header is one cell, 'time;temp;rh'; state delimiter=';'."),
        (CSV, NAMES, {"delimiter": ";;"}, "delimiter is ';;'; one character, such as ';', is needed."),
        (CSV, NAMES, {"decimal": None}, "decimal is None; one character, such as ';', is needed."),
        (CSV, NAMES, {"missing": "-999"}, "missing is '-999'; a list of numbers, such as [-999], is needed."),
        (CSV, NAMES, {"missing": ["none"]}, "a number in missing is 'none'; a finite number without a unit is needed."),
        (CSV, NAMES | {"rain": "rh"}, {}, "rain has both the column 'rh' and the one value 0.0 for all hours; stat"),
        (CSV, NAMES, {"units": {"air_temperature": "mm"}}, "unit of air_temperature is 'mm', which is no unit of temp"),
        (CSV.replace("rh", "temp"), NAMES, {}, "the header names 'temp' more than once; give each column its own nam"),
        (CSV.replace("02:00", "24:00"), NAMES, {}, "needed. Write 24:00 as 00:00 of the next day."),
        (CSV + '"' + "x" * 140000, NAMES, {}, "cannot be split into cells (field larger than field limit (131072))."),
        (CSV.replace("02:00,1.0", "02:00,mild"), NAMES, {}, "column 'temp' holds 'mild' in row 2, which is not"),
        (CSV.replace("02:00,", "02:00+01:00,").replace("01 01:00,", "01 01:00+01:00,"), NAMES, {}, "carry a time zone"),
    ],
)  # fmt: skip
def test_csv_that_cannot_be_read(text: str, names: dict[str, str], options: dict[str, object], sentence: str) -> None:
    constants = {"wind_speed": 1.0, "wind_direction": 0.0, "rain": 0.0}
    with pytest.raises(ClimateError) as caught:
        read_csv(written("plain.csv", text), names, **PLACE, constants=constants, has_radiation=False, **options)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"latitude": "north"}, "Climate 'plain.csv': latitude is 'north', which could not be read as an angle."),
        ({"utc_offset": "CET"}, "Climate 'plain.csv': utc_offset is 'CET'; a finite number without a unit is needed."),
        ({"latitude": 162.0}, "Climate 'plain.csv': latitude is 162; it must lie within -90 and 90."),
        ({"elevation": float("nan")}, "Climate 'plain.csv': elevation is nan; it must be a finite number."),
        ({"constants": {"wind_speed": "calm"}}, "wind_speed is 'calm'; a finite number without a unit is needed."),
        ({"columns": ["time"]}, "columns is ['time']; a mapping of our names to the file's columns is needed."),
    ],
)
def test_csv_with_a_place_that_cannot_be(changed: dict[str, object], sentence: str) -> None:
    constants = {"wind_speed": 1.0, "wind_direction": 0.0, "rain": 0.0}
    options = {"columns": NAMES, **PLACE, "constants": constants, "has_radiation": False, **changed}
    with pytest.raises(InputError) as caught:
        read_csv(written("plain.csv", CSV), **options)
    assert sentence in str(caught.value)


def test_the_same_csv_unspoiled_is_read() -> None:
    constants = {"wind_speed": 1.0, "wind_direction": 0.0, "rain": 0.0}
    climate = read_csv(written("plain.csv", CSV), NAMES, **PLACE, constants=constants, has_radiation=False)
    assert isinstance(climate, Climate)
    assert len(climate) == 2


def test_missing_codes_of_a_csv_are_stated() -> None:
    text = "time,temp,rh\n" + "".join(f"2023-01-01 {h:02d}:00,{1.0 if h != 3 else -99.9},0.8\n" for h in range(1, 9))
    constants = {"wind_speed": 1.0, "wind_direction": 0.0, "rain": 0.0}
    options = {"constants": constants, "has_radiation": False}
    with pytest.raises(ClimateError, match=r"air_temperature is -99.9 degC at 1 January 2023 03:00"):
        read_csv(written("plain.csv", text), NAMES, **PLACE, **options)
    with pytest.warns(HygroWarning, match=r"1 hour of air_temperature filled"):
        climate = read_csv(written("plain.csv", text), NAMES, **PLACE, **options, missing=[-99.9])
    assert float(climate.data["air_temperature"][2]) == 1.0
