"""The state of a build-up at the first hour.

May import: grid, assembly, and all above them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hygro.assembly import Assembly
from hygro.core.potential import coordinate
from hygro.errors import InputError
from hygro.grid import Grid
from hygro.units import to_si

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, init=False)
class Start:
    """State of the whole build-up at the first hour, unless a layer states its own.

    Parameters
    ----------
    temperature : str or float
        Temperature. [degC]
    relative_humidity : str or float
        Relative humidity of the pores. [1]

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    temperature: float
    relative_humidity: float

    def __init__(self, temperature: str | float = 10.0, relative_humidity: str | float = 0.7) -> None:
        warmth = to_si(temperature, "temperature", "Start: temperature")
        if not -50.0 <= warmth <= 70.0:
            msg = f"Start: temperature is {warmth:g} degC; it must lie between -50 and 70."
            raise InputError(msg)
        humidity = to_si(relative_humidity, "fraction", "Start: relative_humidity")
        if not 0.0 < humidity <= 1.0:
            guess = f' Did you mean "{humidity:g} %"?' if 1.0 < humidity <= 100.0 else ""
            msg = f"Start: relative_humidity is {humidity:g}; it must be above 0 and at most 1.{guess}"
            raise InputError(msg)
        object.__setattr__(self, "temperature", warmth)
        object.__setattr__(self, "relative_humidity", humidity)


def start_state(assembly: Assembly, grid: Grid, first: Start) -> tuple[FloatArray, FloatArray]:
    """Temperature [degC] and moisture coordinate [1] of every cell, shape (n_slices, n) each.

    A layer's own statement goes before that of the whole; water per dry mass goes to the layer's cells, not to
    condensate films.
    """
    layers = assembly.layers
    stated = [first.relative_humidity if layer.start_humidity is None else layer.start_humidity for layer in layers]
    x = np.array([coordinate(humidity) for humidity in stated])[grid.cell_layer]
    for number, layer in enumerate(layers):
        if layer.start_moisture is not None:
            water = layer.start_moisture * layer.material.density
            for cell in np.flatnonzero((grid.cell_layer == number) & ~grid.is_film):
                x[cell] = grid.coordinate_of(int(cell), water, first.temperature)
    shape = (grid.n_slices, len(x))
    return np.full(shape, first.temperature), np.array(np.broadcast_to(x, shape), order="C")
