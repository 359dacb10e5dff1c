"""One number out of a run, with the limit it is held to: what sweeps tabulate, searches seek and ensembles count.

May import: criteria, errors.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from hygro.criteria import combined_verdict
from hygro.criteria.condensation import RUN_OFF, free_water
from hygro.criteria.mould import LIMIT as MOULD_LIMIT
from hygro.criteria.mould import index_at
from hygro.criteria.select import FACES
from hygro.criteria.trend import SMALLEST_GAIN, SOURCE, yearly_gains
from hygro.criteria.wood import DECAY_SAFETY, moisture_contents
from hygro.errors import InputError


@dataclass(frozen=True, slots=True)
class Measure:
    """A number that a run gives for a layer; low is good.

    Parameters
    ----------
    name : str
        Name in tables and Datasets.
    unit : str
        Unit of the value and the limit, CF style.
    words : str
        What it is, for axes and sentences.
    value : callable
        Function of a run and the label of a layer.
    limit : float
        It passes up to here; ``math.inf`` where nothing is too much. [`unit`]
    source : str
        Where the limit comes from, and how sure that is.

    Raises
    ------
    InputError
        Where the name is no word, or the limit is not a number.
    """

    name: str
    unit: str
    words: str
    value: Callable[[xr.Dataset, str], float]
    limit: float
    source: str

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.isidentifier():
            msg = f"A measure's name is {self.name!r}; give one word of letters, digits and underscores."
            raise InputError(msg)
        if not callable(self.value):
            msg = f"Measure {self.name!r}: value is {self.value!r}; give a function of a run and a layer."
            raise InputError(msg)
        if isinstance(self.limit, bool) or not isinstance(self.limit, int | float) or math.isnan(self.limit):
            msg = f"Measure {self.name!r}: limit is {self.limit!r}; give a number in {self.unit!r}."
            raise InputError(msg)

    def of(self, run: xr.Dataset, layer: str) -> float:
        """Value for a layer of a run, in `unit`."""
        return float(self.value(run, layer))

    def passes(self, value: float) -> bool:
        """Whether a value is within the limit."""
        return value <= self.limit

    def attrs(self) -> dict[str, Any]:
        """Attributes for a DataArray of its values."""
        return {"units": self.unit, "long_name": self.words, "limit": self.limit, "limit_source": self.source}


def _wettest(run: xr.Dataset, layer: str) -> float:
    return _highest(moisture_contents(run, layer, "mean"))


def _wettest_face(run: xr.Dataset, layer: str) -> float:
    return _highest(moisture_contents(run, layer, "outer", "inner"))


def _mould(run: xr.Dataset, layer: str) -> float:
    return _highest(index_at(run, layer, face)[0] for face in FACES)


def _free_water(run: xr.Dataset, layer: str) -> float:
    return float(free_water(run, layer).max())


def _gain(run: xr.Dataset, layer: str) -> float:
    return float(yearly_gains(run, layer)[-1].max())


def _highest(series: Iterable[NDArray[np.float64]]) -> float:
    return max(float(one.max()) for one in series)


def _level(run: xr.Dataset, layer: str) -> float:
    return float(combined_verdict(run, layer).level.rank)


WETTEST: Final = Measure(
    "wettest", "%", "highest moisture content, mean of the layer", _wettest, DECAY_SAFETY.value, DECAY_SAFETY.source
)
WETTEST_FACE: Final = Measure(
    "wettest_face", "%", "highest moisture content at a face", _wettest_face, DECAY_SAFETY.value, DECAY_SAFETY.source
)
MOULD: Final = Measure(
    "mould", "1", "highest mould index at a face", _mould, MOULD_LIMIT, "mould growth seen by eye; see mould_verdict"
)
FREE_WATER: Final = Measure(
    "free_water", "kg m-2", "most free water and ice", _free_water, RUN_OFF, "ISO 13788:2012, run-off (from memory)"
)
GAIN: Final = Measure("gain", "kg m-2 year-1", "water gained in the last year", _gain, SMALLEST_GAIN, SOURCE)
LEVEL: Final = Measure(
    "level", "1", "combined verdict: 0 fine, 1 caution, 2 fails", _level, 0.0, "rules of combined_verdict"
)
