"""References and results on one figure each, from the cases of this folder: for docs/validation.md and the notebook.

Lines are the reference, markers are the package, wherever both are curves.
"""

from __future__ import annotations

import numpy as np

from hygro.plots.style import INK, QUIET, line, new_figure, plain_axes
from reference import houses, series, step_change


def _reference(axes, x, y, number, label=None):
    axes.plot(x, y, **line(number).options(), label=label)


def _ours(axes, x, y, number, label=None, size=5.0):
    axes.plot(
        x, y, linestyle="none", marker=line(number).marker, color=line(number).colour, markerfacecolor="white",
        markersize=size, label=label,
    )  # fmt: skip


def _label(axes, xlabel, ylabel, title, legend=True):
    plain_axes(axes, ylabel)
    axes.set_xlabel(xlabel, fontsize=9.5, color=INK)
    axes.set_title(title, fontsize=10, color=INK, loc="left")
    if legend and axes.get_legend_handles_labels()[1]:
        axes.legend(fontsize=8.5, frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0), borderaxespad=0.2)


def step_change_figure(run, similarity):
    """Temperature and water in the half space after a step, three times."""
    figure = new_figure(10.5, 3.6)
    warm, wet = figure.subplots(1, 2)
    x = run["cell_position"].to_numpy()
    for axes, name, farthest, of, scale in (
        (warm, "temperature", 6.0, similarity.temperature, 1.0),
        (wet, "water_content", 0.1, similarity.water, 1000.0),
    ):
        at = np.linspace(0.0, farthest, 300)[1:]
        for number, days in enumerate(step_change.DAYS):
            _reference(axes, scale * at, of(at, days), number, f"similarity solution, {days} d")
            shown = np.linspace(0.02, 0.98, 16) * farthest
            got = np.interp(shown, x, run[name].to_numpy()[24 * days - 1, 0])
            _ours(axes, scale * shown, got, number, f"hygro, {days} d")
    _label(warm, "depth [m]", "temperature [°C]", "Step change on a half space", legend=False)
    _label(wet, "depth [mm]", "water content [kg/m³]", "")
    return figure


def drying_figure(run):
    """A wet slab between two dry rooms."""
    figure = new_figure(7.5, 3.6)
    axes = figure.subplots()
    x, at = run["cell_position"].to_numpy(), np.linspace(0.0005, 0.1995, 400)
    for number, hours in enumerate(series.DRYING):
        _reference(axes, 1000 * at, series.drying_series(at, hours), number, f"series, {hours} h")
        shown = np.linspace(0.004, 0.196, 17)
        got = np.interp(shown, x, run["water_content"].to_numpy()[hours - 1, 0])
        _ours(axes, 1000 * shown, got, number, f"hygro, {hours} h")
    _label(axes, "depth [mm]", "water content [kg/m³]", "Isothermal drying")
    return figure


def roof_figure(run):
    """The insulation of the insulated roof through its first year."""
    figure = new_figure(7.5, 3.2)
    axes = figure.subplots()
    water = run["layer_water"].to_numpy()[:, 0, 1]
    axes.plot(np.arange(1, len(water) + 1) / 24.0, water, **line(0).options(), label="hygro")
    axes.plot(
        [91.25], [series.ROOF["insulation, 3 months"]], "s", color=line(1).colour, label="finite volumes, 3 months"
    )
    axes.axhline(
        series.ROOF["insulation, most in the year"], color=line(1).colour, linestyle=":",
        label="finite volumes, most in the year",
    )  # fmt: skip
    _label(axes, "day", "water in the insulation [kg/m²]", "Insulated roof")
    return figure


def inside_insulation_figure(run):
    """Temperature and humidity of the wall with capillary-active inside insulation after 60 days."""
    figure = new_figure(10.5, 3.4)
    x, at = 1000 * run["cell_position"].to_numpy(), 1000 * series.INSIDE_AT
    for axes, name, reference, label in zip(
        figure.subplots(1, 2), ("temperature", "relative_humidity"), (series.INSIDE_T, series.INSIDE_PHI),
        ("temperature [°C]", "relative humidity [1]"), strict=True,
    ):  # fmt: skip
        axes.plot(x, run[name].to_numpy()[-1, 0], **line(0).options(), label="hygro")
        axes.plot(at, reference, "s", color=line(1).colour, label="finite volumes, two grids", markersize=4.5)
        for joint in (365, 380):
            axes.axvline(joint, color=QUIET, linewidth=0.7)
        axes.set_xlim(250, 420)
        title = "Inside insulation, 60 days" if name == "temperature" else "brick | mortar | insulation"
        _label(axes, "distance from outside [mm]", label, title, legend=name == "relative_humidity")
    return figure


def deck_figure(decks):
    """Moisture content of four decks over three years; `decks` maps the cases of the series to hourly values."""
    figure = new_figure(9.0, 3.6)
    axes = figure.subplots()
    for number, ((top, s_d), values) in enumerate(decks.items()):
        axes.plot(np.arange(1, len(values) + 1) / 24.0, values, **line(number).options(), label=f"{top} top, {s_d:g} m")
        axes.plot(
            series.DAYS, series.DECKS[top, s_d], linestyle="none", marker=line(number).marker, markersize=6,
            color=line(number).colour, markerfacecolor="white",
        )  # fmt: skip
    _label(axes, "day", "moisture content [mass %]", "Deck over three years: lines hygro, markers finite volumes")
    return figure


