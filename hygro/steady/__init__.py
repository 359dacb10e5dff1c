"""Steady checks that practitioners expect beside a run through the hours: by hand, by month, by section.

Everything works on an `Assembly`. Each result prints as a table and says in words what its method leaves out.
May import: assembly, climate, indoor, gapflow, surfaces, materials, variables, units, errors, constants, core formulas.
"""

from __future__ import annotations

from hygro.steady.block import BlockClimate, BlockCondensation, CondensingPlane, block_condensation
from hygro.steady.condensation import MonthlyCondensation, MonthlyOutcome, monthly_condensation
from hygro.steady.metal import MetalPart, MetalSurface, metal_part
from hygro.steady.months import MonthlyAir, monthly_means, monthly_values
from hygro.steady.path import Chain, Piece, Ventilation, gap_ventilation
from hygro.steady.surface import SurfaceCheck, SurfaceNeed, saturation_temperature, surface_check, surface_need
from hygro.steady.transmittance import AirGaps, Fasteners, Framing, Section, Transmittance, transmittance

__all__ = [
    "AirGaps",
    "BlockClimate",
    "BlockCondensation",
    "Chain",
    "CondensingPlane",
    "Fasteners",
    "Framing",
    "MetalPart",
    "MetalSurface",
    "MonthlyAir",
    "MonthlyCondensation",
    "MonthlyOutcome",
    "Piece",
    "Section",
    "SurfaceCheck",
    "SurfaceNeed",
    "Transmittance",
    "Ventilation",
    "block_condensation",
    "gap_ventilation",
    "metal_part",
    "monthly_condensation",
    "monthly_means",
    "monthly_values",
    "saturation_temperature",
    "surface_check",
    "surface_need",
    "transmittance",
]
