"""From the text of a CSV to cells, stamps and numbers. May import: errors, humidity (types only)."""

from __future__ import annotations

import csv
import io
from typing import Final

import numpy as np
import pandas as pd

from hygro.climate.humidity import FloatArray
from hygro.errors import ClimateError

_EMPTY: Final = ("", "NA", "NaN", "nan", "-")  # cells that hold a missing value


def text_table(text: str, name: str, delimiter: str = ",", decimal: str = ".") -> pd.DataFrame:
    """Cells of a CSV as text; lines that start with ``#`` are passed over.

    Raises
    ------
    ClimateError
        Where there are no rows, a row has more or fewer cells than the header, or a name stands twice in the header.
    """
    for option, character in (("delimiter", delimiter), ("decimal", decimal)):
        if not isinstance(character, str) or len(character) != 1:
            msg = f"Climate {name!r}: {option} is {character!r}; one character, such as ';', is needed."
            raise ClimateError(msg)
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        msg = f"Climate {name!r} has no data below its header line. Check that the file is complete."
        raise ClimateError(msg)
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    except csv.Error as error:
        msg = f"Climate {name!r} cannot be split into cells ({error}). Look for a quotation mark that is not closed."
        raise ClimateError(msg) from error
    header = [cell.strip() for cell in rows[0]]
    twice = [cell for cell in header if header.count(cell) > 1]
    if twice:
        msg = f"Climate {name!r}: the header names {twice[0]!r} more than once; give each column its own name."
        raise ClimateError(msg)
    for number, row in enumerate(rows[1:], start=1):
        if len(row) != len(header):
            msg = (
                f"Climate {name!r}: row {number} has {len(row)} cells but the header has {len(header)}. The file is "
                "cut short or its delimiter is another one; repair the row, or state delimiter."
            )
            raise ClimateError(msg)
    table = pd.DataFrame(rows[1:], columns=header, dtype=str)
    if decimal == ".":
        return table
    return table.map(lambda cell: cell.replace(decimal, "."))


def parse_stamps(column: pd.Series, name: str) -> pd.DatetimeIndex:
    """Time stamps in a column of text.

    Raises
    ------
    ClimateError
        Where a stamp cannot be read.
    """
    try:
        return pd.DatetimeIndex(pd.to_datetime(column, format="ISO8601"))
    except (ValueError, TypeError):
        readable = pd.to_datetime(column, format="ISO8601", errors="coerce")
        row = int(np.flatnonzero(readable.isna().to_numpy())[0])
        stamp = str(column.iloc[row])
        remedy = (
            "Write 24:00 as 00:00 of the next day." if "24:00" in stamp else "Repair the row, or state time_format."
        )
        msg = (
            f"Climate {name!r}: the stamp in row {row + 1} is {stamp!r}; a date and hour like 2023-01-01 01:00 is "
            f"needed. {remedy}"
        )
        raise ClimateError(msg) from None


def numbers(table: pd.DataFrame, columns: list[str], name: str) -> dict[str, FloatArray]:
    """Columns of text as float arrays; an empty cell is a missing value.

    Raises
    ------
    ClimateError
        Where a cell is neither empty nor a number.
    """
    values = {}
    for column in columns:
        if column not in table:
            continue
        which, cells = pd.factorize(table[column].to_numpy(dtype=object))  # weather repeats itself: read each text once
        texts = np.array([cell.strip() for cell in cells], dtype=object)
        empty = np.isin(texts, _EMPTY)
        wrong = np.isnan(pd.to_numeric(texts, errors="coerce")) & ~empty
        if wrong.any():
            row = int(np.flatnonzero(wrong[which])[0])
            msg = (
                f"Climate {name!r}: column {column!r} holds {table[column].iloc[row]!r} in row {row + 1}, which is not "
                "a number. Repair or empty the cell."
            )
            raise ClimateError(msg)
        # To the last digit: pandas before 3 rounds the last one otherwise than Python writes it.
        values[column] = np.where(empty, "nan", texts).astype(np.float64)[which]
    return values
