"""The way from outdoors to indoors through a build-up, as a chain of resistances to heat and to vapour.

What a vent gap means is said here once: a well ventilated gap, and all that lies outside it, is left out and the
surface behind it faces still outdoor air; other gaps are air layers.

May import: assembly, gapflow, surfaces, errors, constants, core formulas.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from hygro.core.formulas import unventilated_film_coefficient
from hygro.errors import InputError
from hygro.gapflow import ByWindAndBuoyancy, FixedAirChange
from hygro.surfaces import INDOOR_RESISTANCE

OUTER_RESISTANCE: Final = 0.04  # [m2 K W-1] ISO 6946, outer surface
AIR_LAYER_S_D: Final = 0.01  # [m] ISO 13788, an air layer of any thickness (from memory)
TIGHTEST_S_D: Final = 1.0e5  # [m] what counts as vapour-tight in a chain of resistances; a choice of this package
STILL_OPENINGS: Final = 500e-6  # [m2] per metre of wall or per square metre of roof, ISO 6946:2017 clause 6.9
OPEN_OPENINGS: Final = 1500e-6  # [m2] likewise
STILL_RATE, OPEN_RATE = 15.0, 100.0  # [h-1] stated air changes, see `ventilated_share`
MEAN_TEMPERATURE: Final = 10.0  # [degC] at which ISO 6946 takes radiation across an air layer

_FLOW: Final = {"up": "upwards", "horizontal": "sideways", "down": "downwards"}


class Ventilation(StrEnum):
    """How a gap counts by the openings that it has (ISO 6946)."""

    UNVENTILATED = "unventilated"
    SLIGHTLY = "slightly ventilated"
    WELL = "well ventilated"


@dataclass(frozen=True, slots=True)
class Piece:
    """One resistance of the chain.

    Attributes
    ----------
    name : str
        Label of the layer, sheet or gap.
    part : int
        Number of the assembly's part, from outside, starting at 0.
    resistance : float
        Thermal resistance. [m2 K W-1]
    s_d : float
        Vapour-diffusion-equivalent air layer thickness. [m]
    """

    name: str
    part: int
    resistance: float
    s_d: float


@dataclass(frozen=True, slots=True)
class Chain:
    """What heat and vapour pass between outdoor and indoor air, outside first.

    Attributes
    ----------
    pieces : tuple of Piece
        Layers, sheets and air layers.
    outer_resistance, inner_resistance : float
        Of the surfaces. [m2 K W-1]
    gap_note, vapour_note : str
        How the gap and vapour-tight parts count, in words; empty where there are none.
    """

    pieces: tuple[Piece, ...]
    outer_resistance: float
    inner_resistance: float
    gap_note: str
    vapour_note: str

    @property
    def notes(self) -> tuple[str, ...]:
        """What was left out or assumed, in words."""
        return tuple(note for note in (self.gap_note, self.vapour_note) if note)

    @property
    def resistance(self) -> float:
        """Total thermal resistance, surfaces included. [m2 K W-1]."""
        return self.outer_resistance + sum(one.resistance for one in self.pieces) + self.inner_resistance

    def temperatures(self, outdoor: float, indoor: float) -> list[float]:
        """Temperatures [degC] of the outer surface, of each interface and of the inner surface."""
        flux = (indoor - outdoor) / self.resistance
        found = [outdoor + flux * self.outer_resistance]
        for one in self.pieces:
            found.append(found[-1] + flux * one.resistance)
        return found


def ventilated_share(gap: VentGap, kind: str) -> float:
    """How far a gap is from unventilated (0) to well ventilated (1).

    Parameters
    ----------
    gap : VentGap
        The gap.
    kind : {"roof", "wall", "floor"}
        What it is part of: a wall's openings count per metre of its length, a roof's or floor's per square metre.

    Returns
    -------
    float
        0 up to 500 mm2 and 1 from 1500 mm2 of free area of both openings, screens and blocking taken off. A stated air
        change has no openings: 0 up to 15 and 1 from 100 an hour. [1]

    References
    ----------
    ISO 6946:2017, clause 6.9. Air changes of cavities behind cladding as measured in the field, where vented ones reach
    15 to 25 an hour and ventilated ones 100 and more; their use as limits is a choice of this package.
    """
    flow = gap.flow
    if isinstance(flow, FixedAirChange):
        amount, low, high = flow.rate, STILL_RATE, OPEN_RATE
    elif isinstance(flow, ByWindAndBuoyancy):
        free = (flow.inlet + flow.outlet) * flow.screen * (1.0 - flow.blocked)
        amount, low, high = free if kind == "wall" else free / gap.length, STILL_OPENINGS, OPEN_OPENINGS
    else:
        return 0.0
    return min(max((amount - low) / (high - low), 0.0), 1.0)


def gap_ventilation(gap: VentGap, kind: str) -> Ventilation:
    """Class of a gap by its openings.

    Parameters
    ----------
    gap : VentGap
        The gap.
    kind : {"roof", "wall", "floor"}
        What it is part of.

    Returns
    -------
    Ventilation
        By `ventilated_share`; a gap open at one end only is at most slightly ventilated, as air does not pass through.

    References
    ----------
    ISO 6946:2017, clause 6.9; the rule for one open end is a choice of this package.
    """
    share, flow = ventilated_share(gap, kind), gap.flow
    if share <= 0.0:
        return Ventilation.UNVENTILATED
    through = not isinstance(flow, ByWindAndBuoyancy) or min(flow.inlet, flow.outlet) > 0.0
    return Ventilation.WELL if share >= 1.0 and through else Ventilation.SLIGHTLY


def air_layer_resistance(gap: VentGap, heat_flow: str) -> float:
    r"""Thermal resistance of an unventilated air layer.

    .. math:: R = 1 / (h_a + h_{r0} / (1/\varepsilon_1 + 1/\varepsilon_2 - 1))

    Parameters
    ----------
    gap : VentGap
        Its thickness and the emissivities of its faces count.
    heat_flow : {"up", "horizontal", "down"}
        Direction of the heat flow.

    Returns
    -------
    float
        Resistance at 10 degC and up to 5 K across the layer. [m2 K W-1]

    References
    ----------
    ISO 6946:2017, annex D.
    """
    first, second = gap.emissivity
    radiation = 4.0 * STEFAN_BOLTZMANN * (MEAN_TEMPERATURE + ZERO_CELSIUS) ** 3
    exchange = 1.0 / (1.0 / first + 1.0 / second - 1.0)
    return 1.0 / (unventilated_film_coefficient(gap.thickness, heat_flow) + exchange * radiation)


def chain(
    assembly: Assembly,
    *,
    inner_resistance: float | None = None,
    humidity: float = 0.5,
    finest: float = math.inf,
    well_ventilated: bool | None = None,
) -> Chain:
    """Chain of resistances of a build-up.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    inner_resistance : float, optional
        Of the inner surface; without it that of ISO 6946 for the direction of heat flow. [m2 K W-1]
    humidity : float, optional
        Relative humidity at which vapour resistances that depend on it are read. [1]
    finest : float, optional
        Largest thermal resistance of a piece; thicker layers are cut into equal pieces. [m2 K W-1]
    well_ventilated : bool, optional
        Count the gap as well ventilated or as unventilated, whatever its openings say.

    Returns
    -------
    Chain
        Outside first.

    Raises
    ------
    InputError
        Where `assembly` is no Assembly, or a resistance or humidity cannot be.
    """
    if not isinstance(assembly, Assembly):
        msg = f"A steady check works on an Assembly; got {type(assembly).__name__}. State the build-up first."
        raise InputError(msg)
    if inner_resistance is not None and not 0.0 < inner_resistance <= 2.0:
        msg = f"The inner surface's resistance is {inner_resistance!r}; it must be above 0 and at most 2 m2 K/W."
        raise InputError(msg)
    if not 0.0 < humidity <= 1.0:
        msg = f"Vapour resistances are to be read at a relative humidity of {humidity!r}; write a fraction such as 0.5."
        raise InputError(msg)
    inner = INDOOR_RESISTANCE[assembly.heat_flow] if inner_resistance is None else inner_resistance
    outer, first, gap_note = OUTER_RESISTANCE, 0, ""
    gap = assembly.gap
    if gap is not None:
        place = assembly.parts.index(gap)
        state = gap_ventilation(gap, assembly.kind)
        if well_ventilated if well_ventilated is not None else state is Ventilation.WELL:
            outer, first = INDOOR_RESISTANCE[assembly.heat_flow], place + 1
            outside = ", ".join(repr(part.name) for part in assembly.parts[:place])
            stated = "" if well_ventilated is None else ", as stated"
            gap_note = (
                f"'{gap.name}' is well ventilated{stated}: it and what lies outside it ({outside}) are left out, and "
                f"the surface behind it faces still outdoor air (R {outer:g} m2 K/W)."
            )
        else:
            gap_note = f"'{gap.name}' is {state} by its openings; it counts as a layer of still air."
    pieces: list[Piece] = []
    labels = iter(assembly.labels)
    for number, part in enumerate(assembly.parts):
        label = next(labels) if isinstance(part, Layer) else part.name
        if number >= first:
            pieces += _pieces(part, label, number, assembly.heat_flow, humidity, finest)
    said = []
    if any(one.s_d >= TIGHTEST_S_D for one in pieces):
        said.append(f"Vapour-tight parts count as s_d {TIGHTEST_S_D:.0f} m.")
    varies = [part.name for part in assembly.parts[first:] if _varies(part)]
    if varies:
        listed = ", ".join(map(repr, dict.fromkeys(varies)))
        said.append(f"Vapour resistances are read at {100.0 * humidity:.0f} % relative humidity (they vary: {listed}).")
    return Chain(tuple(pieces), outer, inner, gap_note, " ".join(said))


def _varies(part: Layer | Sheet | VentGap) -> bool:
    if isinstance(part, Layer):
        return not isinstance(part.material.vapour_resistance, float)
    return isinstance(part, Sheet) and part.material.is_variable


def _pieces(
    part: Layer | Sheet | VentGap, label: str, number: int, heat_flow: str, humidity: float, finest: float
) -> list[Piece]:
    if isinstance(part, VentGap):
        return [Piece(label, number, air_layer_resistance(part, heat_flow), AIR_LAYER_S_D)]
    s_d = min(part.s_d(humidity), TIGHTEST_S_D)
    if isinstance(part, Sheet):
        return [Piece(label, number, 0.0, s_d)]
    resistance = part.thermal_resistance
    n = max(math.ceil(resistance / finest - 1e-9), 1)
    return [Piece(label, number, resistance / n, s_d / n)] * n
