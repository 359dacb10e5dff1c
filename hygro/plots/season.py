"""A layer through the seasons: moisture content, mould index and free water of several variants.

May import: style, study, criteria.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hygro.criteria import Level, MoistureLimit, Outcome, condensate, moisture_content, mould_index
from hygro.criteria.condensation import RUN_OFF
from hygro.criteria.mould import LIMIT, NOTICEABLE
from hygro.criteria.select import Face
from hygro.criteria.wood import Part
from hygro.plots.style import (
    INK,
    LIMIT_FILL,
    QUIET,
    daily,
    label_ends,
    line,
    month_ticks,
    new_figure,
    plain_axes,
    worst_slice,
)
from hygro.study import LIMITS, Comparison, Result

_PARTS: Final = {"mean": "mean of", "outer": "outer face of", "inner": "inner face of"}
_EVERY: Final = 61  # [day] between markers
_HEADROOM: Final = 1.08


def moisture_curves(
    axes: Axes,
    runs: Mapping[str, xr.Dataset],
    *,
    layer: str,
    part: Part = "mean",
    limits: Iterable[MoistureLimit] = LIMITS,
    labels: bool = True,
) -> None:
    """Draw the moisture content of a layer over the seasons, limits as bands.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    runs : mapping of str to Dataset
        Runs by the names shown at the ends of their lines.
    layer : str
        Label of the layer.
    part : {"mean", "outer", "inner"}
        The whole layer, or one of its faces.
    limits : iterable of MoistureLimit
        Bands start at these values. [%]
    labels : bool
        Whether lines are named at their ends.
    """
    series = {name: worst_slice(moisture_content(run, layer, part)) for name, run in runs.items()}
    plain_axes(axes, f"moisture content,\n{_PARTS[part]} {layer} [%]")
    listed = sorted(limits, key=lambda limit: limit.value)
    highest = max([float(one.max()) for one in series.values()] + [1.15 * limit.value for limit in listed])
    axes.set_ylim(0.0, _HEADROOM * highest)
    limit_bands(axes, [(limit.value, f"{limit.value:g} %: {limit.name}") for limit in listed])
    _lines(axes, series, labels)


def mould_curves(
    axes: Axes, runs: Mapping[str, xr.Dataset], *, layer: str, face: Face = "inner", labels: bool = True
) -> None:
    """Draw the mould index at a face of a layer over the seasons.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    runs : mapping of str to Dataset
        Runs by the names shown at the ends of their lines.
    layer : str
        Label of the layer.
    face : {"outer", "inner"}
        Face of the layer.
    labels : bool
        Whether lines are named at their ends.
    """
    series = {name: worst_slice(mould_index(run, layer, face)) for name, run in runs.items()}
    plain_axes(axes, f"mould index,\n{_PARTS[face]} {layer}")
    axes.set_ylim(0.0, 6.3)
    axes.set_yticks(range(7))
    limit_bands(axes, [(NOTICEABLE, "1: found under a microscope"), (LIMIT, "3: seen by eye")])
    _lines(axes, series, labels)


def free_water_curves(axes: Axes, runs: Mapping[str, xr.Dataset], *, layer: str, labels: bool = True) -> None:
    """Draw the free water and ice that a layer holds past what its material binds.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    runs : mapping of str to Dataset
        Runs by the names shown at the ends of their lines.
    layer : str
        Label of the layer.
    labels : bool
        Whether lines are named at their ends.
    """
    series = {name: worst_slice(condensate(run, layer)) for name, run in runs.items()}
    plain_axes(axes, f"free water and ice\nin {layer} [kg/m²]")
    highest = max([float(one.max()) for one in series.values()] + [1.5 * RUN_OFF])
    axes.set_ylim(0.0, _HEADROOM * highest)
    limit_bands(axes, [(RUN_OFF, f"{RUN_OFF:g} kg/m²: runs off and drips")])
    _lines(axes, series, labels)


def season_figure(comparison: Comparison) -> Figure:
    """Moisture content, mould index and free water of the judged layer, all variants in each panel.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.

    Returns
    -------
    Figure
        Panels over the same months; the one of the mould index where every variant's layer has a mould class.
    """
    runs, layer = comparison.runs, comparison.layer
    draw: list[Callable[..., None]] = [moisture_curves, mould_curves, free_water_curves]
    if not all(str(run["layer_mould_sensitivity"].sel(layer=layer).item()) for run in runs.values()):
        draw.remove(mould_curves)
    figure = new_figure(9.0, 2.2 + 2.0 * len(draw))
    panels = figure.subplots(len(draw), 1, sharex=True, height_ratios=(1.3, *[1.0] * (len(draw) - 1)))
    for axes, drawn in zip(panels, draw, strict=True):
        drawn(axes, runs, layer=layer)
    panels[0].set_title(
        f"How damp the {layer} gets: {comparison.climate.title}", loc="left", fontsize=11, color=INK, fontweight="bold"
    )
    return figure


def small_multiples(comparison: Comparison) -> Figure:
    """One small panel for each variant, the others in grey behind it, its answer as the title.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.

    Returns
    -------
    Figure
        Panels with the same axes.
    """
    results, layer = comparison.results, comparison.layer
    columns = min(2, len(results))
    rows = -(-len(results) // columns)
    figure = new_figure(4.6 * columns, 2.5 * rows + 0.4)
    panels = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
    days = {one.name: daily(worst_slice(moisture_content(one.run, layer))) for one in results}
    highest = max([1.15 * limit.value for limit in LIMITS] + [float(means.max()) for _, means in days.values()])
    for number, (axes, result) in enumerate(zip(panels.flat, results, strict=False)):
        plain_axes(axes, f"mean of {layer} [%]" if number % columns == 0 else "")
        axes.set_ylim(0.0, _HEADROOM * highest)
        limit_bands(axes, [(limit.value, f"{limit.value:g} %") for limit in LIMITS])
        for name, (stamps, means) in days.items():
            if name != result.name:
                axes.plot(stamps, means, color="#b4b9bf", linewidth=0.9)
        stamps, means = days[result.name]
        axes.plot(stamps, means, color=line(number).colour, linewidth=2.2, label=result.name)
        axes.set_title(f"{result.name}: {_verdict(result)}", loc="left", fontsize=10, color=INK)
        month_ticks(axes, result.run["time"].to_numpy())
    for axes in list(panels.flat)[len(results) :]:
        axes.set_visible(False)
    return figure


def _verdict(result: Result) -> str:
    """Verdict in brief. What a layer does is that of the last year, how it passes that of the whole run."""
    answer = result.answer
    outcome = str(answer.outcome)
    if answer.outcome is Outcome.DRY and answer.level is not Level.FINE:
        outcome = "dry in the last year"
    return f"{outcome} ({answer.level})"


def limit_bands(axes: Axes, limits: list[tuple[float, str]]) -> None:
    """Shade from each limit upwards and name it at the left, in front of what is drawn."""
    top = axes.get_ylim()[1]
    for number, (value, text) in enumerate(limits):
        upper = limits[number + 1][0] if number + 1 < len(limits) else top
        axes.axhspan(value, upper, color=LIMIT_FILL[min(number, len(LIMIT_FILL) - 1)], zorder=0, linewidth=0)
        axes.axhline(value, color=QUIET, linewidth=0.8, zorder=1)
        axes.text(
            0.008,
            value,
            text,
            transform=axes.get_yaxis_transform(),
            fontsize=8,
            color="#4a4036",
            va="bottom",
            clip_on=True,
            zorder=5.0,
            bbox={
                "facecolor": LIMIT_FILL[min(number, len(LIMIT_FILL) - 1)],
                "edgecolor": "none",
                "pad": 0.6,
                "alpha": 0.8,
            },
        )


def _lines(axes: Axes, series: Mapping[str, xr.DataArray], labels: bool) -> None:
    """Daily means, one line for each variant, named at its end."""
    ends = []
    for number, (name, one) in enumerate(series.items()):
        look = line(number)
        stamps, means = daily(one)
        axes.plot(
            stamps,
            means,
            label=name,
            marker=look.marker,
            markersize=5,
            markevery=(20 + 11 * number, _EVERY),
            **look.options(),
        )
        ends.append((float(means[-1]), name, look.colour))
        month_ticks(axes, one["time"].to_numpy())
    if labels and ends:
        label_ends(axes, [end for end in ends if np.isfinite(end[0])])
