"""One number out of a run, with the limit it is held to: what sweeps tabulate, searches seek and ensembles count.

May import: criteria, errors.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import xarray as xr

from hygro.criteria.combined import combined_verdict_on
from hygro.criteria.condensation import RUN_OFF
from hygro.criteria.mould import LIMIT as MOULD_LIMIT
from hygro.criteria.select import FACES
from hygro.criteria.series import LayerSeries
from hygro.criteria.trend import SMALLEST_GAIN, SOURCE, yearly_gains
from hygro.criteria.wood import DECAY_SAFETY
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

    def of_series(self, series: LayerSeries) -> float:
        """The same where series of the layer may have been found for another measure."""
        if isinstance(self.value, OfSeries):
            return float(self.value.function(series))
        return self.of(series.run, series.layer)

    def passes(self, value: float) -> bool:
        """Whether a value is within the limit."""
        return value <= self.limit

    def attrs(self) -> dict[str, Any]:
        """Attributes for a DataArray of its values."""
        return {"units": self.unit, "long_name": self.words, "limit": self.limit, "limit_source": self.source}


@dataclass(frozen=True, slots=True)
class OfSeries:
    """A measure's function that looks at series of a layer, which the measures of one run then share."""

    function: Callable[[LayerSeries], float]

    def __call__(self, run: xr.Dataset, layer: str) -> float:
        """Value for a layer of a run."""
        return self.function(LayerSeries(run, layer))


def _wettest(series: LayerSeries) -> float:
    return float(series.content("mean").max())


def _wettest_face(series: LayerSeries) -> float:
    return max(float(series.content(face).max()) for face in FACES)


def _mould(series: LayerSeries) -> float:
    return max(float(series.mould(face)[0].max()) for face in FACES)


def _free_water(series: LayerSeries) -> float:
    return float(series.free_water().max())


def _gain(series: LayerSeries) -> float:
    return float(yearly_gains(series.run, series.layer)[-1].max())


def verdict_rank(series: LayerSeries, wood: bool | None = None) -> float:
    """Level of the combined verdict: 0 fine, 1 caution, 2 fails. [1]."""
    return float(combined_verdict_on(series, wood).level.rank)


WETTEST: Final = Measure(
    "wettest",
    "%",
    "highest moisture content, mean of the layer",
    OfSeries(_wettest),
    DECAY_SAFETY.value,
    DECAY_SAFETY.source,
)
WETTEST_FACE: Final = Measure(
    "wettest_face",
    "%",
    "highest moisture content at a face",
    OfSeries(_wettest_face),
    DECAY_SAFETY.value,
    DECAY_SAFETY.source,
)
MOULD: Final = Measure(
    "mould",
    "1",
    "highest mould index at a face",
    OfSeries(_mould),
    MOULD_LIMIT,
    "mould growth seen by eye; see mould_verdict",
)
FREE_WATER: Final = Measure(
    "free_water",
    "kg m-2",
    "most free water and ice",
    OfSeries(_free_water),
    RUN_OFF,
    "ISO 13788:2012, run-off (from memory)",
)
GAIN: Final = Measure("gain", "kg m-2 year-1", "water gained in the last year", OfSeries(_gain), SMALLEST_GAIN, SOURCE)
LEVEL: Final = Measure(
    "level",
    "1",
    "combined verdict: 0 fine, 1 caution, 2 fails",
    OfSeries(verdict_rank),
    0.0,
    "rules of combined_verdict",
)
