"""How pictures look: colours that the colour-blind tell apart, lines that read in black and white, months as ticks.

May import: whole.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.dates import date2num, num2date
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.text import Text
from matplotlib.ticker import FixedLocator, FuncFormatter

from hygro.whole import write_whole

Array = npt.NDArray[np.float64]
Stamps = npt.NDArray[np.datetime64]

INK: Final = "#22262b"
QUIET: Final = "#8a8f96"
GRID: Final = "#e3e5e8"
LIMIT_FILL: Final = ("#faf4ea", "#f5e9d6")

# Four hues of clearly different lightness, ordered so that neighbours differ in both; a line style and a marker each
# repeat what the colour says.
_COLOURS: Final = ("#173f5f", "#c9711a", "#7d2a5c", "#3aa394", "#4f5a16", "#5b8fd0")
_LINES: Final = ("-", (0, (7, 2)), (0, (2, 1.4)), (0, (7, 2, 1.5, 2)))
_MARKERS: Final = ("o", "s", "^", "D", "v", "P")

# From paper to ink: lightness falls all the way, so a grey print keeps the order.
DAMPNESS: Final = LinearSegmentedColormap.from_list("dampness", ["#fbf6ea", "#e3d2a4", "#8fb59b", "#3f7d91", "#142f52"])


@dataclass(frozen=True, slots=True)
class AxisUnit:
    """Unit that an axis is labelled with, and what an SI value is multiplied by."""

    unit: str
    factor: float


MILLIMETRES: Final = AxisUnit("mm", 1e3)
METRES_PER_SECOND: Final = AxisUnit("m/s", 1.0)


@dataclass(frozen=True, slots=True)
class Line:
    """Look of one variant's line."""

    colour: str
    dashes: Any
    marker: str

    def options(self) -> dict[str, Any]:
        """Keyword arguments for ``Axes.plot``."""
        return {"color": self.colour, "linestyle": self.dashes, "linewidth": 1.8}


