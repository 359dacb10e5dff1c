"""Pictures of runs: functions that draw on given axes, and functions that return a whole Figure.

They compute nothing that a criterion could: they read runs, ask criteria, and draw. May import: study and above.
"""

from __future__ import annotations

from hygro.plots.air import air_strip
from hygro.plots.certainty import band_figure, ranking_figure
from hygro.plots.depth import depth_time_map
from hygro.plots.flow import air_moved_figure
from hygro.plots.gap import speed_duration, speed_duration_figure
from hygro.plots.household import indoor_air_figure
from hygro.plots.season import free_water_curves, moisture_curves, mould_curves, season_figure, small_multiples
from hygro.plots.steady import vapour_profile, vapour_profile_figure
from hygro.plots.style import save_png
from hygro.plots.trying import sweep_figure, sweep_map, trail_figure

__all__ = [
    "air_moved_figure",
    "air_strip",
    "band_figure",
    "depth_time_map",
    "free_water_curves",
    "indoor_air_figure",
    "moisture_curves",
    "mould_curves",
    "ranking_figure",
    "save_png",
    "season_figure",
    "small_multiples",
    "speed_duration",
    "speed_duration_figure",
    "sweep_figure",
    "sweep_map",
    "trail_figure",
    "vapour_profile",
    "vapour_profile_figure",
]
