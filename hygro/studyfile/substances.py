"""The kinds of tables that define what is referred to by name: materials, sheets, finishes; and the names themselves.

May import: materials and all above it, forms.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any, Final

from hygro import materials
from hygro.errors import InputError, MaterialError
from hygro.materials import Finish, Material, SheetMaterial
from hygro.materials.curve import Scaled, Table
from hygro.studyfile.forms import Kind, kind, read_table, write_table
from hygro.studyfile.lines import At
from hygro.studyfile.values import NUMBER, TEXT, Form, Shelf, shown

# --- what is looked up by name -------------------------------------------------------------------------------------

_LIBRARY: Final[Mapping[str, Callable[[str], Any]]] = {
    "material": materials.get,
    "sheet": materials.sheet,
    "finish": materials.finish,
}


def named(sort: str, words: str) -> Form:
    """Form of a name: of something that the file defines itself, or of the library."""

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

OWN_NAME: Final = "Name in tables and figures; that in the heading of the table by default."

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
        "name": OWN_NAME,
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
        "name": OWN_NAME,
        "s_d": "Vapour-diffusion-equivalent air layer thickness: a number, `inf` for vapour-tight, or rows [mean "
        "relative humidity of both sides, s_d]. State this or `permeance`. [m]",
        "permeance": 'The same as a permeance, such as "5 perm". [kg m-2 s-1 Pa-1]',
    },
)
FINISH: Final = kind("", Finish, meanings={"name": OWN_NAME})
