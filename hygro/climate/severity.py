"""Choosing a severe year out of many. May import: errors, record."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import pandas as pd

from hygro.climate.record import Climate
from hygro.errors import ClimateError

FEWEST_YEARS: Final = 10  # [a] below this a year exceeded once in ten cannot be told from the record
_ONE_IN: Final = 10  # years of which one is at least as severe


def heating_severity(year: Climate) -> float:
    """Heating degree days of a year below 18 degC: the colder, the more severe. [K d a-1]."""
    return year.summary()["heating degree days below 18 degC"][0]


def warmth_severity(year: Climate) -> float:
    """Mean air temperature of a year: the warmer, the more severe, for mould and for summer condensation. [degC]."""
    return year.summary()["mean air temperature"][0]


def rain_severity(year: Climate) -> float:
    """Rain of a year: the more, the more severe, for what rain wets. [kg m-2 a-1]."""
    return year.summary()["rain"][0]


def dampness_severity(year: Climate) -> float:
    """Mean relative humidity of a year: the damper, the more severe, for what outdoor air should dry. [1]."""
    return float(year.data["relative_humidity"].mean())


def year_severities(
    climate: Climate, severity: Callable[[Climate], float] = heating_severity
) -> tuple[tuple[int, float], ...]:
    """Whole calendar years of a record and their severity, the most severe first.

    Parameters
    ----------
    climate : Climate
        Record of one whole calendar year or more.
    severity : callable
        Figure of a one-year climate that grows with its severity.

    Returns
    -------
    tuple of (int, float)
        Year and figure, in the unit of the figure. [severity]

    Raises
    ------
    ClimateError
        Where the severity is not a number.
    """
    figures = []
    for year in _whole_years(climate):
        figure = float(severity(_year(climate, year)))
        if not math.isfinite(figure):
            msg = f"Climate {climate.title!r}: the severity of {year} is {figure}; a finite number is needed."
            raise ClimateError(msg)
        figures.append((year, figure))
    return tuple(sorted(figures, key=lambda one: one[1], reverse=True))


def severe_year(climate: Climate, severity: Callable[[Climate], float] = heating_severity) -> Climate:
    """Whole calendar year that is equalled or exceeded once in ten years.

    Parameters
    ----------
    climate : Climate
        Record of ten whole calendar years or more.
    severity : callable
        Figure of a one-year climate that grows with its severity. By default the heating degree days, which suits
        the wetting of cold layers from indoors; `warmth_severity`, `rain_severity` and `dampness_severity` suit other
        questions, and a check for two of them needs two years.

    Returns
    -------
    Climate
        One year of the record: of thirty the third most severe, of ten the most severe. Its title and history say
        which, its rank and by what.

    Raises
    ------
    ClimateError
        Where the record holds fewer than ten whole calendar years, or the severity is not a number.

    References
    ----------
    The once-in-ten-years design year of EN 15026 and ASHRAE 160, both from memory; ranking by degree days is common
    practice.
    """
    count = len(_whole_years(climate))
    if count < FEWEST_YEARS:
        msg = (
            f"Climate {climate.title!r} holds {count} whole calendar years; {FEWEST_YEARS} are needed to tell a "
            "year exceeded once in ten. Use a longer record, or study the years one by one with period()."
        )
        raise ClimateError(msg)
    rank = count // _ONE_IN
    year, figure = year_severities(climate, severity)[rank - 1]
    chosen = _year(climate, year)
    by = getattr(severity, "__name__", repr(severity)).replace("_", " ")
    words = f"severe year {year}: number {rank} of {count} by {by} ({figure:.6g})"
    told = {
        name: "; ".join(part for part in (str(climate.data.attrs.get(name, "")), words) if part)
        for name in ("notes", "history")
    }
    return Climate(chosen.data.assign_attrs(title=f"{climate.title}, severe year {year}", **told))


def _year(climate: Climate, year: int) -> Climate:
    return climate.period(pd.Timestamp(year=year, month=1, day=1))


def _whole_years(climate: Climate) -> list[int]:
    last = pd.Timestamp(climate.time[-1])
    return [
        year
        for year in climate.years
        if climate.start <= pd.Timestamp(year=year, month=1, day=1)
        and pd.Timestamp(year=year + 1, month=1, day=1) <= last
    ]
