"""The invented sample climates that come with the package. May import: errors, record, generator, written, reading."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from hygro.climate.generator import generate_climate, known_place
from hygro.climate.reading import read_climate
from hygro.climate.record import Climate
from hygro.climate.written import write_climate
from hygro.errors import ClimateError

SEEDS: Final[Mapping[str, int]] = MappingProxyType({"hut_valley": 35, "wet_coast": 23, "subarctic": 33})

# An installed package carries the files inside; a source checkout keeps them beside the package.
_FOLDERS: Final = (Path(__file__).parent / "samples", Path(__file__).parents[2] / "climate_samples")


def sample_names() -> tuple[str, ...]:
    """Names of the invented sample climates."""
    return tuple(SEEDS)


@cache
def sample_climate(name: str) -> Climate:
    """One of the invented sample climates.

    Parameters
    ----------
    name : str
        One of `sample_names`.

    Returns
    -------
    Climate
        A year of hourly weather of an invented place.

    Raises
    ------
    ClimateError
        Where there is no such sample, or its file is missing.
    """
    known_place(name)
    for folder in _FOLDERS:
        path = folder / f"{name}.csv"
        if path.is_file():
            return read_climate(path)
    msg = (
        f"The file of the sample climate {name!r} is in none of {', '.join(str(folder) for folder in _FOLDERS)}. "
        f"Install the package again, or make it anew with write_sample({name!r}, path)."
    )
    raise ClimateError(msg)


def write_sample(name: str, path: str | Path, *, replace: bool = False) -> Path:
    """Make a sample climate anew and write it; the bytes are those of the file that comes with the package.

    Parameters
    ----------
    name : str
        One of `sample_names`.
    path : str or Path
        Where to.
    replace : bool
        Whether an existing file may be replaced.

    Returns
    -------
    Path
        The file.
    """
    return write_climate(generate_climate(known_place(name), SEEDS[name]), path, replace=replace)
