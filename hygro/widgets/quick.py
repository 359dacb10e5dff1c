"""A quick look while a control moves: the same equations on the same cells, with boundary conditions every few hours.

`QUICK_WITHIN` and `SPEED_WITHIN` are what it was found to be off by, against full runs of the states in
``tests/unit/test_widgets_quick.py``. May import: seen, study, simulation, forcing, grid, rain, surfaces,
start, climate, core.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hygro.climate import Climate
from hygro.core.bundles import RAIN, RAIN_DEFECT
from hygro.core.columns import Column
from hygro.core.formulas import MoistAir
from hygro.core.integrate import OK
from hygro.core.work import HOUR, Settings
from hygro.forcing import (
    boundary_conditions,
    falling,
    leak_paths,
    let_in,
    rain_load,
    refuse_idle_leak,
    usual_surface,
)
from hygro.grid import build
from hygro.rain import RainLoad
from hygro.simulation import fluid, solved
from hygro.start import Start, start_state
from hygro.study import Variant
from hygro.surfaces import indoor_film, outdoor
from hygro.widgets.seen import Seen, of_record

FloatArray = NDArray[np.float64]

EVERY: Final = 4  # [h] between boundary conditions, a divisor of 24; also the longest step
SETTINGS: Final = Settings(temperature_error=2.0, water_error=0.05, unchecked=5.0)
QUICK_WITHIN: Final = 0.8  # [%] of dry mass, highest daily mean of the layer below fibre saturation
SPEED_WITHIN: Final = 0.2  # [1] of the air speed that half, and a tenth, of the hours exceed
_AIR: Final = MoistAir()


@dataclass(frozen=True, slots=True, eq=False)
class Driven:
    """What drives a quick look.

    Parameters
    ----------
    forcing : ndarray, shape (n + 1, N_FORCING)
        Boundary conditions every so many hours.
    every : int
        Hours between them. [h]
    rain : RainLoad or None
        Rain that is reckoned with.
    start : Timestamp
        Beginning of the first hour.
    """

    forcing: FloatArray
    every: int
    rain: RainLoad | None
    start: pd.Timestamp


def driven(variant: Variant, weather: Climate, every: int = EVERY) -> Driven:
    """Boundary conditions of a variant, as a run has them, thinned.

    Parameters
    ----------
    variant : Variant
        What is looked at.
    weather : Climate
        The whole period.
    every : int
        Hours between two of them. [h]

    Returns
    -------
    Driven
        For `look`.

    Raises
    ------
    InputError
        As `simulate`.
    """
    assembly = variant.assembly
    surface = usual_surface(assembly)
    out = outdoor(weather, assembly.tilt, assembly.azimuth, assembly.finish, surface, _AIR)
    load = rain_load(None, assembly, weather, surface)
    dry = np.zeros(len(out.temperature))
    hourly = boundary_conditions(
        assembly,
        out,
        variant.indoor.conditions(weather.data),
        indoor_film(assembly.heat_flow, None),
        _AIR,
        variant.leak,
        falling(load, weather, assembly, out, dry),
        let_in(load),
    )
    refuse_idle_leak(assembly, variant.leak, hourly)
    return Driven(thinned(hourly, every), every, load, weather.start)


def look(variant: Variant, layer: str, drive: Driven, settings: Settings = SETTINGS) -> Seen | None:
    """What is seen of a variant at a quick look; None where the solver cannot go on.

    Parameters
    ----------
    variant : Variant
        What is looked at.
    layer : str
        The judged layer.
    drive : Driven
        What drives it.
    settings : Settings
        Accuracy of the time steps.
    """
    assembly = variant.assembly
    grid = build(assembly)
    placed, path = leak_paths(assembly, grid, variant.leak, drive.rain)
    state = start_state(assembly, grid, Start())
    paced = settings._replace(interval=HOUR * drive.every)
    column = Column(*state, placed.cells, placed.faces, placed.gap, path, fluid(_AIR), drive.forcing, paced)
    found = solved(column)
    if found.status[0] != OK:
        return None
    return of_record(found.record, grid, assembly, layer, drive.start, 24 // drive.every)


def thinned(forcing: FloatArray, every: int) -> FloatArray:
    """Boundary conditions at every so-manieth hour's end, weighted so that their sums over time are kept.

    Parameters
    ----------
    forcing : ndarray, shape (n + 1, N_FORCING)
        At the ends of the hours, the start first; straight between, but rain is that of the hour before.
    every : int
        Hours between two of them. [h]

    Returns
    -------
    ndarray, shape (n // every + 1, N_FORCING)
        The same at the ends of so many hours.
    """
    n = (len(forcing) - 1) // every
    weights = np.convolve(np.ones(every), np.ones(every)) / every**2
    first, last = np.repeat(forcing[:1], every - 1, axis=0), np.repeat(forcing[-1:], every - 1, axis=0)
    padded = np.concatenate([first, forcing[: n * every + 1], last])
    found = np.zeros((n + 1, forcing.shape[1]))
    for place, weight in enumerate(weights):
        found += weight * padded[place : place + n * every + 1 : every]
    for column in (RAIN, RAIN_DEFECT):
        found[1:, column] = forcing[1 : n * every + 1, column].reshape(n, every).mean(axis=1)
    return found
