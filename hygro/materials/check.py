"""What a material may be: one function per statement, each returning the SI value or raising the sentence to act on.

May import: errors, constants, units, curve, liquid.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np

from hygro.errors import MaterialError
from hygro.materials.curve import (
    ACTIVITY,
    LOWEST_ACTIVITY,
    LOWEST_SUCTION,
    SUCTION,
    Array,
    Axis,
    Function,
    Rows,
    Table,
    checked_function,
    is_number,
    number,
    read_rows,
)
from hygro.materials.liquid import AbsorptionCoefficient, Liquid, LiquidConductivity, LiquidDiffusivity

MOULD_SENSITIVITIES: Final = ("very sensitive", "sensitive", "medium resistant", "resistant")
_MU: Final = Axis("vapour resistance factor", "factor")
_WATER: Final = Axis("water content", "moisture per volume", 0.0, 1000.0)
_ACTIVITIES: Final = np.concatenate([[LOWEST_ACTIVITY], np.linspace(0.005, 0.995, 199), [0.999, 0.9999, 1.0]])
_SUCTIONS: Final = np.logspace(math.log10(LOWEST_SUCTION), 9.3, 187)
_DENSEST_SOLID: Final = 3200.0  # [kg m-3] basalt and clinker; no porous building material has denser walls


def density(stated: float | str, where: str) -> float:
    """Dry density [kg m-3]; 1 (still air) to 25000."""
    value = number(stated, "density", f"{where}: density")
    if not 1.0 <= value <= 25000.0:
        guess = f' Did you mean "{value:g} g/cm^3"?' if 0.0 < value < 1.0 else " Check the unit."
        msg = f"{where}: density is {value:g} kg/m3; building materials have 1 to 25000.{guess}"
        raise MaterialError(msg)
    return value


def specific_heat(stated: float | str, where: str) -> float:
    """Specific heat [J kg-1 K-1]; 100 to 5000."""
    value = number(stated, "specific heat", f"{where}: specific_heat")
    if not 100.0 <= value <= 5000.0:
        guess = f' Did you mean "{value:g} kJ/(kg K)"?' if 0.1 <= value <= 5.0 else " Check the unit."
        msg = f"{where}: specific_heat is {value:g} J/(kg K); building materials have 100 to 5000.{guess}"
        raise MaterialError(msg)
    return value


def conductivity(stated: float | str, rho: float, where: str) -> float:
    """Thermal conductivity [W m-1 K-1]; at most 5 unless it is dense enough to be a metal or a stone."""
    value = number(stated, "conductivity", f"{where}: conductivity")
    highest = 5.0 if rho < 2000.0 else 500.0
    if not 0.002 <= value <= highest:
        guess = f' Did you mean "{value:g} mW/(m K)"?' if 2.0 <= value <= 500.0 else " Check the unit."
        msg = (
            f"{where}: conductivity is {value:g} W/(m K); a material of {rho:g} kg/m3 has 0.002 to {highest:g}.{guess}"
        )
        raise MaterialError(msg)
    return value


def conductivity_moisture(stated: float | str, where: str) -> float:
    """Rise of conductivity with water [W m2 K-1 kg-1]; 0 to 0.05."""
    value = number(stated, "conductivity per moisture", f"{where}: conductivity_moisture")
    if not 0.0 <= value <= 0.05:
        msg = (
            f"{where}: conductivity_moisture is {value:g} W/(m K) per kg/m3; 0 to 0.05 is possible (wood "
            "about 0.0004). A supplement in per cent per mass per cent is converted by conductivity / density."
        )
        raise MaterialError(msg)
    return value


def conductivity_temperature(stated: float | str, where: str) -> float:
    """Relative rise of conductivity per kelvin [K-1]; -0.02 to 0.02."""
    value = number(stated, "per kelvin", f"{where}: conductivity_temperature")
    if not -0.02 <= value <= 0.02:
        msg = (
            f"{where}: conductivity_temperature is {value:g} per kelvin; -0.02 to 0.02 is possible. "
            "It is a fraction of the conductivity, so 0.4 % per kelvin is 0.004."
        )
        raise MaterialError(msg)
    return value


def vapour_resistance(stated: float | str | Rows | Function, where: str) -> float | Function:
    """Vapour resistance factor: a number of at least 1, a table or a function that gives such numbers."""
    what = f"{where}: vapour_resistance"
    if callable(stated):
        values = checked_function(stated, np.concatenate([[0.0], _ACTIVITIES]), ACTIVITY, what, infinite_allowed=True)
        _not_below_air(float(values.min()), what)
        if np.isinf(values).all():
            msg = f"{what} is infinite at every humidity; write vapour_resistance=math.inf."
            raise MaterialError(msg)
        return stated
    if isinstance(stated, float) and math.isinf(stated) and stated > 0.0:
        return math.inf
    if isinstance(stated, (int, float, str)):
        value = number(stated, "factor", what)
        _not_below_air(value, what)
        return value
    if is_number(stated):
        return vapour_resistance(float(stated), where)  # type: ignore[arg-type]
    x, y = read_rows(stated, ACTIVITY, _MU, what)
    _not_below_air(min(y), what)
    return Table(x, y, "log y")


def _not_below_air(mu: float, what: str) -> None:
    if mu < 1.0:
        msg = (
            f"{what} is {mu:g}; it cannot be below 1, which is still air. It is the factor mu, not a permeance or an "
            "s_d value: for a thin sheet use SheetMaterial(...)."
        )
        raise MaterialError(msg)


def one_storage(sorption: object, retention: object, mu: float | Function, where: str) -> None:
    """Storage is stated once, or the material is vapour-tight."""
    if sorption is not None and retention is not None:
        msg = f"{where}: both sorption and retention are given; they say the same thing twice. Leave one out."
        raise MaterialError(msg)
    tight = isinstance(mu, float) and math.isinf(mu)
    if sorption is None and retention is None and not tight:
        msg = (
            f"{where}: vapour passes (vapour_resistance is not infinite) but no sorption or retention curve is given. "
            "Give one; for a material that binds next to nothing write sorption=PoreAir(porosity)."
        )
        raise MaterialError(msg)


def water(stated: float | str, what: str) -> float:
    """Water content [kg m-3]; above 0, at most 1000."""
    value = number(stated, "moisture per volume", what)
    if not 0.0 < value <= 1000.0:
        msg = f"{what} is {value:g} kg/m3; it must be above 0 and at most 1000, which is water alone."
        raise MaterialError(msg)
    return value


def sorption(stated: Rows | Function, rho: float, free: float | None, where: str) -> Function:
    """Sorption curve that rises over relative humidity 0 to 1."""
    what = f"{where}: sorption curve"
    if callable(stated):
        values = checked_function(stated, _ACTIVITIES, ACTIVITY, what)
        _within_water(values, _ACTIVITIES, what)
        _rises(values, _ACTIVITIES, what)
        _not_by_mass(float(values[-1]), rho, "function", what)
        return stated
    x, y = read_rows(stated, ACTIVITY, _WATER, what)
    for n, (before, after) in enumerate(pairwise(y), start=2):
        if after <= before:
            verb = "falls from" if after < before else "stays at"
            span = f"{before:g} to {after:g}" if after < before else f"{before:g}"
            msg = (
                f"{what} {verb} {span} kg/m3 between {100 * x[n - 2]:g} % and {100 * x[n - 1]:g} % RH; it must rise. "
                f"Check row {n} of the table."
            )
            raise MaterialError(msg)
    _not_by_mass(y[-1], rho, "rows", what)
    return Table(*_closed(x, y, free, what), "smooth")


def _not_by_mass(highest: float, rho: float, kind: str, what: str) -> None:
    """Dense materials that hold between a spoon of pore air (`PoreAir`) and a litre per cubic metre hardly exist."""
    if 0.02 < highest < 1.0 and rho > 200.0:
        msg = (
            f"{what} reaches only {highest:g} kg/m3 in a material of {rho:g} kg/m3; this looks like kg/kg. Write "
            f"sorption=sorption_by_mass({kind}, {rho:g})."
        )
        raise MaterialError(msg)


def _closed(
    x: tuple[float, ...], y: tuple[float, ...], free: float | None, what: str
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Rows from 0 to 1: dry air dries to nothing, saturated air leads to free saturation."""
    if x[0] == 0.0 and y[0] > 0.0:
        msg = f"{what} starts at {y[0]:g} kg/m3 in dry air; it must start at 0. Check row 1 of the table."
        raise MaterialError(msg)
    if x[0] > 0.0:
        if y[0] == 0.0:
            msg = f"{what} is 0 kg/m3 at {100 * x[0]:g} % RH; only dry air dries to nothing. Check row 1 of the table."
            raise MaterialError(msg)
        x, y = (0.0, *x), (0.0, *y)
    if x[-1] < 1.0:
        if free is None:
            msg = (
                f"{what} stops at {100 * x[-1]:g} % RH. Add a row at 100 %, or state free_saturation (the water it "
                "takes up by drinking) to close it."
            )
            raise MaterialError(msg)
        if free <= y[-1]:
            msg = f"{what} reaches {y[-1]:g} kg/m3 at {100 * x[-1]:g} % RH, above free_saturation {free:g}. Check both."
            raise MaterialError(msg)
        x, y = (*x, 1.0), (*y, free)
    return x, y


