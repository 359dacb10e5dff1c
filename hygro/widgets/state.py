"""What the panel is set to, as one frozen value.

May import: nothing but the standard library.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Air(StrEnum):
    """Where the indoor air comes from."""

    STANDARD = "standard curve for dwellings"
    STEADY = "the same humidity all year"
    HOUSEHOLD = "a household"


@dataclass(frozen=True, slots=True)
class State:
    """Setting of every control, SI units.

    Parameters
    ----------
    gap : float
        Clear height of the vent gap, 0 for none. [m]
    inlet, outlet : float
        Open area per metre, screen not yet taken off. [m2 m-1]
    screen : float
        Free share of the insect screen. [1]
    permeance : float
        Of the vapour retarder. [kg m-2 s-1 Pa-1]
    q50 : float
        Air permeability of the ceiling at 50 Pa. [m3 m-2 h-1]
    air : Air
        Which indoor air.
    humidity : float
        Relative humidity indoors, where it is the same all year. [1]
    people : float
        People of the household. [1]
    supply : float
        Outdoor air that the household's ventilator brings in. [m3 s-1]
    finish : str
        Name of the outer finish.
    climate : str
        Name of the climate in the panel's list.
    month : int
        Month in which the run starts, 1 to 12.
    """

    gap: float
    inlet: float
    outlet: float
    screen: float
    permeance: float
    q50: float
    air: Air
    humidity: float
    people: float
    supply: float
    finish: str
    climate: str
    month: int
