"""What went in: the building, its materials and the weather.

May import: studyfile, plots and above, page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import fields, is_dataclass
from typing import Final

from hygro import materials
from hygro.assembly import Assembly, Layer, Sheet
from hygro.climate.record import SPOKEN
from hygro.materials.provenance import GRADES
from hygro.report import page
from hygro.study import Comparison, Result, Variant
from hygro.studyfile import Sample, Study

_SHOWN_APART: Final = ("name", "assembly", "indoor", "leak", "initial", "rain", "snow")
_MOST_LISTED: Final = 24


def results_of(comparisons: Sequence[Comparison]) -> list[Result]:
    """One result for each variant, in the order in which they first come."""
    return list({result.name: result for comparison in comparisons for result in comparison.results}.values())


def assemblies_of(results: Iterable[Result]) -> list[tuple[Assembly, list[str]]]:
    """Each build-up once, with the names of the variants built so."""
    found: list[tuple[Assembly, list[str]]] = []
    for result in results:
        assembly = result.variant.assembly
        names = next((names for one, names in found if one == assembly), None)
        if names is None:
            found.append((assembly, [result.name]))
        else:
            names.append(result.name)
    return found


def building(study: Study, results: Sequence[Result]) -> str:
    """What stands there: words, a section of each build-up with its parts, and the air that leaks."""
    parts = [page.paragraph(study.building)] if study.building else []
    for assembly, names in assemblies_of(results):
        parts.append(f"<h3>{page.text(assembly.name)}</h3>")
        used = "Used in: " + "; ".join(names) + "."
        side = "bottom" if assembly.kind == "floor" else "top"
        drawn = f"Section to scale, outside at the {side}. {used}"
        parts.append(page.drawing(assembly.draw().svg, _in_words(assembly), drawn))
        parts.append(_parts(assembly))
    leaks = [(one.name, str(one.run.attrs["leak"])) for one in results]
    parts.append(page.pairs("Air that leaks through", leaks, ("variant", "leak")))
    air: dict[str, list[str]] = {}
    for one in results:
        air.setdefault(in_words(one.variant.indoor), []).append(one.name)
    rows = [("all variants" if len(air) == 1 else "; ".join(names), words) for words, names in air.items()]
    parts.append(page.pairs("Air indoors", rows, ("variant", "model and all its settings")))
    parts += [_grouped(f"{name} on the outer face", results, name.lower()) for name in ("Rain", "Snow")]
    others = [one.name for one in fields(Variant) if one.name not in _SHOWN_APART]
    more = [(f"{one.name}: {name}", in_words(getattr(one.variant, name))) for one in results for name in others]
    parts.append(
        page.pairs("What else the variants state", more, ("variant", "what and all its settings")) if more else ""
    )
    return "".join(parts)


def _grouped(title: str, results: Sequence[Result], attribute: str) -> str:
    """What each run says of an attribute, once for all variants of which it says the same; none where it is nowhere."""
    said: dict[str, list[str]] = {}
    for one in results:
        said.setdefault(str(one.run.attrs[attribute]), []).append(one.name)
    if list(said) == ["none"]:
        return ""
    rows = [("all variants" if len(said) == 1 else "; ".join(names), words) for words, names in said.items()]
    return page.pairs(title, rows, ("variant", attribute))


def in_words(thing: object) -> str:
    """What an object is and every setting that it has, defaults included."""
    if isinstance(thing, tuple):
        # Hours of a year are not for reading.
        return f"{len(thing)} values" if len(thing) > _MOST_LISTED else ", ".join(map(in_words, thing)) or "none"
    if isinstance(thing, bool):
        return "yes" if thing else "no"
    if not is_dataclass(thing):
        return "none" if thing is None else f"{thing:g}" if isinstance(thing, float) else str(thing)
    name = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(thing).__name__).lower()
    stated = "; ".join(f"{one.name.replace('_', ' ')}: {in_words(getattr(thing, one.name))}" for one in fields(thing))
    return f"{name} ({stated})"


def _in_words(assembly: Assembly) -> str:
    named = iter(assembly.labels)
    said = []
    for part in assembly:
        if isinstance(part, Layer):
            said.append(f"{next(named)} {1e3 * part.thickness:.3g} mm")
        elif isinstance(part, Sheet):
            said.append(f"{part.name} (sheet)")
        else:
            said.append(f"{part.name} {1e3 * part.thickness:.3g} mm")
    return f"Section of {assembly.title}. From outside to inside: {', '.join(said)}."


def _parts(assembly: Assembly) -> str:
    named = iter(assembly.labels)
    rows = []
    for part in assembly:
        if isinstance(part, Layer):
            start = (
                f"{100 * part.start_moisture:.3g} % by mass"
                if part.start_moisture is not None
                else f"{100 * part.start_humidity:.3g} % RH"
                if part.start_humidity is not None
                else "as all"
            )
            rows.append((
                next(named), part.material.name, f"{1e3 * part.thickness:.4g} mm", f"{part.thermal_resistance:.2f}",
                _s_d(part.s_d()), start,
            ))  # fmt: skip
        elif isinstance(part, Sheet):
            vary = " at 50 % RH, varies" if part.material.is_variable else ""
            rows.append((part.name, part.material.name, "sheet", "-", _s_d(part.s_d()) + vary, "-"))
        else:
            words = f"{part.flow.describe()}; {part.length:g} m long, computed in {page.counted(part.slices, 'slice')}"
            rows.append((part.name, page.sentence(words), f"{1e3 * part.thickness:.4g} mm", "-", "-", "-"))
    head = ("part", "made of", "thickness", "R dry [m² K/W]", "s_d [m]", "start moisture")
    return page.table(f"{assembly.title}; from outside to inside", head, rows, numbers=(2, 3, 4))


def _s_d(value: float) -> str:
    return "tight" if value > 1e5 else _figure(value)


def _figure(value: object) -> str:
    """Three figures, and no powers of ten."""
    return f"{float(f'{value:.3g}'):g}"


def material_tables(results: Sequence[Result]) -> str:
    """Properties of each material used, and where the library has them from."""
    slabs: dict[str, materials.Material] = {}
    sheets: dict[str, materials.SheetMaterial] = {}
    finishes: dict[str, materials.Finish] = {}
    for assembly, _ in assemblies_of(results):
        finishes[assembly.finish.name] = assembly.finish
        for part in assembly:
            if isinstance(part, Layer):
                slabs[part.material.name] = part.material
            elif isinstance(part, Sheet):
                sheets[part.material.name] = part.material
    rows = [
        (
            one.name, f"{one.density:.4g}", f"{one.specific_heat:.4g}", f"{one.conductivity:.3g}",
            *("tight" if one.is_vapour_tight else _figure(one.vapour_resistance_factor(rh)) for rh in (0.4, 0.8)),
            f"{float(one.water_content(0.8)):.3g}", f"{one.saturation:.3g}",
            "yes" if one.transports_liquid else "no", one.mould_sensitivity or "not judged",
        )
        for one in slabs.values()
    ]  # fmt: skip
    head = (
        "material", "density [kg/m³]", "heat capacity [J/kg K]", "conductivity dry [W/m K]", "μ at 40 % RH",
        "μ at 80 % RH", "water at 80 % RH [kg/m³]", "saturation [kg/m³]", "moves liquid", "mould class",
    )  # fmt: skip
    sheet_rows = [
        (one.name, *(_s_d(float(one.equivalent_air_thickness(rh))) for rh in (0.4, 0.8))) for one in sheets.values()
    ]
    finish_rows = [(one.name, f"{one.absorptance:g}", f"{one.emissivity:g}") for one in finishes.values()]
    quoted: dict[str, tuple[materials.Quoted, ...]] = {}
    for used in (slabs, sheets, finishes):
        quoted |= {name: one.provenance for name, one in used.items()}
    return "".join((
        page.table("Layers", head, rows, numbers=range(1, 8)),
        page.table("Sheets and coats", ("sheet", "s_d at 40 % RH [m]", "at 80 % RH [m]"), sheet_rows, numbers=(1, 2))
        if sheet_rows else "",
        page.table(
            "Outer faces", ("finish", "takes up sun (0 to 1)", "gives off long-wave"), finish_rows, numbers=(1, 2)
        ),
        _sources(quoted),
    ))  # fmt: skip


def _sources(quoted: dict[str, tuple[materials.Quoted, ...]]) -> str:
    keys = list(dict.fromkeys(line.source for lines in quoted.values() for line in lines))
    own = [name for name, lines in quoted.items() if not lines]
    numbers = {key: n for n, key in enumerate(keys, start=1)}
    rows = [
        (
            name,
            "; ".join(
                f"{_quantity(line.quantity)} [{numbers[line.source]}, {line.grade}]" for line in lines
            ) or "stated in this study, without a source",
        )
        for name, lines in quoted.items()
    ]  # fmt: skip
    listed = "".join(f"<li>{page.text(materials.sources()[key])}</li>" for key in keys)
    grades = "; ".join(f"{name}: {words}" for name, words in GRADES.items())
    warned = page.paragraph(f"Check against the data sheet: {', '.join(own)}.") if own else ""
    return (
        page.pairs("Where the values come from", rows, ("material", "value [source, grade]"))
        + warned
        + f"<p>Sources:</p><ol>{listed}</ol>"
        + page.paragraph(f"Grades: {grades}.")
    )


def _quantity(name: str) -> str:
    return name if name == "s_d" else name.replace("_", " ")


def weather(study: Study, comparison: Comparison, strips: Sequence[page.Picture]) -> str:
    """The record of the weather, its figures, and the air on both sides as a picture."""
    climate = comparison.climate
    rows = [
        (page.sentence(name.replace("degC", "°C")), f"{page.shown(round(value, 1))} {SPOKEN.get(unit, unit)}")
        for name, (value, unit) in climate.summary().items()
    ]
    invented = " It is invented: no real place has it." if isinstance(study.climate, Sample) else ""
    intro = (
        f"{climate.title}.{invented} Source: {climate.source}. The runs begin on {comparison.start} and last "
        f"{page.counted(comparison.years, 'year')}; a record of one year is repeated."
    )
    notes = [note for note in str(climate.data.attrs.get("notes", "")).split("; ") if note]
    repaired = page.paragraph("What was filled or computed in the record:") + page.bullets(notes) if notes else ""
    return (
        page.paragraph(intro)
        + page.pairs("The weather in figures", rows)
        + repaired
        + "".join(map(page.picture, strips))
    )
