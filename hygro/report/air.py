"""The air that people breathe: guidance on carbon dioxide, cautions, and what a ventilator would have to move.

May import: indoor, study and above, page.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import xarray as xr

from hygro.errors import HygroWarning, InputError
from hygro.indoor import Household, Ventilator, carbon_dioxide_guidance, flow_for_targets, worst_weeks
from hygro.report import page
from hygro.study import Comparison, Result

HUMIDITIES: Final = (0.4, 0.5, 0.6)  # [1] offered as targets; round values
CARBON_DIOXIDES: Final = (800.0, 1000.0, 1400.0)  # [1e-6] offered as targets; round values
_MOST: Final = 0.5  # [m3 s-1] where a search for a flow ends


def cautions(results: Sequence[Result]) -> tuple[str, ...]:
    """What the indoor models of the runs warn of, each once."""
    said = [str(one.run.attrs["indoor_caution"]) for one in results if "indoor_caution" in one.run.attrs]
    return tuple(dict.fromkeys(said))


def in_short(results: Sequence[Result]) -> tuple[str, ...]:
    """Cautions, air so humid that it condenses, and which guidance on carbon dioxide is exceeded, in sentences."""
    guidance: dict[str, list[str]] = {}
    for one in results:
        if "indoor_carbon_dioxide_guidance" in one.run.attrs:
            guidance.setdefault(str(one.run.attrs["indoor_carbon_dioxide_guidance"]), []).append(one.name)
    wet = {
        one.name: int(one.run.attrs["indoor_hours_at_saturation"])
        for one in results
        if int(one.run.attrs.get("indoor_hours_at_saturation", 0)) > 0
    }
    everywhere = len(guidance) == 1 and len(next(iter(guidance.values()))) == len(results)
    return (
        *cautions(results),
        *(
            f"The air indoors is so humid that it condenses, in {hours} hours ({name}): air more, or give off less."
            for name, hours in wet.items()
        ),
        *(
            f"Carbon dioxide indoors{'' if everywhere else ' (' + '; '.join(names) + ')'}: {words}"
            for words, names in guidance.items()
        ),
    )


def section(comparison: Comparison, results: Sequence[Result]) -> str:
    """Each household once: its carbon dioxide beside published guidance, its worst weeks, and flows that would do."""
    homes: dict[Household, list[str]] = {}
    for one in results:
        if isinstance(one.variant.indoor, Household):
            homes.setdefault(one.variant.indoor, []).append(one.name)
    weather = comparison.climate.period(comparison.start, 1).data
    parts = []
    for home, names in homes.items():
        used = "all variants" if len(names) == len(results) else "; ".join(names)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", HygroWarning)  # the runs have said it
            parts.append(_guidance(home, weather, used) + _ventilator(home, weather, used))
    return "".join(parts)


def _guidance(home: Household, weather: xr.Dataset, used: str) -> str:
    checks = carbon_dioxide_guidance(home.conditions(weather))
    rows = [
        (
            f"{one.guideline.name} ({one.guideline.concern})",
            f"{one.guideline.limit:.0f}{' above outdoors' if one.guideline.above_outdoors else ''}",
            "an hour" if one.guideline.hours == 1 else f"{one.guideline.hours} hours",
            f"{one.value:.0f}",
            "✓ never" if one.passes else f"✗ {one.hours_above} hours",
            "-" if one.passes else f"{one.when.day} {one.when:%B %H:%M}",
            one.guideline.source,
        )
        for one in checks
    ]
    head = ("guidance", "limit [ppm]", "mean over", "highest [ppm]", "exceeded in a year", "most on", "source")
    try:
        worst = page.paragraph(str(worst_weeks(home, weather)))
    except InputError:  # no cold week
        worst = ""
    return page.table(f"Carbon dioxide indoors: {used}", head, rows, numbers=(1, 3)) + worst


def _ventilator(home: Household, weather: xr.Dataset, used: str) -> str:
    """Flows for round targets; of a plain ventilator where the household has none."""
    tried = home if home.ventilator is not None else replace(home, ventilator=Ventilator(0.0, 0.0, 0.0))
    targets = [(f"at most {100 * humid:.0f} % relative humidity", {"relative_humidity": humid, "carbon_dioxide": 1e5})
               for humid in HUMIDITIES]  # fmt: skip
    targets += [(f"at most {ppm:.0f} ppm carbon dioxide", {"relative_humidity": 1.0, "carbon_dioxide": ppm})
                for ppm in CARBON_DIOXIDES]  # fmt: skip
    rows = [(words, _flow(tried, weather, wanted)) for words, wanted in targets]
    now = "it has none" if home.ventilator is None else f"now {_both(home.ventilator.flow)}"
    return page.table(
        f"What its ventilator would have to move ({now}): {used}",
        ("so that the worst cold week has a mean of", "outdoor air needed"),
        rows,
    ) + page.paragraph(
        "Weeks colder than 10 °C count. Leaks and the extract fan are in it as stated. Each target stands alone: take "
        "the largest flow of those that are wanted. More air makes no unvented flame safe. Local codes on ventilation "
        "decide."
    )


def _flow(home: Household, weather: xr.Dataset, wanted: dict[str, float]) -> str:
    try:
        found = flow_for_targets(
            home, weather, relative_humidity=wanted["relative_humidity"],
            carbon_dioxide=wanted["carbon_dioxide"], highest_flow=_MOST,
        )  # fmt: skip
    except InputError:
        if wanted["carbon_dioxide"] < 1e5:
            return f"more than {_both(_MOST)}; give off less"
        return f"no flow up to {_both(_MOST)} does: outdoor air is itself too humid; give off less, or dehumidify"
    return "none beyond what leaks" if found == 0.0 else _both(found)


def _both(flow: float) -> str:
    return f"{1e3 * flow:.3g} l/s ({3600 * flow:.0f} m³/h)"
