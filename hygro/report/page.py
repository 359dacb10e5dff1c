"""The paper of the report: headings, tables and pictures as HTML, every text escaped. Imports nothing of ours."""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

CSS: Final = """
:root{color-scheme:light}
*{box-sizing:border-box}
body{font:16px/1.5 system-ui,"Segoe UI","DejaVu Sans",sans-serif;color:#1c2024;background:#fff;margin:0}
main,header,footer{max-width:62rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:2rem}
footer{padding-bottom:3rem}
h1{font-size:1.75rem;line-height:1.2;margin:0 0 .3rem}
h2{font-size:1.25rem;margin:2.4rem 0 .6rem;border-bottom:1px solid #9aa0a6;padding-bottom:.15rem}
h3{font-size:1.05rem;margin:1.4rem 0 .4rem}
p{margin:.5rem 0;max-width:46rem}
.lead{font-size:1.05rem}
nav ul{columns:2;padding-left:1.2rem;margin:.4rem 0;max-width:46rem}
a{color:#173f5f}
.wide{overflow-x:auto;margin:.8rem 0}
table{border-collapse:collapse;font-size:.92rem}
caption{text-align:left;font-weight:600;padding:.2rem 0}
th,td{text-align:left;padding:.28rem .9rem .28rem 0;border-bottom:1px solid #d5d9dd;vertical-align:top}
thead th,thead td{border-bottom:2px solid #5a6067}
tbody th{font-weight:600}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}
figure{margin:1rem 0}
figcaption{font-size:.9rem;color:#44494f;max-width:46rem}
img{max-width:100%;height:auto;display:block}
ul{padding-left:1.3rem;max-width:46rem}
.mark{font-weight:700;white-space:nowrap}
.answer{border-left:5px solid #2c7a6e;padding:.1rem 0 .1rem .9rem;margin:1rem 0}
.answer.caution{border-left-style:dashed;border-color:#9a5410}
.answer.fails{border-left-style:double;border-left-width:8px;border-color:#7d2a5c}
.defer{font-weight:700;border:2px solid #1c2024;padding:.5rem .8rem;max-width:46rem}
pre{background:#f4f5f6;border:1px solid #d5d9dd;padding:.8rem;font:13px/1.45 ui-monospace,"DejaVu Sans Mono",monospace;
white-space:pre-wrap;overflow-wrap:anywhere}
@page{margin:15mm}
@media print{
body{font-size:10pt}
main,header,footer{max-width:none;padding:0}
nav{display:none}
h2{margin-top:1.4rem}
h2,h3{break-after:avoid}
figure,.answer,tr,.together{break-inside:avoid}
thead{display:table-header-group}
.wide{overflow:visible}
table{font-size:8.5pt}
th,td{padding-right:.5rem}
figure img{max-height:205mm;width:auto}
figure.drawing img{max-height:64mm}
pre{font-size:7.5pt;border:none;background:none;padding:0}
a{color:inherit;text-decoration:none}
}
"""

