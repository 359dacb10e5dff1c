"""`Climate`: one hourly record of outdoor weather, checked and frozen.

Convention, stated once: a stamp is the end of its hour in local standard time. Irradiance, long-wave and rain are
the mean or the sum of the hour that ends there; air temperature, humidity, wind, pressure and cloud are the values
at the stamp. May import: errors, variables, check.
"""

from __future__ import annotations

import hashlib
import html
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from hygro.climate import check
from hygro.errors import ClimateError
from hygro.variables import CLIMATE, hour_ends

RowArray = NDArray[np.int64]

_HOUR: Final = pd.Timedelta(hours=1)
LONGEST_PERIOD: Final = 200  # [a]
_LONGEST_YEAR: Final = 8784  # [h] hours of a leap year
_SHORTEST_YEAR: Final = 8760  # [h]
_LEAP_DAY: Final = 229  # month and day as one number
SPOKEN: Final = {  # units of a summary as people say them
    "degC": "°C",
    "K d a-1": "K days a year",
    "m s-1": "m/s",
    "kg m-2 a-1": "mm a year",
    "kWh m-2 a-1": "kWh/m² a year",
}
_HEATING_BASE: Final = 18.0  # [degC] base of the heating degree days shown in the summary; common practice
_SITE: Final = ("latitude", "longitude", "elevation", "utc_offset")


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Climate:
    """Hourly outdoor weather at one place.

    Parameters
    ----------
    dataset : Dataset, dims (time)
        The eleven variables of the climate registry in their units, with the attributes ``title``, ``latitude``
        [degree], ``longitude`` [degree, east positive], ``elevation`` [m], ``utc_offset`` [h], ``source`` and
        ``has_radiation`` (0 where sun and sky are left out). Build it with a reader, `sample_climate`,
        `generate_climate` or `climate_from_arrays` rather than by hand.

    Raises
    ------
    ClimateError
        Where an hour, a variable or an attribute is missing, or a value cannot be weather.

    Notes
    -----
    Two climates are equal when their data and place are; titles do not count.
    """

    _dataset: xr.Dataset
    digest: str = field(init=False)

    def __post_init__(self) -> None:
        frozen = _frozen(self._dataset)
        object.__setattr__(self, "_dataset", frozen)
        object.__setattr__(self, "digest", _digest(frozen))

    @property
    def data(self) -> xr.Dataset:
        """The record; its arrays are read-only."""
        return self._dataset.copy(deep=False)

    @property
    def title(self) -> str:
        """Name of the place or the file."""
        return str(self._dataset.attrs["title"])

    @property
    def source(self) -> str:
        """Where the record comes from."""
        return str(self._dataset.attrs["source"])

    @property
    def latitude(self) -> float:
        """Latitude, north positive. [degree]."""
        return float(self._dataset.attrs["latitude"])

    @property
    def longitude(self) -> float:
        """Longitude, east positive. [degree]."""
        return float(self._dataset.attrs["longitude"])

    @property
    def elevation(self) -> float:
        """Height above sea level. [m]."""
        return float(self._dataset.attrs["elevation"])

    @property
    def utc_offset(self) -> float:
        """Local standard time minus UTC. [h]."""
        return float(self._dataset.attrs["utc_offset"])

    @property
    def has_radiation(self) -> bool:
        """Whether sun and sky are part of the record."""
        return bool(int(self._dataset.attrs["has_radiation"]))

    @property
    def time(self) -> pd.DatetimeIndex:
        """Ends of the hours, local standard time."""
        return pd.DatetimeIndex(self._dataset["time"].data)

    @property
    def start(self) -> pd.Timestamp:
        """Begin of the first hour."""
        return pd.Timestamp(self.time[0]) - _HOUR

    @property
    def years(self) -> tuple[int, ...]:
        """Calendar years the record touches."""
        return tuple(int(year) for year in np.unique((self.time - _HOUR).year))

    def __len__(self) -> int:
        return int(self._dataset.sizes["time"])

    def __eq__(self, other: object) -> bool:
        return self.digest == other.digest if isinstance(other, Climate) else NotImplemented

    def __hash__(self) -> int:
        return hash(self.digest)

    def period(self, start: str | date | datetime | pd.Timestamp, years: int = 1) -> Climate:
        """Hours from a stated day on, going round a one-year record as often as needed.

        Parameters
        ----------
        start : str or date
            Day (or hour) at which the first hour begins: ``"1 October"``, ``"10-01"``, ``"2023-10-01"``. Without a
            year it is the first such day in the record.
        years : int
            Length in calendar years. [a]

        Returns
        -------
        Climate
            Unbroken hours. A one-year record is taken by month, day and hour, whatever its own year; a 29 February
            that it lacks repeats its 28 February, and one that the new calendar lacks is left out.

        Raises
        ------
        ClimateError
            Where a record of several years, or of less than one, does not hold the whole period.
        """
        if isinstance(years, bool) or not isinstance(years, int) or not 1 <= years <= LONGEST_PERIOD:
            allowed = f"a whole number from 1 on, at most {LONGEST_PERIOD}, is needed"
            msg = f"Climate {self.title!r}: a period of {years!r} years; {allowed}."
            raise ClimateError(msg)
        return _period(self, str(self._dataset.attrs), _begin(start, self.start, self.title), years)

    def _rows_inside(self, begin: pd.Timestamp, end: pd.Timestamp) -> RowArray:
        last = pd.Timestamp(self.time[-1])
        if begin < self.start or end > last:
            kind = "several years" if len(self) > _LONGEST_YEAR else "less than a year"
            msg = (
                f"Climate {self.title!r}: a period from {check.when(begin)} to {check.when(end)}; the record covers "
                f"{check.when(self.start)} to {check.when(last)}. A record of {kind} is not repeated: choose a period "
                "inside it, or a one-year record, which is."
            )
            raise ClimateError(msg)
        first = int((begin - self.start) / _HOUR)
        return np.arange(first, first + int((end - begin) / _HOUR))

    def summary(self) -> Mapping[str, tuple[float, str]]:
        """Figures a reader looks for first: value and unit by plain name."""
        data = self._dataset
        per_year = 8766.0 / len(self)
        temperature = data["air_temperature"].data
        days = temperature[: len(self) // 24 * 24].reshape(-1, 24).mean(axis=1)
        rows = {
            "mean air temperature": (float(temperature.mean()), "degC"),
            "coldest hour": (float(temperature.min()), "degC"),
            "warmest hour": (float(temperature.max()), "degC"),
            "heating degree days below 18 degC": (
                float(np.maximum(_HEATING_BASE - days, 0.0).sum()) * per_year,
                "K d a-1",
            ),
            "mean relative humidity": (100.0 * float(data["relative_humidity"].mean()), "%"),
            "mean wind speed": (float(data["wind_speed"].mean()), "m s-1"),
            "rain": (float(data["rain"].sum()) * per_year, "kg m-2 a-1"),
        }
        if self.has_radiation:
            sun = float(data["global_horizontal_irradiance"].sum()) / 1000.0
            rows["sun on the horizontal"] = (sun * per_year, "kWh m-2 a-1")
        return rows

    def __repr__(self) -> str:
        return "\n".join([f"Climate {self.title!r}: {self._where()}", *(f"  {row}" for row in self._rows())])

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td style='text-align:left'>{html.escape(name)}</td>"
            f"<td style='text-align:left'>{html.escape(value)}</td></tr>"
            for name, _, value in (row.partition(": ") for row in self._rows())
        )
        head = f"<b>{html.escape(self.title)}</b><br>{html.escape(self._where())}"
        return f"<div>{head}<table>{rows}</table></div>"

    def _where(self) -> str:
        place = "no place stated"
        if np.isfinite(self.latitude) and np.isfinite(self.longitude):
            north, east = "NS"[self.latitude < 0], "EW"[self.longitude < 0]
            place = f"{abs(self.latitude):.2f} {north}, {abs(self.longitude):.2f} {east}, {self.elevation:.0f} m"
        return f"{place}, {check.when(self.start)} to {check.when(self.time[-1])} ({len(self)} hours)"

    def _rows(self) -> list[str]:
        rows = [f"{name}: {value:.1f} {SPOKEN.get(unit, unit)}" for name, (value, unit) in self.summary().items()]
        if not self.has_radiation:
            rows.append("sun and sky: left out")
        notes = str(self._dataset.attrs.get("notes", ""))
        return [*rows, *(f"note: {note}" for note in notes.split("; ") if note), f"source: {self.source}"]


