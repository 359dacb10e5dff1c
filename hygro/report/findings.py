"""What came out: the short answer, the results of each layer watched with pictures, the verdicts, how sure they are.

May import: studyfile, plots and above, page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hygro import plots
from hygro.criteria import Level, Verdict, moisture_content
from hygro.criteria.verdict import quantity, spoken
from hygro.plots.style import png
from hygro.report import page
from hygro.report.page import DOTS, MARKS, Picture
from hygro.study import Comparison, Result
from hygro.studyfile import Study, besides


def worst(comparison: Comparison) -> Result:
    """The result that comes out worst, by level, then by outcome, then by the highest mean moisture content."""
    return max(
        comparison.results,
        key=lambda one: (
            one.answer.level.rank,
            one.answer.outcome.rank,
            float(moisture_content(one.run, comparison.layer).max()),
        ),
    )


def strips(results: Sequence[Result]) -> tuple[Picture, ...]:
    """The air on both sides: one picture for each model of the air indoors."""
    found: dict[str, list[Result]] = {}
    for result in results:
        found.setdefault(str(result.run.attrs["indoor"]), []).append(result)
    return tuple(
        _strip(group, "" if len(found) == 1 else f"-{number}") for number, group in enumerate(found.values(), 1)
    )


def _strip(group: Sequence[Result], ending: str) -> Picture:
    run = group[0].run
    said = []
    for side in ("outdoor", "indoor"):
        warmth, damp = run[f"{side}_temperature"].to_numpy(), 100.0 * run[f"{side}_relative_humidity"].to_numpy()
        said.append(
            f"{side}s from {warmth.min():.0f} to {warmth.max():.0f} °C, {damp.mean():.0f} % relative humidity in all"
        )
    whose = "all variants" if ending == "" else ", ".join(one.name for one in group)
    caption = f"Air outdoors and indoors, daily means; grey is the range of the day outdoors. Indoors: {whose}."
    return Picture(
        f"air{ending}", png(plots.air_strip(run), DOTS), f"Two curves over time: {'; '.join(said)}.", caption
    )


def pictures(comparison: Comparison, ending: str = "") -> tuple[Picture, ...]:
    """Figures of one layer that is watched.

    Parameters
    ----------
    comparison : Comparison
        Results for that layer.
    ending : str, optional
        What the names of the files end with.

    Returns
    -------
    tuple of Picture
        The seasons, the worst variant over depth and time, and the air in the gap where there is one.
    """
    layer, damp = comparison.layer, worst(comparison)
    highest = "; ".join(
        f"{one.name} reaches {float(moisture_content(one.run, layer).max()):.0f} % and ends at "
        f"{float(moisture_content(one.run, layer).isel(time=-1).max()):.0f} %"
        for one in comparison.results
    )
    humid = 100.0 * float(damp.run["relative_humidity"].mean())
    found = [
        Picture(
            f"season{ending}",
            png(plots.season_figure(comparison), DOTS),
            f"Curves over the months, one for each variant. Moisture content of '{layer}': {highest}.",
            f"'{layer}' over the seasons, daily means, one line for each variant, limits as bands.",
        ),
        Picture(
            f"depth-by-time{ending}",
            png(plots.depth_time_map(damp.run), DOTS),
            f"Map of relative humidity over depth and time in '{damp.name}'; {humid:.0f} % in the mean of all depths.",
            f"Relative humidity over depth and time in '{damp.name}', the worst for '{layer}'. Outside is at the top, "
            "dark is damp.",
        ),
    ]
    speeds = {
        one.name: np.abs(one.run["gap_air_speed"].to_numpy())
        for one in comparison.results
        if "gap_air_speed" in one.run
    }
    if speeds:
        middles = "; ".join(f"{name} {np.median(speed):.2f} m/s" for name, speed in speeds.items())
        found.append(
            Picture(
                f"gap-air{ending}",
                png(plots.speed_duration_figure(comparison.runs), DOTS),
                f"Falling curves of the air speed in the gap. In half of the hours it is at least: {middles}.",
                "Air speed in the vent gap against the share of the hours in which it is at least that fast.",
            )
        )
    return tuple(found)


def short_answer(comparisons: Sequence[Comparison]) -> str:
    """What each variant does, in a table and a sentence."""
    parts = []
    for comparison in comparisons:
        rows = [
            (one.name, str(one.answer.outcome), MARKS[str(one.answer.level)], _decided(one))
            for one in comparison.results
        ]
        head = ("variant", f"{comparison.layer} ...", "verdict", "because")
        parts.append(page.table(f"Layer watched: {comparison.layer}", head, rows))
        if len(comparison.results) > 1:
            best = comparison.driest
            words = "Best of these" if best.answer.level is Level.FINE else "None of these is fine; the least bad"
            parts.append(page.paragraph(f"{words} for '{comparison.layer}': {best.name}."))
    key = "✓ fine: within every limit that applies. ! caution: near a limit or not to be told. ✗ fails: beyond a limit."
    return "".join(parts) + page.paragraph(key)


def _decided(result: Result) -> str:
    answer = result.answer
    if answer.deciding is None or answer.level is Level.FINE:
        return answer.because
    verdict = answer.deciding
    held = f", limit {quantity(verdict.limit, verdict.unit)}" if math.isfinite(verdict.limit) else ""
    head = f"{page.sentence(verdict.criterion)} ({verdict.where}) is {quantity(verdict.value, verdict.unit)}{held}."
    return f"{head} {verdict.because} {answer.because}"


def results(comparison: Comparison, shown: Sequence[Picture]) -> str:
    """Numbers and pictures of one layer."""
    numbers = comparison.table()
    names = [str(name) for name in numbers.index]
    rows = [(str(key).replace("kg/m2", "kg/m²"), *(page.shown(cell) for cell in numbers[key])) for key in numbers]
    intro = (
        f"Moisture content is that of the whole layer '{comparison.layer}'; hours are those of the whole run of "
        f"{page.counted(comparison.years, 'year')}."
    )
    grid = page.table(f"Results for {comparison.layer}", ("", *names), rows, numbers=range(1, len(names) + 1))
    return (
        page.paragraph(intro) + grid.replace("<th scope='col'></th>", "<td></td>") + "".join(map(page.picture, shown))
    )


def verdicts(study: Study, comparison: Comparison) -> str:
    """Every criterion that was asked, for each variant."""
    return "".join(_answer(one, besides(study, one)) for one in comparison.results)


def _answer(result: Result, more: Sequence[Verdict]) -> str:
    answer = result.answer
    head = ("criterion", "where", "worst value", "limit", "when", "result", "because")
    level = str(answer.level)
    asked = f"Asked besides for {answer.layer} in {result.name}"
    return (
        f"<div class='answer {level}'><h3>{page.text(result.name)}, {page.text(answer.layer)}: "
        f"{page.text(answer.outcome)} ({page.text(MARKS[level])})</h3>{page.paragraph(answer)}</div>"
        + page.table(f"All criteria for {answer.layer} in {result.name}", head, _criteria(answer.verdicts))
        + (page.table(asked, (*head, "source"), _criteria(more, sources=True)) if more else "")
    )


def _criteria(verdicts: Sequence[Verdict], *, sources: bool = False) -> list[tuple[str, ...]]:
    return [
        (
            page.sentence(one.criterion),
            one.where,
            quantity(one.value, one.unit),
            quantity(one.limit, one.unit) if math.isfinite(one.limit) else "-",
            spoken(one.when) if one.when is not None else "-",
            MARKS[str(one.level)],
            one.because,
            *((one.source,) if sources else ()),
        )
        for one in verdicts
    ]