KEPT_TOGETHER: Final = 8  # rows of a table that is not split between two pages
DOTS: Final = 130  # per inch of a picture: sharp enough in print
UNITS: Final = {"1": "", "kg m-2": " [kg/m²]", "kg m-2 year-1": " [kg/m² a year]"}  # after a name
MARKS: Final = {"fine": "✓\u00a0fine", "caution": "!\u00a0caution", "fails": "✗\u00a0fails"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure of the report.

    Parameters
    ----------
    name : str
        Name of its file, without ending.
    png : bytes
        The picture.
    words : str
        What it shows, for a reader who cannot see it.
    caption : str
        What stands below it.
    """

    name: str
    png: bytes
    words: str
    caption: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the report.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Names of the columns.
    rows : tuple of tuple
        Cells; the first of each row is its name.
    numbers : tuple of int, optional
        Columns of numbers, which are set to the right.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    numbers: tuple[int, ...] = ()

    def html(self) -> str:
        """The table as HTML."""
        return table(self.caption, self.head, self.rows, numbers=self.numbers)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What varying the inputs showed, ready to be read.

    Parameters
    ----------
    words : str
        What was varied, how, and what came of it, in plain words.
    tables : tuple of Table, optional
        Figures: inputs, their ranges, their weight; or the chance of passing.
    pictures : tuple of Picture, optional
        Figures of it.
    title : str, optional
        Heading, where there are several.
    short : str, optional
        A sentence that belongs into the answer in short.
    """

    words: str
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    title: str = ""
    short: str = ""

    def about(self, what: str) -> Sensitivity:
        """The same, its tables named after what they are about: no two of a page may have one name."""
        return replace(self, tables=tuple(replace(one, caption=f"{one.caption}: {what}") for one in self.tables))


def text(words: object) -> str:
    """Plain text as HTML."""
    return html.escape(str(words), quote=True)


def paragraph(words: object, style: str = "") -> str:
    """A paragraph of plain text."""
    return f"<p{style and f' class={style!r}'}>{text(words)}</p>"


def section(key: str, title: str, body: str) -> str:
    """A section of the second level."""
    return f"<section id='{key}' aria-labelledby='{key}-title'><h2 id='{key}-title'>{text(title)}</h2>{body}</section>"


def bullets(items: Iterable[object]) -> str:
    """A list of plain texts."""
    return "<ul>" + "".join(f"<li>{text(one)}</li>" for one in items) + "</ul>"


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[object]], *, numbers: Iterable[int] = ()) -> str:
    """A table of plain text that scrolls on a narrow screen.

    Parameters
    ----------
    caption : str
        What it shows.
    head : sequence of str
        Names of the columns.
    rows : iterable of sequence
        Cells; the first of each row is its name.
    numbers : iterable of int
        Columns of numbers, which are set to the right.

    Returns
    -------
    str
        HTML.
    """
    right = set(numbers)

    def style(column: int) -> str:
        return " class='n'" if column in right else ""

    heads = "".join(f"<th scope='col'{style(n)}>{text(one)}</th>" for n, one in enumerate(head))
    listed = list(rows)
    body = "".join(
        "<tr>"
        + "".join(
            f"<th scope='row'>{text(cell)}</th>" if n == 0 else f"<td{style(n)}>{text(cell)}</td>"
            for n, cell in enumerate(row)
        )
        + "</tr>"
        for row in listed
    )
    keep = " together" if len(listed) <= KEPT_TOGETHER else ""
    return (
        f"<div class='wide{keep}' role='region' aria-label='{text(caption)}' tabindex='0'><table>"
        f"<caption>{text(caption)}</caption><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def pairs(caption: str, rows: Iterable[Sequence[object]], head: tuple[str, str] = ("what", "value")) -> str:
    """A table of names and words."""
    return table(caption, head, rows)


def picture(one: Picture) -> str:
    """A figure with its caption; the picture is part of the page."""
    return _image("image/png", one.png, one.words, one.caption)


def drawing(svg: str, words: str, caption: str) -> str:
    """A line drawing with its caption; as an image, so that nothing in it can act on the page."""
    return _image("image/svg+xml", svg.encode(), words, caption, " class='drawing'")


def _image(kind: str, content: bytes, words: str, caption: str, style: str = "") -> str:
    source = base64.b64encode(content).decode()
    return (
        f"<figure{style}><img src='data:{kind};base64,{source}' alt='{text(words)}'>"
        f"<figcaption>{text(caption)}</figcaption></figure>"
    )


def whole(title: str, intro: str, sections: Sequence[tuple[str, str, str]], foot: str) -> str:
    """The whole document.

    Parameters
    ----------
    title : str
        Heading.
    intro : str
        HTML below the heading.
    sections : sequence of (key, title, HTML)
        What follows.
    foot : str
        HTML at the end.

    Returns
    -------
    str
        A page without script that needs nothing from elsewhere.
    """
    links = "".join(f"<li><a href='#{key}'>{text(name)}</a></li>" for key, name, _ in sections)
    body = "".join(section(key, name, inside) for key, name, inside in sections)
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    return (
        "<!doctype html>\n<html lang='en'><head><meta charset='utf-8'>"
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        "<meta name='viewport' content='width=device-width,initial-scale=1'>"
        f"<title>{text(title)}</title><style>{CSS}</style></head><body><header><h1>{text(title)}</h1>{intro}"
        f"<nav aria-label='Contents'><ul>{links}</ul></nav></header><main>{body}</main><footer>{foot}</footer></body>"
        "</html>\n"
    )


def shown(value: object) -> str:
    """A number as a reader takes it in; text as it is."""
    if isinstance(value, str):
        return value
    number = float(value)  # type: ignore[arg-type]
    if number != number:
        return "-"
    if number == round(number) or abs(number) >= 1000.0:
        return f"{number:.0f}"
    return f"{number:.2g}" if abs(number) < 10.0 else f"{number:.1f}"


def counted(number: int, noun: str) -> str:
    """A number with its noun: ``1 year``, ``3 years``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def file_stem(words: str) -> str:
    """Words as the name of a file, in letters that every system takes; empty where they have none."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:60]


def sentence(words: str) -> str:
    """Words with a capital at the start."""
    return words[:1].upper() + words[1:]
