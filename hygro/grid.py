"""From the build-up to the arrays of the kernel: graded cells, faces, material tables.

May import: assembly, materials, core, constants.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hygro import constants as c
from hygro.assembly import Assembly, Layer, Sheet, VentGap
from hygro.core.bundles import (
    CONDUCTIVITY,
    CONDUCTIVITY_MOISTURE,
    CONDUCTIVITY_TEMPERATURE,
    DX,
    FILM_LIMIT,
    FREE_SLOPE,
    HEAT_CAPACITY,
    MATERIAL,
    N_CELL_COLUMNS,
    N_FACE_COLUMNS,
    ONSET,
    SUCTION_BASED,
    WITHIN,
    Cells,
    Faces,
    GapSide,
    aligned,
)
from hygro.core.cell import TIGHT
from hygro.core.formulas import unventilated_film_coefficient
from hygro.core.potential import X_DAMP, X_FREE, shifted, sigma
from hygro.core.tables import WATER, activities, coordinates, material_table
from hygro.materials import Material
from hygro.materials.curve import Function
from hygro.materials.liquid import Liquid

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FILM_THICKNESS: Final = 1e-4  # [m] room for condensate on a vapour-tight face
FILM_LIMIT_PER_AREA: Final = 0.2  # [kg m-2] clings before it drips; 200 g m-2, ISO 13788:2012 (from memory)
LEAST_FREE_SLOPE: Final = 50.0  # [kg m-3] per unit of coordinate; numerical: room for what a step brings too much
SHEET_NODES: Final = 201
GROWTH: Final = 1.6  # [1] cell sizes grow by this from a layer's faces to its middle

_FILM: Final = Material(
    "condensate film",
    density=10.0,
    specific_heat=1000.0,
    conductivity=0.6,
    vapour_resistance=1.0,
    sorption=[(0.0, 0.0), (1.0, 1e-3)],
    saturation=990.0,
)


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells and faces of an assembly, and how they belong to its layers.

    ``cell_layer`` counts layers from outside; a condensate film belongs to the layer it clings to. ``tables`` order is
    ``materials``.
    """

    cells: Cells
    faces: Faces
    gap: GapSide
    cell_layer: IntArray
    is_film: NDArray[np.bool_]
    materials: tuple[Material, ...]
    n_slices: int

    @property
    def thickness(self) -> FloatArray:
        """Thickness of the cells. [m], shape (n,)."""
        return self.cells.data[:, DX]

    @property
    def position(self) -> FloatArray:
        """Distance of the cell centres from the outer face, the gap included. [m], shape (n,)."""
        edges = np.cumsum(self.thickness)
        centre = edges - 0.5 * self.thickness
        if self.gap.face >= 0:
            centre[self.gap.face :] += self.gap.thickness
        return np.asarray(centre)

    def bound_water(self, material: Material) -> float:
        """What a material of the grid binds before free water. [kg m-3]."""
        number = self.materials.index(material)
        cell = int(np.flatnonzero(self.cells.kinds[:, MATERIAL] == number)[0])
        return float(np.interp(self.cells.data[cell, ONSET], coordinates(), self.cells.tables[number, :, WATER]))

    def coordinate_of(self, cell: int, water: float, temperature: float) -> float:
        """Moisture coordinate [1] at which a cell holds an amount of water [kg m-3] at a temperature [degC]."""
        x, onset = coordinates(), self.cells.data[cell, ONSET]
        bound = self.cells.tables[self.cells.kinds[cell, MATERIAL], :, WATER]
        at_onset = float(np.interp(onset, x, bound))
        if water > at_onset:
            return float(onset + (water - at_onset) / self.cells.data[cell, FREE_SLOPE])
        at = float(np.interp(water, bound, x))
        if self.cells.kinds[cell, SUCTION_BASED]:
            at = shifted(at, c.REFERENCE_TEMPERATURE / (temperature + c.ZERO_CELSIUS))[0]
        return min(at, float(onset))


def cell_sizes(layer: Layer, detail: float) -> FloatArray:
    """Sizes of a layer's cells, finest at its faces.

    Parameters
    ----------
    layer : Layer
        The layer.
    detail : float
        Multiplies the number of cells; 1 is the default grid. [1]

    Returns
    -------
    ndarray, shape (n,)
        Cell sizes from outside to inside. [m]
    """
    if not layer.material.is_hygroscopic or layer.material.is_vapour_tight:
        base = 1.0 if layer.thickness < 0.003 else 4.0
    elif layer.thickness < 0.002:
        base = 2.0
    else:
        base = 8.0 + 2.0 * math.log2(max(layer.thickness / 0.01, 0.25))
    n = max(1, round(base * detail))
    step = np.minimum(np.arange(n), np.arange(n)[::-1])
    weights = GROWTH ** (step / max(detail, 1e-9))
    return np.asarray(layer.thickness * weights / weights.sum())


