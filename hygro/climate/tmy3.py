"""Reader of TMY3 weather files. May import: errors, files, humidity, repair, record, wholeyear; pvlib on first use."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

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

_MISSING: Final = -9000.0  # the format writes -9900; no column of ours goes near
_HEADER_LINES: Final = 2
_SITE: Final = {"utc_offset": 3, "latitude": 4, "longitude": 5, "elevation": 6}  # place in the first line
_NUMBERS: Final = (  # columns that are read, as the file calls them
    "GHI (W/m^2)",
    "DNI (W/m^2)",
    "DHI (W/m^2)",
    "TotCld (tenths)",
    "OpqCld (tenths)",
    "Dry-bulb (C)",
    "Dew-point (C)",
    "RHum (%)",
    "Pressure (mbar)",
    "Wdir (degrees)",
    "Wspd (m/s)",
    "Lprecip depth (mm)",
    "Lprecip quantity (hr)",
)
_COLUMNS: Final = (
    ("temp_air", "air_temperature", 1.0),
    ("relative_humidity", "relative_humidity", 0.01),
    ("pressure", "air_pressure", 100.0),
    ("wind_speed", "wind_speed", 1.0),
    ("wind_direction", "wind_direction", 1.0),
    ("ghi", "global_horizontal_irradiance", 1.0),
    ("dni", "direct_normal_irradiance", 1.0),
    ("dhi", "diffuse_horizontal_irradiance", 1.0),
    ("TotCld (tenths)", "cloud_cover", 0.1),
    ("OpqCld (tenths)", OPAQUE_CLOUD, 0.1),
)


def is_tmy3(text: str) -> bool:
    """Whether a text starts like a TMY3 file."""
    lines = text.split("\n", 2)
    return len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY)")


def read_tmy3(path: str | Path, *, max_gap_hours: int = MAX_GAP_HOURS, ignore: Sequence[str] = ()) -> Climate:
    """Climate in a TMY3 file.

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
        Stamps of the format are ends of hours and stay so. Months from different years are put on 2023. Long-wave,
        which the format lacks, is computed from cloud and dew point. Rain is used only where it is hourly.
        Relative humidity and dew point are taken as over liquid water in frost as well, as stations report them (WMO
        Guide No. 8, from memory); a file that means ice is read by `read_csv`.

    Raises
    ------
    ClimateError
        Where the file is not a complete TMY3 file or its weather cannot be used.
    """
    text = read_text(path)
    name = Path(path).name
    if not is_tmy3(text):
        msg = (
            f"Climate {name!r} is not a TMY3 file: its second line does not start with 'Date (MM/DD/YYYY)'. "
            "Read other kinds with read_climate or read_csv."
        )
        raise ClimateError(msg)
    place = _place(text, name)
    begin, clean = _checked_rows(text, name)
    table, site = _parsed(clean, name)
    values = {ours: _column(table, theirs) * factor for theirs, ours, factor in _COLUMNS}
    damp = values["relative_humidity"]
    from_dew = relative_humidity_from_dew_point(values["air_temperature"], _column(table, "temp_dew"))
    values["relative_humidity"] = np.where(np.isnan(damp), from_dew, damp)
    # The column mixes sums over 1, 3, 6 and 24 hours; only hourly ones say when it rained.
    values["rain"] = np.where(
        _column(table, "Lprecip quantity (hr)") == 1.0, _column(table, "Lprecip depth (mm)"), np.nan
    )
    station = site["Name"].strip('"')
    attrs: dict[str, str | float | int] = {
        "title": name,
        "source": f"TMY3 file {name}: {station}, {site['State']} (station {site['USAF']})",
        **place,
        "has_radiation": 1,
        "notes": typical_note(begin),
    }
    return finish(end_of_hour(begin), values, attrs, max_gap_hours, ignore)


def _place(text: str, name: str) -> dict[str, float]:
    """Place of the station in the first line; its numbers are the last four."""
    cells = text.splitlines()[0].split(",")
    if len(cells) <= max(_SITE.values()):
        msg = (
            f"Climate {name!r}: its first line has {len(cells)} fields instead of 7. The file is damaged: download it "
            "again."
        )
        raise ClimateError(msg)
    return site_numbers({key: cells[at] for key, at in _SITE.items()}, name, "first line")


def _checked_rows(text: str, name: str) -> tuple[pd.DatetimeIndex, str]:
    """Begins of the hours (the library moves 28 February 24:00 of leap years), and the text with whole rows."""
    header = [cell.strip() for cell in text.splitlines()[1].split(",")]
    lacking = [column for column in _NUMBERS if column not in header]
    if lacking:
        msg = f"Climate {name!r} lacks the TMY3 column {lacking[0]!r}; the format of January 2015 is needed."
        raise ClimateError(msg)
    rows = whole_rows(text, _HEADER_LINES, len(header), len(header), name)
    month, day, year = ([row[0].split("/")[at] if row[0].count("/") == 2 else "" for row in rows] for at in range(3))
    begin = begins(year, month, day, [row[1].partition(":")[0] for row in rows], name)
    check_numbers(rows, {header.index(column): column for column in _NUMBERS}, name)
    return begin, with_all_fields(text, _HEADER_LINES, rows, len(header))


def _parsed(text: str, name: str) -> tuple[pd.DataFrame, dict[str, str]]:
    # Imported here: pvlib costs half a second.
    from pvlib.iotools import read_tmy3 as parse

    with tempfile.TemporaryDirectory() as folder:
        clean = Path(folder) / "tmy3.csv"
        clean.write_text(text, encoding="utf-8")
        try:
            table, site = parse(str(clean), map_variables=True, encoding="utf-8")
        except (ValueError, KeyError, IndexError, TypeError, AttributeError) as error:
            msg = (
                f"Climate {name!r} starts like a TMY3 file but cannot be read ({error}). Check its two header lines "
                "and that every row is whole; download it again."
            )
            raise ClimateError(msg) from error
    return table, site


def _column(table: pd.DataFrame, theirs: str) -> FloatArray:
    values = pd.to_numeric(table[theirs], errors="coerce").to_numpy(dtype=np.float64)
    return np.where(values <= _MISSING, np.nan, values)
