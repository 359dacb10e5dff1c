r"""Thermal transmittance of a build-up with studs, rafters or battens: the combined method of ISO 6946.

.. math::

    \frac{1}{R'} = \sum_k \frac{f_k}{R_k}, \qquad
    R'' = R_{si} + \sum_j \Bigl(\sum_k \frac{f_k}{R_{jk}}\Bigr)^{-1} + R_{se}, \qquad
    R_T = \frac{R' + R''}{2}, \quad U = 1/R_T + \Delta U

May import: assembly, materials, surfaces, units, errors.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Final

from hygro import materials
from hygro.assembly import Assembly
from hygro.errors import InputError
from hygro.materials import Material
from hygro.steady.path import Chain, Ventilation, chain, gap_ventilation, ventilated_share
from hygro.units import to_si

HIGHEST_RATIO: Final = (
    1.5  # [1] of the limits up to which ISO 6946:2017 clause 6.7.2 lets the method be used (from memory)
)
METAL: Final = 5.0  # [W m-1 K-1] what conducts better counts as metal; a choice of this package
AIR_GAP_CORRECTION: Final = (0.0, 0.01, 0.04)  # [W m-2 K-1] ISO 6946 annex F, levels 0 to 2 (from memory)
FASTENER_FACTOR: Final = 0.8  # [1] ISO 6946 annex F (from memory)
LIMITS: Final = (
    "Combined method of ISO 6946: steady heat through plane layers. It is not for insulation bridged by metal, and "
    "leaves out corners, edges, openings, the ground and air that moves within the insulation."
)


@dataclass(frozen=True, slots=True, init=False)
class Framing:
    """Studs, rafters or battens that take a share of one or several layers.

    Parameters
    ----------
    material : str or Material
        What they are of.
    share : float or str
        Share of the area that they take: 45 mm studs every 600 mm take 0.075, plates and blocking more. [1]
    layers : str or iterable of str
        Labels of the layers that they run through in line with each other.

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    material: Material
    share: float
    layers: tuple[str, ...]

    def __init__(self, material: str | Material, share: float | str, layers: str | Iterable[str]) -> None:
        if isinstance(material, str):
            material = materials.get(material)
        if not isinstance(material, Material):
            msg = f"Framing: material is {material!r}; give the name of one in materials.names() or a Material."
            raise InputError(msg)
        if material.conductivity > METAL:
            msg = (
                f"Framing of {material.name!r} conducts {material.conductivity:g} W/(m K): ISO 6946 is not for metal "
                "that bridges insulation. Use a two- or three-dimensional calculation; metal_part gives a first idea."
            )
            raise InputError(msg)
        part = to_si(share, "fraction", "Framing: share")
        if not 0.0 < part < 1.0:
            hint = f' Did you mean "{part:g} %"?' if 1.0 <= part < 100.0 else ""
            msg = f"Framing of {material.name!r}: share is {part:g}; it must lie between 0 and 1.{hint}"
            raise InputError(msg)
        object.__setattr__(self, "material", material)
        object.__setattr__(self, "share", part)
        object.__setattr__(self, "layers", (layers,) if isinstance(layers, str) else tuple(layers))


@dataclass(frozen=True, slots=True)
class AirGaps:
    """Gaps around and between pieces of insulation.

    Parameters
    ----------
    layer : str
        Label of the insulation.
    level : int
        0 none to speak of; 1 gaps that bridge from the warm to the cold side; 2 such gaps with air that circulates on
        the warm side.
    """

    layer: str
    level: int

    def __post_init__(self) -> None:
        if self.level not in (0, 1, 2):
            msg = f"Air gaps in {self.layer!r}: level is {self.level!r}; it must be 0, 1 or 2."
            raise InputError(msg)


