"""What went in: the building, its materials, the weather, and everything that was assumed.

May import: studyfile, plots and above, page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, is_dataclass
from typing import Final

from hygro import materials
from hygro.assembly import Assembly, Layer, Sheet
from hygro.climate.record import SPOKEN
from hygro.core.formulas import MoistAir
from hygro.core.integrate import Settings
from hygro.criteria import combined, condensation, corrosion, decay, mould, trend, wood
from hygro.gapflow import ENTRY_LOSS, EXIT_LOSS, ORIFICE_LOSS, ByWindAndBuoyancy, FixedAirChange
from hygro.grid import FILM_LIMIT_PER_AREA, GROWTH
from hygro.leakage import TEST_PRESSURE
from hygro.materials.provenance import GRADES
from hygro.report import page
from hygro.simulation import Start
from hygro.study import Comparison, Result, Variant
from hygro.studyfile import Sample, Study
from hygro.surfaces import (
    GROUND_ALBEDO,
    GROUND_EMISSIVITY,
    INDOOR_CONVECTION,
    INDOOR_RESISTANCE,
    SURFACE_WIND_SHARE,
)

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
        drawn = f"Section to scale, outside at the top. {used}"
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
        page.table("Layers", head, rows, numbers=range(1, 7)),
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
        (page.sentence(name), f"{page.shown(round(value, 1))} {SPOKEN.get(unit, unit)}")
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


def assumptions(study: Study, results: Sequence[Result]) -> str:
    """Every choice that nobody stated, and its value."""
    parts = []
    if study.assumed:
        parts.append(page.pairs("Chosen for this study", study.assumed, ("choice", "words")))
    parts += [
        page.pairs("Start, surfaces and air", list(_boundaries(results)), ("choice", "value")),
        page.pairs("Vent gaps and leaks", list(_air_ways(results)), ("choice", "value")),
        page.table("Limits of the criteria", ("criterion", "limit", "source"), list(_limits())),
        page.pairs("Solver", list(_solver(results)), ("setting", "value")),
        page.pairs(
            "Left out of these runs", [*_LEFT_OUT, *_rain(results), *_snow(results)], ("what", "why it matters")
        ),
    ]
    return "".join(part for part in parts if part)


_LEFT_OUT: Final = (
    ("Rafters, studs, joints, corners", "computed along one line; they are colder and leak more than the field"),
    ("Wind washing, air that circulates within insulation", "cools and carries moisture where batts do not fill"),
    ("Ageing", "openings clog, seals open, retarders are pierced"),
    ("Hysteresis of sorption", "one curve stands for wetting and drying"),
)


def _rain(results: Sequence[Result]) -> Iterator[tuple[str, str]]:
    without = [one.name for one in results if one.run.attrs["rain"] == "none"]
    if without:
        yield "Rain", f"none reaches the outer face, or gets in by faults, in: {'; '.join(without)}"
    beading = [
        one.name
        for one in results
        if one.name not in without and not bool(((one.run["rain_absorbed"] + one.run["rain_leak"]) > 0.0).any())
    ]
    if beading:
        yield (
            "Rain that soaks in",
            "all of it runs off, as the outermost material is computed without liquid transport, and no fault lets any "
            f"in: {'; '.join(beading)}",
        )


def _snow(results: Sequence[Result]) -> Iterator[tuple[str, str]]:
    roofs = [one for one in results if one.variant.assembly.kind == "roof"]
    bare = [one.name for one in roofs if one.run.attrs["snow"] == "none"]
    if bare:
        yield "Snow on the roof", f"it insulates, shades and may block openings; none lies in: {'; '.join(bare)}"
    if roofs:
        yield "Ice dams", "melt water that freezes at the eaves and backs up"


def _boundaries(results: Sequence[Result]) -> Iterator[tuple[str, str]]:
    for start in dict.fromkeys(one.variant.initial or Start() for one in results):
        yield (
            "Start",
            f"{start.temperature:g} °C and {100 * start.relative_humidity:g} % relative humidity in every layer that "
            "states nothing else",
        )
    yield "Outer face", "sun, long-wave exchange with sky and ground, wind; vapour by the Lewis relation"
    yield "Wind beside the outer face", f"{SURFACE_WIND_SHARE:g} of that at 10 m (common practice)"
    yield (
        "Ground",
        f"reflects {GROUND_ALBEDO:g} of the sun, gives off long-wave as {GROUND_EMISSIVITY:g} of a black body",
    )
    for way in dict.fromkeys(one.variant.assembly.heat_flow for one in results):
        yield (
            f"Inner face, heat flow {way}",
            f"{INDOOR_RESISTANCE[way]:g} m² K/W (ISO 6946); vapour by the Lewis relation from the convective part, "
            f"{INDOOR_CONVECTION[way]:g} W/(m² K)",
        )
    air = MoistAir()
    yield "Saturation pressures", f"over water and over ice after {air.name}"
    yield (
        "Water and ice",
        f"evaporation {1e-3 * air.latent_heat:.0f} kJ/kg and fusion {1e-3 * air.fusion_heat:.1f} kJ/kg at 0 °C; pore "
        "water freezes where its vapour pressure over ice is lower",
    )
    yield (
        "Condensate on a vapour-tight face",
        f"clings up to {FILM_LIMIT_PER_AREA:g} kg/m² and drips beyond (ISO 13788)",
    )


def _air_ways(results: Sequence[Result]) -> Iterator[tuple[str, str]]:
    gaps = list(dict.fromkeys(one.variant.assembly.gap for one in results if one.variant.assembly.gap is not None))
    for gap in gaps:
        outer, inner = gap.emissivity
        yield f"{page.sentence(gap.name)}, faces", f"long-wave emissivity {outer:g} (outer) and {inner:g} (inner)"
        if isinstance(gap.flow, ByWindAndBuoyancy):
            exposure = gap.flow.exposure
            yield (
                f"{page.sentence(gap.name)}, wind",
                f"{exposure.name} site: pressure coefficients {exposure.windward:g} windward, {exposure.side:g} side, "
                f"{exposure.leeward:g} leeward; {exposure.speed_share:.2g} of the wind at 10 m; inlet looks "
                f"{gap.flow.inlet_bearing:g} degrees from the face",
            )
            yield (
                f"{page.sentence(gap.name)}, losses",
                f"entry {ENTRY_LOSS:g}, exit {EXIT_LOSS:g}, each opening {ORIFICE_LOSS:.3g} (discharge 0.6) and its "
                f"screen; {100 * gap.flow.blocked:g} % blocked",
            )
        elif isinstance(gap.flow, FixedAirChange):
            yield f"{page.sentence(gap.name)}, air", gap.flow.describe()
    for leak in dict.fromkeys(one.variant.leak for one in results if one.variant.leak is not None):
        yield f"Leak, q50 {leak.q50:g} m³/(m² h) at {TEST_PRESSURE:g} Pa", in_words(leak)
    if not gaps:
        yield "Vent gap", "none in this study"


def _limits() -> Iterator[tuple[str, str, str]]:
    for limit in (wood.DECAY_SAFETY, wood.DECAY_ONSET):
        yield f"Moisture content: {limit.name}", f"{limit.value:g} % of the dry mass", limit.source
    yield "Depth of a face", f"{1e3 * wood.SKIN:g} mm, or a third of the layer", "a choice of this package"
    yield "Mould index", f"{mould.LIMIT:g} fails, {mould.NOTICEABLE:g} is noted; decline by class", mould.SOURCE
    yield "Decay", "activation and mass loss over the whole run", decay.SOURCE
    yield "Free water and ice", f"{condensation.RUN_OFF:g} kg/m²", condensation.SOURCE
    yield (
        "Trend",
        f"gains above {trend.SMALLEST_GAIN:g} kg/m² and {100 * trend.SMALLEST_SHARE:g} % of the year's swing count; "
        f"carried {trend.YEARS_AHEAD:g} years ahead",
        trend.SOURCE,
    )
    yield (
        "Outcome in words",
        f"a dry spell is {combined.DRY_SPELL // 24} days; where the material is not judged as wood, wet is "
        f"{100 * combined.NEARLY_SATURATED:g} % RH",
        "a choice of this package",
    )
    yield (
        "Fasteners",
        f"30-day mean above {100 * corrosion.HUMIDITY_LIMIT:g} % RH, asked for separately",
        corrosion.SOURCE,
    )


def _solver(results: Sequence[Result]) -> Iterator[tuple[str, str]]:
    settings = Settings()
    yield "Equations", "heat, vapour and liquid with ice, coupled; implicit, second order in time; see docs/theory.md"
    yield (
        "Error bound of a step",
        f"{settings.temperature_error:g} K, {settings.water_error:g} of the moisture coordinate",
    )
    yield "Newton's method", f"leaves at most {settings.newton:g} of both; {settings.largest_iterations} steps at most"
    yield (
        "Time step",
        f"an hour, split down to {settings.finest_step:g} s where the error asks for it, to "
        + (f"{settings.smallest_step:g} s where the equations do"),
    )
    cells = [one.run.sizes["cell"] for one in results]
    finest = 1e3 * min(float(one.run["cell_thickness"].min()) for one in results)
    span = f"{min(cells)} to {max(cells)}" if min(cells) != max(cells) else str(cells[0])
    yield "Cells", f"{span}, growing by {GROWTH:g} from the faces of a layer; the thinnest {finest:.2g} mm"
