"""A verdict: one criterion applied to one place of one run, said in plain words.

May import: errors.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from hygro.errors import InputError

HEALTH: Final = (
    "Caution: mould can harm health. This is a calculation, not an inspection; local codes and a licensed "
    "professional decide."
)
STRUCTURE: Final = (
    "Caution: wet wood and rusting fasteners can cost strength. This is a calculation, not an inspection; local "
    "codes and a licensed engineer decide."
)


class Level(StrEnum):
    """How a criterion came out, from best to worst."""

    FINE = "fine"
    CAUTION = "caution"
    FAILS = "fails"

    @property
    def rank(self) -> int:
        """0 for fine, 1 for caution, 2 for fails."""
        return list(Level).index(self)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Outcome of one criterion.

    Parameters
    ----------
    criterion : str
        Name of the criterion.
    level : Level
        How it came out.
    value : float
        The value that decided, in `unit`.
    unit : str
        Unit of `value` and `limit`, CF style; ``"1"`` for plain numbers.
    limit : float
        The limit that `value` is held against, in `unit`; ``nan`` where there is none.
    when : pandas.Timestamp or None
        End of the hour in which `value` occurred; None where it belongs to no hour.
    where : str
        Place, in words.
    because : str
        The reason, one sentence.
    source : str
        Where the limit comes from, and how sure that is.
    caution : str, optional
        What to mind where the result could hurt someone.
    """

    criterion: str
    level: Level
    value: float
    unit: str
    limit: float
    when: pd.Timestamp | None
    where: str
    because: str
    source: str
    caution: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.level, Level):
            msg = f"Verdict '{self.criterion}': level is {self.level!r}; use Level.FINE, Level.CAUTION or Level.FAILS."
            raise InputError(msg)

    def __str__(self) -> str:
        held = f" (limit {quantity(self.limit, self.unit)})" if math.isfinite(self.limit) else ""
        hour = f" on {spoken(self.when)}" if self.when is not None else ""
        head = (
            f"{str(self.level).capitalize()}: {self.criterion} ({self.where}) is "
            f"{quantity(self.value, self.unit)}{hour}{held}."
        )
        return " ".join(part for part in (head, self.because, self.caution) if part)


def quantity(value: float, unit: str) -> str:
    """Write number and unit as a builder would read them."""
    if 0.0 < abs(value) < NEARLY_NOTHING:
        number = "about 0"
    else:
        number = f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}"
    if unit == "1":
        return number
    return f"{number} {_SPOKEN.get(unit, unit)}"


def spoken(stamp: pd.Timestamp) -> str:
    """Date and hour in words, for instance ``14 January 2021 05:00``."""
    return f"{stamp.day} {stamp.month_name()} {stamp.year} {stamp:%H:%M}"


def peak(series: xr.DataArray) -> tuple[float, pd.Timestamp, int]:
    """Highest value of a series over time and slice, the first hour it is reached, and the slice."""
    numbers = series.transpose("time", "slice").to_numpy()
    return highest(str(series.name), numbers, series["time"].to_numpy())


def highest(
    name: str, numbers: npt.NDArray[np.float64], stamps: npt.NDArray[np.datetime64]
) -> tuple[float, pd.Timestamp, int]:
    """The same of numbers of shape (n_hour, n_slice) and the ends of their hours."""
    if not np.isfinite(numbers).any():
        msg = f"{name}: no hour has a value; the run is too short for this criterion. Run a longer time."
        raise InputError(msg)
    hour, place = np.unravel_index(int(np.nanargmax(numbers)), numbers.shape)
    return float(numbers[hour, place]), pd.Timestamp(stamps[hour]), int(place)


def place_in_words(layer: str, part: str, place: int, n_slices: int) -> str:
    """Name of a place, for instance ``outer face of 'deck', slice 2 of 4 from the inlet``."""
    text = f"{part} of '{layer}'"
    return text if n_slices == 1 else f"{text}, slice {place + 1} of {n_slices} from the inlet"


NEARLY_NOTHING: Final = 5e-4  # of any unit shown here; what is smaller reads as noise
_SPOKEN: Final = {
    "kg m-2": "kg/m²",
    "kg m-2 year-1": "kg/m² a year",
    "%": "%",
    "h": "hours",
}
