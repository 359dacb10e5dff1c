"""How sure it is: ensembles, sweeps and searches as a reviewer reads them; or what was not varied.

May import: studyfile, ensemble, plots and above, page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import pandas as pd
import xarray as xr

from hygro import plots
from hygro.criteria import Level, MoistureLimit
from hygro.ensemble import Chance, chance_of_passing, ranking, summary
from hygro.ensemble.statistics import inputs_varied, measures_of
from hygro.errors import InputError
from hygro.plots.style import png
from hygro.report import page
from hygro.report.page import MARKS, Picture, Table
from hygro.study import LIMITS, Variant
from hygro.studyfile import Study
from hygro.studyfile.members import VERDICT
from hygro.vary import Found, Input

DOTS: Final = 130  # per inch: sharp enough in print
_MOST_ROWS: Final = 60  # of a sweep; more are for a picture
_UNITS: Final = {"1": "", "kg m-2": " [kg/m²]", "kg m-2 year-1": " [kg/m² a year]"}
_SAMPLING: Final = (
    "The interval speaks of the number of members only: not of what the stated distributions, or the model, leave out. "
    "Inputs are spread independently of each other."
)


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
    """

    words: str
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    title: str = ""


def of_study(study: Study, found: Mapping[tuple[str, str], xr.Dataset]) -> tuple[Sensitivity, ...]:
    """What the ensembles of a study say.

    Parameters
    ----------
    study : Study
        What was asked.
    found : mapping of (variant, layer) to Dataset
        What `run_members` returned.

    Returns
    -------
    tuple of Sensitivity
        The chances of all variants first, then each ensemble; empty where none was run.
    """
    if not found:
        return ()
    chances = {key: chance_of_passing(one, VERDICT) for key, one in found.items()}
    said = "; ".join(
        f"{variant} {_share(chance)}" + (f" ({layer})" if len(study.watch) > 1 else "")
        for (variant, layer), chance in chances.items()
    )
    certain = [one.name for one in study.variants if all(name != one.name for name, _ in found)]
    words = f"Members whose verdict does not fail: {said}. "
    if certain:
        words += f"Nothing is stated as uncertain in: {'; '.join(certain)}. "
    rows = tuple(
        (variant, layer, *_counts(found[variant, layer]), _share(chance), _interval(chance))
        for (variant, layer), chance in chances.items()
    )
    head = ("variant", "layer", *(MARKS[str(level)] for level in Level), "does not fail", "95 % interval")
    first = Sensitivity(words + _SAMPLING, (Table("Verdicts of the members", head, rows, numbers=tuple(range(2, 7))),))
    each = tuple(
        of_ensemble(one, title=f"{variant}, {layer}", limits=_limits(study, variant, layer))
        for (variant, layer), one in found.items()
    )
    return (first, *each)


def _limits(study: Study, variant: str, layer: str) -> tuple[MoistureLimit, ...]:
    """Limits for wood where they apply."""
    build = next(one for one in study.variants if one.name == variant).assembly
    wood = build.layers[build.layer_number(layer)].material.is_wood if study.wood is None else study.wood
    return tuple(LIMITS) if wood else ()


def of_ensemble(
    ensemble: xr.Dataset, *, title: str = "", limits: Sequence[MoistureLimit] = tuple(LIMITS)
) -> Sensitivity:
    """What an ensemble says: the chance of passing, the season as a band, and which input decides.

    Parameters
    ----------
    ensemble : Dataset
        What `run_ensemble` returned.
    title : str, optional
        Heading; the title of the ensemble by default.
    limits : sequence of MoistureLimit, optional
        What the band of moisture content is held to.

    Returns
    -------
    Sensitivity
        With a ranking where there are 64 members or more.

    Raises
    ------
    InputError
        Where it is no ensemble, or no member was solved.
    """
    about = ensemble.attrs
    chance = chance_of_passing(ensemble, VERDICT if VERDICT in measures_of(ensemble) else None)
    words = (
        f"{page.counted(chance.members, 'member')} (sequence {about['seed']}), each run for "
        f"{page.counted(int(about['years']), 'year')} from {about['start']} in {about['climate']}. {_said(chance)}"
    )
    tables = [_spreads(ensemble), _measured(ensemble)]
    stem = page.file_stem(title or str(about["title"]))
    pictures = [_band(ensemble, f"band-{stem}", limits, chance)]
    asked = measures_of(ensemble)[0]
    try:
        ranked = ranking(ensemble, asked)
    except InputError as error:
        words += f" Which input decides is not told: {error}"
    else:
        tables.append(_ranked(ranked, str(ensemble[asked].attrs["long_name"])))
        leading = str(ranked.index[0])
        name = ensemble[asked].attrs["long_name"]
        if float(ranked["influence"].iloc[0]) > float(ranked.attrs["noise"]):
            words += f" The {name} depends most on {leading}."
        else:
            words += f" No input stands out from chance for the {name}; more members may tell."
        pictures.append(
            Picture(
                f"ranking-{stem}",
                png(plots.ranking_figure(ranked, title=f"What the {name} depends on"), DOTS),
                f"Bars, one for each input; the longest is {leading}.",
                f"What the {name} of '{about['layer']}' depends on, {title or about['title']}.",
            )
        )
    return Sensitivity(words, tuple(tables), tuple(pictures), title or str(about["title"]))


