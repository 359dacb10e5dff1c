"""A build-up on paper: the stack as text, as a table and as a section drawn to scale.

Knows rows only, not assemblies. May import: whole.
"""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hygro.whole import write_whole

_WIDTH: Final = 320.0  # [px] of the drawn stack
_HEIGHT: Final = 300.0  # [px] of the whole section
_TEXT: Final = 15.0  # [px] least distance between two labels
_LINE: Final = 3.0  # [px] of a sheet


@dataclass(frozen=True, slots=True)
class Row:
    """One part of a build-up as it is shown; ``kind`` is layer, sheet or gap."""

    name: str
    thickness: float
    resistance: float
    s_d: float
    kind: str
    density: float
    note: str = ""

    @property
    def size(self) -> str:
        """Thickness in words."""
        return "sheet" if self.kind == "sheet" else _millimetres(self.thickness)


def _millimetres(length: float) -> str:
    return f"{1e3 * length:.3g} mm" if length < 0.0995 else f"{1e3 * length:.0f} mm"


def _s_d(value: float) -> str:
    return "tight" if not math.isfinite(value) or value > 1e5 else f"{value:.3g}"


def _cells(row: Row) -> tuple[str, str, str, str]:
    if row.kind == "gap":
        return row.name, row.size, "-", row.note
    name = row.name + (f" ({row.note})" if row.note else "")
    return name, row.size, f"{row.resistance:.2f}" if row.kind == "layer" else "-", _s_d(row.s_d)


def _total(rows: Sequence[Row]) -> tuple[str, str, str, str]:
    thickness = sum(row.thickness for row in rows)
    return (
        "total, without surface films",
        _millimetres(thickness),
        f"{sum(row.resistance for row in rows):.2f}",
        _s_d(sum(row.s_d for row in rows)),
    )


_HEAD: Final = ("from outside to inside", "thickness", "R [m2 K/W]", "s_d at 50 % [m]")


def as_text(title: str, rows: Sequence[Row]) -> str:
    """The stack as a plain table.

    Parameters
    ----------
    title : str
        First line.
    rows : sequence of Row
        From outside to inside.

    Returns
    -------
    str
        Several lines.
    """
    lines = [_HEAD, *(_cells(row) for row in rows), _total(rows)]
    first = max(len(line[0]) for line in lines)
    shown = [f"  {line[0]:<{first}}  {line[1]:>9}  {line[2]:>10}  {line[3]}" for line in lines]
    return "\n".join([title, *shown])


def as_html(title: str, rows: Sequence[Row], *, outside_below: bool = False) -> str:
    """The stack as a table beside its drawing, for a notebook; names are escaped.

    Parameters
    ----------
    title : str
        Caption.
    rows : sequence of Row
        From outside to inside.
    outside_below : bool, optional
        Whether the drawing has the outside at the bottom, as a floor.

    Returns
    -------
    str
        HTML without script.
    """
    head = "".join(f"<th style='text-align:left'>{html.escape(text)}</th>" for text in _HEAD)
    body = "".join(
        "<tr>" + "".join(f"<td style='text-align:left'>{html.escape(text)}</td>" for text in line) + "</tr>"
        for line in [*(_cells(row) for row in rows), _total(rows)]
    )
    table = f"<table><caption style='text-align:left'>{html.escape(title)}</caption><tr>{head}</tr>{body}</table>"
    return f"<div>{table}{Drawing(title, rows, outside_below=outside_below).svg}</div>"


class Drawing:
    """A section to scale, outside at the top, of a floor at the bottom. Hatches tell layers apart without colour."""

    def __init__(self, title: str, rows: Sequence[Row], *, outside_below: bool = False) -> None:
        self.svg = _svg(title, rows, outside_below)

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | Path) -> Path:
        """Write the drawing as an SVG file.

        Parameters
        ----------
        path : str or Path
            Where to; an existing drawing is replaced when the new one is complete.

        Returns
        -------
        Path
            The file.

        Raises
        ------
        OutputError
            Where the file cannot be written.
        """
        target = Path(path)
        write_whole(target, lambda part: part.write_text(self.svg, encoding="utf-8"))
        return target


def _pattern(row: Row) -> str:
    """Name of the hatch: insulation waves, dense diagonals, metal full, air none."""
    if row.kind == "gap":
        return "none"
    if row.density < 200.0:
        return "url(#soft)"
    return "#555" if row.density > 2500.0 else "url(#dense)"


def _svg(title: str, rows: Sequence[Row], outside_below: bool) -> str:
    above, below = ("inside", "outside") if outside_below else ("outside", "inside")
    total = sum(row.thickness for row in rows)
    scale = _HEIGHT / total
    top, label_at, pieces = 30.0, 0.0, []
    for row in reversed(rows) if outside_below else rows:
        height = row.thickness * scale
        shown = max(height, _LINE if row.kind == "sheet" else 1.0)
        if row.kind == "sheet":
            pieces.append(
                f"<line x1='10' x2='{10 + _WIDTH:.0f}' y1='{top:.1f}' y2='{top:.1f}' stroke='black' "
                f"stroke-width='{_LINE:.0f}' stroke-dasharray='12 4'/>"
            )
        else:
            dash = " stroke-dasharray='4 4'" if row.kind == "gap" else ""
            pieces.append(
                f"<rect x='10' y='{top:.1f}' width='{_WIDTH:.0f}' height='{shown:.1f}' fill='{_pattern(row)}' "
                f"stroke='black' stroke-width='0.8'{dash}/>"
            )
        middle = top + 0.5 * height
        label_at = max(middle + 4.0, label_at + _TEXT)
        text = row.name if row.kind == "sheet" else f"{row.name}, {row.size}"
        pieces.append(
            f"<polyline points='{10 + _WIDTH:.0f},{middle:.1f} {24 + _WIDTH:.0f},{label_at - 4:.1f}' fill='none' "
            f"stroke='black' stroke-width='0.6'/>"
            f"<text x='{28 + _WIDTH:.0f}' y='{label_at:.1f}'>{html.escape(text)}</text>"
        )
        top += height
    bottom = max(top, label_at) + 24.0
    bar = 0.1 * scale
    label = html.escape(f"Section of {title}: " + ", ".join(f"{row.name} {row.size}" for row in rows), quote=True)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 640 {bottom + 16:.0f}' width='640' role='img' "
        f"aria-label='{label}' font-family='sans-serif' font-size='12'><title>{html.escape(title)}</title>"
        "<defs><pattern id='soft' width='16' height='10' patternUnits='userSpaceOnUse'><rect width='16' height='10' "
        "fill='#fff8e6'/><path d='M0 5 q4 -8 8 0 t8 0' fill='none' stroke='#997a3d' stroke-width='0.8'/></pattern>"
        "<pattern id='dense' width='7' height='7' patternUnits='userSpaceOnUse'><rect width='7' height='7' "
        "fill='#e8e8e8'/><path d='M0 7 L7 0' stroke='#666' stroke-width='0.7'/></pattern></defs>"
        f"<text x='10' y='20'>{above}</text>{''.join(pieces)}<text x='10' y='{top + 16:.1f}'>{below}</text>"
        f"<path d='M{10 + _WIDTH - bar:.1f} {top + 12:.1f} h{bar:.1f}' stroke='black' stroke-width='2'/>"
        f"<text x='{10 + _WIDTH - bar:.1f}' y='{top + 28:.1f}'>100 mm</text></svg>"
    )