@lru_cache(maxsize=16)
def _period(climate: Climate, _words: str, begin: pd.Timestamp, years: int) -> Climate:
    """Hours of a climate from a moment on; ``_words`` tells climates apart whose data are equal."""
    end = begin + pd.DateOffset(years=years)
    wanted = pd.date_range(begin + _HOUR, end, freq="h", unit="ns")
    rows = _same_calendar_hours(climate.time, wanted)
    if rows is None:
        rows = climate._rows_inside(begin, end)
    data = climate.data
    return Climate(assemble(wanted, {name: data[name].data[rows] for name in CLIMATE}, data.attrs))


def assemble(
    time: pd.DatetimeIndex, values: Mapping[str, ArrayLike], attrs: Mapping[str, str | float | int]
) -> xr.Dataset:
    """Dataset with registry names, order, units and attributes from plain arrays.

    Parameters
    ----------
    time : DatetimeIndex, shape (time,)
        Ends of the hours. [time]
    values : mapping of str to array
        Arrays of shape (time,) or scalars by registry name; missing ones are left out. [registry]
    attrs : mapping
        Attributes of the record.

    Returns
    -------
    Dataset, dims (time)
        Not yet checked.
    """
    variables = {
        name: row.holding(np.array(np.broadcast_to(np.asarray(values[name], dtype=np.float64), len(time))))
        for name, row in CLIMATE.items()
        if name in values
    }
    return xr.Dataset(variables, coords={"time": hour_ends(time)}, attrs=dict(attrs))


