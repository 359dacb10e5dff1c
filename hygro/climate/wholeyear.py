"""What the file formats of one whole year have in common: whole rows, cells that are numbers, hours of a calendar.

Looks at the rows before a library reads them, so that the message names the row. May import: errors.
"""

from __future__ import annotations

import calendar
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hygro.errors import ClimateError

Rows = list[list[str]]
IntArray = NDArray[np.int64]

TYPICAL_YEAR: Final = 2023  # [a] calendar on which months from different years are put: it has no 29 February
_WHOLE_YEARS: Final = (8760, 8784)
_LONGEST: Final = 9000  # [h] rows of one year with some hours repeated
_MONTHS: Final = 12
_HOURS: Final = 24
_EARLIEST, _LATEST = 1700, 2250  # [a] what stamps to the nanosecond can hold
_LIMITS: Final = {"latitude": 90.0, "longitude": 180.0, "utc_offset": 14.0, "elevation": 6000.0}


def whole_rows(text: str, header_lines: int, least: int, most: int, name: str) -> Rows:
    """Cells of every row below the header; an empty cell behind a last comma is none.

    Parameters
    ----------
    text : str
        Content of the file.
    header_lines : int
        Lines above the first row.
    least, most : int
        Cells that a row needs, and has in full; all rows have as many as the first.
    name : str
        What to call the record in a message.

    Returns
    -------
    list of list of str
        Cells without blanks around them.

    Raises
    ------
    ClimateError
        Where there is no row, or one has more or fewer cells than the format.
    """
    lines = [line for line in text.splitlines()[header_lines:] if line.strip()]
    if not lines:
        raise _cut_short(name, 0, "")
    rows = [[cell.strip() for cell in line.split(",")] for line in lines]
    rows = [row if any(row[most:]) else row[:most] for row in rows]
    wanted = len(rows[0]) if least <= len(rows[0]) <= most else most
    for number, row in enumerate(rows):
        if len(row) != wanted:
            if number == len(rows) - 1 and number + 1 not in _WHOLE_YEARS:
                raise _cut_short(name, number + 1, lines[-1])
            msg = (
                f"Climate {name!r}: row {number + 1} of the data has {len(row)} fields instead of {wanted}. "
                "The file is damaged: download it again."
            )
            raise ClimateError(msg)
    return rows


def with_all_fields(text: str, header_lines: int, rows: Rows, fields: int) -> str:
    """Text of the file with rows that have all fields of the format, empty where the writer left them out."""
    lines = text.splitlines()[:header_lines]
    lines += [",".join(row + [""] * (fields - len(row))) for row in rows]
    return "\n".join(lines) + "\n"


def check_numbers(rows: Rows, columns: Mapping[int, str], name: str) -> None:
    """Refuse cells that are neither empty nor a number.

    Parameters
    ----------
    rows : list of list of str
        Cells of every row.
    columns : mapping of int to str
        Place of each column that is read, and what to call it.
    name : str
        What to call the record in a message.

    Raises
    ------
    ClimateError
        Naming the first cell that is not a number.
    """
    for place, column in columns.items():
        which, texts = pd.factorize(np.array([row[place] for row in rows], dtype=object))  # each text once
        wrong = (np.isnan(pd.to_numeric(texts, errors="coerce")) & (texts != ""))[which]
        if wrong.any():
            at = int(np.flatnonzero(wrong)[0])
            count = int(wrong.sum())
            more = f" ({count} rows hold no number there)" if count > 1 else ""
            msg = (
                f"Climate {name!r}: {column} is {rows[at][place]!r} in row {at + 1} of the data{more}; a number is "
                "needed. Repair the cell, or empty it."
            )
            raise ClimateError(msg)


