"""Every choice that nobody stated, and its value: start, surfaces, gaps, leaks, limits, solver, and what is left out.

May import: studyfile and above, page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from hygro.core.formulas import MoistAir
from hygro.core.work import Settings
from hygro.criteria import combined, condensation, corrosion, decay, mould, trend, wood
from hygro.gapflow import ENTRY_LOSS, EXIT_LOSS, ORIFICE_LOSS, ByWindAndBuoyancy, FixedAirChange
from hygro.grid import FILM_LIMIT_PER_AREA, GROWTH
from hygro.leakage import TEST_PRESSURE
from hygro.report import page
from hygro.simulation import Start
from hygro.study import Result
from hygro.studyfile import Study
from hygro.surfaces import (
    GROUND_ALBEDO,
    GROUND_EMISSIVITY,
    INDOOR_CONVECTION,
    INDOOR_RESISTANCE,
    SURFACE_WIND_SHARE,
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
                f"{exposure.leeward:g} leeward; {exposure.speed_share:.2g} of the wind at 10 m; "
                f"{gap.flow.describe_wind()}",
            )
            yield (
                f"{page.sentence(gap.name)}, losses",
                f"entry {ENTRY_LOSS:g}, exit {EXIT_LOSS:g}, each opening {ORIFICE_LOSS:.3g} (discharge 0.6) and its "
                f"screen; {100 * gap.flow.blocked:g} % blocked",
            )
        elif isinstance(gap.flow, FixedAirChange):
            yield f"{page.sentence(gap.name)}, air", gap.flow.describe()
    for leak in dict.fromkeys(one.variant.leak for one in results if one.variant.leak is not None):
        coefficient = "by tilt and site" if leak.pressure_coefficient is None else f"{leak.pressure_coefficient:g}"
        yield (
            f"Leak, q50 {leak.q50:g} m³/(m² h)",
            f"at {TEST_PRESSURE:g} Pa; flow goes with pressure to the power {leak.exponent:g}; driven "
            f"by warmth over {leak.height:g} m from the neutral level, a fan's {leak.fan_pressure:g} Pa and wind "
            f"(coefficient {coefficient}; {leak.exposure.name} site: {leak.exposure.windward:g} windward, "
            f"{leak.exposure.side:g} side, {leak.exposure.leeward:g} leeward, {leak.exposure.roof:g} on a low roof; "
            f"{leak.exposure.speed_share:.2g} of the wind at 10 m); "
            + ("seeps through all layers" if leak.into is None else f"reaches {leak.into!r} by a short path"),
        )
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
    yield "Equations", "heat, vapour and liquid with ice, coupled; implicit, third order in time; see docs/theory.md"
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
