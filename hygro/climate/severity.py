"""Choosing a severe year out of many. May import: errors, record."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import pandas as pd

from hygro.climate.record import Climate
from hygro.errors import ClimateError

FEWEST_YEARS: Final = 10  # [a] below this a year exceeded once in ten cannot be told from the record
_EXCEEDED: Final = 0.1  # [1] share of the years that are at least as severe


def heating_severity(year: Climate) -> float:
    """Heating degree days of a year below 18 degC: the colder, the more severe. [K d a-1]."""
    return year.summary()["heating degree days below 18 degC"][0]


def severe_year(climate: Climate, severity: Callable[[Climate], float] = heating_severity) -> Climate:
    """Whole calendar year that is equalled or exceeded once in ten years.

    Parameters
    ----------
    climate : Climate
        Record of ten whole calendar years or more.
    severity : callable
        Figure of a one-year climate that grows with its severity. By default the heating degree days, which suits
        the wetting of cold layers from indoors; state another for summer or for driving rain.

    Returns
    -------
    Climate
        One year of the record: of thirty the third most severe, of ten the most severe.

    Raises
    ------
    ClimateError
        Where the record holds fewer than ten whole calendar years, or the severity is not a number.

    References
    ----------
    The once-in-ten-years design year of EN 15026 and ASHRAE 160, both from memory; ranking by degree days is common
    practice.
    """
    years = _whole_years(climate)
    if len(years) < FEWEST_YEARS:
        msg = (
            f"Climate {climate.title!r} holds {len(years)} whole calendar years; {FEWEST_YEARS} are needed to tell a "
            "year exceeded once in ten. Use a longer record, or study the years one by one with period()."
        )
        raise ClimateError(msg)
    candidates = [climate.period(pd.Timestamp(year=year, month=1, day=1)) for year in years]
    figures = [float(severity(candidate)) for candidate in candidates]
    for year, figure in zip(years, figures, strict=True):
        if not math.isfinite(figure):
            msg = f"Climate {climate.title!r}: the severity of {year} is {figure}; a finite number is needed."
            raise ClimateError(msg)
    order = sorted(range(len(years)), key=lambda k: figures[k], reverse=True)
    return candidates[order[math.floor(_EXCEEDED * len(years)) - 1]]


def _whole_years(climate: Climate) -> list[int]:
    last = pd.Timestamp(climate.time[-1])
    return [
        year
        for year in climate.years
        if climate.start <= pd.Timestamp(year=year, month=1, day=1)
        and pd.Timestamp(year=year + 1, month=1, day=1) <= last
    ]