def _frozen(dataset: xr.Dataset) -> xr.Dataset:
    """Check a record and return a copy with read-only arrays."""
    if not isinstance(dataset, xr.Dataset) or "time" not in dataset.coords:
        msg = f"A Climate is made from an xarray.Dataset with a time coordinate, not from {type(dataset).__name__}."
        raise ClimateError(msg)
    attrs: dict[str, Any] = {
        "title": "climate",
        "source": "not stated",
        "has_radiation": 1,
        "notes": "",
        **dataset.attrs,
    }
    name = str(attrs["title"])
    _check_attrs(attrs, name)
    time = pd.DatetimeIndex(np.asarray(dataset["time"].data))
    check.check_time(time, name)
    check.check_holes(time, name, 0)
    for variable in CLIMATE:
        if variable in dataset and dataset[variable].dims != ("time",):
            msg = f"Climate {name!r}: {variable} has the dimensions {dataset[variable].dims}; ('time',) is needed."
            raise ClimateError(msg)
    frozen = assemble(time, {variable: dataset[variable].data for variable in CLIMATE if variable in dataset}, attrs)
    check.check_complete(frozen, name)
    check.check_units(frozen, name)
    check.check_codes(frozen, name)
    check.check_range(frozen, name)
    for array in frozen.data_vars.values():
        array.data.flags.writeable = False
    return frozen


def _check_attrs(attrs: Mapping[str, object], name: str) -> None:
    limits = {"latitude": 90.0, "longitude": 180.0, "elevation": 6000.0, "utc_offset": 14.0}
    for key in _SITE:
        try:
            value = float(attrs[key])  # type: ignore[arg-type]
        except (KeyError, TypeError, ValueError):
            msg = f"Climate {name!r} has no usable {key}; state it as a number."
            raise ClimateError(msg) from None
        if int(attrs["has_radiation"]) and not np.isfinite(value):  # type: ignore[call-overload]
            msg = f"Climate {name!r}: {key} is not stated, but the sun's position needs it. State it."
            raise ClimateError(msg)
        if abs(value) > limits[key]:
            msg = f"Climate {name!r}: {key} is {value:g}; it must lie within -{limits[key]:g} and {limits[key]:g}."
            raise ClimateError(msg)


def _digest(dataset: xr.Dataset) -> str:
    digest = hashlib.sha256(dataset["time"].data.astype("int64").tobytes())
    for name in CLIMATE:
        # Adding zero turns -0.0 into 0.0, which compares equal and must hash equal.
        digest.update((dataset[name].data + 0.0).tobytes())
    place = [float(dataset.attrs[key]) for key in (*_SITE, "has_radiation")]
    digest.update(np.array(place).tobytes())
    return digest.hexdigest()


def _begin(start: object, record_start: pd.Timestamp, name: str) -> pd.Timestamp:
    """Timestamp behind what the user wrote for the begin of a period."""
    moment: pd.Timestamp | None = None
    if isinstance(start, str):
        text = start.strip()
        if re.search(r"\d{4}", text):
            moment = _parsed(text, ("%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%d %B %Y", "%d %b %Y"))
        else:
            # A year is put before the text, so that 29 February is judged by the record's own year.
            for year in (record_start.year, record_start.year + 1):
                candidate = _parsed(f"{year} {text}", ("%Y %d %B", "%Y %d %b", "%Y %m-%d", "%Y %B %d"))
                if candidate is not None and candidate >= record_start:
                    moment = candidate
                    break
    elif isinstance(start, (date, datetime, np.datetime64)):
        moment = pd.Timestamp(start)
    if moment is None or moment.tzinfo is not None or moment != moment.floor("h"):
        msg = (
            f"Climate {name!r}: the period's start is {start!r}; a day such as '1 October' or '2023-10-01', or a whole "
            "hour such as '2023-10-01 06:00' without a time zone, is needed."
        )
        raise ClimateError(msg)
    return moment.as_unit("ns")


def _parsed(text: str, formats: tuple[str, ...]) -> pd.Timestamp | None:
    for form in formats:
        try:
            return pd.Timestamp(datetime.strptime(text, form))
        except ValueError:
            continue
    return None


def _same_calendar_hours(record: pd.DatetimeIndex, wanted: pd.DatetimeIndex) -> RowArray | None:
    """Row of a one-year record for each wanted stamp, by month, day and hour; None for any other record."""
    record_keys, keys = _calendar_key(record), _calendar_key(wanted)
    known, rows = np.unique(record_keys, return_index=True)
    ordinary = int((known // 100 != _LEAP_DAY).sum())
    if len(record) > _LONGEST_YEAR or ordinary < _SHORTEST_YEAR:
        return None
    keys = np.where((keys // 100 == _LEAP_DAY) & ~np.isin(keys, known), keys - 100, keys)
    found: RowArray = rows[np.searchsorted(known, keys)]
    return found


def _calendar_key(stamps: pd.DatetimeIndex) -> RowArray:
    begin = stamps - _HOUR
    return np.asarray(begin.month * 10000 + begin.day * 100 + begin.hour)
