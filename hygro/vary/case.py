"""One variant under one weather, judged: what sweeps, searches and ensembles compute many times.

May import: inputs, measures, study and all above it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from hygro.climate import Climate
from hygro.criteria.series import LayerSeries
from hygro.errors import InputError
from hygro.study import Variant, run_of
from hygro.vary.inputs import CLIMATE, Input
from hygro.vary.measures import Measure


@dataclass(frozen=True, slots=True)
class Case:
    """A variant, its weather, and the layer and the years that are judged.

    Parameters
    ----------
    variant : Variant
        What is built.
    climate : Climate
        Outdoor weather.
    layer : str
        Label of the layer that is judged.
    start : str
        First day, such as ``"1 October"``.
    years : int
        How long. [a]

    Raises
    ------
    InputError
        Where the kinds are wrong, or the variant lacks the layer.
    """

    variant: Variant
    climate: Climate
    layer: str
    start: str
    years: int

    def __post_init__(self) -> None:
        for name, kind in (("variant", Variant), ("climate", Climate)):
            if not isinstance(getattr(self, name), kind):
                msg = f"{name} is {getattr(self, name)!r}; give a {kind.__name__}."
                raise InputError(msg)
        self.variant.assembly.layer_number(self.layer)
        period(self.climate, self.start, self.years)

    def put(self, one: Input, value: Any) -> Case:
        """Case with another value of an input; of ``climate`` as well."""
        if one.name == CLIMATE and one.change is None:
            return replace(self, climate=value)
        return replace(self, variant=one.put(self.variant, value))

    def read(self, one: Input) -> Any:
        """Value of an input as it is now."""
        return self.climate if one.name == CLIMATE and one.change is None else one.read(self.variant)

    def run(self) -> xr.Dataset:
        """Run it.

        Returns
        -------
        Dataset
            What `simulate` returns.

        Raises
        ------
        ConvergenceError
            Where the solver cannot go on.
        """
        return run_of(self.variant, period(self.climate, self.start, self.years))


@lru_cache(maxsize=64)
def period(climate: Climate, start: str, years: int) -> Climate:
    """Weather of the stated years, cut once for all runs that share it."""
    return climate.period(start, years)


def judged(series: LayerSeries, measures: Iterable[Measure]) -> NDArray[np.float64]:
    """Values of measures for a layer of a run, shape (n_measures,), each in its unit."""
    return np.array([measure.of_series(series) for measure in measures])


def daily_moisture(series: LayerSeries) -> NDArray[np.float32]:
    """Daily means of the moisture content of a layer in its wettest slice, shape (n_days,). [%]."""
    content = series.content("mean")
    wettest = content[:, int(content.max(axis=0).argmax())]
    days = len(wettest) // 24
    return np.asarray(wettest[: days * 24].reshape(days, 24).mean(axis=1), dtype=np.float32)


def middays(stamps: NDArray[np.datetime64]) -> NDArray[np.datetime64]:
    """Middle of each whole day, shape (n_days,), from the ends of the hours."""
    # The first stamp ends the first hour of a day; its middle is eleven hours later.
    return np.asarray(stamps[: len(stamps) // 24 * 24 : 24] + np.timedelta64(11, "h"), dtype="datetime64[ns]")
