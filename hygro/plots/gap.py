"""Air in the vent gap: how fast, for what share of the time.

May import: style, errors.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hygro.errors import InputError
from hygro.plots.style import INK, METRES_PER_SECOND, AxisUnit, label_ends, line, new_figure, plain_axes


def speed_duration(axes: Axes, runs: Mapping[str, xr.Dataset], unit: AxisUnit = METRES_PER_SECOND) -> None:
    """Draw the air speed in the gap against the share of hours in which it is at least that fast.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    runs : mapping of str to Dataset
        Runs by name; those without a gap are left out.
    unit : AxisUnit
        Unit of the speed.

    Raises
    ------
    InputError
        Where no run has a gap.
    """
    vented = {name: run for name, run in runs.items() if "gap_air_speed" in run}
    if not vented:
        msg = "None of the runs has a vent gap; there is no air speed to draw. Give a run with a VentGap."
        raise InputError(msg)
    plain_axes(axes, f"air speed in the gap [{unit.unit}]")
    ends = []
    for number, (name, run) in enumerate(vented.items()):
        speed = unit.factor * np.sort(np.abs(run["gap_air_speed"].to_numpy()))[::-1]
        share = 100.0 * (np.arange(len(speed)) + 1.0) / len(speed)
        axes.plot(share, speed, label=name, **line(number).options())
        ends.append((float(speed[-1]), name, line(number).colour))
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(0.0, None)
    axes.set_xlabel("share of the hours with at least this speed [%]", fontsize=9.5, color=INK)
    label_ends(axes, ends)


def speed_duration_figure(runs: Mapping[str, xr.Dataset]) -> Figure:
    """Figure of `speed_duration`.

    Parameters
    ----------
    runs : mapping of str to Dataset
        Runs by name; those without a gap are left out.

    Returns
    -------
    Figure
        One panel.

    Raises
    ------
    InputError
        Where no run has a gap.
    """
    figure = new_figure(7.0, 3.2)
    speed_duration(figure.subplots(), runs)
    return figure
