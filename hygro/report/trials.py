"""Sweeps and searches as a reviewer reads them.

May import: studyfile, vary, plots and above, page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import xarray as xr

from hygro import plots
from hygro.criteria import Level
from hygro.errors import InputError
from hygro.plots.style import png
from hygro.report import page
from hygro.report.page import DOTS, MARKS, UNITS, Picture, Sensitivity, Table
from hygro.studyfile import Tried
from hygro.studyfile.judging import VERDICT
from hygro.vary import Found, Input

_MOST_ROWS: Final = 60  # of a sweep; more are for a picture


def of_sweep(swept: xr.Dataset) -> Sensitivity:
    """What a sweep says: every combination with its measures, and whether it passes.

    Parameters
    ----------
    swept : Dataset
        What `sweep` returned.

    Returns
    -------
    Sensitivity
        With a figure where one or two inputs were swept, and a table of at most 60 combinations.

    Raises
    ------
    InputError
        Where it is no sweep.
    """
    if not isinstance(swept, xr.Dataset) or "passes" not in swept:
        msg = f"A sweep is what hygro.vary.sweep returned; got {type(swept).__name__}."
        raise InputError(msg)
    about, dims = swept.attrs, [str(name) for name in swept["passes"].dims]
    measures = [str(name) for name, one in swept.data_vars.items() if "limit" in one.attrs]
    passing, total = int(swept["passes"].sum()), int(swept["passes"].size)
    inputs = ", ".join(str(swept[dim].attrs["input"]) for dim in dims)
    words = (
        f"Every combination of {inputs} was run for {page.counted(int(about['years']), 'year')} from {about['start']} "
        f"in {about['climate']}, and '{about['layer']}' judged: {passing} of {total} pass."
    )
    tables: tuple[Table, ...] = ()
    if total <= _MOST_ROWS:
        rows = []
        for place in np.ndindex(*swept["passes"].shape):
            here = swept.isel(dict(zip(dims, place, strict=True)))
            values = [_spoken(str(swept[dim].attrs["input"]), here[dim].item()) for dim in dims]
            figures = [_figure(name, float(here[name])) for name in measures]
            rows.append((*values, *figures, MARKS["fine" if bool(here["passes"]) else "fails"].split("\u00a0")[0]))
        head = [str(swept[dim].attrs["input"]) for dim in dims]
        head += [_named(swept[name]) + _limited(float(swept[name].attrs["limit"])) for name in measures]
        numbers = tuple(len(dims) + at for at, name in enumerate(measures) if name != VERDICT)
        tables = (Table("Every combination", (*head, "passes"), tuple(rows), numbers=numbers),)
    else:
        words += " They are too many for a table; the figures are in the sweep itself."
    pictures = [
        Picture(
            f"sweep-{name}",
            png(plots.sweep_figure(swept, name), DOTS),
            f"Curve of the {swept[name].attrs['long_name']} over {inputs}, from {page.shown(float(swept[name].min()))} "
            f"to {page.shown(float(swept[name].max()))}.",
            f"{page.sentence(_named(swept[name]))} of '{about['layer']}' over {inputs}.",
        )
        for name in measures[: 1 if len(dims) <= 2 else 0]
    ]
    return Sensitivity(words, tables, tuple(pictures), str(about["title"]))


def of_search(found: Found) -> Sensitivity:
    """What a search says: the answer, and every value that was tried.

    Parameters
    ----------
    found : Found
        What `find_smallest` or `find_largest` returned.

    Returns
    -------
    Sensitivity
        With the trail as a table and as a figure.

    Raises
    ------
    InputError
        Where it is no search.
    """
    if not isinstance(found, Found):
        msg = f"A search is what find_smallest or find_largest returned; got {type(found).__name__}."
        raise InputError(msg)
    measure = found.measure
    unit = UNITS.get(measure.unit, f" [{measure.unit}]")
    trail = found.trail.sort_values("value")
    rows = tuple(
        (
            found.sought.say(float(row["value"])),
            _figure(measure.name, float(row[measure.name])),
            "✓" if row["passes"] else "✗",
        )
        for _, row in trail.iterrows()
    )
    head = (found.sought.name, f"{measure.words}{unit}{_limited(measure.limit)}", "passes")
    one = "smallest" if found.smallest else "largest"
    shown = Picture(
        f"search-{page.file_stem(found.sought.name)}",
        png(plots.trail_figure(found), DOTS),
        f"Points of the {measure.words} over {found.sought.name}. {found.answer}",
        f"Values of {found.sought.name} that were tried; the line is the limit.",
    )
    title = f"The {one} {found.sought.name} that passes"
    return Sensitivity(
        found.answer,
        (Table("Values tried", head, rows, numbers=() if measure.name == VERDICT else (1,)),),
        (shown,),
        title,
    )


def of_trials(tried: Sequence[Tried]) -> tuple[Sensitivity, ...]:
    """What the searches and sweeps of a study say.

    Parameters
    ----------
    tried : sequence of Tried
        What `run_trials` returned.

    Returns
    -------
    tuple of Sensitivity
        One of each; headings name the variant and the layer.
    """
    said: list[Sensitivity] = []
    titles: list[str] = []
    for number, one in enumerate(tried, start=1):
        found = of_search(one.found) if isinstance(one.found, Found) else of_sweep(one.found)
        title = found.title[:1].lower() + found.title[1:] if isinstance(one.found, Found) else _combined(one.found)
        titles.append(f"{one.variant}, {one.layer}: {title}")
        again = titles.count(titles[-1])
        title = titles[-1] if again == 1 else f"{titles[-1]} ({again})"
        said.append(
            replace(
                found.about(title),
                title=title,
                short=f"{one.variant}: {found.words[:1].lower()}{found.words[1:]}",
                pictures=tuple(replace(picture, name=f"tried-{number}-{picture.name}") for picture in found.pictures),
            )
        )
    return tuple(said)


def _combined(swept: xr.Dataset) -> str:
    return "combinations of " + ", ".join(str(swept[dim].attrs["input"]) for dim in swept["passes"].dims)


def _figure(name: str, value: float) -> str:
    """A measure's value, fine enough to tell what just passes from what does not; a verdict by its mark."""
    if name == VERDICT:
        return next(MARKS[str(level)] for level in Level if level.rank == value)
    return f"{value:.4g}" if abs(value) < 1000.0 else page.shown(value)


def _limited(limit: float) -> str:
    return f", limit {page.shown(limit)}" if math.isfinite(limit) else ""


def _spoken(path: str, value: object) -> str:
    return Input(path).say(value)


def _named(measure: xr.DataArray) -> str:
    unit = str(measure.attrs["units"])
    return f"{measure.attrs['long_name']}{UNITS.get(unit, f' [{unit}]')}"
