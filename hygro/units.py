"""The door: trade units in, SI out. Nothing else in the package converts units on the way in.

A quantity may be stated as an SI number or as text with a unit (``"19 mm"``, ``"3/4 in"``, ``"5 perm"``).
Conversion is done by pint, loaded on first use. May import: errors, constants.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from hygro.errors import InputError

if TYPE_CHECKING:
    from pint import UnitRegistry

PERM: Final = 57.2135e-12  # [kg m-2 s-1 Pa-1] 1 grain/(h ft2 inHg), inHg at 0 degC = 3386.389 Pa (from its definition)
PERM_INCH: Final = 1.45322e-12  # [kg m-1 s-1 Pa-1] 1 perm times 1 inch
DELTA_AIR_REFERENCE: Final = 1.95e-10  # [kg m-1 s-1 Pa-1] still air at 23 degC, EN ISO 12572

_DIMENSIONS: Final[dict[str, str]] = {
    "length": "m",
    "area per width": "m",
    "permeance": "kg / m**2 / s / Pa",
    "permeability": "kg / m / s / Pa",
    "temperature": "degC",
    "temperature difference": "kelvin",
    "fraction": "dimensionless",
    "factor": "dimensionless",
    "angle": "degree",
    "speed": "m / s",
    "air change rate": "1 / hour",
    "density": "kg / m**3",
    "specific heat": "J / kg / K",
    "conductivity": "W / m / K",
    "moisture per volume": "kg / m**3",
    "pressure": "Pa",
    "volume flow": "m**3 / s",
    "volume": "m**3",
    "area": "m**2",
    "mass": "kg",
    "power": "W",
    "air permeability": "m**3 / m**2 / hour",
    "film coefficient": "W / m**2 / K",
    "liquid diffusivity": "m**2 / s",
    "liquid conductivity": "s",
    "absorption coefficient": "kg / m**2 / s**0.5",
    "conductivity per moisture": "W * m**2 / K / kg",
    "per kelvin": "1 / kelvin",
}

_EXAMPLES: Final[dict[str, str]] = {
    "length": '"19 mm", "3/4 in" or 0.019 (metres)',
    "area per width": '"20 cm^2/m", "200 mm^2/m" or 0.002 (square metres per metre)',
    "permeance": '"5 perm", "60 ng/(Pa s m2)" or 3e-10 (kg m-2 s-1 Pa-1)',
    "permeability": '"2 perm inch" or 2e-12 (kg m-1 s-1 Pa-1)',
    "temperature": '"20 degC", "68 degF" or 20 (degrees Celsius)',
    "temperature difference": '"2 K" or 2 (kelvin)',
    "fraction": '"80 %" or 0.8',
    "factor": "50 (a plain number, no quotes)",
    "angle": '"5 deg" or 5 (degrees)',
    "speed": '"3 m/s" or 3',
    "film coefficient": '"25 W/(m2 K)" or 25 (W m-2 K-1)',
    "air change rate": '"50 1/hour" or 50 (per hour)',
    "air permeability": '"1.5 m3/(m2 h)" or 1.5 (cubic metres per square metre and hour)',
    "conductivity": '"0.036 W/(m K)" or 0.036 (W m-1 K-1)',
    "volume flow": '"10 l/s", "36 m3/h", "20 cfm" or 0.01 (m3 s-1)',
    "density": '"500 kg/m3" or 500 (kg m-3)',
    "specific heat": '"1600 J/(kg K)" or 1600 (J kg-1 K-1)',
    "moisture per volume": '"80 kg/m3" or 80 (kg m-3)',
    "pressure": '"4 Pa" or 4 (pascal)',
    "absorption coefficient": '"0.1 kg/(m2 s^0.5)" or 0.1 (kg m-2 s-0.5)',
}


# What most inputs are stated in, by dimension and unit: how many of it make one of ours. Dividing by a whole number is
# exact to the last digit (18 mm are 0.018), and spares the library of units, which takes half a second to load.
_COMMON: Final[dict[tuple[str, str], float]] = {
    ("length", "mm"): 1e3,
    ("length", "cm"): 1e2,
    ("length", "m"): 1.0,
    ("area per width", "cm^2/m"): 1e4,
    ("area per width", "mm^2/m"): 1e6,
    ("fraction", "percent"): 1e2,
    ("angle", "degree"): 1.0,
    ("temperature", "degC"): 1.0,
    ("temperature difference", "K"): 1.0,
    ("air permeability", "m**3/(m**2 hour)"): 1.0,
    ("density", "kg/m**3"): 1.0,
    ("moisture per volume", "kg/m**3"): 1.0,
    ("specific heat", "J/(kg K)"): 1.0,
    ("conductivity", "W/(m K)"): 1.0,
    ("pressure", "Pa"): 1.0,
    ("volume flow", "l/s"): 1e3,
}


_MIXED: Final = re.compile(r"(\d)-(\d+/\d+)")  # 1-1/2 in, as carpenters write it


@cache
def _registry() -> UnitRegistry[Any]:
    # Imported here: pint costs 0.3 s and most calls state SI numbers.
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define(f"perm = {PERM!r} kilogram / meter ** 2 / second / pascal")
    registry.define("perm_inch = perm * inch")
    registry.define("cfm = foot ** 3 / minute")
    registry.define("ACH = 1 / hour")
    return registry


def _prepare(text: str) -> str:
    """Spell trade notation the way pint reads it."""
    spelled = (
        _MIXED.sub(r"\1 \2", text.strip())
        .replace("\N{MINUS SIGN}", "-")
        .replace("µ", "micro")
        .replace("°C", "degC")
        .replace("°F", "degF")
    )
    spelled = spelled.replace("%", " percent").replace('"', " inch").replace("perm-inch", "perm_inch")
    spelled = spelled.replace("perm-in", "perm_inch")
    spelled = spelled.replace("perm inch", "perm_inch").replace("perm in", "perm_inch").replace(" deg", " degree")
    for wrong, right in (("degreeC", "degC"), ("degreeF", "degF"), ("degreeree", "degree")):
        spelled = spelled.replace(wrong, right)
    for unit in ("mm", "cm", "m"):
        for power in ("2", "3"):
            spelled = spelled.replace(f"{unit}{power}", f"{unit}**{power}")
    return spelled


def _split(text: str) -> tuple[float, str]:
    """Split ``"1 1/2 in"`` into 1.5 and ``"in"``."""
    head = 0
    while head < len(text) and (text[head] in "0123456789.+-/ " or _is_exponent(text, head)):
        head += 1
    number, unit = text[:head].strip(), text[head:].strip()
    if number.endswith("/"):  # "1/h" style unit with a leading number, e.g. "50 1/h"
        number, unit = number[:-1].strip(), "1/" + unit
        pieces = number.rsplit(" ", 1)
        if len(pieces) == 2 and pieces[1] == "1":
            number = pieces[0]
    total = sum((Fraction(part) for part in number.split()), Fraction(0))
    if not number:
        raise ValueError(text)
    return float(total), unit


def _is_exponent(text: str, at: int) -> bool:
    return (
        text[at] in "eE"
        and at > 0
        and text[at - 1] in "0123456789."
        and at + 1 < len(text)
        and text[at + 1] in "+-0123456789"
    )


def to_si(value: object, dimension: str, what: str) -> float:
    """SI number behind what the user stated.

    Parameters
    ----------
    value : float or str
        An SI number, or text with a number and a unit.
    dimension : str
        Kind of quantity; one of the keys of the table in this module.
    what : str
        How to name the quantity in an error, for instance ``"Layer 2 'mineral wool': thickness"``.

    Returns
    -------
    float
        The value in the SI unit of the dimension (degC for temperature, degrees for angles,
        per hour for air change rates).

    Raises
    ------
    InputError
        Where the text has no number, no unit or a unit of another kind, or the number is not finite.
    """
    unit = _DIMENSIONS[dimension]
    example = _EXAMPLES.get(dimension, f"a number in {unit}")
    if isinstance(value, bool) or (not isinstance(value, (int, float, str)) and not hasattr(value, "__float__")):
        msg = f"{what} is {value!r}, which is neither a number nor text with a unit. Write {example}."
        raise InputError(msg)
    if not isinstance(value, str):
        number = float(value)
        if not math.isfinite(number):
            msg = f"{what} is {number}; it must be a finite number. Write {example}."
            raise InputError(msg)
        return number
    try:
        number, unit_text = _split(_prepare(value))
        if not unit_text:
            msg = f"{what} is {value!r}, a text without a unit. Write {example}."
            raise InputError(msg)
        if (dimension, unit_text) in _COMMON:
            result = number / _COMMON[dimension, unit_text]
        else:
            result = _converted(number, unit_text, unit)
    except InputError:
        raise
    except Exception as error:  # pint raises many kinds; all of them mean "not understood"
        msg = f"{what} is {value!r}, which could not be read as {_article(dimension)} {dimension}. Write {example}."
        raise InputError(msg) from error
    if not math.isfinite(result):
        msg = f"{what} is {value!r}; it must be finite. Write {example}."
        raise InputError(msg)
    return result


def _converted(number: float, unit_text: str, unit: str) -> float:
    """Number in our unit, by the library of units."""
    registry = _registry()
    stated = registry.Quantity(number, registry.parse_units(unit_text) if unit_text != "1" else "")
    return float(f"{stated.to(unit).magnitude:.15g}")  # 36 m3/h are 0.01 m3/s, not 0.010000000000000002 m3/s


def _article(noun: str) -> str:
    return "an" if noun[0] in "aeiou" else "a"


def to_perm(permeance: float) -> float:
    """Permeance in perm (US customary) of a permeance in kg m-2 s-1 Pa-1."""
    return permeance / PERM


def to_inch(length: float) -> float:
    """Length in inches of a length in metres."""
    return length / 0.0254


def s_d_from_permeance(permeance: float) -> float:
    """Vapour-diffusion-equivalent air layer thickness [m] of a permeance [kg m-2 s-1 Pa-1], EN ISO 12572."""
    return DELTA_AIR_REFERENCE / permeance if permeance > 0.0 else math.inf


def permeance_from_s_d(s_d: float) -> float:
    """Permeance [kg m-2 s-1 Pa-1] of a vapour-diffusion-equivalent air layer thickness [m], EN ISO 12572."""
    return DELTA_AIR_REFERENCE / s_d if s_d > 0.0 else math.inf
