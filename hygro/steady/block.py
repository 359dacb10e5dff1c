"""Condensate of one long winter block and its drying in one summer block: the check by hand of DIN 4108-3.

May import: assembly, errors, core formulas.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from hygro.assembly import Assembly, Layer
from hygro.core.formulas import saturation_pressure_iso
from hygro.errors import InputError
from hygro.steady.path import Chain, chain
from hygro.steady.profile import AIR_PERMEABILITY, Array, vapour_profile

SURFACE_RESISTANCE: Final = 0.25  # [m2 K W-1] inner surface in this check, DIN 4108-3:2014 (from memory)
MOST: Final = 1.0  # [kg m-2] DIN 4108-3 (from memory)
MOST_BESIDE_TIGHT: Final = (
    0.5  # [kg m-2] where a layer beside the plane does not take up water, DIN 4108-3 (from memory)
)
MOST_IN_WOOD: Final = 0.03  # [kg kg-1] DIN 4108-3 for wood-based boards; 0.05 for solid wood (from memory)
RESERVE: Final = {"roof": 0.250, "wall": 0.100, "floor": 0.100}  # [kg m-2] a year, DIN 68800-2 (from memory)
SOURCE: Final = "DIN 4108-3:2014 and DIN 68800-2 (from memory)"
LIMITS: Final = (
    "Two blocks of steady air: no storage, no liquid flow, no leaking air, no sun, no real weather. Made for Central "
    "European dwellings: in a colder climate the winter block is too mild. Local codes and a licensed professional "
    "decide."
)

_SECONDS_PER_HOUR: Final = 3600.0
_TRACE: Final = 1e-12  # [kg m-2] rounding


@dataclass(frozen=True, slots=True)
class BlockClimate:
    """Air of the winter block and of the summer block.

    Parameters
    ----------
    outdoor_temperature : float
        In winter. [degC]
    outdoor_humidity : float
        In winter; over ice below 0 degC. [1]
    indoor_temperature : float
        In winter. [degC]
    indoor_humidity : float
        In winter. [1]
    winter : float
        Length of the winter block. [h]
    drying_pressure : float
        Vapour pressure on both sides in summer. [Pa]
    wall_pressure, roof_pressure : float
        Saturation pressure at wet planes in summer. [Pa]
    summer : float
        Length of the summer block. [h]
    """

    outdoor_temperature: float = -5.0
    outdoor_humidity: float = 0.80
    indoor_temperature: float = 20.0
    indoor_humidity: float = 0.50
    winter: float = 2160.0
    drying_pressure: float = 1200.0
    wall_pressure: float = 1700.0
    roof_pressure: float = 2000.0
    summer: float = 2160.0

    def __post_init__(self) -> None:
        for name, low, high in (
            ("outdoor_temperature", -60.0, 60.0),
            ("indoor_temperature", -60.0, 60.0),
            ("outdoor_humidity", 0.0, 1.0),
            ("indoor_humidity", 0.0, 1.0),
            ("winter", 1.0, 8760.0),
            ("summer", 1.0, 8760.0),
            ("drying_pressure", 0.0, 1e4),
            ("wall_pressure", 0.0, 1e4),
            ("roof_pressure", 0.0, 1e4),
        ):
            value = getattr(self, name)
            if not low <= value <= high:
                hint = f" Did you mean {value / 100.0:g}?" if name.endswith("humidity") and value > 1.0 else ""
                msg = f"Block climate: {name} is {value!r}; it must lie between {low:g} and {high:g}.{hint}"
                raise InputError(msg)


@dataclass(frozen=True, slots=True)
class CondensingPlane:
    """One interface of the winter block that gets wet.

    Attributes
    ----------
    name : str
        Where it is.
    temperature : float
        In winter. [degC]
    condensed : float
        In the winter block. [kg m-2]
    limit : float
        Most that may condense there. [kg m-2]
    because : str
        Why that limit.
    """

    name: str
    temperature: float
    condensed: float
    limit: float
    because: str


@dataclass(frozen=True, slots=True)
class BlockCondensation:
    """Result of the check; prints as a table.

    Attributes
    ----------
    assembly : str
        Name of the build-up.
    planes : tuple of CondensingPlane
        Interfaces that get wet, outside first.
    drying : float
        Most that the summer block can dry. [kg m-2]
    reserve : float
        What DIN 68800-2 wants to be left for moisture from air leaks in wooden parts. [kg m-2]
    notes : tuple of str
        What was left out or assumed.
    """

    assembly: str
    planes: tuple[CondensingPlane, ...]
    drying: float
    reserve: float
    notes: tuple[str, ...]

    @property
    def condensed(self) -> float:
        """Condensate of the winter block. [kg m-2]."""
        return sum(one.condensed for one in self.planes)

    @property
    def dries(self) -> bool:
        """Whether the summer block dries as much as the winter block condenses."""
        return self.drying >= self.condensed

    @property
    def passes(self) -> bool:
        """Whether it dries and no plane, and not all together, takes more than its limit."""
        return self.dries and self.condensed <= MOST and all(one.condensed <= one.limit for one in self.planes)

    @property
    def has_reserve(self) -> bool:
        """Whether the drying reserve of DIN 68800-2 is left."""
        return self.drying - self.condensed >= self.reserve

    @property
    def verdict(self) -> str:
        """The outcome in words."""
        if not self.planes:
            return "No condensation in the winter block."
        text = f"{1e3 * self.condensed:.0f} g/m² condense in winter, up to {1e3 * self.drying:.0f} g/m² dry in summer: "
        text += "permitted." if self.passes else "not permitted."
        left = 1e3 * (self.drying - self.condensed)
        enough = "enough" if self.has_reserve else "too little"
        return f"{text} Drying reserve {left:.0f} g/m², {enough} for wood ({1e3 * self.reserve:.0f} g/m² wanted)."

    def __str__(self) -> str:
        lines = [f"{self.assembly}: two-block check."]
        if self.planes:
            lines.append(f"{'plane':<52}{'°C':>7}{'g/m²':>8}{'limit':>8}")
        lines += [
            f"{one.name:<52}{one.temperature:>7.1f}{1e3 * one.condensed:>8.0f}{1e3 * one.limit:>8.0f}  {one.because}"
            for one in self.planes
        ]
        return "\n".join([*lines, self.verdict, *self.notes, LIMITS])

    __repr__ = __str__


def block_condensation(
    assembly: Assembly,
    blocks: BlockClimate | None = None,
    *,
    humidity: float = 0.5,
    well_ventilated: bool | None = None,
) -> BlockCondensation:
    """Condensate of a winter block and its drying in a summer block.

    Parameters
    ----------
    assembly : Assembly
        The build-up; a well ventilated gap and what lies outside it are left out.
    blocks : BlockClimate, optional
        The two blocks; without it those of DIN 4108-3:2014.
    humidity : float, optional
        Relative humidity at which vapour resistances that depend on it are read. [1]
    well_ventilated : bool, optional
        Count the gap as well ventilated (True) or as still air (False), whatever its openings say.

    Returns
    -------
    BlockCondensation
        Planes, drying and outcome.

    Raises
    ------
    InputError
        Where an argument cannot be.

    Notes
    -----
    Interfaces between layers count, not the inside of layers. In summer every wet plane has the same saturation
    pressure, so the outermost dries outwards and the innermost inwards; a plane that is dry hands over to the next, and
    the last one counts as never running dry: that is the most that can dry.

    References
    ----------
    DIN 4108-3:2014, annex A (from memory).
    """
    block = BlockClimate() if blocks is None else blocks
    if not isinstance(block, BlockClimate):
        msg = f"The two-block check needs a BlockClimate; got {block!r}."
        raise InputError(msg)
    path = chain(assembly, inner_resistance=SURFACE_RESISTANCE, humidity=humidity, well_ventilated=well_ventilated)
    place = np.concatenate([[0.0], np.cumsum([one.s_d for one in path.pieces])])
    temperature = np.array(path.temperatures(block.outdoor_temperature, block.indoor_temperature))
    outer = block.outdoor_humidity * float(saturation_pressure_iso(block.outdoor_temperature))
    inner = block.indoor_humidity * float(saturation_pressure_iso(block.indoor_temperature))
    found = vapour_profile(place, saturation_pressure_iso(temperature), np.zeros(len(place), dtype=bool), outer, inner)
    amounts = found.gain * block.winter * _SECONDS_PER_HOUR
    wet = np.flatnonzero(amounts > 0.0).tolist()
    planes = tuple(_plane(assembly, path, n, float(temperature[n]), float(amounts[n])) for n in wet)
    ceiling = block.roof_pressure if assembly.kind == "roof" else block.wall_pressure
    held = {n: float(amounts[n]) for n in wet}
    drying = _drying(place, held, ceiling - block.drying_pressure, block.summer * _SECONDS_PER_HOUR)
    notes = (*path.notes, f"Blocks and limits: {SOURCE}; the strict limit for wood-based boards is held to all wood.")
    return BlockCondensation(assembly.name, planes, drying, RESERVE[assembly.kind], notes)


def _plane(assembly: Assembly, path: Chain, node: int, temperature: float, condensed: float) -> CondensingPlane:
    sides = path.pieces[node - 1], path.pieces[node]
    limit, because = MOST, "in all"
    for side in sides:
        part = assembly.parts[side.part]
        if not isinstance(part, Layer):
            found, why = MOST_BESIDE_TIGHT, f"'{side.name}' takes up no water"
        elif part.material.is_wood:
            found = MOST_IN_WOOD * part.material.density * part.thickness
            why = f"3 % of the mass of '{side.name}'"
        elif not part.material.transports_liquid:
            found, why = MOST_BESIDE_TIGHT, f"'{side.name}' takes up no water"
        else:
            continue
        if found < limit:
            limit, because = found, why
    return CondensingPlane(f"between '{sides[0].name}' and '{sides[1].name}'", temperature, condensed, limit, because)


def _drying(place: Array, held: dict[int, float], drive: float, left: float) -> float:
    """Most that dries [kg m-2] in the seconds that are left, from what each plane holds [kg m-2]."""
    gone = 0.0
    if not held or drive <= 0.0:
        return gone
    while True:
        outer, inner = min(held), max(held)
        outwards = AIR_PERMEABILITY * drive / float(place[outer])
        inwards = AIR_PERMEABILITY * drive / float(place[-1] - place[inner])
        if outer == inner:
            return gone + (outwards + inwards) * left
        step = min(held[outer] / outwards, held[inner] / inwards, left)
        gone, left = gone + (outwards + inwards) * step, left - step
        if left <= 0.0:
            return gone
        for node, rate in ((outer, outwards), (inner, inwards)):
            held[node] -= rate * step
            if held[node] <= _TRACE and len(held) > 1:
                del held[node]
