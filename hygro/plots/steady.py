"""Vapour pressures through a build-up by the monthly method, where they meet saturation, and what gathers.

May import: style, steady, errors.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hygro.errors import InputError
from hygro.plots.style import GRID, INK, QUIET, line, new_figure, plain_axes
from hygro.steady import MonthlyCondensation
from hygro.steady.path import TIGHTEST_S_D

_LETTERS: Final = 110  # of all names side by side in one line


def vapour_profile(axes: Axes, result: MonthlyCondensation, month: str) -> None:
    """Draw the vapour pressure and its saturation value through a build-up in one month.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    result : MonthlyCondensation
        What the monthly method found.
    month : str
        Such as ``"Jan"``.

    Raises
    ------
    InputError
        Where the month is unknown.

    Notes
    -----
    Every part is drawn equally wide, outside on the left, so that a foil can be seen beside a batt.
    """
    months = [str(name) for name in result.data["month"].to_numpy()]
    if month not in months:
        msg = f"There is no month {month!r}; write one of {', '.join(months)}."
        raise InputError(msg)
    data = result.data.isel(month=months.index(month))
    place, parts = _places(result)
    plain_axes(axes, "vapour pressure [Pa]")
    saturation, pressure = data["interface_saturation_pressure"], data["interface_vapour_pressure"]
    axes.plot(place, saturation.to_numpy(), label="saturation", **line(0).options())
    axes.plot(place, pressure.to_numpy(), label="vapour pressure", **line(1).options())
    for node in np.flatnonzero(data["condensate_held"].to_numpy() > 0.0):
        axes.axvline(place[node], color=INK, linewidth=0.9, linestyle=":")
    wet = np.flatnonzero((data["condensate_held"].to_numpy() > 0.0) | (data["condensate_change"].to_numpy() != 0.0))
    if wet.size:
        axes.plot(
            place[wet], pressure.to_numpy()[wet], linestyle="none", marker="v", markersize=9, color=INK,
            label="water at an interface",
        )  # fmt: skip
    for edge in range(len(parts) + 1):
        axes.axvline(float(edge), color=GRID, linewidth=0.7, zorder=0)
    axes.set_xlim(-0.02 * len(parts), 1.02 * len(parts))
    axes.set_ylim(0.0, None)
    letters = max(_LETTERS // len(parts), 8)
    names = [_wrapped(name, s_d, letters) for name, s_d in parts]
    # Names are the user's: a dollar in one is no formula.
    axes.set_xticks(np.arange(len(parts)) + 0.5, names, fontsize=8 if len(parts) < 8 else 7, parse_math=False)
    axes.tick_params(axis="x", length=0)
    m = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec").index(month)
    air = result.air
    axes.set_title(
        f"{month}: outdoors {air.outdoor_temperature[m]:.0f} °C, indoors {air.indoor_temperature[m]:.0f} °C and "
        f"{100.0 * air.indoor_relative_humidity[m]:.0f} %",
        fontsize=9.5, color=INK, loc="left",
    )  # fmt: skip


def vapour_profile_figure(result: MonthlyCondensation, month: str | None = None) -> Figure:
    """Figure of the monthly method: the vapour pressures of one month, and the water held month by month.

    Parameters
    ----------
    result : MonthlyCondensation
        What the monthly method found.
    month : str, optional
        Such as ``"Jan"``; without it the one in which most condenses, or the coldest where none does.

    Returns
    -------
    Figure
        Two panels.

    Raises
    ------
    InputError
        Where the month is unknown.
    """
    figure = new_figure(9.0, 6.4)
    upper, lower = figure.subplots(2, 1, height_ratios=(2.2, 1.0))
    names = [str(name) for name in result.data["month"].to_numpy()]
    change = result.data["condensate_change"].sum("node").to_numpy()
    coldest = result.data["interface_temperature"].isel(node=0).to_numpy().argmin()
    chosen = names[int(change.argmax() if change.max() > 0.0 else coldest)] if month is None else month
    vapour_profile(upper, result, chosen)
    upper.legend(loc="upper left", fontsize=8.5, facecolor="white", edgecolor="none", framealpha=1.0)
    upper.set_xlabel("outside to inside; every part equally wide, not to scale", fontsize=8.5, color=QUIET)
    plain_axes(lower, "water held [g/m²]")
    held = 1e3 * result.data["condensate_held"].sum("node").to_numpy()
    bars = lower.bar(names, held, color=line(0).colour, edgecolor=INK, width=0.65)
    lower.bar_label(bars, labels=[f"{value:.0f}" for value in held], fontsize=8, color=INK, padding=2)
    lower.set_ylim(0.0, max(1.2 * float(held.max()), 1.0))
    lower.set_title(f"{result.assembly}: {result.outcome}", fontsize=9.5, color=INK, loc="left", parse_math=False)
    return figure


def _places(
    result: MonthlyCondensation,
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], list[tuple[str, float]]]:
    """Where each interface is drawn, and name and s_d of the parts."""
    place: list[float] = [0.0]
    parts: list[tuple[str, float]] = []
    for number in dict.fromkeys(one.part for one in result.chain.pieces):
        mates = [one for one in result.chain.pieces if one.part == number]
        place += [len(parts) + (n + 1) / len(mates) for n in range(len(mates))]
        parts.append((mates[0].name, sum(one.s_d for one in mates)))
    return np.array(place), parts


def _wrapped(name: str, s_d: float, letters: int) -> str:
    """Name in lines of so many letters where spaces and hyphens allow, and s_d below."""
    lines = [""]
    for word in name.replace("-", "- ").split():
        glue = "" if lines[-1].endswith("-") or not lines[-1] else " "
        if lines[-1] and len(lines[-1]) + len(glue) + len(word) > letters:
            lines.append(word)
        else:
            lines[-1] += glue + word
    amount = f"{s_d:.0f}" if s_d >= 10.0 else f"{s_d:.2g}"
    return "\n".join([*lines, "vapour-tight" if s_d >= TIGHTEST_S_D else f"s_d {amount} m"])
