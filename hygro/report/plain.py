"""The results as a builder reads them in a terminal.

May import: study and above, page.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any, Final

from hygro.report import air
from hygro.report.inputs import results_of
from hygro.report.page import counted, shown
from hygro.study import Comparison

_WIDTH: Final = 100
_HEAD: Final = ("outcome", "verdict", "wettest", "hours >20 %", "mould", "water/ice")
_LEGEND: Final = (
    "wettest: highest moisture content, mean of the layer; hours >20 %: hours above the design limit for safety from "
    "decay of wood; mould: index at the inner face, 3 is seen by eye; water/ice: most free water and ice, kg/m2."
)


def results_text(title: str, comparisons: Sequence[Comparison], cautions: Sequence[str]) -> str:
    """A table for each layer watched, a sentence for each variant, and the cautions.

    Parameters
    ----------
    title : str
        First line.
    comparisons : sequence of Comparison
        What `run_study` returned.
    cautions : sequence of str
        What to mind.

    Returns
    -------
    str
        Several lines of plain text.
    """
    first = comparisons[0]
    period = f"{first.climate.title}, {counted(first.years, 'year')} from {first.start}"
    said = [f"{result.name} - {result.answer}" for one in comparisons for result in one.results]
    said += air.in_short(results_of(comparisons))
    blocks = [f"{title}\n{period}", *map(_table, comparisons)]
    blocks += ["\n".join(textwrap.wrap(text, _WIDTH)) for text in (_LEGEND, *said, "Cautions: " + " ".join(cautions))]
    return "\n\n".join(blocks)


def _table(comparison: Comparison) -> str:
    head = ("variant", f"the {comparison.layer} ...", *_HEAD[1:])
    rows = [head, *(_cells(str(name), row) for name, row in comparison.table().to_dict("index").items())]
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return "\n".join([lines[0], "-" * (sum(widths) + 2 * len(widths) - 2), *lines[1:]])


def _cells(name: str, row: dict[Any, Any]) -> tuple[str, ...]:
    mould = next(value for key, value in row.items() if key.startswith("mould"))
    return (
        name,
        row["outcome"],
        row["level"],
        f"{row['wettest mean [%]']:.0f} %",
        f"{row['hours above 20 %']}",
        shown(float(f"{mould:.1f}")),
        f"{row['free water and ice [kg/m2]']:.2f}",
    )