def _said(chance: Chance) -> str:
    said = (
        f"{chance.passing} of them pass: {_share(chance)}, with {chance.members} members somewhere from "
        f"{_interval(chance)}."
    )
    if chance.unsolved:
        said += f" {chance.unsolved} could not be solved and count as not passing."
    return said


def _share(chance: Chance) -> str:
    return f"{100 * chance.value:.3g} %"


def _interval(chance: Chance) -> str:
    return f"{100 * chance.low:.0f} to {100 * chance.high:.0f} %"


def _counts(ensemble: xr.Dataset) -> tuple[int, ...]:
    ranks = ensemble[VERDICT].to_numpy()
    return tuple(int((ranks == level.rank).sum()) for level in Level)


def _spreads(ensemble: xr.Dataset) -> Table:
    rows = tuple((path, str(ensemble[name].attrs["distribution"])) for name, path in inputs_varied(ensemble).items())
    return Table("What is uncertain", ("input", "how it is spread"), rows)


def _measured(ensemble: xr.Dataset) -> Table:
    """The spread of each measure, and how many are within its limit where it has one."""
    table = summary(ensemble)
    rows: list[tuple[str, ...]] = []
    for name, (_, row) in zip(measures_of(ensemble), table.iterrows(), strict=True):
        if name == VERDICT:
            continue
        attrs = ensemble[name].attrs
        limit = float(row["limit"])
        held = (
            (page.shown(limit), f"{row['pass [%]']:.3g} %", f"{row['at least [%]']:.0f} to {row['at most [%]']:.0f} %")
            if math.isfinite(limit)
            else ("-", "-", "-")
        )
        unit = _UNITS.get(str(attrs["units"]), f" [{attrs['units']}]")
        figures = tuple(page.shown(float(row[key])) for key in ("5 % below", "half below", "95 % below"))
        rows.append((page.sentence(f"{attrs['long_name']}{unit}"), *figures, *held))
    head: tuple[str, ...] = ("", "5 % of members below", "half below", "95 % below")
    if all(row[4] == "-" for row in rows):
        rows = [row[:4] for row in rows]
    else:
        head += ("limit", "within it", "95 % interval")
    return Table("What came of it", head, tuple(rows), numbers=tuple(range(1, len(head))))


def _ranked(ranked: pd.DataFrame, measure: str) -> Table:
    noise = float(ranked.attrs["noise"])
    rows = tuple(
        (
            str(name),
            f"{row['influence']:.2f}" + ("" if row["influence"] > noise else " (not told from chance)"),
            f"{100 * max(row['share of variance'], 0.0):.0f} ± {100 * row['share of variance ±']:.0f} %",
            "more gives more" if row["direction"] > 0.0 else "more gives less",
        )
        for name, row in ranked.iterrows()
    )
    head = ("input", f"influence, 0 to 1 (chance alone: {noise:.2f})", "share of the variance by itself", "direction")
    return Table(f"What the {measure} depends on", head, rows, numbers=(1, 2))


