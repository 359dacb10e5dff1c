"""Pictures of runs: functions that draw on given axes, and functions that return a whole Figure.

They compute nothing that a criterion could: they read runs, ask criteria, and draw. May import: study and above.
Each is loaded when it is first asked for, so that a season curve does not wait for the statistics.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
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

_ROOMS: Final = {
    "air_moved_figure": "flow",
    "air_strip": "air",
    "band_figure": "certainty",
    "depth_time_map": "depth",
    "free_water_curves": "season",
    "moisture_curves": "season",
    "indoor_air_figure": "household",
    "mould_curves": "season",
    "ranking_figure": "certainty",
    "save_png": "style",
    "season_figure": "season",
    "small_multiples": "season",
    "speed_duration": "gap",
    "speed_duration_figure": "gap",
    "sweep_figure": "trying",
    "sweep_map": "trying",
    "trail_figure": "trying",
    "vapour_profile": "steady",
    "vapour_profile_figure": "steady",
}


def __getattr__(name: str) -> Any:
    if name not in _ROOMS:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)


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


def __dir__() -> list[str]:
    return sorted(__all__)
