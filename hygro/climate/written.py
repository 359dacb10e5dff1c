"""The package's own climate file: plain CSV with registry names, and lines of `# key: value` on top.

May import: errors, variables, whole, cells, record.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import pandas as pd

from hygro.climate.cells import numbers, parse_stamps, text_table
from hygro.climate.humidity import FloatArray
from hygro.climate.record import Climate
from hygro.errors import ClimateError
from hygro.variables import CLIMATE
from hygro.whole import refuse_existing, write_whole

SITE_KEYS: Final = ("latitude", "longitude", "elevation", "utc_offset", "has_radiation")
_TEXT_KEYS: Final = ("title", "source", "notes")
_STAMP_LINE: Final = (
    "stamp: end of the hour, local standard time; irradiance and long-wave are means and rain the sum of that hour, "
    "all else is the value at the stamp"
)


def climate_text(climate: Climate) -> str:
    """Text of the climate file that holds a record, number for number.

    Parameters
    ----------
    climate : Climate
        Record to write.

    Returns
    -------
    str
        CSV with comment lines; reading it gives an equal record.

    Raises
    ------
    ClimateError
        Where the record has no place, as constant air has none.
    """
    data = climate.data
    nowhere = [key for key in SITE_KEYS if math.isnan(float(data.attrs[key]))]
    if nowhere:
        msg = (
            f"Climate {climate.title!r} has no {nowhere[0]}, so that it cannot be kept as a climate file, which is of "
            "one place. State the place where the climate is made."
        )
        raise ClimateError(msg)
    lines = [f"# source: {_one_line(climate.source)}"]
    lines += [f"# {key}: {_one_line(str(data.attrs[key]))}" for key in ("title", "notes") if str(data.attrs[key])]
    lines += [f"# {key}: {_short(float(data.attrs[key]))}" for key in SITE_KEYS]
    lines += [f"# hours: {len(climate)}", f"# {_STAMP_LINE}"]
    lines.append("# units: " + ", ".join(f"{name} [{row.unit}]" for name, row in CLIMATE.items()))
    lines.append(",".join(("time", *CLIMATE)))
    columns = [[_short(value) for value in data[name].to_numpy().tolist()] for name in CLIMATE]
    stamps = climate.time.strftime("%Y-%m-%dT%H:%M")
    lines += [",".join(row) for row in zip(stamps, *columns, strict=True)]
    return "\n".join(lines) + "\n"


def write_climate(climate: Climate, path: str | Path, *, replace: bool = False) -> Path:
    """Write a record as a climate file that `read_climate` reads.

    Parameters
    ----------
    climate : Climate
        Record to write.
    path : str or Path
        Where to. The file appears under this name only when it is complete.
    replace : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ClimateError
        Where the record has no place.
    OutputError
        Where the file exists and may not be replaced, or cannot be written.
    """
    target = Path(path)
    refuse_existing(target, replace)
    content = climate_text(climate).encode("utf-8")
    write_whole(target, lambda part: part.write_bytes(content))
    return target


def is_own_format(text: str) -> bool:
    """Whether a text starts like a climate file of this package."""
    header = next((line for line in text.splitlines() if line and not line.startswith("#")), "")
    return header.split(",")[:2] == ["time", "air_temperature"]


def parse_own(text: str, name: str) -> tuple[pd.DatetimeIndex, dict[str, FloatArray], dict[str, str | float]]:
    """Stamps, columns and attributes in the text of a climate file.

    Parameters
    ----------
    text : str
        Content of the file.
    name : str
        What to call it in a message.

    Returns
    -------
    time : DatetimeIndex, shape (time,)
        Ends of the hours. [time]
    values : dict of str to ndarray, shape (time,)
        Columns by registry name. [registry]
    attrs : dict
        Attributes of the record.

    Raises
    ------
    ClimateError
        Where a place line is missing, the file is cut short or a cell is not a number.
    """
    comments = [line[1:].partition(":") for line in text.splitlines() if line.startswith("#")]
    stated = {key.strip(): value.strip() for key, _, value in comments}
    attrs: dict[str, str | float] = {key: stated[key] for key in _TEXT_KEYS if key in stated}
    for key in SITE_KEYS:
        try:
            attrs[key] = float(stated[key])
        except (KeyError, ValueError):
            msg = f"Climate {name!r} has no line '# {key}: <number>' above its header. Add it."
            raise ClimateError(msg) from None
    table = text_table(text, name)
    if stated.get("hours", str(len(table))) != str(len(table)):
        msg = (
            f"Climate {name!r} holds {len(table)} hourly rows but says it has {stated['hours']}. "
            "The file was probably cut short, or lost a row: copy it again."
        )
        raise ClimateError(msg)
    return pd.DatetimeIndex(parse_stamps(table["time"], name)), numbers(table, list(CLIMATE), name), attrs


def _short(value: float) -> str:
    """Shortest text that reads back as the same number."""
    return str(int(value)) if value == int(value) else repr(value)


def _one_line(text: str) -> str:
    return " ".join(text.split())
