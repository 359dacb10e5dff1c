"""The figure that the live panel saves: seasons, depth by time and gap air speed on one page.

May import: season, depth, gap, style, errors.
"""

from __future__ import annotations

from collections.abc import Mapping

import xarray as xr
from matplotlib.figure import Figure

from hygro.plots.depth import draw_depth
from hygro.plots.gap import speed_duration
from hygro.plots.season import moisture_curves
from hygro.plots.style import INK, METRES_PER_SECOND, MILLIMETRES, AxisUnit, new_figure


def explored(
    runs: Mapping[str, xr.Dataset],
    layer: str,
    title: str,
    footnote: str,
    *,
    depth: AxisUnit = MILLIMETRES,
    speed: AxisUnit = METRES_PER_SECOND,
) -> Figure:
    """One figure of what the panel shows, for keeping.

    Parameters
    ----------
    runs : mapping of str to Dataset
        Runs by name; the depth of the first one is drawn.
    layer : str
        Label of the judged layer.
    title, footnote : str
        Lines above and below.
    depth, speed : AxisUnit
        Units of depth and of air speed.

    Returns
    -------
    Figure
        On one page.
    """
    run = next(iter(runs.values()))
    figure = new_figure(9.0, 8.4)
    rows = figure.add_gridspec(4, 1, height_ratios=(0.5, 2.6, 4.6, 0.6))
    head, upper, lower, foot = (figure.add_subfigure(rows[number]) for number in range(4))
    head.text(0.01, 0.5, title, fontsize=9, va="center", color=INK, wrap=True)
    foot.text(0.01, 0.5, footnote, fontsize=8, va="center", color=INK, wrap=True)
    moisture_curves(upper.subplots(), runs, layer=layer)
    wettest = int(run["relative_humidity"].max(("time", "cell")).to_numpy().argmax())
    has_gap = any("gap_air_speed" in one for one in runs.values())
    parts = lower.add_gridspec(2, 1, height_ratios=(2.6, 2.0))
    draw_depth(lower.add_subfigure(parts[0] if has_gap else parts[:]), run, "relative_humidity", wettest, depth)
    if has_gap:
        speed_duration(lower.add_subfigure(parts[1]).subplots(), runs, speed)
    return figure
