"""Choosing the year that is exceeded once in ten."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hygro.climate import (
    Climate,
    climate_from_arrays,
    dampness_severity,
    rain_severity,
    severe_year,
    warmth_severity,
    year_severities,
)
from hygro.errors import ClimateError


def years(count: int, start: str = "1990-01-01") -> Climate:
    """Years of constant temperature, shuffled: 0, 7, 14 ... modulo the count; the lowest is the most severe."""
    time = pd.date_range(start, f"{1990 + count}-01-01", freq="h", inclusive="left")
    temperature = ((time.year.to_numpy() - 1990) * 7 % count).astype(float) - 10.0
    return climate_from_arrays(temperature, np.full(len(time), 0.8), start=start)


def test_third_coldest_of_thirty_and_coldest_of_ten() -> None:
    assert float(severe_year(years(30 + 1)).data["air_temperature"].mean()) == -8.0  # three of thirty-one
    assert float(severe_year(years(10)).data["air_temperature"].mean()) == -10.0
    assert len(severe_year(years(10)).years) == 1


def test_another_severity_turns_the_choice() -> None:
    hottest = severe_year(years(10), lambda year: float(year.data["air_temperature"].mean()))
    assert float(hottest.data["air_temperature"].mean()) == -1.0


def test_part_years_do_not_count() -> None:
    with pytest.raises(ClimateError, match=r"holds 9 whole calendar years; 10 are needed"):
        severe_year(years(10, "1990-02-01"))


def test_severity_that_is_no_number() -> None:
    with pytest.raises(ClimateError, match=r"the severity of 1990 is nan; a finite number is needed"):
        severe_year(years(10), lambda _: float("nan"))


def test_the_choice_is_told() -> None:
    chosen = severe_year(years(20))
    assert chosen.title == "outdoor air from arrays, severe year 1993"  # 3 * 7 modulo 20 is 1: -9 degC
    # 27 K below 18 degC for a mean year of 365.25 days.
    assert chosen.data.attrs["history"] == "severe year 1993: number 2 of 20 by heating severity (9861.75)"


def test_years_are_ranked() -> None:
    ranked = year_severities(years(12), warmth_severity)
    assert [round(figure, 6) for _, figure in ranked] == [float(n) for n in range(1, -11, -1)]
    assert len({year for year, _ in ranked}) == 12


def test_rain_and_dampness_have_their_own_severe_years() -> None:
    time = pd.date_range("2000-01-01", "2010-01-01", freq="h", inclusive="left")
    number = time.year.to_numpy() - 2000
    record = climate_from_arrays(
        np.zeros(len(time)), 0.5 + 0.01 * (number * 3 % 10), start="2000-01-01", rain=0.1 * (number * 7 % 10)
    )
    assert severe_year(record, rain_severity).years == (2007,)  # 7 * 7 modulo 10 is 9
    assert severe_year(record, dampness_severity).years == (2003,)  # 3 * 3 is 9
