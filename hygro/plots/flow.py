"""How much air a gap moves, one row for each variant.

May import: style, study, errors.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hygro.errors import InputError
from hygro.plots.style import GRID, INK, QUIET, new_figure, plain_axes
from hygro.study import Comparison

_HOUR: Final = 3600.0  # [s]
_SHARES: Final = (0.1, 0.5, 0.9)


def air_moved_figure(comparison: Comparison) -> Figure:
    """Air moved by the gap of each variant, and its speed: the usual range of the hours, and the middle one.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned; variants without a gap are left out.

    Returns
    -------
    Figure
        Two panels: flow per metre across the gap [m3 h-1 m-1], and air speed [m s-1]. A bar spans the hours from the
        calmest tenth to the windiest tenth, the dot is the median hour.

    Raises
    ------
    InputError
        Where no variant has a gap.
    """
    speeds, thickness, names = [], [], []
    for result in comparison.results:
        gap = result.variant.assembly.gap
        if gap is not None:
            speeds.append(np.quantile(np.abs(result.run["gap_air_speed"].to_numpy()), _SHARES))
            thickness.append(gap.thickness)
            names.append(result.name)
    if not names:
        msg = "None of the variants has a vent gap; no air is moved. Give a variant with a VentGap."
        raise InputError(msg)
    speed = np.array(speeds)
    flow = speed * np.array(thickness)[:, None] * _HOUR
    figure = new_figure(9.0, 1.2 + 0.42 * len(names))
    left, right = figure.subplots(1, 2, sharey=True)
    _rows(left, flow, names, "air moved [m³/h per metre of width]")
    _rows(right, speed, names, "air speed in the gap [m/s]")
    left.set_title(
        f"Bar: four hours in five. Dot: the middle hour. {comparison.climate.title}", loc="left", fontsize=10, color=INK
    )
    return figure


def _rows(axes: Axes, values: np.ndarray, names: list[str], label: str) -> None:
    places = np.arange(len(names))
    plain_axes(axes, "")
    axes.grid(visible=False, axis="y")
    axes.grid(visible=True, axis="x", color=GRID, linewidth=0.7)
    axes.barh(places, values[:, 2] - values[:, 0], left=values[:, 0], height=0.5, color="#cfd8e1", edgecolor=QUIET)
    axes.plot(values[:, 1], places, "o", color="#173f5f", markersize=7, label="middle hour")
    for place, (_, middle, most) in zip(places, values, strict=True):
        text = f"{middle:.2g}" if middle < 100.0 else f"{middle:.0f}"
        axes.annotate(text, (most, place), xytext=(6, 0), textcoords="offset points", va="center", fontsize=9)
    axes.set_yticks(places, names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_xlim(0.0, 1.14 * float(values.max()) or 1.0)
    axes.set_xlabel(label, fontsize=9.5, color=INK)
