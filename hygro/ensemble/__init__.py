"""How sure it is: members with uncertain inputs, the chance of passing, bands over the season, and what matters.

May import: vary and all above it.
"""

from __future__ import annotations

from hygro.ensemble.distributions import Choice, Distribution, LogNormal, Normal, Scatter, Triangular, Uniform
from hygro.ensemble.plan import UncertainStudy, check_spread, weather_years
from hygro.ensemble.ranking import rank_inputs, ranking
from hygro.ensemble.run import forget_others, open_ensemble, run_ensemble
from hygro.ensemble.scatter import workmanship
from hygro.ensemble.sobol import sobol_indices
from hygro.ensemble.statistics import Chance, band, chance_of_passing, summary

__all__ = [
    "Chance",
    "Choice",
    "Distribution",
    "LogNormal",
    "Normal",
    "Scatter",
    "Triangular",
    "UncertainStudy",
    "Uniform",
    "band",
    "chance_of_passing",
    "check_spread",
    "forget_others",
    "open_ensemble",
    "rank_inputs",
    "ranking",
    "run_ensemble",
    "sobol_indices",
    "summary",
    "weather_years",
    "workmanship",
]
