"""One file that says what was asked, computed, assumed and found, for somebody who was not there.

The page needs no other file and no network. May import: study, plots, and all above them.
"""

from __future__ import annotations

import base64
import html
import json
import platform
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib import metadata
from typing import Final

from hygro import __version__
from hygro.study import Comparison, Result

DEFER: Final = (
    "These results are indicative. They do not replace a look at the building, the manufacturer's instructions, local "
    "codes, or the judgement of a licensed professional, who decide."
)
CAUTIONS: Final = (
    "A build-up is computed as one line from outside to inside: rafters, joints and workmanship are not in it.",
    "Mould can harm health; wet wood and rusting fasteners can cost strength. Have signs of either looked at on site.",
    "Damp insulation and metal near wiring are a danger of their own; electrical work is for the licensed.",
    "Material values are typical ones. What you buy may differ; its data sheet counts.",
    "A year of weather stands for all years. A colder or wetter one can turn a close result.",
)
_PACKAGES: Final = ("numpy", "scipy", "numba", "xarray", "pandas", "pvlib")

_SPOKEN: Final = {
    "degC": "°C",
    "K d a-1": "K days a year",
    "m s-1": "m/s",
    "kg m-2 a-1": "mm a year",
    "kWh m-2 a-1": "kWh/m² a year",
}

