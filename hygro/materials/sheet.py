"""Thin sheets and coats: pure vapour resistance, fixed or depending on humidity.

May import: errors, units, curve, provenance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hygro.errors import MaterialError
from hygro.materials.curve import ACTIVITY, Array, Axis, Rows, Table, is_number, number, read_rows
from hygro.materials.provenance import Quoted
from hygro.units import DELTA_AIR_REFERENCE, s_d_from_permeance

_S_D: Final = Axis("s_d", "length", 0.0, lowest_allowed=False)
_PERMEANCE: Final = Axis("permeance", "permeance", 0.0, lowest_allowed=False)
_THICKEST: Final = 1.0e5  # [m] beyond it the trade says vapour-tight
_THINNEST: Final = 1.0e-3  # [m] a millimetre of still air


@dataclass(frozen=True, slots=True, init=False)
class SheetMaterial:
    """A membrane, foil, paper or coat whose heat and water storage do not count.

    State either `s_d` or `permeance`.

    Parameters
    ----------
    name : str
        What errors, figures and reports call it.
    s_d : float, str or rows, optional
        Vapour-diffusion-equivalent air layer thickness, a number (``math.inf`` for vapour-tight) or rows
        ``[(relative humidity, s_d), ...]`` over the mean relative humidity of both sides. Its logarithm is
        interpolated; outside the rows the nearest row holds. [m]
    permeance : float, str or rows, optional
        The same as a permeance. [kg m-2 s-1 Pa-1]
    provenance : iterable of Quoted
        Where each value comes from; the library fills it.

    Raises
    ------
    MaterialError
        Where both or none are given, or a value cannot be.

    Examples
    --------
    >>> retarder = SheetMaterial("variable retarder", s_d=[(0.3, 5.0), (0.8, 0.2)])
    >>> round(float(retarder.equivalent_air_thickness(0.55)), 3)
    1.0
    """

    name: str
    s_d: float | Table
    provenance: tuple[Quoted, ...] = field(compare=False, repr=False)

    def __init__(
        self,
        name: str,
        *,
        s_d: float | str | Rows | Table | None = None,
        permeance: float | str | Rows | None = None,
        provenance: Iterable[Quoted] = (),
    ) -> None:
        if not isinstance(name, str) or not name.strip():
            msg = f'Sheet name is {name!r}; give it a name, such as "my membrane".'
            raise MaterialError(msg)
        where = f"Sheet {name!r}"
        if (s_d is None) == (permeance is None):
            msg = f"{where}: state either s_d [m] or permeance, not {'both' if s_d is not None else 'none'}."
            raise MaterialError(msg)
        value = _s_d(s_d, where) if s_d is not None else _from_permeance(permeance, where)
        object.__setattr__(self, "name", name.strip())
        object.__setattr__(self, "s_d", value)
        object.__setattr__(self, "provenance", tuple(provenance))

    @property
    def is_variable(self) -> bool:
        """Its resistance depends on humidity."""
        return isinstance(self.s_d, Table)

    @property
    def is_vapour_tight(self) -> bool:
        """No vapour passes at any humidity."""
        return isinstance(self.s_d, float) and math.isinf(self.s_d)

    def equivalent_air_thickness(self, mean_activity: ArrayLike) -> Array:
        """Vapour-diffusion-equivalent air layer thickness [m] at the mean relative humidity of both sides [1]."""
        at = np.clip(np.asarray(mean_activity, dtype=float), 0.0, 1.0)
        return self.s_d(at) if isinstance(self.s_d, Table) else np.full_like(at, self.s_d)

    def vapour_resistance(self, mean_activity: ArrayLike) -> Array:
        r"""Vapour resistance of the sheet.

        .. math:: Z = s_d / \delta_a

        Parameters
        ----------
        mean_activity : float or array, any shape
            Mean relative humidity of both sides. [1]

        Returns
        -------
        array, same shape
            Vapour resistance; infinite for a vapour-tight sheet. [m2 s Pa kg-1]

        References
        ----------
        EN ISO 12572 for the permeability of still air at 23 degC (from memory).
        """
        return np.asarray(self.equivalent_air_thickness(mean_activity) / DELTA_AIR_REFERENCE)


def _s_d(stated: float | str | Rows | Table, where: str) -> float | Table:
    if isinstance(stated, Table):
        stated = list(zip(stated.x, stated.y, strict=True))
    if isinstance(stated, float) and math.isinf(stated) and stated > 0.0:
        return math.inf
    if isinstance(stated, str) or is_number(stated):
        return _bounded(number(stated, "length", f"{where}: s_d"), where)
    x, y = read_rows(stated, ACTIVITY, _S_D, f"{where}: s_d")
    return Table(x, tuple(_bounded(value, where) for value in y), "log y")


def _from_permeance(stated: float | str | Rows | None, where: str) -> float | Table:
    if isinstance(stated, str) or is_number(stated):
        value = number(stated, "permeance", f"{where}: permeance")
        if value < 0.0:
            msg = f"{where}: permeance is {value:g}; it cannot be negative. Vapour-tight is 0."
            raise MaterialError(msg)
        if value > 1.0e-6:
            msg = (
                f"{where}: permeance is {value:g} kg/(m2 s Pa), more than that of a millimetre of air. "
                f'Did you mean "{value:g} perm"?'
            )
            raise MaterialError(msg)
        return math.inf if value == 0.0 else _bounded(s_d_from_permeance(value), where)
    x, y = read_rows(stated, ACTIVITY, _PERMEANCE, f"{where}: permeance")
    return Table(x, tuple(_bounded(s_d_from_permeance(value), where) for value in y), "log y")


def _bounded(s_d: float, where: str) -> float:
    if not _THINNEST <= s_d <= _THICKEST:
        msg = f"{where}: s_d is {s_d:g} m; 0.001 to 100000 m is possible. Write math.inf for vapour-tight."
        raise MaterialError(msg)
    return s_d