def _within_water(values: Array, grid: Array, what: str) -> None:
    outside = (values < 0.0) | (values > 1000.0)
    if outside.any():
        i = int(np.argmax(outside))
        msg = f"{what} is {values[i]:g} kg/m3 at {grid[i]:g}; it must stay between 0 and 1000. Check the function."
        raise MaterialError(msg)


def _rises(values: Array, grid: Array, what: str) -> None:
    """Refuse a function that does not rise at every step of the grid, where round-off lets it be seen."""
    falls = np.diff(values) <= 0.0
    if falls.any():
        i = int(np.argmax(falls))
        verb = "falls" if values[i + 1] < values[i] else "stays level"
        msg = (
            f"{what} {verb} ({values[i]:g} to {values[i + 1]:g} kg/m3) between {100 * grid[i]:.4g} % and "
            f"{100 * grid[i + 1]:.4g} % RH; it must rise. Check the function."
        )
        raise MaterialError(msg)


def retention(stated: Rows | Function, where: str) -> Function:
    """Retention curve that falls over suction."""
    what = f"{where}: retention curve"
    if callable(stated):
        values = checked_function(stated, _SUCTIONS, SUCTION, what)
        _within_water(values, _SUCTIONS, what)
        rising = np.diff(values) > 0.0
        if rising.any() or values[0] <= values[-1]:
            i = int(np.argmax(rising))
            msg = (
                f"{what} does not fall between {_SUCTIONS[i]:.4g} and {_SUCTIONS[i + 1]:.4g} Pa; water content must "
                "fall as suction rises. Check the function."
            )
            raise MaterialError(msg)
        return stated
    x, y = read_rows(stated, SUCTION, _WATER, what)
    for n, (before, after) in enumerate(pairwise(y), start=2):
        if after >= before:
            msg = (
                f"{what} goes from {before:g} to {after:g} kg/m3 between {x[n - 2]:g} and {x[n - 1]:g} Pa; it must "
                f"fall. Check row {n} of the table."
            )
            raise MaterialError(msg)
    return Table(x, y, "log x")


