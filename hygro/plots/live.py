"""Pictures that are drawn again many times a minute: what stands still is drawn once and kept.

Each picture owns one figure that belongs to no window and no global list. Axes, bands, ticks and the section are
rendered when they change; lines and the map are laid over them each time. May import: style, season, study, criteria.
"""

from __future__ import annotations

import io
from abc import ABC, abstractmethod
from collections.abc import Hashable, Mapping
from typing import Any, Final

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure, FigureBase
from matplotlib.ticker import MaxNLocator
from PIL import Image

from hygro.criteria import is_wood, moisture_content
from hygro.plots.season import limit_bands
from hygro.plots.style import (
    INK,
    Array,
    daily,
    label_ends,
    line,
    month_ticks,
    plain_axes,
    worst_slice,
)
from hygro.study import LIMITS

_DPI: Final = 100
_TOPS: Final = (32.0, 40.0, 60.0, 80.0, 120.0, 180.0, 260.0, 400.0)  # [%] so that the axis seldom moves
_SPEEDS: Final = (0.1, 0.2, 0.4, 0.6, 1.0, 1.5, 2.0, 3.0, 6.0, 12.0, 20.0)  # [m s-1]
NOW, PINNED = "now", "pinned"
BOLD: Final[dict[str, Any]] = {"fontsize": 10, "fontweight": "bold", "color": INK}
_TITLE: Final[dict[str, Any]] = {"loc": "left", **BOLD}


class LivePicture(ABC):
    """One kept figure.

    Parameters
    ----------
    width, height : int
        Size. [px]
    """

    def __init__(self, width: int, height: int) -> None:
        self._size = width, height
        self._figure = Figure(figsize=(width / _DPI, height / _DPI), dpi=_DPI, facecolor="white")
        self._canvas = FigureCanvasAgg(self._figure)
        self._key: Hashable = None
        self._section_key: Hashable = None
        self._ground: Any = None
        self._under: Any = None
        self._axes: list[Axes] = []

    def draw(self, runs: Mapping[str, xr.Dataset]) -> bytes:
        """Picture of runs as PNG; the first run is the one being changed."""
        data = self.read(runs)
        key, section = self.key(data), self.section_key(data)
        if key != self._key:
            self._figure.clear()
            self._axes = self.still(self._figure, data)
            self._canvas.draw()
            self._ground, self._key, self._section_key = self._copy(), key, None
        if self._section_key is None or section != self._section_key:
            self._canvas.restore_region(self._ground)
            self._lay(self.section(self._axes, data))
            self._under, self._section_key = self._copy(), section
        self._canvas.restore_region(self._under)
        self._lay(self.moving(self._axes, data))
        buffer = io.BytesIO()
        Image.fromarray(np.asarray(self._canvas.buffer_rgba())[:, :, :3]).save(buffer, "PNG", compress_level=1)
        return buffer.getvalue()

    def box(self, left: float, top: float, right: float, bottom: float) -> tuple[float, float, float, float]:
        """Axes with margins [px] as shares of the figure, so that letters keep their room at any width."""
        width, height = self._size
        return left / width, bottom / height, (width - left - right) / width, (height - top - bottom) / height

    def _copy(self) -> Any:
        return self._canvas.copy_from_bbox(self._figure.bbox)

    def _lay(self, artists: list[Artist]) -> None:
        """Draw over what is there, and forget the artists."""
        for artist in artists:
            self._figure.draw_artist(artist)
            artist.remove()

    def place(self, figure: FigureBase, runs: Mapping[str, xr.Dataset]) -> None:
        """Draw the same once on another figure, or on a part of one."""
        data = self.read(runs)
        axes = self.still(figure, data)
        self.section(axes, data)
        self.moving(axes, data)

    @abstractmethod
    def read(self, runs: Mapping[str, xr.Dataset]) -> Any:
        """Numbers that are drawn."""

    @abstractmethod
    def key(self, data: Any) -> Hashable:
        """What the still part depends on."""

    @abstractmethod
    def still(self, figure: FigureBase, data: Any) -> list[Axes]:
        """Draw the still part."""

    def section_key(self, data: Any) -> Hashable:  # noqa: ARG002
        """What the section depends on."""
        return ()

    def section(self, axes: list[Axes], data: Any) -> list[Artist]:  # noqa: ARG002
        """Artists that change seldom, already added to their axes."""
        return []

    @abstractmethod
    def moving(self, axes: list[Axes], data: Any) -> list[Artist]:
        """Artists that change each time, already added to their axes."""