def _band(ensemble: xr.Dataset, name: str, limits: Sequence[MoistureLimit], chance: Chance) -> Picture:
    last = ensemble["moisture_content"].isel(day=-1).to_numpy()
    low, middle, high = np.nanquantile(last, (0.05, 0.5, 0.95))
    layer = ensemble.attrs["layer"]
    return Picture(
        name,
        png(plots.band_figure(ensemble, limits=limits), DOTS),
        f"Band of the moisture content of '{layer}' over the months. At the end half of the members are below "
        f"{middle:.0f} %, nine tenths between {low:.0f} and {high:.0f} %. {_share(chance)} pass.",
        f"Moisture content of '{layer}', daily means: where half of the members lie (dark) and where nine tenths lie "
        "(light), with limits as bands.",
    )


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
            figures = [page.shown(float(here[name])) for name in measures]
            rows.append((*values, *figures, MARKS["fine" if bool(here["passes"]) else "fails"].split("\u00a0")[0]))
        head = [str(swept[dim].attrs["input"]) for dim in dims]
        head += [f"{_named(swept[name])}, limit {page.shown(float(swept[name].attrs['limit']))}" for name in measures]
        numbers = tuple(range(len(dims), len(dims) + len(measures)))
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
    unit = _UNITS.get(measure.unit, f" [{measure.unit}]")
    trail = found.trail.sort_values("value")
    rows = tuple(
        (found.sought.say(float(row["value"])), page.shown(float(row[measure.name])), "✓" if row["passes"] else "✗")
        for _, row in trail.iterrows()
    )
    head = (found.sought.name, f"{measure.words}{unit}, limit {page.shown(measure.limit)}", "passes")
    one = "smallest" if found.smallest else "largest"
    shown = Picture(
        f"search-{page.file_stem(found.sought.name)}",
        png(plots.trail_figure(found), DOTS),
        f"Points of the {measure.words} over {found.sought.name}. {found.answer}",
        f"Values of {found.sought.name} that were tried; the line is the limit.",
    )
    title = f"The {one} {found.sought.name} that passes"
    return Sensitivity(found.answer, (Table("Values tried", head, rows, numbers=(1,)),), (shown,), title)


def _spoken(path: str, value: object) -> str:
    return Input(path).say(value)


def _named(measure: xr.DataArray) -> str:
    unit = str(measure.attrs["units"])
    return f"{measure.attrs['long_name']}{_UNITS.get(unit, f' [{unit}]')}"


def section(study: Study, given: Sequence[Sensitivity]) -> str:
    """How far the answer depends on what went in; or what was not varied."""
    if given:
        return "".join(map(_shown, given)) + page.paragraph(_STILL)
    sides = {one.name: _SIDES.get(one.name, one.name) for one in fields(Variant) if one.name != "name"}
    differ = [words for name, words in sides.items() if len({_side(one, name) for one in study.variants}) > 1]
    same = [words for words in sides.values() if words not in differ]
    parts = [
        page.paragraph(
            "Nothing was varied beyond the variants themselves, so that this study says what would happen with these "
            "inputs, not how sure that is."
        )
    ]
    if study.uncertain:
        stated = _and([one.input for one in study.uncertain])
        parts.append(page.paragraph(f"Stated as uncertain, but no members were run: {stated}. Ask for --members 64."))
    if len(study.variants) > 1:
        parts.append(page.paragraph(f"The variants differ in {_and(differ)}; the same in all: {_and(same)}."))
    parts.append(page.paragraph("Not varied, and able to turn a close result:"))
    parts.append(page.bullets(_NOT_VARIED))
    return "".join(parts)


def _shown(one: Sensitivity) -> str:
    head = f"<h3>{page.text(one.title)}</h3>" if one.title else ""
    tables = "".join(table.html() for table in one.tables)
    return head + page.paragraph(one.words) + tables + "".join(map(page.picture, one.pictures))


_STILL: Final = (
    "What is not listed above stayed as stated. One record of weather stands for all years unless the weather itself "
    "was varied."
)
_SIDES: Final = {
    "assembly": "the build-up",
    "indoor": "the air indoors",
    "leak": "the air that leaks",
    "initial": "the state at the start",
    "rain": "the rain",
    "snow": "the snow",
}
_NOT_VARIED: Final = (
    "the weather: one record stands for all years, and a colder or wetter one was not tried",
    "the values of the materials, which scatter from batch to batch and product to product",
    "workmanship: the air that leaks, blocked openings, batts that do not fill",
    "how people live: the humidity indoors over the years",
    "how wet the building is when it is closed",
)


def _side(variant: object, name: str) -> str:
    value = getattr(variant, name)
    return f"{value!r} {getattr(value, 'parts', '')!r}"


def _and(words: Sequence[str]) -> str:
    listed = list(words)
    return " and ".join([", ".join(listed[:-1]), listed[-1]] if len(listed) > 1 else listed) or "nothing"
