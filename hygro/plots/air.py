"""Outdoor and indoor air of a run, as a strip over the months.

May import: style.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hygro.plots.style import QUIET, daily, label_ends, line, month_ticks, new_figure, plain_axes

_ROWS: Final = (("temperature", "temperature [°C]", 1.0), ("relative_humidity", "relative humidity [%]", 100.0))


def air_strip(run: xr.Dataset) -> Figure:
    """Temperature and relative humidity outdoors and indoors, daily means and the range of the day outdoors.

    Parameters
    ----------
    run : Dataset
        A run.

    Returns
    -------
    Figure
        Two panels over the same months.
    """
    figure = new_figure(9.0, 3.6)
    for axes, (name, label, factor) in zip(figure.subplots(2, 1, sharex=True), _ROWS, strict=True):
        _strip(axes, run, name, label, factor)
    return figure


def _strip(axes: Axes, run: xr.Dataset, name: str, label: str, factor: float) -> None:
    plain_axes(axes, label)
    ends = []
    for number, side in enumerate(("outdoor", "indoor")):
        series = factor * run[f"{side}_{name}"]
        stamps, means = daily(series)
        if side == "outdoor":
            hours = series.to_numpy()[: len(means) * 24].reshape(-1, 24)
            axes.fill_between(stamps, hours.min(axis=1), hours.max(axis=1), color="#d9dfe6", linewidth=0)
        axes.plot(stamps, means, label=f"{side}s", **line(number).options() | {"linewidth": 1.2})
        ends.append((float(means[-1]), f"{side}s", line(number).colour))
    if name == "temperature":
        axes.axhline(0.0, color=QUIET, linewidth=0.8)
    else:
        axes.set_ylim(0.0, 105.0)
        axes.set_yticks(np.arange(0, 101, 25))
    month_ticks(axes, run["time"].to_numpy())
    label_ends(axes, ends)