class LiveSeason(LivePicture):
    """Moisture content of a layer over the seasons, limits as bands.

    Parameters
    ----------
    width, height : int
        Size. [px]
    layer : str
        Label of the layer.
    """

    def __init__(self, width: int, height: int, layer: str) -> None:
        super().__init__(width, height)
        self._layer = layer

    def read(self, runs: Mapping[str, xr.Dataset]) -> Any:
        """Daily means by name, the span in time, the top of the axis [%], and whether limits for wood apply."""
        first = next(iter(runs.values()))
        days = {name: daily(worst_slice(moisture_content(run, self._layer))) for name, run in runs.items()}
        highest = max(float(means.max()) for _, means in days.values())
        top = next((one for one in _TOPS if one >= 1.02 * highest), 1.1 * highest)
        return days, first["time"].to_numpy(), top, is_wood(first, self._layer)

    def key(self, data: Any) -> Hashable:
        """Span, top and kind of layer."""
        _, time, top, wood = data
        return str(time[0]), len(time), top, wood

    def still(self, figure: FigureBase, data: Any) -> list[Axes]:
        """Axis, months and bands."""
        _, time, top, wood = data
        axes = figure.add_axes(self.box(52, 24, 58, 35))
        plain_axes(axes, "% of dry mass")
        axes.set_ylim(0.0, top)
        if wood:
            limit_bands(axes, [(limit.value, f"{limit.value:g} %: {limit.name}") for limit in LIMITS])
        month_ticks(axes, time)
        axes.set_title(f"Moisture content of the {self._layer}, mean of the day", **_TITLE)
        return [axes]

    def moving(self, axes: list[Axes], data: Any) -> list[Artist]:
        """A line for each run, named at its end."""
        return _lines(axes[0], data[0], markers=True)


class LiveSpeed(LivePicture):
    """Air speed in the gap against the share of the hours in which it is at least that fast."""

    def read(self, runs: Mapping[str, xr.Dataset]) -> Any:
        """Share [%] and speed [m s-1] by name, and the top of the axis [m s-1]."""
        found = {}
        for name, run in runs.items():
            if "gap_air_speed" in run:
                speed = np.sort(np.abs(run["gap_air_speed"].to_numpy()))[::-1]
                at = np.linspace(0, len(speed) - 1, 200).astype(int)
                found[name] = (100.0 * (at + 1.0) / len(speed), speed[at])
        highest = max((float(speed[0]) for _, speed in found.values()), default=0.0)
        return found, next((one for one in _SPEEDS if one >= highest), highest)

    def key(self, data: Any) -> Hashable:
        """Top of the axis, and whether there is anything."""
        return data[1], bool(data[0])

    def still(self, figure: FigureBase, data: Any) -> list[Axes]:
        """Axes and title."""
        axes = figure.add_axes(self.box(54, 36, 58, 48))
        plain_axes(axes, "m/s")
        axes.set_xlim(0.0, 100.0)
        axes.set_ylim(0.0, data[1])
        axes.yaxis.set_major_locator(MaxNLocator(4))
        axes.xaxis.set_major_locator(MaxNLocator(4))
        axes.set_xlabel("% of hours at least this fast", fontsize=9, color=INK)
        figure.text(4 / self._size[0], 1 - 19 / self._size[1], "Air speed in the gap", **BOLD)
        if not data[0]:
            axes.set_yticks([])
            axes.text(50.0, 0.5 * data[1], "no vent gap", ha="center", va="center", fontsize=10, color=INK)
        return [axes]

    def moving(self, axes: list[Axes], data: Any) -> list[Artist]:
        """A line for each run with a gap."""
        return _lines(axes[0], data[0], markers=False)


def _lines(axes: Axes, series: Mapping[str, tuple[Any, Array]], *, markers: bool) -> list[Artist]:
    artists: list[Artist] = []
    ends = []
    for name, (at, numbers) in series.items():
        number = int(name != NOW)
        look = line(number)
        shape = {"marker": look.marker, "markersize": 5, "markevery": (20 + 30 * number, 91)} if markers else {}
        artists += axes.plot(at, numbers, label=name, scalex=False, scaley=False, **look.options() | shape)
        ends.append((float(numbers[-1]), name, look.colour))
    before = set(axes.texts)
    label_ends(axes, ends)
    return artists + [one for one in axes.texts if one not in before]


def exported(
    pictures: tuple[LivePicture, LivePicture, LivePicture],
    runs: Mapping[str, xr.Dataset],
    title: str,
    footnote: str,
) -> bytes:
    """One PNG of the three pictures, with a title and a footnote, for keeping.

    Parameters
    ----------
    pictures : tuple of LivePicture
        Season, depth and speed.
    runs : mapping of str to Dataset
        Runs by name.
    title, footnote : str
        Lines above and below.

    Returns
    -------
    bytes
        The file.
    """
    season, depth, speed = pictures
    figure = Figure(figsize=(8.0, 6.0), facecolor="white")
    FigureCanvasAgg(figure)
    rows = figure.add_gridspec(4, 1, height_ratios=(0.45, 2.3, 2.8, 0.45))
    head, top, foot = (figure.add_subfigure(rows[number]) for number in (0, 1, 3))
    pair = rows[2].subgridspec(1, 2, width_ratios=(5.0, 3.0))
    left, right = figure.add_subfigure(pair[0]), figure.add_subfigure(pair[1])
    head.text(0.01, 0.5, title, fontsize=8.5, va="center", color=INK, wrap=True)
    foot.text(0.01, 0.5, footnote, fontsize=8, va="center", color=INK, wrap=True)
    for picture, part in ((season, top), (depth, left), (speed, right)):
        picture.place(part, runs)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=200, metadata={"Software": None})
    return buffer.getvalue()
