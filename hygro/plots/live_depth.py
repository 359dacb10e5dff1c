"""Depth by time as a live picture, the section to scale beside it.

May import: live, depth, style, assembly.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any, Final

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.figure import FigureBase
from matplotlib.patches import Rectangle

from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.plots.depth import layer_look
from hygro.plots.live import BOLD, LivePicture
from hygro.plots.style import DAMPNESS, INK, QUIET, daily, month_ticks, plain_axes, spread

_ROWS: Final = 220  # rows of the map
_NAMES, _SECTION, _NARROW = 158, 44, 400  # [px]
_LONGEST: Final = 20  # letters of a name beside the section


class LiveDepth(LivePicture):
    """Relative humidity over depth and time, with the section to the same scale beside it.

    Parameters
    ----------
    width, height : int
        Size. [px]
    """

    def __init__(self, width: int, height: int) -> None:
        super().__init__(width, height)
        self.assembly: Assembly | None = None

    def read(self, runs: Mapping[str, xr.Dataset]) -> Any:
        """Map of the first run, shape (rows, days) [%], its span in time, the depth [m] and the parts."""
        run = next(iter(runs.values()))
        wettest = int(run["relative_humidity"].max(("time", "cell")).to_numpy().argmax())
        stamps, means = daily(run["relative_humidity"].isel(slice=wettest))
        centre, thick = run["cell_position"].to_numpy(), run["cell_thickness"].to_numpy()
        ends = centre + 0.5 * thick
        depth = (np.arange(_ROWS) + 0.5) / _ROWS * float(ends[-1])
        cell = np.minimum(np.searchsorted(ends, depth), len(ends) - 1)
        rows = 100.0 * means[:, cell].T
        rows[depth < centre[cell] - 0.5 * thick[cell] - 1e-9] = np.nan  # air of the gap
        return rows, run["time"].to_numpy(), stamps, float(ends[-1]), _parts(self.assembly)

    def key(self, data: Any) -> Hashable:
        """Span; depths are drawn as shares of the whole, so that another gap moves no axis."""
        _, time, _, _, _ = data
        return str(time[0]), len(time)

    def still(self, figure: FigureBase, data: Any) -> list[Axes]:
        """Axes, months, and the scale of the tones."""
        time = data[1]
        width, _ = self._size
        names = _NAMES if width > _NARROW else _NAMES - 26
        section = figure.add_axes(self.box(names, 42, width - names - _SECTION, 38))
        axes = figure.add_axes(self.box(names + _SECTION + 10, 42, 14, 38))
        for one in (section, axes):
            plain_axes(one, "")
            one.grid(visible=False)
            one.set_ylim(1.0, 0.0)
            one.tick_params(labelleft=False, left=False)
        month_ticks(axes, time, sparse=True)
        section.set_xlim(0.0, 1.0)
        section.set_xticks([])
        for side in ("left", "bottom"):
            section.spines[side].set_visible(False)
        section.text(0.5, -0.02, "outside", fontsize=8.5, color=INK, ha="center", va="bottom")
        figure.text(4 / width, 1 - 19 / self._size[1], "Humidity by depth", **BOLD)
        _scale(figure.add_axes(self.box(width - 130, 10, 52, self._size[1] - 20)))
        return [section, axes]

    def section_key(self, data: Any) -> Hashable:
        """Depth and parts."""
        return data[3], data[4]

    def section(self, axes: list[Axes], data: Any) -> list[Artist]:
        """The build-up."""
        return _section(axes[0], data[4], data[3])

    def moving(self, axes: list[Axes], data: Any) -> list[Artist]:
        """The map."""
        rows, _, stamps, _, _ = data
        days = date2num(stamps[[0, -1]]) + np.array([-0.5, 0.5])
        picture = axes[1].imshow(
            rows,
            aspect="auto",
            extent=(days[0], days[1], 1.0, 0.0),
            cmap=DAMPNESS,
            vmin=0.0,
            vmax=100.0,
            interpolation="nearest",
        )
        return [picture]


def _parts(assembly: Assembly | None) -> tuple[tuple[str, str, float, float], ...]:
    """Name, kind, thickness [m] and density [kg m-3] of each part."""
    found: list[tuple[str, str, float, float]] = []
    for part in assembly or ():
        if isinstance(part, Layer):
            found.append((part.name, "layer", part.thickness, part.material.density))
        elif isinstance(part, VentGap):
            found.append((part.name, "gap", part.thickness, 0.0))
        elif isinstance(part, Sheet):
            found.append((part.name, "sheet", 0.0, 0.0))
    return tuple(found)


def _section(axes: Axes, parts: tuple[tuple[str, str, float, float], ...], depth: float) -> list[Artist]:
    """Parts to scale, outside at the top, sheets as thick broken lines, names beside."""
    artists: list[Artist] = []
    sheets: list[Artist] = []
    at, middles = 0.0, []
    for _, kind, thickness, density in parts:
        high = thickness / depth
        if kind == "sheet":
            sheets += axes.plot([-0.08, 1.08], [at, at], color=INK, linewidth=2.4, clip_on=False)
        else:
            hatch, colour = layer_look(density) if kind == "layer" else ("", "white")
            box = Rectangle((0.0, at), 1.0, high, facecolor=colour, edgecolor=INK, linewidth=0.7, hatch=hatch)
            artists.append(axes.add_patch(box))
        middles.append(at + 0.5 * high)
        at += high
    places = spread(np.array(middles), 0.075)
    for (name, _, _, _), middle, place in zip(parts, middles, places, strict=True):
        artists += axes.plot([-0.14, -0.03], [place, middle], color=QUIET, linewidth=0.7, clip_on=False)
        text = axes.text(-0.18, place, _short(name), ha="right", va="center", fontsize=8.5, color=INK)
        artists.append(text)
    artists.append(axes.text(0.5, 1.03, "inside", fontsize=8.5, color=INK, ha="center", va="top"))
    words = f"in all {1e3 * depth:.0f} mm"
    artists.append(axes.text(-0.6, 1.03, words, fontsize=8.5, color=INK, ha="right", va="top"))
    return artists + sheets


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST else name[: _LONGEST - 1].rstrip() + "…"


def _scale(axes: Axes) -> None:
    """Tones from dry to saturated."""
    axes.imshow(np.linspace(0.0, 1.0, 64)[None, :], aspect="auto", cmap=DAMPNESS, extent=(0.0, 100.0, 0.0, 1.0))
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_linewidth(0.5)
    axes.text(-4.0, 0.5, "dry 0 %", ha="right", va="center", fontsize=8.5, color=INK)
    axes.text(104.0, 0.5, "100 %", ha="left", va="center", fontsize=8.5, color=INK)
