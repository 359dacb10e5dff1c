"""Sweeps and searches: a measure over what was varied, with its limit. May import: vary and all above it."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter
from numpy.typing import NDArray

from hygro.errors import InputError
from hygro.plots.style import DAMPNESS, INK, LIMIT_FILL, QUIET, Array, label_ends, line, new_figure, plain_axes
from hygro.vary import Found, Input
from hygro.vary.search import PROBES

_WIDTH = 105  # letters of a title
_DECADE = 8.0  # from this ratio on, an axis is logarithmic
_SPOKEN = {"1": "", "kg m-2": "kg/m²", "kg m-2 year-1": "kg/m² a year"}


def trail_figure(found: Found) -> Figure:
    """Every value that a search tried, in the order of trying, with the limit and the value found.

    Parameters
    ----------
    found : Found
        What `find_smallest` or `find_largest` returned.

    Returns
    -------
    Figure
        One panel: full points pass, crosses do not; the answer is the title.
    """
    measure, trail = found.measure, found.trail
    kind = found.sought.kind
    x, y = trail["value"].to_numpy() * kind.factor, trail[measure.name].to_numpy()
    passes = trail["passes"].to_numpy()
    figure = new_figure(9.0, 4.4)
    axes = figure.subplots()
    plain_axes(axes, f"{measure.words}{_bracketed(measure.unit)}")
    order = np.argsort(x)
    axes.plot(x[order], y[order], color=QUIET, linewidth=1.2, zorder=2)
    axes.plot(x[passes], y[passes], "o", color="#173f5f", markersize=8, zorder=3, label="passes")
    axes.plot(x[~passes], y[~passes], "X", color="#c9711a", markersize=9, zorder=3, label="does not pass")
    for number, (at, value) in enumerate(zip(x, y, strict=True), start=1):
        if number <= PROBES:  # those that close in lie on top of each other
            axes.annotate(str(number), (at, value), xytext=(0, 8), textcoords="offset points", ha="center", fontsize=8)
    _limit(axes, measure.limit, measure.unit, y)
    if found.value is not None:
        axes.axvline(found.value * kind.factor, color="#173f5f", linewidth=1.2, linestyle=(0, (5, 2)), zorder=1)
    _numeric_axis(axes, x, found.sought.name, kind.shown)
    axes.legend(frameon=False, fontsize=9, loc="best", title="numbers: tried first", title_fontsize=8.5)
    if np.all(y == np.round(y)):
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    halves = found.answer.replace("; ", ";\n", 1).split("\n")
    lines = [line for half in halves for line in textwrap.wrap(half, _WIDTH)]
    axes.set_title("\n".join(lines), loc="left", fontsize=9.5, color=INK)
    return figure


def sweep_figure(found: xr.Dataset, measure: str | None = None) -> Figure:
    """A measure over the input that was swept, one line for each value of a second one.

    Parameters
    ----------
    found : Dataset
        What `sweep` returned, over one or two inputs; select from it where there are more.
    measure : str, optional
        Name of a measure; the first by default.

    Returns
    -------
    Figure
        One panel with the limit.

    Raises
    ------
    InputError
        Where there is no such measure, or more than two inputs.
    """
    values = _measure(found, measure)
    if values.ndim not in (1, 2):
        msg = f"A figure of a sweep shows one or two inputs; this one has {values.ndim}. Select with .sel(...) first."
        raise InputError(msg)
    dims = sorted(map(str, values.dims), key=lambda dim: -values.sizes[dim] * _is_numeric(values, dim))
    across = dims[0]
    others = values[dims[1]].to_numpy() if len(dims) > 1 else [None]
    figure = new_figure(9.0, 4.2)
    axes = figure.subplots()
    plain_axes(axes, f"{values.attrs['long_name']}{_bracketed(values.attrs['units'])}")
    x = (
        np.arange(values.sizes[across])
        if not _is_numeric(values, across)
        else values[across].to_numpy() * _factor(values, across)
    )
    ends = []
    for number, other in enumerate(others):
        look, row = line(number), values if other is None else values.sel({dims[1]: other})
        label = "" if other is None else _value(values, dims[1], other)
        axes.plot(x, row, marker=look.marker, markersize=6, label=label or "value", **look.options())
        ends.append((float(row[-1]), label, look.colour))
    _limit(axes, float(values.attrs["limit"]), values.attrs["units"], values.to_numpy())
    if _is_numeric(values, across):
        _numeric_axis(axes, x, values[across].attrs["input"], _shown(values, across))
    else:
        axes.set_xticks(x, values[across].to_numpy())
    if len(dims) > 1:
        label_ends(axes, ends)
        ends_for = values[dims[1]].attrs["input"]
        axes.set_title(f"lines: {ends_for}", loc="right", fontsize=9, color=INK)
    axes.set_title(
        f"{found.attrs['layer']}: {values.attrs['long_name']}", loc="left", fontsize=11, color=INK, fontweight="bold"
    )
    return figure


def sweep_map(found: xr.Dataset, measure: str | None = None) -> Figure:
    """A measure over two inputs that are numbers, as a map.

    Parameters
    ----------
    found : Dataset
        What `sweep` returned, over two inputs with at least two values each.
    measure : str, optional
        Name of a measure; the first by default.

    Returns
    -------
    Figure
        Damp is dark; each combination has its number, and a cross where it does not pass.

    Raises
    ------
    InputError
        Where there is no such measure, or not two such inputs.
    """
    values = _measure(found, measure)
    dims = [str(dim) for dim in values.dims]
    if len(dims) != 2 or not all(_is_numeric(values, dim) and values.sizes[dim] > 1 for dim in dims):
        msg = f"A map shows two inputs that are numbers, two values or more each; this sweep is over {', '.join(dims)}."
        raise InputError(msg)
    figure = new_figure(8.0, 5.0)
    axes = figure.subplots()
    numbers, limit = values.to_numpy(), float(values.attrs["limit"])
    rows, columns = np.arange(numbers.shape[0]), np.arange(numbers.shape[1])
    image = axes.pcolormesh(columns, rows, numbers, cmap=DAMPNESS, shading="nearest", edgecolors="white", linewidth=1.5)
    middle = 0.5 * (numbers.min() + numbers.max())
    for row in rows:
        for column in columns:
            value = numbers[row, column]
            text = f"{value:.3g}" if value <= limit else f"{value:.3g}\n✕"
            axes.text(
                float(column),
                float(row),
                text,
                ha="center",
                va="center",
                fontsize=9,
                color="white" if value > middle else INK,
            )
    axes.set_xticks(columns, [_plain(value) for value in values[dims[1]].to_numpy() * _factor(values, dims[1])])
    axes.set_yticks(rows, [_plain(value) for value in values[dims[0]].to_numpy() * _factor(values, dims[0])])
    for name, dim in (("x", dims[1]), ("y", dims[0])):
        axes.set(**{f"{name}label": f"{values[dim].attrs['input']}{_bracketed(_shown(values, dim))}"})
    axes.tick_params(length=0, labelsize=9, colors=INK)
    bar = figure.colorbar(image, ax=axes)
    bar.set_label(f"{values.attrs['long_name']}{_bracketed(values.attrs['units'])}", fontsize=9, color=INK)
    bar.ax.axhline(limit, color="#c9711a", linewidth=2.2)
    unit = _bracketed(values.attrs["units"]).strip(" []")
    axes.set_title(
        f"{found.attrs['layer']}: ✕ does not pass (limit {limit:g} {unit})".replace(" )", ")"),
        loc="left", fontsize=10.5, color=INK,
    )  # fmt: skip
    return figure


def _measure(found: xr.Dataset, measure: str | None) -> xr.DataArray:
    names = [str(name) for name, one in found.data_vars.items() if "limit" in one.attrs]
    asked = measure if measure is not None else names[0] if names else ""
    if asked not in names:
        msg = f"This sweep has no measure {asked!r}. It has: {', '.join(map(repr, names)) or 'none'}."
        raise InputError(msg)
    return found[asked]


def _is_numeric(values: xr.DataArray, dim: str) -> bool:
    return values[dim].dtype.kind in "if"


def _factor(values: xr.DataArray, dim: str) -> float:
    attrs = values[dim].attrs
    kind = Input(attrs["input"]).kind
    return kind.factor if kind.unit == attrs["units"] else 1.0


def _shown(values: xr.DataArray, dim: str) -> str:
    attrs = values[dim].attrs
    kind = Input(attrs["input"]).kind
    return kind.shown if kind.unit == attrs["units"] else attrs["units"]


def _value(values: xr.DataArray, dim: str, value: object) -> str:
    if not _is_numeric(values, dim):
        return str(value)
    return f"{float(value) * _factor(values, dim):.4g} {_shown(values, dim)}".strip()  # type: ignore[arg-type]


def _bracketed(unit: str) -> str:
    spoken = _SPOKEN.get(unit, unit)
    return f" [{spoken}]" if spoken else ""


def _plain(number: float, _: object = None) -> str:
    return f"{number:.4g}"


def _limit(axes: Axes, limit: float, unit: str, values: Array) -> None:
    """Room from zero to above everything, with what lies above the limit shaded."""
    if not np.isfinite(limit):
        return
    low, high = min(0.0, float(values.min())), 1.12 * max(float(values.max()), 1.15 * limit)
    axes.set_ylim(low, high)
    axes.axhspan(limit, high, color=LIMIT_FILL[0], zorder=0, linewidth=0)
    axes.axhline(limit, color=QUIET, linewidth=0.9, zorder=1)
    axes.text(
        0.008, limit, f"limit {limit:g} {_SPOKEN.get(unit, unit)}".strip(), transform=axes.get_yaxis_transform(),
        fontsize=8, color="#4a4036", va="bottom",
    )  # fmt: skip


def _numeric_axis(axes: Axes, x: NDArray[Any], name: str, unit: str) -> None:
    if x.min() > 0.0 and x.max() / x.min() >= _DECADE:
        axes.set_xscale("log")
        axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.xaxis.set_major_formatter(FuncFormatter(_plain))
    axes.set_xlabel(f"{name}{_bracketed(unit)}", fontsize=9.5, color=INK)
