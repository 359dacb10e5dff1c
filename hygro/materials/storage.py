"""Ways to state a sorption curve other than rows in kg/m3. May import: errors, constants, curve, numpy."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hygro.errors import MaterialError
from hygro.materials.curve import ACTIVITY, Array, Axis, Function, Rows, Scaled, Table, number, read_rows

SATURATED_AIR: Final = 0.0173  # [kg m-3] vapour in saturated air at 20 degC: 2339 Pa / (461.5 J/(kg K) 293.15 K)
_BY_MASS: Final = Axis("water content by mass", "fraction", 0.0, 10.0)


@dataclass(frozen=True, slots=True)
class PoreAir:
    """Sorption of a material that binds nothing: the vapour in the air of its pores at 20 degC.

    Parameters
    ----------
    porosity : float
        Volume of open pores per volume, above 0 and at most 1. [1]

    Raises
    ------
    MaterialError
        Where the porosity is outside its range.
    """

    porosity: float = 1.0

    def __post_init__(self) -> None:
        value = number(self.porosity, "fraction", "Porosity")
        if not 0.0 < value <= 1.0:
            msg = f"Porosity is {value:g}; it must be above 0 and at most 1."
            raise MaterialError(msg)
        object.__setattr__(self, "porosity", value)

    def __call__(self, activity: ArrayLike) -> Array:
        """Water content [kg m-3] at a relative humidity [1], any shape."""
        return np.asarray(self.porosity * SATURATED_AIR * np.asarray(activity, dtype=float))


def sorption_by_mass(curve: Rows | Function, density: float | str) -> Scaled:
    """Sorption curve stated in mass of water per dry mass.

    Parameters
    ----------
    curve : rows or callable
        ``[(relative humidity, kg kg-1), ...]`` from any humidity to 100 %, or a function. Text such as ``"12 %"``
        is read as per cent of the dry mass. [kg kg-1]
    density : float or str
        Dry density. [kg m-3]

    Returns
    -------
    Scaled
        The curve by volume, for `Material(..., sorption=...)`. [kg m-3]

    Raises
    ------
    MaterialError
        Where a row cannot be, or the rows do not rise up to 100 % RH.
    """
    rho = number(density, "density", "Density")
    if callable(curve):
        return Scaled(curve, rho)
    x, y = read_rows(curve, ACTIVITY, _BY_MASS, "Sorption curve by mass")
    for n, (before, after) in enumerate(pairwise(y), start=2):
        if after <= before:
            msg = (
                f"Sorption curve by mass goes from {before:g} to {after:g} kg/kg between {100 * x[n - 2]:g} % and "
                f"{100 * x[n - 1]:g} % RH; it must rise. Check row {n} of the table."
            )
            raise MaterialError(msg)
    if x[-1] < 1.0:
        msg = f"Sorption curve by mass stops at {100 * x[-1]:g} % RH; add a row at 100 %."
        raise MaterialError(msg)
    if x[0] > 0.0:
        x, y = (0.0, *x), (0.0, *y)
    return Scaled(Table(x, y, "smooth"), rho)
