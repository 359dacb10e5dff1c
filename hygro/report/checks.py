"""Steady checks beside the runs: U-value, surface and monthly condensation of each build-up, with their limits.

May import: studyfile, steady and above, inputs, page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hygro.errors import HygroError
from hygro.report import page
from hygro.report.inputs import results_of
from hygro.steady import (
    MonthlyCondensation,
    SurfaceCheck,
    Transmittance,
    monthly_condensation,
    monthly_means,
    surface_check,
    transmittance,
)
from hygro.steady.condensation import LIMITS as CONDENSATION_LIMITS
from hygro.steady.condensation import SOURCE as CONDENSATION_SOURCE
from hygro.steady.months import MONTHS
from hygro.steady.surface import LIMITS as SURFACE_LIMITS
from hygro.steady.surface import SOURCE as SURFACE_SOURCE
from hygro.steady.transmittance import LIMITS as HEAT_LIMITS
from hygro.study import Comparison, Result

_INTRO: Final = (
    "Methods of standards that a reviewer knows and can check by hand. They know neither hours nor leaking air, so "
    "that they may call a build-up dry that the runs find wet, and the other way round; the verdicts of this report "
    "rest on the runs alone. f_Rsi says where the inner surface lies between the air outdoors (0) and indoors (1). "
    "U-values are those of the line computed: studs and rafters make them higher."
)


@dataclass(frozen=True, slots=True)
class _Checked:
    """Checks of one build-up with one model of the air indoors, and the variants that have both."""

    title: str
    names: tuple[str, ...]
    heat: Transmittance
    inside: SurfaceCheck
    months: MonthlyCondensation


def steady_checks(comparisons: Sequence[Comparison]) -> str:
    """U-value, temperature factor and monthly condensation of every build-up, and what these methods leave out.

    Parameters
    ----------
    comparisons : sequence of Comparison
        What `run_study` returned.

    Returns
    -------
    str
        HTML; where a method does not apply, it says why.
    """
    groups: list[list[Result]] = []
    for result in results_of(comparisons):
        like = next((group for group in groups if _same(group[0], result)), None)
        if like is None:
            groups.append([result])
        else:
            like.append(result)
    first = comparisons[0]
    done: list[_Checked] = []
    refused: list[str] = []
    for group in groups:
        try:
            done.append(_checked(group, first))
        except HygroError as error:
            refused.append(f"{'; '.join(one.name for one in group)}: no steady check. {error}")
    parts = [page.paragraph(_INTRO)]
    if done:
        head = ("build-up", "U [W/(m² K)]", "f_Rsi", "f_Rsi needed", "inner surface", "condensation by month")
        parts.append(page.table("Steady checks", head, map(_row, done), numbers=(1, 2, 3)))
    parts += [page.paragraph(words) for words in refused]
    parts += [_months(one) for one in done]
    parts += [
        page.paragraph(f"What each leaves out. U-value: {HEAT_LIMITS}"),
        page.paragraph(f"Inner surface: {SURFACE_LIMITS} Source: {SURFACE_SOURCE}."),
        page.paragraph(f"Condensation: {CONDENSATION_LIMITS} Source: {CONDENSATION_SOURCE}."),
    ]
    return "".join(parts)


def _same(one: Result, other: Result) -> bool:
    return one.variant.assembly == other.variant.assembly and one.variant.indoor == other.variant.indoor


def _checked(group: Sequence[Result], comparison: Comparison) -> _Checked:
    variant = group[0].variant
    air = monthly_means(comparison.climate.period(comparison.start, comparison.years), variant.indoor)
    assembly = variant.assembly
    return _Checked(
        assembly.name,
        tuple(one.name for one in group),
        transmittance(assembly),
        surface_check(assembly, air),
        monthly_condensation(assembly, air),
    )


def _row(one: _Checked) -> tuple[str, ...]:
    inside = one.inside
    worst = max(inside.humidities)
    return (
        one.title,
        f"{one.heat.U:.3f}",
        f"{inside.factor:.3f}",
        f"{inside.needed_factor:.3f} in {inside.critical_month}",
        f"{'warm enough' if inside.passes else 'too cold'}: at most {100 * worst:.0f} % RH",
        one.months.verdict,
    )


def _months(one: _Checked) -> str:
    data, air = one.months.data, one.months.air
    change, held = (1e3 * data[name].sum("node").to_numpy() for name in ("condensate_change", "condensate_held"))
    rows = []
    for number, month in enumerate(map(str, data["month"].to_numpy())):
        m = MONTHS.index(month)
        rows.append((
            month,
            f"{air.outdoor_temperature[m]:.1f}", f"{100 * air.outdoor_relative_humidity[m]:.0f}",
            f"{air.indoor_temperature[m]:.1f}", f"{100 * air.indoor_relative_humidity[m]:.0f}",
            f"{one.inside.needed[m].factor:.2f}", f"{100 * one.inside.humidities[m]:.0f}",
            f"{round(change[number]):d}", f"{round(held[number]):d}",
        ))  # fmt: skip
    head = (
        "month", "outdoors [°C]", "outdoors [% RH]", "indoors [°C]", "indoors [% RH]", "f_Rsi needed",
        "inner surface [% RH]", "condenses, or dries (-) [g/m²]", "held at its end [g/m²]",
    )  # fmt: skip
    notes = list(dict.fromkeys((*one.heat.notes, *one.inside.notes[1:], *one.months.notes[1:])))
    named = "" if one.names == (one.title,) else f" (variants: {'; '.join(one.names)})"
    used = f"{one.title}, month by month{named}"
    return page.table(used, head, rows, numbers=range(1, 9)) + (page.bullets(notes) if notes else "")
