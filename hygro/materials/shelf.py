"""The library on disk: TOML families read once, entries turned into frozen objects that keep their sources.

Each quantity of an entry is a table ``{ value | rows | dry, wet | model, unit, source, grade }``; ``note`` and
``is_wood`` are plain. May import: the
classes of this folder, errors, units.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from hygro.errors import MaterialError
from hygro.materials.finish import Finish
from hygro.materials.liquid import AbsorptionCoefficient, LiquidConductivity
from hygro.materials.material import Material
from hygro.materials.provenance import GRADES, Quoted, Source
from hygro.materials.sheet import SheetMaterial
from hygro.materials.storage import PoreAir, sorption_by_mass
from hygro.materials.vapour import cup_values
from hygro.materials.wood import WoodSorption
from hygro.units import PERM

SLAB_FAMILIES: Final = ("wood", "boards", "insulation", "metals", "masonry_minerals")
SHEET_FAMILIES: Final = ("sheets", "coatings")
FINISH_FAMILY: Final = "finishes"
FAMILIES: Final = (*SLAB_FAMILIES, *SHEET_FAMILIES, FINISH_FAMILY)

# Mean relative humidity of the two sides in a dry cup (0 % to 50 %) and a wet cup (50 % to 100 %) of a handbook table.
_DRY_CUP_MEAN: Final = 0.25
_WET_CUP_MEAN: Final = 0.75
_REMARKS: Final = ("note", "is_wood")  # what an entry says beside its quantities
_ROLES: Final = MappingProxyType({"material": SLAB_FAMILIES, "sheet": SHEET_FAMILIES, "finish": (FINISH_FAMILY,)})


@dataclass(frozen=True, slots=True)
class _Entry:
    name: str
    family: str
    note: str
    is_wood: bool
    quantities: Mapping[str, Mapping[str, Any]]


@cache
def _read(stem: str) -> Mapping[str, Any]:
    text = files("hygro.materials").joinpath("library", f"{stem}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


@cache
def _entries() -> Mapping[str, _Entry]:
    """Every entry of the library by its name in small letters."""
    shelf: dict[str, _Entry] = {}
    for family in FAMILIES:
        for name, table in _read(family).items():
            quantities = MappingProxyType({key: value for key, value in table.items() if key not in _REMARKS})
            note, is_wood = table.get("note", ""), table.get("is_wood", False)
            shelf[_key(name)] = _Entry(name, family, note, is_wood, quantities)
    return MappingProxyType(shelf)


def _key(name: str) -> str:
    return " ".join(name.lower().split())


@cache
def sources() -> Mapping[str, Source]:
    """Every source of the library by its key."""
    return MappingProxyType({key: Source(key, **table) for key, table in _read("sources").items()})


def names(family: str | None = None) -> list[str]:
    """Names in the library.

    Parameters
    ----------
    family : str, optional
        One of `FAMILIES`; all of them unless stated.

    Returns
    -------
    list of str
        In the order of the library.

    Raises
    ------
    MaterialError
        Where there is no such family.

    Examples
    --------
    >>> names("metals")[:2]
    ['steel sheet', 'stainless steel sheet']
    """
    if family is not None and family not in FAMILIES:
        msg = f"No family {family!r}. Families: {', '.join(FAMILIES)}."
        raise MaterialError(msg)
    return [entry.name for entry in _entries().values() if family in (None, entry.family)]


def get(name: str) -> Material:
    """Material of the library.

    Parameters
    ----------
    name : str
        As in `names`; capitals do not matter, spelling does.

    Returns
    -------
    Material
        With the source of each value in its `provenance`.

    Raises
    ------
    MaterialError
        Where the name is unknown, or is that of a sheet or a finish.

    Examples
    --------
    >>> get("OSB").density
    650.0
    """
    return _material(_find(name, "material").name)


def sheet(name: str) -> SheetMaterial:
    """Sheet or coat of the library.

    Parameters
    ----------
    name : str
        As in `names`; capitals do not matter, spelling does.

    Returns
    -------
    SheetMaterial
        With the source of each value in its `provenance`.

    Raises
    ------
    MaterialError
        Where the name is unknown, or is that of a material or a finish.

    Examples
    --------
    >>> sheet("polyethylene 0.15 mm").s_d
    50.0
    """
    return _sheet(_find(name, "sheet").name)


def finish(name: str) -> Finish:
    """Outer finish of the library.

    Parameters
    ----------
    name : str
        As in `names`; capitals do not matter, spelling does.

    Returns
    -------
    Finish
        With the source of each value in its `provenance`.

    Raises
    ------
    MaterialError
        Where the name is unknown, or is that of a material or a sheet.

    Examples
    --------
    >>> finish("white coated metal").absorptance
    0.33
    """
    return _finish(_find(name, "finish").name)


def describe(name: str) -> str:
    """Text of a library entry: each value with its unit, its grade and its source.

    Parameters
    ----------
    name : str
        As in `names`.

    Returns
    -------
    str
        Several lines.

    Raises
    ------
    MaterialError
        Where the name is unknown.
    """
    entry = _find(name, None)
    quoted = _quoted(entry)
    lines = [f"{entry.name} ({entry.family.replace('_', ', ')})"]
    if entry.note:
        lines.append(f"  {entry.note}")
    if entry.is_wood:
        lines.append("  Judged by the limits for wood.")
    for line in quoted:
        unit = "" if line.unit == "1" else f" {line.unit}"
        lines.append(f"  {line.quantity.replace('_', ' ')}: {line.value}{unit} [{line.grade}; {line.source}]")
    lines.append("Sources:")
    lines.extend(f"  {key}: {sources()[key]}" for key in dict.fromkeys(line.source for line in quoted))
    lines.append("Grades:")
    lines.extend(f"  {grade}: {GRADES[grade]}" for grade in GRADES if any(line.grade == grade for line in quoted))
    return "\n".join(lines)


def _find(name: str, role: str | None) -> _Entry:
    if not isinstance(name, str):
        msg = f"A name of the library is text, not {name!r}. List all with materials.names()."
        raise MaterialError(msg)
    entry = _entries().get(_key(name))
    if entry is None:
        wanted: Iterable[_Entry] = _entries().values()
        known = {_key(e.name): e.name for e in wanted if role is None or e.family in _ROLES[role]}
        near = [known[key] for key in difflib.get_close_matches(_key(name), known, n=4, cutoff=0.5)]
        near += [known[key] for key in known if _key(name) and _key(name) in key and known[key] not in near][:4]
        nearest = f" Nearest: {', '.join(repr(n) for n in near)}." if near else ""
        msg = f"No {role or 'entry'} {name!r}.{nearest} List all with materials.names()."
        raise MaterialError(msg)
    if role is not None and entry.family not in _ROLES[role]:
        actual = next(r for r, families in _ROLES.items() if entry.family in families)
        call = "get" if actual == "material" else actual
        msg = f"{entry.name!r} is a {actual}, not a {role}. Look it up with materials.{call}({entry.name!r})."
        raise MaterialError(msg)
    return entry


@cache
def _material(name: str) -> Material:
    entry = _entries()[_key(name)]
    stated = entry.quantities
    density = float(stated["density"]["value"])
    arguments = {key: _argument(key, table, density) for key, table in stated.items()}
    return Material(entry.name, is_wood=entry.is_wood, provenance=_quoted(entry), **arguments)


@cache
def _sheet(name: str) -> SheetMaterial:
    entry = _entries()[_key(name)]
    ((quantity, table),) = entry.quantities.items()
    factor = {"m": 1.0, "perm": PERM}[table["unit"]]
    stated: Any
    if "rows" in table:
        stated = [(rh, factor * value) for rh, value in table["rows"]]
    elif "dry" in table:
        stated = [(_DRY_CUP_MEAN, factor * table["dry"]), (_WET_CUP_MEAN, factor * table["wet"])]
    else:
        stated = factor * table["value"]
    return SheetMaterial(entry.name, provenance=_quoted(entry), **{quantity: stated})


@cache
def _finish(name: str) -> Finish:
    entry = _entries()[_key(name)]
    values = {key: float(table["value"]) for key, table in entry.quantities.items()}
    return Finish(entry.name, provenance=_quoted(entry), **values)


def _argument(quantity: str, table: Mapping[str, Any], density: float) -> Any:
    """Read a quantity of the library into what `Material` takes for it."""
    match quantity:
        case "vapour_resistance":
            return _resistance(table)
        case "sorption":
            return _sorption(table, density)
        case "liquid":
            return _liquid(table)
        case "retention":
            return table["rows"]
        case _:
            return table["value"]


def _resistance(table: Mapping[str, Any]) -> Any:
    return cup_values(table["dry"], table["wet"]) if "dry" in table else float(table["value"])


def _sorption(table: Mapping[str, Any], density: float) -> Any:
    if table.get("model") == "wood":
        return WoodSorption(density)
    if table.get("model") == "pore air":
        return PoreAir(table["porosity"])
    if table["unit"] == "kg/m3":
        return table["rows"]
    if table["rows"][-1][0] < 1.0:  # left open for free saturation to close
        return [(rh, density * u) for rh, u in table["rows"]]
    return sorption_by_mass(table["rows"], density)


def _liquid(table: Mapping[str, Any]) -> LiquidConductivity | AbsorptionCoefficient:
    return LiquidConductivity(table["rows"]) if "rows" in table else AbsorptionCoefficient(table["value"])


def _quoted(entry: _Entry) -> tuple[Quoted, ...]:
    return tuple(
        Quoted(quantity, _words(table), table["unit"], table["source"], table["grade"])
        for quantity, table in entry.quantities.items()
    )


def _words(table: Mapping[str, Any]) -> str:
    if "rows" in table:
        rows = table["rows"]
        shown = rows if len(rows) <= 8 else [*rows[:2], *rows[-2:]]
        gap = "" if len(rows) <= 8 else f" ({len(rows)} rows, ends shown)"
        return ", ".join(f"{x:g}: {y:g}" for x, y in shown) + gap
    if "dry" in table:
        return f"{table['dry']:g} dry cup, {table['wet']:g} wet cup"
    if "model" in table:
        return "equilibrium moisture content of wood at 20 degC" if table["model"] == "wood" else "air in the pores"
    value = table["value"]
    if isinstance(value, str):
        return value
    return "vapour-tight" if math.isinf(value) else f"{value:g}"
