"""Depth by time: a run as a map, the section beside it.

May import: style, errors, variables.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.figure import Figure, FigureBase
from matplotlib.patches import Rectangle

from hygro.errors import InputError
from hygro.plots.style import (
    DAMPNESS,
    INK,
    MILLIMETRES,
    QUIET,
    Array,
    AxisUnit,
    daily,
    month_ticks,
    new_figure,
    plain_axes,
)

_SHOWN: Final = {
    "relative_humidity": ("relative humidity [%]", 100.0),
    "temperature": ("temperature [°C]", 1.0),
    "ice_content": ("ice content [kg/m³]", 1.0),
    "water_content": ("water content [kg/m³]", 1.0),
}
_TOUCHING: Final = 1e-7  # [m]
_SOFT: Final = 200.0  # [kg m-3] below, a layer is drawn as insulation
_METAL: Final = 2500.0  # [kg m-3]


def depth_time_map(run: xr.Dataset, variable: str = "relative_humidity", *, place: int = 0) -> Figure:
    """Map of a variable over depth and time, outside at the top, with the section to the same scale beside it.

    Parameters
    ----------
    run : Dataset
        A run.
    variable : str
        ``relative_humidity``, ``temperature``, ``ice_content`` or ``water_content``.
    place : int
        Number of the slice along the gap, from the inlet. [1]

    Returns
    -------
    Figure
        Daily means; dark is damp, also in a grey print.

    Raises
    ------
    InputError
        Where the variable cannot be mapped, or the run has no such slice.
    """
    if variable not in _SHOWN:
        msg = f"There is no map of {variable!r}. Choose one of {', '.join(map(repr, _SHOWN))}."
        raise InputError(msg)
    if not 0 <= place < run.sizes["slice"]:
        msg = f"The run has {run.sizes['slice']} slice(s); there is no slice {place}. Count from 0 at the inlet."
        raise InputError(msg)
    figure = new_figure(9.0, 4.4)
    draw_depth(figure, run, variable, place)
    return figure


def draw_depth(figure: FigureBase, run: xr.Dataset, variable: str, place: int, depth: AxisUnit = MILLIMETRES) -> None:
    """Draw `depth_time_map` on a figure or a part of one.

    Parameters
    ----------
    figure : Figure or SubFigure
        Where to draw.
    run : Dataset
        A run.
    variable : str
        As there.
    place : int
        Number of the slice along the gap. [1]
    depth : AxisUnit
        Unit of the depth.
    """
    label, factor = _SHOWN[variable]
    stamps, means = daily(run[variable].isel(slice=place))
    edges, rows = _edges(run, factor * means)
    edges *= depth.factor
    section, picture = figure.subplots(1, 2, width_ratios=(1.0, 3.6), sharey=True)
    days = date2num(np.concatenate([stamps - np.timedelta64(12, "h"), stamps[-1:] + np.timedelta64(12, "h")]))
    lowest, highest = (0.0, 100.0) if variable == "relative_humidity" else (None, None)
    mesh = picture.pcolormesh(days, edges, rows, cmap=DAMPNESS, vmin=lowest, vmax=highest, rasterized=True)
    plain_axes(picture, "")
    picture.grid(visible=False)
    picture.set_facecolor("white")
    picture.set_ylim(edges[-1], edges[0])
    month_ticks(picture, run["time"].to_numpy())
    picture.tick_params(labelleft=False)
    picture.set_title(f"{run.attrs.get('title', 'run')}: {label}", loc="left", fontsize=10.5, color=INK)
    bar = figure.colorbar(mesh, ax=picture, pad=0.015, aspect=28)
    bar.set_label(label, fontsize=9.5)
    bar.outline.set_visible(False)
    for row in np.flatnonzero(np.isnan(rows).all(axis=1)):
        middle = 0.5 * (edges[row] + edges[row + 1])
        picture.text(
            float(days.mean()), middle, "air in the vent gap", ha="center", va="center", fontsize=9, color=QUIET
        )
    _section(section, run, depth)


def _edges(run: xr.Dataset, means: Array) -> tuple[Array, Array]:
    """Depths of the rows' edges [m], shape (n + 1,), and rows, shape (n, days); a gap is a row of not-a-numbers."""
    position, thickness = run["cell_position"].to_numpy(), run["cell_thickness"].to_numpy()
    top, bottom = position - 0.5 * thickness, position + 0.5 * thickness
    edges, rows = [float(top[0])], []
    for cell in range(len(position)):
        if top[cell] - edges[-1] > _TOUCHING:
            rows.append(np.full(len(means), np.nan))
            edges.append(float(top[cell]))
        rows.append(means[:, cell])
        edges.append(float(bottom[cell]))
    return np.array(edges), np.array(rows)


