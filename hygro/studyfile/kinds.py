"""The kinds of tables that a study file knows, one for each object that a study is made of.

May import: study and all above it, ensemble, forms, substances, trials, uncertain, weatherkinds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from hygro import indoor
from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.ensemble import Choice, LogNormal, Normal, Scatter, Triangular, Uniform
from hygro.gapflow import OPEN, SEMI_SHELTERED, SHELTERED, ByWindAndBuoyancy, Closed, Exposure, FixedAirChange
from hygro.indoor.sources import FAMILY_DINNER, LAUNDRY_LOAD, SHOWER
from hygro.leakage import AirLeak
from hygro.rain import AirfieldRain, DrivingRain
from hygro.simulation import Start
from hygro.snow import FallingSnow, LyingSnow
from hygro.study import Variant
from hygro.studyfile.forms import Kind, kind, list_of, one_of, read_table, table_of, write_table
from hygro.studyfile.judging import CRITERIA
from hygro.studyfile.lines import At
from hygro.studyfile.substances import OWN_NAME, name_of, named
from hygro.studyfile.trials import Search, Sweep
from hygro.studyfile.uncertain import CLIMATE, Uncertain
from hygro.studyfile.values import NUMBER, NUMBERS, TEXT, TEXTS, VALUES, Form, Shelf, measured, number_or, shown
from hygro.studyfile.weatherkinds import climate_form, weather_spreads

# --- the build-up ----------------------------------------------------------------------------------------------------

_EXPOSURES: Final = {one.name: one for one in (OPEN, SEMI_SHELTERED, SHELTERED)}
_OWN_EXPOSURE: Final = kind(
    "",
    Exposure,
    {one.name: NUMBER for one in fields(Exposure) if one.name != "name"},
    meanings={
        "name": "What to call it.",
        "windward": "Wind pressure coefficient of a wall that faces the wind. [1]",
        "side": "The same of a wall along the wind. [1]",
        "leeward": "The same of a wall behind. [1]",
        "roof": "The same of a roof of low pitch. [1]",
        "speed_share": "Wind at the openings as a share of that at 10 m. [1]",
    },
)


def _read_exposure(value: Any, at: At, shelf: Shelf) -> Exposure:
    if isinstance(value, dict):
        stated: Exposure = read_table(_OWN_EXPOSURE, value, at, shelf)
        return stated
    if value not in _EXPOSURES if isinstance(value, str) else True:
        raise at.error(f"is {shown(value)}; one of {', '.join(map(repr, _EXPOSURES))} is needed.")
    return _EXPOSURES[value]


def _write_exposure(thing: Exposure, shelf: Shelf) -> Any:
    return thing.name if _EXPOSURES.get(thing.name) == thing else write_table(_OWN_EXPOSURE, thing, shelf)


EXPOSURE: Final = Form(f"one of {', '.join(map(repr, _EXPOSURES))}", _read_exposure, _write_exposure)
FLOWS: Final = (
    kind(
        "wind and buoyancy",
        ByWindAndBuoyancy,
        {"exposure": EXPOSURE},
        meanings={
            "exposure": "How open the building stands to the wind: 'open', 'semi-sheltered' or 'sheltered'; or a table "
            "with the keys windward, side, leeward, roof (wind pressure coefficients) and speed_share."
        },
    ),
    kind("fixed air change", FixedAirChange),
    kind("closed", Closed),
)
LAYER: Final = kind(
    "",
    Layer,
    {"material": named("material", "name of a material")},
    renamed={"material": "layer"},
    implied={"name": lambda layer: layer.material.name},
    meanings={
        "material": "Name of a material: one defined in this file, or one of the library (docs/materials.md).",
        "name": "What to call it, for instance to watch it; the material's name otherwise.",
    },
)
SHEET: Final = kind(
    "",
    Sheet,
    {"material": named("sheet", "name of a sheet")},
    renamed={"material": "sheet"},
    implied={"name": lambda sheet: sheet.material.name},
    meanings={
        "material": "Name of a sheet: one defined in this file, or one of the library (docs/materials.md); any name "
        "together with `s_d` or `permeance`.",
        "name": "What to call it; the sheet's name otherwise.",
    },
)
GAP: Final = kind(
    "",
    VentGap,
    {"flow": one_of("flow", FLOWS)},
    renamed={"thickness": "gap"},
    implied={"flow": lambda _: None},
    meanings={"flow": "What drives the air: " + ", ".join(f"'{one.word}'" for one in FLOWS) + "; see below."},
)
PARTS: Final = {"layer": LAYER, "sheet": SHEET, "gap": GAP}


def _read_part(value: Any, at: At, shelf: Shelf) -> Any:
    first = [word for word in PARTS if isinstance(value, dict) and word in value]
    if len(first) != 1:
        raise at.error(
            f"is {shown(value) if not first else ' and '.join(first) + ' at once'}; a part is a table with one of the "
            'keys layer, sheet or gap, such as { layer = "OSB", thickness = "18 mm" }.'
        )
    stated_here = first[0] == "sheet" and ("s_d" in value or "permeance" in value)
    return read_table(PARTS[first[0]], value, at, shelf, {"sheet": TEXT} if stated_here else None)


def _write_part(part: Any, shelf: Shelf) -> Any:
    if isinstance(part, Layer):
        return write_table(LAYER, part, shelf)
    if isinstance(part, VentGap):
        return write_table(GAP, part, shelf)
    material = part.material
    name = name_of("sheet", material, shelf)
    if material.is_variable or shelf["sheet"].get(name) != material:
        return write_table(SHEET, part, shelf)
    # A plain sheet of the user's own is stated where it lies.
    del shelf["sheet"][name]
    named = {} if part.name == material.name else {"name": part.name}
    return {"sheet": material.name, "s_d": material.s_d, **named}


PART: Final = Form("a part, { layer = ... }, { sheet = ... } or { gap = ... }", _read_part, _write_part)
ASSEMBLY: Final = kind(
    "",
    Assembly,
    {"parts": list_of(PART), "finish": named("finish", "name of a finish")},
    meanings={
        "name": OWN_NAME,
        "parts": "Layers, sheets and at most one vent gap, from outside to inside.",
        "finish": "Colour and emissivity of the outer face: a finish defined in this file, or one of the library.",
    },
)

# --- the air indoors -------------------------------------------------------------------------------------------------

VOLUME: Final = measured("volume", "35 m3", "m3", 1.0)
AREA: Final = measured("area", "20 m2", "m2", 1.0)
MASS: Final = measured("mass", "0.24 kg", "kg", 1.0)
POWER: Final = measured("power", "1.5 kW", "W", 1.0)
HEIGHT: Final = measured("length", "2.3 m", "m", 1.0)
AIR_FLOW: Final = measured("volume flow", "10 l/s", "l/s", 1e3)
FROST: Final = (kind("preheat", indoor.Preheat), kind("recirculate", indoor.Recirculate))
VENTILATOR: Final = kind(
    "",
    indoor.Ventilator,
    {"frost_protection": one_of("frost protection", FROST), "flow": AIR_FLOW},
    meanings={
        "frost_protection": "What it does when the exhaust would freeze; without, it runs on as if it never iced."
    },
)
EXTRACT: Final = kind("", indoor.ExtractFan, {"flow": AIR_FLOW})
BUFFER: Final = kind("", indoor.Buffer, {"area": AREA})
DEHUMIDIFIER: Final = kind("", indoor.Dehumidifier)
SOURCES: Final = (
    kind("people", indoor.People),
    kind(
        "moisture event",
        indoor.MoistureEvent,
        {"amount": MASS},
        meanings={
            "amount": f"Vapour given off each time, spread over the hours. A shower gives {SHOWER:g}, a family's "
            f"dinner {FAMILY_DINNER:g}, a load of laundry dried indoors {LAUNDRY_LOAD:g} (Angell and Olson 1988). [kg]"
        },
    ),
    kind("flame", indoor.Flame, {"power": POWER}, meanings={"fuel": "propane, butane, methane, ethanol or kerosene."}),
)
INFILTRATION: Final = kind(
    "",
    indoor.Infiltration,
    {"exposure": EXPOSURE, "height": HEIGHT},
    meanings={"exposure": "How open the site is to the wind: 'open', 'semi-sheltered' or 'sheltered'."},
)
INDOOR: Final = (
    kind("constant", indoor.ConstantIndoor),
    kind("standard curves", indoor.StandardCurves),
    kind(
        "humidity class",
        indoor.HumidityClass,
        meanings={
            "averaging_days": "Outdoor temperature and vapour pressure are averaged over the last so many days; over "
            "each calendar month, as the standard does, unless stated. [day]"
        },
    ),
    kind("simplified design", indoor.SimplifiedDesign),
    kind(
        "intermediate design",
        indoor.IntermediateDesign,
        {"volume": VOLUME},
        meanings={
            "moisture_production": "Vapour given off indoors; "
            + ", ".join(f"{indoor.design_moisture_production(n):g} with {n} bedroom(s)" for n in (1, 2, 3, 4))
            + " (ASHRAE 160, from memory). [kg day-1]"
        },
    ),
    kind(
        "household",
        indoor.Household,
        {
            "volume": VOLUME,
            "infiltration": number_or(table_of(INFILTRATION)),
            "sources": list_of(one_of("source", SOURCES)),
            "ventilator": table_of(VENTILATOR),
            "extract": table_of(EXTRACT),
            "buffers": list_of(table_of(BUFFER)),
            "dehumidifier": table_of(DEHUMIDIFIER),
        },
        meanings={
            "sources": "What gives off vapour and carbon dioxide; see below.",
            "infiltration": "Air change by leakage alone [h-1], or a table with the airtightness test, see below.",
            "ventilator": "Balanced ventilator; that there is none has to be said.",
        },
    ),
    kind("hourly values", indoor.IndoorArrays),
)

# --- a variant -----------------------------------------------------------------------------------------------------

LEAK: Final = kind(
    "",
    AirLeak,
    {"exposure": EXPOSURE},
    meanings={
        "pressure_coefficient": "Wind pressure coefficient outside the assembly less that indoors; 0 leaves the wind "
        "out. By the tilt and the exposure of the site unless stated. [1]",
        "exposure": "How open the site is to the wind: 'open', 'semi-sheltered' or 'sheltered'.",
    },
)
RAIN: Final = (kind("driving rain", DrivingRain), kind("airfield", AirfieldRain))
SNOW: Final = (
    kind("lying", LyingSnow, stored={"depth": "thickness"}),
    kind(
        "falling",
        FallingSnow,
        {"snowfall": NUMBERS},
        meanings={
            "snowfall": "Water of the snow that falls in each hour of the run; precipitation of the climate at or "
            "below 0 °C unless stated. Many climate records count rain alone and hold none. [kg m-2]"
        },
    ),
)
START: Final = kind("", Start)
INDOOR_FORM: Final = one_of("indoor air", INDOOR)
SHARED: Final = {
    "indoor": INDOOR_FORM,
    "leak": table_of(LEAK),
    "initial": table_of(START),
    "rain": one_of("rain", RAIN),
    "snow": one_of("snow", SNOW),
}
VARIANT: Final = kind(
    "",
    Variant,
    {"assembly": named("assembly", "name of an assembly of this file"), **SHARED},
    nullable_too=("leak",),  # with leaks at the top of the file, a variant may have none
    meanings={
        "assembly": "Name of a build-up defined in this file.",
        "indoor": "Air indoors; what stands at the top of the file unless stated.",
        "leak": "Air that leaks; what stands at the top of the file unless stated, none if that is nowhere.",
        "rain": "Rain on the outer face; what stands at the top of the file unless stated, the usual one if that is "
        "nowhere.",
        "snow": "Snow on a roof; what stands at the top of the file unless stated, none if that is nowhere.",
        "initial": "State at the first hour; what stands at the top of the file unless stated.",
    },
)

# --- what is not known for sure --------------------------------------------------------------------------------------

SPREADS: Final = (
    kind("uniform", Uniform),
    kind("triangular", Triangular),
    kind("normal", Normal),
    kind("lognormal", LogNormal),
    kind("scatter", Scatter),
    kind(
        "choice",
        Choice,
        {"values": VALUES},
        meanings={
            "values": "At least two that differ: numbers in the unit of the input, or names of materials, sheets or "
            "finishes of the library."
        },
    ),
)


def uncertain_kind(folder: Path | None) -> Kind:
    """Kind of an uncertain input; weather files are looked for from a folder on."""
    weather = weather_spreads(folder)
    return kind(
        "",
        Uncertain,
        {"spread": one_of("spread", (*SPREADS, *weather)), "variants": TEXTS},
        meanings={
            "spread": "How it is spread: "
            + ", ".join(f"'{one.word}'" for one in SPREADS)
            + "; of the climate "
            + " or ".join(f"'{one.word}'" for one in weather)
            + "; see below."
        },
    )


# --- what is tried out besides ---------------------------------------------------------------------------------------

_ENDS: Final = {"smallest": True, "largest": False}


def _read_end(value: Any, at: At, _: Shelf) -> bool:
    if value not in _ENDS if isinstance(value, str) else True:
        raise at.error(f"is {shown(value)}; one of {', '.join(map(repr, _ENDS))} is needed.")
    return _ENDS[value]


def _read_criterion(value: Any, at: At, _: Shelf) -> str:
    if value not in CRITERIA if isinstance(value, str) else True:
        raise at.error(f"is {shown(value)}; one of {_CRITERIA} is needed.")
    return str(value)


_CRITERIA: Final = ", ".join(map(repr, CRITERIA))
_END: Final = Form("'smallest' or 'largest'", _read_end, lambda smallest, _: "smallest" if smallest else "largest")
SEARCH: Final = kind(
    "",
    Search,
    {
        "smallest": _END,
        "between": VALUES,
        "criterion": Form(f"one of {_CRITERIA}", _read_criterion, lambda name, _: name),
        "variants": TEXTS,
        "layers": TEXTS,
    },
    renamed={"smallest": "find"},
    meanings={
        "smallest": "Which value is sought: the smallest, as of a gap or an opening, or the largest, as of a "
        "permeance or a leak.",
        "between": 'Lowest and highest value to try, such as `["10 mm", "100 mm"]`.',
        "criterion": "What has to hold. 'verdict': the verdict of the report does not fail. The others are held to "
        "their published limit alone: 'moisture content' (highest mean of the layer, for wood), 'moisture content at a "
        "face', 'mould index', 'free water' (that would run off), 'yearly gain' (water that stays from year to year).",
    },
)


def sweep_kind(folder: Path | None) -> Kind:
    """Kind of a sweep; weather files are looked for from a folder on."""
    weather = list_of(climate_form(folder))

    def read(value: Any, at: At, shelf: Shelf) -> tuple[tuple[str, tuple[Any, ...]], ...]:
        if not isinstance(value, dict):
            raise at.error(f'is {shown(value)}; a table is needed, such as {{ "gap.thickness" = ["25 mm", "50 mm"] }}.')
        return tuple(_swept(value, at, shelf, "", weather))

    def write(pairs: Any, shelf: Shelf) -> dict[str, Any]:
        return {name: (weather if name == CLIMATE else VALUES).write(values, shelf) for name, values in pairs}

    return kind(
        "",
        Sweep,
        {"over": Form("a table of lists", read, write), "variants": TEXTS, "layers": TEXTS},
        meanings={
            "over": "Values of each input, every one combined with every one of the others: "
            '`{ "gap.thickness" = ["25 mm", "50 mm"], "leak.q50" = [0.3, 3] }`. Numbers are in the unit of the input, '
            "names are of the library. `climate` takes records of weather, each with the key sample or file."
        },
    )


def _swept(
    table: dict[str, Any], at: At, shelf: Shelf, before: str, weather: Form
) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """Inputs and their values; a name that is written without quotes has made a table of each of its parts."""
    for key, value in table.items():
        name = f"{before}{key}"
        if isinstance(value, dict):
            yield from _swept(value, at / key, shelf, f"{name}.", weather)
        else:
            yield name, (weather if name == CLIMATE else VALUES).read(value, at / key, shelf)