@dataclass(frozen=True, slots=True)
class Fasteners:
    """Metal fasteners through an insulation.

    Parameters
    ----------
    layer : str
        Label of the insulation.
    conductivity : float
        Of the fastener: 50 for steel, 17 for stainless steel. [W m-1 K-1]
    area : float
        Cross-section of one. [m2]
    per_area : float
        How many in a square metre. [m-2]
    length : float
        Of the part in the insulation; of an oblique one more than its thickness. [m]
    """

    layer: str
    conductivity: float
    area: float
    per_area: float
    length: float

    def __post_init__(self) -> None:
        for name, high in (("conductivity", 500.0), ("area", 1e-2), ("per_area", 1e3), ("length", 2.0)):
            value = getattr(self, name)
            if not 0.0 < value <= high:
                msg = f"Fasteners in {self.layer!r}: {name} is {value!r}; it must be above 0 and at most {high:g} (SI)."
                raise InputError(msg)


@dataclass(frozen=True, slots=True)
class Section:
    """A share of the area with one chain of resistances.

    Attributes
    ----------
    name : str
        What it is.
    share : float
        Of the area. [1]
    resistance : float
        Air to air. [m2 K W-1]
    """

    name: str
    share: float
    resistance: float


@dataclass(frozen=True, slots=True)
class Transmittance:
    """Result of the combined method; prints as a table.

    Attributes
    ----------
    assembly : str
        Name of the build-up.
    upper, lower : float
        Limits of the resistance, air to air. [m2 K W-1]
    resistance : float
        Total resistance, air to air. [m2 K W-1]
    correction : float
        What gaps and fasteners add to the transmittance. [W m-2 K-1]
    sections : tuple of Section
        Side by side.
    notes : tuple of str
        Which rules applied.
    """

    assembly: str
    upper: float
    lower: float
    resistance: float
    correction: float
    sections: tuple[Section, ...]
    notes: tuple[str, ...]

    @property
    def U(self) -> float:
        """Thermal transmittance, corrected. [W m-2 K-1]."""
        return 1.0 / self.resistance + self.correction

    @property
    def error(self) -> float:
        """Largest relative error of the method. [1]."""
        return (self.upper - self.lower) / (2.0 * self.resistance)

    def __str__(self) -> str:
        lines = [f"{self.assembly}: U {self.U:.3f} W/(m² K).", f"{'section':<40}{'share %':>9}{'R m² K/W':>10}"]
        lines += [f"{one.name:<40}{100.0 * one.share:>9.1f}{one.resistance:>10.3f}" for one in self.sections]
        lines.append(
            f"Upper limit {self.upper:.3f}, lower limit {self.lower:.3f}, total {self.resistance:.3f} m² K/W; error of "
            f"the method at most {100.0 * self.error:.1f} %; corrections {self.correction:.3f} W/(m² K)."
        )
        return "\n".join([*lines, *self.notes, LIMITS])

    __repr__ = __str__


def transmittance(
    assembly: Assembly,
    framing: Iterable[Framing] = (),
    *,
    air_gaps: AirGaps | None = None,
    fasteners: Fasteners | None = None,
) -> Transmittance:
    """Thermal transmittance by the combined method.

    Parameters
    ----------
    assembly : Assembly
        The build-up.
    framing : iterable of Framing
        Studs, rafters, battens; those of different `Framing` cross each other.
    air_gaps : AirGaps, optional
        Gaps in the insulation.
    fasteners : Fasteners, optional
        Fasteners through the insulation.

    Returns
    -------
    Transmittance
        Limits, total, sections and rules.

    Raises
    ------
    InputError
        Where a layer is unknown, is framed twice, or lies outside a well ventilated gap.

    Notes
    -----
    A slightly ventilated gap takes the resistances with an unventilated and with a well ventilated gap in the ratio of
    its openings. A dry material's conductivity counts.

    References
    ----------
    ISO 6946:2017, clauses 6.7 and 6.9, annexes D and F (annex F from memory).
    """
    frames = tuple(framing)
    path = chain(assembly)
    _check(assembly, frames, path)
    notes = [path.gap_note] if path.gap_note else []
    gap = assembly.gap
    upper, lower, sections = _limits(path, assembly, frames)
    resistance = 0.5 * (upper + lower)
    if gap is not None and gap_ventilation(gap, assembly.kind) is Ventilation.SLIGHTLY:
        weight = ventilated_share(gap, assembly.kind)
        open_path = chain(assembly, well_ventilated=True)
        high, low, _ = _limits(open_path, assembly, frames)
        resistance = (1.0 - weight) * resistance + weight * 0.5 * (high + low)
        upper, lower = (1.0 - weight) * upper + weight * high, (1.0 - weight) * lower + weight * low
        notes = [
            f"'{gap.name}' is slightly ventilated: {100.0 * weight:.0f} % of the way from unventilated to well "
            "ventilated. The sections show it unventilated."
        ]
    if upper / lower > HIGHEST_RATIO:
        notes.append(
            f"The upper limit is {upper / lower:.2f} times the lower: beyond {HIGHEST_RATIO:g} ISO 6946 does not let "
            "this method be used. Use a two- or three-dimensional calculation."
        )
    correction = 0.0
    for one in (air_gaps, fasteners):
        if one is not None:
            correction += _correction(one, assembly, path, resistance)
    return Transmittance(assembly.name, upper, lower, resistance, correction, sections, tuple(notes))