def _section(axes: Axes, run: xr.Dataset, depth: AxisUnit) -> None:
    """Layers to scale with hatches, names inside or beside."""
    position, thickness = run["cell_position"].to_numpy(), run["cell_thickness"].to_numpy()
    layer = run["cell_layer"].to_numpy()
    spans = [
        tuple(depth.factor * end for end in _span(run, number, position, thickness, layer))
        for number in range(run.sizes["layer"])
    ]
    density = run["layer_density"].to_numpy()
    names = [str(name) for name in run["layer"].to_numpy()]
    total = max(bottom for _, bottom in spans)
    shown = [(top, bottom, name, dense) for (top, bottom), name, dense in zip(spans, names, density, strict=True)]
    for above, below in pairwise(spans):
        if below[0] - above[1] > depth.factor * _TOUCHING:
            shown.append((above[1], below[0], "vent gap", np.nan))
    axes.set_xlim(0.0, 1.0)
    for top, bottom, _, dense in shown:
        hatch, colour = ("", "white") if np.isnan(dense) else layer_look(dense)
        axes.add_patch(
            Rectangle(
                (0.62, top),
                0.38,
                bottom - top,
                facecolor=colour,
                edgecolor=INK,
                linewidth=0.8,
                hatch=hatch,
                linestyle=":" if np.isnan(dense) else "-",
            )
        )
    _names(axes, sorted(shown), total)
    for side in ("top", "right", "bottom", "left"):
        axes.spines[side].set_visible(False)
    axes.set_xticks([])
    axes.tick_params(axis="y", colors=INK, labelsize=9, length=3)
    axes.set_ylabel(f"depth from outside [{depth.unit}]", fontsize=9.5, color=INK)
    axes.set_title("outside", loc="right", fontsize=8.5, color=QUIET)
    axes.set_xlabel("inside", loc="right", fontsize=8.5, color=QUIET)


def _span(
    run: xr.Dataset, number: int, position: Array, thickness: Array, layer: npt.NDArray[np.int64]
) -> tuple[float, float]:
    """Top and bottom of a layer [m]; one without cells lies on the next one."""
    cells = np.flatnonzero(layer == number)
    if cells.size:
        return (
            float(position[cells[0]] - 0.5 * thickness[cells[0]]),
            float(position[cells[-1]] + 0.5 * thickness[cells[-1]]),
        )
    after = np.flatnonzero(layer > number)
    top = float(position[after[0]] - 0.5 * thickness[after[0]]) if after.size else float(position[-1] + thickness[-1])
    return top - float(run["layer_thickness"].to_numpy()[number]), top


def layer_look(density: float) -> tuple[str, str]:
    """Hatch and colour of a layer of a density. [kg m-3]."""
    if density < _SOFT:
        return "...", "#fdf8ea"
    return ("", "#55595f") if density > _METAL else ("////", "#e6e3dd")


def _names(axes: Axes, shown: list[tuple[float, float, str, float]], total: float) -> None:
    """Names left of the section, kept apart."""
    least, last = 0.055 * total, -np.inf
    for top, bottom, name, _ in shown:
        middle = 0.5 * (top + bottom)
        at = max(middle, last + least)
        last = at
        axes.plot([0.575, 0.615], [at, middle], color=QUIET, linewidth=0.7)
        axes.text(0.56, at, name, ha="right", va="center", fontsize=8.5, color=INK)
