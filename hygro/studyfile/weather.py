"""Which weather: a sample or a file by name, and what may stand for it where the weather is not known for sure.

May import: errors, climate, ensemble.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from hygro.climate import (
    Climate,
    dampness_severity,
    heating_severity,
    rain_severity,
    read_climate,
    read_csv,
    sample_climate,
    sample_names,
    severe_year,
    shifted,
    warmth_severity,
)
from hygro.climate.shift import checked_rise
from hygro.ensemble import Choice, weather_years
from hygro.errors import InputError

# By what a year may be the severe one.
SEVERITIES: Final[Mapping[str, Callable[[Climate], float]]] = MappingProxyType(
    {"cold": heating_severity, "warm": warmth_severity, "rainy": rain_severity, "damp": dampness_severity}
)


@dataclass(frozen=True, slots=True)
class Shift:
    """Another climate than that of the record, for a what-if.

    Parameters
    ----------
    temperature : float or str, optional
        Added to the air temperature in every hour. [K]
    keep : str, optional
        What stays as it is while the temperature changes: 'relative humidity' or 'vapour pressure'.
    vapour : float, optional
        Factor on the vapour pressure that results. [1]
    rain, sun, wind : float, optional
        Factors on rain, on the irradiance of the sun, and on the wind speed. [1]

    Raises
    ------
    InputError
        Where a change is out of range, contradicts itself, or nothing is changed.
    """

    temperature: float | str = 0.0
    keep: str | None = None
    vapour: float = 1.0
    rain: float = 1.0
    sun: float = 1.0
    wind: float = 1.0

    def __post_init__(self) -> None:
        rise = checked_rise("Shift", self.temperature, self.keep, self._factors)
        object.__setattr__(self, "temperature", rise)

    @property
    def _factors(self) -> dict[str, float]:
        return {"vapour": self.vapour, "rain": self.rain, "sun": self.sun, "wind": self.wind}

    def of(self, climate: Climate) -> Climate:
        """The shifted climate."""
        return shifted(climate, temperature=self.temperature, keep=self.keep, **self._factors)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Sample:
    """An invented sample climate, by name.

    Parameters
    ----------
    name : str
        One of ``hygro.climate.sample_names()``.
    severe_year : str, optional
        By what the year is chosen that is exceeded once in ten, by the names in `SEVERITIES`; samples are too short.
    shift : Shift, optional
        What is changed of it.

    Raises
    ------
    InputError
        Where there is no such sample, or no such severity.
    """

    name: str
    severe_year: str | None = None
    shift: Shift | None = None

    def __post_init__(self) -> None:
        _check_severity(self.severe_year)
        if self.name not in sample_names():
            msg = f"there is no sample climate {self.name!r}. Samples: {', '.join(map(repr, sample_names()))}."
            raise InputError(msg)

    def load(self) -> Climate:
        """The weather."""
        return _as_asked(sample_climate(self.name), self.severe_year, self.shift)


@dataclass(frozen=True, slots=True)
class WeatherFile:
    """A weather file, and how it is read.

    Parameters
    ----------
    path : Path
        The file; kept as an absolute path.
    options : mapping of str to object, optional
        Further arguments of `read_climate`, or of `read_csv` where ``columns`` is among them.
    severe_year : str, optional
        By what the year is chosen that is exceeded once in ten, by the names in `SEVERITIES`.
    shift : Shift, optional
        What is changed of it.

    Raises
    ------
    InputError
        Where there is no such severity.
    """

    path: Path
    options: Mapping[str, Any] = field(default_factory=dict)
    severe_year: str | None = None
    shift: Shift | None = None

    def __post_init__(self) -> None:
        _check_severity(self.severe_year)
        # Two ways of naming a file are one, though not where links are on the way.
        object.__setattr__(self, "path", Path(os.path.normpath(Path(self.path).expanduser().absolute())))
        object.__setattr__(self, "options", MappingProxyType(dict(self.options)))

    def load(self) -> Climate:
        """The weather."""
        reader: Callable[..., Climate] = read_csv if "columns" in self.options else read_climate
        return _as_asked(reader(self.path, **self.options), self.severe_year, self.shift)


def _check_severity(name: str | None) -> None:
    if name is not None and name not in SEVERITIES:
        msg = f"severe_year is {name!r}; there are: {', '.join(map(repr, SEVERITIES))}."
        raise InputError(msg)


def _as_asked(climate: Climate, severe: str | None, shift: Shift | None) -> Climate:
    """The severe year of a record where one is asked for, and that shifted where it is to be."""
    year = climate if severe is None else severe_year(climate, SEVERITIES[severe])
    return year if shift is None else shift.of(year)


@dataclass(frozen=True, slots=True)
class WeatherYears:
    """Any one year of the record under [climate], each as likely, and repeated as long as a member runs.

    Parameters
    ----------
    first, last : int
        The years in which the first and the last of them begin, on the day on which the study starts.

    Raises
    ------
    InputError
        Where they are not whole numbers, the earlier one first.
    """

    first: int
    last: int

    def __post_init__(self) -> None:
        if any(isinstance(one, bool) or not isinstance(one, int) for one in (self.first, self.last)) or (
            self.last <= self.first
        ):
            msg = (
                f"Weather years: first and last are {self.first!r} and {self.last!r}; whole numbers that rise, please."
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True)
class Records:
    """One of several records of weather, such as an ordinary year, a severe one and one of another place.

    Parameters
    ----------
    records : tuple of Sample or WeatherFile
        At least two that differ.
    weights : sequence of float, optional
        How likely each is, in any unit; the same by default. [1]

    Raises
    ------
    InputError
        Where there are fewer than two different records, or a weight is not positive.
    """

    records: tuple[Sample | WeatherFile, ...]
    weights: Sequence[float] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "records", tuple(self.records))
        if self.weights is not None:
            object.__setattr__(self, "weights", tuple(self.weights))
        if len(self.records) < 2 or any(one in self.records[:at] for at, one in enumerate(self.records)):
            msg = "Records: records needs at least two records of weather that differ from each other."
            raise InputError(msg)
        if self.weights is not None:
            Choice(range(len(self.records)), self.weights)


def climates(spread: WeatherYears | Records, stated: Climate, start: str) -> Choice:
    """Climates that may stand for the weather, read.

    Parameters
    ----------
    spread : WeatherYears or Records
        How the weather is spread.
    stated : Climate
        Weather that the study states; its single years are meant by `WeatherYears`.
    start : str
        First day of the study.

    Returns
    -------
    Choice
        For the input ``"climate"``.

    Raises
    ------
    InputError
        Where a record cannot be read, or does not hold the years.
    """
    if isinstance(spread, WeatherYears):
        return weather_years(stated, start, spread.first, spread.last)
    return Choice([one.load() for one in spread.records], spread.weights)
