"""Reader of EPW weather files. May import: errors, check, files, humidity, repair, record, wholeyear; pvlib on use."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from hygro.climate.check import CODES
from hygro.climate.files import read_text
from hygro.climate.humidity import FloatArray, relative_humidity_from_dew_point
from hygro.climate.record import Climate
from hygro.climate.repair import MAX_GAP_HOURS, OPAQUE_CLOUD, finish
from hygro.climate.wholeyear import (
    begins,
    check_numbers,
    end_of_hour,
    site_numbers,
    typical_note,
    whole_rows,
    with_all_fields,
)
from hygro.errors import ClimateError

_HEADER_LINES: Final = 8
_LEAST_FIELDS, _FIELDS = 29, 35  # the last ones, with the rain, are left out by some writers
_SITE: Final = {"latitude": 6, "longitude": 7, "utc_offset": 8, "elevation": 9}  # place in the LOCATION line
_NUMBERS: Final = {  # place in a row, counted from 0, of what is read
    6: "dry-bulb temperature",
    7: "dew point",
    8: "relative humidity",
    9: "pressure",
    12: "horizontal infrared",
    13: "global irradiance",
    14: "direct irradiance",
    15: "diffuse irradiance",
    20: "wind direction",
    21: "wind speed",
    22: "total sky cover",
    23: "opaque sky cover",
    33: "liquid precipitation",
}

# pvlib's column, ours, the factor to our unit, and the least of its codes for a missing value.
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
        Relative humidity and dew point are taken as over liquid water in frost as well, as stations report them (WMO
        Guide No. 8, from memory); a file that means ice is read by `read_csv`.

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
    place = _place(text, name)
    rows = whole_rows(text, _HEADER_LINES, _LEAST_FIELDS, _FIELDS, name)
    year, month, day, hour = ([row[part] for row in rows] for part in range(4))
    begin = begins(year, month, day, hour, name)
    check_numbers(rows, {place: what for place, what in _NUMBERS.items() if place < len(rows[0])}, name)
    table, site = _parsed(with_all_fields(text, _HEADER_LINES, rows, _FIELDS), name)
    values = {ours: _column(table, theirs, factor, code) for theirs, ours, factor, code in _COLUMNS}
    dew = _column(table, "temp_dew", 1.0, 99.9)
    damp = values["relative_humidity"]
    values["relative_humidity"] = np.where(
        np.isnan(damp), relative_humidity_from_dew_point(values["air_temperature"], dew), damp
    )
    attrs: dict[str, str | float | int] = {
        "title": name,
        "source": f"EPW file {name}: {site['city']}, {site['country']} ({site['data_type']})",
        **place,
        "has_radiation": 1,
        "notes": typical_note(begin),
    }
    return finish(end_of_hour(begin), values, attrs, max_gap_hours, ignore)


def _place(text: str, name: str) -> dict[str, float]:
    """Place of the station in the first line."""
    cells = text.lstrip().splitlines()[0].split(",")
    if len(cells) <= max(_SITE.values()):
        msg = (
            f"Climate {name!r}: its LOCATION line has {len(cells)} fields instead of 10. The file is damaged: download "
            "it again."
        )
        raise ClimateError(msg)
    return site_numbers({key: cells[at] for key, at in _SITE.items()}, name, "LOCATION line")


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
    # Exact codes only, so that a column in another unit, as kelvin, is seen for what it is.
    return np.where((values >= code) & np.isin(values, CODES), np.nan, values) * factor