def saturation(
    stated: float | str | None, w_curve: Function | None, retained: float | None, rho: float, where: str
) -> float:
    """Water content with every open pore full [kg m-3]: above what is bound, within what the solid leaves free."""
    if w_curve is None and retained is None:
        return 0.0 if stated is None else water(stated, f"{where}: saturation")
    highest = retained if retained is not None else float(np.asarray(w_curve(np.asarray(1.0)))) if w_curve else 0.0
    if stated is None:
        if retained is not None:
            return retained
        pores = ", ".join(f"{1000.0 * (1.0 - rho / wall):.0f} for {kind}" for wall, kind in _walls(rho))
        msg = (
            f"{where}: saturation is missing: the water that fills every open pore [kg/m3], above the {highest:.4g} "
            f"that the sorption curve reaches. From the density it is at most {pores}; closed pores take none."
        )
        raise MaterialError(msg)
    value = water(stated, f"{where}: saturation")
    if value < highest or (w_curve is not None and value == highest):
        msg = (
            f"{where}: saturation is {value:g} kg/m3, not above the {highest:.4g} that the curve reaches. "
            "It is the water with every pore full; raise it or check the curve."
        )
        raise MaterialError(msg)
    room = 1000.0 * (1.0 - rho / _DENSEST_SOLID)
    if value > room:
        msg = (
            f"{where}: saturation is {value:g} kg/m3, but a solid of {rho:g} kg/m3 leaves room for "
            f"{max(room, 0.0):.0f} at most. Check saturation and density."
        )
        raise MaterialError(msg)
    return value


