"""Steady checks that practitioners expect beside a run through the hours: by hand, by month, by section.

Everything works on an `Assembly`. Each result prints as a table and says in words what its method leaves out.
May import: assembly, climate, indoor, gapflow, surfaces, materials, variables, units, errors, constants, core formulas.
"""

from __future__ import annotations

from hygro.steady.condensation import MonthlyCondensation, MonthlyOutcome, monthly_condensation
from hygro.steady.months import MonthlyAir, monthly_means, monthly_values
from hygro.steady.path import Chain, Piece, Ventilation, gap_ventilation

__all__ = [
    "Chain",
    "MonthlyAir",
    "MonthlyCondensation",
    "MonthlyOutcome",
    "Piece",
    "Ventilation",
    "gap_ventilation",
    "monthly_condensation",
    "monthly_means",
    "monthly_values",
]
