"""A run in words: the answer, the numbers behind it, and texts for those who do not see the pictures.

May import: runner, seen, quick, controls, study, criteria, assembly.
"""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from hygro.assembly import Assembly
from hygro.criteria import Level
from hygro.criteria.mould import LIMIT as MOULD_LIMIT
from hygro.criteria.verdict import quantity
from hygro.study import LIMITS
from hygro.widgets.controls import SPEED, WATER, Units
from hygro.widgets.quick import EVERY, QUICK_WITHIN, SPEED_WITHIN
from hygro.widgets.runner import Ran
from hygro.widgets.seen import Seen

CAUTION: Final = "Indicative only, without a safety margin. Local codes and a licensed professional decide."
_MARKS: Final = {Level.FINE: "✓", Level.CAUTION: "!", Level.FAILS: "✗"}
_WORDS: Final = {Level.FINE: "fine", Level.CAUTION: "take care", Level.FAILS: "fails"}


@dataclass(frozen=True, slots=True)
class Numbers:
    """What a run comes to."""

    wettest: float  # [%] highest daily mean
    when: str
    end: float  # [%]
    free: float  # [kg m-2]
    mould: float | None  # [1] None where it was not asked
    speed: float | None  # [m s-1] median; None without a gap
    fastest_tenth: float | None  # [m s-1]


def numbers(seen: Seen) -> Numbers:
    """Numbers of a run; the mould index only of a full one."""
    at, speed = int(seen.content.argmax()), seen.speed
    return Numbers(
        wettest=float(seen.content[at]),
        when=f"{seen.start + pd.Timedelta(days=at):%B %Y}",
        end=float(seen.content[-1]),
        free=seen.free,
        mould=seen.mould,
        speed=None if speed is None else float(speed[len(speed) // 2]),
        fastest_tenth=None if speed is None else float(speed[len(speed) // 10]),
    )


def headline(ran: Ran, layer: str) -> tuple[str, str, str]:
    """Mark, level and sentence of the answer; of a quick look, that it is still to come."""
    if ran.answer is None:
        return "…", "moving", f"Quick look, weather every {EVERY} hours; the answer follows."
    answer = ran.answer
    return (
        _MARKS[answer.level],
        str(answer.level),
        f"The {layer} {_outcome(str(answer.outcome))}: {_WORDS[answer.level]}.",
    )


def _outcome(outcome: str) -> str:
    return {
        "collects year by year": "collects water year by year",
        "drips": "drips",
        "too short to tell": "cannot be judged: the run is too short",
    }.get(outcome, outcome)


def reason(ran: Ran) -> str:
    """Why the answer is as it is; of a quick look, how far it may be off."""
    if ran.answer is None:
        return (
            f"In trials its wettest day was within {QUICK_WITHIN:.1f} points of the full run, further off where the "
            f"wood is soaked, and its air speeds within {100 * SPEED_WITHIN:.0f} %. The full run starts when the "
            "controls rest."
        )
    said = [ran.answer.because]
    decided = ran.answer.deciding
    if decided is not None and ran.answer.level is not Level.FINE:
        said.append(f"Decided by {decided.criterion}, {decided.where}: {quantity(decided.value, decided.unit)}.")
    return " ".join(said)


def caution(ran: Ran) -> str:
    """What to mind: what the indoor model warns of, what the verdict that decided adds, and what always holds."""
    decided = None if ran.answer is None or ran.answer.level is Level.FINE else ran.answer.deciding
    said = [decided.caution] if decided is not None and decided.caution else []
    return " ".join([*ran.warned, *said, CAUTION])


def table(rows: Mapping[str, tuple[str, Numbers]], layer: str, units: Units) -> str:
    """Numbers side by side as an HTML table; keys are names, values the answer in a word and the numbers."""
    head = "".join(f'<th scope="col">{html.escape(name)}</th>' for name in rows)
    lines = [
        ("answer", [answer for answer, _ in rows.values()]),
        (f"{layer}, wettest day", [f"{one.wettest:.1f} %" for _, one in rows.values()]),
        ("at the end", [f"{one.end:.1f} %" for _, one in rows.values()]),
        ("free water and ice, most", [WATER[units].text(one.free) for _, one in rows.values()]),
        (
            f"mould index, inner face (limit {MOULD_LIMIT:g})",
            ["–" if one.mould is None else f"{one.mould:.1f}" for _, one in rows.values()],
        ),
        (
            "air in the gap, half of the time above",
            ["–" if one.speed is None else SPEED[units].text(one.speed) for _, one in rows.values()],
        ),
    ]
    body = "".join(
        f'<tr><th scope="row">{html.escape(label)}</th>'
        + "".join(f"<td>{html.escape(cell)}</td>" for cell in cells)
        + "</tr>"
        for label, cells in lines
    )
    return f"<table><thead><tr><td></td>{head}</tr></thead><tbody>{body}</tbody></table>"


def short_answer(ran: Ran) -> str:
    """Level in a word, with its mark."""
    if ran.answer is None:
        return "…"
    return f"{_MARKS[ran.answer.level]} {_WORDS[ran.answer.level]}"


def texts_for(runs: Mapping[str, tuple[Ran, Numbers]], layer: str, units: Units) -> dict[str, str]:
    """Text alternatives of the three pictures."""
    now, _ = next(iter(runs.values()))
    limits = " and ".join(f"{limit.value:g} % ({limit.name})" for limit in LIMITS)
    season = [f"Line chart: moisture content of the {layer} over {_span(now.seen)}."]
    season += [
        f"{name.capitalize()}: at most {one.wettest:.1f} % in {one.when}, {one.end:.1f} % at the end."
        for name, (_, one) in runs.items()
    ]
    if now.seen.is_wood:
        season.append(f"Limits drawn: {limits}.")
    speed = ["Line chart: air speed in the vent gap against the share of hours in which it is at least that fast."]
    speed += [
        f"{name.capitalize()}: no vent gap."
        if one.speed is None or one.fastest_tenth is None
        else f"{name.capitalize()}: half of the hours above {SPEED[units].text(one.speed)}, a tenth above "
        f"{SPEED[units].text(one.fastest_tenth)}."
        for name, (_, one) in runs.items()
    ]
    return {"season": " ".join(season), "depth": _depth(now.seen, now.assembly), "speed": " ".join(speed)}


def _span(seen: Seen) -> str:
    return f"{seen.start:%B %Y} to {seen.end - pd.Timedelta(hours=1):%B %Y}"


def _depth(seen: Seen, assembly: Assembly) -> str:
    """Layers from outside to inside with the range of their monthly humidity."""
    said = []
    months = np.array_split(seen.humidity, max(len(seen.humidity) // 30, 1))
    means = 100.0 * np.array([part.mean(axis=0) for part in months])
    for number, name in enumerate(assembly.labels):
        cells = np.flatnonzero(seen.cell_layer == number)
        if cells.size:
            part = means[:, cells].mean(axis=1)
            said.append(f"{name} {part.min():.0f} to {part.max():.0f} %")
    return (
        "Map: relative humidity over depth and time, outside at the top, the build-up drawn beside it. "
        f"Monthly means by layer: {', '.join(said)}."
    )
