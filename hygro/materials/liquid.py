"""Liquid transport: the three ways a laboratory states it, as small frozen objects.

Each is given to `Material(..., liquid=...)`, which turns it into a liquid conductivity over suction.
May import: errors, units, curve, numpy.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from hygro.errors import MaterialError
from hygro.materials.curve import (
    LOWEST_SUCTION,
    SUCTION,
    Array,
    Axis,
    Function,
    Rows,
    Table,
    checked_function,
    evaluate,
    number,
    read_rows,
)

_CONDUCTIVITY = Axis("liquid conductivity", "liquid conductivity", 0.0, lowest_allowed=False)
_DIFFUSIVITY = Axis("liquid diffusivity", "liquid diffusivity", 0.0, lowest_allowed=False)
_WATER = Axis("water content", "moisture per volume", 0.0, 1000.0)
_SUCTIONS = np.logspace(0.0, 9.0, 181)


@dataclass(frozen=True, slots=True, init=False)
class LiquidConductivity:
    """Liquid conductivity over suction, ``g = -K grad(-s)``.

    Parameters
    ----------
    curve : rows or callable
        Rows of suction [Pa] and conductivity [s] (which is kg m-1 s-1 Pa-1), or a function of a suction array.
        Between rows both are taken as logarithms; outside the rows the nearest row holds.

    Raises
    ------
    MaterialError
        Where the rows or the function's values cannot be.
    """

    curve: Function

    def __init__(self, curve: Rows | Function) -> None:
        what = "Liquid conductivity"
        if callable(curve):
            values = checked_function(curve, _SUCTIONS, SUCTION, what)
            _refuse_negative(values, _SUCTIONS, what, "suction")
            object.__setattr__(self, "curve", curve)
        else:
            x, y = read_rows(curve, SUCTION, _CONDUCTIVITY, what)
            object.__setattr__(self, "curve", Table(x, y, "log log"))

    def conductivity(self, suction: Array) -> Array:
        """Liquid conductivity [kg m-1 s-1 Pa-1] at a suction [Pa], any shape."""
        return evaluate(self.curve, np.maximum(suction, LOWEST_SUCTION))


@dataclass(frozen=True, slots=True, init=False)
class LiquidDiffusivity:
    """Liquid diffusivity over water content, ``g = -D_w grad(w)``.

    Parameters
    ----------
    curve : float, str, rows or callable
        A constant [m2 s-1], rows of water content [kg m-3] and diffusivity [m2 s-1] (the logarithm of the diffusivity
        is interpolated; outside the rows the nearest row holds), or a function of a water content array.

    Raises
    ------
    MaterialError
        Where the number, the rows or the function's values cannot be.
    """

    curve: float | Function

    def __init__(self, curve: float | str | Rows | Function) -> None:
        what = "Liquid diffusivity"
        stated: float | Function
        if callable(curve):
            stated = curve
        elif isinstance(curve, (int, float, str)):
            stated = number(curve, "liquid diffusivity", what)
            if not 0.0 < stated < 1.0e-3:
                msg = f"{what} is {stated:g} m2/s; it must be above 0 and below 0.001. Check the unit."
                raise MaterialError(msg)
        else:
            x, y = read_rows(curve, _WATER, _DIFFUSIVITY, what)
            stated = Table(x, y, "log y")
        object.__setattr__(self, "curve", stated)

    def diffusivity(self, water_content: Array, free_saturation: float) -> Array:
        """Liquid diffusivity [m2 s-1] at a water content [kg m-3], any shape; never past free saturation [kg m-3]."""
        held = np.minimum(water_content, free_saturation)
        if isinstance(self.curve, float):
            return np.full_like(held, self.curve)
        return evaluate(self.curve, held)

    def check(self, free_saturation: float, what: str) -> None:
        """Prove that the user's function gives diffusivities up to free saturation [kg m-3]."""
        if not isinstance(self.curve, (float, Table)):
            grid = np.linspace(0.0, free_saturation, 101)
            _refuse_negative(checked_function(self.curve, grid, _WATER, what), grid, what, "water content")


@dataclass(frozen=True, slots=True, init=False)
class AbsorptionCoefficient:
    r"""Liquid diffusivity estimated from how fast a face drinks.

    .. math:: D_w(w) = 3.8 \left(\frac{A}{w_f}\right)^2 1000^{\,w / w_f - 1}

    Parameters
    ----------
    value : float or str
        Water absorption coefficient of a partial-immersion test. [kg m-2 s-0.5]

    Raises
    ------
    MaterialError
        Where the coefficient is not between 1e-6 and 10 kg m-2 s-0.5.

    Notes
    -----
    :math:`w_f` is the free (capillary) saturation. Holds for suction of rain and condensate by a face that is wet, and
    errs on the fast side for redistribution after the water has gone.

    References
    ----------
    Kuenzel (1995), dissertation, University of Stuttgart, and the standards that took the estimate over. Stated from
    memory.
    """

    value: float

    def __init__(self, value: float | str) -> None:
        stated = number(value, "absorption coefficient", "Water absorption coefficient")
        if not 1.0e-6 <= stated <= 10.0:
            msg = (
                f"Water absorption coefficient is {stated:g} kg/(m2 s0.5); between 1e-6 and 10 is possible. "
                "A value per square root of an hour is divided by 60."
            )
            raise MaterialError(msg)
        object.__setattr__(self, "value", stated)

    def diffusivity(self, water_content: Array, free_saturation: float) -> Array:
        """Liquid diffusivity [m2 s-1] at a water content [kg m-3], any shape; never past free saturation [kg m-3]."""
        filling = np.minimum(water_content / free_saturation, 1.0)
        return np.asarray(3.8 * (self.value / free_saturation) ** 2 * 1000.0 ** (filling - 1.0))

    def check(self, free_saturation: float, what: str) -> None:
        """Nothing can go wrong past the constructor."""


Liquid: TypeAlias = LiquidConductivity | LiquidDiffusivity | AbsorptionCoefficient
Slope: TypeAlias = Callable[[Array], Array]


def _refuse_negative(values: Array, grid: Array, what: str, argument: str) -> None:
    if (values < 0.0).any():
        i = int(np.argmax(values < 0.0))
        msg = f"{what} is {values[i]:g} at {argument} {grid[i]:g}; it cannot be negative. Check the function."
        raise MaterialError(msg)
