"""How sure it is: bands over the season, and what matters. May import: ensemble and all above it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from hygro.criteria import MoistureLimit
from hygro.ensemble import band, chance_of_passing
from hygro.ensemble.statistics import measures_of
from hygro.errors import InputError
from hygro.plots.season import limit_bands
from hygro.plots.style import INK, QUIET, label_ends, month_ticks, new_figure, plain_axes
from hygro.study import LIMITS

_SHADES = ("#c9d8e6", "#8fb2cf")  # from the outer pair of lines to the inner
_LINE = "#173f5f"
_HEADROOM = 1.08


def band_figure(ensemble: xr.Dataset, *, limits: Iterable[MoistureLimit] = LIMITS) -> Figure:
    """Moisture content of the layer over the season: where half and nine tenths of the members lie.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.
    limits : iterable of MoistureLimit
        Bands start at these values. [%]

    Returns
    -------
    Figure
        One panel, with the chance of passing in its title.
    """
    lines = band(ensemble)
    figure = new_figure(9.0, 4.2)
    axes = figure.subplots()
    plain_axes(axes, f"moisture content,\nmean of {ensemble.attrs['layer']} [%]")
    listed = sorted(limits, key=lambda limit: limit.value)
    highest = max([float(lines.max())] + [1.15 * limit.value for limit in listed])
    axes.set_ylim(0.0, _HEADROOM * highest)
    limit_bands(axes, [(limit.value, f"{limit.value:g} %: {limit.name}") for limit in listed])
    days = lines["day"].to_numpy()
    shares, values = lines["share"].to_numpy(), lines.to_numpy()
    for number in range(len(shares) // 2):
        axes.fill_between(days, values[number], values[-1 - number], color=_SHADES[number % 2], linewidth=0, zorder=2)
        for edge in (number, -1 - number):
            axes.plot(days, values[edge], color=_LINE, linewidth=0.7, zorder=3)
    middle = len(shares) // 2
    axes.plot(days, values[middle], color=_LINE, linewidth=2.2, zorder=4, label="half below")
    month_ticks(axes, days)
    ends = [(float(row[-1]), _below(share), INK) for share, row in zip(shares, values, strict=True)]
    label_ends(axes, ends, size=8.5)
    chance = chance_of_passing(ensemble)
    limiting = [name for name in measures_of(ensemble) if np.isfinite(ensemble[name].attrs["limit"])]
    all_limits = " all limits" if len(limiting) > 1 else ""
    title = (
        f"{ensemble.attrs['title']}: {100 * chance.value:.3g} % of {chance.members} members pass{all_limits} "
        f"({100 * chance.confidence:g} % interval {100 * chance.low:.3g} to {100 * chance.high:.3g} %)"
    )
    if len(limiting) > 1:
        worst = min(limiting, key=lambda name: chance_of_passing(ensemble, name).passing)
        fewest = chance_of_passing(ensemble, worst)
        title += (
            f"\nfewest, {100 * fewest.value:.3g} %, that of the {ensemble[worst].attrs['long_name']} "
            f"({ensemble[worst].attrs['limit']:g} {ensemble[worst].attrs['units']})"
        )
    axes.set_title(title, loc="left", fontsize=9.5, color=INK)
    return figure


def ranking_figure(table: pd.DataFrame, *, title: str = "What matters") -> Figure:
    """Inputs by how much they matter, the most important on top.

    Parameters
    ----------
    table : DataFrame
        What `ranking` returned.
    title : str, optional
        Title of the figure.

    Returns
    -------
    Figure
        Influence as bars with the level of noise; share of the variance as points with intervals.

    Raises
    ------
    InputError
        Where the table is no ranking.
    """
    if "noise" not in table.attrs or "share of variance" not in table:
        msg = "A figure of a ranking needs the table that ranking(ensemble) returned."
        raise InputError(msg)
    figure = new_figure(9.0, 1.5 + 0.42 * len(table))
    left, right = figure.subplots(1, 2, sharey=True)
    places = np.arange(len(table))[::-1]
    for axes in (left, right):
        plain_axes(axes, "")
        axes.grid(axis="y", visible=False)
        axes.grid(axis="x", color="#e3e5e8", linewidth=0.7)
        axes.axvline(0.0, color=QUIET, linewidth=0.8)
    noise = float(table.attrs["noise"])
    clear = table["influence"].to_numpy() > noise
    bars = left.barh(places, table["influence"], height=0.62, color=np.where(clear, _LINE, "white"), edgecolor=_LINE)
    for bar, sign in zip(bars, np.sign(table["direction"]) * clear, strict=True):
        left.annotate(
            "more gives more" if sign > 0 else "more gives less" if sign < 0 else "",
            xy=(bar.get_width(), bar.get_y() + 0.5 * bar.get_height()), xytext=(5, 0), textcoords="offset points",
            va="center", fontsize=8, color=INK,
        )  # fmt: skip
    left.axvline(noise, color="#c9711a", linewidth=1.4, linestyle=(0, (5, 2)))
    left.text(noise, -0.62, " no influence looks like this", fontsize=8, color="#8a4a0c", va="top")
    left.set_ylim(-1.15, len(table) - 0.4)
    left.set_xlim(0.0, 1.38 * max(float(table["influence"].max()), noise))
    left.set_yticks(places, list(table.index), fontsize=9.5, color=INK)
    left.set_xlabel("influence on the distribution [0 to 1]", fontsize=9.5, color=INK)
    right.errorbar(
        table["share of variance"], places, xerr=table["share of variance ±"],
        fmt="o", color=_LINE, markersize=5.5, capsize=3, linewidth=1.4,
    )  # fmt: skip
    right.set_xlabel("share of the variance, 95 % interval", fontsize=9.5, color=INK)
    left.set_title(title, loc="left", fontsize=11, color=INK, fontweight="bold")
    return figure


def _below(share: float) -> str:
    return "half below" if share == 0.5 else f"{100 * share:.3g} % below"
