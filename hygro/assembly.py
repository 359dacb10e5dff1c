"""The build-up: what the user states about layers, sheets and the vent gap, listed from outside to inside.

May import: materials and above.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from itertools import pairwise

from hygro import materials
from hygro.errors import InputError, MaterialError
from hygro.gapflow import ByWindAndBuoyancy, Closed, GapFlow
from hygro.materials import Finish, Material, SheetMaterial
from hygro.section import Drawing, Row, as_html, as_text
from hygro.units import to_si

_THICKEST, _THINNEST = 3.0, 1e-5  # [m] of a layer


def _text(value: object, what: str) -> str:
    if not isinstance(value, str) or not value.strip():
        msg = f"{what} is {value!r}; give it a name in plain text."
        raise InputError(msg)
    return value.strip()


def _length(value: object, what: str, lowest: float, highest: float) -> float:
    number = to_si(value, "length", what)
    if number <= 0.0:
        msg = f"{what} is {value}; it must be above 0. Leave the part out if it is not there."
        raise InputError(msg)
    if not lowest <= number <= highest:
        guess = f' Did you mean "{number:g} mm"?' if number > highest else ""
        msg = f"{what} is {number:g} m; it must lie between {1e3 * lowest:g} mm and {1e3 * highest:g} mm.{guess}"
        raise InputError(msg)
    return number


def _humidity(value: object, what: str) -> float:
    number = to_si(value, "fraction", what)
    if not 0.0 < number <= 1.0:
        guess = f' Did you mean "{number:g} %"?' if not isinstance(value, str) and 1.0 < number <= 100.0 else ""
        msg = f"{what} is {number:g}; it must be above 0 and at most 1.{guess}"
        raise InputError(msg)
    return number


@dataclass(frozen=True, slots=True, init=False)
class Layer:
    """A layer that has thickness.

    Parameters
    ----------
    material : str or Material
        Name in the library, or a material of your own.
    thickness : str or float
        For instance ``"18 mm"``, ``"3/4 in"`` or 0.018. [m]
    name : str, optional
        What to call it; the material's name otherwise.
    start_humidity : str or float, optional
        Relative humidity it is in equilibrium with at the start, where it differs from the rest. [1]
    start_moisture : str or float, optional
        The same as water per dry mass, for instance ``"25 %"``. [kg kg-1]

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    material: Material
    thickness: float
    name: str
    start_humidity: float | None
    start_moisture: float | None

    def __init__(
        self,
        material: str | Material,
        thickness: str | float,
        *,
        name: str | None = None,
        start_humidity: str | float | None = None,
        start_moisture: str | float | None = None,
    ) -> None:
        if isinstance(material, str):
            material = materials.get(material)
        if not isinstance(material, Material):
            msg = f"A layer's material is {material!r}; give the name of one in materials.names() or a Material."
            raise InputError(msg)
        label = material.name if name is None else _text(name, "A layer's name")
        what = f"Layer {label!r}"
        if start_humidity is not None and start_moisture is not None:
            msg = f"{what}: both start_humidity and start_moisture are given; give one of them."
            raise InputError(msg)
        object.__setattr__(self, "material", material)
        object.__setattr__(self, "thickness", _length(thickness, f"{what}: thickness", _THINNEST, _THICKEST))
        object.__setattr__(self, "name", label)
        humidity = None if start_humidity is None else _humidity(start_humidity, f"{what}: start_humidity")
        object.__setattr__(self, "start_humidity", humidity)
        moisture = None if start_moisture is None else to_si(start_moisture, "fraction", f"{what}: start_moisture")
        if moisture is not None:
            most = material.saturation / material.density
            if not 0.0 < moisture <= most:
                guess = f' Did you mean "{moisture:g} %"?' if moisture > 1.0 else ""
                msg = (
                    f"{what}: start_moisture is {moisture:g} of the dry mass; it must lie between 0 and {most:.3g}."
                    f"{guess}"
                )
                raise InputError(msg)
        object.__setattr__(self, "start_moisture", moisture)

    @property
    def thermal_resistance(self) -> float:
        """Thermal resistance of the dry layer. [m2 K W-1]."""
        return self.thickness / self.material.conductivity

    def s_d(self, humidity: float = 0.5) -> float:
        """Vapour-diffusion-equivalent air layer thickness [m] at a relative humidity [1]."""
        return float(self.material.vapour_resistance_factor(humidity)) * self.thickness


