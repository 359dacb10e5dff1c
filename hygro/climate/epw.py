"""Reader of EPW weather files. May import: errors, files, humidity, repair, record; pvlib on first use."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from hygro.climate.files import read_text
from hygro.climate.humidity import FloatArray, relative_humidity_from_dew_point
from hygro.climate.record import Climate
from hygro.climate.repair import MAX_GAP_HOURS, OPAQUE_CLOUD, finish
from hygro.errors import ClimateError

TYPICAL_YEAR: Final = 2023  # [a] calendar on which months from different years are put: it has no 29 February
_HEADER_LINES: Final = 8
_LEAST_FIELDS: Final = 29
_WHOLE_YEARS: Final = (8760, 8784)

# pvlib's column, ours, the factor to our unit, and the value from which on the column means "missing".
_COLUMNS: Final = (
    ("temp_air", "air_temperature", 1.0, 99.9),
    ("relative_humidity", "relative_humidity", 0.01, 999.0),
    ("atmospheric_pressure", "air_pressure", 1.0, 999999.0),
    ("wind_speed", "wind_speed", 1.0, 999.0),
    ("wind_direction", "wind_direction", 1.0, 999.0),
    ("ghi", "global_horizontal_irradiance", 1.0, 9999.0),
    ("dni", "direct_normal_irradiance", 1.0, 9999.0),
    ("dhi", "diffuse_horizontal_irradiance", 1.0, 9999.0),
    ("ghi_infrared", "longwave_down", 1.0, 9999.0),
    ("liquid_precipitation_depth", "rain", 1.0, 999.0),
    ("total_sky_cover", "cloud_cover", 0.1, 99.0),
    ("opaque_sky_cover", OPAQUE_CLOUD, 0.1, 99.0),
)


def is_epw(text: str) -> bool:
    """Whether a text starts like an EPW file."""
    return text.lstrip().upper().startswith("LOCATION,")


def read_epw(path: str | Path, *, max_gap_hours: int = MAX_GAP_HOURS, ignore: Sequence[str] = ()) -> Climate:
    """Climate in an EPW file.

    Parameters
    ----------
    path : str or Path
        The file.
    max_gap_hours : int
        Longest run of missing hours that is bridged. [h]
    ignore : sequence of str
        Variables of the file that are not to be trusted and count as missing, as ``["rain"]``.

    Returns
    -------
    Climate
        Hour 1 of the file is the hour that ends at 01:00. Months from different years are put on 2023.

    Raises
    ------
    ClimateError
        Where the file is not a complete EPW file or its weather cannot be used.
    """
    text = read_text(path)
    name = Path(path).name
    if not is_epw(text):
        msg = (
            f"Climate {name!r} is not an EPW file: its first line is {text.splitlines()[0][:60]!r}; 'LOCATION,...' is "
            "expected. Read other kinds with read_climate or read_csv."
        )
        raise ClimateError(msg)
    _check_rows(text, name)
    table, site = _parsed(text, name)
    # The library marks the begin of the hour.
    begin = pd.DatetimeIndex(table.index).tz_localize(None)
    values = {ours: _column(table, theirs, factor, code) for theirs, ours, factor, code in _COLUMNS}
    dew = _column(table, "temp_dew", 1.0, 99.9)
    damp = values["relative_humidity"]
    values["relative_humidity"] = np.where(
        np.isnan(damp), relative_humidity_from_dew_point(values["air_temperature"], dew), damp
    )
    attrs: dict[str, str | float | int] = {
        "title": name,
        "source": f"EPW file {name}: {site['city']}, {site['country']} ({site['data_type']})",
        "latitude": float(site["latitude"]),
        "longitude": float(site["longitude"]),
        "elevation": float(site["altitude"]),
        "utc_offset": float(site["TZ"]),
        "has_radiation": 1,
        "notes": typical_note(begin),
    }
    return finish(end_of_hour(begin), values, attrs, max_gap_hours, ignore)


def end_of_hour(begin: pd.DatetimeIndex) -> pd.DatetimeIndex:
    """Give the ends of the hours, on one calendar year where the months come from several.

    Parameters
    ----------
    begin : DatetimeIndex, shape (time,)
        Begins of the hours, each in the year written in its row. [time]

    Returns
    -------
    DatetimeIndex, shape (time,)
        Ends of the hours. [time]
    """
    leap_day = (begin.month == 2) & (begin.day == 29)
    if begin.year.min() == begin.year.max() and (leap_day.any() or not begin[0].is_leap_year):
        one_year = int(begin[0].year)
    else:
        one_year = TYPICAL_YEAR + 1 if leap_day.any() else TYPICAL_YEAR
    parts = {"year": one_year, "month": begin.month, "day": begin.day, "hour": begin.hour, "minute": begin.minute}
    return pd.DatetimeIndex(pd.to_datetime(pd.DataFrame(parts))) + pd.Timedelta(hours=1)


def typical_note(begin: pd.DatetimeIndex) -> str:
    """Note on months that come from different years."""
    first, last = int(begin.year.min()), int(begin.year.max())
    return "" if first == last else f"typical year: months of {first} to {last} put together on one calendar"


def count_error(name: str, count: int, last: str) -> ClimateError:
    """Error for a year that is not whole."""
    msg = (
        f"Climate {name!r} holds {count} hourly rows and ends with {last[:30]!r}; a year has 8760 (8784). "
        "The file was probably cut short: download it again."
    )
    return ClimateError(msg)


def _check_rows(text: str, name: str) -> None:
    rows = [line for line in text.splitlines()[_HEADER_LINES:] if line.strip()]
    if len(rows) not in _WHOLE_YEARS:
        raise count_error(name, len(rows), rows[-1] if rows else "")
    fields = rows[0].count(",")
    for number, row in enumerate(rows):
        if row.count(",") != fields or fields + 1 < _LEAST_FIELDS:
            msg = (
                f"Climate {name!r}: row {number + 1} of the data has {row.count(',') + 1} fields instead of 35. "
                "The file is damaged: download it again."
            )
            raise ClimateError(msg)


def _parsed(text: str, name: str) -> tuple[pd.DataFrame, dict[str, str]]:
    # Imported here: pvlib costs half a second.
    from pvlib.iotools import read_epw as parse

    try:
        table, site = parse(io.StringIO(text))
    except (ValueError, KeyError, IndexError, TypeError) as error:
        msg = (
            f"Climate {name!r} starts like an EPW file but cannot be read ({error}). Check its LOCATION line and that "
            "every row has numbers; download it again."
        )
        raise ClimateError(msg) from error
    return table, site


def _column(table: pd.DataFrame, theirs: str, factor: float, code: float) -> FloatArray:
    values = pd.to_numeric(table[theirs], errors="coerce").to_numpy(dtype=np.float64)
    return np.where(values >= code, np.nan, values) * factor