def line(number: int) -> Line:
    """Look of the variant of that number, counted from 0."""
    return Line(
        _COLOURS[number % len(_COLOURS)],
        _LINES[(number + number // len(_COLOURS)) % len(_LINES)],
        _MARKERS[number % len(_MARKERS)],
    )


class Picture(Figure):
    """A figure that shows itself in a notebook without being in any global list of figures."""

    def _repr_png_(self) -> bytes:
        return png(self)


def new_figure(width: float, height: float) -> Picture:
    """Figure of a size in inches that keeps its labels inside; belongs to no window and no global list."""
    return Picture(figsize=(width, height), layout=ConstrainedLayoutEngine(w_pad=0.08, h_pad=0.06), facecolor="white")


def plain_axes(axes: Axes, ylabel: str) -> None:
    """Axes without box: a quiet grid, ticks outside, a label."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)
    axes.grid(axis="y", color=GRID, linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(colors=INK, labelsize=9, length=3)
    axes.set_ylabel(ylabel, fontsize=9.5, color=INK)


def month_ticks(axes: Axes, time: Stamps, *, sparse: bool = False) -> None:
    """Months along the bottom: every one, every third where the run is long, every sixth where it is also narrow."""
    # A stamp is the end of its hour: the first hour begins one hour before.
    first, last = pd.Timestamp(time[0]) - pd.Timedelta(hours=1), pd.Timestamp(time[-1])
    months = (last.year - first.year) * 12 + last.month - first.month
    step = (1 if months <= 13 else 3) * (2 if sparse else 1)
    # Places that are known need not be found anew at each of the many times that a figure asks for them.
    starts = pd.date_range(first.ceil("D"), last, freq="MS").normalize()
    axes.xaxis.set_major_locator(FixedLocator(date2num(starts[(starts.month - first.month) % step == 0])))
    axes.xaxis.set_minor_locator(FixedLocator(date2num(starts)))
    shown = date2num(first.to_pydatetime()), date2num(last.to_pydatetime())

    def name(position: float, _: int | None = None) -> str:
        day = num2date(position)
        is_first = position - shown[0] < 31 * step
        return f"{day:%b}\n{day:%Y}" if day.month <= step or is_first else f"{day:%b}"

    axes.xaxis.set_major_formatter(FuncFormatter(name))
    axes.set_xlim(*shown)


def daily(series: xr.DataArray) -> tuple[Stamps, Array]:
    """Middle of each whole day, and means of the days, of an hourly series over time only."""
    numbers = np.asarray(series.transpose("time", ...).to_numpy(), dtype=float)
    days = len(numbers) // 24
    means = numbers[: days * 24].reshape(days, 24, *numbers.shape[1:]).mean(axis=1)
    # The first stamp ends the first hour of a day; its middle is eleven hours later.
    stamps = np.asarray(series["time"].to_numpy()[: days * 24 : 24] + np.timedelta64(11, "h"), dtype="datetime64[ns]")
    return stamps, means


def worst_slice(series: xr.DataArray) -> xr.DataArray:
    """Series of the slice that reaches highest."""
    if "slice" not in series.dims:
        return series
    return series.isel(slice=int(series.max("time").to_numpy().argmax()))


def label_ends(axes: Axes, ends: Sequence[tuple[float, str, str]], size: float = 9.0) -> None:
    """Write names at the right end of lines, moved apart where they would overlap.

    Parameters
    ----------
    axes : Axes
        With its final limits and size.
    ends : sequence of (value, text, colour)
        Where each line ends, in data units. [data]
    size : float
        Letter height. [pt]
    """
    low, high = axes.get_ylim()
    height = 72.0 * axes.get_window_extent().height / axes.get_figure(root=True).dpi  # type: ignore[union-attr]
    step = 1.25 * size / max(height, 1.0)
    order = sorted(ends, key=lambda end: end[0])
    wanted = np.array([min(max((end[0] - low) / (high - low), 0.0), 1.0) for end in order])
    for (_, text, colour), place in zip(order, spread(wanted, step), strict=True):
        axes.annotate(
            text,
            xy=(1.0, place),
            xytext=(6, 0),
            xycoords="axes fraction",
            textcoords="offset points",
            va="center",
            fontsize=size,
            color=colour,
            annotation_clip=False,
        )


def spread(wanted: Array, step: float) -> Array:
    """Places near rising `wanted` ones, at least `step` apart, kept between 0 and 1 where there is room."""
    # Isotonic regression of the wanted places less their rank times the step: pool neighbours that clash.
    blocks: list[tuple[float, int]] = []
    for number, value in enumerate(wanted):
        mean, size = float(value) - number * step, 1
        while blocks and blocks[-1][0] > mean:
            other, count = blocks.pop()
            mean, size = (mean * size + other * count) / (size + count), size + count
        blocks.append((mean, size))
    means = np.concatenate([np.full(size, mean) for mean, size in blocks]) if blocks else np.empty(0)
    places = means + np.arange(len(wanted)) * step
    places = np.maximum(places, (np.arange(len(wanted)) + 0.5) * step)
    return np.asarray(np.minimum(places, 1.0 - np.arange(len(wanted))[::-1] * step))


def png(figure: Figure, dpi: int = 110) -> bytes:
    """Figure as PNG."""
    for words in figure.findobj(Text):
        words.set_parse_math(False)  # a name with two dollar signs is no formula
    buffer, canvas, before = io.BytesIO(), figure.canvas, figure.dpi
    with warnings.catch_warnings():
        # A letter that the font lacks is drawn as a box, which says enough.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        try:
            figure.dpi = dpi
            FigureCanvasAgg(figure).print_png(buffer, metadata={"Software": None})  # ``savefig`` would draw twice
        finally:
            figure.dpi = before
            figure.set_canvas(canvas)
    return buffer.getvalue()


def save_png(figure: Figure, path: str | Path, dpi: int = 110) -> Path:
    """Write a figure as PNG; it appears under its name only when it is complete.

    Parameters
    ----------
    figure : Figure
        What to write.
    path : str or Path
        Where to; an existing file is replaced.
    dpi : int
        Pixels per inch.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        Where it cannot be written.
    """
    target = Path(path)
    write_whole(target, lambda part: part.write_bytes(png(figure, dpi)))
    return target
