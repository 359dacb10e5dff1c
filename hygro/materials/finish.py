"""Outer finishes: what the sun and the sky see. May import: errors, curve, provenance."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from hygro.errors import MaterialError
from hygro.materials.curve import number
from hygro.materials.provenance import Quoted


@dataclass(frozen=True, slots=True, init=False)
class Finish:
    """Radiative properties of an outer face.

    Parameters
    ----------
    name : str
        What errors, figures and reports call it.
    absorptance : float or str
        Solar absorptance, 0 to 1. [1]
    emissivity : float or str
        Long-wave emissivity, 0 to 1. [1]
    provenance : iterable of Quoted
        Where each value comes from; the library fills it.

    Raises
    ------
    MaterialError
        Where a value is outside 0 to 1.

    Examples
    --------
    >>> Finish("my paint", absorptance="75 %", emissivity=0.9).absorptance
    0.75
    """

    name: str
    absorptance: float
    emissivity: float
    provenance: tuple[Quoted, ...] = field(compare=False, repr=False)

    def __init__(
        self, name: str, absorptance: float | str, emissivity: float | str, *, provenance: Iterable[Quoted] = ()
    ) -> None:
        if not isinstance(name, str) or not name.strip():
            msg = f'Finish name is {name!r}; give it a name, such as "my paint".'
            raise MaterialError(msg)
        object.__setattr__(self, "name", name.strip())
        for attribute, stated in (("absorptance", absorptance), ("emissivity", emissivity)):
            value = number(stated, "fraction", f"Finish {name!r}: {attribute}")
            if not 0.0 <= value <= 1.0:
                guess = f' Did you mean "{value:g} %"?' if 1.0 < value <= 100.0 else ""
                msg = f"Finish {name!r}: {attribute} is {value:g}; it must be between 0 and 1.{guess}"
                raise MaterialError(msg)
            object.__setattr__(self, attribute, value)
        object.__setattr__(self, "provenance", tuple(provenance))
