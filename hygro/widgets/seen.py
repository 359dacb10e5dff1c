"""What the page shows of a run, small enough to send at every move: days instead of hours, one slice, sorted speeds.

It is made from a run's Dataset, or from the arrays of a quick look. May import: criteria, grid, assembly, core, sums.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from hygro.assembly import Assembly
from hygro.core.record import Record
from hygro.criteria import condensate, is_wood, moisture_content, mould_index
from hygro.grid import Grid
from hygro.sums import over_cells

FloatArray = NDArray[np.float64]
_SPEEDS: Final = 200  # points of the duration curve


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Days of a run.

    Parameters
    ----------
    start : Timestamp
        Beginning of the first hour.
    content : ndarray, shape (n_days,)
        Moisture content of the judged layer, mean of the day, in the slice that gets wettest. [%]
    humidity : ndarray, shape (n_days, n_cells)
        Relative humidity, mean of the day, in the slice that gets dampest. [1]
    cells : ndarray, shape (n_cells, 2)
        Outer and inner end of each cell below the outer face. [m]
    cell_layer : ndarray, shape (n_cells,)
        Number of the layer that each belongs to.
    free : float
        Most free water and ice in the judged layer. [kg m-2]
    speed : ndarray or None
        Air speed in the gap, falling, at even shares of the time; None without a gap. [m s-1]
    is_wood : bool
        Whether limits for wood apply.
    mould : float or None
        Highest mould index of the inner face; None where it was not asked. [1]
    """

    start: pd.Timestamp
    content: FloatArray
    humidity: FloatArray
    cells: FloatArray
    cell_layer: NDArray[np.int64]
    free: float
    speed: FloatArray | None
    is_wood: bool
    mould: float | None

    @property
    def end(self) -> pd.Timestamp:
        """End of the last day."""
        return self.start + pd.Timedelta(days=len(self.content))

    @property
    def packed(self) -> dict[str, Any]:
        """For the page: numbers as bytes in its order, humidity in steps of 1/255."""
        return {
            "start": int(self.start.timestamp() * 1000),
            "days": len(self.content),
            "content": self.content.astype("<f4").tobytes(),
            "humidity": np.clip(255.0 * self.humidity.T + 0.5, 0.0, 255.0).astype(np.uint8).tobytes(),
            "cells": self.cells.astype("<f4").tobytes(),
            "speed": b"" if self.speed is None else self.speed.astype("<f4").tobytes(),
            "wood": self.is_wood,
        }


def of_run(run: xr.Dataset, layer: str, *, judged: bool = True) -> Seen:
    """What is seen of a run; the mould index takes a while and is told of judged ones only."""
    asked = judged and str(run["layer_mould_sensitivity"].sel(layer=layer).item()) != ""
    position, thickness = run["cell_position"].to_numpy(), run["cell_thickness"].to_numpy()
    return Seen(
        start=pd.Timestamp(run["time"].to_numpy()[0]) - pd.Timedelta(hours=1),
        content=_worst(days(moisture_content(run, layer).to_numpy(), 24)),
        humidity=_dampest(run["relative_humidity"].transpose("time", "slice", "cell").to_numpy(), 24),
        cells=_ends(position, thickness),
        cell_layer=run["cell_layer"].to_numpy(),
        free=float(condensate(run, layer).max()),
        speed=_falling(run["gap_air_speed"].to_numpy()) if "gap_air_speed" in run else None,
        is_wood=is_wood(run, layer),
        mould=float(mould_index(run, layer, "inner").max()) if asked else None,
    )


def of_record(record: Record, grid: Grid, assembly: Assembly, layer: str, start: pd.Timestamp, per_day: int) -> Seen:
    """What is seen of the solver's arrays, with so many rows a day."""
    number = assembly.layer_number(layer)
    material, thickness = assembly.layers[number].material, grid.thickness
    held = np.flatnonzero(grid.cell_layer == number)
    cells = held[~grid.is_film[held]]
    water = over_cells(record.water[:, :, cells], thickness[cells]) / thickness[cells].sum()
    bound = grid.bound_water(material) if material.is_hygroscopic else 0.0
    past = np.where(grid.is_film[held], 0.0, bound)
    free = over_cells(np.maximum(record.water[:, :, held] - past, 0.0), thickness[held])
    return Seen(
        start=start,
        content=_worst(days(100.0 * water / material.density, per_day)),
        humidity=_dampest(record.activity, per_day),
        cells=_ends(grid.position, thickness),
        cell_layer=grid.cell_layer,
        free=float(free.max()),
        speed=None if assembly.gap is None else _falling(record.speed),
        is_wood=material.is_wood,
        mould=None,
    )


def days(values: FloatArray, per_day: int) -> FloatArray:
    """Means of whole days along the first axis."""
    n = len(values) // per_day
    return np.asarray(values[: n * per_day].reshape(n, per_day, *values.shape[1:]).mean(axis=1))


def _worst(content: FloatArray) -> FloatArray:
    """Of shape (n_days, n_slices), the slice that reaches highest."""
    return np.asarray(content[:, int(content.max(axis=0).argmax())])


def _dampest(humidity: FloatArray, per_day: int) -> FloatArray:
    """Of shape (n, n_slices, n_cells), daily means of the slice that reaches highest."""
    return days(humidity[:, int(humidity.max(axis=(0, 2)).argmax())], per_day)


def _ends(position: FloatArray, thickness: FloatArray) -> FloatArray:
    return np.stack([position - 0.5 * thickness, position + 0.5 * thickness], axis=1)


def _falling(speed: FloatArray) -> FloatArray:
    ordered = np.sort(np.abs(speed))[::-1]
    return np.asarray(ordered[np.linspace(0, len(ordered) - 1, _SPEEDS).astype(int)])
