"""Materials: what layers, sheets and outer faces are made of, from the library or from your own numbers.

``names()`` lists the library, ``get(name)``, ``sheet(name)`` and ``finish(name)`` look up, ``describe(name)`` prints
each value with its source. `Material`, `SheetMaterial` and `Finish` take your own.

May import: units, constants, errors.
"""

from __future__ import annotations

from hygro.materials.finish import Finish
from hygro.materials.liquid import AbsorptionCoefficient, LiquidConductivity, LiquidDiffusivity
from hygro.materials.material import Material
from hygro.materials.provenance import Quoted
from hygro.materials.sheet import SheetMaterial
from hygro.materials.shelf import FAMILIES, describe, finish, get, names, sheet, sources
from hygro.materials.storage import PoreAir, sorption_by_mass
from hygro.materials.vapour import CupValues, cup_values
from hygro.materials.wood import (
    WoodSorption,
    equilibrium_moisture_content,
    relative_humidity_of_wood,
    wood_conductivity,
    wood_specific_heat,
)

__all__ = [
    "FAMILIES",
    "AbsorptionCoefficient",
    "CupValues",
    "Finish",
    "LiquidConductivity",
    "LiquidDiffusivity",
    "Material",
    "PoreAir",
    "Quoted",
    "SheetMaterial",
    "WoodSorption",
    "cup_values",
    "describe",
    "equilibrium_moisture_content",
    "finish",
    "get",
    "names",
    "relative_humidity_of_wood",
    "sheet",
    "sorption_by_mass",
    "sources",
    "wood_conductivity",
    "wood_specific_heat",
]