def begins(
    year: Sequence[str], month: Sequence[str], day: Sequence[str], hour: Sequence[str], name: str
) -> pd.DatetimeIndex:
    """Begins of the hours, each in the year written in its row; hour 1 of a day is the hour that ends at 01:00.

    Parameters
    ----------
    year, month, day, hour : sequence of str
        As written in each row. [time]
    name : str
        What to call the record in a message.

    Returns
    -------
    DatetimeIndex, shape (time,)
        Begins of the hours. [time]

    Raises
    ------
    ClimateError
        Naming the first row that is no hour of the calendar, or a year that does not reach from its first hour to its
        last, or holds several rows for each hour.
    """
    text = pd.DataFrame({"year": year, "month": month, "day": day, "hour": hour}, dtype=object)
    parts = text.apply(pd.to_numeric, errors="coerce").fillna(-1).to_numpy(dtype=np.float64).astype(np.int64)
    last_day = np.array([_days(int(a), int(m)) for a, m, *_ in parts])
    fine = (parts[:, 2] >= 1) & (parts[:, 2] <= last_day) & (parts[:, 3] >= 1) & (parts[:, 3] <= _HOURS)
    if not fine.all():
        at = int(np.flatnonzero(~fine)[0])
        written = ", ".join(f"{part} {text[part].iloc[at]}" for part in ("year", "month", "day", "hour"))
        msg = (
            f"Climate {name!r}: row {at + 1} of the data is stamped {written!r}; a day of the calendar and an hour "
            f"from 1 to {_HOURS} are needed. Repair the row."
        )
        raise ClimateError(msg)
    if len(parts) not in _WHOLE_YEARS:
        _check_span(parts, name, ", ".join(text.iloc[-1]))
    stamps = pd.DataFrame(parts, columns=["year", "month", "day", "hour"])
    return pd.DatetimeIndex(pd.to_datetime(stamps.assign(hour=stamps["hour"] - 1)))


@cache
def _days(year: int, month: int) -> int:
    """Days of a month; none where there is no such month."""
    if not (_EARLIEST <= year <= _LATEST and 1 <= month <= _MONTHS):
        return 0
    return calendar.monthrange(year, month)[1]


def _check_span(parts: IntArray, name: str, last: str) -> None:
    """Refuse a year that is not whole, except for hours left out or repeated inside, which are named later."""
    per_hour, rest = divmod(len(parts), _WHOLE_YEARS[0])
    if per_hour > 1 and rest == 0:
        msg = (
            f"Climate {name!r} holds {per_hour} rows for each hour ({len(parts)} in all); one is needed. "
            "Average them (sum the rain) to whole hours first."
        )
        raise ClimateError(msg)
    first, final = tuple(parts[0, 1:].tolist()), tuple(parts[-1, 1:].tolist())
    if len(parts) > _LONGEST or first != (1, 1, 1) or final != (_MONTHS, 31, _HOURS):
        raise _cut_short(name, len(parts), last)


def site_numbers(site: Mapping[str, str], name: str, line: str) -> dict[str, float]:
    """Place of the station, each number inside its limits.

    Parameters
    ----------
    site : mapping of str to str
        ``latitude`` [degree], ``longitude`` [degree], ``utc_offset`` [h] and ``elevation`` [m] as written.
    name : str
        What to call the record in a message.
    line : str
        What to call the line they stand in.

    Returns
    -------
    dict of str to float
        The same as numbers. [degree, degree, h, m]

    Raises
    ------
    ClimateError
        Naming the one that is not a number or cannot be.
    """
    numbers = {}
    for key, limit in _LIMITS.items():
        written = site[key].strip()
        try:
            value = float(written)
        except ValueError:
            value = np.nan
        if not abs(value) <= limit:
            msg = (
                f"Climate {name!r}: {key} is {written!r} in its {line}; a number from -{limit:g} to {limit:g} is "
                "needed. Repair the line."
            )
            raise ClimateError(msg)
        numbers[key] = value
    return numbers


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


def _cut_short(name: str, count: int, last: str) -> ClimateError:
    """Error for a year that is not whole."""
    msg = (
        f"Climate {name!r} holds {count} hourly rows and ends with {last[:30]!r}; a year has 8760 (8784). "
        "The file was probably cut short: download it again."
    )
    return ClimateError(msg)