def _check(assembly: Assembly, frames: tuple[Framing, ...], path: Chain) -> None:
    counted = {one.name for one in path.pieces}
    seen: set[str] = set()
    for frame in frames:
        if not isinstance(frame, Framing) or not frame.layers:
            msg = f"Framing of {assembly.name!r} is {frame!r}; write Framing(material, share, layers)."
            raise InputError(msg)
        for label in frame.layers:
            assembly.layer_number(label)
            if label not in counted:
                msg = f"Framing: layer {label!r} lies outside the well ventilated gap and does not count. Leave it out."
                raise InputError(msg)
            if label in seen:
                msg = f"Framing: layer {label!r} is framed twice; state one share for it."
                raise InputError(msg)
            seen.add(label)


def _limits(path: Chain, assembly: Assembly, frames: tuple[Framing, ...]) -> tuple[float, float, tuple[Section, ...]]:
    """Upper and lower limit of the resistance, and the sections."""
    bounds = path.outer_resistance + path.inner_resistance
    framed = {label: frame for frame in frames for label in frame.layers}
    thickness = dict(zip(assembly.labels, (layer.thickness for layer in assembly.layers), strict=True))
    plain = {one.name: one.resistance for one in path.pieces if one.name in framed}
    wooden = {label: thickness[label] / frame.material.conductivity for label, frame in framed.items()}
    rest = bounds + sum(one.resistance for one in path.pieces if one.name not in framed)
    sections = []
    for inside in product((False, True), repeat=len(frames)):
        share = math.prod(f.share if there else 1.0 - f.share for f, there in zip(frames, inside, strict=True))
        resistance = rest
        for frame, there in zip(frames, inside, strict=True):
            resistance += sum((wooden if there else plain)[label] for label in frame.layers if label in plain)
        names = [
            f"{f.material.name} in {', '.join(f.layers)}" for f, there in zip(frames, inside, strict=True) if there
        ]
        sections.append(
            Section(" and ".join(names) or "between the framing" if frames else "whole area", share, resistance)
        )
    upper = 1.0 / sum(one.share / one.resistance for one in sections)
    lower = rest + sum(
        1.0 / ((1.0 - frame.share) / plain[label] + frame.share / wooden[label])
        for label, frame in framed.items()
        if label in plain
    )
    return upper, lower, tuple(sections)


def _correction(one: AirGaps | Fasteners, assembly: Assembly, path: Chain, resistance: float) -> float:
    assembly.layer_number(one.layer)
    layer = next((piece for piece in path.pieces if piece.name == one.layer), None)
    if layer is None:
        msg = (
            f"Layer {one.layer!r} lies outside the well ventilated gap; its gaps and fasteners do not count. Drop them."
        )
        raise InputError(msg)
    share = (layer.resistance / resistance) ** 2
    if isinstance(one, AirGaps):
        return AIR_GAP_CORRECTION[one.level] * share
    thickness = assembly.layers[assembly.layer_number(one.layer)].thickness
    factor = FASTENER_FACTOR * one.length / thickness
    return factor * one.conductivity * one.area * one.per_area / thickness * share