_CSS: Final = """
body{font:16px/1.5 system-ui,sans-serif;color:#22262b;max-width:60rem;margin:2rem auto;padding:0 1rem}
h1{font-size:1.7rem;line-height:1.2}
h3{font-size:1rem;margin:.3rem 0}
h2{font-size:1.2rem;margin-top:2.2rem;border-bottom:1px solid #ccd0d5}
table{border-collapse:collapse;font-size:.92rem;margin:.8rem 0}
th,td{text-align:left;padding:.3rem .8rem .3rem 0;
border-bottom:1px solid #e3e5e8;vertical-align:top}
td.n,th.n{text-align:right}
img{max-width:100%}
.answer{border-left:.4rem solid #3aa394;padding:.1rem 0 .1rem 1rem;margin:1rem 0}
.answer.caution{border-color:#c9711a}
.answer.fails{border-color:#7d2a5c}
.answer p{margin:.3rem 0}
figure{margin:1rem 0}
figcaption{font-size:.9rem;color:#555}
.defer{font-weight:600}
@media print{body{margin:0}}
"""


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG and the words that stand for it."""

    png: bytes
    words: str


def summary_html(
    comparison: Comparison,
    *,
    title: str,
    question: str,
    building: str,
    assumed: Iterable[tuple[str, str]],
    pictures: Sequence[Picture],
) -> str:
    """Page about a comparison.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    title, question, building : str
        Heading, what was asked, and what stands there, in plain text.
    assumed : iterable of (str, str)
        What was chosen without being asked, by name.
    pictures : sequence of Picture
        Figures of the results.

    Returns
    -------
    str
        A whole HTML document without script.
    """
    parts = [
        _heading("The question", f"<p>{_text(question)}</p>"),
        _heading("The building", f"<p>{_text(building)}</p>{_sections(comparison)}"),
        _heading("The weather", _weather(comparison)),
        _heading("What was assumed", _assumed(comparison, assumed)),
        _heading("Results", _table(comparison) + "".join(_picture(one) for one in pictures)),
        _heading("Verdicts", "".join(_answer(result) for result in comparison.results)),
        _heading("Cautions", _cautions()),
        _heading("How it was made", _made(comparison)),
    ]
    return (
        f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><meta name='viewport' "
        f"content='width=device-width,initial-scale=1'><title>{_text(title)}</title><style>{_CSS}</style></head>"
        f"<body><main><h1>{_text(title)}</h1>{''.join(parts)}</main></body></html>\n"
    )


def assumptions(comparison: Comparison) -> list[tuple[str, str]]:
    """Defaults of the runs themselves, by name, as the runs state them.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.

    Returns
    -------
    list of (str, str)
        Name and words.
    """
    rows: dict[str, list[str]] = {}
    for result in comparison.results:
        attrs = result.run.attrs
        stated = {"indoor air": attrs["indoor"], **json.loads(attrs["assumed"])}
        for name, words in stated.items():
            known = rows.setdefault(name, [])
            if words not in known:
                known.append(words)
    return [(_sentence(name), "; ".join(words)) for name, words in rows.items()]


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _text(words: object) -> str:
    return html.escape(str(words))


def _heading(title: str, body: str) -> str:
    return f"<section><h2>{_text(title)}</h2>{body}</section>"


def _rows(rows: Iterable[tuple[str, str]]) -> str:
    return "<table>" + "".join(f"<tr><th>{_text(a)}</th><td>{_text(b)}</td></tr>" for a, b in rows) + "</table>"


def _sections(comparison: Comparison) -> str:
    drawn: dict[str, str] = {}
    for result in comparison.results:
        assembly = result.variant.assembly
        if assembly.name not in drawn:
            source = base64.b64encode(assembly.draw().svg.encode()).decode()
            words = _text(repr(assembly))
            drawn[assembly.name] = (
                f"<figure><img src='data:image/svg+xml;base64,{source}' alt='Section, outside at the top. {words}'>"
                f"<figcaption>{_text(assembly.title)}</figcaption></figure>"
            )
    leaks = [(result.name, result.run.attrs["leak"]) for result in comparison.results]
    return "".join(drawn.values()) + "<p>Air that leaks:</p>" + _rows(leaks)


def _weather(comparison: Comparison) -> str:
    climate = comparison.climate
    rows = [
        (_sentence(name), f"{_shown(round(value, 1))} {_SPOKEN.get(unit, unit)}")
        for name, (value, unit) in climate.summary().items()
    ]
    intro = f"{climate.title}. Source: {climate.source}. Runs from {comparison.start}, {comparison.years} year(s)."
    return f"<p>{_text(intro)}</p>{_rows(rows)}"


def _assumed(comparison: Comparison, assumed: Iterable[tuple[str, str]]) -> str:
    return _rows([*assumed, *assumptions(comparison)])


def _table(comparison: Comparison) -> str:
    table = comparison.table()
    head = "".join(f"<th class='n'>{_text(name)}</th>" for name in table.index)
    body = "".join(
        f"<tr><th>{_text(name)}</th>"
        + "".join(f"<td class='n'>{_text(_shown(cell))}</td>" for cell in table[name])
        + "</tr>"
        for name in table
    )
    words = f"Moisture content is that of the whole layer {comparison.layer!r}; hours are those of the whole run."
    return f"<p>{_text(words)}</p><table><tr><th></th>{head}</tr>{body}</table>"


def _shown(value: object) -> str:
    if isinstance(value, str):
        return value
    number = float(value)  # type: ignore[arg-type]
    return (
        f"{number:.0f}"
        if number == round(number) or abs(number) >= 1000.0
        else f"{number:.2g}"
        if abs(number) < 10.0
        else f"{number:.1f}"
    )


def _picture(picture: Picture) -> str:
    source = base64.b64encode(picture.png).decode()
    words = _text(picture.words)
    return f"<figure><img src='data:image/png;base64,{source}' alt='{words}'><figcaption>{words}</figcaption></figure>"


def _answer(result: Result) -> str:
    answer = result.answer
    others = [verdict for verdict in answer.verdicts if verdict.level.rank > 0 and verdict is not answer.deciding]
    listed = "".join(f"<li>{_text(verdict)}</li>" for verdict in others)
    more = f"<details><summary>Other criteria that are not fine</summary><ul>{listed}</ul></details>" if listed else ""
    return (
        f"<div class='answer {answer.level}'><h3>{_text(result.name)}: {answer.outcome} ({answer.level})</h3>"
        f"<p>{_text(answer)}</p>{more}</div>"
    )


def _cautions() -> str:
    return "<ul>" + "".join(f"<li>{_text(one)}</li>" for one in CAUTIONS) + f"</ul><p class='defer'>{_text(DEFER)}</p>"


def _made(comparison: Comparison) -> str:
    worst = {
        name: max(abs(float(one.run.attrs[f"audit_{name}"])) for one in comparison.results)
        for name in ("water", "energy")
    }
    rows = [
        ("hygro", __version__),
        ("Python", platform.python_version()),
        *((name, metadata.version(name)) for name in _PACKAGES),
        ("Climate digest", comparison.climate.digest),
        ("Water unaccounted for", f"{worst['water']:.1e} of what passed"),
        ("Energy unaccounted for", f"{worst['energy']:.1e} of what passed"),
    ]
    return _rows(rows)