def build(assembly: Assembly, detail: float = 1.0) -> Grid:
    """Place an assembly on cells.

    Parameters
    ----------
    assembly : Assembly
        What to place.
    detail : float
        Multiplies the number of cells; 1 is the default grid. [1]

    Returns
    -------
    Grid
        Arrays for the kernel.
    """
    used: list[Material] = []
    sizes: list[FloatArray] = []
    owner: list[IntArray] = []
    of: list[IntArray] = []
    film: list[NDArray[np.bool_]] = []
    at_face: dict[int, list[Sheet]] = {0: []}
    gap_at, outer_sheets, count, number = -1, [], 0, 0

    def place(material: Material, dx: FloatArray, layer: int, is_film: bool) -> None:
        nonlocal count
        if material not in used:
            used.append(material)
        sizes.append(dx)
        owner.append(np.full(len(dx), layer))
        of.append(np.full(len(dx), used.index(material)))
        film.append(np.full(len(dx), is_film))
        count += len(dx)
        at_face.setdefault(count, [])

    parts = assembly.parts
    for index, part in enumerate(parts):
        if isinstance(part, Sheet):
            at_face[count].append(part)
        elif isinstance(part, VentGap):
            gap_at, outer_sheets, at_face[count] = count, at_face[count], []
        else:
            tight = part.material.is_vapour_tight
            if tight and index and isinstance(parts[index - 1], VentGap):
                place(_FILM, np.array([FILM_THICKNESS]), number, True)
            place(part.material, cell_sizes(part, detail), number, False)
            if tight and index + 1 < len(parts) and isinstance(parts[index + 1], VentGap):
                place(_FILM, np.array([FILM_THICKNESS]), number, True)
            number += 1
    material = np.concatenate(of).astype(np.int64)
    is_film = np.concatenate(film)
    sheet, tables, outer_sheet = _sheets(at_face, outer_sheets, count)
    moves = np.array([m.transports_liquid for m in used])[material]
    open_faces = np.zeros(count + 1, dtype=bool)
    open_faces[1:count] = moves[:-1] & moves[1:]
    open_faces[0], open_faces[count] = moves[0], moves[-1]
    open_faces &= sheet < 0
    if gap_at >= 0:
        open_faces[gap_at] = False
    curves = aligned(np.stack([tabulate(m) for m in used]))  # copies: what is kept stays as it is
    onset = np.array([X_FREE if m.transports_liquid else X_DAMP for m in used])
    bound = np.array([np.interp(o, coordinates(), curve[:, WATER]) for o, curve in zip(onset, curves, strict=True)])
    pores = np.array([m.saturation or 0.0 for m in used])
    data = np.empty((count, N_CELL_COLUMNS))
    data[:, DX] = np.concatenate(sizes)
    data[:, HEAT_CAPACITY] = np.array([m.density * m.specific_heat for m in used])[material]
    data[:, CONDUCTIVITY] = np.array([m.conductivity for m in used])[material]
    data[:, CONDUCTIVITY_MOISTURE] = np.array([m.conductivity_moisture for m in used])[material]
    data[:, CONDUCTIVITY_TEMPERATURE] = np.array([m.conductivity_temperature for m in used])[material]
    data[:, FILM_LIMIT] = np.where(is_film, FILM_LIMIT_PER_AREA / FILM_THICKNESS, np.maximum(pores, 1.0)[material])
    data[:, ONSET] = onset[material]
    data[:, FREE_SLOPE] = np.maximum(pores - bound, LEAST_FREE_SLOPE)[material]
    of_materials = np.array([(m.is_suction_based, m.transports_liquid) for m in used], dtype=np.int64)
    cells = Cells(data, np.column_stack([material, of_materials[material]]), curves)
    joins = np.zeros(count + 1, dtype=np.int64)
    joins[1:count] = np.where(material[:-1] == material[1:], WITHIN, 1)
    if gap_at >= 0:
        joins[gap_at] = 0
    kinds = np.column_stack([sheet, open_faces, joins]).astype(np.int64)
    faces = Faces(np.zeros((count + 1, N_FACE_COLUMNS)), kinds, tables)
    gap = assembly.gap
    return Grid(
        cells=cells,
        faces=faces,
        gap=_gap_side(assembly, gap_at, outer_sheet),
        cell_layer=np.concatenate(owner).astype(np.int64),
        is_film=is_film,
        materials=tuple(used),
        n_slices=1 if gap is None else gap.slices,
    )


