"""Judging a run: pure functions from a run to a criterion, and from a run to a verdict in words.

May import: errors, variables, constants.
"""

from __future__ import annotations

from hygro.criteria.combined import CombinedVerdict, Outcome, combined_verdict, is_wood, layer_verdicts
from hygro.criteria.condensation import condensate, condensate_verdict, drip_by_season, frost, frost_by_winter
from hygro.criteria.corrosion import corrosion_verdict, corrosive
from hygro.criteria.decay import decay_activation, decay_mass_loss, decay_verdict
from hygro.criteria.drying import drying_time, drying_time_of_excess, drying_verdict, excess_water
from hygro.criteria.inward import inward_verdict, retarder_relative_humidity
from hygro.criteria.mould import MouldSensitivity, mould_index, mould_index_series, mould_verdict
from hygro.criteria.seasonal import condensate_by_season, drip_verdict, frost_verdict
from hygro.criteria.seasons import seasons, warm_months
from hygro.criteria.thirty_day import relative_humidity_30_day, temperature_30_day, thirty_day_verdict
from hygro.criteria.trend import collects, settled_year, trend_verdict, yearly_gain
from hygro.criteria.verdict import Level, Verdict
from hygro.criteria.wood import MoistureLimit, hours_above, moisture_content, moisture_content_verdict

__all__ = [
    "CombinedVerdict",
    "Level",
    "MoistureLimit",
    "MouldSensitivity",
    "Outcome",
    "Verdict",
    "collects",
    "combined_verdict",
    "condensate",
    "condensate_by_season",
    "condensate_verdict",
    "corrosion_verdict",
    "corrosive",
    "decay_activation",
    "decay_mass_loss",
    "decay_verdict",
    "drip_by_season",
    "drip_verdict",
    "drying_time",
    "drying_time_of_excess",
    "drying_verdict",
    "excess_water",
    "frost",
    "frost_by_winter",
    "frost_verdict",
    "hours_above",
    "inward_verdict",
    "is_wood",
    "layer_verdicts",
    "moisture_content",
    "moisture_content_verdict",
    "mould_index",
    "mould_index_series",
    "mould_verdict",
    "relative_humidity_30_day",
    "retarder_relative_humidity",
    "seasons",
    "settled_year",
    "temperature_30_day",
    "thirty_day_verdict",
    "trend_verdict",
    "warm_months",
    "yearly_gain",
]
