"""From the text of a CSV to cells, stamps and numbers. May import: errors, humidity (types only)."""

from __future__ import annotations

import csv
import io

import numpy as np
import pandas as pd

from hygro.climate.humidity import FloatArray
from hygro.errors import ClimateError


def text_table(text: str, name: str, delimiter: str = ",", decimal: str = ".") -> pd.DataFrame:
    """Cells of a CSV as text; lines that start with ``#`` are passed over.

    Raises
    ------
    ClimateError
        Where there are no rows, or a row has more or fewer cells than the header.
    """
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        msg = f"Climate {name!r} has no data below its header line. Check that the file is complete."
        raise ClimateError(msg)
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    header = [cell.strip() for cell in rows[0]]
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
        msg = (
            f"Climate {name!r}: the stamp in row {row + 1} is {column.iloc[row]!r}; a date and hour like "
            "2023-01-01 01:00 is needed. Repair the row, or state time_format."
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
        text = table[column].str.strip().replace({"": "nan", "NA": "nan", "NaN": "nan", "-": "nan"})
        array = pd.to_numeric(text, errors="coerce").to_numpy(dtype=np.float64)
        wrong = np.isnan(array) & (text != "nan").to_numpy()
        if wrong.any():
            row = int(np.flatnonzero(wrong)[0])
            msg = (
                f"Climate {name!r}: column {column!r} holds {table[column].iloc[row]!r} in row {row + 1}, which is not "
                "a number. Repair or empty the cell."
            )
            raise ClimateError(msg)
        values[column] = array
    return values