def profiles_figure(case, hours, title, scale="water content [kg/m³]"):
    """Water over depth of a case in part: CVODE as lines, ours on four times the usual cells as markers."""
    figure = new_figure(8.0, 3.6)
    axes = figure.subplots()
    depth = [1000 * (np.cumsum(grid.thickness) - 0.5 * grid.thickness) for grid, _, _ in case.runs]
    for number, hour in enumerate(hours):
        when = f"{hour // 24} d" if hour % 24 == 0 else f"{hour} h"
        _reference(axes, depth[2], case.runs[2][2][hour - 1], number, f"CVODE, {when}")
        shown = np.linspace(depth[0][0], depth[0][-1], 20)
        _ours(axes, shown, np.interp(shown, depth[1], case.runs[1][2][hour - 1]), number, f"hygro, {when}")
    _label(axes, "distance from outside [mm]", scale, title)
    return figure


def mould_figure(curves):
    """Mould index over weeks; `curves` maps a label to (hourly index, weeks of the reference, its values)."""
    figure = new_figure(8.0, 3.4)
    axes = figure.subplots()
    for number, (label, (index, weeks, values)) in enumerate(curves.items()):
        axes.plot(np.arange(1, len(index) + 1) / 168.0, index, **line(number).options(), label=label)
        _ours(axes, weeks, values, number, size=6.0)
    _label(axes, "weeks", "mould index [1]", "Mould: lines hygro, markers another evaluation")
    return figure


def gap_figure(positions, ours, exact, coarse):
    """Air along a gap under a cold sheet."""
    figure = new_figure(7.5, 3.2)
    axes = figure.subplots()
    _reference(axes, *exact, 0, "closed form")
    _ours(axes, positions, ours, 1, "hygro, 20 slices")
    axes.plot([0.0, exact[0][-1]], [coarse, coarse], color=line(2).colour, linestyle=":", label="mean of one slice")
    _label(axes, "distance from the inlet [m]", "air temperature [°C]", "Air along a cold sheet")
    return figure


def wave_figure(depth, phasors, period_depth):
    """Amplitude and lag of a day's temperature wave over depth."""
    figure = new_figure(10.0, 3.2)
    fall, lag = figure.subplots(1, 2)
    at = np.linspace(0.0, depth[-1], 100)
    _reference(fall, 1000 * at, np.exp(-at / period_depth), 0, "closed form")
    _ours(fall, 1000 * depth, np.abs(phasors), 1, "hygro")
    _reference(lag, 1000 * at, at / period_depth / (2 * np.pi) * 24, 0, "closed form")
    _ours(lag, 1000 * depth, -np.unwrap(np.angle(phasors)) / (2 * np.pi) * 24, 1, "hygro")
    _label(
        fall, "depth [mm]", "amplitude over that of the surface [1]", "A day's temperature wave in wood", legend=False
    )
    _label(lag, "depth [mm]", "lag behind the surface [h]", "")
    return figure


def peer_figure(days, ours, theirs):
    """A deck's moisture through a real year, twice."""
    figure = new_figure(9.0, 3.2)
    axes = figure.subplots()
    _reference(axes, days, theirs, 0, "CVODE")
    _ours(axes, days[::10], ours[::10], 1, "hygro, every tenth day", size=4.5)
    _label(axes, "day", "moisture content [mass %]", "Deck of a vented roof in a real maritime year")
    return figure


COVER = {"R6": "metal", "R4": "tiles", "R3": "boards"}
SHOWN = ("warmer", "winter_humidity", "summer_humidity", "winter_wood", "summer_wood", "mould")
SHORT = ("warmer than outdoor air [K]", "humidity in winter [%]", "humidity in summer [%]", "wood in winter [%]",
         "wood in summer [%]", "mould index [1]")  # fmt: skip


def measured_figure(modelled):
    """What was measured at two roofs beside three invented years each; `modelled` maps a house to its years."""
    figure = new_figure(9.5, 4.4)
    for axes, name, label in zip(figure.subplots(2, 3).ravel(), SHOWN, SHORT, strict=True):
        for place, (house, years) in enumerate(modelled.items()):
            values = [getattr(year, name) for year in years]
            axes.plot([place] * len(values), values, "o", color=line(0).colour, markerfacecolor="white", markersize=6)
            axes.plot([place + 0.18], [getattr(houses.MEASURED[house], name)], "s", color=line(1).colour, markersize=7)
        if name in houses.BAND:
            axes.axhspan(*houses.BAND[name], color=QUIET, alpha=0.18, linewidth=0)
        axes.set_xlim(-0.5, len(modelled) - 0.4)
        axes.set_ylim(0.0, 1.08 * axes.dataLim.y1)
        axes.set_xticks(range(len(modelled)), [f"{house} {COVER[house]}" for house in modelled])
        _label(axes, "", label, "")
    figure.suptitle(
        "circles: hygro in invented weather; squares: measured; grey: span of six measured houses",
        fontsize=9.5,
        color=INK,
    )
    return figure
