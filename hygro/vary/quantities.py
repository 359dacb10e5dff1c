"""What the last word of an input's name measures, and the unit in which a builder reads it.

May import: units, rebuilt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hygro.units import PERM
from hygro.vary.rebuilt import TIMES


@dataclass(frozen=True, slots=True)
class Kind:
    """What the last word of a path measures: the door of units, the unit inside, and the trade unit for showing."""

    dimension: str | None
    unit: str
    shown: str
    factor: float = 1.0


_LENGTH, _SHARE = Kind("length", "m", "m"), Kind("fraction", "1", "%", 100.0)
_THIN, _NUMBER = Kind("length", "m", "mm", 1e3), Kind("factor", "1", "")
_OPENING = Kind("area per width", "m2 m-1", "cm²/m", 1e4)
_KINDS: Final[dict[str, Kind]] = {
    "thickness": _THIN,
    "length": _LENGTH,
    "height": _LENGTH,
    "opening": _OPENING,
    "inlet": _OPENING,
    "outlet": _OPENING,
    "screen": _SHARE,
    "blocked": _SHARE,
    "relative_humidity": _SHARE,
    "start_humidity": _SHARE,
    "start_moisture": _SHARE,
    "share_of_limit": _SHARE,
    "temperature": Kind("temperature", "degC", "°C"),
    "set_point": Kind("temperature", "degC", "°C"),
    "tilt": Kind("angle", "degree", "°"),
    "azimuth": Kind("angle", "degree", "°"),
    "inlet_bearing": Kind("angle", "degree", "°"),
    "outlet_bearing": Kind("angle", "degree", "°"),
    "inlet_coefficient": _NUMBER,
    "outlet_coefficient": _NUMBER,
    "rate": Kind("air change rate", "h-1", "per hour"),
    "infiltration": Kind("air change rate", "h-1", "per hour"),
    "q50": Kind("air permeability", "m3 m-2 h-1", "m³/(m² h)"),
    "fan_pressure": Kind("pressure", "Pa", "Pa"),
    "permeance": Kind("permeance", "kg m-2 s-1 Pa-1", "perm", 1.0 / PERM),
    "s_d": _LENGTH,
    "density": Kind("density", "kg m-3", "kg/m³"),
    "specific_heat": Kind("specific heat", "J kg-1 K-1", "J/(kg K)"),
    "conductivity": Kind("conductivity", "W m-1 K-1", "W/(m K)"),
    "volume": Kind(None, "m3", "m³"),
    "count": _NUMBER,
    "absorptance": _NUMBER,
    "emissivity": _NUMBER,
    "exposure": _NUMBER,
    "deposition": _NUMBER,
    "defect": _SHARE,
    "depth": _LENGTH,
    "caught": _SHARE,
    "melt": Kind(None, "kg m-2 d-1 K-1", "kg/(m² day K)"),
    "exponent": _NUMBER,
    "pressure_coefficient": _NUMBER,
    **dict.fromkeys(TIMES, _NUMBER),
}
_UNKNOWN: Final = Kind(None, "", "")


def kind_of(word: str) -> Kind:
    """What an input measures, by the last word of its path."""
    return _KINDS.get(word, _UNKNOWN)
