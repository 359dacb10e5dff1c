"""One file that says what was asked, computed, assumed and found, for somebody who was not there.

The page needs no other file, no network and no script. May import: studyfile, steady, plots, and all above them.
"""

from __future__ import annotations

import platform
from collections.abc import Sequence
from importlib import metadata
from pathlib import Path
from typing import Final

from hygro import __version__
from hygro.errors import InputError
from hygro.report import air, assumed, certainty, checks, findings, inputs, page
from hygro.report.certainty import of_ensemble, of_study
from hygro.report.page import Picture, Sensitivity, Table
from hygro.report.trials import of_search, of_sweep, of_trials
from hygro.study import Comparison
from hygro.studyfile import Study, study_text

__all__ = [
    "CAUTIONS",
    "DEFER",
    "Picture",
    "Sensitivity",
    "Table",
    "of_ensemble",
    "of_search",
    "of_study",
    "of_sweep",
    "of_trials",
    "pictures_of",
    "report_html",
]

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


def pictures_of(comparisons: Sequence[Comparison]) -> tuple[Picture, ...]:
    """Every figure of a study's results, each with a name of its own.

    Parameters
    ----------
    comparisons : sequence of Comparison
        What `run_study` returned.

    Returns
    -------
    tuple of Picture
        The air on both sides first, then those of each layer watched.
    """
    found = list(findings.strips(inputs.results_of(comparisons)))
    for number, comparison in enumerate(comparisons, start=1):
        found += findings.pictures(comparison, "" if len(comparisons) == 1 else f"-{number}")
    return tuple(found)


def report_html(
    study: Study,
    comparisons: Sequence[Comparison],
    *,
    pictures: Sequence[Picture] | None = None,
    tried: Sequence[Sensitivity] = (),
    sensitivity: Sensitivity | Sequence[Sensitivity] = (),
    folder: str | Path | None = None,
) -> str:
    """Report about a study.

    Parameters
    ----------
    study : Study
        What was asked.
    comparisons : sequence of Comparison
        What `run_study` returned.
    pictures : sequence of Picture, optional
        What `pictures_of` returned, where they have been drawn already.
    tried : sequence of Sensitivity, optional
        What the searches and sweeps of the study came to (`of_trials`).
    sensitivity : Sensitivity or sequence of Sensitivity, optional
        What varying the inputs showed (`of_study`, `of_ensemble`, `of_sweep`, `of_search`); without it the report says
        what was not varied.
    folder : str or Path, optional
        Where the report will lie; the path of a weather file is stated from there.

    Returns
    -------
    str
        A whole HTML document without script. All texts of the study are escaped.

    Raises
    ------
    InputError
        Where there is nothing to report.
    """
    if not comparisons:
        msg = "There are no results to report; give what run_study returned."
        raise InputError(msg)
    shown = pictures_of(comparisons) if pictures is None else tuple(pictures)
    varied = (sensitivity,) if isinstance(sensitivity, Sensitivity) else tuple(sensitivity)
    results = inputs.results_of(comparisons)
    several = len(comparisons) > 1
    by_layer = [
        [one for one in shown if one.name in {f"{stem}-{n}" if several else stem for stem in _STEMS}]
        for n in range(1, len(comparisons) + 1)
    ]
    headed = [f"<h3>Layer watched: {page.text(one.layer)}</h3>" if several else "" for one in comparisons]
    found = "".join(
        head + findings.results(one, its) for head, one, its in zip(headed, comparisons, by_layer, strict=True)
    )
    sections = [
        ("question", "The question", page.paragraph(study.question or "No question was written down for this study.")),
        (
            "answer",
            "The answer in short",
            findings.short_answer(comparisons)
            + "".join(map(page.paragraph, air.in_short(results)))
            + certainty.in_short((*tried, *varied)),
        ),
        ("building", "The building", inputs.building(study, results)),
        ("materials", "The materials", inputs.material_tables(results)),
        (
            "weather",
            "The weather and the air indoors",
            inputs.weather(study, comparisons[0], [one for one in shown if one.name.startswith("air")])
            + air.section(comparisons[0], results),
        ),
        ("assumptions", "What was assumed", assumed.assumptions(study, results)),
        ("results", "Results", found),
        ("verdicts", "Verdicts", "".join(findings.verdicts(study, one) for one in comparisons)),
        ("checks", "Steady checks beside the runs", checks.steady_checks(comparisons)),
        *((("tried", "What was tried besides", certainty.shown(tried)),) if tried else ()),
        ("sensitivity", "How sure this is", certainty.section(study, varied, tried)),
        ("cautions", "Cautions", page.bullets((*air.cautions(results), *CAUTIONS)) + page.paragraph(DEFER, "defer")),
        ("versions", "How it was made", _made(comparisons)),
        ("study", "The study as text", _as_text(study, folder)),
    ]
    first = comparisons[0]
    period = f"{first.climate.title}; {page.counted(first.years, 'year')} from {first.start}; "
    period += f"{page.counted(len(results), 'variant')}."
    return page.whole(study.title, page.paragraph(period, "lead"), sections, page.paragraph(DEFER))


_STEMS: Final = ("season", "depth-by-time", "gap-air")


def _made(comparisons: Sequence[Comparison]) -> str:
    results = inputs.results_of(comparisons)
    lost = {
        name: max(abs(float(one.run.attrs[f"audit_{name}"])) for one in results) for name in ("water", "energy")
    }  # fmt: skip
    rows = [
        ("hygro", __version__),
        ("Python", platform.python_version()),
        *((name, metadata.version(name)) for name in _PACKAGES),
        ("Climate digest", comparisons[0].climate.digest),
        ("Water unaccounted for, worst run", f"{lost['water']:.1e} of what passed"),
        ("Energy unaccounted for, worst run", f"{lost['energy']:.1e} of what passed"),
    ]
    return page.pairs("Versions and audit", rows, ("what", "version or value"))


def _as_text(study: Study, folder: str | Path | None) -> str:
    intro = (
        "Saved as study.toml, this text gives the same study again with: python -m hygro study.toml -o again. A "
        "weather file that it names has to lie where it says; the climate digest above tells whether it is the same."
    )
    try:
        written = study_text(study, folder)
    except InputError as error:
        return page.paragraph(f"This study cannot be written as text: {error}")
    return page.paragraph(intro) + f"<pre>{page.text(written)}</pre>"
