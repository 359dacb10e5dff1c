"""How sure it is: ensembles as a reviewer reads them, what else was varied; or what was not.

May import: studyfile, ensemble, plots and above, page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
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
from hygro.report.page import DOTS, MARKS, UNITS, Picture, Sensitivity, Table
from hygro.study import LIMITS, Variant
from hygro.studyfile import Study
from hygro.studyfile.judging import VERDICT

_SAMPLING: Final = (
    "The interval speaks of the number of members only: not of what the stated distributions, or the model, leave out. "
    "Inputs are spread independently of each other."
)


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
    most = max(chance.members for chance in chances.values())
    short = (
        f"How sure this is: of {page.counted(most, 'member')} of each variant, each with other values of what is not "
        f"known for sure, so many do not fail: {said}."
    )
    certain = [one.name for one in study.variants if all(name != one.name for name, _ in found)]
    words = "What is not known for sure was varied in many members of each variant, and each member judged as above. "
    if certain:
        words += f"Nothing is stated as uncertain in: {'; '.join(certain)}. "
    rows = tuple(
        (variant, layer, *_counts(found[variant, layer]), _share(chance), _interval(chance))
        for (variant, layer), chance in chances.items()
    )
    head = ("variant", "layer", *(MARKS[str(level)] for level in Level), "does not fail", "95 % interval")
    table = Table("Verdicts of the members", head, rows, numbers=tuple(range(2, 7)))
    first = Sensitivity(words + _SAMPLING, (table,), short=short)
    each = tuple(
        of_ensemble(one, title=f"{variant}, {layer}", limits=_limits(study, variant, layer)).about(
            f"{variant}, {layer}"
        )
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
            words += f" What matters most for the {name}: {leading}."
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
        unit = UNITS.get(str(attrs["units"]), f" [{attrs['units']}]")
        figures = tuple(page.shown(float(row[key])) for key in ("5 % below", "half below", "95 % below"))
        rows.append((page.sentence(f"{attrs['long_name']}{unit}"), *figures, *held))
    head: tuple[str, ...] = ("measure", "5 % of members below", "half below", "95 % below")
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
        "(light), with limits as bands. That is the mean of the layer; the verdict also looks at its faces, mould and "
        "free water.",
    )


def in_short(given: Sequence[Sensitivity]) -> str:
    """What the answer in short says of it."""
    return "".join(page.paragraph(one.short) for one in given if one.short)


def section(study: Study, given: Sequence[Sensitivity], tried: Sequence[Sensitivity] = ()) -> str:
    """How far the answer depends on what went in; or what was not varied, beside what was tried."""
    if given:
        return shown(given) + page.paragraph(_STILL)
    sides = {one.name: _SIDES.get(one.name, one.name) for one in fields(Variant) if one.name != "name"}
    differ = [words for name, words in sides.items() if len({_side(one, name) for one in study.variants}) > 1]
    same = [words for words in sides.values() if words not in differ]
    parts = [
        page.paragraph(
            "Nothing was varied beyond the variants themselves"
            + (" and what was tried besides" if tried else "")
            + ", so that this study says what would happen with these inputs, not how sure that is."
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


def shown(given: Sequence[Sensitivity]) -> str:
    """Each with its heading, words, tables and figures."""
    return "".join(map(_shown, given))


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
