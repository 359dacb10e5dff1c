"""Frozen things made anew with one value changed. May import: assembly, materials, units, errors."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any, Final

from hygro.assembly import Assembly
from hygro.errors import InputError
from hygro.materials import Material, SheetMaterial
from hygro.materials.curve import Scaled, Table
from hygro.units import to_si

DENSITY: Final = "density"
_TIGHTNESS, _WATER = "times_vapour_resistance", "times_sorption"
TIMES: Final[Mapping[str, Callable[[Material], bool]]] = MappingProxyType(
    {
        _TIGHTNESS: lambda material: not material.is_vapour_tight,
        _WATER: lambda material: material.is_hygroscopic,
    }
)


def rebuilt(assembly: Assembly, **changes: Any) -> Assembly:
    """Assembly with other parts, tilt, azimuth or finish.

    Parameters
    ----------
    assembly : Assembly
        What to start from.
    **changes : object
        What differs.

    Returns
    -------
    Assembly
        Checked anew.

    Raises
    ------
    InputError
        Where a value cannot be.
    """
    stated = {name: getattr(assembly, name) for name in ("name", "parts", "tilt", "azimuth", "finish")}
    return Assembly(**(stated | changes))


def material_with(material: Material, name: str, value: Any) -> Material:
    """Material with one property changed; it no longer quotes sources, for they do not say so.

    ``density`` keeps the water per dry mass, as wood does: sorption grows with it. ``times_vapour_resistance`` scales
    the whole curve, ``times_sorption`` the curve of sorption or retention; the open pores stay as large as they are.

    Parameters
    ----------
    material : Material
        What to start from.
    name : str
        ``density``, ``specific_heat``, ``conductivity`` or one of `TIMES`.
    value : float or str
        New value, or the factor. [SI]

    Returns
    -------
    Material
        Checked anew.

    Raises
    ------
    InputError
        Where the value cannot be.
    """
    stated = {field.name: getattr(material, field.name) for field in fields(material)} | {"provenance": ()}
    if name == _TIGHTNESS:
        stated["vapour_resistance"] = _scaled(material.vapour_resistance, _factor(value, material.name))
    elif name == _WATER:
        factor = _factor(value, material.name)
        for one in ("sorption", "retention", "free_saturation"):
            stated[one] = _scaled(stated[one], factor)
        if material.is_suction_based:  # its pores are full at no suction: what they hold grows with the curve
            stated["saturation"] *= factor
        elif stated["free_saturation"] is not None:
            stated["free_saturation"] = min(stated["free_saturation"], material.saturation)
    elif name == DENSITY:
        stated[DENSITY] = to_si(value, "density", f"Material {material.name!r}: density")
        stated["sorption"] = _scaled(material.sorption, stated[DENSITY] / material.density)
    else:
        stated[name] = value
    return Material(**stated)


def sheet_with(material: SheetMaterial, name: str, value: Any) -> SheetMaterial:
    """Sheet with another resistance.

    Parameters
    ----------
    material : SheetMaterial
        What to start from.
    name : str
        ``s_d``, ``permeance`` or ``times_vapour_resistance``.
    value : float or str
        New value, or the factor. [SI]

    Returns
    -------
    SheetMaterial
        Checked anew.

    Raises
    ------
    InputError
        Where the value cannot be.
    """
    if name != _TIGHTNESS:
        return SheetMaterial(material.name, **{name: value})
    factor = _factor(value, material.name)
    if isinstance(material.s_d, Table):
        return SheetMaterial(
            material.name, s_d=[(x, y * factor) for x, y in zip(material.s_d.x, material.s_d.y, strict=True)]
        )
    return SheetMaterial(material.name, s_d=material.s_d * factor)


def _factor(value: Any, name: str) -> float:
    factor = to_si(value, "factor", f"{name!r}: factor")
    if not 0.0 < factor < math.inf:
        msg = f"{name!r}: a property is multiplied by {factor:g}; the factor must be above 0."
        raise InputError(msg)
    return factor


def _scaled(stated: Any, factor: float) -> Any:
    if stated is None or factor == 1.0:
        return stated
    return Scaled(stated, factor) if callable(stated) else stated * factor
