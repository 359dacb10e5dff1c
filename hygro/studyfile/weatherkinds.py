"""How the weather is written as tables of a study file, and read back: by name, and where it is not known for sure.

May import: climate, errors, forms, weather.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from hygro.climate import read_climate, read_csv
from hygro.errors import InputError
from hygro.studyfile.forms import Kind, kind, list_of, table_of
from hygro.studyfile.lines import At
from hygro.studyfile.values import QUANTITY, TEXT, Form, Shelf, measured, shown
from hygro.studyfile.weather import SEVERITIES, Records, Sample, Shift, WeatherFile, WeatherYears

_MAPPING: Final = Form("a table of texts", lambda value, at, _: _texts(value, at), lambda value, _: dict(value))


def _texts(value: Any, at: At) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise at.error(f'is {shown(value)}; a table is needed, such as {{ time = "Date" }}.')
    for key, one in value.items():
        QUANTITY.read(one, at / key, {})
    return dict(value)


def _weather_keys(reader: Callable[..., Any]) -> Kind:
    forms = {
        "path": TEXT,
        "columns": _MAPPING,
        "units": _MAPPING,
        "constants": _MAPPING,
        "stamp": TEXT,
        "humidity_over": TEXT,
    }
    meanings = {
        "units": 'Unit of a column where it is not ours: `{ relative_humidity = "%", air_temperature = "degF" }`.',
        "constants": "One value in our unit for all hours of a variable that the file lacks: `{ wind_speed = 2.0 }`.",
        "stamp": "Whether a row's stamp marks the `end` or the `start` of its hour.",
        "delimiter": "What separates the cells.",
        "decimal": "What separates the decimals.",
        "title": "Name of the record; the file's by default.",
        "source": "Where it comes from.",
    }
    return kind("", reader, forms, renamed={"path": "file"}, meanings=meanings)


WEATHER: Final = _weather_keys(read_climate)
WEATHER_COLUMNS: Final = _weather_keys(read_csv)
SHIFT: Final = kind(
    "",
    Shift,
    {"temperature": measured("temperature difference", "2 K", "K", 1.0), "keep": TEXT},
    meanings={
        "rain": "Factor on rain; snow that fell cannot be brought back. [1]",
        "sun": "Factor on the irradiance of the sun. [1]",
        "wind": "Factor on the wind speed. [1]",
    },
)


def _read_severity(value: Any, at: At, _: Shelf) -> str:
    if value not in SEVERITIES if isinstance(value, str) else True:
        raise at.error(f"is {shown(value)}; one of {', '.join(map(repr, SEVERITIES))} is needed.")
    return str(value)


# What may be asked of a sample and of a file alike.
CHANGES: Final[Mapping[str, Form]] = {
    "severe_year": Form(f"one of {', '.join(map(repr, SEVERITIES))}", _read_severity, lambda name, _: name),
    "shift": table_of(SHIFT),
}


def climate_form(folder: Path | None) -> Form:
    """Form of a record of weather; files are looked for from a folder on, and written by their full path without."""
    return Form(
        "a table with sample or file",
        lambda value, at, _: _read(value, at, folder or Path.cwd()),
        lambda climate, _: _table_of(climate, folder),
    )


def weather_spreads(folder: Path | None) -> tuple[Kind, ...]:
    """Kinds of weather that is not known for sure."""
    return (
        kind("weather years", WeatherYears),
        kind(
            "records",
            Records,
            {"records": list_of(climate_form(folder))},
            meanings={"records": "At least two that differ, each with the keys of `[climate]`: sample, or file."},
        ),
    )


def _read(value: Any, at: At, folder: Path) -> Sample | WeatherFile:
    if not isinstance(value, dict):
        raise at.error(f"is {shown(value)}; a table with the key sample or file is needed.")
    changes = {key: form.read(value[key], at / key, {}) for key, form in CHANGES.items() if key in value}
    table = {key: one for key, one in value.items() if key not in CHANGES}
    if ("sample" in table) == ("file" in table):
        raise at.error(
            'one of two keys is needed: sample = "hut_valley" (or another sample), or file = "my-weather.epw".'
        )
    if "sample" in table:
        for key in table:
            if key != "sample":
                raise (at / key).error(f"is for weather files; beside 'sample' there may be {' and '.join(CHANGES)}.")
        try:
            return Sample(TEXT.read(table["sample"], at / "sample", {}), **changes)
        except InputError as error:
            raise (at / "sample").error(str(error)) from error
    reader = WEATHER_COLUMNS if "columns" in table else WEATHER
    for key in table:
        if key not in reader.keys:
            raise (at / key).unknown([*reader.keys, *([] if "columns" in table else ["columns"]), *CHANGES])
    missing = next((key.name for key in reader.keys.values() if key.required and key.name not in table), None)
    if missing is not None:
        raise at.error(f"the key {missing!r} is missing; a file with 'columns' of its own needs it.")
    options = {key: reader.keys[key].form.read(one, at / key, {}) for key, one in table.items()}
    path = folder / Path(options.pop("file")).expanduser()
    if not path.is_file():
        raise (at / "file").error(f"there is no file {str(path)!r}. Check the name; it is looked for beside the study.")
    return WeatherFile(path, options, **changes)


def _table_of(climate: Sample | WeatherFile, folder: Path | None) -> dict[str, Any]:
    changes = {
        key: form.write(asked, {}) for key, form in CHANGES.items() if (asked := getattr(climate, key)) is not None
    }
    if isinstance(climate, Sample):
        return {"sample": climate.name, **changes}
    path = str(climate.path)
    if folder is not None:
        with suppress(ValueError):  # another drive has no relative path
            path = os.path.relpath(climate.path, folder.absolute())
    options = {
        key: dict(one) if isinstance(one, Mapping) else list(one) if isinstance(one, tuple) else one
        for key, one in climate.options.items()
    }
    return {"file": path.replace("\\", "/"), **options, **changes}
