"""Hygrothermal what-if studies of small cold-climate buildings.

State a build-up, a climate and the indoor air; `simulate` runs heat and moisture through it hour by hour and returns
a plain ``xarray.Dataset``; ``hygro.criteria`` judges it. Names are loaded on first use, so that ``import hygro`` is
quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

__version__ = "0.1.0"

_MODULES: Final = (
    "climate",
    "criteria",
    "demo",
    "ensemble",
    "vary",
    "indoor",
    "materials",
    "plots",
    "rain",
    "snow",
    "steady",
    "studyfile",
    "surfaces",
    "widgets",
    "workshop",
)
_NAMES: Final[dict[str, str]] = {
    "Assembly": "hygro.assembly",
    "Layer": "hygro.assembly",
    "Sheet": "hygro.assembly",
    "VentGap": "hygro.assembly",
    "ByWindAndBuoyancy": "hygro.gapflow",
    "FixedAirChange": "hygro.gapflow",
    "Closed": "hygro.gapflow",
    "AirLeak": "hygro.leakage",
    "DrivingRain": "hygro.rain",
    "AirfieldRain": "hygro.rain",
    "Climate": "hygro.climate",
    "read_climate": "hygro.climate",
    "sample_climate": "hygro.climate",
    "constant_climate": "hygro.climate",
    "climate_from_arrays": "hygro.climate",
    "Start": "hygro.start",
    "simulate": "hygro.simulation",
    "LyingSnow": "hygro.snow",
    "FallingSnow": "hygro.snow",
    "FixedFilm": "hygro.surfaces",
    "Underfloor": "hygro.surfaces",
    "Weathered": "hygro.surfaces",
    "MoistAir": "hygro.core.formulas",
    "Settings": "hygro.core.work",
    "Variant": "hygro.study",
    "compare": "hygro.study",
    "compare_openings": "hygro.opening",
    "Study": "hygro.studyfile",
    "read_study": "hygro.studyfile",
    "run_study": "hygro.studyfile",
    "write_study": "hygro.studyfile",
    "explore": "hygro.widgets",
    "save_run": "hygro.files",
    "open_run": "hygro.files",
}

__all__ = ["__version__", *sorted(_MODULES), *sorted(_NAMES)]


def __getattr__(name: str) -> Any:
    if name in _MODULES:
        return import_module(f"hygro.{name}")
    if name in _NAMES:
        return getattr(import_module(_NAMES[name]), name)
    msg = f"module 'hygro' has no attribute {name!r}"
    raise AttributeError(msg)


def __dir__() -> list[str]:
    return sorted(__all__)
