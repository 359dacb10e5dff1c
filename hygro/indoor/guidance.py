"""When the carbon dioxide indoors exceeds what is published for comfort and for health.

Carbon dioxide at these levels is above all a measure of stale air: where it is high, damp, smells and germs are too.

May import: errors, variables.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro.errors import InputError
from hygro.indoor.air import Array, require_hourly

CAUTION: Final = "Stale air can harm sleep, attention and health; local codes on ventilation decide."


class Concern(StrEnum):
    """What a guideline is for."""

    COMFORT = "comfort"
    HEALTH = "health"


@dataclass(frozen=True, slots=True)
class Guideline:
    """A published limit on carbon dioxide.

    Parameters
    ----------
    name : str
        What it is.
    limit : float
        By volume. [1e-6]
    above_outdoors : bool
        Whether the limit is counted above the outdoor air.
    hours : int
        Length of the mean that it applies to; an hour is the shortest here. [h]
    concern : Concern
        Comfort or health.
    source : str
        Where it comes from, and how sure that is.
    """

    name: str
    limit: float
    above_outdoors: bool
    hours: int
    concern: Concern
    source: str


GUIDELINES: Final = (
    Guideline("high comfort", 550.0, True, 1, Concern.COMFORT, "EN 16798-1:2019, category I (from memory)"),
    Guideline("normal comfort", 800.0, True, 1, Concern.COMFORT, "EN 16798-1:2019, category II (from memory)"),
    Guideline("moderate comfort", 1350.0, True, 1, Concern.COMFORT, "EN 16798-1:2019, category III (from memory)"),
    Guideline(
        "long-term exposure at home", 1000.0, False, 24, Concern.HEALTH, "Health Canada 2021, daily mean (from memory)"
    ),
    Guideline(
        "hygienically unacceptable", 2000.0, False, 1, Concern.HEALTH,
        "German committee on indoor guide values 2008 (from memory)",
    ),
    Guideline(
        "limit at work, 8 hours", 5000.0, False, 8, Concern.HEALTH, "OSHA and ACGIH, mean of 8 hours (from memory)"
    ),
    Guideline(
        "limit at work, short", 30000.0, False, 1, Concern.HEALTH,
        "ACGIH, 15 minutes, held against the mean of an hour (from memory)",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class GuidelineCheck:
    """One guideline against the air of a record.

    Attributes
    ----------
    guideline : Guideline
        The limit.
    value : float
        Highest mean over its hours, counted as the limit is. [1e-6]
    when : pandas.Timestamp
        End of those hours.
    hours_above : int
        Hours that end a mean above the limit. [h]
    """

    guideline: Guideline
    value: float
    when: pd.Timestamp
    hours_above: int

    @property
    def passes(self) -> bool:
        """Whether the limit is never exceeded."""
        return self.hours_above == 0

    def __str__(self) -> str:
        one = self.guideline
        over = " above outdoors" if one.above_outdoors else ""
        span = "an hour" if one.hours == 1 else f"{one.hours} hours"
        limit = f"{one.concern}: {one.name}, {one.limit:.0f} ppm{over} as a mean of {span}"
        if self.passes:
            return f"{limit}, is kept (highest {self.value:.0f}); {one.source}"
        return (
            f"{limit}, is exceeded in {self.hours_above} hours, most on {self.when:%d %B %Y %H:%M} ({self.value:.0f}); "
            f"{one.source}"
        )


def carbon_dioxide_guidance(air: xr.Dataset) -> tuple[GuidelineCheck, ...]:
    """Carbon dioxide of an indoor record against published guidance.

    Parameters
    ----------
    air : xarray.Dataset
        What `Household.conditions` gives, of a day or more.

    Returns
    -------
    tuple of GuidelineCheck
        Comfort first, then health, each from strict to lax.

    Raises
    ------
    InputError
        Where the record has no carbon dioxide or is shorter than a day.

    References
    ----------
    Each guideline names its own source.
    """
    require_hourly(air)
    if "indoor_carbon_dioxide" not in air or "outdoor_carbon_dioxide" not in air.attrs:
        msg = "This indoor record has no carbon dioxide; only a Household computes it. Pass its conditions(...)."
        raise InputError(msg)
    series = np.asarray(air["indoor_carbon_dioxide"].to_numpy(), dtype=float)
    if series.size < 24:
        msg = f"The indoor record has {series.size} hours; guidance on carbon dioxide needs a day or more."
        raise InputError(msg)
    return tuple(_check(one, series, float(air.attrs["outdoor_carbon_dioxide"]), air) for one in GUIDELINES)


def _check(one: Guideline, series: Array, outdoors: float, air: xr.Dataset) -> GuidelineCheck:
    total = np.concatenate([[0.0], np.cumsum(series)])
    means = (total[one.hours :] - total[: -one.hours]) / one.hours - (outdoors if one.above_outdoors else 0.0)
    peak = int(means.argmax())
    stamp = pd.Timestamp(air["time"].to_numpy()[peak + one.hours - 1])
    above = int((means > one.limit * (1.0 + 1e-9)).sum())
    return GuidelineCheck(one, float(means[peak]), stamp, above)


def guidance_in_words(checks: tuple[GuidelineCheck, ...]) -> str:
    """Say for each concern the laxest guideline that is exceeded."""
    said = []
    for concern in Concern:
        exceeded = [check for check in checks if check.guideline.concern is concern and not check.passes]
        if exceeded:
            worst = max(exceeded, key=lambda check: check.guideline.limit)
            said.append(str(worst))
        else:
            said.append(f"{concern}: within all guidance")
    return ". ".join(said) + "."


def is_unhealthy(checks: tuple[GuidelineCheck, ...]) -> bool:
    """Whether a guideline for health is exceeded."""
    return any(check.guideline.concern is Concern.HEALTH and not check.passes for check in checks)
