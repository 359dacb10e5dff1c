"""Write docs/materials.md from the material library: every value with its source and its grade.

Run from the root of the tree: ``python docs/make_materials.py``.
"""

from __future__ import annotations

from pathlib import Path

from hygro import materials
from hygro.materials import Quoted
from hygro.materials.provenance import GRADES
from hygro.materials.shelf import FINISH_FAMILY, SHEET_FAMILIES

TARGET = Path(__file__).with_name("materials.md")
HEAD = """# The material library

Written by `python docs/make_materials.py` from the files in `hygro/materials/library/`; change those, not this page.

Each value is followed by the number of its source and the letter of its grade. A library value stands for a kind of
material, not for the product on your site: where a result hangs on a value, replace it by the product's own.
`materials.describe("OSB")` prints the same for one entry.

{grades}
"""


def provenance(name: str, family: str) -> tuple[Quoted, ...]:
    """What the library says about one entry."""
    if family == FINISH_FAMILY:
        return materials.finish(name).provenance
    return materials.sheet(name).provenance if family in SHEET_FAMILIES else materials.get(name).provenance


def table(family: str, numbers: dict[str, int]) -> list[str]:
    """Markdown table of a family: one row for an entry, one column for a quantity."""
    rows = {name: provenance(name, family) for name in materials.names(family)}
    units: dict[str, set[str]] = {}
    for quoted in rows.values():
        for q in quoted:
            units.setdefault(q.quantity, set()).add(q.unit)
    wood = family not in (*SHEET_FAMILIES, FINISH_FAMILY)
    heads = [quantity.replace("_", " ") + (f" [{min(of)}]" if len(of) == 1 else "") for quantity, of in units.items()]
    heads += ["judged as wood"] * wood
    lines = [f"## {family.replace('_', ' ').capitalize()}", "", f"| name | {' | '.join(heads)} |"]
    lines.append("| --- |" + " --- |" * len(heads))
    for name, quoted in rows.items():
        stated = {
            q.quantity: q.value
            + (f" {q.unit}" if len(units[q.quantity]) > 1 else "")
            + f" ({numbers[q.source]}{q.grade[0]})"
            for q in quoted
        }
        cells = [stated.get(quantity, "") for quantity in units]
        cells += [("yes" if materials.get(name).is_wood else "no")] if wood else []
        lines.append(f"| {name} | {' | '.join(cells)} |")
    return [*lines, ""]


def page() -> str:
    """The whole page."""
    sources = materials.sources()
    numbers = {key: number for number, key in enumerate(sources, start=1)}
    grades = "\n".join(f"- {grade[0]}: {grade}, {meaning}" for grade, meaning in GRADES.items())
    lines = [*HEAD.format(grades=grades).splitlines(), ""]
    for family in materials.FAMILIES:
        lines += table(family, numbers)
    lines += ["## Sources", "", *(f"{numbers[key]}. `{key}`: {source}" for key, source in sources.items())]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
    print(f"wrote {TARGET}")
