"""The kinds of tables that a study file knows, one for each object that a study is made of.

May import: study and all above it, forms.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any, Final

from hygro import indoor, materials
from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.climate import read_climate, read_csv
from hygro.errors import InputError, MaterialError
from hygro.gapflow import OPEN, SEMI_SHELTERED, SHELTERED, ByWindAndBuoyancy, Closed, Exposure, FixedAirChange
from hygro.indoor.sources import FAMILY_DINNER, LAUNDRY_LOAD, SHOWER
from hygro.leakage import AirLeak
from hygro.materials import Finish, Material, SheetMaterial
from hygro.materials.curve import Scaled, Table
from hygro.simulation import Start
from hygro.study import Variant
from hygro.studyfile.forms import (
    NUMBER,
    QUANTITY,
    TEXT,
    Form,
    Kind,
    Shelf,
    kind,
    list_of,
    one_of,
    read_table,
    shown,
    table_of,
    write_table,
)
from hygro.studyfile.lines import At

# --- what is looked up by name -------------------------------------------------------------------------------------

_LIBRARY: Final[Mapping[str, Callable[[str], Any]]] = {
    "material": materials.get,
    "sheet": materials.sheet,
    "finish": materials.finish,
}


def _named(sort: str, words: str) -> Form:
    def read(value: Any, at: At, shelf: Shelf) -> Any:
        name = TEXT.read(value, at, shelf)
        own = shelf[sort]
        if name in own:
            return own[name]
        near = get_close_matches(name, own, n=2)
        hint = f" Defined in this file: {', '.join(map(repr, near or own))}." if own else ""
        if sort not in _LIBRARY:
            raise at.error(
                f"there is no {sort} {name!r}.{hint}" + ("" if own else f" Define one as [{sort}.{name!r}].")
            )
        try:
            return _LIBRARY[sort](name)
        except MaterialError as error:
            said = str(error).replace(" List all with materials.names().", "")
            raise at.error(f"{said}{hint} docs/materials.md lists the library.") from error

    return Form(words, read, lambda thing, shelf: name_of(sort, thing, shelf))


def name_of(sort: str, thing: Any, shelf: Shelf) -> str:
    """Name by which a study file refers to a thing; one that the library lacks goes to the shelf.

    Parameters
    ----------
    sort : str
        One of "material", "sheet", "finish", "assembly".
    thing : object
        What is referred to.
    shelf : dict
        What the file defines itself.

    Returns
    -------
    str
        Name of the library, or key on the shelf.
    """
    if sort in _LIBRARY and thing.name not in shelf[sort]:
        try:
            if _LIBRARY[sort](thing.name) == thing:
                return str(thing.name)
        except MaterialError:
            pass
    key, number = thing.name, 2
    while key in shelf[sort] and shelf[sort][key] != thing:
        key, number = f"{thing.name} ({number})", number + 1
    shelf[sort][key] = thing
    return str(key)


# --- curves of a material ------------------------------------------------------------------------------------------

_ROWS: Final = "rows [[x, y], ...]"


def _rows(value: Any, at: At) -> list[list[Any]]:
    if not isinstance(value, list):
        raise at.error(f"is {shown(value)}; {_ROWS} are needed.")
    for number, row in enumerate(value):
        if not isinstance(row, list) or len(row) != 2 or not all(
            isinstance(cell, int | float | str) and not isinstance(cell, bool) for cell in row
        ):  # fmt: skip
            raise (at / number).error(f"is {shown(row)}; a row of two numbers, [x, y], is needed.")
    return value


def _table_rows(curve: Table) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in zip(curve.x, curve.y, strict=True)]


def _curve(words: str, models: Mapping[str, Kind], *, rows: bool = True, number: bool = False) -> Form:
    """Form of a curve: a number, rows, or one of several tables told apart by their keys."""
    listed = ", ".join([*(["a number"] if number else []), *([_ROWS] if rows else []), *(f"{{ {m} }}" for m in models)])

    def read(value: Any, at: At, shelf: Shelf) -> Any:
        if isinstance(value, list) and rows:
            return _rows(value, at)
        if isinstance(value, int | float | str) and not isinstance(value, bool) and number:
            return value
        if isinstance(value, dict):
            for model in models.values():
                if set(value) & {key.name for key in model.keys.values() if key.required}:
                    return read_table(model, value, at, shelf)
        raise at.error(f"is {shown(value)}; {words} is one of: {listed}.")

    def write(thing: Any, shelf: Shelf) -> Any:
        if isinstance(thing, Table) and rows:
            return _table_rows(thing)
        if isinstance(thing, int | float) and number:
            return thing
        for model in models.values():
            if type(thing) is model.make:
                return write_table(model, thing, shelf)
        if isinstance(thing, Scaled) and isinstance(thing.curve, Table) and models is SORPTION:
            return {"by_mass": _table_rows(thing.curve), "density": thing.factor}
        msg = f"{words} is {thing!r:.80}, which a study file cannot state. State it as rows."
        raise InputError(msg)

    return Form(f"one of: {listed}", read, write)


_CURVE: Final = _curve("a curve", {})

RESISTANCE: Final = {
    "dry, wet": kind("", materials.cup_values),
    "mu_0, k": kind("", materials.CupValues, {"mu_0": NUMBER, "k": NUMBER}),
}
SORPTION: Final = {
    "by_mass, density": kind(
        "",
        materials.sorption_by_mass,
        {"curve": _CURVE},
        renamed={"curve": "by_mass"},
        meanings={
            "curve": 'Rows [relative humidity, water per dry mass] up to 1; `"12 %"` is of the dry mass. [kg kg-1]',
            "density": "Dry density, as that of the material. [kg m-3]",
        },
    ),
    "wood_density": kind("", materials.WoodSorption, {"density": NUMBER}, renamed={"density": "wood_density"}),
    "porosity": kind("", materials.PoreAir, required=("porosity",)),
}
LIQUID: Final = {
    "conductivity": kind(
        "",
        materials.LiquidConductivity,
        {"curve": _CURVE},
        renamed={"curve": "conductivity"},
        meanings={"curve": "Rows [suction in Pa, liquid conductivity in s]; the nearest row holds outside them."},
    ),
    "diffusivity": kind(
        "",
        materials.LiquidDiffusivity,
        {"curve": _curve("a liquid diffusivity", {}, number=True)},
        renamed={"curve": "diffusivity"},
        meanings={
            "curve": "A constant [m2 s-1], or rows [water content in kg/m3, diffusivity in m2/s]; the nearest row "
            "holds outside them."
        },
    ),
    "absorption": kind("", materials.AbsorptionCoefficient, renamed={"value": "absorption"}),
}

_OWN_NAME: Final = "Name in tables and figures; that in the heading of the table by default."

MATERIAL: Final = kind(
    "",
    Material,
    {
        "vapour_resistance": _curve("a vapour resistance factor", RESISTANCE, number=True),
        "sorption": _curve("a sorption curve", SORPTION),
        "retention": _CURVE,
        "liquid": _curve("liquid transport", LIQUID, rows=False),
    },
    # What stores nothing has a saturation of 0, which nobody can state.
    implied={"saturation": lambda material: None if material.is_hygroscopic else 0.0},
    meanings={
        "name": _OWN_NAME,
        "vapour_resistance": "Vapour resistance factor mu: how many times tighter than still air, 1 or more; `inf` is "
        "vapour-tight. Rows are [relative humidity, mu]; `dry` and `wet` are the values of the two cup tests. [1]",
        "sorption": "Water content over relative humidity at 20 degC, rows [relative humidity, kg/m3] up to 1 (or to "
        "where `free_saturation` closes them). Instead of `retention`; a vapour-tight material needs neither.",
        "retention": "Water content over suction at 20 degC, rows [suction in Pa, kg/m3].",
        "saturation": "Water content with every open pore full; needed with `sorption`. [kg m-3]",
        "liquid": "How liquid water moves; leave it out where it does not. `absorption` is the water absorption "
        "coefficient [kg m-2 s-0.5]; rows are [suction in Pa, s] or [water content in kg/m3, m2/s].",
    },
)
SHEET_MATERIAL: Final = kind(
    "",
    SheetMaterial,
    {"s_d": _curve("s_d", {}, number=True), "permeance": _curve("a permeance", {}, number=True)},
    meanings={
        "name": _OWN_NAME,
        "s_d": "Vapour-diffusion-equivalent air layer thickness: a number, `inf` for vapour-tight, or rows [mean "
        "relative humidity of both sides, s_d]. State this or `permeance`. [m]",
        "permeance": 'The same as a permeance, such as "5 perm". [kg m-2 s-1 Pa-1]',
    },
)
FINISH: Final = kind("", Finish, meanings={"name": _OWN_NAME})

# --- the build-up ----------------------------------------------------------------------------------------------------

_EXPOSURES: Final = {one.name: one for one in (OPEN, SEMI_SHELTERED, SHELTERED)}
_OWN_EXPOSURE: Final = kind(
    "",
    Exposure,
    dict.fromkeys(("windward", "side", "leeward", "speed_share"), NUMBER),
    meanings={
        "name": "What to call it.",
        "windward": "Wind pressure coefficient of a wall that faces the wind. [1]",
        "side": "The same of a wall along the wind. [1]",
        "leeward": "The same of a wall behind. [1]",
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
            "with the keys windward, side, leeward (wind pressure coefficients) and speed_share."
        },
    ),
    kind("fixed air change", FixedAirChange),
    kind("closed", Closed),
)
LAYER: Final = kind(
    "",
    Layer,
    {"material": _named("material", "name of a material")},
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
    {"material": _named("sheet", "name of a sheet")},
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
    {"parts": list_of(PART), "finish": _named("finish", "name of a finish")},
    meanings={
        "name": _OWN_NAME,
        "parts": "Layers, sheets and at most one vent gap, from outside to inside.",
        "finish": "Colour and emissivity of the outer face: a finish defined in this file, or one of the library.",
    },
)

# --- the air indoors -------------------------------------------------------------------------------------------------

FROST: Final = (kind("preheat", indoor.Preheat), kind("recirculate", indoor.Recirculate))
VENTILATOR: Final = kind(
    "",
    indoor.Ventilator,
    {"frost_protection": one_of("frost protection", FROST)},
    meanings={
        "frost_protection": "What it does when the exhaust would freeze; without, it runs on as if it never iced."
    },
)
EXTRACT: Final = kind("", indoor.ExtractFan)
BUFFER: Final = kind("", indoor.Buffer)
DEHUMIDIFIER: Final = kind("", indoor.Dehumidifier)
SOURCES: Final = (
    kind("people", indoor.People),
    kind(
        "moisture event",
        indoor.MoistureEvent,
        meanings={
            "amount": f"Vapour given off each time, spread over the hours. A shower gives {SHOWER:g}, a family's "
            f"dinner {FAMILY_DINNER:g}, a load of laundry dried indoors {LAUNDRY_LOAD:g} (Angell and Olson 1988). [kg]"
        },
    ),
    kind("flame", indoor.Flame, meanings={"fuel": "propane, butane, methane, ethanol or kerosene."}),
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
            "sources": list_of(one_of("source", SOURCES)),
            "ventilator": table_of(VENTILATOR),
            "extract": table_of(EXTRACT),
            "buffers": list_of(table_of(BUFFER)),
            "dehumidifier": table_of(DEHUMIDIFIER),
        },
        meanings={
            "sources": "What gives off vapour and carbon dioxide; see below.",
            "ventilator": "Balanced ventilator; that there is none has to be said.",
        },
    ),
    kind("hourly values", indoor.IndoorArrays),
)

# --- a variant, and the weather --------------------------------------------------------------------------------------

LEAK: Final = kind("", AirLeak)
START: Final = kind("", Start)
INDOOR_FORM: Final = one_of("indoor air", INDOOR)
SHARED: Final = {"indoor": INDOOR_FORM, "leak": table_of(LEAK), "initial": table_of(START)}
VARIANT: Final = kind(
    "",
    Variant,
    {"assembly": _named("assembly", "name of an assembly of this file"), **SHARED},
    nullable_too=("leak",),  # with leaks at the top of the file, a variant may have none
    meanings={
        "assembly": "Name of a build-up defined in this file.",
        "indoor": "Air indoors; what stands at the top of the file unless stated.",
        "leak": "Air that leaks; what stands at the top of the file unless stated, none if that is nowhere.",
        "initial": "State at the first hour; what stands at the top of the file unless stated.",
    },
)
_MAPPING: Final = Form("a table of texts", lambda value, at, _: _texts(value, at), lambda value, _: dict(value))


def _texts(value: Any, at: At) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise at.error(f'is {shown(value)}; a table is needed, such as {{ time = "Date" }}.')
    for key, one in value.items():
        QUANTITY.read(one, at / key, {})
    return dict(value)


def _weather_keys(reader: Callable[..., Any]) -> Kind:
    forms = {
        "path": TEXT,
        "columns": _MAPPING,
        "units": _MAPPING,
        "constants": _MAPPING,
        "stamp": TEXT,
        "humidity_over": TEXT,
    }
    meanings = {
        "units": 'Unit of a column where it is not ours: `{ relative_humidity = "%", air_temperature = "degF" }`.',
        "constants": "One value in our unit for all hours of a variable that the file lacks: `{ wind_speed = 2.0 }`.",
        "stamp": "Whether a row's stamp marks the `end` or the `start` of its hour.",
        "delimiter": "What separates the cells.",
        "decimal": "What separates the decimals.",
        "title": "Name of the record; the file's by default.",
        "source": "Where it comes from.",
    }
    return kind("", reader, forms, renamed={"path": "file"}, meanings=meanings)


WEATHER: Final = _weather_keys(read_climate)
WEATHER_COLUMNS: Final = _weather_keys(read_csv)