def _known_sheet(name: str) -> SheetMaterial:
    try:
        return materials.sheet(name)
    except MaterialError as error:
        msg = f"{error} For a sheet of your own state s_d or permeance."
        raise MaterialError(msg) from None


@dataclass(frozen=True, slots=True, init=False)
class Sheet:
    """A membrane, foil, felt or coat: vapour resistance without thickness.

    Parameters
    ----------
    material : str or SheetMaterial
        Name in the library, a sheet of your own, or just a name together with `s_d` or `permeance`.
    s_d : str or float, optional
        Vapour-diffusion-equivalent air layer thickness. [m]
    permeance : str or float, optional
        For instance ``"5 perm"``. [kg m-2 s-1 Pa-1]
    name : str, optional
        What to call it.

    Raises
    ------
    InputError
        Where the sheet is unknown and no resistance is given, or a value cannot be.
    """

    material: SheetMaterial
    name: str

    def __init__(
        self,
        material: str | SheetMaterial,
        *,
        s_d: str | float | None = None,
        permeance: str | float | None = None,
        name: str | None = None,
    ) -> None:
        if isinstance(material, str):
            if s_d is None and permeance is None:
                material = _known_sheet(material)
            else:
                material = SheetMaterial(material, s_d=s_d, permeance=permeance)
        elif s_d is not None or permeance is not None:
            msg = f"Sheet {getattr(material, 'name', material)!r}: its resistance is stated twice; leave one out."
            raise InputError(msg)
        if not isinstance(material, SheetMaterial):
            msg = f"A sheet's material is {material!r}; give the name of one in materials.names() or a SheetMaterial."
            raise InputError(msg)
        object.__setattr__(self, "material", material)
        object.__setattr__(self, "name", material.name if name is None else _text(name, "A sheet's name"))

    def s_d(self, humidity: float = 0.5) -> float:
        """Vapour-diffusion-equivalent air layer thickness [m] at a mean relative humidity [1]."""
        return float(self.material.equivalent_air_thickness(humidity))


@dataclass(frozen=True, slots=True, init=False)
class VentGap:
    """An air gap that may be ventilated.

    Parameters
    ----------
    thickness : str or float
        Clear height between its faces. [m]
    length : str or float
        From inlet to outlet, along the slope. [m]
    flow : GapFlow
        `ByWindAndBuoyancy`, `FixedAirChange` or `Closed`; the default has openings of 20 cm2 per metre at each end.
    emissivity : pair of float
        Long-wave emissivity of the outer and of the inner face. [1]
    slices : int
        Pieces along the flow that are computed one after the other. One, the default, gives the mean of the deck; eight
        its wettest place as well, at several times the computing time.
    name : str
        What to call it.

    Raises
    ------
    InputError
        Where a value cannot be.
    """

    thickness: float
    length: float
    flow: GapFlow
    emissivity: tuple[float, float]
    slices: int
    name: str

    def __init__(
        self,
        thickness: str | float,
        *,
        length: str | float,
        flow: GapFlow | None = None,
        emissivity: tuple[float, float] = (0.9, 0.9),
        slices: int = 1,
        name: str = "vent gap",
    ) -> None:
        label = _text(name, "A vent gap's name")
        what = f"Vent gap {label!r}"
        if flow is None:
            flow = ByWindAndBuoyancy(inlet="20 cm^2/m", outlet="20 cm^2/m")
        if not hasattr(flow, "loss_coefficient"):
            msg = f"{what}: flow is {flow!r}; give ByWindAndBuoyancy(...), FixedAirChange(...) or Closed()."
            raise InputError(msg)
        if not isinstance(slices, int) or isinstance(slices, bool) or not 1 <= slices <= 64:
            msg = f"{what}: slices is {slices!r}; it must be a whole number from 1 to 64."
            raise InputError(msg)
        if slices > 1 and isinstance(flow, Closed):
            msg = f"{what}: slices is {slices}, but the gap is closed: no air flows along it. Leave slices out."
            raise InputError(msg)
        pair = emissivity if isinstance(emissivity, Iterable) and not isinstance(emissivity, str) else ()
        values = tuple(to_si(value, "fraction", f"{what}: emissivity") for value in pair)
        if len(values) != 2 or not all(0.0 < value <= 1.0 for value in values):
            msg = f"{what}: emissivity is {emissivity!r}; give two numbers above 0 and at most 1, outer face first."
            raise InputError(msg)
        object.__setattr__(self, "thickness", _length(thickness, f"{what}: thickness", 0.002, 0.5))
        object.__setattr__(self, "length", _length(length, f"{what}: length", 0.1, 100.0))
        object.__setattr__(self, "flow", flow)
        object.__setattr__(self, "emissivity", values)
        object.__setattr__(self, "slices", slices)
        object.__setattr__(self, "name", label)

    @property
    def is_vented(self) -> bool:
        """Whether its openings let air through."""
        return not isinstance(self.flow, Closed)


