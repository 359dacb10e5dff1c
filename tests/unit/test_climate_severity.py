"""Choosing the year that is exceeded once in ten."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hygro.climate import Climate, climate_from_arrays, severe_year
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