def tabulate(material: Material) -> FloatArray:
    """The kernel's table of a material: activity, water, openness to vapour, liquid potential at every node; rises.

    Parameters
    ----------
    material : Material
        The material.

    Returns
    -------
    ndarray, shape (nodes, 8)
        Columns in 1, kg m-3, 1 and kg m-1 s-1, and their rises to the next node.
    """
    m = material
    return _table_of(_Curves(m.vapour_resistance, m.sorption, m.retention, m.free_saturation, m.liquid, m))


@dataclass(frozen=True, slots=True)
class _Curves:
    """What the table of a material depends on; the rest, such as its thermal conductivity, may differ."""

    vapour_resistance: float | Function
    sorption: Function | None
    retention: Function | None
    free_saturation: float | None
    liquid: Liquid | None
    material: Material = field(compare=False)


@lru_cache(maxsize=64)
def _table_of(curves: _Curves) -> FloatArray:
    material = curves.material
    x = coordinates()
    u = np.clip(activities(), 1e-12, None)
    # Non-storing materials get a ten-thousandth of a kilogram, so that their humidity is defined.
    bound = material.water_content(u) + 1e-4 * np.minimum(x, X_FREE) * (not material.is_hygroscopic)
    rising = np.maximum.accumulate(bound) + 1e-9 * x
    openness = np.zeros_like(x) if material.is_vapour_tight else 1.0 / material.vapour_resistance_factor(u)
    return material_table(rising, openness, _liquid_potential(material, x))


def _liquid_potential(material: Material, x: FloatArray) -> FloatArray:
    r"""Kirchhoff potential :math:`\theta = \int K\,ds` from dry to each node [kg m-1 s-1], constant past X_FREE.

    Gauss-Legendre quadrature over the logarithm of the suction, eight points between two nodes.
    """
    if not material.transports_liquid:
        return np.zeros_like(x)
    scale = c.WATER_DENSITY * c.GAS_CONSTANT_VAPOUR * c.REFERENCE_TEMPERATURE
    inside = np.clip(x, x[1], X_FREE)
    log_s = np.log(scale * np.array([sigma(value) for value in inside]))
    points, weights = np.polynomial.legendre.leggauss(8)
    half = 0.5 * (log_s[:-1] - log_s[1:])
    middle = 0.5 * (log_s[:-1] + log_s[1:])
    s = np.exp(middle[:, None] + half[:, None] * points[None, :])
    pieces = (material.liquid_conductivity(s) * s * weights[None, :]).sum(axis=1) * half
    return np.concatenate([[0.0], np.cumsum(pieces)])


def _sheets(at_face: dict[int, list[Sheet]], outer: list[Sheet], n: int) -> tuple[IntArray, FloatArray, int]:
    """Row of the sheet table for each face; sheets that lie on each other are added."""
    activity = np.linspace(0.0, 1.0, SHEET_NODES)
    rows: list[FloatArray] = []

    def row(sheets: list[Sheet]) -> int:
        if not sheets:
            return -1
        rows.append(np.minimum(sum(s.material.vapour_resistance(activity) for s in sheets), TIGHT))
        return len(rows) - 1

    index = np.array([row(at_face.get(face, [])) for face in range(n + 1)], dtype=np.int64)
    outer_row = row(outer)
    return index, np.array(rows) if rows else np.zeros((1, SHEET_NODES)), outer_row


def _gap_side(assembly: Assembly, face: int, outer_sheet: int) -> GapSide:
    gap = assembly.gap
    if gap is None:
        return GapSide(-1, -1, 0.01, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, slices=1)
    outer, inner = gap.emissivity
    return GapSide(
        face=face,
        outer_sheet=outer_sheet,
        thickness=gap.thickness,
        length=gap.length,
        rise=assembly.rise,
        losses=gap.flow.loss_coefficient(gap.thickness),
        radiation=1.0 / (1.0 / outer + 1.0 / inner - 1.0),
        still_film=2.0 * unventilated_film_coefficient(gap.thickness, assembly.heat_flow),
        fixed_speed=gap.flow.fixed_speed(gap.length),
        slices=gap.slices,
    )