def _walls(rho: float) -> list[tuple[float, str]]:
    kinds = [(1500.0, "wood and paper"), (2650.0, "minerals"), (_DENSEST_SOLID, "any solid")]
    return [(wall, kind) for wall, kind in kinds if rho < wall] or [(math.inf, "any solid")]


def free_saturation(
    free: float | None, full: float, w_curve: Function | None, s_curve: Function | None, where: str
) -> None:
    """Free saturation lies between the highest bound water and full pores."""
    if free is None:
        return
    if w_curve is None and s_curve is None:
        msg = f"{where}: free_saturation is given for a material that stores no water. Leave it out or give a curve."
        raise MaterialError(msg)
    if free > full:
        msg = f"{where}: free_saturation is {free:g} kg/m3, above saturation {full:g}. Raise saturation or check both."
        raise MaterialError(msg)
    highest = float(np.asarray(w_curve(np.asarray(1.0)))) if w_curve is not None else 0.0
    if free < highest * (1.0 - 1.0e-9):
        msg = (
            f"{where}: free_saturation is {free:g} kg/m3, below the {highest:.4g} that the sorption curve reaches at "
            "100 % RH. Check both."
        )
        raise MaterialError(msg)


def liquid(
    stated: Liquid | None, free: float | None, w_curve: Function | None, s_curve: Function | None, where: str
) -> Liquid | None:
    """Liquid transport has water to move, up to a stated free saturation that the curve reaches."""
    if stated is None:
        return None
    if not isinstance(stated, (LiquidConductivity, LiquidDiffusivity, AbsorptionCoefficient)):
        msg = (
            f"{where}: liquid is {stated!r}; give LiquidConductivity(...), LiquidDiffusivity(...), "
            "AbsorptionCoefficient(...) or leave it out."
        )
        raise MaterialError(msg)
    if w_curve is None and s_curve is None:
        msg = f"{where}: liquid transport is given for a material that stores no water. Give sorption or retention."
        raise MaterialError(msg)
    if free is None:
        msg = (
            f"{where}: liquid transport needs free_saturation, the water content reached by drinking [kg/m3]. State "
            "it, or leave liquid out."
        )
        raise MaterialError(msg)
    if isinstance(stated, LiquidConductivity):
        return stated
    if w_curve is not None:
        highest = float(np.asarray(w_curve(np.asarray(1.0))))
        if highest < 0.98 * free:
            msg = (
                f"{where}: the sorption curve ends at {highest:.4g} kg/m3 at 100 % RH, but free_saturation is "
                f"{free:g}. A diffusivity needs one curve up to free saturation: leave out the row at 100 %, or use "
                "retention."
            )
            raise MaterialError(msg)
    stated.check(free, f"{where}: liquid diffusivity")
    return stated


def mould_sensitivity(stated: str | None, where: str) -> str | None:
    """Class of the mould index model, or none."""
    if stated is not None and not (isinstance(stated, str) and stated in MOULD_SENSITIVITIES):
        msg = f"{where}: mould_sensitivity is {stated!r}; it is one of {', '.join(MOULD_SENSITIVITIES)}."
        raise MaterialError(msg)
    return stated


def flag(stated: object, what: str) -> bool:
    """Yes or no, and nothing that merely looks like it."""
    if not isinstance(stated, bool):
        msg = f"{what} is {stated!r}; write True or False."
        raise MaterialError(msg)
    return stated