Part = Layer | Sheet | VentGap


@dataclass(frozen=True, slots=True, init=False)
class Assembly:
    """A roof, wall or floor: its parts from outside to inside.

    Parameters
    ----------
    name : str
        What to call it.
    parts : iterable of Layer, Sheet, VentGap
        From outside to inside.
    tilt : str or float
        Angle between the outer face and the horizontal: 0 a flat roof, 90 a wall, 180 a floor seen from below. [degree]
    azimuth : str or float
        Where the outer face looks to, clockwise from north: 180 is south. [degree]
    finish : str or Finish
        Colour and emissivity of the outer face: a name of ``materials.names("finishes")`` or a `Finish`.

    Raises
    ------
    InputError
        Where the list is empty, holds something else, or cannot be computed.
    """

    name: str
    parts: tuple[Part, ...]
    tilt: float
    azimuth: float
    finish: Finish
    labels: tuple[str, ...] = field(compare=False)

    def __init__(
        self, name: str, parts: Iterable[Part], *, tilt: str | float, azimuth: str | float, finish: str | Finish
    ) -> None:
        label = _text(name, "An assembly's name")
        what = f"Assembly {label!r}"
        if not isinstance(parts, Iterable) or isinstance(parts, str):
            msg = f"{what}: its parts are {parts!r}; list layers, sheets and at most one gap, from outside to inside."
            raise InputError(msg)
        listed = tuple(parts)
        for number, part in enumerate(listed, start=1):
            if not isinstance(part, Layer | Sheet | VentGap):
                msg = f"{what}: part {number} is {part!r}; it must be a Layer, a Sheet or a VentGap."
                raise InputError(msg)
        if not any(isinstance(part, Layer) for part in listed):
            msg = f"{what} has no layer; list at least one Layer, from outside to inside."
            raise InputError(msg)
        _check_gaps(listed, what)
        slope, bearing = to_si(tilt, "angle", f"{what}: tilt"), to_si(azimuth, "angle", f"{what}: azimuth")
        if not 0.0 <= slope <= 180.0:
            msg = f"{what}: tilt is {slope:g} degrees; it must lie between 0 (flat roof), 90 (wall) and 180 (floor)."
            raise InputError(msg)
        if not 0.0 <= bearing <= 360.0:
            msg = f"{what}: azimuth is {bearing:g} degrees; it must lie between 0 and 360, clockwise from north."
            raise InputError(msg)
        if isinstance(finish, str):
            finish = materials.finish(finish)
        if not isinstance(finish, Finish):
            msg = f"{what}: finish is {finish!r}; give the name of one in materials.names('finishes') or a Finish."
            raise InputError(msg)
        object.__setattr__(self, "name", label)
        object.__setattr__(self, "parts", listed)
        object.__setattr__(self, "tilt", slope)
        object.__setattr__(self, "azimuth", bearing)
        object.__setattr__(self, "finish", finish)
        object.__setattr__(self, "labels", unique([part.name for part in listed if isinstance(part, Layer)]))

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts)

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The layers alone, from outside to inside."""
        return tuple(part for part in self.parts if isinstance(part, Layer))

    @property
    def gap(self) -> VentGap | None:
        """The vent gap, if there is one."""
        return next((part for part in self.parts if isinstance(part, VentGap)), None)

    @property
    def kind(self) -> str:
        """Roof, wall or floor, by its tilt."""
        return "roof" if self.tilt < 60.0 else "wall" if self.tilt <= 120.0 else "floor"

    @property
    def heat_flow(self) -> str:
        """Direction in which heat leaves the building: "up", "horizontal" or "down" (ISO 6946)."""
        return {"roof": "up", "wall": "horizontal", "floor": "down"}[self.kind]

    @property
    def rise(self) -> float:
        """How far the gap climbs from inlet to outlet. [m]."""
        return 0.0 if self.gap is None else self.gap.length * math.sin(math.radians(self.tilt))

    def layer_number(self, label: str) -> int:
        """Number of a layer from outside, starting at 0, by its label.

        Parameters
        ----------
        label : str
            One of `labels`.

        Returns
        -------
        int
            The number.

        Raises
        ------
        InputError
            Where there is no such layer.
        """
        if label not in self.labels:
            near = get_close_matches(str(label), self.labels) or self.labels
            msg = f"Assembly {self.name!r} has no layer {label!r}. Nearest: {', '.join(map(repr, near))}."
            raise InputError(msg)
        return self.labels.index(label)

    @property
    def title(self) -> str:
        """Name, kind, tilt, direction and finish in one line."""
        way = "" if self.tilt in (0.0, 180.0) else f", facing {self.azimuth:g} degrees from north"
        return f"{self.name}: {self.kind}, tilt {self.tilt:g} degrees{way}, {self.finish.name}"

    def __repr__(self) -> str:
        return as_text(self.title, self._rows())

    def _repr_html_(self) -> str:
        return as_html(self.title, self._rows(), outside_below=self.kind == "floor")

    def draw(self) -> Drawing:
        """Draw the section to scale, outside at the top; of a floor, at the bottom.

        Returns
        -------
        Drawing
            Shown as a picture in a notebook; ``.svg`` is the picture as text, ``.save(path)`` writes it.
        """
        return Drawing(self.title, self._rows(), outside_below=self.kind == "floor")

    def _rows(self) -> list[Row]:
        labels = iter(self.labels)
        rows: list[Row] = []
        for part in self.parts:
            if isinstance(part, Layer):
                rows.append(
                    Row(
                        next(labels),
                        part.thickness,
                        part.thermal_resistance,
                        part.s_d(),
                        "layer",
                        part.material.density,
                    )
                )
            elif isinstance(part, Sheet):
                rows.append(
                    Row(
                        part.name,
                        0.0,
                        0.0,
                        part.s_d(),
                        "sheet",
                        0.0,
                        note="varies with humidity" if part.material.is_variable else "",
                    )
                )
            else:
                rows.append(Row(part.name, part.thickness, 0.0, 0.0, "gap", 0.0, note=part.flow.describe()))
        return rows


def _check_gaps(parts: tuple[Part, ...], what: str) -> None:
    at = [number for number, part in enumerate(parts) if isinstance(part, VentGap)]
    for first, second in pairwise(at):
        if not any(isinstance(part, Layer) for part in parts[first:second]):
            msg = (
                f"{what}: parts {first + 1} and {second + 1} are two gaps side by side; "
                "put a layer between, or make one."
            )
            raise InputError(msg)
    if len(at) > 1:
        msg = f"{what} has {len(at)} vent gaps; one is computed. State the other as a Layer of still air."
        raise InputError(msg)
    solid = [number for number, part in enumerate(parts) if isinstance(part, Layer)]
    if at and not solid[0] < at[0] < solid[-1]:
        msg = f"{what}: the vent gap is not between two layers; a gap needs a layer on either side."
        raise InputError(msg)


def unique(names: list[str]) -> tuple[str, ...]:
    """Names made different by a number where a name comes twice."""
    labels: list[str] = []
    for name in names:
        label, number = name, 2
        while label in labels:
            label, number = f"{name} ({number})", number + 1
        labels.append(label)
    return tuple(labels)
